#include "core/decide/outlook_errors.h"

#include <math.h>
#include <string.h>

#define SKILL_FIRST       0.85
#define SKILL_PER_DAY     (-0.065)
#define SKILL_LEAST       0.2
#define ET0_SD_FIRST      0.12
#define ET0_SD_PER_DAY    0.015
#define NEIGHBOUR         0.5   /* weight of the leads beside a pair's own */
#define ET0_PRIOR_MM      50.0  /* of forecast reference ET that came as forecast */
#define RAIN_PRIOR_MM     100.0 /* of rain, likewise */
#define AMOUNT_SHARE_MOST 0.8
#define CHANCE_LEAST      0.02
#define WET_IF_NONE       0.05 /* of a skilful forecast */
#define WET_IF_SOME       0.75
#define WET_IF_MUCH       0.95

enum outlook_rain outlook_rain_class(double rain_mm) {
    if (isnan(rain_mm))
        return OUTLOOK_RAIN_COUNT;
    if (rain_mm < OUTLOOK_WET_MM)
        return OUTLOOK_RAIN_NONE;
    return rain_mm < OUTLOOK_MUCH_MM ? OUTLOOK_RAIN_SOME : OUTLOOK_RAIN_MUCH;
}

enum status outlook_errors_default(double wet_share, double wet_amount_mm, struct outlook_errors *out) {
    if (isnan(wet_share) || isnan(wet_amount_mm))
        return STATUS_MISSING;
    if (!(wet_share >= 0 && wet_share <= 1 && wet_amount_mm > 0 && wet_amount_mm <= 200))
        return STATUS_OUT_OF_RANGE;
    static const double skilful[OUTLOOK_RAIN_COUNT] = {WET_IF_NONE, WET_IF_SOME, WET_IF_MUCH};
    memset(out, 0, sizeof *out);
    out->wet_share = wet_share;
    out->wet_amount_mm = wet_amount_mm;
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++) {
        struct outlook_lead *lead = &out->lead[l];
        double skill = fmax(SKILL_FIRST + SKILL_PER_DAY * l, SKILL_LEAST);
        lead->et0_sd_log = ET0_SD_FIRST + ET0_SD_PER_DAY * l;
        lead->et0_error_mm = lead->et0_abs_error_mm = NAN;
        lead->rain_error_mm = lead->rain_abs_error_mm = NAN;
        for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++)
            lead->wet_chance[c] = skill * skilful[c] + (1 - skill) * wet_share;
        lead->amount_share = AMOUNT_SHARE_MOST * skill;
        lead->et0_ratio = lead->rain_ratio = 1;
    }
    return STATUS_OK;
}

/* Sums at one lead, with the weights of the neighbours. */
struct sums {
    double et0_weight, et0_log, et0_log2, et0_forecast_mm, et0_mm;
    double wet_weight[OUTLOOK_RAIN_COUNT], wet[OUTLOOK_RAIN_COUNT];
    double error_mm, abs_mm, rain_error_mm, rain_abs_mm; /* own lead only */
    /* Of wet days on which rain was forecast: regression of what came on the forecast, both less the mean of
     * a wet day by climate. */
    double xx, xy;
};

static bool known(double forecast, double came) {
    return isfinite(forecast) && isfinite(came) && forecast >= 0 && came >= 0;
}

static void add_et0(const struct outlook_pair *pair, double weight, struct sums *sums) {
    if (!(pair->et0_forecast_mm >= OUTLOOK_ET0_LEAST && pair->et0_mm >= OUTLOOK_ET0_LEAST))
        return;
    double ratio = log(pair->et0_mm / pair->et0_forecast_mm);
    sums->et0_weight += weight;
    sums->et0_log += weight * ratio;
    sums->et0_log2 += weight * ratio * ratio;
    sums->et0_forecast_mm += weight * pair->et0_forecast_mm;
    sums->et0_mm += weight * pair->et0_mm;
}

static void add_rain(const struct outlook_pair *pair, double weight, double climate_mm, struct sums *sums) {
    enum outlook_rain class = outlook_rain_class(pair->rain_forecast_mm);
    bool wet = pair->rain_mm >= OUTLOOK_WET_MM;
    sums->wet_weight[class] += weight;
    sums->wet[class] += wet ? weight : 0;
    if (!wet || class == OUTLOOK_RAIN_NONE)
        return;
    double x = pair->rain_forecast_mm - climate_mm, y = pair->rain_mm - climate_mm;
    sums->xx += weight * x * x;
    sums->xy += weight * x * y;
}

static void add_own(const struct outlook_pair *pair, struct outlook_lead *lead, struct sums *sums) {
    if (known(pair->et0_forecast_mm, pair->et0_mm)) {
        double error = pair->et0_forecast_mm - pair->et0_mm;
        lead->et0_pairs++;
        sums->error_mm += error;
        sums->abs_mm += fabs(error);
    }
    if (known(pair->rain_forecast_mm, pair->rain_mm)) {
        double error = pair->rain_forecast_mm - pair->rain_mm;
        lead->rain_pairs++;
        lead->rain_forecast_sum_mm += pair->rain_forecast_mm;
        lead->rain_sum_mm += pair->rain_mm;
        sums->rain_error_mm += error;
        sums->rain_abs_mm += fabs(error);
    }
}

static void close_lead(const struct sums *sums, double climate_mm, struct outlook_lead *lead) {
    double prior = OUTLOOK_PRIOR_PAIRS, weight = sums->et0_weight;
    if (weight > 0) {
        double mean = sums->et0_log / weight, square = sums->et0_log2 / weight - mean * mean;
        lead->et0_ratio = (sums->et0_mm + ET0_PRIOR_MM) / (sums->et0_forecast_mm + ET0_PRIOR_MM);
        lead->et0_sd_log =
            sqrt((prior * lead->et0_sd_log * lead->et0_sd_log + weight * fmax(square, 0)) / (weight + prior));
    }
    for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++) {
        double chance = (prior * lead->wet_chance[c] + sums->wet[c]) / (prior + sums->wet_weight[c]);
        lead->wet_chance[c] = fmin(fmax(chance, CHANCE_LEAST), 1 - CHANCE_LEAST);
    }
    /* The default slope counts as `prior` days whose forecast is one wet day's mean away from the climate. */
    double xx = prior * climate_mm * climate_mm;
    lead->amount_share = fmin(fmax((xx * lead->amount_share + sums->xy) / (xx + sums->xx), 0), 1);
    lead->rain_ratio = (lead->rain_sum_mm + RAIN_PRIOR_MM) / (lead->rain_forecast_sum_mm + RAIN_PRIOR_MM);
    if (lead->et0_pairs > 0) {
        lead->et0_error_mm = sums->error_mm / lead->et0_pairs;
        lead->et0_abs_error_mm = sums->abs_mm / lead->et0_pairs;
    }
    if (lead->rain_pairs > 0) {
        lead->rain_error_mm = sums->rain_error_mm / lead->rain_pairs;
        lead->rain_abs_error_mm = sums->rain_abs_mm / lead->rain_pairs;
    }
    lead->judged = lead->et0_pairs >= OUTLOOK_JUDGE_PAIRS && lead->rain_pairs >= OUTLOOK_JUDGE_PAIRS;
}

void outlook_errors_learn(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    struct sums sums[OUTLOOK_DAYS_MAX];
    memset(sums, 0, sizeof sums);
    for (size_t i = 0; i < count; i++) {
        const struct outlook_pair *pair = &pairs[i];
        int64_t lead = (int64_t)pair->date - pair->issued;
        bool et0 = known(pair->et0_forecast_mm, pair->et0_mm);
        bool rain = known(pair->rain_forecast_mm, pair->rain_mm);
        if (lead < 0 || lead >= OUTLOOK_DAYS_MAX || !(et0 || rain))
            continue;
        errors->pairs++;
        add_own(pair, &errors->lead[lead], &sums[lead]);
        for (int64_t l = lead - 1; l <= lead + 1; l++) {
            if (l < 0 || l >= OUTLOOK_DAYS_MAX)
                continue;
            double weight = l == lead ? 1 : NEIGHBOUR;
            if (et0)
                add_et0(pair, weight, &sums[l]);
            if (rain)
                add_rain(pair, weight, errors->wet_amount_mm, &sums[l]);
        }
    }
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++)
        close_lead(&sums[l], errors->wet_amount_mm, &errors->lead[l]);
}

static bool judged(const struct outlook_errors *errors, int lead) {
    return lead >= 0 && lead < OUTLOOK_DAYS_MAX && errors->lead[lead].judged;
}

double outlook_corrected_et0_mm(const struct outlook_errors *errors, int lead, double et0_mm) {
    return judged(errors, lead) ? et0_mm * errors->lead[lead].et0_ratio : et0_mm;
}

double outlook_corrected_rain_mm(const struct outlook_errors *errors, int lead, double rain_mm) {
    return judged(errors, lead) ? rain_mm * errors->lead[lead].rain_ratio : rain_mm;
}

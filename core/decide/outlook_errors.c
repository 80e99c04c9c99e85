#include "core/decide/outlook_errors.h"

#include <math.h>
#include <string.h>

#define SKILL_FIRST       0.85
#define SKILL_PER_DAY     (-0.065)
#define SKILL_LEAST       0.2
#define ET0_SD_FIRST      0.12
#define ET0_SD_PER_DAY    0.015
#define WET_MEMORY        0.3
#define HEAT_WITH_DRY     0.5
#define PI                3.14159265358979323846
#define ET0_MEMORY        0.6
#define MEMORY_PRIOR      100.0 /* pairs of neighbours */
#define MEMORY_MOST       0.95
#define AMOUNT_SPREAD     1.2
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
    out->et0_memory = ET0_MEMORY;
    out->wet_memory = WET_MEMORY;
    out->heat_with_dry = HEAT_WITH_DRY;
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++) {
        struct outlook_lead *lead = &out->lead[l];
        double skill = fmax(SKILL_FIRST + SKILL_PER_DAY * l, SKILL_LEAST);
        lead->et0_sd_log = ET0_SD_FIRST + ET0_SD_PER_DAY * l;
        lead->et0_error_mm = lead->et0_abs_error_mm = NAN;
        lead->rain_error_mm = lead->rain_abs_error_mm = NAN;
        for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++)
            lead->wet_chance[c] = skill * skilful[c] + (1 - skill) * wet_share;
        lead->amount_share = AMOUNT_SHARE_MOST * skill;
        lead->amount_ratio = 1;
        lead->amount_spread = AMOUNT_SPREAD;
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
    double rain_forecast_mm, rain_mm;
};

static bool known(double forecast, double came) {
    return isfinite(forecast) && isfinite(came) && forecast >= 0 && came >= 0;
}

static void add_et0(const struct outlook_pair *pair, double weight, struct sums *sums) {
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
    sums->rain_forecast_mm += weight * pair->rain_forecast_mm;
    sums->rain_mm += weight * pair->rain_mm;
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
    lead->rain_ratio = (sums->rain_mm + RAIN_PRIOR_MM) / (sums->rain_forecast_mm + RAIN_PRIOR_MM);
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

double outlook_amount_mm(const struct outlook_errors *errors, int lead, double rain_forecast_mm) {
    double mean_mm = errors->wet_amount_mm;
    if (rain_forecast_mm >= OUTLOOK_WET_MM)
        mean_mm += errors->lead[lead].amount_share * (rain_forecast_mm - mean_mm);
    return fmax(errors->lead[lead].amount_ratio * mean_mm, 2 * OUTLOOK_WET_MM);
}

/* Lead of a pair that tells something; -1 otherwise. */
static int lead_of(const struct outlook_pair *pair) {
    int64_t lead = (int64_t)pair->date - pair->issued;
    bool told = known(pair->et0_forecast_mm, pair->et0_mm) || known(pair->rain_forecast_mm, pair->rain_mm);
    return told && lead >= 0 && lead < OUTLOOK_DAYS_MAX ? (int)lead : -1;
}

static bool has_ratio(const struct outlook_pair *pair) {
    return known(pair->et0_forecast_mm, pair->et0_mm) && pair->et0_forecast_mm >= OUTLOOK_ET0_LEAST &&
           pair->et0_mm >= OUTLOOK_ET0_LEAST;
}

static void learn_leads(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    struct sums sums[OUTLOOK_DAYS_MAX];
    memset(sums, 0, sizeof sums);
    for (size_t i = 0; i < count; i++) {
        const struct outlook_pair *pair = &pairs[i];
        int lead = lead_of(pair);
        if (lead < 0)
            continue;
        errors->pairs++;
        add_own(pair, &errors->lead[lead], &sums[lead]);
        for (int l = lead > 0 ? lead - 1 : 0; l <= lead + 1 && l < OUTLOOK_DAYS_MAX; l++) {
            double weight = l == lead ? 1 : NEIGHBOUR;
            if (has_ratio(pair))
                add_et0(pair, weight, &sums[l]);
            if (known(pair->rain_forecast_mm, pair->rain_mm))
                add_rain(pair, weight, errors->wet_amount_mm, &sums[l]);
        }
    }
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++)
        close_lead(&sums[l], errors->wet_amount_mm, &errors->lead[l]);
}

static bool wet_pair(const struct outlook_pair *pair) {
    return known(pair->rain_forecast_mm, pair->rain_mm) && pair->rain_mm >= OUTLOOK_WET_MM;
}

/* What wet days bring over what outlook_amount_mm() says, once its share is known; then how far they lie from
 * it. */
static void learn_amounts(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    double said_mm[OUTLOOK_DAYS_MAX] = {0}, came_mm[OUTLOOK_DAYS_MAX] = {0};
    double weights[OUTLOOK_DAYS_MAX] = {0}, squares[OUTLOOK_DAYS_MAX] = {0};
    for (size_t i = 0; i < count; i++) {
        int lead = lead_of(&pairs[i]);
        if (lead < 0 || !wet_pair(&pairs[i]))
            continue;
        for (int l = lead > 0 ? lead - 1 : 0; l <= lead + 1 && l < OUTLOOK_DAYS_MAX; l++) {
            double weight = l == lead ? 1 : NEIGHBOUR;
            said_mm[l] += weight * outlook_amount_mm(errors, lead, pairs[i].rain_forecast_mm);
            came_mm[l] += weight * pairs[i].rain_mm;
        }
    }
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++)
        errors->lead[l].amount_ratio = (came_mm[l] + RAIN_PRIOR_MM) / (said_mm[l] + RAIN_PRIOR_MM);
    for (size_t i = 0; i < count; i++) {
        int lead = lead_of(&pairs[i]);
        if (lead < 0 || !wet_pair(&pairs[i]))
            continue;
        double off = pairs[i].rain_mm / outlook_amount_mm(errors, lead, pairs[i].rain_forecast_mm) - 1;
        for (int l = lead > 0 ? lead - 1 : 0; l <= lead + 1 && l < OUTLOOK_DAYS_MAX; l++) {
            double weight = l == lead ? 1 : NEIGHBOUR;
            weights[l] += weight;
            squares[l] += weight * off * off;
        }
    }
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++) {
        double *spread = &errors->lead[l].amount_spread;
        *spread = (OUTLOOK_PRIOR_PAIRS * *spread + squares[l]) / (OUTLOOK_PRIOR_PAIRS + weights[l]);
    }
}

static double memory_of(double sum, double seen, double usual) {
    return fmin(fmax((MEMORY_PRIOR * usual + sum) / (MEMORY_PRIOR + seen), 0), MEMORY_MOST);
}

/* How far a day's log error lies from its lead's mean, in standard deviations. */
static double et0_deviation(const struct outlook_errors *errors, int lead, const struct outlook_pair *pair) {
    const struct outlook_lead *own = &errors->lead[lead];
    return log(pair->et0_mm / (pair->et0_forecast_mm * own->et0_ratio)) / own->et0_sd_log;
}

static double wet_deviation(const struct outlook_errors *errors, int lead, const struct outlook_pair *pair) {
    double chance = errors->lead[lead].wet_chance[outlook_rain_class(pair->rain_forecast_mm)];
    double wet = pair->rain_mm >= OUTLOOK_WET_MM ? 1 : 0;
    return (wet - chance) / sqrt(chance * (1 - chance));
}

/* The density of the standard normal where it leaves a share below: by bisection, since erf() has no inverse.
 */
static double density_at_share(double share) {
    double low = -8, high = 8;
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (low + high);
        if (0.5 * (1 + erf(middle / sqrt(2))) < share)
            low = middle;
        else
            high = middle;
    }
    return exp(-0.5 * low * low) / sqrt(2 * PI);
}

/* Of a day that turns out wet or dry against the forecast: how far its reference ET goes with it. The slope
 * of the error on what is seen of the normal that decides. */
static void learn_heat(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    double factor[OUTLOOK_DAYS_MAX][OUTLOOK_RAIN_COUNT], xy = 0, xx = 0;
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++)
        for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++) {
            double chance = errors->lead[l].wet_chance[c];
            factor[l][c] = density_at_share(chance) / sqrt(chance * (1 - chance));
        }
    for (size_t i = 0; i < count; i++) {
        int lead = lead_of(&pairs[i]);
        if (lead < 0 || !has_ratio(&pairs[i]) || !known(pairs[i].rain_forecast_mm, pairs[i].rain_mm))
            continue;
        double k = factor[lead][outlook_rain_class(pairs[i].rain_forecast_mm)];
        xy -= k * wet_deviation(errors, lead, &pairs[i]) * et0_deviation(errors, lead, &pairs[i]);
        xx += k * k;
    }
    errors->heat_with_dry =
        fmin(fmax((MEMORY_PRIOR * errors->heat_with_dry + xy) / (MEMORY_PRIOR + xx), 0), MEMORY_MOST);
}

/* Correlations of neighbours. That of two normals of which only the signs are seen: sin(pi / 2 x correlation
 * of the signs), for even chances. */
static void learn_memory(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    double et0 = 0, et0_seen = 0, wet = 0, wet_seen = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        const struct outlook_pair *a = &pairs[i], *b = &pairs[i + 1];
        int lead = lead_of(a);
        if (lead < 0 || lead_of(b) != lead + 1 || a->issued != b->issued)
            continue;
        if (has_ratio(a) && has_ratio(b)) {
            et0 += et0_deviation(errors, lead, a) * et0_deviation(errors, lead + 1, b);
            et0_seen += 1;
        }
        if (known(a->rain_forecast_mm, a->rain_mm) && known(b->rain_forecast_mm, b->rain_mm)) {
            wet += wet_deviation(errors, lead, a) * wet_deviation(errors, lead + 1, b);
            wet_seen += 1;
        }
    }
    errors->et0_memory = memory_of(et0, et0_seen, errors->et0_memory);
    double signs = 2 / PI * asin(errors->wet_memory);
    errors->wet_memory = sin(0.5 * PI * memory_of(wet, wet_seen, signs));
}

void outlook_errors_learn(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    learn_leads(pairs, count, errors);
    learn_amounts(pairs, count, errors);
    learn_heat(pairs, count, errors);
    learn_memory(pairs, count, errors);
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

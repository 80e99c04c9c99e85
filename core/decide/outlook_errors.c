#include "core/decide/outlook_errors.h"

#include <math.h>
#include <string.h>

#define SD_LEAST          0.01
#define SKILL_FIRST       0.85
#define SKILL_PER_DAY     (-0.065)
#define SKILL_LEAST       0.2
#define ET0_SD_FIRST      0.12
#define ET0_SD_PER_DAY    0.015
#define WET_MEMORY        0.3
#define HEAT_WITH_DRY     0.5
#define PI                3.14159265358979323846
#define ET0_MOST_MM       30.0
#define RAIN_MOST_MM      2000.0
#define ET0_MEMORY        0.6
#define MEMORY_PRIOR      100.0 /* pairs of neighbours */
#define MEMORY_MOST       0.95
#define HEAT_PRIOR_MM     4.0 /* reference ET of the days that stand for a default */
#define AMOUNT_SPREAD     1.2
#define NEIGHBOUR         0.1   /* weight of the leads beside a pair's own */
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
        lead->et0_error_mm = lead->et0_abs_error_mm = NAN;
        lead->rain_error_mm = lead->rain_abs_error_mm = NAN;
        lead->et0_ratio = lead->rain_ratio = 1;
        for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++) {
            lead->et0_class_ratio[c] = 1;
            lead->et0_sd_log[c] = ET0_SD_FIRST + ET0_SD_PER_DAY * l;
            lead->wet_chance[c] = skill * skilful[c] + (1 - skill) * wet_share;
        }
        lead->amount_share = AMOUNT_SHARE_MOST * skill;
        lead->amount_ratio = 1;
        lead->amount_spread = AMOUNT_SPREAD;
    }
    return STATUS_OK;
}

/* Reference ET of the days of one class. */
struct et0_sums {
    double weight, forecast_mm, came_mm;
    double forecast2, forecast_came, came2; /* products */
};

/* Sums at one lead, with the weights of the neighbours. */
struct sums {
    struct et0_sums et0[OUTLOOK_RAIN_COUNT + 1]; /* by class of the rain forecast; last: of all days */
    double wet_weight[OUTLOOK_RAIN_COUNT], wet[OUTLOOK_RAIN_COUNT];
    double error_mm, abs_mm, rain_error_mm, rain_abs_mm; /* own lead only */
    /* Of wet days on which rain was forecast: regression of what came on the forecast, both less the mean of
     * a wet day by climate. */
    double xx, xy;
    double rain_forecast_mm, rain_mm;
};

static bool within(double value, double most) {
    return value >= 0 && value <= most;
}

static bool et0_known(const struct outlook_pair *pair) {
    return within(pair->et0_forecast_mm, ET0_MOST_MM) && within(pair->et0_mm, ET0_MOST_MM);
}

static bool rain_known(const struct outlook_pair *pair) {
    return within(pair->rain_forecast_mm, RAIN_MOST_MM) && within(pair->rain_mm, RAIN_MOST_MM);
}

static void add_et0(const struct outlook_pair *pair, double weight, struct et0_sums *sums) {
    double forecast_mm = pair->et0_forecast_mm, came_mm = pair->et0_mm;
    sums->weight += weight;
    sums->forecast_mm += weight * forecast_mm;
    sums->came_mm += weight * came_mm;
    sums->forecast2 += weight * forecast_mm * forecast_mm;
    sums->forecast_came += weight * forecast_mm * came_mm;
    sums->came2 += weight * came_mm * came_mm;
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
    if (et0_known(pair)) {
        double error = pair->et0_forecast_mm - pair->et0_mm;
        lead->et0_pairs++;
        sums->error_mm += error;
        sums->abs_mm += fabs(error);
    }
    if (rain_known(pair)) {
        double error = pair->rain_forecast_mm - pair->rain_mm;
        lead->rain_pairs++;
        lead->rain_forecast_sum_mm += pair->rain_forecast_mm;
        lead->rain_sum_mm += pair->rain_mm;
        sums->rain_error_mm += error;
        sums->rain_abs_mm += fabs(error);
    }
}

/* The bias and the spread, by what was said of rain: where none was forecast a day errs otherwise than where
 * much was. Errors are relative to the corrected forecast, with the weight of what was forecast: a share of
 * the much that a summer's day uses tells more than the same share of a winter's. */
static void close_et0(const struct sums *sums, struct outlook_lead *lead) {
    const struct et0_sums *all = &sums->et0[OUTLOOK_RAIN_COUNT];
    double prior = OUTLOOK_PRIOR_PAIRS;
    lead->et0_ratio = (all->came_mm + ET0_PRIOR_MM) / (all->forecast_mm + ET0_PRIOR_MM);
    for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++) {
        const struct et0_sums *own = &sums->et0[c];
        double ratio = (own->came_mm + lead->et0_ratio * ET0_PRIOR_MM) / (own->forecast_mm + ET0_PRIOR_MM);
        double said2 = ratio * ratio * own->forecast2;
        double off2 = fmax(own->came2 - 2 * ratio * own->forecast_came + said2, 0);
        lead->et0_class_ratio[c] = ratio;
        if (!(own->weight > 0))
            continue;
        /* A spread is shrunk by its logarithm: else a default that is too wide counts more than one too
         * narrow. */
        double seen = fmax(sqrt(log(1 + off2 / said2)), SD_LEAST), usual = lead->et0_sd_log[c];
        lead->et0_sd_log[c] = exp((prior * log(usual) + own->weight * log(seen)) / (prior + own->weight));
    }
}

static void close_lead(const struct sums *sums, double climate_mm, struct outlook_lead *lead) {
    double prior = OUTLOOK_PRIOR_PAIRS;
    close_et0(sums, lead);
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
    bool told = et0_known(pair) || rain_known(pair);
    return told && lead >= 0 && lead < OUTLOOK_DAYS_MAX ? (int)lead : -1;
}

static bool has_ratio(const struct outlook_pair *pair) {
    return et0_known(pair) && pair->et0_forecast_mm >= OUTLOOK_ET0_LEAST && pair->et0_mm >= OUTLOOK_ET0_LEAST;
}

/* What a pair counts beside one of the newest issue, which are of the season that the days to come are of. */
static double recent(const struct outlook_pair *pairs, size_t count, size_t i) {
    double age_d = (double)pairs[count - 1].issued - (double)pairs[i].issued;
    return age_d > 0 ? exp2(-age_d / OUTLOOK_HALF_LIFE_D) : 1;
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
        double own = recent(pairs, count, i);
        for (int l = lead > 0 ? lead - 1 : 0; l <= lead + 1 && l < OUTLOOK_DAYS_MAX; l++) {
            double weight = l == lead ? own : NEIGHBOUR * own;
            if (has_ratio(pair))
                add_et0(pair, weight, &sums[l].et0[OUTLOOK_RAIN_COUNT]);
            if (has_ratio(pair) && rain_known(pair))
                add_et0(pair, weight, &sums[l].et0[outlook_rain_class(pair->rain_forecast_mm)]);
            if (rain_known(pair))
                add_rain(pair, weight, errors->wet_amount_mm, &sums[l]);
        }
    }
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++)
        close_lead(&sums[l], errors->wet_amount_mm, &errors->lead[l]);
}

static bool wet_pair(const struct outlook_pair *pair) {
    return rain_known(pair) && pair->rain_mm >= OUTLOOK_WET_MM;
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
            double weight = (l == lead ? 1 : NEIGHBOUR) * recent(pairs, count, i);
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
        double said = outlook_amount_mm(errors, lead, pairs[i].rain_forecast_mm) / errors->wet_amount_mm;
        double off = pairs[i].rain_mm / errors->wet_amount_mm - said;
        for (int l = lead > 0 ? lead - 1 : 0; l <= lead + 1 && l < OUTLOOK_DAYS_MAX; l++) {
            double weight = (l == lead ? 1 : NEIGHBOUR) * recent(pairs, count, i);
            weights[l] += weight * said * said;
            squares[l] += weight * off * off;
        }
    }
    for (int l = 0; l < OUTLOOK_DAYS_MAX; l++) {
        double *spread = &errors->lead[l].amount_spread;
        *spread = (OUTLOOK_PRIOR_PAIRS * *spread + squares[l]) / (OUTLOOK_PRIOR_PAIRS + weights[l]);
    }
}

/* How far a day's reference ET lies from its corrected forecast, in standard deviations times what was
 * forecast, mm: so the days of high summer weigh most, as in close_et0(). */
static double et0_deviation_mm(const struct outlook_errors *errors, int lead,
                               const struct outlook_pair *pair) {
    const struct outlook_lead *own = &errors->lead[lead];
    enum outlook_rain class = outlook_rain_class(pair->rain_forecast_mm);
    return (pair->et0_mm / own->et0_class_ratio[class] - pair->et0_forecast_mm) / own->et0_sd_log[class];
}

static double wet_deviation(const struct outlook_errors *errors, int lead, const struct outlook_pair *pair) {
    double chance = errors->lead[lead].wet_chance[outlook_rain_class(pair->rain_forecast_mm)];
    double wet = pair->rain_mm >= OUTLOOK_WET_MM ? 1 : 0;
    return (wet - chance) / sqrt(chance * (1 - chance));
}

/* Of a day that turns out wet or dry against the forecast: how far its reference ET goes with it. */
static void learn_heat(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    double xy = 0, xx = 0;
    for (size_t i = 0; i < count; i++) {
        int lead = lead_of(&pairs[i]);
        if (lead < 0 || !has_ratio(&pairs[i]) || !rain_known(&pairs[i]))
            continue;
        double said_mm = pairs[i].et0_forecast_mm, weight = recent(pairs, count, i);
        xy -= weight * wet_deviation(errors, lead, &pairs[i]) * said_mm *
              et0_deviation_mm(errors, lead, &pairs[i]);
        xx += weight * said_mm * said_mm;
    }
    double prior = MEMORY_PRIOR * HEAT_PRIOR_MM * HEAT_PRIOR_MM;
    errors->heat_with_dry = fmin(fmax((prior * errors->heat_with_dry + xy) / (prior + xx), 0), MEMORY_MOST);
}

/* Sums of a correlation about 0. */
struct correlation {
    double both, first2, second2, weight;
};

static void correlate(double first, double second, double weight, struct correlation *sums) {
    sums->both += weight * first * second;
    sums->first2 += weight * first * first;
    sums->second2 += weight * second * second;
    sums->weight += weight;
}

static double memory_of(const struct correlation *sums, double usual) {
    double size = sqrt(sums->first2 * sums->second2), seen = size > 0 ? sums->both / size : 0;
    double memory = (MEMORY_PRIOR * usual + sums->weight * seen) / (MEMORY_PRIOR + sums->weight);
    return fmin(fmax(memory, 0), MEMORY_MOST);
}

/* Correlations of neighbours. That of two normals of which only the signs are seen: sin(pi / 2 x correlation
 * of the signs), for even chances. */
static void learn_memory(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors) {
    struct correlation et0 = {0}, wet = {0};
    for (size_t i = 0; i + 1 < count; i++) {
        const struct outlook_pair *a = &pairs[i], *b = &pairs[i + 1];
        int lead = lead_of(a);
        if (lead < 0 || lead_of(b) != lead + 1 || a->issued != b->issued || !rain_known(a) || !rain_known(b))
            continue;
        double weight = recent(pairs, count, i);
        correlate(wet_deviation(errors, lead, a), wet_deviation(errors, lead + 1, b), weight, &wet);
        if (has_ratio(a) && has_ratio(b))
            correlate(et0_deviation_mm(errors, lead, a), et0_deviation_mm(errors, lead + 1, b), weight, &et0);
    }
    errors->et0_memory = memory_of(&et0, errors->et0_memory);
    errors->wet_memory = sin(0.5 * PI * memory_of(&wet, 2 / PI * asin(errors->wet_memory)));
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

double outlook_corrected_et0_mm(const struct outlook_errors *errors, int lead, double et0_mm,
                                double rain_forecast_mm) {
    if (!judged(errors, lead))
        return et0_mm;
    enum outlook_rain class = outlook_rain_class(rain_forecast_mm);
    const struct outlook_lead *own = &errors->lead[lead];
    return et0_mm * (class < OUTLOOK_RAIN_COUNT ? own->et0_class_ratio[class] : own->et0_ratio);
}

double outlook_corrected_rain_mm(const struct outlook_errors *errors, int lead, double rain_mm) {
    return judged(errors, lead) ? rain_mm * errors->lead[lead].rain_ratio : rain_mm;
}

#include "core/decide/outlook_weather.h"

#include <math.h>
#include <stddef.h>

#include "core/base/calendar.h"

#define PI            3.14159265358979323846
#define YEAR_DAYS     365.2425
#define STARTS_ENOUGH 60
#define TRIES         64

static const int half_widths[] = {15, 30, 45, 60, 183};
#define HALF_WIDTHS ((int)(sizeof half_widths / sizeof half_widths[0]))

/* ---- chance: splitmix64, public domain (S. Vigna), a stream for each member */

static uint64_t next_word(uint64_t *state) {
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/* Above 0 and below 1. */
static double uniform(uint64_t *state) {
    return ((double)(next_word(state) >> 12) + 0.5) / 4503599627370496.0;
}

/* Box and Muller 1958. */
static double normal(uint64_t *state) {
    double radius = sqrt(-2 * log(uniform(state)));
    return radius * cos(2 * PI * uniform(state));
}

static int below(uint64_t *state, int count) {
    return (int)(uniform(state) * count);
}

static double normal_share(double z) {
    return 0.5 * (1 + erf(z / sqrt(2)));
}

/* ---- history */

static bool usable(const struct outlook_weather_input *input, int32_t date) {
    const struct outlook_history *history = input->history;
    if (history == NULL || date < history->first || date >= history->first + history->count)
        return false;
    if (date >= input->today && !input->use_future)
        return false;
    if (input->skip_from != CALENDAR_NONE && date >= input->skip_from && date <= input->skip_to)
        return false;
    int i = date - history->first;
    return isfinite(history->et0_mm[i]) && isfinite(history->rain_mm[i]) && history->rain_mm[i] >= 0;
}

static bool wet_on(const struct outlook_weather_input *input, int32_t date) {
    return input->history->rain_mm[date - input->history->first] >= OUTLOOK_WET_MM;
}

static bool block_usable(const struct outlook_weather_input *input, int32_t start, int days) {
    for (int i = -1; i < days; i++)
        if (!usable(input, start + i))
            return false;
    return true;
}

/* Years of the history before and after a day. */
static int years_back(const struct outlook_weather_input *input, int32_t day) {
    int32_t days = day - input->history->first;
    return days < 0 ? 0 : (int)(days / YEAR_DAYS) + 1;
}

static int years_on(const struct outlook_weather_input *input, int32_t day) {
    int32_t days = input->history->first + input->history->count - day;
    return !input->use_future || days < 0 ? 0 : (int)(days / YEAR_DAYS) + 1;
}

static int32_t same_day(int32_t day, int years, int offset) {
    return day + (int32_t)floor(years * YEAR_DAYS + 0.5) + offset;
}

static int count_starts(const struct outlook_weather_input *input, int32_t day, int days, int half_width) {
    int count = 0;
    for (int year = -years_back(input, day); year <= years_on(input, day); year++)
        for (int offset = -half_width; offset <= half_width; offset++)
            count += block_usable(input, same_day(day, year, offset), days);
    return count;
}

/* What one block of the members begins with. */
struct joint {
    int32_t day;    /* first day of the block */
    int days;       /* its length */
    int half_width; /* in which its like is looked for */
};

/* False: the history has no such block. */
static bool joint_open(const struct outlook_weather_input *input, int index, struct joint *joint) {
    if (input->history == NULL || input->history->count < OUTLOOK_HISTORY_DAYS)
        return false;
    joint->day = input->today + index;
    joint->days = input->days - index < OUTLOOK_BLOCK_DAYS ? input->days - index : OUTLOOK_BLOCK_DAYS;
    for (int i = 0; i < HALF_WIDTHS; i++) {
        joint->half_width = half_widths[i];
        int count = count_starts(input, joint->day, joint->days, half_widths[i]);
        if (count >= STARTS_ENOUGH || (i == HALF_WIDTHS - 1 && count > 0))
            return true;
    }
    return false;
}

/* The first day of a block for one member. */
static int32_t block_draw(const struct outlook_weather_input *input, const struct joint *joint,
                          bool wet_before, uint64_t *state) {
    int back = years_back(input, joint->day), years = back + years_on(input, joint->day) + 1;
    int32_t start = CALENDAR_NONE;
    for (int tried = 0; tried < 2 * TRIES; tried++) {
        int year = below(state, years) - back, offset = below(state, 2 * joint->half_width + 1);
        int32_t date = same_day(joint->day, year, offset - joint->half_width);
        if (!block_usable(input, date, joint->days))
            continue;
        start = date;
        if (wet_on(input, date - 1) == wet_before)
            return date;
    }
    /* Where hardly a day fits, the first that does: joint_open() has counted at least one. */
    for (int year = -back; start == CALENDAR_NONE; year++)
        for (int offset = -joint->half_width; offset <= joint->half_width; offset++)
            if (block_usable(input, same_day(joint->day, year, offset), joint->days))
                start = same_day(joint->day, year, offset);
    return start;
}

void outlook_climate(const struct outlook_weather_input *input, int half_width, double *wet_share,
                     double *wet_amount_mm) {
    int days = 0, wet = 0;
    double rain_mm = 0;
    for (int year = input->history != NULL ? -years_back(input, input->today) : 1;
         year <= (input->history != NULL ? years_on(input, input->today) : 0); year++)
        for (int offset = -half_width; offset <= half_width; offset++) {
            int32_t date = same_day(input->today, year, offset);
            if (!usable(input, date))
                continue;
            days++;
            if (wet_on(input, date)) {
                wet++;
                rain_mm += input->history->rain_mm[date - input->history->first];
            }
        }
    *wet_share = days >= OUTLOOK_HISTORY_DAYS ? (double)wet / days : NAN;
    *wet_amount_mm = wet > 0 && days >= OUTLOOK_HISTORY_DAYS ? rain_mm / wet : NAN;
}

/* What the past years had on one day of the year. */
struct past_sum {
    int days;
    double et0_mm, rain_mm;
};

static struct past_sum past_years_on(const struct outlook_weather_input *input, int32_t day) {
    struct past_sum sum = {0};
    for (int year = -years_back(input, day); year <= years_on(input, day); year++) {
        int32_t date = same_day(day, year, 0);
        if (!usable(input, date))
            continue;
        sum.days++;
        sum.et0_mm += input->history->et0_mm[date - input->history->first];
        sum.rain_mm += input->history->rain_mm[date - input->history->first];
    }
    return sum;
}

void outlook_usual_fill(const struct outlook_weather_input *input, struct outlook_usual *out) {
    enum { WINDOW = 2 * OUTLOOK_USUAL_REACH_D + 1 };
    struct past_sum on[OUTLOOK_USUAL_DAYS + WINDOW - 1];
    for (int i = 0; i < OUTLOOK_USUAL_DAYS + WINDOW - 1; i++)
        on[i] = input->history != NULL ? past_years_on(input, input->today + i - OUTLOOK_USUAL_REACH_D)
                                       : (struct past_sum){0};
    for (int day = 0; day < OUTLOOK_USUAL_DAYS; day++) {
        struct past_sum sum = {0};
        for (int i = day; i < day + WINDOW; i++) {
            sum.days += on[i].days;
            sum.et0_mm += on[i].et0_mm;
            sum.rain_mm += on[i].rain_mm;
        }
        out->et0_mm[day] = sum.days > 0 ? sum.et0_mm / sum.days : NAN;
        out->rain_mm[day] = sum.days > 0 ? sum.rain_mm / sum.days : NAN;
    }
}

/* ---- members */

static bool forecast_on(const struct outlook_weather_input *input, int day) {
    return input->et0_mm != NULL && !isnan(input->et0_mm[day]);
}

/* What a forecast day holds for every member. */
struct told {
    double et0_mm, sd_log;
    double memory, wet_memory, heat_with_dry;
    double wet_chance, amount_mm, amount_sd_log; /* mean of a wet day */
};

static struct told told_of(const struct outlook_weather_input *input, int day) {
    int lead = input->today + day - input->issued;
    int at = lead < OUTLOOK_DAYS_MAX ? lead : OUTLOOK_DAYS_MAX - 1;
    const struct outlook_errors *errors = input->errors;
    const struct outlook_lead *own = &errors->lead[at];
    double et0_mm = input->et0_mm[day], rain_mm = input->rain_mm != NULL ? input->rain_mm[day] : NAN;
    enum outlook_rain class = outlook_rain_class(rain_mm);
    /* Rain needs none: its chances and amounts are those of the forecasts as they were issued. */
    if (input->correct)
        et0_mm = outlook_corrected_et0_mm(errors, at, et0_mm, rain_mm);
    struct told told = {.et0_mm = et0_mm,
                        .sd_log = own->et0_sd_log[class < OUTLOOK_RAIN_COUNT ? class : OUTLOOK_RAIN_SOME],
                        .memory = errors->et0_memory,
                        .wet_memory = errors->wet_memory,
                        .heat_with_dry = errors->heat_with_dry,
                        .wet_chance = errors->wet_share,
                        .amount_mm = outlook_amount_mm(errors, at, rain_mm),
                        .amount_sd_log = sqrt(log(1 + own->amount_spread))};
    if (class != OUTLOOK_RAIN_COUNT)
        told.wet_chance = own->wet_chance[class];
    return told;
}

/* What is carried from day to day of a member. */
struct member {
    uint64_t state;
    double z, error; /* of the last forecast day; NaN before the first */
    bool wet;        /* the last day */
    int32_t block;   /* date of the past that stands for the day; CALENDAR_NONE */
    int block_left;
};

static void forecast_day(const struct told *told, struct member *member, double *et0_mm, double *rain_mm) {
    double z = normal(&member->state), w = normal(&member->state), depth = normal(&member->state);
    if (!isnan(member->z))
        z = told->wet_memory * member->z + sqrt(1 - told->wet_memory * told->wet_memory) * z;
    /* What the error keeps from day to day is its own part. */
    if (!isnan(member->error))
        w = told->memory * member->error + sqrt(1 - told->memory * told->memory) * w;
    member->z = z;
    member->error = w;
    member->wet = normal_share(z) < told->wet_chance;
    double heat = told->heat_with_dry, chance = told->wet_chance;
    double dryer = (chance - (member->wet ? 1 : 0)) / sqrt(chance * (1 - chance));
    double error = heat * dryer + sqrt(1 - heat * heat) * w;
    member->block_left = 0;
    *et0_mm = told->et0_mm * exp(told->sd_log * error - 0.5 * told->sd_log * told->sd_log);
    double wet_mm =
        told->amount_mm * exp(told->amount_sd_log * depth - 0.5 * told->amount_sd_log * told->amount_sd_log);
    *rain_mm = member->wet ? fmax(wet_mm, OUTLOOK_WET_MM) : 0;
}

static void past_day(const struct outlook_weather_input *input, const struct joint *joint,
                     struct member *member, double *et0_mm, double *rain_mm) {
    if (member->block_left == 0) {
        member->block = block_draw(input, joint, member->wet, &member->state);
        member->block_left = joint->days;
    }
    int i = member->block - input->history->first;
    *et0_mm = input->history->et0_mm[i];
    *rain_mm = input->history->rain_mm[i];
    member->wet = *rain_mm >= OUTLOOK_WET_MM;
    member->z = member->error = NAN;
    member->block++;
    member->block_left--;
}

static enum status check(const struct outlook_weather_input *input) {
    if (input->days < 1 || input->days > OUTLOOK_DAYS_MAX || input->members < 1 ||
        input->members > OUTLOOK_MEMBERS_MAX)
        return STATUS_OUT_OF_RANGE;
    if (input->et0_mm == NULL)
        return STATUS_OK;
    if (input->issued > input->today)
        return STATUS_ORDER;
    if (input->errors == NULL)
        return STATUS_MISSING;
    for (int i = 0; i < input->days; i++) {
        double et0_mm = input->et0_mm[i], rain_mm = input->rain_mm != NULL ? input->rain_mm[i] : NAN;
        if (isinf(et0_mm) || isinf(rain_mm))
            return STATUS_NOT_FINITE;
        if (et0_mm > 30 || et0_mm < -5 || rain_mm < 0 || rain_mm > 2000)
            return STATUS_OUT_OF_RANGE;
    }
    return STATUS_OK;
}

/* What each day is made from. */
struct plan {
    int days;
    bool told[OUTLOOK_DAYS_MAX];
    struct told forecast[OUTLOOK_DAYS_MAX];
    struct joint joint[OUTLOOK_DAYS_MAX];
};

static void plan_make(const struct outlook_weather_input *input, struct plan *plan) {
    int left = 0;
    plan->days = 0;
    for (int day = 0; day < input->days; day++, plan->days++) {
        plan->told[day] = forecast_on(input, day);
        if (plan->told[day]) {
            plan->forecast[day] = told_of(input, day);
            left = 0;
        } else if (left == 0) {
            if (!joint_open(input, day, &plan->joint[day]))
                return;
            left = plan->joint[day].days - 1;
        } else {
            left--;
        }
    }
}

void outlook_weather_means(struct outlook_weather *weather) {
    for (int day = 0; day < weather->days; day++) {
        double sum_mm = 0;
        for (int m = 0; m < weather->members; m++)
            sum_mm += weather->rain_mm[day * weather->members + m];
        weather->rain_mean_mm[day] = sum_mm / weather->members;
    }
}

enum status outlook_weather_make(const struct outlook_weather_input *input, struct outlook_weather *out) {
    struct plan plan;
    enum status status = check(input);
    if (status != STATUS_OK)
        return status;
    plan_make(input, &plan);
    if (plan.days == 0)
        return STATUS_MISSING;
    out->days = plan.days;
    out->members = input->members;
    bool wet_yesterday = usable(input, input->today - 1) && wet_on(input, input->today - 1);
    for (int m = 0; m < input->members; m++) {
        struct member member = {.z = NAN, .error = NAN, .wet = wet_yesterday, .block = CALENDAR_NONE};
        uint64_t mixed = input->seed ^ ((uint64_t)m * 0xd1342543de82ef95u);
        member.state = next_word(&mixed);
        for (int day = 0; day < plan.days; day++) {
            double *et0_mm = &out->et0_mm[day * input->members + m];
            double *rain_mm = &out->rain_mm[day * input->members + m];
            if (plan.told[day])
                forecast_day(&plan.forecast[day], &member, et0_mm, rain_mm);
            else
                past_day(input, &plan.joint[day], &member, et0_mm, rain_mm);
        }
    }
    outlook_weather_means(out);
    return STATUS_OK;
}

#include "core/decide/outlook_cost.h"

#include <math.h>
#include <stddef.h>

/* The base rule stands for calls that are made anew every morning, with news that it does not have. Started
 * in time for a multiple of the expected use it is as careful as they are; with 1 its own stress makes a turn
 * this morning look better than it is. These and the default prices were chosen by hindcasts
 * (tests/bench/bench_calls.c names the seasons that had no part in it). */
#define BASE_GUARD     3.0
#define CAUTION        1.2
#define CAUTION_DAYS   3
#define HARVEST_GUARD  2.0
#define CLEARLY        10.0
#define TURNS_WEIGHED  2   /* depths of a turn this morning */
#define RAIN_MET_LEAST 0.2 /* of what is depleted at the end, irrigation has to meet this share at least */

struct outlook_prices outlook_prices_default(void) {
    struct outlook_prices prices = {.yield = 1,
                                    .gross_per_mm = OUTLOOK_PRICE_MM,
                                    .leached_per_mm = 0.5 * OUTLOOK_PRICE_MM,
                                    .start = OUTLOOK_PRICE_START_MM * OUTLOOK_PRICE_MM};
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        prices.yield_per_mm[k] = NAN;
    return prices;
}

double outlook_yield_per_mm(double ky_stage, double stage_etc_mm, double ky_season, double season_etc_mm) {
    bool by_stage = isfinite(ky_stage) && stage_etc_mm > 0;
    double ky = by_stage ? ky_stage : isnan(ky_season) ? 1 : ky_season;
    double etc_mm = by_stage ? stage_etc_mm : season_etc_mm;
    return etc_mm > 0 ? ky / etc_mm : 0;
}

/* A stage's ETc over ET0 for the days that are not reckoned yet: its mean Kcb and some evaporation. */
static double stage_kc(const struct crop *crop, int stage) {
    switch (stage) {
    case 0:
        return crop->kcb_ini + 0.2;
    case 1:
        return 0.5 * (crop->kcb_ini + crop->kcb_mid) + 0.1;
    case 2:
        return crop->kcb_mid + 0.05;
    default:
        return 0.5 * (crop->kcb_mid + crop->kcb_end) + 0.05;
    }
}

/* The rain of a day that can be counted on, of a usual one: FAO's dependable rain, 0.6 P - 10 mm for a month
 * with P up to 70 mm and 0.8 P - 24 mm above (CROPWAT, FAO-46; from memory). */
static double dependable_mm(double usual_mm) {
    double month_mm = 30 * usual_mm;
    double kept_mm = month_mm <= 70 ? 0.6 * month_mm - 10 : 0.8 * month_mm - 24;
    return fmax(kept_mm, 0) / 30;
}

/* One day of a stage that is still to come, `day` days from today. */
static double coming_etc_mm(const struct outlook_field *field, const struct outlook_usual *usual,
                            double mean_et0_mm, int day, double kc, struct outlook_later *later) {
    double et0_mm = mean_et0_mm;
    if (day < field->days)
        return kc * et0_mm;
    int at = day % OUTLOOK_USUAL_DAYS;
    if (usual != NULL && !isnan(usual->et0_mm[at])) {
        et0_mm = usual->et0_mm[at];
        later->rain_mm += dependable_mm(usual->rain_mm[at]);
    }
    later->etc_mm += kc * et0_mm;
    return kc * et0_mm;
}

void outlook_prices_for(const struct season_setup *setup, const struct season_total *total,
                        const struct outlook_field *field, const struct outlook_usual *usual,
                        struct outlook_prices *prices, struct outlook_later *later) {
    const struct crop *crop = &setup->crop;
    double span_mm[CROP_GROWING_STAGES], season_mm = 0, et0_mm = 0, ends_d = -field->days_in_season;
    for (int day = 0; day < field->days; day++)
        et0_mm += fmax(field->day[day].et0_mm, 0) / field->days;
    *later = (struct outlook_later){0};
    int day = 0;
    while (field->days_in_season == 0 && day < field->days && !field->day[day].growing)
        day++;
    ends_d += day;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        ends_d += crop->stage_days[k];
        span_mm[k] = total->etc_stage_mm[k];
        for (; day < ends_d; day++)
            span_mm[k] += coming_etc_mm(field, usual, et0_mm, day, stage_kc(crop, k), later);
        season_mm += span_mm[k];
    }
    bool last_grows = field->days > 0 && field->day[field->days - 1].growing;
    later->goes_on = crop->forage || (last_grows && (crop->clock == CLOCK_DEGREE_DAYS || day < field->days));
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        prices->yield_per_mm[k] =
            outlook_yield_per_mm(crop->ky_stage[k], span_mm[k], crop->ky_season, season_mm);
}

/* Everything that is the same for all members. */
struct work {
    const struct outlook_cost_input *input;
    const struct outlook_field *field;
    const struct outlook_weather *weather;
    int days;
    double efficiency, net_min_mm, net_max_mm, daily_mm;
    double rain_soon_mm[OUTLOOK_DAYS_MAX]; /* expected on a day and the next */
    double use_mm[OUTLOOK_DAYS_MAX];       /* ETc of the prepared path */
    double allowed_mm[OUTLOOK_DAYS_MAX];
    double yield_per_mm[OUTLOOK_DAYS_MAX];
    double ahead_mm[OUTLOOK_DAYS_MAX]; /* that the crop will be past the allowed depletion from a morning on
                                          to its end, less that morning's depletion */
    double later_mm;     /* what the crop asks for after the days, less the rain that can be counted on */
    double now_mm;       /* net depth of a turn this morning */
    double later_share;  /* of the depletion at the end, that irrigation will have to meet */
    bool last_turns;     /* a turn is due this morning and the crop ends within the days */
    double water_counts; /* how much dearer water is taken to be than its price */
};

static int days_of(const struct outlook_cost_input *input) {
    return input->weather->days < input->field->days ? input->weather->days : input->field->days;
}

static double allowed_of(const struct outlook_field *field, const struct outlook_day *day, double etc_mm) {
    if (!day->growing)
        return HUGE_VAL;
    if (!isnan(day->allowed_share))
        return day->allowed_share * day->taw_mm;
    double p = field->p_fixed ? field->p : crop_depletion_fraction(field->p, etc_mm);
    return p * day->taw_mm;
}

/* From the last day backwards: by how much more than a morning's depletion the crop passes the allowed one at
 * most, until its end, at HARVEST_GUARD times the expected use. */
static void look_to_harvest(const struct outlook_cost_input *input, int days, double ahead_mm[]) {
    const struct outlook_field *field = input->field;
    const struct outlook_day *last = &field->day[days - 1];
    double more_mm = HARVEST_GUARD * input->later.etc_mm - input->later.rain_mm -
                     allowed_of(field, last, HARVEST_GUARD * last->etc_mm);
    for (int day = days - 1; day >= 0; day--) {
        const struct outlook_day *own = &field->day[day];
        double use_mm = HARVEST_GUARD * own->etc_mm;
        more_mm = own->growing ? fmax(more_mm, -allowed_of(field, own, use_mm)) + use_mm : -HUGE_VAL;
        ahead_mm[day] = input->later.goes_on ? HUGE_VAL : more_mm;
    }
}

double outlook_harvest_need_mm(const struct outlook_cost_input *input, int day, double depletion_mm) {
    double ahead_mm[OUTLOOK_DAYS_MAX];
    int days = days_of(input);
    if (day < 0 || day >= days)
        return NAN;
    look_to_harvest(input, days, ahead_mm);
    return depletion_mm + ahead_mm[day];
}

static void work_fill(struct work *work) {
    const struct system *system = work->input->system;
    const struct outlook_prices *prices = work->input->prices;
    double rain_mm = 0, use_mm = 0;
    work->efficiency = system->efficiency;
    work->net_min_mm = isnan(system->net_min_mm) ? 0 : system->net_min_mm;
    work->net_max_mm = isnan(system->net_max_mm) ? HUGE_VAL : system->net_max_mm;
    double daily_mm = application_gross_of_hours_mm(system, system->hours_per_day) * system->efficiency;
    work->daily_mm = daily_mm > 0 ? daily_mm : HUGE_VAL;
    for (int day = 0; day < work->days; day++) {
        const struct outlook_day *own = &work->field->day[day];
        work->rain_soon_mm[day] = own->rain_known ? 0 : work->weather->rain_mean_mm[day];
        if (day + 1 < work->days)
            work->rain_soon_mm[day] += work->weather->rain_mean_mm[day + 1];
        work->use_mm[day] = own->etc_mm;
        work->allowed_mm[day] = allowed_of(work->field, own, own->etc_mm);
        work->yield_per_mm[day] =
            own->growing ? prices->yield * prices->yield_per_mm[own->stage - STAGE_INITIAL] : 0;
        rain_mm += work->weather->rain_mean_mm[day];
        use_mm += own->etc_mm;
    }
    look_to_harvest(work->input, work->days, work->ahead_mm);
    work->last_turns = work->input->plain == OUTLOOK_PLAIN_WATERS && !work->input->later.goes_on &&
                       !(work->input->later.etc_mm > 0);
    work->later_mm = work->input->later.etc_mm - work->input->later.rain_mm;
    work->later_share = use_mm > 0 ? fmax(1 - rain_mm / use_mm, RAIN_MET_LEAST) : RAIN_MET_LEAST;
}

/* A turn as it runs over the days of one member. */
struct plan {
    double left_mm; /* of the turn that is running, net */
    int starts;
    double gross_mm;
};

/* Whether a turn has to start this morning to be through before the field is dry, if no rain falls. */
static bool due(const struct work *work, int day, double depletion_mm) {
    double left_mm = depletion_mm < work->net_max_mm ? depletion_mm : work->net_max_mm;
    if (depletion_mm >= work->allowed_mm[day])
        return work->field->day[day].growing;
    for (int k = day; k < work->days; k++) {
        if (!work->field->day[k].growing)
            return false;
        depletion_mm += BASE_GUARD * work->use_mm[k];
        left_mm -= work->daily_mm;
        if (depletion_mm >= work->allowed_mm[k])
            return true;
        if (left_mm <= 0)
            return false;
    }
    return false;
}

/* The net depth of a turn from a morning's depletion: no more than the crop needs to its end. */
static double turn_mm(const struct work *work, int day, double depletion_mm, double wanted_mm) {
    double need_mm = depletion_mm + work->ahead_mm[day];
    if (wanted_mm > need_mm)
        wanted_mm = need_mm;
    if (!(wanted_mm > 0))
        return 0;
    double net_mm = wanted_mm < work->net_min_mm ? work->net_min_mm : wanted_mm;
    return net_mm < work->net_max_mm ? net_mm : work->net_max_mm;
}

/* What is given on a morning. */
static double given_mm(const struct work *work, int day, int first, bool forced, double depletion_mm,
                       struct plan *plan) {
    if (!(plan->left_mm > 0)) {
        if (day == 0)
            depletion_mm -= work->field->settled_mm;
        double wanted_mm = depletion_mm - work->rain_soon_mm[day];
        if (forced && day == first)
            plan->left_mm = work->now_mm;
        else if (due(work, day, depletion_mm))
            plan->left_mm = turn_mm(work, day, depletion_mm, wanted_mm);
        plan->starts += plan->left_mm > 0;
    }
    double net_mm = plan->left_mm < work->daily_mm ? plan->left_mm : work->daily_mm;
    plan->left_mm -= net_mm;
    plan->gross_mm += net_mm / work->efficiency;
    return net_mm;
}

/* What a plan costs from its first day on. */
struct sum {
    double lost, spent; /* the yield's worth; water, leaching and starts */
    double gross_mm, stress_mm;
    int unturned; /* members without a turn */
};

static double weighed(const struct work *work, const struct sum *sum) {
    return sum->lost + work->water_counts * sum->spent;
}

/* A day of a member without irrigation but `net_mm`. A wet surface's evaporation on a hotter day lowers p and
 * can make a turn look harmful; the last ones are not put off for that, since none comes after them. */
static void step_on(const struct work *work, int day, int m, double net_mm, struct outlook_state *state,
                    struct outlook_step *step) {
    int at = day * work->weather->members + m;
    bool cautious = day < CAUTION_DAYS && !(net_mm > 0 && work->last_turns);
    double et0_mm = work->weather->et0_mm[at] * (cautious ? CAUTION : 1);
    outlook_step(work->field, day, et0_mm, work->weather->rain_mm[at], net_mm, state, step);
}

/* From the morning of the day `first`; `sum` comes with what was before. */
static void run_plan(const struct work *work, int m, int first, bool forced, struct outlook_state state,
                     struct sum *sum) {
    const struct outlook_prices *prices = work->input->prices;
    struct plan plan = {0};
    struct outlook_step step = {0};
    for (int day = first; day < work->days; day++) {
        double net_mm = given_mm(work, day, first, forced, state.depletion_mm, &plan);
        step_on(work, day, m, net_mm, &state, &step);
        double missing_mm = step.etc_mm - step.eta_mm;
        sum->stress_mm += missing_mm;
        sum->lost += missing_mm * work->yield_per_mm[day];
        sum->spent += step.percolation_mm * prices->leached_per_mm;
    }
    double depletion_mm = fmax(state.depletion_mm - plan.left_mm, 0);
    double need_mm = depletion_mm + work->later_mm - work->allowed_mm[work->days - 1];
    double refill_mm = fmin(fmax(need_mm, 0), depletion_mm) * work->later_share;
    plan.gross_mm += plan.left_mm / work->efficiency;
    sum->spent += (plan.gross_mm + refill_mm / work->efficiency) * prices->gross_per_mm;
    sum->spent += plan.starts * prices->start;
    sum->gross_mm += plan.gross_mm;
    sum->unturned += plan.starts == 0;
}

/* Every member without irrigation; the state of each morning is kept. */
static void run_dry(const struct work *work, struct outlook_cost_room *room) {
    int members = work->weather->members;
    for (int m = 0; m < members; m++) {
        struct outlook_state state = work->field->start;
        room->state[m] = state;
        for (int day = 0; day < work->days; day++) {
            int at = day * members + m;
            struct outlook_step step;
            step_on(work, day, m, 0, &state, &step);
            room->stress_mm[at] = step.etc_mm - step.eta_mm;
            room->leached_mm[at] = step.percolation_mm;
            room->state[(day + 1) * members + m] = state;
        }
    }
}

static void add_sum(const struct sum *from, struct sum *to) {
    to->lost += from->lost;
    to->spent += from->spent;
    to->gross_mm += from->gross_mm;
    to->stress_mm += from->stress_mm;
    to->unturned += from->unturned;
}

/* What a member's plans cost that wait for each of the days 1..days: on a morning on which the base rule
 * starts nothing, its plan is that of the next morning. */
static void run_waits(const struct work *work, const struct outlook_cost_room *room, int m,
                      struct sum sums[]) {
    int members = work->weather->members;
    struct sum before[OUTLOOK_DAYS_MAX + 1] = {{0}};
    for (int day = 0; day < work->days; day++) {
        int at = day * members + m;
        before[day + 1].stress_mm = before[day].stress_mm + room->stress_mm[at];
        before[day + 1].lost = before[day].lost + room->stress_mm[at] * work->yield_per_mm[day];
        before[day + 1].spent =
            before[day].spent + room->leached_mm[at] * work->input->prices->leached_per_mm;
    }
    struct sum own = {0};
    for (int first = work->days; first >= 1; first--) {
        const struct outlook_state *state = &room->state[first * members + m];
        if (first == work->days || due(work, first, state->depletion_mm)) {
            own = before[first];
            run_plan(work, m, first, false, *state, &own);
        }
        add_sum(&own, &sums[first]);
    }
}

/* A turn this morning, of the depth that is expected to cost less: what is depleted less the rain expected
 * soon, or all of it. */
static struct sum run_now(struct work *work, const struct outlook_cost_room *room, double *net_mm,
                          bool *to_harvest) {
    double depletion_mm = work->field->start.depletion_mm - work->field->settled_mm;
    const double wanted_mm[TURNS_WEIGHED] = {depletion_mm - work->rain_soon_mm[0], depletion_mm};
    struct sum best = {.lost = HUGE_VAL};
    *net_mm = 0;
    *to_harvest = false;
    for (int i = 0; i < TURNS_WEIGHED; i++) {
        struct sum sum = {0};
        work->now_mm = turn_mm(work, 0, depletion_mm, wanted_mm[i]);
        if (!(work->now_mm > 0) || work->now_mm == *net_mm)
            continue;
        for (int m = 0; m < work->weather->members; m++)
            run_plan(work, m, 0, true, room->state[m], &sum);
        if (weighed(work, &sum) < weighed(work, &best)) {
            best = sum;
            *net_mm = work->now_mm;
            *to_harvest = wanted_mm[i] > depletion_mm + work->ahead_mm[0];
        }
    }
    return best;
}

static enum status check(const struct outlook_cost_input *input, int days) {
    const struct outlook_prices *prices = input->prices;
    if ((unsigned)input->plain > OUTLOOK_PLAIN_WAITS)
        return STATUS_OUT_OF_RANGE;
    if (input->system == NULL || input->system->kind == SYSTEM_NONE)
        return STATUS_MISSING;
    enum status status = system_check(input->system, NULL);
    if (status != STATUS_OK)
        return status;
    double least =
        fmin(fmin(prices->yield, prices->gross_per_mm), fmin(prices->leached_per_mm, prices->start));
    double sum = prices->yield + prices->gross_per_mm + prices->leached_per_mm + prices->start +
                 input->later.etc_mm + input->later.rain_mm;
    for (int day = 0; day < days; day++) {
        if (!input->field->day[day].growing)
            continue;
        double share = prices->yield_per_mm[input->field->day[day].stage - STAGE_INITIAL];
        least = fmin(least, share);
        sum += share;
    }
    if (isnan(sum))
        return STATUS_MISSING;
    if (isinf(sum))
        return STATUS_NOT_FINITE;
    return days >= 1 && least >= 0 && input->later.etc_mm >= 0 && input->later.rain_mm >= 0
               ? STATUS_OK
               : STATUS_OUT_OF_RANGE;
}

/* The best day to wait for at the prices as they are. */
static int best_wait(const struct sum waits[], int days) {
    int best = 1;
    for (int day = 2; day <= days; day++)
        if (waits[day].lost + waits[day].spent <= waits[best].lost + waits[best].spent)
            best = day;
    return best;
}

/* Whether a turn this morning is cheaper than each wait, as water counts against the plain rule. */
static bool water_now(const struct work *work, const struct sum *now, const struct sum waits[]) {
    for (int day = 1; day <= work->days; day++)
        if (!(weighed(work, now) < weighed(work, &waits[day])))
            return false;
    return true;
}

enum status outlook_cost_run(const struct outlook_cost_input *input, struct outlook_cost_room *room,
                             struct outlook_cost *out) {
    static const double water_counts[] = {
        [OUTLOOK_PLAIN_UNKNOWN] = 1, [OUTLOOK_PLAIN_WATERS] = 1 / CLEARLY, [OUTLOOK_PLAIN_WAITS] = CLEARLY};
    int members = input->weather->members;
    struct work work = {
        .input = input, .field = input->field, .weather = input->weather, .days = days_of(input)};
    enum status status = check(input, work.days);
    if (status != STATUS_OK)
        return status;
    work.water_counts = water_counts[input->plain];
    work_fill(&work);
    double now_mm = 0;
    bool to_harvest = false;
    run_dry(&work, room);
    struct sum now = run_now(&work, room, &now_mm, &to_harvest);
    struct sum waits[OUTLOOK_DAYS_MAX + 1] = {{0}};
    for (int m = 0; m < members; m++)
        run_waits(&work, room, m, waits);
    int wait_day = best_wait(waits, work.days);
    const struct sum *wait = &waits[wait_day];
    *out = (struct outlook_cost){.water_now = water_now(&work, &now, waits),
                                 .now = (now.lost + now.spent) / members,
                                 .wait = (wait->lost + wait->spent) / members,
                                 .wait_day = wait_day,
                                 .net_now_mm = now_mm,
                                 .to_harvest = to_harvest,
                                 .days_now = fmax(ceil(now_mm / work.daily_mm), 1),
                                 .gross_now_mm = now.gross_mm / members,
                                 .gross_wait_mm = wait->gross_mm / members,
                                 .stress_now_mm = now.stress_mm / members,
                                 .stress_wait_mm = wait->stress_mm / members,
                                 .spared_chance = (double)waits[1].unturned / members};
    return STATUS_OK;
}

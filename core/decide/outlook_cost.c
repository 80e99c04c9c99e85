#include "core/decide/outlook_cost.h"

#include <math.h>
#include <stddef.h>

/* The base rule stands for calls that are made anew every morning, with news that it does not have. Started
 * in time for a multiple of the expected use it is as careful as they are; with 1 its own stress makes a turn
 * this morning look better than it is. Chosen by hindcasts (tests/bench/bench_calls.c). */
#define BASE_GUARD     3.0
#define CAUTION        1.15
#define CAUTION_DAYS   3
#define TURNS_WEIGHED  5   /* depths of a turn this morning */
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

void outlook_prices_for(const struct season_setup *setup, const struct season_total *total,
                        const struct outlook_field *field, struct outlook_prices *prices,
                        double *later_etc_mm) {
    const struct crop *crop = &setup->crop;
    double span_mm[CROP_GROWING_STAGES], season_mm = 0, et0_mm = 0, gone_d = field->days_in_season;
    for (int day = 0; day < field->days; day++)
        et0_mm += fmax(field->day[day].et0_mm, 0) / field->days;
    *later_etc_mm = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        double left_d = fmin(fmax(crop->stage_days[k] - gone_d, 0), crop->stage_days[k]);
        gone_d -= crop->stage_days[k];
        span_mm[k] = total->etc_stage_mm[k] + left_d * et0_mm * stage_kc(crop, k);
        season_mm += span_mm[k];
        *later_etc_mm += left_d * et0_mm * stage_kc(crop, k);
    }
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        prices->yield_per_mm[k] =
            outlook_yield_per_mm(crop->ky_stage[k], span_mm[k], crop->ky_season, season_mm);
    for (int day = 0; day < field->days; day++)
        *later_etc_mm = fmax(*later_etc_mm - (field->day[day].growing ? field->day[day].etc_mm : 0), 0);
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
    double now_mm;      /* net depth of a turn this morning */
    double later_share; /* of the depletion at the end, that irrigation will have to meet */
};

static double allowed_of(const struct outlook_field *field, const struct outlook_day *day) {
    if (!day->growing)
        return HUGE_VAL;
    if (!isnan(day->allowed_share))
        return day->allowed_share * day->taw_mm;
    double p = field->p_fixed ? field->p : crop_depletion_fraction(field->p, day->etc_mm);
    return p * day->taw_mm;
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
        work->rain_soon_mm[day] = own->rain_known ? 0 : outlook_weather_mean_rain_mm(work->weather, day);
        if (day + 1 < work->days)
            work->rain_soon_mm[day] += outlook_weather_mean_rain_mm(work->weather, day + 1);
        work->use_mm[day] = own->etc_mm;
        work->allowed_mm[day] = allowed_of(work->field, own);
        work->yield_per_mm[day] =
            own->growing ? prices->yield * prices->yield_per_mm[own->stage - STAGE_INITIAL] : 0;
        rain_mm += outlook_weather_mean_rain_mm(work->weather, day);
        use_mm += own->etc_mm;
    }
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

/* The net depth of a turn from a morning's depletion. */
static double turn_mm(const struct work *work, double wanted_mm) {
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
            plan->left_mm = turn_mm(work, wanted_mm);
        plan->starts += plan->left_mm > 0;
    }
    double net_mm = plan->left_mm < work->daily_mm ? plan->left_mm : work->daily_mm;
    plan->left_mm -= net_mm;
    plan->gross_mm += net_mm / work->efficiency;
    return net_mm;
}

/* What a plan costs from its first day on. */
struct sum {
    double cost, gross_mm, stress_mm;
    int unturned; /* members without a turn */
};

/* A day of a member without irrigation but `net_mm`. */
static void step_on(const struct work *work, int day, int m, double net_mm, struct outlook_state *state,
                    struct outlook_step *step) {
    int at = day * work->weather->members + m;
    double et0_mm = work->weather->et0_mm[at] * (day < CAUTION_DAYS ? CAUTION : 1);
    outlook_step(work->field, day, et0_mm, work->weather->rain_mm[at], net_mm, state, step);
}

static void run_plan(const struct work *work, int m, int first, bool forced, struct outlook_state state,
                     double cost, double stress_mm, struct sum *sum) {
    const struct outlook_prices *prices = work->input->prices;
    struct plan plan = {0};
    struct outlook_step step = {0};
    for (int day = first; day < work->days; day++) {
        double net_mm = given_mm(work, day, first, forced, state.depletion_mm, &plan);
        step_on(work, day, m, net_mm, &state, &step);
        double missing_mm = step.etc_mm - step.eta_mm;
        stress_mm += missing_mm;
        cost += missing_mm * work->yield_per_mm[day] + step.percolation_mm * prices->leached_per_mm;
    }
    double depletion_mm = fmax(state.depletion_mm - plan.left_mm, 0);
    double need_mm = depletion_mm + work->input->later_etc_mm - work->allowed_mm[work->days - 1];
    double refill_mm = fmin(fmax(need_mm, 0), depletion_mm) * work->later_share;
    plan.gross_mm += plan.left_mm / work->efficiency;
    cost += plan.gross_mm * prices->gross_per_mm + plan.starts * prices->start;
    cost += refill_mm / work->efficiency * prices->gross_per_mm;
    sum->cost += cost;
    sum->gross_mm += plan.gross_mm;
    sum->stress_mm += stress_mm;
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

static struct sum run_wait(const struct work *work, const struct outlook_cost_room *room, int first) {
    struct sum sum = {0};
    int members = work->weather->members;
    for (int m = 0; m < members; m++) {
        double cost = 0, stress_mm = 0;
        for (int day = 0; day < first; day++) {
            int at = day * members + m;
            stress_mm += room->stress_mm[at];
            cost += room->stress_mm[at] * work->yield_per_mm[day] +
                    room->leached_mm[at] * work->input->prices->leached_per_mm;
        }
        run_plan(work, m, first, false, room->state[first * members + m], cost, stress_mm, &sum);
    }
    return sum;
}

/* A turn this morning, of the depth that is expected to cost least: what the base rule would give, or shares
 * of what is depleted, which leave more or less room for rain. */
static struct sum run_now(struct work *work, const struct outlook_cost_room *room, double *net_mm) {
    static const double share[] = {1, 0.85, 0.7, 0.55};
    double depletion_mm = work->field->start.depletion_mm - work->field->settled_mm;
    double wanted_mm[TURNS_WEIGHED] = {depletion_mm - work->rain_soon_mm[0]};
    struct sum best = {.cost = HUGE_VAL};
    for (int i = 1; i < TURNS_WEIGHED; i++)
        wanted_mm[i] = share[i - 1] * depletion_mm;
    *net_mm = 0;
    for (int i = 0; i < TURNS_WEIGHED; i++) {
        struct sum sum = {0};
        work->now_mm = turn_mm(work, wanted_mm[i]);
        for (int m = 0; m < work->weather->members && work->now_mm > 0; m++)
            run_plan(work, m, 0, true, room->state[m], 0, 0, &sum);
        if (work->now_mm > 0 && sum.cost < best.cost) {
            best = sum;
            *net_mm = work->now_mm;
        }
    }
    return best;
}

static enum status check(const struct outlook_cost_input *input, int days) {
    const struct outlook_prices *prices = input->prices;
    if (input->system == NULL || input->system->kind == SYSTEM_NONE)
        return STATUS_MISSING;
    enum status status = system_check(input->system, NULL);
    if (status != STATUS_OK)
        return status;
    double least =
        fmin(fmin(prices->yield, prices->gross_per_mm), fmin(prices->leached_per_mm, prices->start));
    double sum =
        prices->yield + prices->gross_per_mm + prices->leached_per_mm + prices->start + input->later_etc_mm;
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
    return days >= 1 && least >= 0 && input->later_etc_mm >= 0 ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

enum status outlook_cost_run(const struct outlook_cost_input *input, struct outlook_cost_room *room,
                             struct outlook_cost *out) {
    int members = input->weather->members;
    struct work work = {.input = input, .field = input->field, .weather = input->weather};
    work.days = input->weather->days < input->field->days ? input->weather->days : input->field->days;
    enum status status = check(input, work.days);
    if (status != STATUS_OK)
        return status;
    work_fill(&work);
    double now_mm = 0;
    run_dry(&work, room);
    struct sum now = run_now(&work, room, &now_mm);
    struct sum wait = {.cost = HUGE_VAL};
    int wait_day = 1;
    for (int day = 1; day <= work.days; day++) {
        struct sum sum = run_wait(&work, room, day);
        if (sum.cost <= wait.cost) {
            wait = sum;
            wait_day = day;
        }
    }
    struct sum next = run_wait(&work, room, 1);
    *out = (struct outlook_cost){.now = now.cost / members,
                                 .wait = wait.cost / members,
                                 .wait_day = wait_day,
                                 .net_now_mm = now_mm,
                                 .days_now = fmax(ceil(now_mm / work.daily_mm), 1),
                                 .gross_now_mm = now.gross_mm / members,
                                 .gross_wait_mm = wait.gross_mm / members,
                                 .stress_now_mm = now.stress_mm / members,
                                 .stress_wait_mm = wait.stress_mm / members,
                                 .spared_chance = (double)next.unturned / members};
    return STATUS_OK;
}

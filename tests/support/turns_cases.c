#include "tests/support/turns_cases.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* splitmix64: G.L. Steele, D. Lea, C.H. Flood, Fast splittable pseudorandom number generators, 2014. */
static uint64_t next(struct turns_case *it) {
    uint64_t z = it->seed += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

double case_number(struct turns_case *it, double least, double most) {
    return least + (most - least) * (double)(next(it) >> 11) / 9007199254740992.0;
}

int case_whole(struct turns_case *it, int least, int most) {
    return least + (int)(next(it) % (uint64_t)(most - least + 1));
}

static bool chance(struct turns_case *it, double share) {
    return case_number(it, 0, 1) < share;
}

void case_empty(struct turns_case *it, uint64_t seed) {
    memset(it, 0, sizeof *it);
    it->seed = seed * UINT64_C(0x2545F4914F6CDD1D) + 1;
    it->problem = (struct turns_problem){.courses = 1,
                                         .weight = {1},
                                         .supply = it->supply,
                                         .field = it->field,
                                         .pin = it->pin,
                                         .forbid = it->forbid,
                                         .effort = turns_effort_default()};
    it->plan = (struct turns_plan){.turn = it->turn,
                                   .turn_room = (int)(sizeof it->turn / sizeof *it->turn),
                                   .supply_use = it->supply_use,
                                   .field_use = it->field_use,
                                   .limit = it->limit,
                                   .limit_room = (int)(sizeof it->limit / sizeof *it->limit)};
}

static void begin(struct turns_case *it, uint64_t seed, int days, int supplies, int fields, int courses) {
    case_empty(it, seed);
    it->problem.days = days;
    it->problem.courses = courses;
    it->problem.supply_count = supplies;
    it->problem.field_count = fields;
    if (courses == 3) {
        it->problem.weight[0] = it->problem.weight[2] = 0.3;
        it->problem.weight[1] = 0.4;
    }
}

/* The weather and the crop of a field. Courses differ in rain and ETc. */
static void grow(struct turns_case *it, int index, double rain_share, double etc_mm) {
    const struct turns_problem *problem = &it->problem;
    struct turns_field *field = &it->field[index];
    struct turns_day *day = &it->day[index * problem->courses * problem->days];
    double taw = case_number(it, 60, 180), p = case_number(it, 0.35, 0.65), ky = case_number(it, 0.4, 1.4);
    double allowed = case_number(it, 0.8, 1.1), season = case_number(it, 300, 700);
    field->day = day;
    field->depletion_mm = case_number(it, 0.1, 1.15) * p * taw;
    field->depletion_mm = fmin(field->depletion_mm, taw);
    for (int c = 0; c < problem->courses; c++) {
        double drier = problem->courses == 1 ? 1 : 0.9 + 0.1 * c;
        for (int d = 0; d < problem->days; d++) {
            double rain = chance(it, rain_share) ? case_number(it, 1, 25) : 0;
            double taw_d = taw * (1 + 0.004 * d);
            day[c * problem->days + d] =
                (struct turns_day){.etc_mm = etc_mm * drier * case_number(it, 0.8, 1.2),
                                   .inflow_mm = rain - taw * 0.002,
                                   .taw_mm = taw_d,
                                   .raw_mm = p * taw_d,
                                   .allowed_mm = fmin(allowed * p, 1) * taw_d,
                                   .ky = ky,
                                   .etc_stage_mm = season};
        }
    }
}

static void any_supply(struct turns_case *it, struct turns_supply *supply) {
    int days = it->problem.days;
    *supply = (struct turns_supply){.flow_m3_h = case_number(it, 60, 400),
                                    .users = chance(it, 0.5) ? 1 : case_whole(it, 2, 4),
                                    .hours_per_day = chance(it, 0.3) ? case_whole(it, 4, 23) : 24,
                                    .season_left_m3 = chance(it, 0.3) ? case_number(it, 0, 30000) : NAN,
                                    .period_count = chance(it, 0.25) ? case_whole(it, 1, 2) : 0,
                                    .water_cost_m3 = chance(it, 0.7) ? case_number(it, 0, 0.3) : 0,
                                    .hour_cost = chance(it, 0.7) ? case_number(it, 0, 40) : 0};
    for (int p = 0; p < supply->period_count; p++) {
        int first = case_whole(it, 0, days - 1);
        supply->period[p] = (struct turns_period){.first_day = first,
                                                  .last_day = first + case_whole(it, 0, 6),
                                                  .left_m3 = case_number(it, 0, 9000)};
    }
    bool windows = chance(it, 0.4), rotation = chance(it, 0.15);
    int first = case_whole(it, 0, 23), hours = case_whole(it, 6, 20);
    for (int d = 0; d < days; d++) {
        supply->open[d] = windows ? turns_open_hours(first, hours) : 0xFFFFFF;
        if (rotation && chance(it, 0.4))
            supply->open[d] = 0;
    }
}

static void any_field(struct turns_case *it, int index) {
    struct turns_field *field = &it->field[index];
    int supply = case_whole(it, 0, it->problem.supply_count - 1);
    double rate = case_number(it, 0.4, 6); /* net mm/h */
    *field = (struct turns_field){
        .supply = supply,
        .efficiency = case_number(it, 0.5, 0.95),
        .flow_m3_h = it->supply[supply].flow_m3_h * (chance(it, 0.6) ? 1 : case_number(it, 0.2, 1)),
        .net_min_mm = chance(it, 0.7) ? case_number(it, 3, 15) : NAN,
        .net_max_mm = chance(it, 0.8) ? case_number(it, 16, 60) : NAN,
        .run_min_hours = case_whole(it, 1, 4),
        .run_max_hours = case_whole(it, 10, 60),
        .setup_hours = chance(it, 0.4) ? case_whole(it, 1, 3) : 0,
        .may_pause = chance(it, 0.6),
        .dry_days = chance(it, 0.25) ? UINT32_C(1) << case_whole(it, 0, it->problem.days - 1) : 0,
        .value_m2 = case_number(it, 0.02, 0.6),
        .end_worth_m3 = chance(it, 0.5) ? NAN : case_number(it, 0, 0.5)};
    field->area_m2 = field->flow_m3_h * field->efficiency * 1000 / rate;
    grow(it, index, 0.15, case_number(it, 3, 8));
}

void case_any(struct turns_case *it, uint64_t seed) {
    struct turns_case draw = {.seed = seed};
    int days = case_whole(&draw, 2, 8), supplies = case_whole(&draw, 1, 3), fields = case_whole(&draw, 1, 6);
    begin(it, seed, days, supplies, fields, chance(&draw, 0.3) ? 3 : 1);
    struct turns_problem *problem = &it->problem;
    problem->first_hour = chance(it, 0.5) ? case_whole(it, 0, 12) : 0;
    problem->percolation_cost_m3 = chance(it, 0.3) ? case_number(it, 0, 0.3) : 0;
    for (int s = 0; s < supplies; s++)
        any_supply(it, &it->supply[s]);
    for (int i = 0; i < fields; i++)
        any_field(it, i);
    problem->pin_count = chance(it, 0.2) ? case_whole(it, 1, 3) : 0;
    for (int i = 0; i < problem->pin_count; i++)
        it->pin[i] = (struct turns_pin){.field = case_whole(it, 0, fields - 1),
                                        .start = case_whole(it, 0, 24 * days - 1),
                                        .hours = case_whole(it, 1, 20),
                                        .under_way = chance(it, 0.2)};
    problem->forbid_count = chance(it, 0.2) ? case_whole(it, 1, 3) : 0;
    for (int i = 0; i < problem->forbid_count; i++) {
        int first = case_whole(it, 0, 24 * days - 1);
        it->forbid[i] = (struct turns_forbid){
            .field = case_whole(it, 0, fields - 1), .first = first, .last = first + case_whole(it, 1, 40)};
    }
    /* A clock that is put forward, or back: all supplies go by it. */
    int day = case_whole(it, 0, days - 1), hour = case_whole(it, 0, 3);
    for (int s = 0; s < supplies; s++) {
        it->supply[s].skipped[day] = seed % 10 == 7 ? UINT32_C(1) << hour : 0;
        it->supply[s].twice[day] = seed % 10 == 3 ? UINT32_C(1) << hour : 0;
    }
}

void case_tiny(struct turns_case *it, uint64_t seed) {
    struct turns_case draw = {.seed = seed};
    int days = case_whole(&draw, 1, 2), fields = case_whole(&draw, 2, 3);
    begin(it, seed, days, 1, fields, chance(&draw, 0.3) ? 3 : 1);
    struct turns_supply *supply = &it->supply[0];
    it->problem.percolation_cost_m3 = chance(it, 0.5) ? case_number(it, 0, 0.5) : 0;
    any_supply(it, supply);
    supply->hours_per_day = case_whole(it, 2, 4);
    for (int d = 0; d < days; d++)
        supply->open[d] = turns_open_hours(chance(it, 0.5) ? 0 : 22, case_whole(it, 3, 4));
    for (int i = 0; i < fields; i++) {
        any_field(it, i);
        it->field[i].net_min_mm = NAN;
        it->field[i].run_min_hours = 1;
        it->field[i].setup_hours = chance(it, 0.3) ? 1 : 0;
        it->field[i].area_m2 =
            it->field[i].flow_m3_h * it->field[i].efficiency * 1000 / case_number(it, 4, 9);
    }
}

void case_two_fields(struct turns_case *it) {
    begin(it, 0, 5, 1, 2, 1);
    it->supply[0] = (struct turns_supply){.flow_m3_h = 100,
                                          .users = 1,
                                          .hours_per_day = 24,
                                          .season_left_m3 = NAN,
                                          .water_cost_m3 = 0.1,
                                          .hour_cost = 5};
    for (int d = 0; d < 5; d++)
        it->supply[0].open[d] = 0xFFFFFF;
    for (int i = 0; i < 2; i++) {
        it->field[i] = (struct turns_field){.area_m2 = 1e5,
                                            .efficiency = 0.8,
                                            .flow_m3_h = 100,
                                            .net_min_mm = 8,
                                            .net_max_mm = 32,
                                            .run_min_hours = 1,
                                            .run_max_hours = 100,
                                            .may_pause = true,
                                            .depletion_mm = i == 0 ? 58 : 10,
                                            .value_m2 = 0.3,
                                            .end_worth_m3 = NAN,
                                            .day = &it->day[5 * i]};
        for (int d = 0; d < 5; d++)
            it->day[5 * i + d] = (struct turns_day){
                .etc_mm = 6, .taw_mm = 120, .raw_mm = 60, .allowed_mm = 60, .ky = 1.25, .etc_stage_mm = 500};
    }
}

static enum status run(struct turns_case *it, int rule) {
    size_t size = turns_workspace_size(&it->problem);
    void *workspace = malloc(size + 1);
    enum status status = rule < 0
                             ? turns_plan(&it->problem, workspace, size, &it->plan)
                             : turns_by_rule(&it->problem, (enum turns_rule)rule, workspace, size, &it->plan);
    free(workspace);
    return status;
}

enum status case_plan(struct turns_case *it) {
    return run(it, -1);
}

enum status case_rule(struct turns_case *it, enum turns_rule rule) {
    return run(it, (int)rule);
}

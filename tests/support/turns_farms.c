#include "tests/support/turns_farms.h"

#include <math.h>

#define DAYS    10
#define PEAK_MM 8.0 /* net need of a day that `share` is a part of */
#define CROPS   8

const char *const farm_weather_name[FARM_WEATHER_COUNT] = {"dry", "showers", "unsure"};
const char *const farm_rules_name[FARM_RULES_COUNT] = {"free", "nights", "allotment"};

/* p and Ky as FAO-56 tables 22 and 24 have them; roots, seasons' ETc and values are invented. */
static const struct crop {
    double p, ky, root_m, kc_least, kc_most, season_mm, value_m2;
} crops[CROPS] = {
    {0.55, 1.25, 1.2, 0.7, 1.2, 600, 0.22},  /* maize */
    {0.35, 1.10, 0.5, 0.6, 1.15, 480, 0.60}, /* potato */
    {0.55, 1.10, 1.5, 0.5, 1.15, 900, 0.16}, /* alfalfa */
    {0.55, 1.05, 1.2, 0.4, 1.15, 450, 0.14}, /* wheat */
    {0.45, 1.15, 0.8, 0.5, 1.1, 380, 0.18},  /* dry beans */
    {0.55, 1.00, 1.0, 0.6, 1.15, 620, 0.30}, /* sugar beet */
    {0.30, 1.10, 0.4, 0.7, 1.05, 450, 0.80}, /* onion */
    {0.65, 0.85, 1.3, 0.6, 1.15, 650, 0.20}, /* cotton */
};

/* ET0 and rain of the farm, by course and day. */
struct sky {
    double et0_mm[TURNS_COURSES_MAX][DAYS], rain_mm[TURNS_COURSES_MAX][DAYS];
};

static void look_up(struct turns_case *it, enum farm_weather weather, struct sky *sky) {
    for (int d = 0; d < DAYS; d++) {
        double et0 = case_number(it, 5, 7.5);
        for (int c = 0; c < it->problem.courses; c++) {
            double rain_chance = weather == FARM_DRY ? 0 : weather == FARM_SHOWERS ? 0.2 * c : 0.2;
            bool rains = case_number(it, 0, 1) < rain_chance;
            sky->rain_mm[c][d] = rains ? case_number(it, 1, 20) : 0;
            sky->et0_mm[c][d] = et0 * case_number(it, 0.92, 1.08) * (rains ? 0.7 : 1);
        }
    }
}

static void grow(struct turns_case *it, int index, const struct sky *sky) {
    const struct crop *crop = &crops[case_whole(it, 0, CROPS - 1)];
    struct turns_field *field = &it->field[index];
    struct turns_day *day = &it->day[index * it->problem.courses * DAYS];
    double taw = crop->root_m * case_number(it, 90, 170), rain_share = case_number(it, 0.7, 1.2);
    double kc = case_number(it, crop->kc_least, crop->kc_most), kc_more = case_number(it, -0.01, 0.02);
    field->day = day;
    field->value_m2 = crop->value_m2 * case_number(it, 0.8, 1.2);
    field->end_worth_m3 = NAN;
    field->depletion_mm = fmin(case_number(it, 0.1, 1.15) * crop->p * taw, taw);
    for (int c = 0; c < it->problem.courses; c++)
        for (int d = 0; d < DAYS; d++) {
            double etc = (kc + kc_more * d) * sky->et0_mm[c][d];
            double raw = fmin(fmax(crop->p + 0.04 * (5 - etc), 0.1), 0.8) * taw; /* FAO-56 table 22 */
            day[c * DAYS + d] = (struct turns_day){.etc_mm = etc,
                                                   .inflow_mm = sky->rain_mm[c][d] * rain_share,
                                                   .taw_mm = taw,
                                                   .raw_mm = raw,
                                                   .allowed_mm = raw,
                                                   .ky = crop->ky,
                                                   .etc_stage_mm = crop->season_mm};
        }
}

static void set_supply(struct turns_case *it, int index, const struct farm *farm, double area_m2) {
    struct turns_supply *supply = &it->supply[index];
    int closed = case_whole(it, 0, 6);
    supply->flow_m3_h = farm->share * PEAK_MM / 1000 * area_m2 / 24;
    supply->hours_per_day = 24;
    supply->season_left_m3 = farm->rules == FARM_ALLOTMENT ? supply->flow_m3_h * 24 * DAYS * 2 / 3 : NAN;
    for (int d = 0; d < DAYS; d++) {
        supply->open[d] = farm->rules == FARM_NIGHTS ? turns_open_hours(18, 15) : 0xFFFFFF;
        if (farm->rules == FARM_ALLOTMENT && d % 7 == closed)
            supply->open[d] = 0;
    }
}

static void begin(struct turns_case *it, const struct farm *farm, int supplies, int fields, struct sky *sky) {
    static const int courses[FARM_WEATHER_COUNT] = {1, 3, 5};
    static const double weight[FARM_WEATHER_COUNT][TURNS_COURSES_MAX] = {
        {1}, {0.3, 0.4, 0.3}, {0.2, 0.2, 0.2, 0.2, 0.2}};
    case_empty(it, farm->seed);
    it->problem.days = DAYS;
    it->problem.courses = courses[farm->weather];
    for (int c = 0; c < TURNS_COURSES_MAX; c++)
        it->problem.weight[c] = weight[farm->weather][c];
    it->problem.supply_count = supplies;
    it->problem.field_count = fields;
    look_up(it, farm->weather, sky);
}

void farm_pivots(struct turns_case *it, const struct farm *farm, int wells, int per_well) {
    struct sky sky;
    begin(it, farm, wells, wells * per_well, &sky);
    for (int s = 0; s < wells; s++) {
        double gross_m2 = 0;
        for (int k = 0; k < per_well; k++) {
            int index = s * per_well + k;
            it->field[index] = (struct turns_field){.supply = s,
                                                    .area_m2 = case_number(it, 15, 55) * 1e4,
                                                    .efficiency = case_number(it, 0.8, 0.9),
                                                    .net_min_mm = case_number(it, 6, 12),
                                                    .net_max_mm = case_number(it, 20, 30),
                                                    .run_min_hours = 2,
                                                    .run_max_hours = 96,
                                                    .setup_hours = farm->rules == FARM_NIGHTS,
                                                    .may_pause = true};
            gross_m2 += it->field[index].area_m2 / it->field[index].efficiency;
            grow(it, index, &sky);
        }
        set_supply(it, s, farm, gross_m2);
        it->supply[s].users = 1;
        it->supply[s].water_cost_m3 = 0.04;
        it->supply[s].hour_cost = 0.06 * it->supply[s].flow_m3_h;
        for (int k = 0; k < per_well; k++)
            it->field[s * per_well + k].flow_m3_h = it->supply[s].flow_m3_h;
    }
}

void farm_canal(struct turns_case *it, const struct farm *farm, int fields) {
    struct sky sky;
    double gross_m2 = 0;
    begin(it, farm, 1, fields, &sky);
    for (int i = 0; i < fields; i++) {
        bool surface = case_whole(it, 0, 2) > 0;
        double rate_mm_h = surface ? case_number(it, 2.5, 6) : case_number(it, 1, 2.5);
        it->field[i] = (struct turns_field){.area_m2 = case_number(it, 2, 12) * 1e4,
                                            .efficiency = surface ? case_number(it, 0.5, 0.7)
                                                                  : case_number(it, 0.7, 0.85),
                                            .net_min_mm = surface ? 30 : 12,
                                            .net_max_mm = surface ? 80 : 50,
                                            .run_min_hours = 2,
                                            .run_max_hours = 48,
                                            .setup_hours = case_whole(it, 0, 1),
                                            .may_pause = farm->rules == FARM_NIGHTS};
        it->field[i].flow_m3_h = rate_mm_h * it->field[i].area_m2 / 1000 / it->field[i].efficiency;
        gross_m2 += it->field[i].area_m2 / it->field[i].efficiency;
        grow(it, i, &sky);
    }
    set_supply(it, 0, farm, gross_m2);
    it->supply[0].users = 20;
    it->supply[0].water_cost_m3 = 0.05;
}

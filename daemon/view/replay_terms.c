#include <math.h>
#include <stddef.h>
#include <string.h>

#include "daemon/view/replay.h"

#define DEPTH(member, label)                                                                                 \
    { #member, label, TERM_DEPTH, offsetof(struct budget_part, member) }
#define COUNT(member, label)                                                                                 \
    { #member, label, TERM_COUNT, offsetof(struct budget_part, member) }

const struct replay_term replay_budget_terms[] = {
    COUNT(days, "days"),
    DEPTH(rain_mm, "rain"),
    DEPTH(effective_rain_mm, "  of it effective"),
    DEPTH(runoff_mm, "runoff"),
    DEPTH(irrigation_gross_mm, "irrigation, gross"),
    DEPTH(irrigation_net_mm, "irrigation, net"),
    COUNT(irrigations, "days with irrigation"),
    DEPTH(capillary_mm, "capillary rise"),
    DEPTH(percolation_mm, "deep percolation"),
    DEPTH(et0_mm, "ET0"),
    DEPTH(etc_mm, "ETc without stress"),
    DEPTH(eta_mm, "actual ET"),
    DEPTH(evaporation_mm, "  evaporation"),
    DEPTH(transpiration_mm, "  transpiration"),
    COUNT(stress_days, "days with stress"),
    DEPTH(stress_mm, "ETc that was lacking"),
    DEPTH(stress_deepest_mm, "deepest beyond RAW"),
    {"ks_least", "smallest Ks", TERM_RATIO, offsetof(struct budget_part, ks_least)},
    DEPTH(new_soil_mm, "deficit of new soil"),
    DEPTH(reading_shift_mm, "shift by readings"),
    DEPTH(storage_change_mm, "change in storage"),
    {"closure_mm", "error of closure, mm", TERM_MONEY, offsetof(struct budget_part, closure_mm)},
    {NULL, NULL, TERM_DEPTH, 0},
};

#define VALUE(member, label, kind)                                                                           \
    { #member, label, kind, offsetof(struct season_value, member) }

const struct replay_term replay_value_terms[] = {
    VALUE(relative, "relative yield, Ky season", TERM_SHARE),
    VALUE(relative_by_stage, "relative yield, Ky stages", TERM_SHARE),
    {"lost_in_initial", "  lost in initial", TERM_SHARE, offsetof(struct season_value, stage_cost[0])},
    {"lost_in_development", "  lost in development", TERM_SHARE,
     offsetof(struct season_value, stage_cost[1])},
    {"lost_in_mid", "  lost in mid-season", TERM_SHARE, offsetof(struct season_value, stage_cost[2])},
    {"lost_in_late", "  lost in late season", TERM_SHARE, offsetof(struct season_value, stage_cost[3])},
    VALUE(rainfed_relative, "relative yield if rainfed", TERM_SHARE),
    VALUE(relative_per_100mm, "rel. yield / 100 mm ET", TERM_SHARE),
    VALUE(irrigation_relative_per_100mm, "gain / 100 mm irrigation", TERM_SHARE),
    VALUE(yield, "yield, per ha", TERM_MONEY),
    VALUE(per_mm, "yield per mm of ET", TERM_MONEY),
    VALUE(per_m3, "yield per m3 of ET", TERM_MONEY),
    VALUE(per_m3_in, "yield per m3 that came in", TERM_MONEY),
    VALUE(irrigation_per_mm, "gain per mm irrigated", TERM_MONEY),
    VALUE(irrigation_per_m3, "gain per m3 irrigated", TERM_MONEY),
    VALUE(income, "income, per ha", TERM_MONEY),
    VALUE(water_cost, "cost of water, per ha", TERM_MONEY),
    VALUE(pass_cost, "cost of passes, per ha", TERM_MONEY),
    VALUE(margin, "margin, per ha", TERM_MONEY),
    VALUE(margin_over_rainfed, "margin over rainfed", TERM_MONEY),
    VALUE(denied_mm, "irrigation denied, gross", TERM_DEPTH),
    VALUE(denied_days, "  days on which it was", TERM_DAYS),
    {NULL, NULL, TERM_DEPTH, 0},
};

double replay_term_value(const struct replay_result *result, size_t offset, const struct replay_term *term) {
    const char *at = (const char *)result + offset + term->offset;
    if (result->days == 0)
        return (double)NAN;
    if (term->kind == TERM_COUNT)
        return *(const int *)(const void *)at;
    return *(const double *)(const void *)at;
}

size_t replay_stage_offset(int stage) {
    return offsetof(struct replay_result, budget.stage) + (size_t)stage * sizeof(struct budget_part);
}

const char *replay_by_name(enum replay_by by) {
    static const char *const name[REPLAY_BY_COUNT] = {"season", "stage", "day", "harvest"};
    return (unsigned)by < REPLAY_BY_COUNT ? name[by] : NULL;
}

bool replay_differs(const struct replay *replay, size_t first) {
    for (size_t i = 0; i < replay->scenario_count; i++) {
        if (!replay->result[first + i].as_it_was)
            return true;
    }
    return false;
}

size_t replay_first_of(const struct replay *replay, const char *field) {
    size_t found = field != NULL ? replay->result_count : 0;
    for (size_t i = 0; i < replay->result_count; i += replay->scenario_count) {
        if (field != NULL && strcmp(field, replay->result[i].field) == 0)
            found = i; /* the newest comes last */
        if (field == NULL && replay_differs(replay, i))
            return i;
    }
    return found;
}

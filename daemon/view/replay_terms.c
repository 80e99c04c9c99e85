#include <math.h>
#include <stddef.h>
#include <string.h>

#include "core/base/units.h"
#include "daemon/view/replay.h"

#define DEPTH(member, label)                                                                                 \
    { #member, label, TERM_DEPTH, offsetof(struct budget_part, member), NULL }
#define COUNT(member, label)                                                                                 \
    { #member, label, TERM_COUNT, offsetof(struct budget_part, member), NULL }

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
    {"ks_least", "smallest Ks", TERM_RATIO, offsetof(struct budget_part, ks_least), NULL},
    DEPTH(new_soil_mm, "deficit of new soil"),
    DEPTH(reading_shift_mm, "shift by readings"),
    DEPTH(storage_change_mm, "change in storage"),
    {"closure_mm", "error of closure", TERM_FINE, offsetof(struct budget_part, closure_mm), NULL},
    {NULL, NULL, TERM_DEPTH, 0, NULL},
};

#define VALUE(member, label, kind, us_label)                                                                 \
    { #member, label, kind, offsetof(struct season_value, member), us_label }
#define LOST(stage, label, index)                                                                            \
    {                                                                                                        \
        "lost_in_" stage, "  lost in " label, TERM_SHARE, offsetof(struct season_value, stage_cost[index]),  \
            NULL                                                                                             \
    }

const struct replay_term replay_value_terms[] = {
    VALUE(relative, "relative yield, Ky season", TERM_SHARE, NULL),
    VALUE(relative_by_stage, "relative yield, Ky stages", TERM_SHARE, NULL),
    LOST("initial", "initial", 0),
    LOST("development", "development", 1),
    LOST("mid", "mid-season", 2),
    LOST("late", "late season", 3),
    VALUE(rainfed_relative, "relative yield if rainfed", TERM_SHARE, NULL),
    VALUE(relative_per_100mm, "rel. yield / 100 mm ET", TERM_SHARE_MM, "rel. yield / inch of ET"),
    VALUE(irrigation_relative_per_100mm, "gain / 100 mm irrigation", TERM_SHARE_MM,
          "gain / inch of irrigation"),
    VALUE(yield, "yield, per ha", TERM_PER_HA, "yield, per acre"),
    VALUE(per_mm, "yield per ha and mm of ET", TERM_PER_MM, "yield per ac-in of ET"),
    VALUE(per_m3, "yield per m3 of ET", TERM_PER_M3, NULL),
    VALUE(per_m3_in, "yield per m3 that came in", TERM_PER_M3, "yield per ac-in coming in"),
    VALUE(irrigation_per_mm, "gain per ha, mm irrigated", TERM_PER_MM, "gain per ac-in irrigated"),
    VALUE(irrigation_per_m3, "gain per m3 irrigated", TERM_PER_M3, NULL),
    VALUE(income, "income, per ha", TERM_PER_HA, "income, per acre"),
    VALUE(water_cost, "cost of water, per ha", TERM_PER_HA, "cost of water, per acre"),
    VALUE(pass_cost, "cost of passes, per ha", TERM_PER_HA, "cost of passes, per acre"),
    VALUE(margin, "margin, per ha", TERM_PER_HA, "margin, per acre"),
    VALUE(margin_over_rainfed, "margin over rainfed", TERM_PER_HA, NULL),
    VALUE(denied_mm, "irrigation denied, gross", TERM_DEPTH, NULL),
    VALUE(denied_days, "  days on which it was", TERM_DAYS, NULL),
    {NULL, NULL, TERM_DEPTH, 0, NULL},
};

double replay_term_value(const struct replay_result *result, size_t offset, const struct replay_term *term) {
    const char *at = (const char *)result + offset + term->offset;
    if (result->days == 0)
        return (double)NAN;
    if (term->kind == TERM_COUNT)
        return *(const int *)(const void *)at;
    return *(const double *)(const void *)at;
}

double replay_term_shown(enum term_kind kind, double value, bool us_units) {
    const struct unit *ha = units_find("ha"), *ac = units_find("ac"), *in = units_find("in");
    switch (kind) {
    case TERM_DEPTH:
    case TERM_FINE:
        return us_units ? units_from_si(value, in) : value;
    case TERM_SHARE:
        return 100 * value;
    case TERM_SHARE_MM:
        return us_units ? units_to_si(value, in) : 100 * value;
    case TERM_PER_HA:
        return us_units ? units_convert(value, ac, ha) : value;
    case TERM_PER_MM:
        return us_units ? units_to_si(units_convert(value, ac, ha), in) : value;
    case TERM_PER_M3:
        return us_units ? units_to_si(value, units_find("ac-in")) : value;
    case TERM_COUNT:
    case TERM_DAYS:
    case TERM_RATIO:
    case TERM_AMOUNT:
        break;
    }
    return value;
}

bool replay_term_again(const struct replay_term *term, bool us_units) {
    return us_units && term->kind == TERM_PER_M3 && term->us_label == NULL;
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

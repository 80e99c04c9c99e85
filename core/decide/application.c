#include "core/decide/application.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#define HOURS_MAX     10000.0
#define VOLUME_MAX_M3 1e13
#define FLOW_MIN_M3_H 0.001
#define FLOW_MAX_M3_H 1e6
#define TIMER_MIN_PCT 1.0

/* Sources. Efficiency: C. Brouwer, K. Prins, M. Heibloem, Irrigation scheduling, FAO Irrigation Water
 * Management Training Manual 4, 1989: surface 0.60, sprinkler 0.75, drip 0.90 (from memory). Pivot, linear
 * move and micro-sprinkler 0.85: common practice, no source. Wetted fraction: FAO-56 Table 20; the middle of
 * the range for drip (0.3 to 0.4) and for every furrow with narrow beds (0.6 to 1.0). Table 20 has no
 * micro-sprinkler: 0.5, common practice, no source. */
static const struct {
    const char *name;
    double efficiency, wetted_fraction;
    bool under_canopy;
} usual[SYSTEM_COUNT] = {
    [SYSTEM_CENTRE_PIVOT] = {"centre pivot", 0.85, 1.0, false},
    [SYSTEM_LINEAR_MOVE] = {"linear move", 0.85, 1.0, false},
    [SYSTEM_DRIP] = {"drip", 0.90, 0.35, true},
    [SYSTEM_MICRO_SPRINKLER] = {"micro-sprinkler", 0.85, 0.5, false},
    [SYSTEM_SOLID_SET] = {"solid set", 0.75, 1.0, false},
    [SYSTEM_HAND_MOVED] = {"hand-moved sprinkler", 0.75, 1.0, false},
    [SYSTEM_FURROW] = {"furrow", 0.60, 0.8, false},
    [SYSTEM_BORDER] = {"border", 0.60, 1.0, false},
    [SYSTEM_NONE] = {"none", 1.0, 1.0, false},
};

/* The members that are numbers, and their ranges. */
static const struct {
    const char *name;
    size_t offset;
    double low, high;
    bool optional;
} rule[] = {
    {"efficiency", offsetof(struct system, efficiency), 0.2, 1, false},
    {"area_m2", offsetof(struct system, area_m2), 1, 1e10, false},
    {"flow_m3_h", offsetof(struct system, flow_m3_h), FLOW_MIN_M3_H, FLOW_MAX_M3_H, true},
    {"hours_per_day", offsetof(struct system, hours_per_day), 0, 24, false},
    {"net_min_mm", offsetof(struct system, net_min_mm), 0, 1000, true},
    {"net_max_mm", offsetof(struct system, net_max_mm), 0.1, 1000, true},
    {"wetted_fraction", offsetof(struct system, wetted_fraction), 0.05, 1, false},
};

static bool known_kind(enum system_kind kind) {
    return (unsigned)kind < SYSTEM_COUNT;
}

static enum status check_number(double value, double low, double high) {
    if (!isfinite(value))
        return STATUS_NOT_FINITE;
    return value >= low && value <= high ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

const char *system_kind_name(enum system_kind kind) {
    return known_kind(kind) ? usual[kind].name : NULL;
}

enum system_kind system_kind_of(const char *name) {
    int kind = 0;
    while (kind < SYSTEM_COUNT && strcmp(name, usual[kind].name) != 0)
        kind++;
    return (enum system_kind)kind;
}

struct system system_default(enum system_kind kind) {
    enum system_kind row = known_kind(kind) ? kind : SYSTEM_NONE;
    return (struct system){
        .kind = kind,
        .efficiency = usual[row].efficiency,
        .area_m2 = NAN,
        .flow_m3_h = NAN,
        .hours_per_day = row == SYSTEM_NONE ? 0 : 24,
        .net_min_mm = NAN,
        .net_max_mm = NAN,
        .wetted_fraction = usual[row].wetted_fraction,
        .under_canopy = usual[row].under_canopy,
    };
}

static enum status at_fault(const char **member, const char *name, enum status status) {
    if (member != NULL)
        *member = name;
    return status;
}

enum status system_check(const struct system *system, const char **member) {
    if (!known_kind(system->kind))
        return at_fault(member, "kind", STATUS_OUT_OF_RANGE);
    if (system->kind == SYSTEM_NONE)
        return STATUS_OK;
    for (size_t i = 0; i < sizeof rule / sizeof rule[0]; i++) {
        double value;
        memcpy(&value, (const char *)system + rule[i].offset, sizeof value);
        if (isnan(value) && rule[i].optional)
            continue;
        if (isnan(value))
            return at_fault(member, rule[i].name, STATUS_MISSING);
        enum status status = check_number(value, rule[i].low, rule[i].high);
        if (status != STATUS_OK)
            return at_fault(member, rule[i].name, status);
    }
    /* A limit that is unset makes the comparison false. */
    if (system->net_min_mm > system->net_max_mm)
        return at_fault(member, "net_min_mm", STATUS_ORDER);
    return STATUS_OK;
}

/* A system that can water at all. */
static enum status check_working(const struct system *system) {
    enum status status = system_check(system, NULL);
    if (status == STATUS_OK && system->kind == SYSTEM_NONE)
        return STATUS_MISSING;
    return status;
}

enum status application_plan(const struct system *system, double net_mm, struct application *out) {
    enum status status = check_working(system);
    if (status == STATUS_OK)
        status = check_number(net_mm, 0, APPLICATION_DEPTH_MAX_MM);
    if (status != STATUS_OK)
        return status;
    struct application plan = {.net_mm = net_mm, .limited = net_mm > system->net_max_mm};
    if (plan.limited)
        plan.net_mm = system->net_max_mm;
    else if (net_mm > 0 && net_mm < system->net_min_mm)
        plan.net_mm = system->net_min_mm;
    plan.gross_mm = plan.net_mm / system->efficiency;
    plan.volume_m3 = plan.gross_mm / 1000 * system->area_m2;
    plan.hours = plan.volume_m3 / system->flow_m3_h;
    plan.days = system->hours_per_day > 0 ? plan.hours / system->hours_per_day : NAN;
    *out = plan;
    return STATUS_OK;
}

double application_gross_of_hours_mm(const struct system *system, double hours) {
    if (check_working(system) != STATUS_OK || check_number(hours, 0, HOURS_MAX) != STATUS_OK)
        return NAN;
    return 1000 * system->flow_m3_h * hours / system->area_m2;
}

double application_gross_of_volume_mm(const struct system *system, double volume_m3) {
    if (check_working(system) != STATUS_OK || check_number(volume_m3, 0, VOLUME_MAX_M3) != STATUS_OK)
        return NAN;
    return 1000 * volume_m3 / system->area_m2;
}

double application_net_of_gross_mm(const struct system *system, double gross_mm) {
    if (check_working(system) != STATUS_OK ||
        check_number(gross_mm, 0, APPLICATION_DEPTH_MAX_MM) != STATUS_OK)
        return NAN;
    return gross_mm * system->efficiency;
}

enum status application_pivot_pass(const struct system *system, double full_speed_hours, double gross_mm,
                                   struct application_pass *out) {
    enum status status = check_working(system);
    if (status == STATUS_OK && isnan(system->flow_m3_h))
        status = STATUS_MISSING;
    if (status == STATUS_OK)
        status = check_number(full_speed_hours, 0.1, 1000);
    if (status != STATUS_OK)
        return status;
    double full_speed_mm = application_gross_of_hours_mm(system, full_speed_hours);
    status = check_number(gross_mm, full_speed_mm,
                          fmin(full_speed_mm * 100 / TIMER_MIN_PCT, APPLICATION_DEPTH_MAX_MM));
    if (status != STATUS_OK)
        return status;
    out->hours = full_speed_hours * (gross_mm / full_speed_mm);
    out->timer_pct = 100 * (full_speed_mm / gross_mm);
    return STATUS_OK;
}

enum status application_pivot_rate_mm_h(double flow_m3_h, double length_m, double distance_m,
                                        double wetted_width_m, double *rate_mm_h) {
    enum status status = check_number(flow_m3_h, FLOW_MIN_M3_H, FLOW_MAX_M3_H);
    if (status == STATUS_OK)
        status = check_number(length_m, 0.1, 5000);
    if (status == STATUS_OK)
        status = check_number(wetted_width_m, 0.1, 5000);
    if (status == STATUS_OK)
        status = check_number(distance_m, 0, 5000);
    if (status == STATUS_OK && distance_m > length_m)
        status = STATUS_ORDER;
    if (status == STATUS_OK)
        *rate_mm_h = 1000 * 2 * distance_m * flow_m3_h / (length_m * length_m * wetted_width_m);
    return status;
}

enum status application_drip_hours(double gross_mm, double emitter_l_h, double emitter_spacing_m,
                                   double line_spacing_m, double *hours) {
    enum status status = check_number(gross_mm, 0, APPLICATION_DEPTH_MAX_MM);
    if (status == STATUS_OK)
        status = check_number(emitter_l_h, 0.1, 1000);
    if (status == STATUS_OK)
        status = check_number(emitter_spacing_m, 0.01, 20);
    if (status == STATUS_OK)
        status = check_number(line_spacing_m, 0.01, 20);
    if (status == STATUS_OK)
        *hours = gross_mm * emitter_spacing_m * line_spacing_m / emitter_l_h;
    return status;
}

enum status application_depth_before_runoff_mm(double intake_mm_h, double rate_mm_h, double storage_mm,
                                               double *depth_mm) {
    enum status status = check_number(intake_mm_h, 0, 10000);
    if (status == STATUS_OK)
        status = check_number(rate_mm_h, 0, 10000);
    if (status == STATUS_OK)
        status = check_number(storage_mm, 0, 1000);
    if (status != STATUS_OK)
        return status;
    if (intake_mm_h <= 0 || rate_mm_h <= 0)
        return STATUS_OUT_OF_RANGE;
    *depth_mm = rate_mm_h > intake_mm_h ? storage_mm * (rate_mm_h / (rate_mm_h - intake_mm_h)) : NAN;
    return STATUS_OK;
}

enum status application_with_leaching_mm(double net_mm, double leaching_requirement, double *out_mm) {
    enum status status = check_number(net_mm, 0, APPLICATION_DEPTH_MAX_MM);
    if (status == STATUS_OK)
        status = check_number(leaching_requirement, 0, 1);
    if (status != STATUS_OK)
        return status;
    double with_leaching_mm = net_mm / (1 - leaching_requirement);
    /* Also refuses LR = 1, where the quotient is infinite or, for no water at all, not a number. */
    if (!(with_leaching_mm <= APPLICATION_DEPTH_MAX_MM))
        return STATUS_OUT_OF_RANGE;
    *out_mm = with_leaching_mm;
    return STATUS_OK;
}

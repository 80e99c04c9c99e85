#include "core/decide/turns.h"

#include <math.h>

/* What is looked at, and where the first fault is written. */
struct check {
    struct turns_fault fault;
    enum status status;
};

static bool number(struct check *check, const char *member, double value, double least, double most) {
    if (check->status != STATUS_OK)
        return false;
    if (value >= least && value <= most)
        return true;
    check->fault.member = member;
    check->status = isnan(value) ? STATUS_MISSING : isinf(value) ? STATUS_NOT_FINITE : STATUS_OUT_OF_RANGE;
    return false;
}

/* NaN means "none". */
static void number_or_none(struct check *check, const char *member, double value, double least, double most) {
    if (!isnan(value))
        number(check, member, value, least, most);
}

static void ordered(struct check *check, const char *member, bool in_order) {
    if (check->status != STATUS_OK || in_order)
        return;
    check->fault.member = member;
    check->status = STATUS_ORDER;
}

static void present(struct check *check, const char *member, const void *list) {
    if (check->status != STATUS_OK || list != NULL)
        return;
    check->fault.member = member;
    check->status = STATUS_MISSING;
}

static void check_whole(struct check *check, const struct turns_problem *problem) {
    check->fault = (struct turns_fault){.list = "problem", .index = 0, .course = -1, .day = -1};
    number(check, "days", problem->days, 1, TURNS_DAYS_MAX);
    number(check, "first_hour", problem->first_hour, 0, 23);
    number(check, "courses", problem->courses, 1, TURNS_COURSES_MAX);
    double sum = 0;
    for (int c = 0; check->status == STATUS_OK && c < problem->courses; c++) {
        check->fault.course = c;
        number(check, "weight", problem->weight[c], 0, 1);
        sum += problem->weight[c];
    }
    ordered(check, "weight", fabs(sum - 1) <= 1e-6);
    if (check->status == STATUS_OK)
        check->fault.course = -1;
    number(check, "percolation_cost_m3", problem->percolation_cost_m3, 0, 1e6);
    number(check, "supply_count", problem->supply_count, 1, TURNS_SUPPLIES_MAX);
    number(check, "field_count", problem->field_count, 1, TURNS_FIELDS_MAX);
    number(check, "pin_count", problem->pin_count, 0, TURNS_PINS_MAX);
    number(check, "forbid_count", problem->forbid_count, 0, TURNS_FORBIDS_MAX);
    number(check, "stand_count", problem->stand_count, 0, (double)problem->field_count * problem->days);
    number(check, "effort.tries", (double)problem->effort.tries, 0, 1e12);
    number(check, "effort.rounds", problem->effort.rounds, 0, 1e6);
    number(check, "effort.nodes", (double)problem->effort.nodes, 0, 1e12);
    present(check, "supply", problem->supply);
    present(check, "field", problem->field);
    if (problem->pin_count > 0)
        present(check, "pin", problem->pin);
    if (problem->forbid_count > 0)
        present(check, "forbid", problem->forbid);
    if (problem->stand_count > 0)
        present(check, "stand", problem->stand);
}

static void check_supply(struct check *check, const struct turns_problem *problem, int index) {
    const struct turns_supply *supply = &problem->supply[index];
    check->fault = (struct turns_fault){.list = "supply", .index = index, .course = -1, .day = -1};
    number(check, "flow_m3_h", supply->flow_m3_h, 0.001, 1e6);
    number(check, "users", supply->users, 1, TURNS_FIELDS_MAX);
    number(check, "hours_per_day", supply->hours_per_day, 0, 24);
    for (int d = 0; check->status == STATUS_OK && d < problem->days; d++) {
        check->fault.day = d;
        number(check, "open", supply->open[d], 0, 0xFFFFFF);
    }
    if (check->status == STATUS_OK)
        check->fault.day = -1;
    number_or_none(check, "season_left_m3", supply->season_left_m3, 0, 1e12);
    number(check, "period_count", supply->period_count, 0, TURNS_PERIODS_MAX);
    for (int p = 0; check->status == STATUS_OK && p < supply->period_count; p++) {
        number(check, "period.first_day", supply->period[p].first_day, 0, 100000);
        number(check, "period.last_day", supply->period[p].last_day, 0, 100000);
        ordered(check, "period", supply->period[p].first_day <= supply->period[p].last_day);
        number(check, "period.left_m3", supply->period[p].left_m3, 0, 1e12);
    }
    number(check, "water_cost_m3", supply->water_cost_m3, 0, 1e6);
    number(check, "hour_cost", supply->hour_cost, 0, 1e6);
}

static void check_day(struct check *check, const struct turns_day *day) {
    number(check, "etc_mm", day->etc_mm, 0, 30);
    number(check, "inflow_mm", day->inflow_mm, -500, 2000);
    number(check, "taw_mm", day->taw_mm, 1e-9, 5000);
    number(check, "raw_mm", day->raw_mm, 0, 5000);
    ordered(check, "raw_mm", day->raw_mm < day->taw_mm);
    number(check, "allowed_mm", day->allowed_mm, 0, 5000);
    ordered(check, "allowed_mm", day->allowed_mm <= day->taw_mm);
    number(check, "ky", day->ky, 0, 3);
    number(check, "etc_stage_mm", day->etc_stage_mm, 1e-9, 1e5);
}

static void check_field(struct check *check, const struct turns_problem *problem, int index) {
    const struct turns_field *field = &problem->field[index];
    check->fault = (struct turns_fault){.list = "field", .index = index, .course = -1, .day = -1};
    number(check, "supply", field->supply, 0, problem->supply_count - 1);
    number(check, "area_m2", field->area_m2, 1, 1e10);
    number(check, "efficiency", field->efficiency, 0.2, 1);
    number(check, "flow_m3_h", field->flow_m3_h, 0.001, 1e6);
    number_or_none(check, "net_min_mm", field->net_min_mm, 0, 1000);
    number_or_none(check, "net_max_mm", field->net_max_mm, 1e-9, 1000);
    ordered(check, "net_min_mm",
            isnan(field->net_min_mm) || isnan(field->net_max_mm) || field->net_min_mm <= field->net_max_mm);
    number(check, "run_min_hours", field->run_min_hours, 1, TURNS_HOURS_MAX);
    number(check, "run_max_hours", field->run_max_hours, 1, TURNS_HOURS_MAX);
    ordered(check, "run_min_hours", field->run_min_hours <= field->run_max_hours);
    number(check, "setup_hours", field->setup_hours, 0, 24);
    number(check, "depletion_mm", field->depletion_mm, 0, 5000);
    number(check, "value_m2", field->value_m2, 0, 1e6);
    number_or_none(check, "end_worth_m3", field->end_worth_m3, 0, 1e6);
    present(check, "day", field->day);
    for (int c = 0; c < problem->courses; c++)
        for (int d = 0; check->status == STATUS_OK && d < problem->days; d++) {
            check->fault.course = c;
            check->fault.day = d;
            check_day(check, &field->day[c * problem->days + d]);
        }
}

static void check_pins(struct check *check, const struct turns_problem *problem, const char *list,
                       const struct turns_pin *pin, int count) {
    int hours = 24 * problem->days;
    for (int i = 0; check->status == STATUS_OK && i < count; i++) {
        check->fault = (struct turns_fault){.list = list, .index = i, .course = -1, .day = -1};
        number(check, "field", pin[i].field, 0, problem->field_count - 1);
        number(check, "start", pin[i].start, 0, hours - 1);
        number(check, "hours", pin[i].hours, 1, hours);
    }
}

static void check_marks(struct check *check, const struct turns_problem *problem) {
    check_pins(check, problem, "pin", problem->pin, problem->pin_count);
    check_pins(check, problem, "stand", problem->stand, problem->stand_count);
    for (int i = 0; check->status == STATUS_OK && i < problem->forbid_count; i++) {
        check->fault = (struct turns_fault){.list = "forbid", .index = i, .course = -1, .day = -1};
        number(check, "field", problem->forbid[i].field, 0, problem->field_count - 1);
        number(check, "first", problem->forbid[i].first, 0, TURNS_HOURS_MAX - 1);
        number(check, "last", problem->forbid[i].last, 1, TURNS_HOURS_MAX);
        ordered(check, "last", problem->forbid[i].first < problem->forbid[i].last);
    }
}

enum status turns_check(const struct turns_problem *problem, struct turns_fault *fault) {
    struct check check = {.status = STATUS_OK};
    if (problem == NULL) {
        check.fault = (struct turns_fault){.list = "problem", .member = "problem", .course = -1, .day = -1};
        check.status = STATUS_MISSING;
    } else {
        check_whole(&check, problem);
    }
    for (int s = 0; check.status == STATUS_OK && s < problem->supply_count; s++)
        check_supply(&check, problem, s);
    for (int i = 0; check.status == STATUS_OK && i < problem->field_count; i++)
        check_field(&check, problem, i);
    if (check.status == STATUS_OK)
        check_marks(&check, problem);
    if (check.status != STATUS_OK && fault != NULL)
        *fault = check.fault;
    return check.status;
}

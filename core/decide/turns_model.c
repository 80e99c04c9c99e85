#include "core/decide/turns_model.h"

#include <math.h>

uint32_t turns_open_hours(int first, int hours) {
    if (first < 0 || first > 23 || hours < 0 || hours > 24)
        return 0;
    uint32_t open = 0;
    for (int i = 0; i < hours; i++)
        open |= UINT32_C(1) << (first + i) % 24;
    return open;
}

static bool within(double value, double least, double most) {
    return value >= least && value <= most;
}

double turns_end_worth_m3(const struct turns_supply *supply, const struct turns_field *field) {
    if (!within(supply->flow_m3_h, 0.001, 1e6) || !within(supply->water_cost_m3, 0, 1e6) ||
        !within(supply->hour_cost, 0, 1e6) || !within(field->efficiency, 0.2, 1))
        return NAN;
    return (supply->water_cost_m3 + supply->hour_cost / supply->flow_m3_h) / field->efficiency;
}

double turns_field_hours(const struct turns_field *field, int *shortest, int *longest) {
    if (!within(field->flow_m3_h, 0.001, 1e6) || !within(field->efficiency, 0.2, 1) ||
        !within(field->area_m2, 1, 1e10))
        return NAN;
    double rate_mm_h = field->flow_m3_h * field->efficiency * 1000 / field->area_m2;
    double least = field->run_min_hours, most = field->run_max_hours;
    /* Rounding must not cost an hour: 12 mm at 1.2 mm/h are 10 hours. */
    if (!isnan(field->net_min_mm))
        least = fmax(least, ceil(field->net_min_mm / rate_mm_h - 1e-6));
    if (!isnan(field->net_max_mm))
        most = fmin(most, floor(field->net_max_mm / rate_mm_h + 1e-6));
    *shortest = (int)fmin(least, TURNS_HOURS_MAX + 1);
    *longest = (int)fmin(most, TURNS_HOURS_MAX);
    return rate_mm_h;
}

double turns_model_step(const struct turns_model_day *day, double *depletion_mm) {
    double dr = *depletion_mm, cut = 0;
    if (dr > day->taw_mm) {
        cut = dr - day->taw_mm;
        dr = day->taw_mm;
    }
    double room = day->taw_mm - dr;
    double eta = dr <= day->raw_mm ? day->etc_mm : day->ks_slope * room;
    eta = eta > room ? room : eta;
    dr += eta;
    *depletion_mm = dr < 0 ? 0 : dr;
    return day->loss_mm * (day->etc_mm - eta) + day->perc_mm * (day->inflow_mm + cut - eta);
}

double turns_model_tail(const struct turns_work *work, int field, const uint8_t *hours, int from,
                        const struct turns_prefix *prefix) {
    const struct turns_model_field *model = &work->field[field];
    int days = work->problem->days, total = 0;
    double money = prefix->money[from];
    for (int c = 0; c < work->problem->courses; c++) {
        double dr = prefix->depletion_mm[c][from];
        const struct turns_model_day *day = &model->day[c * days];
        for (int d = from; d < days; d++) {
            dr -= day[d].inflow_mm + model->rate_mm_h * hours[d];
            money += turns_model_step(&day[d], &dr);
        }
        money += model->end_mm[c] * dr;
    }
    for (int d = from; d < days; d++)
        total += hours[d];
    return money + model->hour_money * total;
}

void turns_model_prefix(const struct turns_work *work, int field, const uint8_t *hours,
                        struct turns_prefix *prefix) {
    const struct turns_model_field *model = &work->field[field];
    int days = work->problem->days;
    for (int d = 0; d < days; d++)
        prefix->money[d] = 0;
    for (int c = 0; c < work->problem->courses; c++) {
        double dr = model->start_mm[c];
        const struct turns_model_day *day = &model->day[c * days];
        for (int d = 0; d < days; d++) {
            prefix->depletion_mm[c][d] = dr;
            dr -= day[d].inflow_mm + model->rate_mm_h * hours[d];
            double money = turns_model_step(&day[d], &dr);
            if (d + 1 < days)
                prefix->money[d + 1] += money;
        }
    }
    prefix->money[0] = model->constant;
    for (int d = 1; d < days; d++)
        prefix->money[d] += prefix->money[d - 1] + model->hour_money * hours[d - 1];
}

double turns_model_cost(const struct turns_work *work, int field, const uint8_t *hours) {
    const struct turns_model_field *model = &work->field[field];
    struct turns_prefix start;
    start.money[0] = model->constant;
    for (int c = 0; c < work->problem->courses; c++)
        start.depletion_mm[c][0] = model->start_mm[c];
    return turns_model_tail(work, field, hours, 0, &start);
}

/* Percolation, mm, of one course, and its evenings' depletion added by weight (NULL: not wanted). */
static double percolation_mm(const struct turns_work *work, int field, int course, const uint8_t *hours,
                             double *missed_money, double *end_mm, double *evening_mm) {
    const struct turns_model_field *model = &work->field[field];
    int days = work->problem->days;
    double dr = model->start_mm[course], percolated = 0;
    for (int d = 0; d < days; d++) {
        const struct turns_model_day *day = &model->day[course * days + d];
        dr = fmin(dr - day->inflow_mm - model->rate_mm_h * hours[d], day->taw_mm);
        double ks = dr <= day->raw_mm ? 1 : (day->taw_mm - dr) / (day->taw_mm - day->raw_mm);
        double eta = fmin(ks * day->etc_mm, day->taw_mm - dr);
        *missed_money += day->loss_mm * (day->etc_mm - eta);
        percolated += fmax(-(dr + eta), 0);
        dr = fmax(dr + eta, 0);
        if (evening_mm != NULL)
            evening_mm[d] += work->problem->weight[course] * dr;
    }
    *end_mm = dr;
    return percolated;
}

struct turns_cost turns_model_parts(const struct turns_work *work, int field, const uint8_t *hours,
                                    double evening_mm[TURNS_DAYS_MAX]) {
    const struct turns_model_field *model = &work->field[field];
    const struct turns_supply *supply = &work->problem->supply[model->field->supply];
    static const uint8_t none[TURNS_DAYS_MAX];
    int total = 0;
    struct turns_cost cost = {0};
    for (int d = 0; d < TURNS_DAYS_MAX; d++)
        evening_mm[d] = d < work->problem->days ? 0 : NAN;
    for (int c = 0; c < work->problem->courses; c++) {
        double end_mm, unused = 0;
        double more_mm = -percolation_mm(work, field, c, none, &unused, &end_mm, NULL);
        more_mm += percolation_mm(work, field, c, hours, &cost.loss, &end_mm, evening_mm);
        double m3_of_mm = work->problem->weight[c] * model->field->area_m2 / 1000;
        cost.percolation += m3_of_mm * work->problem->percolation_cost_m3 * more_mm;
        cost.end += m3_of_mm * model->end_worth_m3 * end_mm;
    }
    for (int d = 0; d < work->problem->days; d++)
        total += hours[d];
    cost.water = total * model->field->flow_m3_h * supply->water_cost_m3;
    cost.total = cost.loss + cost.water + cost.percolation + cost.end;
    return cost;
}

double turns_model_allowed(const struct turns_work *work, int field, int day) {
    const struct turns_problem *problem = work->problem;
    double allowed = 0;
    for (int c = 0; c < problem->courses; c++)
        allowed += problem->weight[c] * problem->field[field].day[c * problem->days + day].allowed_mm;
    return allowed;
}

static void prepare_day(const struct turns_problem *problem, int field, int course, int d,
                        struct turns_model_day *out) {
    const struct turns_field *it = &problem->field[field];
    const struct turns_day *day = &it->day[course * problem->days + d];
    double weight = problem->weight[course];
    *out = (struct turns_model_day){
        .inflow_mm = day->inflow_mm,
        .etc_mm = day->etc_mm,
        .taw_mm = day->taw_mm,
        .raw_mm = day->raw_mm,
        .ks_slope = day->etc_mm / (day->taw_mm - day->raw_mm),
        .loss_mm = weight * it->value_m2 * it->area_m2 * day->ky / day->etc_stage_mm,
        .perc_mm = weight * problem->percolation_cost_m3 * it->area_m2 / 1000,
    };
}

/* Hours in which the field may not be watered. */
static void prepare_barred(struct turns_work *work, int field) {
    const struct turns_problem *problem = work->problem;
    struct turns_model_field *model = &work->field[field];
    for (int d = 0; d < TURNS_DAYS_MAX; d++)
        model->barred[d] = problem->field[field].dry_days >> d & 1 ? 0xFFFFFF : 0;
    for (int i = 0; i < problem->forbid_count; i++) {
        const struct turns_forbid *forbid = &problem->forbid[i];
        if (forbid->field != field)
            continue;
        for (int t = forbid->first; t < forbid->last && t < work->hours; t++)
            model->barred[t / 24] |= UINT32_C(1) << t % 24;
    }
}

/* The money of a field that no turn changes: percolation without turns, taken off, and the start's part. */
static double constant_money(const struct turns_work *work, int field) {
    static const uint8_t none[TURNS_DAYS_MAX];
    const struct turns_model_field *model = &work->field[field];
    double money = 0;
    for (int c = 0; c < work->problem->courses; c++) {
        double end_mm, unused = 0;
        double free_mm = percolation_mm(work, field, c, none, &unused, &end_mm, NULL);
        money -= model->day[c * work->problem->days].perc_mm * (free_mm + model->start_mm[c]);
    }
    return money;
}

static void prepare_field(struct turns_work *work, int field) {
    const struct turns_problem *problem = work->problem;
    const struct turns_field *it = &problem->field[field];
    const struct turns_supply *supply = &problem->supply[it->supply];
    struct turns_model_field *model = &work->field[field];
    model->field = it;
    model->rate_mm_h = turns_field_hours(it, &model->shortest, &model->longest);
    if (model->shortest > model->longest || it->flow_m3_h > supply->flow_m3_h * (1 + TURNS_SLACK))
        model->longest = 0;
    model->end_worth_m3 = isnan(it->end_worth_m3) ? turns_end_worth_m3(supply, it) : it->end_worth_m3;
    model->hour_money =
        it->flow_m3_h * (supply->water_cost_m3 + problem->percolation_cost_m3 * it->efficiency);
    for (int c = 0; c < problem->courses; c++) {
        for (int d = 0; d < problem->days; d++)
            prepare_day(problem, field, c, d, &model->day[c * problem->days + d]);
        const struct turns_model_day *first = &model->day[c * problem->days];
        model->start_mm[c] = fmin(it->depletion_mm, first->taw_mm);
        model->end_mm[c] = first->perc_mm + problem->weight[c] * model->end_worth_m3 * it->area_m2 / 1000;
    }
    for (int d = 0; d < TURNS_DAYS_MAX; d++)
        model->pinned[d] = 0;
    model->constant = constant_money(work, field);
    prepare_barred(work, field);
}

void turns_model_prepare(struct turns_work *work) {
    for (int i = 0; i < work->problem->field_count; i++)
        prepare_field(work, i);
}

/* The cheapest course of turns of one field at given prices, by labels: states of the field in the morning,
 * and on a day on which a turn ends, each reached at the least money. */
#include "core/decide/turns_labels.h"

#include <math.h>
#include <string.h>

/* Labels of a layer that are followed. */
#define KEPT 80
/* Hours on the first day of turns over midnight are taken as one where that makes the field richer by no more
 * than this depth. */
#define BIN_MM 0.5

size_t turns_price_size(void) {
    return TURNS_LAYERS * sizeof(struct turns_layer) + sizeof(struct turns_worths);
}

/* ---- water and days */

/* Hours of a turn, after all else of the day. */
static void soak(const struct turns_pricing *pricing, int hours, struct turns_label *label) {
    for (int c = 0; c < pricing->courses; c++)
        label->depletion_mm[c] -= pricing->model->rate_mm_h * hours;
}

/* The day's rain, pinned water and hours of a turn go in; pinned water is paid for elsewhere. */
static void pour(const struct turns_pricing *pricing, int day, int hours, struct turns_label *label) {
    const struct turns_model_day *it = &pricing->model->day[day];
    double water_mm = pricing->model->rate_mm_h * (hours + pricing->model->pinned[day]);
    for (int c = 0; c < pricing->courses; c++)
        label->depletion_mm[c] -= it[c * pricing->days].inflow_mm + water_mm;
}

static void close_day(const struct turns_pricing *pricing, int day, struct turns_label *label) {
    const struct turns_model_day *it = &pricing->model->day[day];
    for (int c = 0; c < pricing->courses; c++)
        label->money += turns_model_step(&it[c * pricing->days], &label->depletion_mm[c]);
}

/* Turns that start today, run over midnight, and have `low` to `high` hours today; `from` is today with all
 * other water in. */
struct over {
    int day, low, high, set_up;
    const struct turns_label *from;
};

/* Money of the hours on the first and the last day of a turn over midnight. */
static double ends_money(const struct turns_pricing *pricing, int day, int d, int first, int last) {
    const struct turns_reach *reach = pricing->reach;
    return pricing->hour[day] * first + pricing->place[day] * reach->held_first[day][first] +
           pricing->hour[d] * last + pricing->place[d] * reach->held_last[d][last];
}

/* Those of them that end on day d, on whose morning `between` hours have run since today's. Depletion on the
 * way is least with most hours today, and at the end with fewest (what was wetter earlier has used more): the
 * label takes the one from `early`, the other from `late`, and the price of the cheapest hours. */
static void end_on(struct turns_pricing *pricing, const struct over *over, int d, int between,
                   const struct turns_label *early, const struct turns_label *late) {
    int last = pricing->reach->last[d], longest = pricing->model->longest, step = pricing->stride;
    int fewest = turns_most(pricing->model->shortest, over->low + between + 1);
    int most = last > 0 ? turns_least(longest, over->high + between + last) : 0;
    for (int hours = fewest; hours <= most;
         hours = hours < most ? turns_least(hours + step, most) : hours + 1) {
        int fewest_first = turns_most(over->low, hours - between - last);
        int most_first = turns_least(over->high, hours - between - 1);
        int first = fewest_first;
        double least = ends_money(pricing, over->day, d, first, hours - between - first);
        for (int k = first + 1; k <= most_first; k++) {
            double money = ends_money(pricing, over->day, d, k, hours - between - k);
            first = money < least ? k : first;
            least = turns_lesser(money, least);
        }
        struct turns_label label = *late;
        label.money = early->money + least;
        pour(pricing, d, hours - between - over->low, &label);
        for (int c = 0; c < pricing->courses; c++) {
            /* Deeper above field capacity makes no difference by the evening. */
            double etc = pricing->model->day[c * pricing->days + d].etc_mm;
            label.depletion_mm[c] = turns_greater(label.depletion_mm[c], -etc);
        }
        label.used = (int16_t)(hours - between - most_first);
        label.span = (struct turns_span){.day = (uint8_t)over->day,
                                         .first = (uint8_t)first,
                                         .set_up = (uint8_t)over->set_up,
                                         .hours = (int16_t)hours};
        turns_labels_offer(pricing, turns_layer_ending(d, label.used), &label);
    }
}

/* What the field gains, at most, when turns with from fewest to most hours today are taken as one that is as
 * early as the longest and as wet later on as the shortest; `early` and `late` are their evenings. */
static double richer(const struct turns_pricing *pricing, int d, int apart, const struct turns_label *early,
                     const struct turns_label *late) {
    double money = late->money - early->money;
    for (int c = 0; c < pricing->courses; c++) {
        const struct turns_worth *worth = &pricing->worths->morning[d + 1][c];
        double dry_mm = early->depletion_mm[c] + apart * pricing->model->rate_mm_h;
        money += worth->slope[turns_labels_cell(pricing, dry_mm)] * (dry_mm - late->depletion_mm[c]);
    }
    return money;
}

/* The turns of `over` that end after day `after`. Where more than their price differs by the hours today,
 * they are looked at in smaller parts. */
static void go_on(struct turns_pricing *pricing, const struct over *over, int after) {
    struct turns_label early = *over->from, late = *over->from;
    int between = 0, apart = over->high - over->low;
    soak(pricing, over->high, &early);
    soak(pricing, over->low, &late);
    for (int d = over->day;;) {
        close_day(pricing, d, &early);
        close_day(pricing, d, &late);
        if (d >= after && apart > 0 &&
            richer(pricing, d, apart, &early, &late) > BIN_MM * pricing->mm_money) {
            int middle = over->low + apart / 2;
            go_on(pricing, &(struct over){over->day, over->low, middle, over->set_up, over->from}, d);
            go_on(pricing, &(struct over){over->day, middle + 1, over->high, over->set_up, over->from}, d);
            return;
        }
        if (++d == pricing->days)
            return;
        if (d > after)
            end_on(pricing, over, d, between, &early, &late);
        int full = pricing->reach->full[d];
        if (full < 0 || over->low + between + full >= pricing->model->longest)
            return;
        pour(pricing, d, full, &early);
        pour(pricing, d, full, &late);
        between += full;
        early.money += full * pricing->hour[d] + pricing->reach->held_full[d] * pricing->place[d];
    }
}

/* All that can be done from a label on the rest of its day. The day's rain is in where a turn has ended. */
static void expand(struct turns_pricing *pricing, int day, int number, int index, bool ended) {
    const struct turns_model_field *model = pricing->model;
    struct turns_label from = pricing->layer[number].label[index];
    int used = ended ? from.used : 0, step = pricing->stride;
    from.parent = number * TURNS_POOL + index;
    from.span.hours = 0;
    from.used = 0;
    if (!ended)
        pour(pricing, day, 0, &from);
    struct turns_label next = from;
    close_day(pricing, day, &next);
    turns_labels_offer(pricing, turns_layer_morning(day + 1), &next);
    int room = pricing->reach->most[day] - used;
    int most = turns_least(turns_least(pricing->reach->inside[day], room), model->longest);
    int setup_hours = model->field->setup_hours, cheapest = pricing->set_up[day];
    double money = from.money;
    from.money = money + pricing->place[cheapest] * setup_hours;
    for (int k = model->shortest; k <= most; k = k < most ? turns_least(k + step, most) : k + 1) {
        next = from;
        next.span = (struct turns_span){
            .day = (uint8_t)day, .first = (uint8_t)k, .set_up = (uint8_t)cheapest, .hours = (int16_t)k};
        next.money += pricing->hour[day] * k + pricing->place[day] * pricing->reach->held_inside[day][k];
        soak(pricing, k, &next);
        close_day(pricing, day, &next);
        turns_labels_offer(pricing, turns_layer_morning(day + 1), &next);
    }
    most = turns_least(turns_least(pricing->reach->first[day], room), model->longest - 1);
    int later = turns_least(pricing->reach->later[day], most);
    if (most > later)
        go_on(pricing, &(struct over){day, later + 1, most, cheapest, &from}, day);
    from.money = money + pricing->place[day] * setup_hours;
    if (later > 0)
        go_on(pricing, &(struct over){day, 1, later, day, &from}, day);
}

/* ---- the whole course */

/* The turns that led to a label. */
static void trace(const struct turns_pricing *pricing, int number, struct turns_column *column) {
    column->count = 0;
    while (number >= 0) {
        const struct turns_label *label = &pricing->layer[number / TURNS_POOL].label[number % TURNS_POOL];
        if (label->span.hours > 0)
            column->span[column->count++] = label->span;
        number = label->parent;
    }
}

static void set_prices(struct turns_pricing *pricing, int field, const struct turns_prices *prices) {
    for (int d = 0; d < pricing->days; d++) {
        pricing->hour[d] = pricing->model->hour_money + turns_price_hour(pricing->work, field, prices, d);
        pricing->place[d] = prices->place[d];
        pricing->set_up[d] = turns_price_setup_day(pricing->reach, prices, d);
    }
}

static void begin(struct turns_pricing *pricing) {
    struct turns_label label = {.parent = -1, .money = pricing->model->constant};
    turns_labels_worths(pricing);
    memcpy(label.depletion_mm, pricing->model->start_mm, sizeof label.depletion_mm);
    for (int d = 0; d < pricing->days; d++) {
        label.money += pricing->model->hour_money * pricing->model->pinned[d];
        turns_labels_clear(&pricing->layer[turns_layer_morning(d + 1)]);
        for (int third = 0; third < TURNS_THIRDS; third++)
            turns_labels_clear(&pricing->layer[turns_layer_ending(d, 8 * third + 1)]);
    }
    turns_labels_clear(&pricing->layer[turns_layer_morning(0)]);
    turns_labels_offer(pricing, turns_layer_morning(0), &label);
}

static void follow(struct turns_pricing *pricing, int day, int number, bool ended) {
    const struct turns_layer *layer = &pricing->layer[number];
    turns_labels_settle(pricing, number);
    for (int i = 0; i < layer->kept_count; i++)
        expand(pricing, day, number, layer->kept[i], ended);
}

double turns_price_field(const struct turns_work *work, int field, const struct turns_prices *prices,
                         const struct turns_reach *reach, int stride, struct turns_layer *layer,
                         struct turns_column *column) {
    struct turns_pricing pricing = {.work = work,
                                    .model = &work->field[field],
                                    .reach = reach,
                                    .layer = layer,
                                    .worths = (struct turns_worths *)(void *)&layer[TURNS_LAYERS],
                                    .courses = work->problem->courses,
                                    .days = work->problem->days,
                                    .stride = stride,
                                    .kept = stride > 1 ? KEPT / 4 : KEPT};
    set_prices(&pricing, field, prices);
    begin(&pricing);
    for (int d = 0; d < pricing.days; d++) {
        follow(&pricing, d, turns_layer_morning(d), false);
        for (int third = 0; third < TURNS_THIRDS; third++)
            follow(&pricing, d, turns_layer_ending(d, 8 * third + 1), true);
    }
    double best = INFINITY;
    int best_number = -1, last = turns_layer_morning(pricing.days);
    turns_labels_settle(&pricing, last);
    for (int i = 0; i < layer[last].kept_count; i++) {
        const struct turns_label *label = &layer[last].label[layer[last].kept[i]];
        double money = label->money;
        for (int c = 0; c < pricing.courses; c++)
            money += pricing.model->end_mm[c] * label->depletion_mm[c];
        if (money < best) {
            best = money;
            best_number = last * TURNS_POOL + layer[last].kept[i];
        }
    }
    column->field = field;
    trace(&pricing, best_number, column);
    return best;
}

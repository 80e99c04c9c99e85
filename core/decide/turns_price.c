/* The cheapest course of turns of one field at given prices, by labels: states of the field in the morning,
 * and on a day on which a turn ends, each reached at the least money. As money grows with depletion
 * (turns_model.h), a label that is both cheaper and wetter than another makes the other needless, and a label
 * with the least money and the least depletions of several may stand for all of them: the value found is then
 * too low, never too high, and stays a bound. */
#include "core/decide/turns_bound.h"

#include <math.h>
#include <string.h>

/* Depletions that fall into one of so many steps share a label. */
#define STEPS 4096
/* Steps that are looked at as one for the cheapest label among the wetter ones. */
#define CELL 32
/* Steps after its own in which a label may find a place, where courses of the weather differ. */
#define PROBES 6
/* Labels of a layer, and those of them that are followed. */
#define POOL 1024
#define KEPT 192
/* Net depth of the hours on the first day of turns over midnight that are always taken as one. */
#define BIN_MM 1.0
/* Mornings 0..days, then days on which a turn ends, by how many hours have run (thirds of a day). */
#define THIRDS 3
#define LAYERS ((THIRDS + 1) * TURNS_DAYS_MAX + 1)

struct turns_label {
    double depletion_mm[TURNS_COURSES_MAX];
    double money;
    int parent;             /* number of the label that it comes from, -1: the start */
    struct turns_span span; /* the turn in between; hours 0: none */
    int16_t used;           /* hours that have run today */
};

struct turns_layer {
    struct turns_label label[POOL];
    int16_t at[STEPS];              /* 1 + index of the label of a step; 0: none */
    int16_t cheapest[STEPS / CELL]; /* 1 + index of the cheapest label that is wetter than the cell; 0 */
    int16_t kept[KEPT];
    int count, kept_count;
};

size_t turns_price_size(void) {
    return (LAYERS + 1) * sizeof(struct turns_layer); /* the last one's labels are for packing others */
}

static int morning(int day) {
    return day;
}

static int ending(int day, int used) {
    return TURNS_DAYS_MAX + 1 + THIRDS * day + (used - 1) / 8;
}

struct pricing {
    const struct turns_work *work;
    const struct turns_model_field *model;
    const struct turns_reach *reach;
    struct turns_layer *layer;
    struct turns_label *spare; /* POOL of them */
    int courses, days, stride;
    int kept;                     /* labels followed of a layer */
    double steps_per_mm;          /* of the sum of the courses' depletions */
    double offset_mm;             /* of the first step, above field capacity */
    double hour[TURNS_DAYS_MAX];  /* money of an hour that runs */
    double start[TURNS_DAYS_MAX]; /* of a start */
};

static int least(int a, int b) {
    return a < b ? a : b;
}

static int most_of(int a, int b) {
    return a > b ? a : b;
}

/* One label for both, never worse for the field than either. */
static void merge(const struct pricing *pricing, struct turns_label *there, const struct turns_label *label) {
    double old[TURNS_COURSES_MAX];
    int16_t used = (int16_t)least(there->used, label->used);
    memcpy(old, there->depletion_mm, sizeof old);
    if (label->money < there->money)
        *there = *label;
    for (int c = 0; c < pricing->courses; c++)
        there->depletion_mm[c] = fmin(old[c], label->depletion_mm[c]);
    there->used = used;
}

/* True, and `a` knows the fewer hours of both, when `a` is as cheap and as wet as `b`. */
static bool covers(const struct pricing *pricing, struct turns_label *a, const struct turns_label *b) {
    if (a->money > b->money)
        return false;
    for (int c = 0; c < pricing->courses; c++)
        if (a->depletion_mm[c] > b->depletion_mm[c])
            return false;
    a->used = (int16_t)least(a->used, b->used);
    return true;
}

/* The labels that no other covers, from wet to dry, into `open`; returns how many. */
static int uncovered(const struct pricing *pricing, struct turns_layer *layer, int16_t open[POOL]) {
    int count = 0;
    for (int step = 0; step < STEPS && layer->count > 0; step++) {
        if (layer->at[step] == 0)
            continue;
        struct turns_label *label = &layer->label[layer->at[step] - 1];
        bool needless = false;
        for (int i = count - 1; i >= 0 && i >= count - 12 && !needless; i--)
            needless = covers(pricing, &layer->label[open[i]], label);
        if (!needless)
            open[count++] = (int16_t)(layer->at[step] - 1);
    }
    return count;
}

/* Merges neighbours of `open` until at most `most` are left; returns how many. Those go first whose money is
 * no further apart than that of neighbours in the mean, with some more for rounding: at least one pair is. */
static int thin(const struct pricing *pricing, struct turns_layer *layer, int16_t open[POOL], int count,
                int most) {
    while (count > most) {
        double apart = 0;
        for (int i = 0; i + 1 < count; i++)
            apart += fabs(layer->label[open[i + 1]].money - layer->label[open[i]].money);
        apart *= 1.001 / (count - 1);
        int kept = 0, spare = count - most;
        for (int i = 0; i < count; i++, kept++) {
            open[kept] = open[i];
            if (spare == 0 || i + 1 == count ||
                fabs(layer->label[open[i + 1]].money - layer->label[open[i]].money) > apart)
                continue;
            merge(pricing, &layer->label[open[kept]], &layer->label[open[++i]]);
            spare--;
        }
        count = kept;
    }
    return count;
}

static int step_of(const struct pricing *pricing, const struct turns_label *label) {
    double sum = pricing->offset_mm;
    for (int c = 0; c < pricing->courses; c++)
        sum += label->depletion_mm[c];
    return sum <= 0 ? 0 : least((int)(sum * pricing->steps_per_mm), STEPS - 1);
}

/* Labels of cells this wet and the wetter ones: the cheapest of them is in `cheapest`. */
static void note(struct turns_layer *layer, int step, int index) {
    double money = layer->label[index].money;
    for (int cell = step / CELL + 1; cell < STEPS / CELL; cell++) {
        int there = layer->cheapest[cell];
        if (there > 0 && layer->label[there - 1].money <= money)
            return;
        layer->cheapest[cell] = (int16_t)(index + 1);
    }
}

/* A label with its own place at or after its step, or merged with the one there. Returns false when the layer
 * is full. */
static bool store(const struct pricing *pricing, struct turns_layer *layer, int step,
                  const struct turns_label *label) {
    int last = pricing->courses == 1 ? step : least(step + PROBES, STEPS - 1);
    for (int at = step; at <= last; at++) {
        if (layer->at[at] == 0) {
            if (layer->count == POOL)
                return false;
            layer->label[layer->count] = *label;
            layer->at[at] = (int16_t)++layer->count;
            note(layer, at, layer->count - 1);
            return true;
        }
        struct turns_label *there = &layer->label[layer->at[at] - 1];
        if (covers(pricing, there, label))
            return true;
    }
    merge(pricing, &layer->label[layer->at[step] - 1], label);
    note(layer, step, layer->at[step] - 1);
    return true;
}

/* Makes room in a full layer. */
static void pack(const struct pricing *pricing, struct turns_layer *layer) {
    int16_t open[POOL];
    int count = thin(pricing, layer, open, uncovered(pricing, layer, open), POOL / 2);
    struct turns_label *spare = pricing->spare;
    for (int i = 0; i < count; i++)
        spare[i] = layer->label[open[i]];
    memset(layer->at, 0, sizeof layer->at);
    memset(layer->cheapest, 0, sizeof layer->cheapest);
    layer->count = 0;
    for (int i = 0; i < count; i++)
        store(pricing, layer, step_of(pricing, &spare[i]), &spare[i]);
}

static void offer(struct pricing *pricing, int number, const struct turns_label *label) {
    struct turns_layer *layer = &pricing->layer[number];
    int step = step_of(pricing, label), cheapest = layer->cheapest[step / CELL];
    if (cheapest > 0 && covers(pricing, &layer->label[cheapest - 1], label))
        return;
    if (!store(pricing, layer, step, label)) {
        pack(pricing, layer);
        store(pricing, layer, step, label);
    }
}

/* The labels to follow. */
static void settle(struct pricing *pricing, int number) {
    struct turns_layer *layer = &pricing->layer[number];
    int16_t open[POOL];
    layer->kept_count = thin(pricing, layer, open, uncovered(pricing, layer, open), pricing->kept);
    memcpy(layer->kept, open, (size_t)layer->kept_count * sizeof *open);
}

/* ---- water and days */

/* Hours of a turn, after all else of the day. */
static void soak(const struct pricing *pricing, int hours, struct turns_label *label) {
    for (int c = 0; c < pricing->courses; c++)
        label->depletion_mm[c] -= pricing->model->rate_mm_h * hours;
}

/* The day's rain, pinned water and hours of a turn go in; pinned water is paid for elsewhere. */
static void pour(const struct pricing *pricing, int day, int hours, struct turns_label *label) {
    const struct turns_model_day *it = &pricing->model->day[day];
    double water_mm = pricing->model->rate_mm_h * (hours + pricing->model->pinned[day]);
    for (int c = 0; c < pricing->courses; c++)
        label->depletion_mm[c] -= it[c * pricing->days].inflow_mm + water_mm;
}

static void close_day(const struct pricing *pricing, int day, struct turns_label *label) {
    const struct turns_model_day *it = &pricing->model->day[day];
    for (int c = 0; c < pricing->courses; c++)
        label->money += turns_model_step(&it[c * pricing->days], &label->depletion_mm[c]);
}

/* Turns that start today, run over midnight, and have `low` to `high` hours today; `from` is today with all
 * other water in. */
struct over {
    int day, low, high;
    const struct turns_label *from;
};

/* Those of them that end on day d, on whose morning `between` hours have run since today's. Depletion on the
 * way is least with most hours today, and at the end with fewest (what was wetter earlier has used more): the
 * label takes the one from `early`, the other from `late`, and the price of the cheapest hours. */
static void end_on(struct pricing *pricing, const struct over *over, int d, int between,
                   const struct turns_label *early, const struct turns_label *late) {
    int last = pricing->reach->last[d], longest = pricing->model->longest, step = pricing->stride;
    int fewest = most_of(pricing->model->shortest, over->low + between + 1);
    int most = last > 0 ? least(longest, over->high + between + last) : 0;
    bool today_cheaper = pricing->hour[over->day] < pricing->hour[d];
    for (int hours = fewest; hours <= most; hours = hours < most ? least(hours + step, most) : hours + 1) {
        int fewest_first = most_of(over->low, hours - between - last);
        int most_first = least(over->high, hours - between - 1);
        int first = today_cheaper ? most_first : fewest_first;
        struct turns_label label = *late;
        label.money =
            early->money + pricing->hour[over->day] * first + pricing->hour[d] * (hours - between - first);
        pour(pricing, d, hours - between - over->low, &label);
        for (int c = 0; c < pricing->courses; c++) {
            /* Deeper above field capacity makes no difference by the evening. */
            double etc = pricing->model->day[c * pricing->days + d].etc_mm;
            label.depletion_mm[c] = fmax(label.depletion_mm[c], -etc);
        }
        label.used = (int16_t)(hours - between - most_first);
        label.span =
            (struct turns_span){.day = (uint8_t)over->day, .first = (uint8_t)first, .hours = (int16_t)hours};
        offer(pricing, ending(d, label.used), &label);
    }
}

/* True when a few hours more or fewer today would not change what the field uses or loses on day d, whose
 * water is in: `early` holds its evening, `late` its day. */
static bool only_shifted(const struct pricing *pricing, int d, const struct turns_label *early,
                         const struct turns_label *late) {
    const struct turns_model_day *it = &pricing->model->day[d];
    for (int c = 0; c < pricing->courses; c++)
        if (early->depletion_mm[c] <= 0 || late->depletion_mm[c] > it[c * pricing->days].raw_mm)
            return false;
    return true;
}

/* The turns of `over` that end after day `after`. Where more than their price differs by the hours today,
 * they are looked at in smaller parts. */
static void go_on(struct pricing *pricing, const struct over *over, int after) {
    struct turns_label early = *over->from, late = *over->from;
    int between = 0, apart = over->high - over->low;
    soak(pricing, over->high, &early);
    soak(pricing, over->low, &late);
    for (int d = over->day;;) {
        struct turns_label before = late;
        close_day(pricing, d, &early);
        close_day(pricing, d, &late);
        if (d >= after && apart > 0 && apart * pricing->model->rate_mm_h > BIN_MM &&
            !only_shifted(pricing, d, &early, &before)) {
            int middle = over->low + apart / 2;
            go_on(pricing, &(struct over){over->day, over->low, middle, over->from}, d);
            go_on(pricing, &(struct over){over->day, middle + 1, over->high, over->from}, d);
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
        early.money += full * pricing->hour[d];
    }
}

/* All that can be done from a label on the rest of its day. The day's rain is in where a turn has ended. */
static void expand(struct pricing *pricing, int day, int number, int index, bool ended) {
    const struct turns_model_field *model = pricing->model;
    struct turns_label from = pricing->layer[number].label[index];
    int used = ended ? from.used : 0, step = pricing->stride;
    from.parent = number * POOL + index;
    from.span.hours = 0;
    from.used = 0;
    if (!ended)
        pour(pricing, day, 0, &from);
    struct turns_label next = from;
    close_day(pricing, day, &next);
    offer(pricing, morning(day + 1), &next);
    int room = pricing->reach->most[day] - used;
    int most = least(least(pricing->reach->inside[day], room), model->longest);
    from.money += pricing->start[day];
    for (int k = model->shortest; k <= most; k = k < most ? least(k + step, most) : k + 1) {
        next = from;
        next.span = (struct turns_span){.day = (uint8_t)day, .first = (uint8_t)k, .hours = (int16_t)k};
        next.money += pricing->hour[day] * k;
        soak(pricing, k, &next);
        close_day(pricing, day, &next);
        offer(pricing, morning(day + 1), &next);
    }
    most = least(least(pricing->reach->first[day], room), model->longest - 1);
    if (most > 0)
        go_on(pricing, &(struct over){day, 1, most, &from}, day);
}

/* ---- the whole course */

/* The turns that led to a label. */
static void trace(const struct pricing *pricing, int number, struct turns_column *column) {
    column->count = 0;
    while (number >= 0) {
        const struct turns_label *label = &pricing->layer[number / POOL].label[number % POOL];
        if (label->span.hours > 0 && column->count < TURNS_DAYS_MAX)
            column->span[column->count++] = label->span;
        number = label->parent;
    }
}

static void set_prices(struct pricing *pricing, int field, const struct turns_prices *prices) {
    for (int d = 0; d < pricing->days; d++) {
        pricing->hour[d] = pricing->model->hour_money + turns_price_hour(pricing->work, field, prices, d);
        pricing->start[d] = turns_price_setup(pricing->work, field, prices, pricing->reach, d);
    }
}

static void clear(struct turns_layer *layer) {
    memset(layer->at, 0, sizeof layer->at);
    memset(layer->cheapest, 0, sizeof layer->cheapest);
    layer->count = layer->kept_count = 0;
}

static void begin(struct pricing *pricing) {
    struct turns_label label = {.parent = -1, .money = pricing->model->constant};
    double deepest = 0;
    pricing->offset_mm = 0;
    for (int c = 0; c < pricing->courses; c++) {
        double taw = 0, etc = 0;
        for (int d = 0; d < pricing->days; d++) {
            taw = fmax(taw, pricing->model->day[c * pricing->days + d].taw_mm);
            etc = fmax(etc, pricing->model->day[c * pricing->days + d].etc_mm);
        }
        deepest += taw;
        pricing->offset_mm += etc;
        label.depletion_mm[c] = pricing->model->start_mm[c];
    }
    pricing->steps_per_mm = STEPS / (deepest + pricing->offset_mm);
    for (int d = 0; d < pricing->days; d++) {
        label.money += pricing->model->hour_money * pricing->model->pinned[d];
        clear(&pricing->layer[morning(d + 1)]);
        for (int third = 0; third < THIRDS; third++)
            clear(&pricing->layer[ending(d, 8 * third + 1)]);
    }
    clear(&pricing->layer[morning(0)]);
    offer(pricing, morning(0), &label);
}

static void follow(struct pricing *pricing, int day, int number, bool ended) {
    const struct turns_layer *layer = &pricing->layer[number];
    settle(pricing, number);
    for (int i = 0; i < layer->kept_count; i++)
        expand(pricing, day, number, layer->kept[i], ended);
}

double turns_price_field(const struct turns_work *work, int field, const struct turns_prices *prices,
                         const struct turns_reach *reach, int stride, struct turns_layer *layer,
                         struct turns_column *column) {
    struct pricing pricing = {.work = work,
                              .model = &work->field[field],
                              .reach = reach,
                              .layer = layer,
                              .spare = layer[LAYERS].label,
                              .courses = work->problem->courses,
                              .days = work->problem->days,
                              .stride = stride,
                              .kept = stride > 1 ? KEPT / 4 : KEPT};
    set_prices(&pricing, field, prices);
    begin(&pricing);
    for (int d = 0; d < pricing.days; d++) {
        follow(&pricing, d, morning(d), false);
        for (int third = 0; third < THIRDS; third++)
            follow(&pricing, d, ending(d, 8 * third + 1), true);
    }
    double best = INFINITY;
    int best_number = -1, last = morning(pricing.days);
    for (int i = 0; i < layer[last].count; i++) {
        const struct turns_label *label = &layer[last].label[i];
        double money = label->money;
        for (int c = 0; c < pricing.courses; c++)
            money += pricing.model->end_mm[c] * label->depletion_mm[c];
        if (money < best) {
            best = money;
            best_number = last * POOL + i;
        }
    }
    column->field = field;
    trace(&pricing, best_number, column);
    return best;
}

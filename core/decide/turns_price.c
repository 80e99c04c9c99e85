/* The cheapest course of turns of one field at given prices, by labels: states of the field in the morning,
 * and on a day on which a turn ends, each reached at the least money.
 *
 * What a label costs from there on grows with each course's depletion, by no more than a known `worth` does:
 * so a label a stands for another, b, at no loss when a's money, and what its depletions are worth more where
 * it is drier, is not above b's money. Where too many labels are left, a stands for b all the same and its
 * money is lowered by what is lacking: the value found is then too low, never too high, and stays a bound. */
#include "core/decide/turns_bound.h"

#include <math.h>
#include <string.h>

/* Labels of a layer: by what their depletion is worth in so many steps, a few in each. */
#define STEPS 256
#define SLOTS 12
#define POOL  (STEPS * SLOTS)
/* Labels of a layer that are followed, and how many of those before are looked at for one that stands for it.
 */
#define KEPT   64
#define WINDOW 8
/* Hours on the first day of turns over midnight are taken as one where that makes the field richer by no more
 * than this depth. */
#define BIN_MM 0.5
/* Mornings 0..days, then days on which a turn ends, by how many hours have run (thirds of a day). */
#define THIRDS 3
#define LAYERS ((THIRDS + 1) * TURNS_DAYS_MAX + 1)

/* The worth of depletion is a line over each of so many cells from CELLS_BELOW_MM above field capacity on. */
#define CELLS          96
#define CELLS_BELOW_MM 30.0

struct turns_label {
    double depletion_mm[TURNS_COURSES_MAX];
    double worth[TURNS_COURSES_MAX];
    double money;
    int parent;             /* number of the label that it comes from, -1: the start */
    struct turns_span span; /* the turn in between; hours 0: none */
    int16_t used;           /* hours that have run today */
};

struct turns_layer {
    struct turns_label label[POOL];
    uint8_t filled[STEPS]; /* slots of a step */
    int16_t kept[POOL];
    int kept_count;
    int leader; /* 1 + index of the label with the least money and worth; 0: none */
    double leader_money;
};

/* What depletion is worth in one course, in the morning or before the day's end: money for a mm in each cell,
 * and money up to the cell's begin. */
struct turns_worth {
    double slope[CELLS], sum[CELLS + 1];
};

struct worths {
    struct turns_worth morning[TURNS_DAYS_MAX + 1][TURNS_COURSES_MAX];
    struct turns_worth evening[TURNS_DAYS_MAX][TURNS_COURSES_MAX];
};

size_t turns_price_size(void) {
    return LAYERS * sizeof(struct turns_layer) + sizeof(struct worths);
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
    int courses, days, stride;
    int kept; /* labels followed of a layer */
    struct worths *worths;
    double cells_per_mm;
    double mm_money;              /* about what a mm of depletion in all courses is worth */
    double hour[TURNS_DAYS_MAX];  /* money of an hour that runs */
    double start[TURNS_DAYS_MAX]; /* of a start */
};

/* The worth of depletions in a layer, by course. */
static const struct turns_worth *worth_in(const struct pricing *pricing, int number) {
    if (number <= TURNS_DAYS_MAX)
        return pricing->worths->morning[number];
    return pricing->worths->evening[(number - TURNS_DAYS_MAX - 1) / THIRDS];
}

static int cell_of(const struct pricing *pricing, double depletion_mm) {
    double cell = (depletion_mm + CELLS_BELOW_MM) * pricing->cells_per_mm;
    return cell <= 0 ? 0 : cell >= CELLS ? CELLS - 1 : (int)cell;
}

/* Sets the label's worth; returns the sum over the courses, and that of the driest label. */
static double set_worth(const struct pricing *pricing, const struct turns_worth *worth,
                        struct turns_label *label, double *span) {
    double sum = *span = 0;
    for (int c = 0; c < pricing->courses; c++) {
        int cell = cell_of(pricing, label->depletion_mm[c]);
        double into_mm = label->depletion_mm[c] + CELLS_BELOW_MM - cell / pricing->cells_per_mm;
        label->worth[c] = worth[c].sum[cell] + worth[c].slope[cell] * into_mm;
        sum += label->worth[c];
        *span += worth[c].sum[CELLS];
    }
    return sum;
}

/* The money at which `a` would stand for `b` without loss, or less. */
static double stands_at(const struct pricing *pricing, const struct turns_label *a,
                        const struct turns_label *b) {
    double money = b->money;
    for (int c = 0; c < pricing->courses; c++) {
        double drier = a->worth[c] - b->worth[c];
        money -= drier > 0 ? drier : 0;
    }
    return money;
}

static void stand_for(struct turns_label *a, double money, int16_t used) {
    a->money = money < a->money ? money : a->money;
    a->used = used < a->used ? used : a->used;
}

/* Makes one label of two, the one that loses less: `there` becomes it. */
static void unite(const struct pricing *pricing, struct turns_label *there, const struct turns_label *label) {
    double old = stands_at(pricing, there, label), new = stands_at(pricing, label, there);
    int16_t used = there->used;
    if (there->money - old <= label->money - new) {
        stand_for(there, old, label->used);
    } else {
        *there = *label;
        stand_for(there, new, used);
    }
}

/* Into a free slot, unless a label there can stand for it, or it for one there, without loss; or, when no
 * slot is free, with the least. Returns the slot. */
static struct turns_label *store(const struct pricing *pricing, struct turns_layer *layer, int step,
                                 const struct turns_label *label) {
    struct turns_label *there = &layer->label[step * SLOTS], *nearest = there;
    double least_loss = INFINITY;
    for (int i = 0; i < layer->filled[step]; i++) {
        double loss = fmin(there[i].money - stands_at(pricing, &there[i], label),
                           label->money - stands_at(pricing, label, &there[i]));
        if (loss < least_loss) {
            least_loss = loss;
            nearest = &there[i];
        }
    }
    if (least_loss > 0 && layer->filled[step] < SLOTS) {
        nearest = &there[layer->filled[step]++];
        *nearest = *label;
    } else {
        unite(pricing, nearest, label);
    }
    return nearest;
}

static void offer(struct pricing *pricing, int number, struct turns_label *label) {
    struct turns_layer *layer = &pricing->layer[number];
    const struct turns_worth *worth = worth_in(pricing, number);
    double span, sum = set_worth(pricing, worth, label, &span);
    if (layer->leader > 0) {
        struct turns_label *leader = &layer->label[layer->leader - 1];
        if (stands_at(pricing, leader, label) >= leader->money) {
            leader->used = label->used < leader->used ? label->used : leader->used;
            return;
        }
    }
    int step = span > 0 && sum > 0 ? turns_least((int)(sqrt(sum / span) * STEPS), STEPS - 1) : 0;
    struct turns_label *stored = store(pricing, layer, step, label);
    double money = stored->money;
    for (int c = 0; c < pricing->courses; c++)
        money += stored->worth[c];
    if (layer->leader == 0 || money < layer->leader_money) {
        layer->leader = 1 + (int)(stored - layer->label);
        layer->leader_money = money;
    }
}

/* Goes through `kept` in its order and unites each label with one of the last few before it, where that
 * lowers money by no more than `loss` in all; returns how many are left. */
static int thin(const struct pricing *pricing, struct turns_layer *layer, int count, double loss) {
    double floor_money[WINDOW];
    int left = 0;
    for (int i = 0; i < count; i++) {
        struct turns_label *label = &layer->label[layer->kept[i]];
        double floor_here = label->money - loss;
        bool united = false;
        for (int j = left - 1; j >= 0 && j >= left - WINDOW && !united; j--) {
            struct turns_label *there = &layer->label[layer->kept[j]];
            double old = stands_at(pricing, there, label), new = stands_at(pricing, label, there);
            united = old >= floor_money[j % WINDOW];
            if (united) {
                stand_for(there, old, label->used);
            } else if (new >= floor_here) {
                stand_for(label, new, there->used);
                layer->kept[j] = layer->kept[i];
                floor_money[j % WINDOW] = floor_here;
                united = true;
            }
        }
        if (united)
            continue;
        floor_money[left % WINDOW] = floor_here;
        layer->kept[left++] = layer->kept[i];
    }
    return left;
}

/* The labels to follow. */
static void settle(struct pricing *pricing, int number) {
    struct turns_layer *layer = &pricing->layer[number];
    int count = 0;
    for (int step = 0; step < STEPS; step++)
        for (int i = 0; i < layer->filled[step]; i++)
            layer->kept[count++] = (int16_t)(step * SLOTS + i);
    count = thin(pricing, layer, count, 0);
    for (double loss = 0.01 * pricing->mm_money; count > pricing->kept; loss *= 2)
        count = thin(pricing, layer, count, loss);
    layer->kept_count = count;
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
    int fewest = turns_most(pricing->model->shortest, over->low + between + 1);
    int most = last > 0 ? turns_least(longest, over->high + between + last) : 0;
    bool today_cheaper = pricing->hour[over->day] < pricing->hour[d];
    for (int hours = fewest; hours <= most;
         hours = hours < most ? turns_least(hours + step, most) : hours + 1) {
        int fewest_first = turns_most(over->low, hours - between - last);
        int most_first = turns_least(over->high, hours - between - 1);
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

/* What the field gains, at most, when turns with from fewest to most hours today are taken as one that is as
 * early as the longest and as wet later on as the shortest; `early` and `late` are their evenings. */
static double richer(const struct pricing *pricing, int d, int apart, const struct turns_label *early,
                     const struct turns_label *late) {
    double money = late->money - early->money;
    for (int c = 0; c < pricing->courses; c++) {
        const struct turns_worth *worth = &pricing->worths->morning[d + 1][c];
        double dry_mm = early->depletion_mm[c] + apart * pricing->model->rate_mm_h;
        money += worth->slope[cell_of(pricing, dry_mm)] * (dry_mm - late->depletion_mm[c]);
    }
    return money;
}

/* The turns of `over` that end after day `after`. Where more than their price differs by the hours today,
 * they are looked at in smaller parts. */
static void go_on(struct pricing *pricing, const struct over *over, int after) {
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
    int most = turns_least(turns_least(pricing->reach->inside[day], room), model->longest);
    from.money += pricing->start[day];
    for (int k = model->shortest; k <= most; k = k < most ? turns_least(k + step, most) : k + 1) {
        next = from;
        next.span = (struct turns_span){.day = (uint8_t)day, .first = (uint8_t)k, .hours = (int16_t)k};
        next.money += pricing->hour[day] * k;
        soak(pricing, k, &next);
        close_day(pricing, day, &next);
        offer(pricing, morning(day + 1), &next);
    }
    most = turns_least(turns_least(pricing->reach->first[day], room), model->longest - 1);
    if (most > 0)
        go_on(pricing, &(struct over){day, 1, most, &from}, day);
}

/* ---- the whole course */

/* The turns that led to a label. */
static void trace(const struct pricing *pricing, int number, struct turns_column *column) {
    column->count = 0;
    while (number >= 0) {
        const struct turns_label *label = &pricing->layer[number / POOL].label[number % POOL];
        if (label->span.hours > 0)
            column->span[column->count++] = label->span;
        number = label->parent;
    }
}

static void set_prices(struct pricing *pricing, int field, const struct turns_prices *prices) {
    for (int d = 0; d < pricing->days; d++) {
        pricing->hour[d] = pricing->model->hour_money + turns_price_hour(pricing->work, field, prices, d);
        pricing->start[d] = turns_price_setup(pricing->work, field, prices, d);
    }
}

static void clear(struct turns_layer *layer) {
    memset(layer->filled, 0, sizeof layer->filled);
    layer->kept_count = layer->leader = 0;
}

static void sum_up(const struct pricing *pricing, struct turns_worth *worth) {
    worth->sum[0] = 0;
    for (int i = 0; i < CELLS; i++)
        worth->sum[i + 1] = worth->sum[i] + worth->slope[i] / pricing->cells_per_mm;
}

/* Before the end of day d: a mm more goes on into the next morning, is missed as ETa, or percolates. `next`
 * is the worth of that morning. Each cell counts as its dry end, where a mm is worth most. */
static void set_evening(struct pricing *pricing, int d, int course, const struct turns_worth *next,
                        struct turns_worth *worth) {
    const struct turns_model_day *day = &pricing->model->day[course * pricing->days + d];
    double missed = fmin(day->ks_slope, 1), stress_mm = fmin(day->raw_mm, day->taw_mm - day->etc_mm);
    for (int i = 0; i < CELLS; i++) {
        double dry_mm = (i + 1) / pricing->cells_per_mm - CELLS_BELOW_MM, evening_mm = dry_mm;
        turns_model_step(day, &evening_mm);
        double slope = dry_mm + day->etc_mm <= 0 ? 0 : next->slope[cell_of(pricing, evening_mm)];
        if (dry_mm > stress_mm)
            slope = fmax(slope, (1 - missed) * slope + missed * (day->loss_mm + day->perc_mm));
        worth->slope[i] = fmax(slope, i > 0 ? worth->slope[i - 1] : 0);
    }
}

/* In the morning: as before the day's end, with the water that comes whatever is done. */
static void set_morning(struct pricing *pricing, int d, int course, const struct turns_worth *evening,
                        struct turns_worth *worth) {
    const struct turns_model_field *model = pricing->model;
    double water_mm = model->day[course * pricing->days + d].inflow_mm + model->rate_mm_h * model->pinned[d];
    for (int i = 0; i < CELLS; i++) {
        double dry_mm = (i + 1) / pricing->cells_per_mm - CELLS_BELOW_MM;
        worth->slope[i] = evening->slope[cell_of(pricing, dry_mm - water_mm)];
    }
}

static void set_worths(struct pricing *pricing) {
    struct worths *worths = pricing->worths;
    double deepest = 0, most = 0;
    for (int i = 0; i < pricing->courses * pricing->days; i++)
        deepest = fmax(deepest, pricing->model->day[i].taw_mm);
    pricing->cells_per_mm = CELLS / (deepest + CELLS_BELOW_MM);
    pricing->mm_money = 0;
    for (int c = 0; c < pricing->courses; c++) {
        pricing->mm_money += pricing->model->end_mm[c];
        for (int i = 0; i < CELLS; i++)
            worths->morning[pricing->days][c].slope[i] = pricing->model->end_mm[c];
        sum_up(pricing, &worths->morning[pricing->days][c]);
        for (int d = pricing->days - 1; d >= 0; d--) {
            set_evening(pricing, d, c, &worths->morning[d + 1][c], &worths->evening[d][c]);
            set_morning(pricing, d, c, &worths->evening[d][c], &worths->morning[d][c]);
            sum_up(pricing, &worths->evening[d][c]);
            sum_up(pricing, &worths->morning[d][c]);
            most = fmax(most, worths->evening[d][c].sum[CELLS]);
        }
    }
    /* Where the end is worth nothing: 0 only when all is, and then the cheapest label stands for all. */
    pricing->mm_money = fmax(pricing->mm_money, 1e-3 * most / deepest);
}

static void begin(struct pricing *pricing) {
    struct turns_label label = {.parent = -1, .money = pricing->model->constant};
    set_worths(pricing);
    memcpy(label.depletion_mm, pricing->model->start_mm, sizeof label.depletion_mm);
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
                              .worths = (struct worths *)(void *)&layer[LAYERS],
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
    settle(&pricing, last);
    for (int i = 0; i < layer[last].kept_count; i++) {
        const struct turns_label *label = &layer[last].label[layer[last].kept[i]];
        double money = label->money;
        for (int c = 0; c < pricing.courses; c++)
            money += pricing.model->end_mm[c] * label->depletion_mm[c];
        if (money < best) {
            best = money;
            best_number = last * POOL + layer[last].kept[i];
        }
    }
    column->field = field;
    trace(&pricing, best_number, column);
    return best;
}

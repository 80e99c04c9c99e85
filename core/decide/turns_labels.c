/* Labels that stand for each other, and what depletion is worth from a day on.
 *
 * What a label costs from there on grows with each course's depletion, by no more than a known `worth` does:
 * so a label a stands for another, b, at no loss when a's money, and what its depletions are worth more where
 * it is drier, is not above b's money. Where too many labels are left, a stands for b all the same and its
 * money is lowered by what is lacking: the value found is then too low, never too high, and stays a bound. */
#include "core/decide/turns_labels.h"

#include <math.h>
#include <string.h>

/* Labels before one that are looked at for one that stands for it. */
#define WINDOW 8

/* The worth of depletions in a layer, by course. */
static const struct turns_worth *worth_in(const struct turns_pricing *pricing, int number) {
    if (number <= TURNS_DAYS_MAX)
        return pricing->worths->morning[number];
    return pricing->worths->evening[(number - TURNS_DAYS_MAX - 1) / TURNS_THIRDS];
}

/* Sets the label's worth; returns that of the driest label. */
static double set_worth(const struct turns_pricing *pricing, const struct turns_worth *worth,
                        struct turns_label *label) {
    double span = 0;
    label->worths = 0;
    for (int c = 0; c < pricing->courses; c++) {
        int cell = turns_labels_cell(pricing, label->depletion_mm[c]);
        double into_mm = label->depletion_mm[c] + TURNS_CELLS_BELOW_MM - cell / pricing->cells_per_mm;
        label->worth[c] = worth[c].sum[cell] + worth[c].slope[cell] * into_mm;
        label->worths += label->worth[c];
        span += worth[c].sum[TURNS_CELLS];
    }
    return span;
}

/* The money at which `a` would stand for `b` without loss, or less; *other: `b` for `a`. */
static double stands_at(const struct turns_pricing *pricing, const struct turns_label *a,
                        const struct turns_label *b, double *other) {
    double drier = 0;
    for (int c = 0; c < pricing->courses; c++) {
        double more = a->worth[c] - b->worth[c];
        drier += more > 0 ? more : 0;
    }
    *other = a->money - (drier - (a->worths - b->worths));
    return b->money - drier;
}

static void stand_for(struct turns_label *a, double money, int16_t used) {
    a->money = money < a->money ? money : a->money;
    a->used = used < a->used ? used : a->used;
}

/* Makes one label of two, the one that loses less: `there` becomes it. */
static void unite(const struct turns_pricing *pricing, struct turns_label *there,
                  const struct turns_label *label) {
    double new, old = stands_at(pricing, there, label, &new);
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
static struct turns_label *store(const struct turns_pricing *pricing, struct turns_layer *layer, int step,
                                 const struct turns_label *label) {
    struct turns_label *there = &layer->label[step * TURNS_SLOTS], *nearest = there;
    double least_loss = INFINITY;
    for (int i = 0; i < layer->filled[step] && least_loss > 0; i++) {
        double new, old = stands_at(pricing, &there[i], label, &new);
        double loss = turns_lesser(there[i].money - old, label->money - new);
        if (loss < least_loss) {
            least_loss = loss;
            nearest = &there[i];
        }
    }
    if (least_loss > 0 && layer->filled[step] < TURNS_SLOTS) {
        nearest = &there[layer->filled[step]++];
        *nearest = *label;
    } else {
        unite(pricing, nearest, label);
    }
    return nearest;
}

void turns_labels_offer(struct turns_pricing *pricing, int number, struct turns_label *label) {
    struct turns_layer *layer = &pricing->layer[number];
    double other, span = set_worth(pricing, worth_in(pricing, number), label);
    if (layer->leader > 0) {
        struct turns_label *leader = &layer->label[layer->leader - 1];
        if (stands_at(pricing, leader, label, &other) >= leader->money) {
            leader->used = label->used < leader->used ? label->used : leader->used;
            return;
        }
    }
    int step = span > 0 && label->worths > 0
                   ? turns_least((int)(sqrt(label->worths / span) * TURNS_STEPS), TURNS_STEPS - 1)
                   : 0;
    struct turns_label *stored = store(pricing, layer, step, label);
    if (layer->leader == 0 || stored->money + stored->worths < layer->leader_money) {
        layer->leader = 1 + (int)(stored - layer->label);
        layer->leader_money = stored->money + stored->worths;
    }
}

/* Goes through `kept` in its order and unites each label with one of the last few before it, where that
 * lowers money by no more than `loss` in all; returns how many are left. */
static int thin(const struct turns_pricing *pricing, struct turns_layer *layer, int count, double loss) {
    double floor_money[WINDOW];
    int left = 0;
    for (int i = 0; i < count; i++) {
        struct turns_label *label = &layer->label[layer->kept[i]];
        double floor_here = label->money - loss;
        bool united = false;
        for (int j = left - 1; j >= 0 && j >= left - WINDOW && !united; j--) {
            struct turns_label *there = &layer->label[layer->kept[j]];
            double new, old = stands_at(pricing, there, label, &new);
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
void turns_labels_settle(struct turns_pricing *pricing, int number) {
    struct turns_layer *layer = &pricing->layer[number];
    int count = 0;
    for (int step = 0; step < TURNS_STEPS; step++)
        for (int i = 0; i < layer->filled[step]; i++)
            layer->kept[count++] = (int16_t)(step * TURNS_SLOTS + i);
    count = thin(pricing, layer, count, 0);
    for (double loss = 0.01 * pricing->mm_money; count > pricing->kept; loss *= 2)
        count = thin(pricing, layer, count, loss);
    layer->kept_count = count;
}

void turns_labels_clear(struct turns_layer *layer) {
    memset(layer->filled, 0, sizeof layer->filled);
    layer->kept_count = layer->leader = 0;
}

/* ---- worth */

static void sum_up(const struct turns_pricing *pricing, struct turns_worth *worth) {
    worth->sum[0] = 0;
    for (int i = 0; i < TURNS_CELLS; i++)
        worth->sum[i + 1] = worth->sum[i] + worth->slope[i] / pricing->cells_per_mm;
}

/* Before the end of day d: a mm more goes on into the next morning, is missed as ETa, or percolates. `next`
 * is the worth of that morning. Each cell counts as its dry end, where a mm is worth most. */
static void set_evening(struct turns_pricing *pricing, int d, int course, const struct turns_worth *next,
                        struct turns_worth *worth) {
    const struct turns_model_day *day = &pricing->model->day[course * pricing->days + d];
    double missed = turns_lesser(day->ks_slope, 1),
           stress_mm = turns_lesser(day->raw_mm, day->taw_mm - day->etc_mm);
    for (int i = 0; i < TURNS_CELLS; i++) {
        double dry_mm = (i + 1) / pricing->cells_per_mm - TURNS_CELLS_BELOW_MM, evening_mm = dry_mm;
        turns_model_step(day, &evening_mm);
        double slope = dry_mm + day->etc_mm <= 0 ? 0 : next->slope[turns_labels_cell(pricing, evening_mm)];
        if (dry_mm > stress_mm)
            slope = turns_greater(slope, (1 - missed) * slope + missed * (day->loss_mm + day->perc_mm));
        worth->slope[i] = turns_greater(slope, i > 0 ? worth->slope[i - 1] : 0);
    }
}

/* In the morning: as before the day's end, with the water that comes whatever is done. */
static void set_morning(struct turns_pricing *pricing, int d, int course, const struct turns_worth *evening,
                        struct turns_worth *worth) {
    const struct turns_model_field *model = pricing->model;
    double water_mm = model->day[course * pricing->days + d].inflow_mm + model->rate_mm_h * model->pinned[d];
    for (int i = 0; i < TURNS_CELLS; i++) {
        double dry_mm = (i + 1) / pricing->cells_per_mm - TURNS_CELLS_BELOW_MM;
        worth->slope[i] = evening->slope[turns_labels_cell(pricing, dry_mm - water_mm)];
    }
}

void turns_labels_worths(struct turns_pricing *pricing) {
    struct turns_worths *worths = pricing->worths;
    double deepest = 0, most = 0;
    for (int i = 0; i < pricing->courses * pricing->days; i++)
        deepest = turns_greater(deepest, pricing->model->day[i].taw_mm);
    pricing->cells_per_mm = TURNS_CELLS / (deepest + TURNS_CELLS_BELOW_MM);
    pricing->mm_money = 0;
    for (int c = 0; c < pricing->courses; c++) {
        pricing->mm_money += pricing->model->end_mm[c];
        for (int i = 0; i < TURNS_CELLS; i++)
            worths->morning[pricing->days][c].slope[i] = pricing->model->end_mm[c];
        sum_up(pricing, &worths->morning[pricing->days][c]);
        for (int d = pricing->days - 1; d >= 0; d--) {
            set_evening(pricing, d, c, &worths->morning[d + 1][c], &worths->evening[d][c]);
            set_morning(pricing, d, c, &worths->evening[d][c], &worths->morning[d][c]);
            sum_up(pricing, &worths->evening[d][c]);
            sum_up(pricing, &worths->morning[d][c]);
            most = turns_greater(most, worths->evening[d][c].sum[TURNS_CELLS]);
        }
    }
    /* Where the end is worth nothing: 0 only when all is, and then the cheapest label stands for all. */
    pricing->mm_money = turns_greater(pricing->mm_money, 1e-3 * most / deepest);
}

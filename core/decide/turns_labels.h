/* Inside the pricing of turns: labels, their layers, and what depletion is worth. */
#ifndef WATERTURN_TURNS_LABELS_H
#define WATERTURN_TURNS_LABELS_H

#include "core/decide/turns_bound.h"

/* Labels of a layer: by what their depletion is worth in so many steps, a few in each. */
#define TURNS_STEPS 256
#define TURNS_SLOTS 31
#define TURNS_POOL  (TURNS_STEPS * TURNS_SLOTS)
/* Mornings 0..days, then days on which a turn ends, by how many hours have run (thirds of a day). */
#define TURNS_THIRDS 3
#define TURNS_LAYERS ((TURNS_THIRDS + 1) * TURNS_DAYS_MAX + 1)

/* The worth of depletion is a line over each of so many cells from TURNS_CELLS_BELOW_MM above field capacity
 * on. */
#define TURNS_CELLS          96
#define TURNS_CELLS_BELOW_MM 30.0

struct turns_label {
    double depletion_mm[TURNS_COURSES_MAX];
    double worth[TURNS_COURSES_MAX], worths; /* and their sum */
    double money;
    int parent;             /* number of the label that it comes from, -1: the start */
    struct turns_span span; /* the turn in between; hours 0: none */
    int16_t used;           /* hours that have run today */
};

struct turns_layer {
    struct turns_label label[TURNS_POOL];
    uint8_t filled[TURNS_STEPS]; /* slots of a step */
    int16_t kept[TURNS_POOL];
    int kept_count;
    int leader; /* 1 + index of the label with the least money and worth; 0: none */
    double leader_money;
};

/* What depletion is worth in one course, in the morning or before the day's end: money for a mm in each cell,
 * and money up to the cell's begin. */
struct turns_worth {
    double slope[TURNS_CELLS], sum[TURNS_CELLS + 1];
};

struct turns_worths {
    struct turns_worth morning[TURNS_DAYS_MAX + 1][TURNS_COURSES_MAX];
    struct turns_worth evening[TURNS_DAYS_MAX][TURNS_COURSES_MAX];
};

struct turns_pricing {
    const struct turns_work *work;
    const struct turns_model_field *model;
    const struct turns_reach *reach;
    struct turns_layer *layer;
    int courses, days, stride;
    int kept; /* labels followed of a layer */
    struct turns_worths *worths;
    double cells_per_mm;
    double mm_money;              /* about what a mm of depletion in all courses is worth */
    double hour[TURNS_DAYS_MAX];  /* money of an hour that runs */
    double place[TURNS_DAYS_MAX]; /* of an hour of a place */
    int set_up[TURNS_DAYS_MAX];   /* day whose places set-ups of turns that start on the day take */
};

static inline int turns_layer_morning(int day) {
    return day;
}

static inline int turns_layer_ending(int day, int used) {
    return TURNS_DAYS_MAX + 1 + TURNS_THIRDS * day + (used - 1) / 8;
}

static inline int turns_labels_cell(const struct turns_pricing *pricing, double depletion_mm) {
    double cell = (depletion_mm + TURNS_CELLS_BELOW_MM) * pricing->cells_per_mm;
    return cell <= 0 ? 0 : cell >= TURNS_CELLS ? TURNS_CELLS - 1 : (int)cell;
}

/* Takes the layer's labels away. */
void turns_labels_clear(struct turns_layer *layer);
/* Puts a label into a layer, or into one there that stands for it; its worth is set. */
void turns_labels_offer(struct turns_pricing *pricing, int number, struct turns_label *label);
/* Chooses the labels of a layer that are followed. */
void turns_labels_settle(struct turns_pricing *pricing, int number);
/* What depletion is worth on each day, and pricing->mm_money. */
void turns_labels_worths(struct turns_pricing *pricing);

#endif

/* Inside the turns: prices, and the bound that they give. */
#ifndef WATERTURN_TURNS_BOUND_H
#define WATERTURN_TURNS_BOUND_H

#include "core/decide/turns_model.h"

static inline int turns_least(int a, int b) {
    return a < b ? a : b;
}

static inline int turns_most(int a, int b) {
    return a > b ? a : b;
}

/* Of two that are numbers: calls of fmin() and fmax() would take a tenth of the time. */
static inline double turns_lesser(double a, double b) {
    return a < b ? a : b;
}

static inline double turns_greater(double a, double b) {
    return a > b ? a : b;
}

/* One turn as the bound sees it: by days. */
struct turns_span {
    uint8_t day;    /* it starts on */
    uint8_t first;  /* hours on that day */
    uint8_t set_up; /* day whose places the set-up takes */
    int16_t hours;
};

/* A course of turns of one field. */
struct turns_column {
    int field, count;
    struct turns_span span[TURNS_DAYS_MAX];
};

/* Prices by day for one supply, all 0 or more. */
struct turns_prices {
    double volume[TURNS_DAYS_MAX];            /* of a m3 of the flow, money */
    double run[TURNS_DAYS_MAX];               /* of an hour of one of the turns that can run at once */
    double place[TURNS_DAYS_MAX];             /* of an hour of a place, set-up too */
    double season, period[TURNS_PERIODS_MAX]; /* of a m3 of the allotments */
};

/* What a field can do on each day. */
struct turns_reach {
    int most[TURNS_DAYS_MAX];   /* hours on a day, in all */
    int inside[TURNS_DAYS_MAX]; /* of a turn inside the day */
    int first[TURNS_DAYS_MAX];  /* of a turn that goes on after midnight; 0: none can */
    int last[TURNS_DAYS_MAX];   /* of a turn that came over midnight */
    int full[TURNS_DAYS_MAX];   /* of a turn that came and goes on; -1: none can */
    /* Closed hours of the day's places that a turn holds surely, by its hours on the day */
    uint8_t held_inside[TURNS_DAYS_MAX][25], held_first[TURNS_DAYS_MAX][25], held_last[TURNS_DAYS_MAX][25];
    uint8_t held_full[TURNS_DAYS_MAX];
    bool before[TURNS_DAYS_MAX]; /* a set-up can take places of the day before */
    int later[TURNS_DAYS_MAX];   /* a turn over midnight of no more hours has its set-up on the day */
};

struct turns_layer; /* of turns_labels.h */
size_t turns_price_size(void);

/* Closed hours right before hour t, which is open, in which `setup` hours may lie. Those before midnight
 * count for the day on which the supply opens. */
int turns_closed_before(const struct turns_work *work, int t, int setup);

/* `setup`: the longest set-up of the supply's fields. */
void turns_price_reach(const struct turns_work *work, int field, int setup, struct turns_reach *reach);

/* The cheapest course of turns of a field at these prices, pumping left out. The value returned is never
 * above what any course costs that keeps the field's own limits. `stride` above 1 looks only at every so many
 * hours: quicker, and the value is then no bound. */
double turns_price_field(const struct turns_work *work, int field, const struct turns_prices *prices,
                         const struct turns_reach *reach, int stride, struct turns_layer *layer,
                         struct turns_column *column);

/* Hours by day of a column, pinned ones left out, and closed hours of places that it holds. */
void turns_column_hours(const struct turns_reach *reach, const struct turns_column *column,
                        uint8_t hours[TURNS_DAYS_MAX], uint8_t held[TURNS_DAYS_MAX]);
/* The day on which places for the set-up of a turn that starts on `day` are cheapest. */
int turns_price_setup_day(const struct turns_reach *reach, const struct turns_prices *prices, int day);

/* The most turns of the work's supply that can run at once, by its places and flow. */
int turns_bound_at_once(const struct turns_work *work);

/* Fields of a supply that the proving search takes at most. */
#define TURNS_EXACT_FIELDS 8

/* What the fields of a supply, in their order, cost at the least: without prices, and at the best prices of
 * the last turns_bound_run(), to which the supply's own part belongs. */
struct turns_floors {
    double free[TURNS_EXACT_FIELDS], priced[TURNS_EXACT_FIELDS];
    double hour_price[TURNS_EXACT_FIELDS][TURNS_DAYS_MAX]; /* of an hour that the field runs on a day */
    double start_price[TURNS_EXACT_FIELDS][TURNS_DAYS_MAX];
    double supply_part;
};
void turns_bound_floors(const struct turns_work *work, struct turns_floors *floors);

/* The price of an hour that a field runs on a day, beyond its own money. */
double turns_price_hour(const struct turns_work *work, int field, const struct turns_prices *prices, int day);

#endif

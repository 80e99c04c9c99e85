/* Settings of a season by name, as numbers: what a fit moves and a sweep varies. */
#ifndef WATERTURN_PARAMETER_H
#define WATERTURN_PARAMETER_H

#include "daemon/farm/quantity.h"
#include "daemon/replay/season_case.h"

enum parameter {
    PARAMETER_FIELD_CAPACITY, /* m3/m3, of the upper layer; deeper ones move along */
    PARAMETER_WILTING_POINT,  /* the same */
    PARAMETER_ROOT_DEPTH,     /* greatest, m */
    PARAMETER_KCB_MID,
    PARAMETER_DEPLETION_FRACTION, /* p */
    PARAMETER_START_DEPLETION,    /* share */
    PARAMETER_ALLOWED_DEPLETION,  /* share of TAW, in all stages */
    PARAMETER_CURVE_NUMBER,
    PARAMETER_EFFICIENCY, /* of the system; recorded gross depths keep theirs */
    PARAMETER_SHARE,      /* of the depths that are given */
    PARAMETER_TRIGGER,
    PARAMETER_REFILL,
    PARAMETER_COUNT
};

struct parameter_row {
    const char *name, *key; /* "field_capacity"; where it stands in the farm file, in words */
    enum quantity_kind quantity;
    double low, high;       /* what it may ever be */
    double reach, prior_sd; /* for a fit: bounds this far on either side of the present value, and how sure
                               that is. Our own choices (common practice, no source). NaN: not for fits */
};

extern const struct parameter_row parameter_rows[PARAMETER_COUNT];

/* PARAMETER_COUNT: none of that name. */
enum parameter parameter_named(const char *name);

/* A copy of a season's settings that may be changed; its inputs are shared. */
struct season_variant {
    struct season_setup setup;
    struct system system;
    struct watering_rule rule;
};

struct season_variant season_variant_of(const struct season_case *season);
double parameter_get(const struct season_variant *variant, enum parameter parameter);
/* Evaporable water of the surface keeps its proportion to what the soil holds. What comes out need not hold
 * together: season_begin() says. */
void parameter_set(struct season_variant *variant, enum parameter parameter, double value);

/* watering_run() of a season's inputs with a variant of its settings; `denied` may be NULL. */
enum status season_variant_run(const struct season_case *season, const struct season_variant *variant,
                               struct season_day *day, int *days, struct budget *budget,
                               struct watering_denied *denied);

#endif

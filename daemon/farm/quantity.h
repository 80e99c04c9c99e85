/* Quantities as people write them ("0.9 in", "130 ac", "85 %") to the units of core/, with the words for what
 * was expected. Used by the farm file and by forms. */
#ifndef WATERTURN_QUANTITY_H
#define WATERTURN_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>

#include "core/base/status.h"
#include "core/base/units.h"

enum quantity_kind {
    QUANTITY_NUMBER,       /* without a unit */
    QUANTITY_DEPTH,        /* of water, mm */
    QUANTITY_LENGTH,       /* m */
    QUANTITY_AREA,         /* m2 */
    QUANTITY_VOLUME,       /* m3 */
    QUANTITY_FLOW,         /* m3/h */
    QUANTITY_RATE,         /* mm/h */
    QUANTITY_HOURS,        /* h; a bare number is hours, since every name of such a value says so */
    QUANTITY_TEMPERATURE,  /* degC */
    QUANTITY_DIFFERENCE,   /* of two temperatures, degC */
    QUANTITY_CONDUCTIVITY, /* dS/m */
    QUANTITY_SPEED,        /* m/s */
    QUANTITY_SHARE,        /* 0..1, written "85 %" or 0.85 */
    QUANTITY_PERCENT,      /* 0..100, written "85 %" or 0.85 */
    QUANTITY_PER_AREA,     /* an amount for each hectare; that for an acre is written "40 /ac" */
    QUANTITY_PER_VOLUME,   /* an amount for each m3, "12 /ac-in" */
    QUANTITY_KIND_COUNT
};

struct quantity {
    double value;            /* in the unit of core/ */
    const struct unit *unit; /* as written; NULL: a bare number */
};

/* What a value must lie in, in the unit of core/; `max` INFINITY: no limit. */
struct quantity_limits {
    double min, max;
    bool above; /* min itself is too little */
};

/* Long enough for every sentence from here. */
#define QUANTITY_WORDS_SIZE 160

/* Reads a number and its unit. STATUS_REFUSED: `expected` (QUANTITY_WORDS_SIZE bytes) holds what would have
 * been right, as `an area with its unit, as "52 ha"`, and `out` is not written. */
enum status quantity_read(const char *text, enum quantity_kind kind, struct quantity *out, char *expected);

/* The same for a bare number. */
enum status quantity_of_number(double number, enum quantity_kind kind, struct quantity *out, char *expected);

/* STATUS_REFUSED outside the limits: `expected` says them in the unit that was written: "more than 0 ha". */
enum status quantity_within(const struct quantity *quantity, enum quantity_kind kind,
                            const struct quantity_limits *limits, char *expected);

/* The same in parts, for other languages: the limits, "0.5 ha", and which of them count. */
enum quantity_bound { QUANTITY_LEAST, QUANTITY_MORE, QUANTITY_ABOVE, QUANTITY_RANGE };
struct quantity_bounds {
    char low[40], high[40];
    const char *hint; /* how else it may be written; "": nothing */
};
enum quantity_bound quantity_say_bounds(const struct quantity *quantity, enum quantity_kind kind,
                                        const struct quantity_limits *limits, struct quantity_bounds *out);

/* `an area with its unit, as "52 ha"`. */
void quantity_expected(enum quantity_kind kind, char *expected);

/* From the unit of core/ to another one of the kind. */
double quantity_in(double value, enum quantity_kind kind, const struct unit *unit);
/* What stands before the symbol of a unit: "/" of an amount for each of it, else "". */
const char *quantity_sign(enum quantity_kind kind);

/* Writes a value in the unit of core/ so that quantity_read() gives the same bits again, in few digits: `52
 * m2`. *bare: it is a plain number and wants no quotes. `out` has QUANTITY_WORDS_SIZE bytes. */
void quantity_write(double value, enum quantity_kind kind, char *out, bool *bare);

#endif

/* What is wrong with a farm, where, and what would be right: names that are missing or given twice,
 * references to what is not there, plantings and records that contradict each other, values that do not hold
 * together. */
#ifndef WATERTURN_CHECK_H
#define WATERTURN_CHECK_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/base/problem.h"
#include "daemon/farm/farm.h"

enum check_list {
    LIST_STATIONS,
    LIST_SOURCES,
    LIST_SOILS,
    LIST_SUPPLIES,
    LIST_FIELDS,
    LIST_PLANTINGS,
    LIST_TURNS,
    LIST_RECORDS,
    LIST_TRIALS,
    LIST_COUNT
};

/* "stations", ...: the keys of the farm file. */
const char *check_list_name(enum check_list list);

/* Where the value of a key of the index-th entry stands; `key` may go deeper ("stage_dates.mid"). */
struct check_place {
    const char *file; /* NULL: none */
    int line, column; /* 0: not known */
};
typedef struct check_place check_where(const void *context, enum check_list list, size_t index,
                                       const char *key);

/* Checks a whole farm: both of those below. `where` (may be NULL) tells the places. STATUS_REFUSED when
 * anything was found. */
enum status check_farm(const struct farm *farm, check_where *where, const void *context,
                       struct problems *problems);
/* Names, references, dates: safe also on entries that are only half filled. */
enum status check_relations(const struct farm *farm, check_where *where, const void *context,
                            struct problems *problems);
/* Values that do not hold together, of a farm without faults in its relations. */
enum status check_values(const struct farm *farm, check_where *where, const void *context,
                         struct problems *problems);

/* Whether one more record fits the farm: its field, kind, date, stage; not its amount. For forms: `record`
 * need not be in the farm, and the messages tell by themselves what is wrong. */
enum status check_record(const struct farm *farm, const struct farm_record *record,
                         struct problems *problems);

/* ---- names ---- */

/* The names of an array of structs that begin with their name, sorted. */
struct check_names {
    const char **name;
    size_t count;
    bool partial; /* some entry has no name */
};

/* STATUS_NO_MEMORY. */
enum status check_names_make(struct check_names *names, const void *array, size_t count, size_t stride);
void check_names_free(struct check_names *names);
/* The name as it stands in its struct, which it begins; NULL: none. */
const char *check_names_find(const struct check_names *names, const char *name);
/* The nearest one to a mistyped name; NULL when none is near. */
const char *check_names_nearest(const struct check_names *names, const char *name);

#endif

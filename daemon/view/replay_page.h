/* The Replay page: a season of a field beside what might have been. */
#ifndef WATERTURN_REPLAY_PAGE_H
#define WATERTURN_REPLAY_PAGE_H

#include "daemon/farm/quantity.h"
#include "daemon/view/book_form.h"
#include "daemon/view/replay.h"
#include "daemon/view/view.h"

#define REPLAY_WHAT_MAX 3

/* A thing that may have been otherwise: the words replay.set.NAME, and settings as a command line has them.
 */
struct replay_set {
    const char *name;
    const char
        *settings; /* with holes {planting}, {soil}, {supply} and {value}; NULL: the value is settings */
    bool date;     /* the value is one, else a number */
    enum quantity_kind kind;
    const char *unit[2]; /* of a bare number, metric and US; NULL: none */
    const char *example[2];
};
/* NULL past the last. */
const struct replay_set *replay_set_at(size_t index);

/* What the visitor filled in. */
struct replay_wish {
    char field[FARM_NAME_SIZE]; /* "": nothing asked yet */
    bool rainfed, automatic;
    const struct replay_set *set[REPLAY_WHAT_MAX];
    char value[REPLAY_WHAT_MAX][SCENARIO_NAME_SIZE]; /* as settings have it; "": none */
    char what[REPLAY_WHAT_MAX][SCENARIO_NAME_SIZE];  /* the settings, once the farm is known; "": none */
    char money[FARM_TEXT_SIZE];                      /* settings too */
};

struct replay_answer {
    const char *query;           /* the visitor's own, for links to the same in other forms */
    const struct replay *replay; /* NULL: not computed */
    const cJSON *made;           /* how; NULL as above */
    const char *problem;         /* NULL: all is well, or what is not stands beside its input */
};

/* The form, and under it the scenarios side by side. `form` has what was written, and the inputs of worth and
 * cost. */
cJSON *view_replay_page(const struct view_context *context, const struct field_morning *mornings,
                        size_t count, const struct form_page *form, const struct replay_wish *wish,
                        const struct replay_answer *answer);

#endif

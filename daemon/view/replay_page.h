/* The Replay page: a season of a field beside what might have been. */
#ifndef WATERTURN_REPLAY_PAGE_H
#define WATERTURN_REPLAY_PAGE_H

#include "daemon/view/replay.h"
#include "daemon/view/view.h"

#define REPLAY_WHAT_MAX 3

/* What the visitor filled in. */
struct replay_wish {
    char field[FARM_NAME_SIZE]; /* "": nothing asked yet */
    bool rainfed, automatic;
    char what[REPLAY_WHAT_MAX][SCENARIO_NAME_SIZE]; /* settings, as on the command line; "": none */
    char money[FARM_TEXT_SIZE];
};

struct replay_answer {
    const char *query;           /* the visitor's own, for links to the same in other forms */
    const struct replay *replay; /* NULL: not computed */
    const cJSON *made;           /* how; NULL as above */
    const char *problem;         /* NULL: all is well, else why it was not */
};

/* The form, and under it the scenarios side by side. */
cJSON *view_replay_page(const struct view_context *context, const struct field_morning *mornings,
                        size_t count, const struct replay_wish *wish, const struct replay_answer *answer);

#endif

/* The turns: the view model of the board and of /api/turns, and what goes out of the program beside it. */
#ifndef WATERTURN_VIEW_TURNS_H
#define WATERTURN_VIEW_TURNS_H

#include <cjson/cJSON.h>

#include "daemon/base/wall_clock.h"
#include "daemon/store/turns_store.h"
#include "daemon/view/say.h"

struct turns_facts {
    const struct farm *farm; /* its supplies, fields and marks */
    const long long *mark;   /* the numbers of its marks in the book */
    const struct stored_turns *turns;
    const struct field_morning *mornings; /* without days past and ahead */
    size_t morning_count;
    struct morning_time now;
};

/* The board. NULL: no memory. */
cJSON *view_turns(const struct view_context *context, const struct turns_facts *facts);

/* "planned", "under_way", "done", "late", "skipped", "not_recorded": what holds of a turn now. */
const char *view_turn_state(const struct stored_turn *turn, const struct morning_time *now);

/* All turns as CSV, in the units of core/. */
void view_turns_csv(const struct turns_facts *facts, struct text *out);

/* What an iCalendar feed has: the turns of a supply or of a field (one of them; both NULL: all). */
struct turns_feed {
    const char *supply, *field;
    int64_t (*instant)(int32_t date, int hour); /* of an hour of the farm's clock, s since 1970-01-01 UTC */
};

/* The feed as text (RFC 5545): times are UTC's, a turn keeps its UID through all plans, and its SEQUENCE
 * grows when its time changes; one that was skipped is cancelled. */
void view_turns_ics(const struct view_context *context, const struct turns_facts *facts,
                    const struct turns_feed *feed, struct text *out);

#endif

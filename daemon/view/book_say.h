/* Records and what forms did, in words. */
#ifndef WATERTURN_BOOK_SAY_H
#define WATERTURN_BOOK_SAY_H

#include "daemon/store/record_store.h"
#include "daemon/view/say.h"
#include "daemon/view/view.h"

/* "Watered 25 mm on Tuesday". */
char *say_record(const struct view_context *context, const struct farm_record *record, char out[SAY_SIZE]);

/* The key of a stage that can be recorded: "development", "mid", "late", "end"; NULL outside. */
const char *book_stage_key(int stage);

/* What a form did. */
struct entry_facts {
    const struct entry *entry;
    const struct record_kept *record;     /* NULL: none */
    int of_day;                           /* records like it of its day that hold, itself among them */
    double day_mm;                        /* what they add up to */
    const struct field_morning *morning;  /* as it is now; NULL: none yet */
    const char *undo_action, *undo_token; /* NULL: nothing to take back */
};
/* NULL: no memory. */
cJSON *view_entry(const struct view_context *context, const struct entry_facts *facts);

/* The newest records of a field, with a link to correct each: added to `view` as "records". */
void view_add_records(const struct view_context *context, const struct record_kept *records, size_t count,
                      cJSON *view);

#endif

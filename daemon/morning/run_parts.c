/* A morning in several transactions, with pauses in which others write. The rest of run.h. */
#include <stdlib.h>
#include <string.h>

#include "daemon/morning/run_inside.h"

/* Fields that forms may have written between the parts, to be stored again in the last of them. */
#define CATCH_UP_MOST 500
/* Plans that forms made useless are made again beside the book so often; then within it. */
#define BESIDE_MOST 3

static enum status plan_turns(struct morning *morning) {
    return turns_run_beside(&morning->turns, morning->db, morning->today, &morning->now, morning->problems);
}

/* What was computed so far is committed, and the next transaction begun. `meanwhile` (NULL: nothing) is done
 * between them. */
static enum status next_transaction(struct morning *morning, enum status (*meanwhile)(struct morning *)) {
    int64_t changes;
    enum status status = db_end(morning->db, STATUS_OK, morning->problems);
    if (status == STATUS_OK && meanwhile != NULL)
        status = meanwhile(morning);
    if (morning->how->between != NULL)
        morning->how->between(morning->how->context);
    if (status == STATUS_OK)
        status = db_begin_many(morning->db, morning->problems);
    if (status == STATUS_OK && !db_changes(morning->db, &changes))
        status = STATUS_STORE;
    if (status != STATUS_OK || changes == morning->changes)
        return status;
    bool stands;
    morning->changes = changes;
    morning->written = true;
    status = ledger_writer_stands(morning->writer, &stands, morning->problems);
    morning->disturbed = status == STATUS_OK && !stands;
    return status;
}

static bool part_is_long(const struct morning *morning) {
    return morning->how->enough != NULL && morning->how->enough(morning->how->context);
}

/* The parts of the farm one after the other. */
static enum status compute_parts(struct morning *morning, struct farm_parts *parts) {
    enum status status = farm_parts_next(parts, &morning->farm, &morning->ids, morning->problems);
    for (size_t stored = 0; status == STATUS_OK;) {
        status = morning_part(morning);
        stored += morning->farm.field_count;
        if (status != STATUS_OK || morning->only != NULL)
            return status;
        if (morning->at_once > 0 && (stored >= morning->at_once || part_is_long(morning))) {
            stored = 0;
            status = next_transaction(morning, NULL);
        }
        if (morning->disturbed)
            return status;
        if (status == STATUS_OK)
            status = farm_parts_next(parts, &morning->farm, &morning->ids, morning->problems);
    }
    return status == STATUS_NOT_FOUND && morning->only == NULL ? STATUS_OK : status;
}

/* A field of which a form wrote what this run had stored: once more. */
static enum status store_again(struct morning *morning, const char *field) {
    struct farm_parts *parts = NULL;
    struct morning_result counted = *morning->result;
    enum status status = farm_parts_open(morning->db, field, 1, &parts, morning->problems);
    if (status == STATUS_OK)
        status = farm_parts_next(parts, &morning->farm, &morning->ids, morning->problems);
    turns_run_forget(&morning->turns, field);
    if (status == STATUS_OK)
        status = morning_part(morning);
    farm_parts_close(parts);
    *morning->result = counted;
    return status;
}

/* What forms wrote between the parts. */
static enum status catch_up(struct morning *morning) {
    char(*field)[FARM_NAME_SIZE] = NULL;
    size_t count = 0;
    enum status status = ledger_writer_behind(morning->writer, morning->today, CATCH_UP_MOST, &field, &count,
                                              morning->problems);
    morning->disturbed = count > CATCH_UP_MOST;
    for (size_t i = 0; status == STATUS_OK && !morning->disturbed && i < count; i++)
        status = store_again(morning, field[i]);
    free(field);
    return status;
}

enum status morning_parts(struct morning *morning) {
    struct farm_parts *parts = NULL;
    enum status status = farm_parts_open(morning->db, morning->only,
                                         morning->at_once > 0 ? morning->at_once : FARM_PART_FIELDS, &parts,
                                         morning->problems);
    if (status == STATUS_OK)
        status = compute_parts(morning, parts);
    if (status == STATUS_OK && morning->written && !morning->disturbed)
        status = catch_up(morning);
    if (status == STATUS_OK && morning->only != NULL)
        memcpy(morning->supply, morning->farm.field[0].supply, sizeof morning->supply);
    farm_parts_close(parts);
    return status;
}

enum status morning_plan_beside(struct morning *morning) {
    enum status status = turns_run_settle(morning->db, morning->today, &morning->now, morning->problems);
    bool lacking = true;
    for (int tries = 0; status == STATUS_OK && lacking && tries < BESIDE_MOST; tries++) {
        morning->written = morning->turns.dropped = false;
        status = next_transaction(morning, plan_turns);
        bool written = morning->written && !morning->disturbed;
        if (status == STATUS_OK && written)
            status = catch_up(morning);
        if (status == STATUS_OK && written)
            status = turns_run_recheck(&morning->turns, morning->db, morning->problems);
        lacking = morning->turns.dropped && !morning->disturbed;
    }
    return status;
}

/* What became of turns. The rest of turns_store.h. */
#include <stdlib.h>
#include <string.h>

#include "daemon/store/turns_inside.h"

#define EARLY_HOURS  1
#define SETTLED_DAYS 30 /* what is recorded later than that settles no turn by itself */

/* A record that was corrected hands the turn on to its successor; one that was taken back frees it. */
static enum status settle_records(struct db *db, struct problems *problems) {
    static const char *const steps[] = {
        /* A field that draws from another supply now is planned there. */
        "DELETE FROM turn WHERE state = ?1 AND supply_id IS NOT "
        "(SELECT supply_id FROM field WHERE field.field_id = turn.field_id)",
        "UPDATE turn SET record_id = (SELECT replaced_by FROM record WHERE record.record_id = "
        "turn.record_id) "
        "WHERE record_id IN (SELECT record_id FROM record WHERE replaced_by IS NOT NULL)",
        "UPDATE turn SET record_id = NULL, state = CASE WHEN was_day IS NULL THEN ?1 ELSE ?2 END "
        "WHERE state = ?3 AND (record_id IS NULL OR record_id IN "
        "(SELECT record_id FROM record WHERE withdrawn_at IS NOT NULL))"};
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < sizeof steps / sizeof steps[0]; i++) {
        sqlite3_stmt *statement = db_prepare(db, steps[i], problems);
        if (statement == NULL)
            return STATUS_STORE;
        static const int values[] = {TURN_PLANNED, TURN_LATE, TURN_DONE};
        for (int v = 0; v < sqlite3_bind_parameter_count(statement); v++)
            sqlite3_bind_int(statement, v + 1, values[v]);
        status = db_run(db, statement, "settling turns", problems);
        sqlite3_finalize(statement);
    }
    return status;
}

/* The irrigation that a turn was done by; 0: none. */
static enum status record_of(struct db *db, sqlite3_stmt *find, const struct stored_turn *turn, int64_t hour,
                             long long *record, struct problems *problems) {
    bool begun = (int64_t)turn->date * 24 + turn->hour <= hour;
    sqlite3_bind_text(find, 1, turn->field, -1, SQLITE_STATIC);
    sqlite3_bind_int(find, 2, turn->date);
    sqlite3_bind_int(find, 3, turn->date + (turn->hour + turn->span - 1) / 24);
    sqlite3_bind_double(find, 4, begun ? 0 : turn->gross_mm / 2);
    sqlite3_bind_int(find, 5, RECORD_IRRIGATION);
    *record = sqlite3_step(find) == SQLITE_ROW ? sqlite3_column_int64(find, 0) : 0;
    return sqlite3_reset(find) == SQLITE_OK ? STATUS_OK
                                            : db_trouble(db, "looking for what was recorded", problems);
}

enum status turns_store_settle(struct db *db, int64_t hour, struct problems *problems) {
    struct stored_turn *turn = NULL;
    size_t count = 0;
    enum status status = settle_records(db, problems);
    if (status == STATUS_OK)
        status = turns_store_turns(db, NULL, (int32_t)(hour / 24) - SETTLED_DAYS, &turn, &count, problems);
    sqlite3_stmt *find =
        db_prepare(db,
                   "SELECT record_id FROM record JOIN field USING (field_id) WHERE name = ?1 AND kind = ?5 "
                   "AND day BETWEEN ?2 AND ?3 AND amount >= ?4 AND withdrawn_at IS NULL "
                   "AND record_id NOT IN (SELECT record_id FROM turn WHERE record_id IS NOT NULL) "
                   "ORDER BY day, record_id LIMIT 1",
                   problems);
    if (status == STATUS_OK && find == NULL)
        status = STATUS_STORE;
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        long long record = 0;
        if (turn[i].state == TURN_PLANNED || turn[i].state == TURN_LATE)
            status = record_of(db, find, &turn[i], hour, &record, problems);
        if (status == STATUS_OK && record != 0)
            status = turns_store_done(db, turn[i].id, record, problems);
    }
    sqlite3_finalize(find);
    free(turn);
    return status;
}

int64_t turns_done_from(const struct stored_turn *turn, const struct farm_field *field) {
    int early =
        field != NULL && field->turning.setup_hours > EARLY_HOURS ? field->turning.setup_hours : EARLY_HOURS;
    /* Real hours, whatever the clock does in them. */
    const struct morning_time from = wall_clock_of(wall_clock_instant(turn->date, turn->hour) - 3600 * early);
    return (int64_t)from.today * 24 + from.minute / 60;
}

bool turns_hour_came(int64_t hour, const struct morning_time *now) {
    return (int64_t)now->today * 24 * 60 + now->minute >= hour * 60;
}

enum status turns_store_done(struct db *db, long long id, long long record_id, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "UPDATE turn SET state = ?2, record_id = ?3 WHERE turn_id = ?1", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    sqlite3_bind_int(statement, 2, TURN_DONE);
    sqlite3_bind_int64(statement, 3, record_id);
    enum status status = db_run(db, statement, "noting a turn as done", problems);
    sqlite3_finalize(statement);
    return status;
}

enum status turns_store_late(struct db *db, const struct stored_turn *turn, int32_t date, int hour,
                             int64_t at, struct problems *problems) {
    /* Where it stood at first is kept, however often it is put off. */
    sqlite3_stmt *statement =
        db_prepare(db,
                   "UPDATE turn SET state = ?2, was_hour = CASE WHEN was_day IS NULL THEN hour ELSE was_hour "
                   "END, was_day = coalesce(was_day, day), day = ?3, hour = ?4, sequence = sequence + 1, "
                   "changed_at = ?5 WHERE turn_id = ?1",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, turn->id);
    sqlite3_bind_int(statement, 2, TURN_LATE);
    sqlite3_bind_int(statement, 3, date);
    sqlite3_bind_int(statement, 4, hour);
    sqlite3_bind_int64(statement, 5, at);
    enum status status = db_run(db, statement, "noting a turn as late", problems);
    sqlite3_finalize(statement);
    return status;
}

enum status turns_store_skipped(struct db *db, long long id, int64_t at, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "UPDATE turn SET state = ?2, sequence = sequence + 1, changed_at = ?3 WHERE turn_id = ?1",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    sqlite3_bind_int(statement, 2, TURN_SKIPPED);
    sqlite3_bind_int64(statement, 3, at);
    enum status status = db_run(db, statement, "noting a turn as skipped", problems);
    sqlite3_finalize(statement);
    return status;
}

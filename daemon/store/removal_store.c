#include "daemon/store/removal_store.h"

#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/weather_inside.h"

static sqlite3_stmt *named(struct db *db, const char *sql, const char *name, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement != NULL)
        sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
    return statement;
}

static enum status run_named(struct db *db, const char *sql, const char *name, struct problems *problems) {
    sqlite3_stmt *statement = named(db, sql, name, problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = db_run(db, statement, "taking out of the farm book", problems);
    sqlite3_finalize(statement);
    return status;
}

/* The steps in their order; the last one takes the thing itself. STATUS_NOT_FOUND: there is none, or
 * something still needs it. */
static enum status remove_named(struct db *db, const char *const *steps, size_t count, const char *name,
                                struct problems *problems) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < count; i++)
        status = run_named(db, steps[i], name, problems);
    return status == STATUS_OK && sqlite3_changes(db->handle) == 0 ? STATUS_NOT_FOUND : status;
}

enum status removal_store_supply(struct db *db, const char *name, struct problems *problems) {
    static const char *const steps[] = {"DELETE FROM supply WHERE name = ? AND NOT EXISTS "
                                        "(SELECT 1 FROM field WHERE field.supply_id = supply.supply_id)"};
    return remove_named(db, steps, 1, name, problems);
}

enum status removal_store_soil(struct db *db, const char *name, struct problems *problems) {
    return run_named(db,
                     "DELETE FROM soil WHERE name = ? AND NOT EXISTS (SELECT 1 FROM field WHERE "
                     "field.soil_id = soil.soil_id)",
                     name, problems);
}

/* ---- a field */

enum status removal_store_field_kept(struct db *db, const char *name, struct field_kept *out,
                                     struct problems *problems) {
    static const struct column trial = COLUMN(COLUMN_TEXT, field_kept, trial, "name");
    memset(out, 0, sizeof *out);
    sqlite3_stmt *statement = named(
        db,
        "SELECT (SELECT count(*) FROM planting WHERE planting.field_id = field.field_id), "
        "(SELECT count(*) FROM ledger JOIN planting USING (planting_id) WHERE planting.field_id = "
        "field.field_id), "
        "(SELECT count(*) FROM record WHERE record.field_id = field.field_id AND withdrawn_at IS NULL), "
        "(SELECT count(*) FROM call WHERE call.field_id = field.field_id), "
        "(SELECT count(*) FROM turn WHERE turn.field_id = field.field_id), "
        "(SELECT count(*) FROM outlook WHERE outlook.field_id = field.field_id), "
        "coalesce((SELECT trial.name FROM treatment JOIN trial USING (trial_id) WHERE "
        "treatment.field_id = field.field_id ORDER BY trial_id LIMIT 1), '') "
        "FROM field WHERE name = ?",
        name, problems);
    if (statement == NULL)
        return STATUS_STORE;
    int *const counts[] = {&out->plantings, &out->ledger_days, &out->records,
                           &out->calls,     &out->turns,       &out->outlook_days};
    int columns = (int)(sizeof counts / sizeof *counts);
    enum status status = STATUS_NOT_FOUND;
    if (sqlite3_step(statement) == SQLITE_ROW) {
        for (int i = 0; i < columns; i++)
            *counts[i] = sqlite3_column_int(statement, i);
        columns_read(statement, columns, &trial, 1, out);
        status = STATUS_OK;
    }
    return db_finish(db, statement, status, problems);
}

enum status removal_store_field(struct db *db, const char *name, struct problems *problems) {
    static const char *const steps[] = {
        /* "call DATE KIND FIELD" (commands/tell.c); only names have blanks. */
        "DELETE FROM message WHERE state = 0 AND substr(matter, 1, 5) = 'call ' AND "
        "substr(matter, 17 + instr(substr(matter, 17), ' ')) = ?1",
        "DELETE FROM record WHERE field_id = (SELECT field_id FROM field WHERE name = ?)",
        "DELETE FROM field WHERE name = ? AND NOT EXISTS "
        "(SELECT 1 FROM treatment WHERE treatment.field_id = field.field_id)"};
    /* With each record that goes, forms and turns are searched for it: by indexes that nothing else needs. */
    enum status status = db_exec(db,
                                 "CREATE INDEX entry_by_record ON entry (record_id); "
                                 "CREATE INDEX turn_by_record ON turn (record_id)",
                                 problems);
    if (status == STATUS_OK)
        status = remove_named(db, steps, sizeof steps / sizeof *steps, name, problems);
    if (status == STATUS_OK)
        status = db_exec(db, "DROP INDEX entry_by_record; DROP INDEX turn_by_record", problems);
    return status == STATUS_OK ? farm_store_void_parts(db, problems) : status;
}

/* ---- a source */

enum status removal_store_source_kept(struct db *db, const char *name, struct source_kept *out,
                                      struct problems *problems) {
    sqlite3_stmt *statement =
        named(db,
              "SELECT count(DISTINCT day), min(day), max(day), (SELECT count(*) FROM source AS other WHERE "
              "other.station_id = source.station_id AND other.kind = source.kind AND other.source_id <> "
              "source.source_id) FROM source LEFT JOIN weather USING (source_id) WHERE source.name = ? "
              "GROUP BY source_id",
              name, problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_NOT_FOUND;
    if (sqlite3_step(statement) == SQLITE_ROW) {
        out->days = sqlite3_column_int(statement, 0);
        out->first = out->days > 0 ? sqlite3_column_int(statement, 1) : CALENDAR_NONE;
        out->last = out->days > 0 ? sqlite3_column_int(statement, 2) : CALENDAR_NONE;
        out->others = sqlite3_column_int(statement, 3);
        status = STATUS_OK;
    }
    return db_finish(db, statement, status, problems);
}

/* Plantings whose ledger can rest on weather of the source ?1, and from which day on: at the stations for
 * which it has days, and at those that have these for neighbours. A day depends on the days before it (its
 * own past years stand in for what is missing), so on none before the source's first. */
#define SOURCE_TOUCHES                                                                                       \
    "WITH own AS (SELECT station_id, min(day) AS day FROM weather WHERE source_id = "                        \
    "(SELECT source_id FROM source WHERE name = ?1) GROUP BY station_id), "                                  \
    "place AS (SELECT station_id, day FROM own UNION ALL SELECT near.station_id, own.day FROM own JOIN "     \
    "station_neighbour AS near ON near.neighbour_id = own.station_id), "                                     \
    "dated AS (SELECT planting_id, min(place.day) AS day FROM planting JOIN field USING (field_id) JOIN "    \
    "place USING (station_id) GROUP BY planting_id), "                                                       \
    "touched AS (SELECT planting_id, field_id, max(start_day, dated.day) AS day FROM planting JOIN dated "   \
    "USING (planting_id) WHERE " WEATHER_TOUCHES("dated.day") ") "

enum status removal_store_source_bears(struct db *db, const char *name, struct source_bears **out,
                                       size_t *count, struct problems *problems) {
    static const struct column column = COLUMN(COLUMN_TEXT, source_bears, field, "name");
    sqlite3_stmt *statement =
        named(db,
              SOURCE_TOUCHES "SELECT name, min(touched.day) FROM touched JOIN field USING (field_id) WHERE "
                             "EXISTS (SELECT 1 FROM ledger WHERE ledger.planting_id = touched.planting_id "
                             "AND ledger.day >= touched.day) GROUP BY field_id ORDER BY position",
              name, problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    struct source_bears *list = NULL;
    *count = 0;
    for (size_t room = 0; status == STATUS_OK && sqlite3_step(statement) == SQLITE_ROW; ++*count) {
        if (*count == room) {
            room = room == 0 ? 16 : 2 * room;
            struct source_bears *grown = realloc(list, room * sizeof *list);
            status = grown != NULL ? STATUS_OK : STATUS_NO_MEMORY;
            if (grown == NULL)
                break;
            list = grown;
        }
        columns_read(statement, 0, &column, 1, &list[*count]);
        list[*count].from = sqlite3_column_int(statement, 1);
    }
    *out = list;
    return db_finish(db, statement, status, problems);
}

enum status removal_store_source(struct db *db, const char *name, struct problems *problems) {
    static const char *const steps[] = {
        SOURCE_TOUCHES "UPDATE planting SET dirty_day = min(coalesce(dirty_day, touched.day), touched.day) "
                       "FROM touched WHERE touched.planting_id = planting.planting_id",
        "DELETE FROM weather WHERE source_id = (SELECT source_id FROM source WHERE name = ?)",
        "DELETE FROM source WHERE name = ?"};
    /* With each download that goes, the table is searched for days of it: by an index that nothing else
     * needs. */
    enum status status = db_exec(db, "CREATE INDEX weather_by_fetch ON weather (fetch_id)", problems);
    if (status == STATUS_OK)
        status = remove_named(db, steps, sizeof steps / sizeof *steps, name, problems);
    if (status == STATUS_OK)
        status = db_exec(db, "DROP INDEX weather_by_fetch", problems);
    return status == STATUS_OK ? farm_store_void_parts(db, problems) : status;
}

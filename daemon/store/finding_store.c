#include <math.h>
#include <stdlib.h>

#include "daemon/store/weather_inside.h"

static enum status delete_between(struct db *db, long long source_id, int32_t first, int32_t last,
                                  struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "DELETE FROM finding WHERE source_id = ? AND day BETWEEN ? AND ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    sqlite3_bind_int(statement, 2, first);
    sqlite3_bind_int(statement, 3, last);
    enum status status = db_run(db, statement, "dropping findings", problems);
    sqlite3_finalize(statement);
    return status;
}

static void bind_number(sqlite3_stmt *statement, int index, double value) {
    if (isfinite(value))
        sqlite3_bind_double(statement, index, value);
    else
        sqlite3_bind_null(statement, index);
}

static enum status insert_findings(struct db *db, sqlite3_stmt *statement, int32_t day,
                                   const struct weather_findings *findings, struct problems *problems) {
    enum status status = STATUS_OK;
    for (int i = 0; status == STATUS_OK && i < findings->count; i++) {
        const struct weather_finding *finding = &findings->finding[i];
        sqlite3_bind_int(statement, 2, day);
        sqlite3_bind_int(statement, 3, (int)finding->kind);
        sqlite3_bind_int(statement, 4, (int)finding->element);
        bind_number(statement, 5, finding->value);
        bind_number(statement, 6, finding->limit);
        sqlite3_bind_int(statement, 7, finding->suspect);
        status = db_run(db, statement, "storing a finding", problems);
    }
    return status;
}

/* The neighbouring days, and the days running up to this one, as far as the file has them. */
static void check_day(const struct weather_days *days, size_t index, const struct weather_site *site,
                      struct weather_findings *findings) {
    const struct weather_day *day = &days->day[index];
    const struct weather_day *before =
        index > 0 && day[-1].date == day->date - 1 ? &days->day[index - 1] : NULL;
    const struct weather_day *after =
        index + 1 < days->count && day[1].date == day->date + 1 ? &days->day[index + 1] : NULL;
    int running = 1;
    while (running < WEATHER_REPEAT_DAYS && (size_t)running <= index &&
           days->day[index - (size_t)running].date == day->date - running)
        running++;
    /* More findings than there is room for: the first ones are kept. */
    (void)weather_check(day, before, after, day - (running - 1), running, site, findings);
}

enum status finding_store_replace(struct db *db, long long source_id, const struct weather_days *days,
                                  const struct weather_site *site, struct problems *problems) {
    if (days->count == 0)
        return STATUS_OK;
    enum status status =
        delete_between(db, source_id, days->day[0].date, days->day[days->count - 1].date, problems);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *statement = db_prepare(db,
                                         "INSERT OR IGNORE INTO finding (source_id, day, kind, element, "
                                         "found, held, suspect) VALUES (?, ?, ?, ?, ?, ?, ?)",
                                         problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    for (size_t i = 0; status == STATUS_OK && i < days->count; i++) {
        struct weather_findings findings = {0};
        check_day(days, i, site, &findings);
        status = insert_findings(db, statement, days->day[i].date, &findings, problems);
    }
    sqlite3_finalize(statement);
    return status;
}

static const struct column finding_columns[] = {
    COLUMN(COLUMN_INT, source_finding, kind, ""),     COLUMN(COLUMN_INT, source_finding, element, ""),
    COLUMN(COLUMN_INT, source_finding, days, ""),     COLUMN(COLUMN_DAY, source_finding, newest, ""),
    COLUMN(COLUMN_REAL, source_finding, found, ""),   COLUMN(COLUMN_REAL, source_finding, held, ""),
    COLUMN(COLUMN_BOOL, source_finding, suspect, ""),
};
#define FINDING_COLUMNS ((int)(sizeof finding_columns / sizeof finding_columns[0]))

enum status weather_store_findings(struct db *db, long long source_id, int32_t first,
                                   struct source_finding **out, size_t *count, struct problems *problems) {
    /* With max() alone, SQLite takes the other columns from the row that has the greatest. */
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT kind, element, count(*), max(day), found, held, suspect FROM finding "
                   "WHERE source_id = ? AND day >= ? GROUP BY kind, element "
                   "ORDER BY max(day) DESC, kind, element",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    sqlite3_bind_int(statement, 2, first);
    struct source_finding *list = calloc(FINDING_KIND_COUNT * WEATHER_ELEMENT_COUNT, sizeof *list);
    size_t found = 0;
    while (list != NULL && sqlite3_step(statement) == SQLITE_ROW &&
           found < FINDING_KIND_COUNT * WEATHER_ELEMENT_COUNT)
        columns_read(statement, 0, finding_columns, FINDING_COLUMNS, &list[found++]);
    enum status status = db_finish(db, statement, list == NULL ? STATUS_NO_MEMORY : STATUS_OK, problems);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = found;
    return STATUS_OK;
}

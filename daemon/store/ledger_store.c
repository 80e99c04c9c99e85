/* The reading half of ledger_store.h. */
#include "daemon/store/ledger_store.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_columns.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_columns.h"

enum status ledger_store_newest(struct db *db, int32_t *day, int64_t *at, struct problems *problems) {
    sqlite3_stmt *statement =
        db_kept(db, DB_KEPT_NEWEST, "SELECT day, at FROM morning ORDER BY day DESC LIMIT 1", problems);
    if (statement == NULL)
        return STATUS_STORE;
    *day = CALENDAR_NONE;
    *at = 0;
    if (sqlite3_step(statement) == SQLITE_ROW) {
        *day = sqlite3_column_int(statement, 0);
        *at = sqlite3_column_int64(statement, 1);
    }
    return db_reset(db, statement, STATUS_OK, problems);
}

static const struct column morning_names[] = {
    COLUMN(COLUMN_TEXT, field_morning, field, ""),
    COLUMN(COLUMN_TEXT, field_morning, supply, ""),
    COLUMN(COLUMN_TEXT, field_morning, crop_name, ""),
    COLUMN(COLUMN_TEXT, field_morning, trial, ""),
    COLUMN(COLUMN_TEXT, field_morning, treatment, ""),
    COLUMN(COLUMN_DAY, field_morning, planting_date, ""),
    COLUMN(COLUMN_DAY, field_morning, weather_until, ""),
    COLUMN(COLUMN_DAY, field_morning, forecast_issued, ""),
};
#define MORNING_NAMES ((int)(sizeof morning_names / sizeof morning_names[0]))

/* ?1: the morning. */
#define CALLS_FROM                                                                                           \
    " FROM call JOIN field USING (field_id) LEFT JOIN supply USING (supply_id) "                             \
    "LEFT JOIN planting ON planting.planting_id = call.planting_id "                                         \
    "LEFT JOIN treatment ON treatment.field_id = field.field_id LEFT JOIN trial USING (trial_id) "           \
    "WHERE call.day = ?1 GROUP BY field.field_id ORDER BY field.position"

/* The columns of struct farm_field that are struct system, moved to where field_morning has them. */
static int system_columns(struct column *out) {
    int count, kept = 0;
    const struct column *columns = farm_columns(FARM_TABLE_FIELD, &count);
    for (int i = 0; i < count; i++) {
        if (columns[i].offset < offsetof(struct farm_field, system) ||
            columns[i].offset >= offsetof(struct farm_field, system) + sizeof(struct system))
            continue;
        out[kept] = columns[i];
        out[kept++].offset += offsetof(struct field_morning, system) - offsetof(struct farm_field, system);
    }
    return kept;
}

struct reader {
    struct db *db;
    struct problems *problems;
    sqlite3_stmt *calls, *past, *ahead, *outlook;
    const struct column *past_column_list, *ahead_column_list, *call_column_list;
    int past_count, ahead_count, call_count, system_count;
    struct column system[16];
};

static sqlite3_stmt *prepare_calls(struct reader *reader) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT call.field_id, call.planting_id, field.name, supply.name, crop_name, trial.name, "
                    "treatment.name, planting_day, weather_until_day, forecast_issued_day, ");
    columns_list(&sql, "call.", reader->call_column_list, reader->call_count);
    text_puts(&sql, ", ");
    columns_list(&sql, "field.", reader->system, reader->system_count);
    text_puts(&sql, CALLS_FROM);
    return db_prepare_text(reader->db, &sql, reader->problems);
}

static sqlite3_stmt *prepare_days(struct reader *reader, const struct column *columns, int count,
                                  const char *from) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT ");
    columns_list(&sql, "", columns, count);
    text_puts(&sql, from);
    return db_prepare_text(reader->db, &sql, reader->problems);
}

static enum status prepare_all(struct reader *reader) {
    sqlite3_stmt **kept = reader->db->kept;
    kept[DB_KEPT_CALLS] = prepare_calls(reader);
    kept[DB_KEPT_PAST] =
        prepare_days(reader, reader->past_column_list, reader->past_count,
                     " FROM ledger WHERE planting_id = ? AND day < ? ORDER BY day DESC LIMIT ?");
    kept[DB_KEPT_AHEAD] = prepare_days(reader, reader->ahead_column_list, reader->ahead_count,
                                       " FROM ahead WHERE planting_id = ? ORDER BY day LIMIT ?");
    kept[DB_KEPT_OUTLOOK] = db_prepare(reader->db, CALL_OUTLOOK_SELECT, reader->problems);
    bool all = true;
    for (int i = DB_KEPT_CALLS; i <= DB_KEPT_OUTLOOK; i++)
        all = all && kept[i] != NULL;
    for (int i = DB_KEPT_CALLS; !all && i <= DB_KEPT_OUTLOOK; i++) {
        sqlite3_finalize(kept[i]);
        kept[i] = NULL;
    }
    return all ? STATUS_OK : STATUS_STORE;
}

static enum status reader_open(struct reader *reader) {
    sqlite3_stmt *const *kept = reader->db->kept;
    reader->past_column_list = past_columns(&reader->past_count);
    reader->ahead_column_list = ahead_columns(&reader->ahead_count);
    reader->call_column_list = call_columns(&reader->call_count);
    reader->system_count = system_columns(reader->system);
    enum status status = kept[DB_KEPT_CALLS] == NULL ? prepare_all(reader) : STATUS_OK;
    reader->calls = kept[DB_KEPT_CALLS];
    reader->past = kept[DB_KEPT_PAST];
    reader->ahead = kept[DB_KEPT_AHEAD];
    reader->outlook = kept[DB_KEPT_OUTLOOK];
    return status;
}

bool call_outlook_read(sqlite3_stmt *select, long long field_id, int32_t day, struct call_outlook *out) {
    out->days = 0;
    sqlite3_bind_int64(select, 1, field_id);
    sqlite3_bind_int(select, 2, day);
    while (out->days < MORNING_AHEAD && sqlite3_step(select) == SQLITE_ROW) {
        int i = out->days++;
        out->chance[i] = sqlite3_column_double(select, 0);
        for (int line = 0; line < OUTLOOK_LINES; line++)
            out->depletion_mm[i][line] = sqlite3_column_double(select, 1 + line);
        out->rain_mm[i] = sqlite3_column_double(select, 1 + OUTLOOK_LINES);
    }
    return sqlite3_reset(select) == SQLITE_OK;
}

/* The newest come first. */
static bool read_past(struct reader *reader, struct field_morning *out) {
    sqlite3_bind_int64(reader->past, 1, out->planting_id);
    sqlite3_bind_int(reader->past, 2, out->call.date);
    sqlite3_bind_int(reader->past, 3, MORNING_PAST);
    int first = MORNING_PAST;
    while (first > 0 && sqlite3_step(reader->past) == SQLITE_ROW)
        columns_read(reader->past, 0, reader->past_column_list, reader->past_count, &out->past[--first]);
    out->past_count = MORNING_PAST - first;
    memmove(out->past, &out->past[first], (size_t)out->past_count * sizeof out->past[0]);
    return sqlite3_reset(reader->past) == SQLITE_OK;
}

static bool read_ahead(struct reader *reader, struct field_morning *out) {
    sqlite3_bind_int64(reader->ahead, 1, out->planting_id);
    sqlite3_bind_int(reader->ahead, 2, MORNING_AHEAD);
    out->ahead_count = 0;
    while (out->ahead_count < MORNING_AHEAD && sqlite3_step(reader->ahead) == SQLITE_ROW)
        columns_read(reader->ahead, 0, reader->ahead_column_list, reader->ahead_count,
                     &out->ahead[out->ahead_count++]);
    return sqlite3_reset(reader->ahead) == SQLITE_OK;
}

/* The days past and ahead of a call. */
static enum status read_days(struct reader *reader, struct field_morning *out) {
    bool good = call_outlook_read(reader->outlook, out->field_id, out->call.date, &out->outlook) &&
                (out->planting_id == 0 || (read_past(reader, out) && read_ahead(reader, out)));
    return good ? STATUS_OK : db_trouble(reader->db, "reading the days of a field", reader->problems);
}

/* `out` starts zeroed. */
static void read_call(struct reader *reader, struct field_morning *out) {
    out->field_id = sqlite3_column_int64(reader->calls, 0);
    out->planting_id = sqlite3_column_int64(reader->calls, 1);
    int at = 2;
    columns_read(reader->calls, at, morning_names, MORNING_NAMES, out);
    at += MORNING_NAMES;
    columns_read(reader->calls, at, reader->call_column_list, reader->call_count, &out->call);
    at += reader->call_count;
    columns_read(reader->calls, at, reader->system, reader->system_count, out);
}

/* Zeroed memory of the right size at once: what is not filled is never touched. */
static enum status read_mornings(struct reader *reader, int32_t today, bool whole, struct field_morning **out,
                                 size_t *count) {
    struct farm_counts counts; /* at most as many have a call */
    enum status status = farm_store_count(reader->db, &counts, reader->problems);
    if (status != STATUS_OK)
        return status;
    size_t room = (size_t)counts.fields;
    int code;
    *out = calloc(room + 1, sizeof **out);
    if (*out == NULL)
        return STATUS_NO_MEMORY;
    sqlite3_bind_int(reader->calls, 1, today);
    while ((code = sqlite3_step(reader->calls)) == SQLITE_ROW && *count < room)
        read_call(reader, &(*out)[(*count)++]);
    if (code != SQLITE_DONE)
        status = db_trouble(reader->db, "reading the morning", reader->problems);
    sqlite3_reset(reader->calls);
    for (size_t i = 0; whole && status == STATUS_OK && i < *count; i++)
        status = read_days(reader, &(*out)[i]);
    return status;
}

/* In one read transaction, so that a run that ends meanwhile cannot mix two mornings. */
static enum status read_list(struct db *db, bool whole, struct field_morning **out, size_t *count,
                             struct problems *problems) {
    struct reader reader = {.db = db, .problems = problems};
    struct field_morning *list = NULL;
    size_t found = 0;
    int32_t today;
    int64_t at;
    enum status status = db_read_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    status = ledger_store_newest(db, &today, &at, problems);
    if (status == STATUS_OK && today != CALENDAR_NONE)
        status = reader_open(&reader);
    if (status == STATUS_OK && today != CALENDAR_NONE)
        status = read_mornings(&reader, today, whole, &list, &found);
    db_read_end(db);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = found;
    return STATUS_OK;
}

enum status ledger_store_mornings(struct db *db, struct field_morning **out, size_t *count,
                                  struct problems *problems) {
    return read_list(db, true, out, count, problems);
}

enum status ledger_store_calls(struct db *db, struct field_morning **out, size_t *count,
                               struct problems *problems) {
    return read_list(db, false, out, count, problems);
}

enum status ledger_store_fill(struct db *db, struct field_morning *morning, struct problems *problems) {
    struct reader reader = {.db = db, .problems = problems};
    enum status status = reader_open(&reader);
    return status == STATUS_OK ? read_days(&reader, morning) : status;
}

static enum status rows_read(struct db *db, sqlite3_stmt *statement, const struct column *columns,
                             int column_count, struct ledger_row **out, size_t *count,
                             struct problems *problems) {
    size_t room = 0;
    int code;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        if (*count == room) {
            room = room == 0 ? 256 : room * 2;
            struct ledger_row *grown = realloc(*out, room * sizeof *grown);
            if (grown == NULL)
                return STATUS_NO_MEMORY;
            *out = grown;
        }
        memset(&(*out)[*count], 0, sizeof **out);
        columns_read(statement, 0, columns, column_count, &(*out)[(*count)++]);
    }
    return code == SQLITE_DONE ? STATUS_OK : db_trouble(db, "reading the ledger", problems);
}

enum status ledger_store_rows(struct db *db, const char *field, int32_t day, struct ledger_row **out,
                              size_t *count, struct problems *problems) {
    int column_count;
    const struct column *columns = ledger_row_columns(&column_count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT ");
    columns_list(&sql, "", columns, column_count);
    text_puts(&sql, " FROM ledger WHERE planting_id = (SELECT planting_id FROM planting JOIN field USING "
                    "(field_id) WHERE field.name = ?1 AND start_day <= ?2 ORDER BY start_day DESC LIMIT 1) "
                    "ORDER BY day");
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, field, -1, SQLITE_STATIC);
    sqlite3_bind_int(statement, 2, day);
    struct ledger_row *rows = NULL;
    size_t found = 0;
    enum status status = rows_read(db, statement, columns, column_count, &rows, &found, problems);
    sqlite3_finalize(statement);
    if (status == STATUS_OK && found == 0)
        status = STATUS_NOT_FOUND;
    if (status != STATUS_OK) {
        free(rows);
        return status;
    }
    *out = rows;
    *count = found;
    return STATUS_OK;
}

enum status ledger_store_call(struct db *db, const char *field, struct call *out, struct problems *problems) {
    int count;
    const struct column *columns = call_columns(&count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT ");
    columns_list(&sql, "call.", columns, count);
    text_puts(&sql, " FROM call JOIN field USING (field_id) WHERE name = ? AND day = (SELECT max(day) FROM "
                    "morning)");
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, field, -1, SQLITE_STATIC);
    memset(out, 0, sizeof *out);
    out->date = CALENDAR_NONE;
    int code = sqlite3_step(statement);
    enum status status =
        code == SQLITE_ROW || code == SQLITE_DONE ? STATUS_OK : db_trouble(db, "reading a call", problems);
    if (code == SQLITE_ROW)
        columns_read(statement, 0, columns, count, out);
    return db_finish(db, statement, status, problems);
}

/* The reading half of turns_store.h. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/farm_columns.h"
#include "daemon/store/turns_inside.h"

static const struct column plan_columns[] = {
    COLUMN(COLUMN_DAY, stored_supply, day, "day"),
    COLUMN(COLUMN_INT, stored_supply, first_hour, "first_hour"),
    COLUMN(COLUMN_INT, stored_supply, days, "days"),
    COLUMN(COLUMN_INT, stored_supply, reason, "reason"),
    COLUMN(COLUMN_BOOL, stored_supply, money, "money"),
    COLUMN(COLUMN_REAL, stored_supply, cost.loss, "loss"),
    COLUMN(COLUMN_REAL, stored_supply, cost.water, "water"),
    COLUMN(COLUMN_REAL, stored_supply, cost.pumping, "pumping"),
    COLUMN(COLUMN_REAL, stored_supply, cost.percolation, "percolation"),
    COLUMN(COLUMN_REAL, stored_supply, cost.end, "ends"),
    COLUMN(COLUMN_REAL, stored_supply, cost.total, "total"),
    COLUMN(COLUMN_REAL, stored_supply, bound, "bound"),
    COLUMN(COLUMN_REAL, stored_supply, worth, "worth"),
    COLUMN(COLUMN_BOOL, stored_supply, proven, "proven"),
    COLUMN(COLUMN_REAL, stored_supply, change_cost, "change_cost"),
    COLUMN(COLUMN_REAL, stored_supply, season_m3, "season_m3"),
    COLUMN(COLUMN_REAL, stored_supply, season_used_m3, "season_used_m3"),
    COLUMN(COLUMN_REAL, stored_supply, season_later_m3, "season_later_m3"),
    COLUMN(COLUMN_REAL, stored_supply, period_m3, "period_m3"),
    COLUMN(COLUMN_REAL, stored_supply, period_used_m3, "period_used_m3"),
    COLUMN(COLUMN_DAY, stored_supply, period_from, "period_from_day"),
    COLUMN(COLUMN_DAY, stored_supply, period_to, "period_to_day"),
    COLUMN(COLUMN_REAL, stored_supply, planned_m3, "planned_m3"),
    COLUMN(COLUMN_REAL, stored_supply, period_planned_m3, "period_planned_m3"),
};

static const struct column limit_columns[] = {
    COLUMN(COLUMN_INT, stored_limit, kind, "kind"),
    COLUMN(COLUMN_DAY, stored_limit, day, "day"),
    COLUMN(COLUMN_DAY, stored_limit, pin_date, "pin_day"),
    COLUMN(COLUMN_INT, stored_limit, pin_hour, "pin_hour"),
    COLUMN(COLUMN_INT, stored_limit, pin_hours, "pin_hours"),
    COLUMN(COLUMN_DAY, stored_limit, cure_date, "cure_day"),
    COLUMN(COLUMN_INT, stored_limit, cure_hour, "cure_hour"),
    COLUMN(COLUMN_REAL, stored_limit, over, "over"),
    COLUMN(COLUMN_REAL, stored_limit, more_hours_per_day, "more_hours_per_day"),
    COLUMN(COLUMN_REAL, stored_limit, more_flow_m3_h, "more_flow_m3_h"),
    COLUMN(COLUMN_REAL, stored_limit, more_m3, "more_m3"),
    COLUMN(COLUMN_REAL, stored_limit, dry_cost, "dry_cost"),
};

static const struct column change_columns[] = {
    COLUMN(COLUMN_INT, stored_change, kind, "kind"),
    COLUMN(COLUMN_DAY, stored_change, date, "day"),
    COLUMN(COLUMN_INT, stored_change, hour, "hour"),
    COLUMN(COLUMN_INT, stored_change, hours, "hours"),
    COLUMN(COLUMN_DAY, stored_change, was_date, "was_day"),
    COLUMN(COLUMN_INT, stored_change, was_hour, "was_hour"),
    COLUMN(COLUMN_INT, stored_change, was_hours, "was_hours"),
};

static const struct column turn_columns[] = {
    COLUMN(COLUMN_TEXT, stored_turn, uid, "uid"),
    COLUMN(COLUMN_DAY, stored_turn, date, "day"),
    COLUMN(COLUMN_INT, stored_turn, hour, "hour"),
    COLUMN(COLUMN_INT, stored_turn, hours, "hours"),
    COLUMN(COLUMN_INT, stored_turn, span, "span"),
    COLUMN(COLUMN_REAL, stored_turn, net_mm, "net_mm"),
    COLUMN(COLUMN_REAL, stored_turn, gross_mm, "gross_mm"),
    COLUMN(COLUMN_REAL, stored_turn, volume_m3, "volume_m3"),
    COLUMN(COLUMN_BOOL, stored_turn, pinned, "pinned"),
    COLUMN(COLUMN_INT, stored_turn, state, "state"),
    COLUMN(COLUMN_DAY, stored_turn, was_date, "was_day"),
    COLUMN(COLUMN_INT, stored_turn, was_hour, "was_hour"),
    COLUMN(COLUMN_INT, stored_turn, sequence, "sequence"),
};

#define TABLE(list) list, (int)(sizeof list / sizeof *list)

const struct column *turns_columns(enum turns_table table, int *count) {
    static const struct {
        const struct column *columns;
        int count;
    } tables[] = {
        [TURNS_TABLE_PLAN] = {TABLE(plan_columns)},
        [TURNS_TABLE_LIMIT] = {TABLE(limit_columns)},
        [TURNS_TABLE_CHANGE] = {TABLE(change_columns)},
        [TURNS_TABLE_TURN] = {TABLE(turn_columns)},
    };
    *count = tables[table].count;
    return tables[table].columns;
}

/* ---- lists */

/* How one list is read: SELECT before, prefix.columns after. `take` reads the columns of `before` (as
 * many as `first`) into the row. */
struct list {
    enum turns_table table;
    const char *before, *prefix, *after;
    int first;
    void (*take)(sqlite3_stmt *statement, void *row);
    size_t size;
};

static void copy_text(sqlite3_stmt *statement, int index, char out[FARM_NAME_SIZE]) {
    const struct column name = {"", COLUMN_TEXT, 0, FARM_NAME_SIZE};
    columns_read(statement, index, &name, 1, out);
}

static void take_plan(sqlite3_stmt *statement, void *row) {
    struct stored_supply *plan = row;
    copy_text(statement, 0, plan->supply);
    plan->at = sqlite3_column_int64(statement, 1);
}

static void take_limit(sqlite3_stmt *statement, void *row) {
    struct stored_limit *limit = row;
    copy_text(statement, 0, limit->supply);
    copy_text(statement, 1, limit->field);
    copy_text(statement, 2, limit->dry_field);
}

static void take_change(sqlite3_stmt *statement, void *row) {
    struct stored_change *change = row;
    copy_text(statement, 0, change->supply);
    copy_text(statement, 1, change->field);
}

static void take_turn(sqlite3_stmt *statement, void *row) {
    struct stored_turn *turn = row;
    turn->id = sqlite3_column_int64(statement, 0);
    copy_text(statement, 1, turn->field);
    copy_text(statement, 2, turn->supply);
    turn->changed_at = sqlite3_column_int64(statement, 3);
    turn->record_id = sqlite3_column_int64(statement, 4);
}

#define TURN_BEFORE "turn_id, field.name, supply.name, changed_at, coalesce(record_id, 0), "
#define TURN_FROM   "FROM turn JOIN field USING (field_id) JOIN supply ON supply.supply_id = turn.supply_id "
#define TURN_ORDER  "ORDER BY turn.day, turn.hour, field.position, turn_id"

static const struct list plan_list = {TURNS_TABLE_PLAN,
                                      "supply.name, at, ",
                                      "turn_plan.",
                                      "FROM turn_plan JOIN supply USING (supply_id) ORDER BY supply_id",
                                      2,
                                      take_plan,
                                      sizeof(struct stored_supply)};
static const struct list limit_list = {
    TURNS_TABLE_LIMIT,
    "supply.name, field.name, dry.name, ",
    "turn_limit.",
    "FROM turn_limit JOIN supply USING (supply_id) LEFT JOIN field ON field.field_id = turn_limit.field_id "
    "LEFT JOIN field AS dry ON dry.field_id = dry_field_id ORDER BY turn_limit.supply_id, "
    "turn_limit.position",
    3,
    take_limit,
    sizeof(struct stored_limit)};
static const struct list change_list = {
    TURNS_TABLE_CHANGE,
    "supply.name, field.name, ",
    "turn_change.",
    "FROM turn_change JOIN supply USING (supply_id) JOIN field USING (field_id) "
    "ORDER BY turn_change.supply_id, turn_change.position",
    2,
    take_change,
    sizeof(struct stored_change)};
/* ?1: a day; ?2: a supply's name, or NULL. */
static const struct list turn_list = {TURNS_TABLE_TURN,
                                      TURN_BEFORE,
                                      "turn.",
                                      TURN_FROM "WHERE turn.day + (turn.hour + span + 23) / 24 > ?1 AND "
                                                "(?2 IS NULL OR supply.name = ?2) " TURN_ORDER,
                                      5,
                                      take_turn,
                                      sizeof(struct stored_turn)};
/* ?1: its number. */
static const struct list one_turn_list = {
    TURNS_TABLE_TURN,          TURN_BEFORE, "turn.", TURN_FROM "WHERE turn_id = ?1", 5, take_turn,
    sizeof(struct stored_turn)};

static sqlite3_stmt *list_prepare(struct db *db, const struct list *list, struct problems *problems) {
    int count;
    const struct column *columns = turns_columns(list->table, &count);
    return db_prepare_columns(db, list->before, list->prefix, columns, count, list->after, problems);
}

/* Reads all rows of a prepared list, which it finalizes. `member`: the address of a pointer to its struct. */
static enum status list_read(struct db *db, const struct list *list, sqlite3_stmt *statement, void *member,
                             size_t *count, struct problems *problems) {
    char *rows = NULL;
    size_t room = 0, found = 0;
    int columns_count;
    const struct column *columns = turns_columns(list->table, &columns_count);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    while (status == STATUS_OK && sqlite3_step(statement) == SQLITE_ROW) {
        if (found == room) {
            room = room == 0 ? 16 : room * 2;
            char *grown = realloc(rows, room * list->size);
            if (grown == NULL) {
                status = STATUS_NO_MEMORY;
                break;
            }
            rows = grown;
        }
        char *row = rows + found++ * list->size;
        memset(row, 0, list->size);
        list->take(statement, row);
        columns_read(statement, list->first, columns, columns_count, row);
    }
    status = db_finish(db, statement, status, problems);
    memcpy(member, &rows, sizeof rows);
    *count = found;
    return status;
}

static enum status read_all(struct db *db, const struct list *list, void *member, size_t *count,
                            struct problems *problems) {
    return list_read(db, list, list_prepare(db, list, problems), member, count, problems);
}

enum status turns_store_turns(struct db *db, const char *supply, int32_t since, struct stored_turn **out,
                              size_t *count, struct problems *problems) {
    sqlite3_stmt *statement = list_prepare(db, &turn_list, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int(statement, 1, since);
    if (supply != NULL)
        sqlite3_bind_text(statement, 2, supply, -1, SQLITE_STATIC);
    struct stored_turn *rows = NULL;
    enum status status = list_read(db, &turn_list, statement, &rows, count, problems);
    if (status != STATUS_OK) {
        free(rows);
        rows = NULL;
        *count = 0;
    }
    *out = rows;
    return status;
}

enum status turns_store_turn(struct db *db, long long id, struct stored_turn *out,
                             struct problems *problems) {
    sqlite3_stmt *statement = list_prepare(db, &one_turn_list, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    struct stored_turn *rows = NULL;
    size_t count = 0;
    enum status status = list_read(db, &one_turn_list, statement, &rows, &count, problems);
    if (status == STATUS_OK && count == 0)
        status = STATUS_NOT_FOUND;
    if (status == STATUS_OK)
        *out = rows[0];
    free(rows);
    return status;
}

static bool asks_for_a_turn(const struct field_morning *morning) {
    return morning->turn.hours == 0 &&
           (morning->call.kind == CALL_WATER_TODAY || morning->call.kind == CALL_WATER_BY);
}

/* Fields that are called to be watered and have no turn in the plan of their supply. */
static enum status mark_left_out(struct db *db, struct field_morning *mornings, size_t count,
                                 struct problems *problems) {
    bool any = false;
    for (size_t i = 0; i < count && !any; i++)
        any = asks_for_a_turn(&mornings[i]);
    if (!any)
        return STATUS_OK;
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT name FROM turn_path JOIN field USING (field_id) WHERE ahead = 0 ORDER BY position",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    size_t at = 0; /* both are in the farm's order */
    while (at < count && sqlite3_step(statement) == SQLITE_ROW) {
        char field[FARM_NAME_SIZE];
        copy_text(statement, 0, field);
        size_t found = at;
        while (found < count && strcmp(mornings[found].field, field) != 0)
            found++;
        if (found == count)
            continue; /* not among these mornings */
        mornings[found].turn.left_out = asks_for_a_turn(&mornings[found]);
        at = found + 1;
    }
    return db_finish(db, statement, STATUS_OK, problems);
}

/* Of the turns of a field, which come by their begin: the last that is over, and the first that is not. */
static void take_field_turn(sqlite3_stmt *statement, int64_t hour, struct field_morning *morning) {
    struct field_turn turn = {.id = sqlite3_column_int64(statement, 1),
                              .date = sqlite3_column_int(statement, 2),
                              .hour = sqlite3_column_int(statement, 3),
                              .hours = sqlite3_column_int(statement, 4),
                              .span = sqlite3_column_int(statement, 5),
                              .net_mm = sqlite3_column_double(statement, 6)};
    int64_t begin = (int64_t)turn.date * 24 + turn.hour;
    turn.under_way = begin <= hour;
    if (begin + turn.span <= hour)
        morning->over = turn;
    else if (morning->turn.hours == 0)
        morning->turn = turn;
}

/* Irrigation that was recorded on the days of a turn settles it (turns_store_settle()); after a later one
 * nobody is asked. ?1: the hour. */
static const char field_turns[] =
    "SELECT name, turn_id, turn.day, hour, hours, span, net_mm FROM turn JOIN field USING (field_id) "
    "WHERE turn.day >= ?1 / 24 - 20 AND state IN (?2, ?3) AND (turn.day * 24 + hour + span > ?1 OR "
    "(turn.day + (hour + span + 23) / 24 > ?1 / 24 - ?4 AND NOT EXISTS (SELECT 1 FROM record WHERE "
    "record.field_id = turn.field_id AND record.day > turn.day + (hour + span - 1) / 24 AND kind = ?5 AND "
    "withdrawn_at IS NULL))) ORDER BY field.position, turn.day, hour";

enum status turns_store_next(struct db *db, int64_t hour, struct field_morning *mornings, size_t count,
                             struct problems *problems) {
    sqlite3_stmt *statement = db_kept(db, DB_KEPT_TURNS, field_turns, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, hour);
    sqlite3_bind_int(statement, 2, TURN_PLANNED);
    sqlite3_bind_int(statement, 3, TURN_LATE);
    sqlite3_bind_int(statement, 4, TURNS_PAST_DAYS);
    sqlite3_bind_int(statement, 5, RECORD_IRRIGATION);
    size_t at = 0; /* both are in the farm's order */
    for (size_t i = 0; i < count; i++)
        mornings[i].turn = mornings[i].over = (struct field_turn){.hours = 0};
    while (sqlite3_step(statement) == SQLITE_ROW) {
        char field[FARM_NAME_SIZE];
        copy_text(statement, 0, field);
        while (at < count && strcmp(mornings[at].field, field) != 0)
            at++;
        if (at == count)
            break;
        take_field_turn(statement, hour, &mornings[at]);
    }
    enum status status = db_reset(db, statement, STATUS_OK, problems);
    return status == STATUS_OK ? mark_left_out(db, mornings, count, problems) : status;
}

enum status turns_store_made(struct db *db, const char *supply, int32_t *day, int *first_hour,
                             struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT day, first_hour FROM turn_plan JOIN supply USING (supply_id) WHERE name = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, supply, -1, SQLITE_STATIC);
    enum status status = STATUS_NOT_FOUND;
    if (sqlite3_step(statement) == SQLITE_ROW) {
        *day = sqlite3_column_int(statement, 0);
        *first_hour = sqlite3_column_int(statement, 1);
        status = STATUS_OK;
    }
    return db_finish(db, statement, status, problems);
}

/* ---- what belongs to a plan or a field */

static enum status load_hours(struct db *db, struct stored_turns *out, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT ahead, hours_open, hours_run FROM turn_plan_day JOIN supply USING (supply_id) "
                   "WHERE name = ? ORDER BY ahead",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < out->supply_count; i++) {
        sqlite3_bind_text(statement, 1, out->supply[i].supply, -1, SQLITE_STATIC);
        while (sqlite3_step(statement) == SQLITE_ROW) {
            int ahead = sqlite3_column_int(statement, 0);
            if (ahead < 0 || ahead >= MORNING_AHEAD)
                continue;
            out->supply[i].hours_open[ahead] = sqlite3_column_int(statement, 1);
            out->supply[i].hours_run[ahead] = sqlite3_column_int(statement, 2);
        }
        if (sqlite3_reset(statement) != SQLITE_OK)
            status = db_trouble(db, "reading the hours of a plan", problems);
    }
    return db_finish(db, statement, status, problems);
}

static enum status load_paths(struct db *db, struct stored_turns *out, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT name, ahead, depletion_mm, allowed_mm FROM turn_path JOIN field USING (field_id) "
                   "ORDER BY turn_path.supply_id, position, field_id, ahead",
                   problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    size_t room = 0;
    while (status == STATUS_OK && sqlite3_step(statement) == SQLITE_ROW) {
        int ahead = sqlite3_column_int(statement, 1);
        if (ahead < 0 || ahead >= MORNING_AHEAD)
            continue;
        if (ahead == 0 && out->path_count == room) {
            room = room == 0 ? 16 : room * 2;
            struct stored_path *grown = realloc(out->path, room * sizeof *grown);
            if (grown == NULL) {
                status = STATUS_NO_MEMORY;
                break;
            }
            out->path = grown;
        }
        if (ahead == 0) {
            memset(&out->path[out->path_count], 0, sizeof *out->path);
            copy_text(statement, 0, out->path[out->path_count++].field);
        }
        if (out->path_count == 0)
            continue;
        struct stored_path *path = &out->path[out->path_count - 1];
        path->depletion_mm[ahead] = sqlite3_column_double(statement, 2);
        path->allowed_mm[ahead] = sqlite3_column_double(statement, 3);
        path->days = ahead + 1;
    }
    return db_finish(db, statement, status, problems);
}

void stored_turns_free(struct stored_turns *turns) {
    free(turns->supply);
    free(turns->turn);
    free(turns->path);
    free(turns->limit);
    free(turns->change);
    memset(turns, 0, sizeof *turns);
}

enum status turns_store_load(struct db *db, int32_t since, struct stored_turns *out,
                             struct problems *problems) {
    memset(out, 0, sizeof *out);
    enum status status = read_all(db, &plan_list, &out->supply, &out->supply_count, problems);
    if (status == STATUS_OK)
        status = load_hours(db, out, problems);
    if (status == STATUS_OK)
        status = turns_store_turns(db, NULL, since, &out->turn, &out->turn_count, problems);
    if (status == STATUS_OK)
        status = load_paths(db, out, problems);
    if (status == STATUS_OK)
        status = read_all(db, &limit_list, &out->limit, &out->limit_count, problems);
    if (status == STATUS_OK)
        status = read_all(db, &change_list, &out->change, &out->change_count, problems);
    if (status != STATUS_OK)
        stored_turns_free(out);
    return status;
}

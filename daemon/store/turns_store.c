/* The writing half of turns_store.h. */
#include "daemon/store/turns_store.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/turns_inside.h"

#define OF_SUPPLY "(SELECT supply_id FROM supply WHERE name = ?)"
#define OF_FIELD  "(SELECT field_id FROM field WHERE name = ?)"

void turns_made_free(struct turns_made *made) {
    free(made->turn);
    free(made->gone);
    free(made->path);
    free(made->limit);
    free(made->change);
    memset(made, 0, sizeof *made);
}

static void bind_name(sqlite3_stmt *statement, int index, const char *name) {
    sqlite3_bind_text(statement, index, name, -1, SQLITE_STATIC);
}

/* Binds columns from `first` on and runs the statement. */
static enum status put(struct db *db, sqlite3_stmt *statement, int first, enum turns_table table,
                       const void *row, struct problems *problems) {
    int count;
    const struct column *columns = turns_columns(table, &count);
    if (columns_bind(statement, first, columns, count, row) != SQLITE_OK)
        return db_trouble(db, "binding a turn", problems);
    return db_run(db, statement, "writing the turns", problems);
}

static sqlite3_stmt *prepare(struct db *db, const char *table, const char *keys, const char *values,
                             enum turns_table columns, struct problems *problems) {
    struct db_insert insert = {.table = table, .keys = keys, .key_values = values};
    insert.columns = turns_columns(columns, &insert.count);
    return db_prepare_insert(db, &insert, problems);
}

/* Runs a statement of which ?1 is a supply's name. */
static enum status run_named(struct db *db, const char *sql, const char *name, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    bind_name(statement, 1, name);
    enum status status = db_run(db, statement, "clearing a plan", problems);
    sqlite3_finalize(statement);
    return status;
}

/* ---- the plan */

static enum status put_plan(struct db *db, const struct stored_supply *plan, struct problems *problems) {
    struct db_insert insert = {.table = "turn_plan",
                               .keys = "supply_id, at",
                               .key_values = OF_SUPPLY ", ?",
                               .conflict = "supply_id",
                               .also = "at = excluded.at"};
    insert.columns = turns_columns(TURNS_TABLE_PLAN, &insert.count);
    sqlite3_stmt *statement = db_prepare_insert(db, &insert, problems);
    if (statement == NULL)
        return STATUS_STORE;
    bind_name(statement, 1, plan->supply);
    sqlite3_bind_int64(statement, 2, plan->at);
    enum status status = put(db, statement, 3, TURNS_TABLE_PLAN, plan, problems);
    sqlite3_finalize(statement);
    return status;
}

static enum status put_hours(struct db *db, const struct stored_supply *plan, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db,
        "INSERT INTO turn_plan_day (supply_id, ahead, hours_open, hours_run) VALUES (" OF_SUPPLY ", ?, ?, ?)",
        problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    for (int d = 0; status == STATUS_OK && d < plan->days; d++) {
        bind_name(statement, 1, plan->supply);
        sqlite3_bind_int(statement, 2, d);
        sqlite3_bind_int(statement, 3, plan->hours_open[d]);
        sqlite3_bind_int(statement, 4, plan->hours_run[d]);
        status = db_run(db, statement, "writing the hours of a plan", problems);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status put_paths(struct db *db, const struct turns_made *made, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "INSERT INTO turn_path (supply_id, field_id, ahead, depletion_mm, allowed_mm) "
                   "VALUES (" OF_SUPPLY ", " OF_FIELD ", ?, ?, ?)",
                   problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    for (size_t i = 0; i < made->path_count; i++)
        for (int d = 0; status == STATUS_OK && d < made->path[i].days; d++) {
            bind_name(statement, 1, made->supply.supply);
            bind_name(statement, 2, made->path[i].field);
            sqlite3_bind_int(statement, 3, d);
            sqlite3_bind_double(statement, 4, made->path[i].depletion_mm[d]);
            sqlite3_bind_double(statement, 5, made->path[i].allowed_mm[d]);
            status = db_run(db, statement, "writing the evenings of a plan", problems);
        }
    sqlite3_finalize(statement);
    return status;
}

static enum status put_limits(struct db *db, const struct turns_made *made, struct problems *problems) {
    sqlite3_stmt *statement = prepare(db, "turn_limit", "supply_id, position, field_id, dry_field_id",
                                      OF_SUPPLY ", ?, " OF_FIELD ", " OF_FIELD, TURNS_TABLE_LIMIT, problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    for (size_t i = 0; status == STATUS_OK && i < made->limit_count; i++) {
        bind_name(statement, 1, made->supply.supply);
        sqlite3_bind_int64(statement, 2, (sqlite3_int64)i);
        bind_name(statement, 3, made->limit[i].field);
        bind_name(statement, 4, made->limit[i].dry_field);
        status = put(db, statement, 5, TURNS_TABLE_LIMIT, &made->limit[i], problems);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status put_changes(struct db *db, const struct turns_made *made, struct problems *problems) {
    sqlite3_stmt *statement = prepare(db, "turn_change", "supply_id, position, field_id",
                                      OF_SUPPLY ", ?, " OF_FIELD, TURNS_TABLE_CHANGE, problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    for (size_t i = 0; status == STATUS_OK && i < made->change_count; i++) {
        bind_name(statement, 1, made->supply.supply);
        sqlite3_bind_int64(statement, 2, (sqlite3_int64)i);
        bind_name(statement, 3, made->change[i].field);
        status = put(db, statement, 4, TURNS_TABLE_CHANGE, &made->change[i], problems);
    }
    sqlite3_finalize(statement);
    return status;
}

/* ---- turns */

static enum status put_new(struct db *db, const struct stored_turn *turn, const char *seed,
                           struct problems *problems) {
    sqlite3_stmt *statement = prepare(db, "turn", "supply_id, field_id, changed_at",
                                      OF_SUPPLY ", " OF_FIELD ", ?", TURNS_TABLE_TURN, problems);
    sqlite3_stmt *name = db_prepare(
        db, "UPDATE turn SET uid = ?1 || '-' || turn_id || '@waterturn' WHERE turn_id = ?2", problems);
    enum status status = statement != NULL && name != NULL ? STATUS_OK : STATUS_STORE;
    if (status == STATUS_OK) {
        bind_name(statement, 1, turn->supply);
        bind_name(statement, 2, turn->field);
        sqlite3_bind_int64(statement, 3, turn->changed_at);
        status = put(db, statement, 4, TURNS_TABLE_TURN, turn, problems);
    }
    if (status == STATUS_OK) {
        bind_name(name, 1, seed);
        sqlite3_bind_int64(name, 2, sqlite3_last_insert_rowid(db->handle));
        status = db_run(db, name, "naming a turn", problems);
    }
    sqlite3_finalize(statement);
    sqlite3_finalize(name);
    return status;
}

static enum status put_again(struct db *db, const struct stored_turn *turn, struct problems *problems) {
    int count;
    const struct column *columns = turns_columns(TURNS_TABLE_TURN, &count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "UPDATE turn SET (changed_at, ");
    columns_list(&sql, "", columns, count);
    text_puts(&sql, ") = (?2, ");
    columns_marks(&sql, count);
    text_puts(&sql, ") WHERE turn_id = ?1");
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, turn->id);
    sqlite3_bind_int64(statement, 2, turn->changed_at);
    enum status status = put(db, statement, 3, TURNS_TABLE_TURN, turn, problems);
    sqlite3_finalize(statement);
    return status;
}

static enum status put_turns(struct db *db, const struct turns_made *made, const char *seed,
                             struct problems *problems) {
    sqlite3_stmt *drop = db_prepare(db, "DELETE FROM turn WHERE turn_id = ?", problems);
    enum status status = drop != NULL ? STATUS_OK : STATUS_STORE;
    for (size_t i = 0; status == STATUS_OK && i < made->gone_count; i++) {
        sqlite3_bind_int64(drop, 1, made->gone[i]);
        status = db_run(db, drop, "dropping a turn", problems);
    }
    sqlite3_finalize(drop);
    for (size_t i = 0; status == STATUS_OK && i < made->turn_count; i++)
        status = made->turn[i].id == 0 ? put_new(db, &made->turn[i], seed, problems)
                                       : put_again(db, &made->turn[i], problems);
    return status;
}

/* ---- all of it */

static enum status put_rest(struct db *db, const struct turns_made *made, bool changes,
                            struct problems *problems) {
    static const char *const clear[] = {"DELETE FROM turn_plan_day WHERE supply_id = " OF_SUPPLY,
                                        "DELETE FROM turn_path WHERE supply_id = " OF_SUPPLY,
                                        "DELETE FROM turn_limit WHERE supply_id = " OF_SUPPLY,
                                        "DELETE FROM turn_change WHERE supply_id = " OF_SUPPLY};
    enum status status = STATUS_OK;
    for (int i = 0; status == STATUS_OK && i < (changes ? 4 : 3); i++)
        status = run_named(db, clear[i], made->supply.supply, problems);
    if (status == STATUS_OK)
        status = put_hours(db, &made->supply, problems);
    if (status == STATUS_OK)
        status = put_paths(db, made, problems);
    if (status == STATUS_OK)
        status = put_limits(db, made, problems);
    return status == STATUS_OK && changes ? put_changes(db, made, problems) : status;
}

/* What the last plan made dearer; NaN: nothing was said then. */
static enum status last_change(struct db *db, const char *supply, double *cost, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "SELECT change_cost FROM turn_plan WHERE supply_id = " OF_SUPPLY, problems);
    *cost = NAN;
    if (statement == NULL)
        return STATUS_STORE;
    bind_name(statement, 1, supply);
    if (sqlite3_step(statement) == SQLITE_ROW && sqlite3_column_type(statement, 0) != SQLITE_NULL)
        *cost = sqlite3_column_double(statement, 0);
    return db_finish(db, statement, STATUS_OK, problems);
}

enum status turns_store_save(struct db *db, const struct turns_made *made, const char *seed,
                             struct problems *problems) {
    struct stored_supply plan = made->supply;
    int32_t day = CALENDAR_NONE;
    int first_hour = 0;
    enum status status = turns_store_made(db, plan.supply, &day, &first_hour, problems);
    bool first = status == STATUS_NOT_FOUND;
    if (status != STATUS_OK && !first)
        return status;
    bool same = !first && day == plan.day && first_hour == plan.first_hour;
    bool changes = made->change_count > 0 || !isnan(plan.change_cost) || !same;
    status = STATUS_OK;
    if (!changes)
        status = last_change(db, plan.supply, &plan.change_cost, problems);
    if (status == STATUS_OK)
        status = put_plan(db, &plan, problems);
    if (status == STATUS_OK)
        status = put_turns(db, made, seed, problems);
    struct turns_made rest = *made;
    /* A first plan is all new: that is no news. */
    rest.change_count = first ? 0 : made->change_count;
    return status == STATUS_OK ? put_rest(db, &rest, changes, problems) : status;
}

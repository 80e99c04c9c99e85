#include "daemon/store/supply_parts.h"

#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_columns.h"

#define PART(table, name, member, most)                                                                      \
    {                                                                                                        \
        table, name, offsetof(struct farm_supply, member), offsetof(struct farm_supply, member##_count),     \
            sizeof(((struct farm_supply *)0)->member[0]), most                                               \
    }

static const struct part {
    enum farm_table table;
    const char *name;
    size_t array, count, stride; /* within struct farm_supply */
    int most;
} parts[] = {
    PART(FARM_TABLE_WINDOW, "supply_window", window, FARM_WINDOWS_MAX),
    PART(FARM_TABLE_CLOSURE, "supply_closure", closed, FARM_CLOSURES_MAX),
    PART(FARM_TABLE_ALLOTMENT, "supply_allotment", allotment, FARM_ALLOTMENTS_MAX),
};

#define PART_COUNT (sizeof parts / sizeof parts[0])

static enum status save_part(struct db *db, const struct part *part, const struct farm *farm,
                             struct problems *problems) {
    struct db_insert insert = {.table = part->name,
                               .keys = "supply_id, position",
                               .key_values = "(SELECT supply_id FROM supply WHERE name = ?), ?"};
    insert.columns = farm_columns(part->table, &insert.count);
    struct text sql;
    text_init(&sql, 0);
    text_printf(&sql, "DELETE FROM %s", part->name);
    enum status status = text_failed(&sql) ? STATUS_NO_MEMORY : db_exec(db, text_string(&sql), problems);
    text_free(&sql);
    sqlite3_stmt *statement = status == STATUS_OK ? db_prepare_insert(db, &insert, problems) : NULL;
    if (statement == NULL)
        return status == STATUS_OK ? STATUS_STORE : status;
    for (size_t i = 0; i < farm->supply_count; i++) {
        const char *supply = (const char *)&farm->supply[i];
        int count;
        memcpy(&count, supply + part->count, sizeof count);
        for (int k = 0; status == STATUS_OK && k < count; k++) {
            sqlite3_bind_text(statement, 1, farm->supply[i].name, -1, SQLITE_STATIC);
            sqlite3_bind_int(statement, 2, k);
            (void)columns_bind(statement, 3, insert.columns, insert.count,
                               supply + part->array + (size_t)k * part->stride);
            status = db_run(db, statement, "writing the hours of a supply", problems);
        }
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status load_part(struct db *db, const struct part *part, struct farm *farm,
                             struct problems *problems) {
    int columns_count;
    const struct column *columns = farm_columns(part->table, &columns_count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT ");
    columns_list(&sql, "", columns, columns_count);
    text_printf(&sql, " FROM %s JOIN supply USING (supply_id) WHERE name = ? ORDER BY position", part->name);
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < farm->supply_count; i++) {
        char *supply = (char *)&farm->supply[i];
        int count = 0;
        sqlite3_bind_text(statement, 1, farm->supply[i].name, -1, SQLITE_STATIC);
        for (; count < part->most && sqlite3_step(statement) == SQLITE_ROW; count++)
            columns_read(statement, 0, columns, columns_count,
                         supply + part->array + (size_t)count * part->stride);
        memcpy(supply + part->count, &count, sizeof count);
        if (sqlite3_reset(statement) != SQLITE_OK)
            status = db_trouble(db, "reading the hours of a supply", problems);
    }
    return db_finish(db, statement, status, problems);
}

enum status supply_parts_save(struct db *db, const struct farm *farm, struct problems *problems) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < PART_COUNT; i++)
        status = save_part(db, &parts[i], farm, problems);
    return status;
}

enum status supply_parts_load(struct db *db, struct farm *farm, struct problems *problems) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < PART_COUNT; i++)
        status = load_part(db, &parts[i], farm, problems);
    return status;
}

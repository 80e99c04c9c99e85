#include "daemon/store/turn_mark_store.h"

#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_columns.h"
#include "daemon/store/farm_store.h"

enum status turn_mark_store_add(struct db *db, const struct farm_turn_mark *mark,
                                const struct turn_mark_said *said, long long *id, struct problems *problems) {
    enum status status = farm_store_has_field(db, mark->field, problems);
    if (status != STATUS_OK)
        return status;
    struct db_insert row = {.table = "turn_mark",
                            .keys = "field_id, at, who",
                            .key_values = "(SELECT field_id FROM field WHERE name = ?), ?, ?"};
    row.columns = farm_columns(FARM_TABLE_TURN_MARK, &row.count);
    sqlite3_stmt *statement = db_prepare_insert(db, &row, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, mark->field, -1, SQLITE_STATIC);
    if (said != NULL)
        sqlite3_bind_int64(statement, 2, said->at);
    sqlite3_bind_text(statement, 3, said != NULL ? said->who : "", -1, SQLITE_STATIC);
    (void)columns_bind(statement, 4, row.columns, row.count, mark);
    status = db_run(db, statement, "keeping a word on turns", problems);
    sqlite3_finalize(statement);
    if (status == STATUS_OK && id != NULL)
        *id = sqlite3_last_insert_rowid(db->handle);
    return status;
}

enum status turn_mark_store_find(struct db *db, const struct farm_turn_mark *mark,
                                 struct problems *problems) {
    int count;
    const struct column *columns = farm_columns(FARM_TABLE_TURN_MARK, &count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT 1 FROM turn_mark WHERE field_id = (SELECT field_id FROM field WHERE name = ?)");
    for (int i = 0; i < count; i++)
        text_printf(&sql, " AND %s IS ?", columns[i].name);
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, mark->field, -1, SQLITE_STATIC);
    (void)columns_bind(statement, 2, columns, count, mark);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW    ? STATUS_OK
                         : code == SQLITE_DONE ? STATUS_NOT_FOUND
                                               : db_trouble(db, "looking for a word on turns", problems);
    return db_finish(db, statement, status, problems);
}

enum status turn_mark_store_get(struct db *db, long long id, struct farm_turn_mark *out,
                                struct problems *problems) {
    int count;
    const struct column *columns = farm_columns(FARM_TABLE_TURN_MARK, &count);
    static const struct column field = COLUMN(COLUMN_TEXT, farm_turn_mark, field, "field");
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT name, ");
    columns_list(&sql, "turn_mark.", columns, count);
    text_puts(&sql, " FROM turn_mark JOIN field USING (field_id) WHERE turn_mark_id = ?");
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW    ? STATUS_OK
                         : code == SQLITE_DONE ? STATUS_NOT_FOUND
                                               : db_trouble(db, "reading a word on turns", problems);
    if (status == STATUS_OK) {
        memset(out, 0, sizeof *out);
        columns_read(statement, 0, &field, 1, out);
        columns_read(statement, 1, columns, count, out);
    }
    return db_finish(db, statement, status, problems);
}

enum status turn_mark_store_remove(struct db *db, long long id, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, "DELETE FROM turn_mark WHERE turn_mark_id = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    enum status status = db_run(db, statement, "taking back a word on turns", problems);
    sqlite3_finalize(statement);
    return status == STATUS_OK && sqlite3_changes(db->handle) == 0 ? STATUS_NOT_FOUND : status;
}

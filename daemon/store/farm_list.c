#include "daemon/store/farm_list.h"

#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"

void farm_scope_bind(sqlite3_stmt *statement, const struct farm_scope *scope) {
    if (scope->name != NULL) {
        sqlite3_bind_text(statement, 1, scope->name, -1, SQLITE_STATIC);
        return;
    }
    sqlite3_bind_int64(statement, 1, scope->first);
    sqlite3_bind_int64(statement, 2, scope->last);
}

sqlite3_stmt *farm_list_prepare(struct db *db, const struct farm_list *list, struct problems *problems) {
    int count;
    const struct column *columns = farm_columns(list->table, &count);
    return db_prepare_columns(db, list->before, list->prefix, columns, count, list->after, problems);
}

enum status farm_list_rows(struct db *db, const struct farm_list *list, sqlite3_stmt *statement, void *member,
                           size_t *count, struct problems *problems) {
    char *rows = NULL;
    int columns_count;
    const struct column *columns = farm_columns(list->table, &columns_count);
    enum status status = STATUS_OK;
    size_t room = 0;
    int code = SQLITE_DONE;
    while (status == STATUS_OK && (code = sqlite3_step(statement)) == SQLITE_ROW) {
        if (*count == room) {
            room = room == 0 ? 16 : room * 2;
            char *grown = realloc(rows, room * list->size);
            if (grown == NULL) {
                status = STATUS_NO_MEMORY;
                break;
            }
            rows = grown;
        }
        char *row = rows + *count * list->size;
        memset(row, 0, list->size);
        for (int i = 0; i < list->names; i++) {
            const struct column name = {"", COLUMN_TEXT, list->name_offset[i], FARM_NAME_SIZE};
            columns_read(statement, i, &name, 1, row);
        }
        columns_read(statement, list->names, columns, columns_count, row);
        ++*count;
    }
    if (status == STATUS_OK && code != SQLITE_DONE)
        status = db_trouble(db, "reading the farm book", problems);
    sqlite3_reset(statement);
    memcpy(member, &rows, sizeof rows);
    return status;
}

enum status farm_list_ids(sqlite3_stmt *statement, size_t count, long long **ids, int32_t **days) {
    *ids = calloc(count + 1, sizeof **ids);
    if (days != NULL)
        *days = calloc(count + 1, sizeof **days);
    if (*ids == NULL || (days != NULL && *days == NULL))
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < count && sqlite3_step(statement) == SQLITE_ROW; i++) {
        (*ids)[i] = sqlite3_column_int64(statement, 0);
        if (days != NULL)
            (*days)[i] = sqlite3_column_type(statement, 1) == SQLITE_NULL ? CALENDAR_NONE
                                                                          : sqlite3_column_int(statement, 1);
    }
    return STATUS_OK;
}

#include "daemon/store/columns.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "core/base/calendar.h"

static int column_bind(sqlite3_stmt *statement, int index, const struct column *column, const char *member) {
    switch (column->type) {
    case COLUMN_REAL: {
        double value;
        memcpy(&value, member, sizeof value);
        return isnan(value) ? sqlite3_bind_null(statement, index)
                            : sqlite3_bind_double(statement, index, value);
    }
    case COLUMN_INT: {
        int value;
        memcpy(&value, member, sizeof value);
        return sqlite3_bind_int(statement, index, value);
    }
    case COLUMN_BYTE:
        return sqlite3_bind_int(statement, index, *(const uint8_t *)member);
    case COLUMN_BOOL:
        return sqlite3_bind_int(statement, index, *(const bool *)member ? 1 : 0);
    case COLUMN_DAY: {
        int32_t value;
        memcpy(&value, member, sizeof value);
        return value == CALENDAR_NONE ? sqlite3_bind_null(statement, index)
                                      : sqlite3_bind_int(statement, index, value);
    }
    case COLUMN_TEXT:
        return sqlite3_bind_text(statement, index, member, -1, SQLITE_TRANSIENT);
    }
    return SQLITE_MISUSE;
}

int columns_bind(sqlite3_stmt *statement, int first, const struct column *columns, int count,
                 const void *base) {
    for (int i = 0; i < count; i++) {
        int code = column_bind(statement, first + i, &columns[i], (const char *)base + columns[i].offset);
        if (code != SQLITE_OK)
            return code;
    }
    return SQLITE_OK;
}

static void text_read(sqlite3_stmt *statement, int index, char *member, size_t size) {
    const char *text = (const char *)sqlite3_column_text(statement, index);
    size_t length = text != NULL ? strlen(text) : 0;
    if (length >= size) {
        length = size - 1;
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80)
            length--;
    }
    memset(member, 0, size);
    if (length > 0)
        memcpy(member, text, length);
}

/* What is not there reads as 0 by every type. */
static bool is_null(sqlite3_stmt *statement, int index) {
    return sqlite3_column_type(statement, index) == SQLITE_NULL;
}

static void column_read(sqlite3_stmt *statement, int index, const struct column *column, char *member) {
    switch (column->type) {
    case COLUMN_REAL: {
        double value = sqlite3_column_double(statement, index);
        if (value == 0 && is_null(statement, index))
            value = (double)NAN;
        memcpy(member, &value, sizeof value);
        break;
    }
    case COLUMN_INT: {
        int value = sqlite3_column_int(statement, index);
        memcpy(member, &value, sizeof value);
        break;
    }
    case COLUMN_BYTE:
        *(uint8_t *)member = (uint8_t)sqlite3_column_int(statement, index);
        break;
    case COLUMN_BOOL:
        *(bool *)member = sqlite3_column_int(statement, index) != 0;
        break;
    case COLUMN_DAY: {
        int32_t value = sqlite3_column_int(statement, index);
        if (value == 0 && is_null(statement, index))
            value = CALENDAR_NONE;
        memcpy(member, &value, sizeof value);
        break;
    }
    case COLUMN_TEXT:
        text_read(statement, index, member, column->size);
        break;
    }
}

void columns_read(sqlite3_stmt *statement, int first, const struct column *columns, int count, void *base) {
    for (int i = 0; i < count; i++)
        column_read(statement, first + i, &columns[i], (char *)base + columns[i].offset);
}

void columns_list(struct text *sql, const char *prefix, const struct column *columns, int count) {
    for (int i = 0; i < count; i++)
        text_printf(sql, "%s%s%s", i > 0 ? ", " : "", prefix, columns[i].name);
}

void columns_marks(struct text *sql, int count) {
    for (int i = 0; i < count; i++)
        text_puts(sql, i > 0 ? ", ?" : "?");
}

void columns_updates(struct text *sql, const struct column *columns, int count) {
    for (int i = 0; i < count; i++)
        text_printf(sql, "%s%s = excluded.%s", i > 0 ? ", " : "", columns[i].name, columns[i].name);
}

#include "daemon/store/schema.h"

#include <stdio.h>
#include <string.h>

#include "daemon/base/asset.h"

static const struct {
    const char *script;
    uint64_t mark; /* schema_mark() after it */
} versions[DB_VERSION] = {{"daemon/store/schema.sql", 0xf41d815bd189bc79U},
                          {"daemon/store/migration_2.sql", 0x216756fb83cc7d8cU},
                          {"daemon/store/migration_3.sql", 0x824517a4f1b3d1bcU},
                          {"daemon/store/migration_4.sql", 0x83f55a6c0c9b2031U},
                          {"daemon/store/migration_5.sql", 0xe19bbadb8d26382fU},
                          {"daemon/store/migration_6.sql", 0xe19bbadb8d26382fU}};

/* What is SQLite's, and the table that a morning in parts makes and puts into another's place. */
#define OURS "name NOT LIKE 'sqlite\\_%' ESCAPE '\\' AND name <> 'ahead_beside'"

const char *schema_script(int version) {
    return (const char *)asset_find(versions[version - 1].script)->bytes;
}

uint64_t schema_mark_of(int version) {
    return versions[version - 1].mark;
}

/* FNV-1a. */
static uint64_t mark_add(uint64_t mark, const char *text) {
    do
        mark = (mark ^ (unsigned char)*text) * 0x100000001b3U;
    while (*text++ != '\0');
    return mark;
}

enum status schema_mark(struct db *db, uint64_t *mark, struct problems *problems) {
    /* From its '(' on: the text of a table that was renamed begins with another writing of its name. */
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT type || name || substr(sql, instr(sql, '(')) FROM sqlite_schema WHERE " OURS
                   " ORDER BY type, name",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    *mark = 0xcbf29ce484222325U;
    while (sqlite3_step(statement) == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(statement, 0);
        *mark = mark_add(*mark, text != NULL ? text : "");
    }
    return db_finish(db, statement, STATUS_OK, problems);
}

/* ---- what is not as it should be ---- */

/* Objects and, behind each table, its columns. */
static const char parts_sql[] =
    "SELECT name AS part, type, '' FROM sqlite_schema WHERE " OURS
    " UNION ALL SELECT s.name || '.' || c.name, 'column', c.type || iif(c.\"notnull\", ' NOT NULL', '') || "
    "coalesce(' DEFAULT ' || c.dflt_value, '') || iif(c.pk > 0, ', part ' || c.pk || ' of the key', '') "
    "FROM (SELECT name FROM sqlite_schema WHERE type = 'table' AND " OURS
    ") AS s, pragma_table_xinfo(s.name) AS c ORDER BY part";

struct parts {
    struct db *db;
    sqlite3_stmt *statement;
    const char *name, *type, *what; /* NULL: after the last */
    char told[128];                 /* the table that was told to lack, or to be too many */
};

static enum status parts_next(struct parts *parts, struct problems *problems) {
    int code = sqlite3_step(parts->statement);
    bool row = code == SQLITE_ROW;
    parts->name = row ? (const char *)sqlite3_column_text(parts->statement, 0) : NULL;
    parts->type = row ? (const char *)sqlite3_column_text(parts->statement, 1) : NULL;
    parts->what = row ? (const char *)sqlite3_column_text(parts->statement, 2) : NULL;
    if (row && (parts->name == NULL || parts->type == NULL || parts->what == NULL))
        return STATUS_NO_MEMORY;
    return row || code == SQLITE_DONE ? STATUS_OK : db_trouble(parts->db, "comparing its tables", problems);
}

/* A table is told once, not each of its columns. */
static bool is_told(struct parts *parts) {
    size_t size = strlen(parts->told);
    if (size > 0 && strncmp(parts->name, parts->told, size) == 0 && parts->name[size] == '.')
        return true;
    (void)snprintf(parts->told, sizeof parts->told, "%s", parts->name);
    return false;
}

static bool may_be_added(const char *type) {
    return strcmp(type, "index") == 0 || strcmp(type, "view") == 0;
}

/* Tells the difference of two parts; the one before the other by name (`order` below or above 0) is alone.
 * False: there is none. */
static bool tell(struct parts *found, struct parts *wanted, int order, struct problems *problems) {
    const char *path = found->db->path;
    if (order == 0 && strcmp(found->type, wanted->type) == 0 && strcmp(found->what, wanted->what) == 0)
        return false;
    if (order < 0 && may_be_added(found->type))
        return false;
    if (order == 0)
        problem_add(problems, path, 0, 0, NULL, "found %s as a %s %s, expected a %s %s", found->name,
                    found->type, found->what, wanted->type, wanted->what);
    else if (order > 0 && !is_told(wanted))
        problem_add(problems, path, 0, 0, NULL, "found no %s %s, expected one", wanted->type, wanted->name);
    else if (order < 0 && !is_told(found))
        problem_add(problems, path, 0, 0, NULL, "found a %s %s, expected none", found->type, found->name);
    return true;
}

static enum status compare(struct parts *found, struct parts *wanted, bool *differs,
                           struct problems *problems) {
    enum status status = parts_next(found, problems);
    if (status == STATUS_OK)
        status = parts_next(wanted, problems);
    while (status == STATUS_OK && (found->name != NULL || wanted->name != NULL)) {
        int order = found->name == NULL ? 1 : wanted->name == NULL ? -1 : strcmp(found->name, wanted->name);
        *differs |= tell(found, wanted, order, problems);
        if (order <= 0)
            status = parts_next(found, problems);
        if (status == STATUS_OK && order >= 0)
            status = parts_next(wanted, problems);
    }
    return status;
}

/* A database in memory, as the scripts make it. */
static enum status make_wanted(struct db *wanted, int version, struct problems *problems) {
    enum status status = STATUS_OK;
    if (sqlite3_open_v2(":memory:", &wanted->handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) !=
        SQLITE_OK)
        return db_trouble(wanted, "opening memory", problems);
    for (int i = 1; status == STATUS_OK && i <= version; i++)
        status = db_exec(wanted, schema_script(i), problems);
    return status;
}

enum status schema_check(struct db *db, int version, struct problems *problems) {
    uint64_t mark;
    enum status status = schema_mark(db, &mark, problems);
    if (status != STATUS_OK || mark == versions[version - 1].mark)
        return status;
    struct db memory = {.path = db->path};
    struct parts found = {.db = db}, wanted = {.db = &memory};
    bool differs = false;
    status = make_wanted(&memory, version, problems);
    if (status == STATUS_OK) {
        found.statement = db_prepare(db, parts_sql, problems);
        wanted.statement = db_prepare(&memory, parts_sql, problems);
        status = found.statement != NULL && wanted.statement != NULL
                     ? compare(&found, &wanted, &differs, problems)
                     : STATUS_STORE;
    }
    sqlite3_finalize(found.statement);
    sqlite3_finalize(wanted.statement);
    sqlite3_close(memory.handle);
    text_free(&memory.trouble);
    if (status != STATUS_OK || !differs)
        return status;
    struct text advice;
    text_init(&advice, 0);
    db_advise(db, &advice);
    problem_add(problems, db->path, 0, 0, NULL,
                "its tables are not those of database version %d, and it was not changed%s", version,
                text_string(&advice));
    text_free(&advice);
    return STATUS_REFUSED;
}

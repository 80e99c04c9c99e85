#include "daemon/store/access_store.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"

static const char *const role_names[] = {"nobody", "reader", "operator", "manager"};

const char *access_role_name(enum access_role role) {
    return role_names[role >= ACCESS_NOBODY && role <= ACCESS_MANAGER ? role : ACCESS_NOBODY];
}

enum access_role access_role_named(const char *name) {
    for (enum access_role role = ACCESS_READER; role <= ACCESS_MANAGER; role++) {
        if (strcmp(role_names[role], name) == 0)
            return role;
    }
    return ACCESS_NOBODY;
}

#define DEVICE_COLUMNS "device_id, name, role, paired_at, seen_at, coalesce(revoked_at, 0)"

static void read_device(sqlite3_stmt *row, struct access_device *out) {
    static const struct column name = COLUMN(COLUMN_TEXT, access_device, name, "name");
    memset(out, 0, sizeof *out);
    out->id = sqlite3_column_int64(row, 0);
    columns_read(row, 1, &name, 1, out);
    int role = sqlite3_column_int(row, 2);
    out->role = role >= ACCESS_READER && role <= ACCESS_MANAGER ? (enum access_role)role : ACCESS_NOBODY;
    out->paired_at = sqlite3_column_int64(row, 3);
    out->seen_at = sqlite3_column_int64(row, 4);
    out->revoked_at = sqlite3_column_int64(row, 5);
}

static bool bind_hash(sqlite3_stmt *statement, int index, const unsigned char hash[ACCESS_HASH_SIZE]) {
    return sqlite3_bind_blob(statement, index, hash, ACCESS_HASH_SIZE, SQLITE_TRANSIENT) == SQLITE_OK;
}

/* The one row of a statement whose parameters are bound; finalizes it. */
static enum status one_device(struct db *db, sqlite3_stmt *statement, bool bound, struct access_device *out,
                              struct problems *problems) {
    if (statement == NULL)
        return STATUS_STORE;
    int code = bound ? sqlite3_step(statement) : SQLITE_ERROR;
    enum status status = STATUS_OK;
    if (code == SQLITE_ROW)
        read_device(statement, out);
    else
        status = code == SQLITE_DONE ? STATUS_NOT_FOUND : db_trouble(db, "looking for a device", problems);
    return db_finish(db, statement, status, problems);
}

/* Runs a statement whose parameters are bound; finalizes it. STATUS_NOT_FOUND when it changed no row. */
static enum status change(struct db *db, sqlite3_stmt *statement, bool bound, struct problems *problems) {
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = bound ? db_run(db, statement, "writing who may come in", problems)
                               : db_trouble(db, "writing who may come in", problems);
    sqlite3_finalize(statement);
    if (status == STATUS_OK && sqlite3_changes(db->handle) == 0)
        status = STATUS_NOT_FOUND;
    return status;
}

enum status access_store_invite(struct db *db, const char *name, enum access_role role,
                                const unsigned char code_hash[ACCESS_HASH_SIZE], int64_t at, int64_t until,
                                struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "INSERT INTO invitation (name, role, code_hash, made_at, until_at) VALUES (?, ?, ?, ?, ?)",
        problems);
    bool bound = statement != NULL &&
                 sqlite3_bind_text(statement, 1, name, -1, SQLITE_TRANSIENT) == SQLITE_OK &&
                 sqlite3_bind_int(statement, 2, (int)role) == SQLITE_OK &&
                 bind_hash(statement, 3, code_hash) && sqlite3_bind_int64(statement, 4, at) == SQLITE_OK &&
                 sqlite3_bind_int64(statement, 5, until) == SQLITE_OK;
    return change(db, statement, bound, problems);
}

enum status access_store_invited(struct db *db, const unsigned char code_hash[ACCESS_HASH_SIZE], int64_t at,
                                 struct access_device *out, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT invitation_id, name, role, made_at, until_at, 0 FROM invitation "
                   "WHERE code_hash = ?1 AND device_id IS NULL AND ?2 >= made_at AND ?2 < until_at",
                   problems);
    bool bound = statement != NULL && bind_hash(statement, 1, code_hash) &&
                 sqlite3_bind_int64(statement, 2, at) == SQLITE_OK;
    return one_device(db, statement, bound, out, problems);
}

enum status access_store_add(struct db *db, const char *name, enum access_role role,
                             const unsigned char token_hash[ACCESS_HASH_SIZE], int64_t at, long long *id,
                             struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "INSERT INTO device (name, role, token_hash, paired_at, seen_at) VALUES (?1, ?2, ?3, ?4, ?4)",
        problems);
    bool bound = statement != NULL &&
                 sqlite3_bind_text(statement, 1, name, -1, SQLITE_TRANSIENT) == SQLITE_OK &&
                 sqlite3_bind_int(statement, 2, (int)role) == SQLITE_OK &&
                 bind_hash(statement, 3, token_hash) && sqlite3_bind_int64(statement, 4, at) == SQLITE_OK;
    enum status status = change(db, statement, bound, problems);
    if (status == STATUS_OK)
        *id = sqlite3_last_insert_rowid(db->handle);
    return status;
}

static enum status use_up(struct db *db, long long invitation, long long device, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "UPDATE invitation SET device_id = ? WHERE invitation_id = ? AND device_id IS NULL", problems);
    bool bound = statement != NULL && sqlite3_bind_int64(statement, 1, device) == SQLITE_OK &&
                 sqlite3_bind_int64(statement, 2, invitation) == SQLITE_OK;
    return change(db, statement, bound, problems);
}

enum status access_store_pair(struct db *db, const unsigned char code_hash[ACCESS_HASH_SIZE],
                              const unsigned char token_hash[ACCESS_HASH_SIZE], int64_t at,
                              struct access_device *out, struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    long long id = 0;
    status = access_store_invited(db, code_hash, at, out, problems);
    if (status == STATUS_OK)
        status = access_store_add(db, out->name, out->role, token_hash, at, &id, problems);
    if (status == STATUS_OK)
        status = use_up(db, out->id, id, problems);
    out->id = id;
    out->paired_at = out->seen_at = at;
    return db_end(db, status, problems);
}

enum status access_store_find(struct db *db, const unsigned char token_hash[ACCESS_HASH_SIZE],
                              struct access_device *out, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT " DEVICE_COLUMNS " FROM device WHERE token_hash = ? AND revoked_at IS NULL", problems);
    return one_device(db, statement, statement != NULL && bind_hash(statement, 1, token_hash), out, problems);
}

static enum status set_time(struct db *db, const char *sql, long long id, int64_t at,
                            struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    bool bound = statement != NULL && sqlite3_bind_int64(statement, 1, at) == SQLITE_OK &&
                 sqlite3_bind_int64(statement, 2, id) == SQLITE_OK;
    return change(db, statement, bound, problems);
}

enum status access_store_seen(struct db *db, long long id, int64_t at, struct problems *problems) {
    return set_time(db, "UPDATE device SET seen_at = ? WHERE device_id = ?", id, at, problems);
}

enum status access_store_revoke(struct db *db, long long id, int64_t at, struct problems *problems) {
    return set_time(db, "UPDATE device SET revoked_at = ? WHERE device_id = ? AND revoked_at IS NULL", id, at,
                    problems);
}

enum status access_store_list(struct db *db, struct access_device **out, size_t *count,
                              struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT " DEVICE_COLUMNS " FROM device ORDER BY revoked_at IS NOT NULL, name, device_id",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    struct access_device *list = NULL;
    size_t used = 0, room = 0;
    int code;
    enum status status = STATUS_OK;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        if (used == room) {
            room = room == 0 ? 8 : room * 2;
            struct access_device *more = realloc(list, room * sizeof *list);
            if (more == NULL) {
                status = STATUS_NO_MEMORY;
                break;
            }
            list = more;
        }
        read_device(statement, &list[used++]);
    }
    if (status == STATUS_OK && code != SQLITE_DONE)
        status = db_trouble(db, "listing the devices", problems);
    sqlite3_finalize(statement);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = used;
    return STATUS_OK;
}

enum status access_store_any(struct db *db, bool *any, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "SELECT EXISTS (SELECT 1 FROM device) OR EXISTS (SELECT 1 FROM invitation)", problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    if (sqlite3_step(statement) == SQLITE_ROW)
        *any = sqlite3_column_int(statement, 0) != 0;
    else
        status = db_trouble(db, "looking for devices", problems);
    return db_finish(db, statement, status, problems);
}

enum status access_store_has_manager(struct db *db, int64_t at, bool *has, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT EXISTS (SELECT 1 FROM device WHERE role = ?1 AND revoked_at IS NULL) OR EXISTS "
                   "(SELECT 1 FROM invitation WHERE role = ?1 AND device_id IS NULL AND ?2 < until_at)",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    sqlite3_bind_int(statement, 1, ACCESS_MANAGER);
    sqlite3_bind_int64(statement, 2, at);
    if (sqlite3_step(statement) == SQLITE_ROW)
        *has = sqlite3_column_int(statement, 0) != 0;
    else
        status = db_trouble(db, "looking for a manager", problems);
    return db_finish(db, statement, status, problems);
}

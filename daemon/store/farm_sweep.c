#include "daemon/store/farm_sweep.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"

/* The names of a list of the farm, each with its day where that is part of the key, sorted. */
struct key {
    const char *name;
    int32_t day;
};

struct keys {
    struct key *key;
    size_t count;
};

static int by_key(const void *left, const void *right) {
    const struct key *a = left, *b = right;
    int order = strcmp(a->name, b->name);
    return order != 0 ? order : (a->day > b->day) - (a->day < b->day);
}

/* Every entry of a list begins with its name; `day_at` is where its day stands, 0: it has none. */
static enum status keys_make(const void *list, size_t count, size_t size, size_t day_at, struct keys *keys) {
    keys->count = count;
    keys->key = calloc(count + 1, sizeof *keys->key);
    if (keys->key == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const char *entry = (const char *)list + i * size;
        keys->key[i].name = entry;
        if (day_at > 0)
            memcpy(&keys->key[i].day, entry + day_at, sizeof keys->key[i].day);
    }
    qsort(keys->key, count, sizeof *keys->key, by_key);
    return STATUS_OK;
}

static bool keys_have(const struct keys *keys, const char *name, int32_t day) {
    const struct key key = {name, day};
    return bsearch(&key, keys->key, keys->count, sizeof *keys->key, by_key) != NULL;
}

enum status farm_sweep_judge(struct db *db, const struct farm *farm, struct problems *problems) {
    struct keys keys;
    enum status status = keys_make(farm->field, farm->field_count, sizeof *farm->field, 0, &keys);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *select = db_prepare(db,
                                      "SELECT field.name, count(*) FROM record JOIN field USING (field_id) "
                                      "GROUP BY field_id ORDER BY field.position",
                                      problems);
    status = select != NULL ? STATUS_OK : STATUS_STORE;
    while (select != NULL && sqlite3_step(select) == SQLITE_ROW) {
        const char *name = (const char *)sqlite3_column_text(select, 0);
        if (keys_have(&keys, name, 0))
            continue;
        problem_add(
            problems, db->path, 0, 0, name,
            "found %d records of this field, expected the field in the farm file; add it, or import with "
            "--replace to drop the field and its records",
            sqlite3_column_int(select, 1));
        status = STATUS_REFUSED;
    }
    free(keys.key);
    return db_finish(db, select, status, problems);
}

static enum status sweep_one(struct db *db, const char *select_sql, const char *remove_sql,
                             const struct keys *keys, struct problems *problems) {
    sqlite3_stmt *select = db_prepare(db, select_sql, problems);
    sqlite3_stmt *remove = db_prepare(db, remove_sql, problems);
    enum status status = select != NULL && remove != NULL ? STATUS_OK : STATUS_STORE;
    while (status == STATUS_OK && sqlite3_step(select) == SQLITE_ROW) {
        if (keys_have(keys, (const char *)sqlite3_column_text(select, 1), sqlite3_column_int(select, 2)))
            continue;
        sqlite3_bind_int64(remove, 1, sqlite3_column_int64(select, 0));
        status = db_run(db, remove, "removing what the farm file no longer has", problems);
    }
    sqlite3_finalize(remove);
    return db_finish(db, select, status, problems);
}

enum status farm_sweep(struct db *db, const struct farm *farm, struct problems *problems) {
    /* In the order in which it can go. */
    const struct {
        const char *select, *remove;
        const void *list;
        size_t count, size, day_at;
    } sweeps[] = {
        {"SELECT planting_id, field.name, planting_day FROM planting JOIN field USING (field_id)",
         "DELETE FROM planting WHERE planting_id = ?", farm->planting, farm->planting_count,
         sizeof *farm->planting, offsetof(struct farm_planting, planting_date)},
        {"SELECT field_id, name, 0 FROM field", "DELETE FROM field WHERE field_id = ?", farm->field,
         farm->field_count, sizeof *farm->field, 0},
        {"SELECT source_id, name, 0 FROM source", "DELETE FROM source WHERE source_id = ?", farm->source,
         farm->source_count, sizeof *farm->source, 0},
        {"SELECT supply_id, name, 0 FROM supply", "DELETE FROM supply WHERE supply_id = ?", farm->supply,
         farm->supply_count, sizeof *farm->supply, 0},
        {"SELECT soil_id, name, 0 FROM soil", "DELETE FROM soil WHERE soil_id = ?", farm->soil,
         farm->soil_count, sizeof *farm->soil, 0},
        {"SELECT station_id, name, 0 FROM station", "DELETE FROM station WHERE station_id = ?", farm->station,
         farm->station_count, sizeof *farm->station, 0},
    };
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < sizeof sweeps / sizeof sweeps[0]; i++) {
        struct keys keys;
        status = keys_make(sweeps[i].list, sweeps[i].count, sweeps[i].size, sweeps[i].day_at, &keys);
        if (status == STATUS_OK)
            status = sweep_one(db, sweeps[i].select, sweeps[i].remove, &keys, problems);
        free(keys.key);
    }
    return status;
}

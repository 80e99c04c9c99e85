/* What farm_store.h tells of a farm without reading it: how much there is, and the ids of its rows. */
#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_store.h"

enum status farm_store_count(struct db *db, struct farm_counts *out, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT (SELECT count(*) FROM station), (SELECT count(*) FROM source), "
                   "(SELECT count(*) FROM source WHERE tried_at IS NULL), (SELECT count(*) FROM field)",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW ? STATUS_OK : db_trouble(db, "counting the farm book", problems);
    if (status == STATUS_OK)
        *out = (struct farm_counts){sqlite3_column_int(statement, 0), sqlite3_column_int(statement, 1),
                                    sqlite3_column_int(statement, 2), sqlite3_column_int(statement, 3)};
    return db_finish(db, statement, status, problems);
}

enum status farm_store_has_field(struct db *db, const char *field, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, "SELECT 1 FROM field WHERE name = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, field, -1, SQLITE_STATIC);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW    ? STATUS_OK
                         : code == SQLITE_DONE ? STATUS_NOT_FOUND
                                               : db_trouble(db, "looking for a field", problems);
    return db_finish(db, statement, status, problems);
}

/* At most `count` ids, and as many days when they are asked for. */
static enum status ids_read(struct db *db, const char *sql, const struct scope *scope, size_t count,
                            long long **ids, int32_t **days, struct problems *problems) {
    *ids = calloc(count + 1, sizeof **ids);
    if (days != NULL)
        *days = calloc(count + 1, sizeof **days);
    if (*ids == NULL || (days != NULL && *days == NULL))
        return STATUS_NO_MEMORY;
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    if (scope != NULL)
        scope_bind(statement, scope);
    for (size_t i = 0; i < count && sqlite3_step(statement) == SQLITE_ROW; i++) {
        (*ids)[i] = sqlite3_column_int64(statement, 0);
        if (days != NULL)
            (*days)[i] = sqlite3_column_type(statement, 1) == SQLITE_NULL ? CALENDAR_NONE
                                                                          : sqlite3_column_int(statement, 1);
    }
    return db_finish(db, statement, STATUS_OK, problems);
}

static enum status place_ids(struct db *db, const struct farm *farm, struct farm_ids *ids,
                             struct problems *problems) {
    enum status status = ids_read(db, "SELECT station_id FROM station ORDER BY station_id", NULL,
                                  farm->station_count, &ids->station, NULL, problems);
    return status == STATUS_OK ? ids_read(db, "SELECT source_id FROM source ORDER BY position", NULL,
                                          farm->source_count, &ids->source, NULL, problems)
                               : status;
}

/* The order of each query is that of farm_store_load(). */
enum status farm_store_ids(struct db *db, const struct farm *farm, struct farm_ids *ids,
                           struct problems *problems) {
    memset(ids, 0, sizeof *ids);
    enum status status = place_ids(db, farm, ids, problems);
    if (status == STATUS_OK)
        status = ids_read(db, "SELECT field_id FROM field ORDER BY position", NULL, farm->field_count,
                          &ids->field, NULL, problems);
    if (status == STATUS_OK)
        status = ids_read(db,
                          "SELECT planting_id, dirty_day FROM planting JOIN field USING (field_id) "
                          "ORDER BY field.position, planting_day",
                          NULL, farm->planting_count, &ids->planting, &ids->dirty, problems);
    if (status != STATUS_OK)
        farm_ids_free(ids);
    return status;
}

/* ---- part by part ---- */

enum status farm_store_load_places(struct db *db, struct farm *farm, struct farm_ids *ids,
                                   struct problems *problems) {
    memset(ids, 0, sizeof *ids);
    enum status status = farm_store_head(db, farm, problems);
    if (status == STATUS_OK)
        status = list_read(db, &station_list, NULL, &farm->station, &farm->station_count, problems);
    if (status == STATUS_OK)
        status = list_read(db, &source_list, NULL, &farm->source, &farm->source_count, problems);
    if (status == STATUS_OK)
        status = list_read(db, &soil_list, NULL, &farm->soil, &farm->soil_count, problems);
    if (status == STATUS_OK)
        status = load_layers(db, farm, problems);
    if (status == STATUS_OK)
        status = load_neighbours(db, farm, problems);
    if (status == STATUS_OK)
        status = place_ids(db, farm, ids, problems);
    if (status != STATUS_OK) {
        farm_ids_free(ids);
        farm_free(farm);
    }
    return status;
}

static void drop_part(struct farm *farm, struct farm_ids *ids) {
    free(farm->field);
    free(farm->planting);
    free(farm->record);
    free(ids->field);
    free(ids->planting);
    free(ids->dirty);
    farm->field = NULL;
    farm->planting = NULL;
    farm->record = NULL;
    farm->field_count = farm->planting_count = farm->record_count = 0;
    ids->field = ids->planting = NULL;
    ids->dirty = NULL;
}

/* The ids of the part's fields, which say what else is read. */
static enum status part_ids(struct db *db, const struct farm_part *part, struct farm_ids *ids,
                            struct scope *scope, struct problems *problems) {
    const struct scope asked = {part->field, part->after, FARM_PART_FIELDS};
    size_t count = part->field != NULL ? 1 : FARM_PART_FIELDS;
    enum status status = ids_read(
        db,
        part->field != NULL ? "SELECT field_id FROM field WHERE name = ?1"
                            : "SELECT field_id FROM field WHERE field_id > ?1 ORDER BY field_id LIMIT ?2",
        &asked, count, &ids->field, NULL, problems);
    if (status != STATUS_OK)
        return status;
    while (count > 0 && ids->field[count - 1] == 0)
        count--;
    *scope = (struct scope){NULL, ids->field[0], count > 0 ? ids->field[count - 1] : 0};
    return count > 0 ? STATUS_OK : STATUS_NOT_FOUND;
}

enum status farm_store_load_part(struct db *db, const struct farm_part *part, struct farm *farm,
                                 struct farm_ids *ids, struct problems *problems) {
    struct scope scope;
    drop_part(farm, ids);
    enum status status = part_ids(db, part, ids, &scope, problems);
    if (status == STATUS_OK)
        status = list_read(db, &part_field_list, &scope, &farm->field, &farm->field_count, problems);
    if (status == STATUS_OK)
        status = list_read(db, &part_planting_list, &scope, &farm->planting, &farm->planting_count, problems);
    if (status == STATUS_OK)
        status = list_read(db, &part_record_list, &scope, &farm->record, &farm->record_count, problems);
    if (status == STATUS_OK)
        status = ids_read(db,
                          "SELECT planting_id, dirty_day FROM planting WHERE field_id BETWEEN ?1 AND ?2 "
                          "ORDER BY field_id, planting_day",
                          &scope, farm->planting_count, &ids->planting, &ids->dirty, problems);
    return status == STATUS_OK ? farm_sort_records(farm) : status;
}

enum status farm_store_first_start(struct db *db, const char *station, int32_t *first,
                                   struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db,
        "SELECT min(start_day) FROM planting JOIN field USING (field_id) JOIN station USING (station_id) "
        "WHERE station.name = ?1 OR station_id IN (SELECT pair.station_id FROM station_neighbour AS pair "
        "JOIN station AS told ON told.station_id = pair.neighbour_id WHERE told.name = ?1)",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, station, -1, SQLITE_STATIC);
    enum status status = sqlite3_step(statement) == SQLITE_ROW
                             ? STATUS_OK
                             : db_trouble(db, "looking for the first day", problems);
    bool none = status == STATUS_OK && sqlite3_column_type(statement, 0) == SQLITE_NULL;
    if (status == STATUS_OK)
        *first = none ? CALENDAR_NONE : sqlite3_column_int(statement, 0);
    return db_finish(db, statement, status, problems);
}

void farm_ids_free(struct farm_ids *ids) {
    free(ids->station);
    free(ids->source);
    free(ids->field);
    free(ids->planting);
    free(ids->dirty);
    memset(ids, 0, sizeof *ids);
}

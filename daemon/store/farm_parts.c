/* The farm part by part: that half of farm_store.h whose memory does not grow with the farm. */
#include <stdlib.h>

#include "daemon/store/farm_list.h"
#include "daemon/store/farm_store.h"

/* The fields of a part with all that hangs on them, in the order of their ids. */
static const struct farm_list part_field_list = {
    FARM_TABLE_FIELD,
    "station.name, soil.name, supply.name, ",
    "field.",
    "FROM field JOIN station USING (station_id) JOIN soil USING (soil_id) LEFT JOIN supply USING (supply_id) "
    "WHERE field_id BETWEEN ?1 AND ?2 ORDER BY field_id",
    sizeof(struct farm_field),
    {offsetof(struct farm_field, station), offsetof(struct farm_field, soil),
     offsetof(struct farm_field, supply)},
    3};
static const struct farm_list part_planting_list = {
    FARM_TABLE_PLANTING,
    "field.name, ",
    "planting.",
    "FROM field JOIN planting USING (field_id) WHERE field_id BETWEEN ?1 AND ?2 ORDER BY field_id, "
    "planting_day",
    sizeof(struct farm_planting),
    {offsetof(struct farm_planting, field)},
    1};
static const struct farm_list part_record_list = {
    FARM_TABLE_RECORD,
    "field.name, ",
    "record.",
    "FROM field JOIN record USING (field_id) WHERE withdrawn_at IS NULL AND field_id BETWEEN ?1 AND ?2 "
    "ORDER BY field_id, day, record_id",
    sizeof(struct farm_record),
    {offsetof(struct farm_record, field)},
    1};

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

/* The statements of all parts, prepared once. */
struct farm_parts {
    struct db *db;
    const char *field;
    size_t most;
    long long after;
    sqlite3_stmt *ids, *fields, *plantings, *records, *planting_ids;
};

enum status farm_parts_open(struct db *db, const char *field, size_t most, struct farm_parts **out,
                            struct problems *problems) {
    struct farm_parts *parts = calloc(1, sizeof *parts);
    if (parts == NULL)
        return STATUS_NO_MEMORY;
    parts->db = db;
    parts->field = field;
    parts->most = most < FARM_PART_FIELDS ? most : FARM_PART_FIELDS;
    parts->ids = db_prepare(db,
                            field != NULL
                                ? "SELECT field_id FROM field WHERE name = ?1"
                                : "SELECT field_id FROM field WHERE field_id > ?1 ORDER BY field_id LIMIT ?2",
                            problems);
    parts->fields = farm_list_prepare(db, &part_field_list, problems);
    parts->plantings = farm_list_prepare(db, &part_planting_list, problems);
    parts->records = farm_list_prepare(db, &part_record_list, problems);
    parts->planting_ids = db_prepare(db,
                                     "SELECT planting_id, dirty_day FROM planting WHERE field_id BETWEEN ?1 "
                                     "AND ?2 ORDER BY field_id, planting_day",
                                     problems);
    if (parts->ids != NULL && parts->fields != NULL && parts->plantings != NULL && parts->records != NULL &&
        parts->planting_ids != NULL) {
        *out = parts;
        return STATUS_OK;
    }
    farm_parts_close(parts);
    return STATUS_STORE;
}

void farm_parts_close(struct farm_parts *parts) {
    if (parts == NULL)
        return;
    sqlite3_finalize(parts->ids);
    sqlite3_finalize(parts->fields);
    sqlite3_finalize(parts->plantings);
    sqlite3_finalize(parts->records);
    sqlite3_finalize(parts->planting_ids);
    free(parts);
}

/* The ids of the part's fields, which say what else is read. */
static enum status part_ids(struct farm_parts *parts, struct farm_ids *ids, struct farm_scope *scope) {
    const struct farm_scope asked = {parts->field, parts->after, (long long)parts->most};
    size_t count = parts->field != NULL ? 1 : parts->most;
    farm_scope_bind(parts->ids, &asked);
    enum status status = farm_list_ids(parts->ids, count, &ids->field, NULL);
    sqlite3_reset(parts->ids);
    if (status != STATUS_OK)
        return status;
    while (count > 0 && ids->field[count - 1] == 0)
        count--;
    if (count == 0)
        return STATUS_NOT_FOUND;
    *scope = (struct farm_scope){NULL, ids->field[0], ids->field[count - 1]};
    parts->after = scope->last;
    return STATUS_OK;
}

enum status farm_parts_next(struct farm_parts *parts, struct farm *farm, struct farm_ids *ids,
                            struct problems *problems) {
    struct farm_scope scope;
    drop_part(farm, ids);
    enum status status = part_ids(parts, ids, &scope);
    if (status != STATUS_OK)
        return status;
    farm_scope_bind(parts->fields, &scope);
    farm_scope_bind(parts->plantings, &scope);
    farm_scope_bind(parts->records, &scope);
    farm_scope_bind(parts->planting_ids, &scope);
    status = farm_list_rows(parts->db, &part_field_list, parts->fields, &farm->field, &farm->field_count,
                            problems);
    if (status == STATUS_OK)
        status = farm_list_rows(parts->db, &part_planting_list, parts->plantings, &farm->planting,
                                &farm->planting_count, problems);
    if (status == STATUS_OK)
        status = farm_list_rows(parts->db, &part_record_list, parts->records, &farm->record,
                                &farm->record_count, problems);
    if (status == STATUS_OK)
        status = farm_list_ids(parts->planting_ids, farm->planting_count, &ids->planting, &ids->dirty);
    sqlite3_reset(parts->planting_ids);
    return status == STATUS_OK ? farm_sort_records(farm) : status;
}

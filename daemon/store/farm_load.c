/* The reading half of farm_store.h. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_list.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/supply_parts.h"

/* `scope` is NULL for lists without one. */
static enum status list_read(struct db *db, const struct farm_list *list, const struct farm_scope *scope,
                             void *member, size_t *count, struct problems *problems) {
    sqlite3_stmt *statement = farm_list_prepare(db, list, problems);
    if (statement == NULL)
        return STATUS_STORE;
    if (scope != NULL)
        farm_scope_bind(statement, scope);
    enum status status = farm_list_rows(db, list, statement, member, count, problems);
    sqlite3_finalize(statement);
    return status;
}

static const struct farm_list station_list = {
    FARM_TABLE_STATION, "", "", "FROM station ORDER BY station_id", sizeof(struct farm_station), {0}, 0};
static const struct farm_list source_list = {FARM_TABLE_SOURCE,
                                             "station.name, ",
                                             "source.",
                                             "FROM source JOIN station USING (station_id) ORDER BY position",
                                             sizeof(struct farm_source),
                                             {offsetof(struct farm_source, station)},
                                             1};
static const struct farm_list soil_list = {FARM_TABLE_SOIL,          "",  "", "FROM soil ORDER BY soil_id",
                                           sizeof(struct farm_soil), {0}, 0};
static const struct farm_list supply_list = {
    FARM_TABLE_SUPPLY, "", "", "FROM supply ORDER BY supply_id", sizeof(struct farm_supply), {0}, 0};
static const struct farm_list field_list = {
    FARM_TABLE_FIELD,
    "station.name, soil.name, supply.name, ",
    "field.",
    "FROM field JOIN station USING (station_id) JOIN soil USING (soil_id) LEFT JOIN supply USING (supply_id) "
    "ORDER BY position",
    sizeof(struct farm_field),
    {offsetof(struct farm_field, station), offsetof(struct farm_field, soil),
     offsetof(struct farm_field, supply)},
    3};
static const struct farm_list planting_list = {
    FARM_TABLE_PLANTING,
    "field.name, ",
    "planting.",
    "FROM planting JOIN field USING (field_id) ORDER BY field.position, planting_day",
    sizeof(struct farm_planting),
    {offsetof(struct farm_planting, field)},
    1};
#define TURN_MARK_ORDER "ORDER BY field.position, day, hour, turn_mark_id"
static const struct farm_list turn_mark_list = {FARM_TABLE_TURN_MARK,
                                                "field.name, ",
                                                "turn_mark.",
                                                "FROM turn_mark JOIN field USING (field_id) " TURN_MARK_ORDER,
                                                sizeof(struct farm_turn_mark),
                                                {offsetof(struct farm_turn_mark, field)},
                                                1};
static const struct farm_list record_list = {
    FARM_TABLE_RECORD,
    "field.name, ",
    "record.",
    "FROM record JOIN field USING (field_id) WHERE withdrawn_at IS NULL "
    "ORDER BY field.position, day, record_id",
    sizeof(struct farm_record),
    {offsetof(struct farm_record, field)},
    1};

static const struct farm_list field_record_list = {
    FARM_TABLE_RECORD,
    "field.name, ",
    "record.",
    "FROM record JOIN field USING (field_id) WHERE withdrawn_at IS NULL AND field.name = ?1 "
    "ORDER BY day, record_id",
    sizeof(struct farm_record),
    {offsetof(struct farm_record, field)},
    1};

static const struct farm_list field_planting_list = {
    FARM_TABLE_PLANTING,
    "field.name, ",
    "planting.",
    "FROM planting JOIN field USING (field_id) WHERE field.name = ?1 ORDER BY planting_day",
    sizeof(struct farm_planting),
    {offsetof(struct farm_planting, field)},
    1};

/* Of a field, and of those that share its supply. */
static const struct farm_list shared_record_list = {
    FARM_TABLE_RECORD,
    "field.name, ",
    "record.",
    "FROM record JOIN field USING (field_id) WHERE withdrawn_at IS NULL AND (field.name = ?1 OR "
    "supply_id = (SELECT supply_id FROM field WHERE name = ?1)) ORDER BY field.position, day, record_id",
    sizeof(struct farm_record),
    {offsetof(struct farm_record, field)},
    1};

static enum status load_layers(struct db *db, struct farm *farm, struct problems *problems) {
    int count;
    const struct column *columns = farm_columns(FARM_TABLE_LAYER, &count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT position, ");
    columns_list(&sql, "", columns, count);
    text_puts(&sql, " FROM soil_layer JOIN soil USING (soil_id) WHERE name = ? ORDER BY position");
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < farm->soil_count; i++) {
        sqlite3_bind_text(statement, 1, farm->soil[i].name, -1, SQLITE_STATIC);
        for (int layer = 0; sqlite3_step(statement) == SQLITE_ROW && layer < SOIL_LAYERS_MAX; layer++)
            columns_read(statement, 1, columns, count, &farm->soil[i].soil.layer[layer]);
        if (sqlite3_reset(statement) != SQLITE_OK)
            status = db_trouble(db, "reading the layers of a soil", problems);
    }
    return db_finish(db, statement, status, problems);
}

static enum status load_neighbours(struct db *db, struct farm *farm, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT neighbour.name FROM station_neighbour AS pair "
                   "JOIN station USING (station_id) "
                   "JOIN station AS neighbour ON neighbour.station_id = pair.neighbour_id "
                   "WHERE station.name = ? ORDER BY pair.position",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < farm->station_count; i++) {
        struct farm_station *station = &farm->station[i];
        sqlite3_bind_text(statement, 1, station->name, -1, SQLITE_STATIC);
        while (sqlite3_step(statement) == SQLITE_ROW && station->neighbour_count < FARM_NEIGHBOURS_MAX) {
            static const struct column name = {"", COLUMN_TEXT, 0, FARM_NAME_SIZE};
            columns_read(statement, 0, &name, 1, station->neighbour[station->neighbour_count++]);
        }
        if (sqlite3_reset(statement) != SQLITE_OK)
            status = db_trouble(db, "reading the neighbours of a station", problems);
    }
    return db_finish(db, statement, status, problems);
}

static struct farm_trial *trial_named(struct farm *farm, const char *name) {
    size_t i = 0;
    while (strcmp(farm->trial[i].name, name) != 0)
        i++;
    return &farm->trial[i];
}

/* The treatments, or the plots, of all trials; the first column is the trial's name. */
static enum status load_trial_parts(struct db *db, enum farm_table table, const char *before,
                                    const char *from, struct farm *farm, struct problems *problems) {
    struct text sql;
    int count;
    const struct column *columns = farm_columns(table, &count);
    text_init(&sql, 0);
    text_printf(&sql, "SELECT trial.name, %s", before);
    columns_list(&sql, table == FARM_TABLE_PLOT ? "trial_plot." : "treatment.", columns, count);
    text_printf(&sql, " FROM %s", from);
    sqlite3_stmt *statement = db_prepare(db, text_string(&sql), problems);
    text_free(&sql);
    while (statement != NULL && sqlite3_step(statement) == SQLITE_ROW) {
        struct farm_trial *trial = trial_named(farm, (const char *)sqlite3_column_text(statement, 0));
        if (table == FARM_TABLE_PLOT && trial->plot_count < FARM_PLOTS_MAX) {
            columns_read(statement, 1, columns, count, &trial->plot[trial->plot_count++]);
        } else if (table == FARM_TABLE_TREATMENT && trial->treatment_count < FARM_TREATMENTS_MAX) {
            static const struct column field[] = {COLUMN(COLUMN_TEXT, farm_treatment, field, "field")};
            columns_read(statement, 1, field, 1, &trial->treatment[trial->treatment_count]);
            columns_read(statement, 2, columns, count, &trial->treatment[trial->treatment_count++]);
        }
    }
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    return db_finish(db, statement, status, problems);
}

static enum status load_trials(struct db *db, struct farm *farm, struct problems *problems) {
    static const struct farm_list trial_list = {
        FARM_TABLE_TRIAL, "", "", "FROM trial ORDER BY trial_id", sizeof(struct farm_trial), {0}, 0};
    enum status status = list_read(db, &trial_list, NULL, &farm->trial, &farm->trial_count, problems);
    if (status == STATUS_OK)
        status = load_trial_parts(db, FARM_TABLE_TREATMENT, "field.name, ",
                                  "trial JOIN treatment USING (trial_id) JOIN field USING (field_id) "
                                  "ORDER BY trial_id, treatment.position",
                                  farm, problems);
    if (status == STATUS_OK)
        status = load_trial_parts(
            db, FARM_TABLE_PLOT, "",
            "trial JOIN trial_plot USING (trial_id) ORDER BY trial_id, trial_plot.position", farm, problems);
    return status;
}

enum status farm_store_head(struct db *db, struct farm *farm, struct problems *problems) {
    farm_init(farm);
    struct farm_list list = {FARM_TABLE_FARM, "", "", "FROM farm", sizeof *farm, {0}, 0};
    struct farm *rows = NULL;
    size_t count = 0;
    enum status status = list_read(db, &list, NULL, &rows, &count, problems);
    if (status == STATUS_OK && count == 0) {
        problem_add(problems, db->path, 0, 0, NULL,
                    "found an empty farm book; `waterturn import FARMFILE --db %s` fills it", db->path);
        status = STATUS_NOT_FOUND;
    }
    if (status == STATUS_OK) {
        memcpy(farm->name, rows->name, sizeof farm->name);
        memcpy(farm->time_zone, rows->time_zone, sizeof farm->time_zone);
        farm->us_units = rows->us_units;
        farm->call_rule = rows->call_rule;
        farm->water_price = rows->water_price;
    }
    free(rows);
    return status;
}

static bool is_scoped(const struct farm_list *list) {
    return list == &field_record_list || list == &field_planting_list || list == &shared_record_list;
}

/* `records`, `plantings`: which ones; `field` is bound to those that are of one. */
static enum status load(struct db *db, const struct farm_list *records, const struct farm_list *plantings,
                        const char *field, struct farm *farm, struct problems *problems) {
    const struct {
        const struct farm_list *list;
        void *rows;
        size_t *count;
    } lists[] = {
        {&station_list, &farm->station, &farm->station_count},
        {&source_list, &farm->source, &farm->source_count},
        {&soil_list, &farm->soil, &farm->soil_count},
        {&supply_list, &farm->supply, &farm->supply_count},
        {&field_list, &farm->field, &farm->field_count},
        {plantings, &farm->planting, &farm->planting_count},
        {&turn_mark_list, &farm->turn_mark, &farm->turn_mark_count},
        {records, &farm->record, &farm->record_count},
    };
    const struct farm_scope scope = {.name = field};
    enum status status = farm_store_head(db, farm, problems);
    for (size_t i = 0; status == STATUS_OK && i < sizeof lists / sizeof lists[0]; i++)
        status = list_read(db, lists[i].list, is_scoped(lists[i].list) ? &scope : NULL, lists[i].rows,
                           lists[i].count, problems);
    if (status == STATUS_OK)
        status = load_layers(db, farm, problems);
    if (status == STATUS_OK)
        status = supply_parts_load(db, farm, problems);
    if (status == STATUS_OK)
        status = load_neighbours(db, farm, problems);
    if (status == STATUS_OK)
        status = load_trials(db, farm, problems);
    if (status == STATUS_OK)
        status = farm_sort_records(farm);
    if (status != STATUS_OK)
        farm_free(farm);
    return status;
}

enum status farm_store_load(struct db *db, struct farm *farm, struct problems *problems) {
    return load(db, &record_list, &planting_list, NULL, farm, problems);
}

enum status farm_store_load_field(struct db *db, const char *field, struct farm *farm,
                                  struct problems *problems) {
    return load(db, &field_record_list, &planting_list, field, farm, problems);
}

enum status farm_store_view_field(struct db *db, const char *field, struct farm *farm,
                                  struct problems *problems) {
    return load(db, &field_record_list, &field_planting_list, field, farm, problems);
}

enum status farm_store_load_sharing(struct db *db, const char *field, struct farm *farm,
                                    struct problems *problems) {
    return load(db, &shared_record_list, &planting_list, field, farm, problems);
}

static enum status ids_read(struct db *db, const char *sql, size_t count, long long **ids, int32_t **days,
                            struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    return db_finish(db, statement, farm_list_ids(statement, count, ids, days), problems);
}

static enum status place_ids(struct db *db, const struct farm *farm, struct farm_ids *ids,
                             struct problems *problems) {
    enum status status = ids_read(db, "SELECT station_id FROM station ORDER BY station_id",
                                  farm->station_count, &ids->station, NULL, problems);
    return status == STATUS_OK ? ids_read(db, "SELECT source_id FROM source ORDER BY position",
                                          farm->source_count, &ids->source, NULL, problems)
                               : status;
}

/* The order of each query is that of farm_store_load(). */
enum status farm_store_ids(struct db *db, const struct farm *farm, struct farm_ids *ids,
                           struct problems *problems) {
    memset(ids, 0, sizeof *ids);
    enum status status = place_ids(db, farm, ids, problems);
    if (status == STATUS_OK)
        status = ids_read(db, "SELECT field_id FROM field ORDER BY position", farm->field_count, &ids->field,
                          NULL, problems);
    if (status == STATUS_OK)
        status = ids_read(db,
                          "SELECT planting_id, dirty_day FROM planting JOIN field USING (field_id) "
                          "ORDER BY field.position, planting_day",
                          farm->planting_count, &ids->planting, &ids->dirty, problems);
    if (status == STATUS_OK)
        status =
            ids_read(db, "SELECT turn_mark_id FROM turn_mark JOIN field USING (field_id) " TURN_MARK_ORDER,
                     farm->turn_mark_count, &ids->turn_mark, NULL, problems);
    if (status != STATUS_OK)
        farm_ids_free(ids);
    return status;
}

/* ---- what all fields share ---- */

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

void farm_ids_free(struct farm_ids *ids) {
    free(ids->station);
    free(ids->source);
    free(ids->field);
    free(ids->planting);
    free(ids->turn_mark);
    free(ids->dirty);
    memset(ids, 0, sizeof *ids);
}

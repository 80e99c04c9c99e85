#include "daemon/store/farm_store.h"

#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_columns.h"
#include "daemon/store/farm_sweep.h"
#include "daemon/store/supply_parts.h"
#include "daemon/store/turn_mark_store.h"

/* One kind of thing in the book: how its rows are written, and which column of names stands for other rows.
 */
struct kind {
    enum farm_table table;
    struct db_insert insert; /* columns are filled in from `table` */
};

static const struct kind station_kind = {FARM_TABLE_STATION, {"station", NULL, NULL, NULL, 0, "name", NULL}};
static const struct kind source_kind_rows = {
    FARM_TABLE_SOURCE,
    {"source", "station_id, position", "(SELECT station_id FROM station WHERE name = ?), ?", NULL, 0, "name",
     "station_id = excluded.station_id, position = excluded.position"}};
static const struct kind soil_kind = {FARM_TABLE_SOIL, {"soil", NULL, NULL, NULL, 0, "name", NULL}};
static const struct kind layer_kind = {
    FARM_TABLE_LAYER,
    {"soil_layer", "soil_id, position", "(SELECT soil_id FROM soil WHERE name = ?), ?", NULL, 0, NULL, NULL}};
static const struct kind supply_kind = {FARM_TABLE_SUPPLY, {"supply", NULL, NULL, NULL, 0, "name", NULL}};
static const struct kind field_kind = {
    FARM_TABLE_FIELD,
    {"field", "station_id, soil_id, supply_id, position",
     "(SELECT station_id FROM station WHERE name = ?), (SELECT soil_id FROM soil WHERE name = ?), "
     "(SELECT supply_id FROM supply WHERE name = ?), ?",
     NULL, 0, "name",
     "station_id = excluded.station_id, soil_id = excluded.soil_id, supply_id = excluded.supply_id, "
     "position = excluded.position"}};
static const struct kind planting_kind = {FARM_TABLE_PLANTING,
                                          {"planting", "field_id, dirty_day",
                                           "(SELECT field_id FROM field WHERE name = ?), ?", NULL, 0,
                                           "field_id, planting_day", "dirty_day = excluded.dirty_day"}};
static const struct kind record_kind_rows = {
    FARM_TABLE_RECORD,
    {"record", "field_id", "(SELECT field_id FROM field WHERE name = ?)", NULL, 0, NULL, NULL}};
static const struct kind trial_kind = {FARM_TABLE_TRIAL, {"trial", NULL, NULL, NULL, 0, NULL, NULL}};
static const struct kind treatment_kind = {
    FARM_TABLE_TREATMENT,
    {"treatment", "trial_id, position, field_id",
     "(SELECT trial_id FROM trial WHERE name = ?), ?, (SELECT field_id FROM field WHERE name = ?)", NULL, 0,
     NULL, NULL}};
static const struct kind plot_kind = {FARM_TABLE_PLOT,
                                      {"trial_plot", "trial_id, position",
                                       "(SELECT trial_id FROM trial WHERE name = ?), ?", NULL, 0, NULL,
                                       NULL}};
static const struct kind farm_kind = {FARM_TABLE_FARM, {"farm", "farm_id", "1", NULL, 0, "farm_id", NULL}};

struct saver {
    struct db *db;
    const struct farm *farm;
    struct problems *problems;
    const bool *plantings; /* which of them are written; NULL: all */
};

/* An INSERT being used: its statement, and where the struct's columns begin. */
struct writer {
    sqlite3_stmt *statement;
    const struct column *columns;
    int count, first;
};

static enum status writer_open(const struct saver *saver, const struct kind *kind, int key_count,
                               struct writer *writer) {
    struct db_insert insert = kind->insert;
    insert.columns = farm_columns(kind->table, &insert.count);
    writer->statement = db_prepare_insert(saver->db, &insert, saver->problems);
    writer->columns = insert.columns;
    writer->count = insert.count;
    writer->first = key_count + 1;
    return writer->statement != NULL ? STATUS_OK : STATUS_STORE;
}

static enum status writer_put(const struct saver *saver, const struct writer *writer, const void *row) {
    if (columns_bind(writer->statement, writer->first, writer->columns, writer->count, row) != SQLITE_OK)
        return db_trouble(saver->db, "binding a row of the farm book", saver->problems);
    return db_run(saver->db, writer->statement, "writing the farm book", saver->problems);
}

static void bind_name(const struct writer *writer, int index, const char *name) {
    sqlite3_bind_text(writer->statement, index, name, -1, SQLITE_STATIC);
}

static enum status save_farm(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &farm_kind, 0, &writer);
    if (status == STATUS_OK)
        status = writer_put(saver, &writer, saver->farm);
    sqlite3_finalize(writer.statement);
    return status;
}

/* After all stations are there. */
static enum status save_neighbours(const struct saver *saver) {
    enum status status = db_exec(saver->db, "DELETE FROM station_neighbour", saver->problems);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *insert =
        db_prepare(saver->db,
                   "INSERT INTO station_neighbour (station_id, position, neighbour_id) VALUES ("
                   "(SELECT station_id FROM station WHERE name = ?1), ?2, "
                   "(SELECT station_id FROM station WHERE name = ?3))",
                   saver->problems);
    if (insert == NULL)
        return STATUS_STORE;
    for (size_t i = 0; i < saver->farm->station_count; i++) {
        const struct farm_station *station = &saver->farm->station[i];
        for (int k = 0; status == STATUS_OK && k < station->neighbour_count; k++) {
            sqlite3_bind_text(insert, 1, station->name, -1, SQLITE_STATIC);
            sqlite3_bind_int(insert, 2, k);
            sqlite3_bind_text(insert, 3, station->neighbour[k], -1, SQLITE_STATIC);
            status = db_run(saver->db, insert, "writing the neighbours of a station", saver->problems);
        }
    }
    sqlite3_finalize(insert);
    return status;
}

static enum status save_stations(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &station_kind, 0, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->station_count; i++)
        status = writer_put(saver, &writer, &saver->farm->station[i]);
    sqlite3_finalize(writer.statement);
    return status == STATUS_OK ? save_neighbours(saver) : status;
}

static enum status save_sources(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &source_kind_rows, 2, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->source_count; i++) {
        bind_name(&writer, 1, saver->farm->source[i].station);
        sqlite3_bind_int(writer.statement, 2, (int)i);
        status = writer_put(saver, &writer, &saver->farm->source[i]);
    }
    sqlite3_finalize(writer.statement);
    return status;
}

static enum status save_layers(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &layer_kind, 2, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->soil_count; i++) {
        const struct farm_soil *soil = &saver->farm->soil[i];
        for (int layer = 0; status == STATUS_OK && layer < soil->soil.layer_count; layer++) {
            bind_name(&writer, 1, soil->name);
            sqlite3_bind_int(writer.statement, 2, layer);
            status = writer_put(saver, &writer, &soil->soil.layer[layer]);
        }
    }
    sqlite3_finalize(writer.statement);
    return status;
}

static enum status save_soils(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &soil_kind, 0, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->soil_count; i++)
        status = writer_put(saver, &writer, &saver->farm->soil[i]);
    sqlite3_finalize(writer.statement);
    if (status == STATUS_OK)
        status = db_exec(saver->db, "DELETE FROM soil_layer", saver->problems);
    return status == STATUS_OK ? save_layers(saver) : status;
}

static enum status save_supplies(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &supply_kind, 0, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->supply_count; i++)
        status = writer_put(saver, &writer, &saver->farm->supply[i]);
    sqlite3_finalize(writer.statement);
    return status == STATUS_OK ? supply_parts_save(saver->db, saver->farm, saver->problems) : status;
}

static enum status save_fields(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &field_kind, 4, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->field_count; i++) {
        const struct farm_field *field = &saver->farm->field[i];
        bind_name(&writer, 1, field->station);
        bind_name(&writer, 2, field->soil);
        bind_name(&writer, 3, field->supply);
        sqlite3_bind_int(writer.statement, 4, (int)i);
        status = writer_put(saver, &writer, field);
    }
    sqlite3_finalize(writer.statement);
    return status;
}

static enum status save_plantings(const struct saver *saver) {
    struct writer writer;
    enum status status = writer_open(saver, &planting_kind, 2, &writer);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->planting_count; i++) {
        if (saver->plantings != NULL && !saver->plantings[i])
            continue;
        bind_name(&writer, 1, saver->farm->planting[i].field);
        sqlite3_bind_int(writer.statement, 2, saver->farm->planting[i].start_date);
        status = writer_put(saver, &writer, &saver->farm->planting[i]);
    }
    sqlite3_finalize(writer.statement);
    return status;
}

/* A record of the file that is in the database already is struck from the temporary list `unmatched`; one
 * that finds no partner there is new. Two equal records of one file stay two. */
static enum status save_record(const struct saver *saver, const struct writer *strike,
                               const struct writer *insert, const struct farm_record *record) {
    bind_name(strike, 1, record->field);
    enum status status = writer_put(saver, strike, record);
    if (status != STATUS_OK || sqlite3_changes(saver->db->handle) > 0)
        return status;
    bind_name(insert, 1, record->field);
    return writer_put(saver, insert, record);
}

static enum status save_records(const struct saver *saver) {
    struct writer insert, strike;
    enum status status =
        db_exec(saver->db,
                "DROP TABLE IF EXISTS temp.unmatched; CREATE TEMP TABLE unmatched AS SELECT * FROM record "
                "WHERE withdrawn_at IS NULL; "
                "CREATE INDEX temp.unmatched_by_field ON unmatched (field_id, day)",
                saver->problems);
    if (status != STATUS_OK)
        return status;
    status = writer_open(saver, &record_kind_rows, 1, &insert);
    strike = insert;
    strike.statement = db_prepare(
        saver->db,
        "DELETE FROM temp.unmatched WHERE rowid = (SELECT rowid FROM temp.unmatched WHERE field_id = "
        "(SELECT field_id FROM field WHERE name = ?1) AND day = ?2 AND kind = ?3 AND amount IS ?4 AND "
        "sd IS ?5 AND stage = ?6 AND note = ?7 AND plot = ?8 LIMIT 1)",
        saver->problems);
    if (strike.statement == NULL)
        status = STATUS_STORE;
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->record_count; i++)
        status = save_record(saver, &strike, &insert, &saver->farm->record[i]);
    sqlite3_finalize(insert.statement);
    sqlite3_finalize(strike.statement);
    enum status dropped = db_exec(saver->db, "DROP TABLE temp.unmatched", saver->problems);
    return status != STATUS_OK ? status : dropped;
}

static enum status save_trial(const struct saver *saver, const struct farm_trial *trial,
                              const struct writer *head, const struct writer *treatment,
                              const struct writer *plot) {
    enum status status = writer_put(saver, head, trial);
    for (int i = 0; status == STATUS_OK && i < trial->treatment_count; i++) {
        bind_name(treatment, 1, trial->name);
        sqlite3_bind_int(treatment->statement, 2, i);
        bind_name(treatment, 3, trial->treatment[i].field);
        status = writer_put(saver, treatment, &trial->treatment[i]);
    }
    for (int i = 0; status == STATUS_OK && i < trial->plot_count; i++) {
        bind_name(plot, 1, trial->name);
        sqlite3_bind_int(plot->statement, 2, i);
        status = writer_put(saver, plot, &trial->plot[i]);
    }
    return status;
}

static enum status save_trials(const struct saver *saver) {
    struct writer head = {0}, treatment = {0}, plot = {0};
    enum status status = db_exec(saver->db, "DELETE FROM trial", saver->problems);
    if (status == STATUS_OK)
        status = writer_open(saver, &trial_kind, 0, &head);
    if (status == STATUS_OK)
        status = writer_open(saver, &treatment_kind, 3, &treatment);
    if (status == STATUS_OK)
        status = writer_open(saver, &plot_kind, 2, &plot);
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->trial_count; i++)
        status = save_trial(saver, &saver->farm->trial[i], &head, &treatment, &plot);
    sqlite3_finalize(head.statement);
    sqlite3_finalize(treatment.statement);
    sqlite3_finalize(plot.statement);
    return status;
}

/* Like records: marks that are not there yet are added, those in the database stay. */
static enum status save_turn_marks(const struct saver *saver) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < saver->farm->turn_mark_count; i++) {
        const struct farm_turn_mark *mark = &saver->farm->turn_mark[i];
        status = turn_mark_store_find(saver->db, mark, saver->problems);
        if (status == STATUS_NOT_FOUND)
            status = turn_mark_store_add(saver->db, mark, NULL, NULL, saver->problems);
    }
    return status;
}

static enum status save_all(const struct saver *saver, bool replace) {
    static enum status (*const steps[])(const struct saver *) = {
        save_farm,   save_stations,  save_sources,    save_soils,   save_supplies,
        save_fields, save_plantings, save_turn_marks, save_records, save_trials};
    enum status status =
        replace ? db_exec(saver->db, "DELETE FROM record; DELETE FROM turn_mark", saver->problems)
                : farm_sweep_judge(saver->db, saver->farm, saver->problems);
    for (size_t i = 0; status == STATUS_OK && i < sizeof steps / sizeof steps[0]; i++)
        status = steps[i](saver);
    return status == STATUS_OK ? farm_sweep(saver->db, saver->farm, saver->problems) : status;
}

enum status farm_store_void_parts(struct db *db, struct problems *problems) {
    return db_exec(db, "DROP TABLE IF EXISTS ahead_beside", problems);
}

enum status farm_store_save(struct db *db, const struct farm *farm, bool replace, struct problems *problems) {
    const struct saver saver = {db, farm, problems, NULL};
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    status = save_all(&saver, replace);
    return db_end(db, status == STATUS_OK ? farm_store_void_parts(db, problems) : status, problems);
}

enum status farm_store_put(struct db *db, const struct farm *farm, const bool *plantings,
                           struct problems *problems) {
    static enum status (*const steps[])(const struct saver *) = {
        save_farm, save_stations, save_sources, save_soils, save_supplies, save_fields, save_plantings};
    const struct saver saver = {db, farm, problems, plantings};
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < sizeof steps / sizeof steps[0]; i++)
        status = steps[i](&saver);
    return status;
}

static enum status run_named(struct db *db, const char *sql, const char *name, const char *other,
                             struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    if (sqlite3_bind_parameter_count(statement) > 0)
        sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
    if (sqlite3_bind_parameter_count(statement) > 1)
        sqlite3_bind_text(statement, 2, other, -1, SQLITE_STATIC);
    enum status status = db_run(db, statement, "changing the farm book", problems);
    sqlite3_finalize(statement);
    return status;
}

enum status farm_store_rename_field(struct db *db, const char *old, const char *name,
                                    struct problems *problems) {
    return run_named(db, "UPDATE field SET name = ?2 WHERE name = ?1", old, name, problems);
}

enum status farm_store_rename_supply(struct db *db, const char *old, const char *name,
                                     struct problems *problems) {
    return run_named(db, "UPDATE supply SET name = ?2 WHERE name = ?1", old, name, problems);
}

enum status farm_store_move_planting(struct db *db, const char *field, int32_t old, int32_t day,
                                     struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db,
                                         "UPDATE planting SET planting_day = ?3 WHERE planting_day = ?2 AND "
                                         "field_id = (SELECT field_id FROM field WHERE name = ?1)",
                                         problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, field, -1, SQLITE_STATIC);
    sqlite3_bind_int(statement, 2, old);
    sqlite3_bind_int(statement, 3, day);
    enum status status = db_run(db, statement, "changing a planting's date", problems);
    sqlite3_finalize(statement);
    return status;
}

enum status farm_store_mark(struct db *db, enum farm_mark mark, const char *name, struct problems *problems) {
    static const char *const sql[] = {
        [FARM_MARK_FIELD] = "UPDATE planting SET dirty_day = start_day WHERE field_id = "
                            "(SELECT field_id FROM field WHERE name = ?1)",
        [FARM_MARK_SOIL] =
            "UPDATE planting SET dirty_day = start_day WHERE field_id IN (SELECT field_id FROM "
            "field JOIN soil USING (soil_id) WHERE soil.name = ?1)",
        [FARM_MARK_ALL] = "UPDATE planting SET dirty_day = start_day",
    };
    if (mark == FARM_MARK_NONE)
        return STATUS_OK;
    enum status status = run_named(db, sql[mark], name, NULL, problems);
    return status == STATUS_OK && mark != FARM_MARK_FIELD ? farm_store_void_parts(db, problems) : status;
}

/* What is asked of the farm book without reading it: a part of farm_store.h. */
#include "daemon/store/db_inside.h"
#include "daemon/store/farm_store.h"

enum status farm_store_count(struct db *db, struct farm_counts *out, struct problems *problems) {
    sqlite3_stmt *statement =
        db_kept(db, DB_KEPT_COUNTS,
                "SELECT (SELECT count(*) FROM station), (SELECT count(*) FROM source), "
                "(SELECT count(*) FROM source WHERE tried_at IS NULL), (SELECT count(*) FROM field), "
                "(SELECT count(*) FROM field WHERE supply_id IS NOT NULL), (SELECT count(*) FROM supply)",
                problems);
    if (statement == NULL)
        return STATUS_STORE;
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW ? STATUS_OK : db_trouble(db, "counting the farm book", problems);
    if (status == STATUS_OK)
        *out = (struct farm_counts){sqlite3_column_int(statement, 0), sqlite3_column_int(statement, 1),
                                    sqlite3_column_int(statement, 2), sqlite3_column_int(statement, 3),
                                    sqlite3_column_int(statement, 4), sqlite3_column_int(statement, 5)};
    return db_reset(db, statement, status, problems);
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

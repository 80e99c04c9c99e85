#include "daemon/http/workings_data.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/station_load.h"
#include "daemon/store/ledger_store.h"

struct load {
    struct db *db;
    struct farm farm;
    struct farm_ids ids;
    struct station_days days;
    int32_t morning;
    struct problems *problems;
};

static enum status load_days(struct load *load, const char *station) {
    int32_t first = 0;
    enum status status = weather_first_needed(load->db, station, load->morning, &first, load->problems);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < load->farm.station_count; i++) {
        if (strcmp(load->farm.station[i].name, station) == 0)
            return station_days_load(load->db, &load->farm, &load->ids, i, first, load->morning,
                                     load->morning + MORNING_AHEAD - 1, &load->days, load->problems);
    }
    return STATUS_NOT_FOUND;
}

/* The row of the ledger, and which days there are. */
static enum status take_ledger(struct load *load, const char *field, int32_t date,
                               struct workings_facts *out) {
    struct ledger_row *rows = NULL;
    size_t count = 0;
    enum status status = ledger_store_rows(load->db, field, load->morning, &rows, &count, load->problems);
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        if (rows[i].day.date == date) {
            out->stored = true;
            out->ledger = rows[i];
        }
    }
    if (status == STATUS_OK) {
        out->first = rows[0].day.date;
        out->last = rows[count - 1].day.date == load->morning - 1 ? load->morning + MORNING_AHEAD - 1
                                                                  : rows[count - 1].day.date;
    } else if (status == STATUS_NOT_FOUND) {
        out->first = load->morning;
        out->last = load->morning + MORNING_AHEAD - 1;
        status = STATUS_OK;
    }
    free(rows);
    return status;
}

static enum status reckon(struct load *load, const char *name, int32_t date, struct workings_facts *out) {
    const struct farm_field *field = farm_field_named(&load->farm, name);
    const struct farm_station *station =
        field != NULL ? farm_station_named(&load->farm, field->station) : NULL;
    int planting = station != NULL ? planting_current(&load->farm, name, load->morning) : -1;
    if (planting < 0)
        return STATUS_NOT_FOUND;
    out->field = *field;
    out->station = *station;
    (void)neighbour_places(&load->farm, station, out->neighbour);
    memcpy(out->crop_name, load->farm.planting[planting].crop_name, sizeof out->crop_name);
    enum status status = load_days(load, station->name);
    if (status == STATUS_OK)
        status =
            planting_run_day(&load->farm, &load->farm.planting[planting], &load->days, load->morning,
                             planting_until(&load->farm, (size_t)planting), date, &out->day, load->problems);
    return status == STATUS_OK ? take_ledger(load, name, date, out) : status;
}

enum status workings_load(struct db *db, const char *field, int32_t date, struct workings_facts *out,
                          struct problems *problems) {
    struct load load = {.db = db, .problems = problems};
    int64_t at;
    memset(out, 0, sizeof *out);
    enum status status = ledger_store_newest(db, &load.morning, &at, problems);
    if (status == STATUS_OK && load.morning == CALENDAR_NONE)
        status = STATUS_NOT_FOUND;
    if (status == STATUS_OK)
        status = farm_store_view_field(db, field, &load.farm, problems);
    if (status != STATUS_OK)
        return status;
    status = farm_store_ids(db, &load.farm, &load.ids, problems);
    if (status == STATUS_OK)
        status = reckon(&load, field, date, out);
    station_days_free(&load.days);
    farm_ids_free(&load.ids);
    farm_free(&load.farm);
    return status;
}

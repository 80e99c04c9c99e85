#include "tests/support/large_farm.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/farm/library.h"
#include "daemon/morning/run.h"
#include "daemon/store/weather_store.h"
#include "tests/support/bench.h"

#define BEFORE_D    4
#define FORECAST_D  10
#define WEEKS_FIRST 5

static void must(enum status status, const char *doing, const struct problems *problems) {
    if (status == STATUS_OK)
        return;
    struct text words;
    text_init(&words, 0);
    problems_print(problems, &words);
    (void)fprintf(stderr, "%s: %s\n%s", doing, status_name(status), text_string(&words));
    exit(1);
}

static void *list_of(size_t count, size_t size) {
    void *list = calloc(count, size);
    must(list != NULL ? STATUS_OK : STATUS_NO_MEMORY, "making a large farm", NULL);
    return list;
}

/* ---- the book ---- */

static void add_places(struct farm *farm, const struct library *library, struct problems *problems) {
    static const char *const sources[] = {"gauge", "forecast"};
    (void)snprintf(farm->name, sizeof farm->name, "Large farm");
    farm->station = list_of(farm->station_count = 1, sizeof *farm->station);
    farm_station_begin(farm->station);
    (void)snprintf(farm->station->name, sizeof farm->station->name, "yard");
    farm->station->longitude_deg = -98;
    farm->station->site = weather_site_default(38, 500);
    farm->source = list_of(farm->source_count = 2, sizeof *farm->source);
    for (int i = 0; i < 2; i++) {
        struct farm_source *source = &farm->source[i];
        farm_source_begin(source);
        (void)snprintf(source->name, sizeof source->name, "%s", sources[i]);
        (void)snprintf(source->station, sizeof source->station, "yard");
        (void)snprintf(source->layout, sizeof source->layout, "plain");
        (void)snprintf(source->address, sizeof source->address, "file:%s.csv", sources[i]);
        source->kind = i == 0 ? SOURCE_OBSERVED : SOURCE_FORECAST;
    }
    farm->soil = list_of(farm->soil_count = 1, sizeof *farm->soil);
    (void)snprintf(farm->soil->name, sizeof farm->soil->name, "bottom");
    (void)snprintf(farm->soil->texture, sizeof farm->soil->texture, "silt loam");
    must(library_soil(library, "silt loam", &farm->soil->soil), "finding the soil", problems);
    farm->soil->soil.curve_number = 75;
}

static void add_field(struct farm *farm, const struct crop *crop, int index, int days) {
    struct farm_field *field = &farm->field[farm->field_count++];
    struct farm_planting *planting = &farm->planting[farm->planting_count++];
    (void)snprintf(field->name, sizeof field->name, "Field %d", index);
    (void)snprintf(field->station, sizeof field->station, "yard");
    (void)snprintf(field->soil, sizeof field->soil, "bottom");
    field->system = system_default(SYSTEM_CENTRE_PIVOT);
    field->system.area_m2 = 5e5;
    field->system.flow_m3_h = 180;
    farm_planting_begin(planting);
    (void)snprintf(planting->field, sizeof planting->field, "Field %d", index);
    (void)snprintf(planting->crop_name, sizeof planting->crop_name, "maize, grain");
    planting->crop = *crop;
    planting->start_date = LARGE_FARM_FIRST;
    planting->planting_date = LARGE_FARM_FIRST + index % 28;
    for (int day = 7 * WEEKS_FIRST + index % 7; day < days; day += 7) {
        struct farm_record *record = &farm->record[farm->record_count++];
        (void)snprintf(record->field, sizeof record->field, "Field %d", index);
        record->date = LARGE_FARM_FIRST + day;
        record->kind = RECORD_IRRIGATION;
        record->amount = 22.5;
        record->sd = (double)NAN;
    }
}

static void make_book(struct farm *farm, int fields, int days, struct problems *problems) {
    struct library *library;
    struct crop crop;
    must(library_open(&library, problems), "opening the library", problems);
    must(library_crop(library, "maize, grain", "", &crop), "finding the crop", problems);
    farm_init(farm);
    add_places(farm, library, problems);
    library_free(library);
    size_t count = (size_t)fields;
    farm->field = list_of(count, sizeof *farm->field);
    farm->planting = list_of(count, sizeof *farm->planting);
    farm->record = list_of(count * (size_t)(days / 7 + 1), sizeof *farm->record);
    for (int i = 0; i < fields; i++)
        add_field(farm, &crop, i, days);
}

void large_farm_open(struct large_farm *farm, int fields, int days) {
    const char *build = getenv("BUILD");
    struct farm book;
    memset(farm, 0, sizeof *farm);
    problems_init(&farm->problems);
    (void)snprintf(farm->path, sizeof farm->path, "%s/large_farm_XXXXXX", build != NULL ? build : "build");
    int file = mkstemp(farm->path);
    must(file >= 0 && close(file) == 0 ? STATUS_OK : STATUS_IO, "making a file", &farm->problems);
    make_book(&book, fields, days, &farm->problems);
    must(db_open(farm->path, DB_CREATE, &farm->db, &farm->problems), "opening", &farm->problems);
    must(farm_store_save(farm->db, &book, false, &farm->problems), "importing", &farm->problems);
    farm_free(&book);
}

void large_farm_close(struct large_farm *farm) {
    static const char *const parts[] = {"", "-wal", "-shm", ".lock"};
    char path[sizeof farm->path + 8];
    db_close(farm->db);
    problems_free(&farm->problems);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        (void)snprintf(path, sizeof path, "%s%s", farm->path, parts[i]);
        (void)unlink(path);
    }
}

/* ---- its weather ---- */

/* 0..1, the same for a day whenever it is asked for. */
static double unrest(int32_t day, int step) {
    return (double)((long long)day * step % 1009) / 1009.0;
}

static struct weather_day weather_of(int32_t date) {
    struct weather_day day = weather_day_empty(date);
    double summer = sin((date - LARGE_FARM_FIRST) * 3.14159265 / 200);
    const struct {
        enum weather_element element;
        double value;
    } told[] = {{WEATHER_TMAX_C, 18 + 12 * summer + 6 * unrest(date, 7919)},
                {WEATHER_TMIN_C, 6 + 9 * summer + 4 * unrest(date, 104729)},
                {WEATHER_RH_MAX_PCT, 80 + 15 * unrest(date, 1299709)},
                {WEATHER_RH_MIN_PCT, 30 + 20 * unrest(date, 15485863)},
                {WEATHER_WIND_M_S, 1 + 3 * unrest(date, 32452843)},
                {WEATHER_RS_MJ_M2, 14 + 8 * summer + 4 * unrest(date, 49979687)},
                {WEATHER_RAIN_MM, unrest(date, 67867967) > 0.8 ? 80 * (unrest(date, 67867967) - 0.8) : 0}};
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
        day.value[told[i].element] = told[i].value;
        day.origin[told[i].element] = ORIGIN_MEASURED;
    }
    return day;
}

static void take(struct large_farm *farm, const struct farm_ids *ids, const struct weather_site *site,
                 enum source_kind kind, int32_t today, int32_t first, int32_t last) {
    struct weather_days days;
    struct weather_fetch fetch = {.source_id = ids->source[kind == SOURCE_OBSERVED ? 0 : 1],
                                  .station_id = ids->station[0],
                                  .kind = kind,
                                  .at = 86400LL * today,
                                  .day = today,
                                  .start = CALENDAR_NONE,
                                  .end = CALENDAR_NONE,
                                  .address = "file:a",
                                  .layout = "plain",
                                  .wind_height_m = (double)NAN,
                                  .site = site};
    (void)snprintf(fetch.sha256, sizeof fetch.sha256, "bench %d %d", (int)kind, (int)today);
    weather_days_init(&days);
    for (int32_t date = first; date <= last; date++) {
        struct weather_day day = weather_of(date);
        must(weather_days_add(&days, &day, NULL), "making weather", &farm->problems);
    }
    must(weather_store_take(farm->db, &fetch, &days, NULL, &farm->problems), "storing weather",
         &farm->problems);
    weather_days_free(&days);
}

void large_farm_weather(struct large_farm *farm, int32_t today, bool forecast) {
    struct farm book;
    struct farm_ids ids;
    must(farm_store_load_places(farm->db, &book, &ids, &farm->problems), "loading", &farm->problems);
    const struct weather_site *site = &book.station[0].site;
    take(farm, &ids, site, SOURCE_OBSERVED, today, LARGE_FARM_FIRST - BEFORE_D, today - 1);
    if (forecast)
        take(farm, &ids, site, SOURCE_FORECAST, today, today, today + FORECAST_D - 1);
    farm_ids_free(&ids);
    farm_free(&book);
}

double large_farm_morning(struct large_farm *farm, int32_t today) {
    struct morning_result result;
    struct morning_time now = wall_clock_given(today);
    double began = bench_cpu_s();
    must(morning_run(farm->db, &now, &(struct morning_how){0}, &result, &farm->problems), "the morning",
         &farm->problems);
    return bench_cpu_s() - began;
}

#include "daemon/replay/replay_weather.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/morning/ingest.h"
#include "daemon/replay/replay.h"
#include "daemon/source/layout_find.h"
#include "daemon/store/ledger_store.h"

size_t replay_station_index(const struct farm *farm, const char *name) {
    size_t i = 0;
    while (i < farm->station_count && strcmp(farm->station[i].name, name) != 0)
        i++;
    return i;
}

static enum status make_room(const struct farm *farm, struct replay_weather *weather) {
    size_t inputs = 2 * farm->source_count + farm->station_count; /* a source and its layout */
    weather->station = calloc(farm->station_count + 1, sizeof *weather->station);
    weather->input = calloc(inputs + 1, sizeof *weather->input);
    if (weather->station == NULL || weather->input == NULL)
        return STATUS_NO_MEMORY;
    weather->count = farm->station_count;
    for (size_t i = 0; i < weather->count; i++) {
        weather_days_init(&weather->station[i].observed);
        weather_days_init(&weather->station[i].forecast);
    }
    return STATUS_OK;
}

void replay_weather_free(struct replay_weather *weather) {
    for (size_t i = 0; i < weather->count; i++) {
        weather_days_free(&weather->station[i].observed);
        weather_days_free(&weather->station[i].forecast);
    }
    free(weather->station);
    free(weather->input);
    memset(weather, 0, sizeof *weather);
}

/* ---- from files ---- */

/* Sources come in their order of preference: a later one only fills what the earlier ones lack. */
static enum status merge_days(const struct weather_days *from, enum weather_origin origin,
                              struct weather_days *into) {
    for (size_t i = 0; i < from->count; i++) {
        const struct weather_hours *hours = weather_days_hours(from, from->day[i].date);
        enum status status = STATUS_OK;
        /* As from the database: the hours of the first source that has the day. */
        if (hours != NULL && weather_days_find(into, hours->date) == NULL)
            status = weather_days_put_hours(into, hours);
        struct weather_day *day =
            status == STATUS_OK ? weather_days_at(into, from->day[i].date, &status) : NULL;
        if (day == NULL)
            return status;
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
            if (day->origin[e] == ORIGIN_MISSING && from->day[i].origin[e] != ORIGIN_MISSING) {
                day->value[e] = from->day[i].value[e];
                day->origin[e] = (uint8_t)origin;
            }
        }
    }
    return STATUS_OK;
}

/* A layout that does not ship with the program is an input as well. */
static enum status note_layout(const char *name, struct replay_weather *weather, struct problems *problems) {
    struct replay_input *input = &weather->input[weather->input_count];
    char *json = NULL;
    size_t size = 0;
    struct text path;
    (void)snprintf(input->what, sizeof input->what, "layout %s", name);
    for (size_t i = 0; i < weather->input_count; i++) {
        if (strcmp(weather->input[i].what, input->what) == 0)
            return STATUS_OK;
    }
    text_init(&path, 0);
    enum status status = layout_find_file(name, &json, &size, &path, problems);
    if (status == STATUS_OK) {
        replay_hash(json, size, input->sha256);
        weather->input_count++;
    }
    free(json);
    text_free(&path);
    return status == STATUS_NOT_FOUND ? STATUS_OK : status;
}

static enum status read_source(const struct farm *farm, const struct farm_source *source,
                               const char *base_dir, struct replay_weather *weather,
                               struct problems *problems) {
    size_t index = replay_station_index(farm, source->station);
    bool forecast = source->kind == SOURCE_FORECAST;
    struct station_reports *reports = &weather->station[index];
    struct replay_input *input = &weather->input[weather->input_count];
    struct weather_days days;
    weather_days_init(&days);
    enum status status =
        ingest_source(source, &farm->station[index], base_dir, &days, input->sha256, problems);
    if (status == STATUS_OK) {
        (void)snprintf(input->what, sizeof input->what, "source %s", source->name);
        (void)snprintf(input->address, sizeof input->address, "%s", source->address);
        weather->input_count++;
        status = merge_days(&days, forecast ? ORIGIN_FORECAST : ORIGIN_MEASURED,
                            forecast ? &reports->forecast : &reports->observed);
    }
    if (status == STATUS_OK)
        status = note_layout(source->layout, weather, problems);
    weather_days_free(&days);
    return status;
}

enum status replay_weather_of_files(const struct farm *farm, const char *base_dir,
                                    struct replay_weather *weather, struct problems *problems) {
    enum status status = make_room(farm, weather);
    for (size_t i = 0; status == STATUS_OK && i < farm->source_count; i++)
        status = read_source(farm, &farm->source[i], base_dir, weather, problems);
    return status;
}

/* ---- from the database ---- */

static void hash_hours(const struct weather_hours *hours, struct text *text) {
    text_printf(text, ";%.17g", hours->start_utc_h);
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        const struct weather_hour *hour = &hours->hour[h];
        text_printf(text, ",%.17g,%.17g,%.17g,%.17g", hour->t_c, hour->ea_kpa, hour->wind_m_s,
                    hour->rs_mj_m2);
    }
}

/* Of every value with all its digits, in the order of the days. */
static enum status hash_days(const struct weather_days *days, crypto_hash_sha256_state *hash) {
    struct text text;
    text_init(&text, 0);
    for (size_t i = 0; i < days->count; i++) {
        const struct weather_day *day = &days->day[i];
        text_clear(&text);
        text_printf(&text, "%ld", (long)day->date);
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
            if (day->origin[e] == ORIGIN_MISSING)
                text_puts(&text, ",");
            else
                text_printf(&text, ",%.17g", day->value[e]);
        }
        if (weather_days_hours(days, day->date) != NULL)
            hash_hours(weather_days_hours(days, day->date), &text);
        text_puts(&text, "\n");
        crypto_hash_sha256_update(hash, (const unsigned char *)text_string(&text), text.size);
    }
    bool failed = text_failed(&text);
    text_free(&text);
    return failed ? STATUS_NO_MEMORY : STATUS_OK;
}

static enum status hash_reports(const struct farm_station *station, const struct station_reports *reports,
                                struct replay_input *input) {
    unsigned char bytes[crypto_hash_sha256_BYTES];
    crypto_hash_sha256_state hash;
    crypto_hash_sha256_init(&hash);
    enum status status = hash_days(&reports->observed, &hash);
    if (status == STATUS_OK)
        status = hash_days(&reports->forecast, &hash);
    crypto_hash_sha256_final(&hash, bytes);
    sodium_bin2hex(input->sha256, sizeof input->sha256, bytes, sizeof bytes);
    (void)snprintf(input->what, sizeof input->what, "weather of %s", station->name);
    return status;
}

enum status replay_weather_of_db(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                 int32_t today, struct replay_weather *weather, struct problems *problems) {
    enum status status = make_room(farm, weather);
    for (size_t i = 0; status == STATUS_OK && i < weather->count; i++) {
        struct station_reports *reports = &weather->station[i];
        int32_t issued;
        status = weather_store_load(db, ids->station[i], CALENDAR_FIRST, CALENDAR_FIRST, today,
                                    today + MORNING_AHEAD - 1, &reports->observed, &reports->forecast,
                                    &issued, problems);
        if (status == STATUS_OK)
            status = hash_reports(&farm->station[i], reports, &weather->input[weather->input_count++]);
    }
    return status;
}

/* ---- the days made of it ---- */

int32_t replay_weather_end(const struct replay_weather *weather) {
    int32_t end = CALENDAR_NONE;
    for (size_t i = 0; i < weather->count; i++) {
        const struct weather_days *observed = &weather->station[i].observed;
        if (observed->count > 0 && observed->day[observed->count - 1].date + 1 > end)
            end = observed->day[observed->count - 1].date + 1;
    }
    return end;
}

int32_t replay_weather_first(const struct replay_weather *weather) {
    int32_t first = CALENDAR_NONE;
    for (size_t i = 0; i < weather->count; i++) {
        const struct weather_days *observed = &weather->station[i].observed;
        if (observed->count > 0 && (first == CALENDAR_NONE || observed->day[0].date < first))
            first = observed->day[0].date;
    }
    return first;
}

static struct station_input input_of(const struct replay_weather *weather, const struct farm *farm,
                                     size_t index) {
    const struct farm_station *station = &farm->station[index];
    struct station_input input = {.station = station,
                                  .observed = &weather->station[index].observed,
                                  .forecast = &weather->station[index].forecast};
    for (int i = 0; i < station->neighbour_count; i++) {
        size_t other = replay_station_index(farm, station->neighbour[i]);
        if (other < farm->station_count)
            input.neighbour[input.neighbour_count++] =
                (struct station_neighbour){&farm->station[other], &weather->station[other].observed};
    }
    return input;
}

enum status replay_weather_build(const struct replay_weather *weather, const struct farm *farm, int32_t first,
                                 int32_t today, struct station_days *days) {
    enum status status = farm->station_count == weather->count ? STATUS_OK : STATUS_NOT_FOUND;
    memset(days, 0, weather->count * sizeof *days);
    for (size_t i = 0; status == STATUS_OK && i < weather->count; i++) {
        const struct station_input input = input_of(weather, farm, i);
        status = station_days_build(&input, first, today, today + MORNING_AHEAD - 1, &days[i]);
    }
    return status;
}

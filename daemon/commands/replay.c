/* A season from files: the farm file, the weather files it names, no database. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/balance/yield.h"
#include "daemon/base/file.h"
#include "daemon/commands/command.h"
#include "daemon/commands/print_ledger.h"
#include "daemon/commands/read_farm.h"
#include "daemon/morning/ingest.h"
#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/planting_run.h"
#include "daemon/source/download.h"
#include "daemon/view/view.h"

struct station_weather {
    struct weather_days observed, forecast;
    struct station_days days;
};

struct replay {
    const struct farm *farm;
    const char *base_dir;
    const char *only; /* a field, or NULL */
    bool csv, us_units;
    int32_t until; /* the day after the last; CALENDAR_NONE: as far as the weather goes */
    struct station_weather *weather;
    struct planting_run run;
    struct problems *problems;
};

static size_t station_index(const struct farm *farm, const char *name) {
    size_t i = 0;
    while (i < farm->station_count && strcmp(farm->station[i].name, name) != 0)
        i++;
    return i;
}

/* Sources come in their order of preference: a later one only fills what the earlier ones lack. */
static enum status merge_days(const struct weather_days *from, enum weather_origin origin,
                              struct weather_days *into) {
    for (size_t i = 0; i < from->count; i++) {
        enum status status = STATUS_OK;
        struct weather_day *day = weather_days_at(into, from->day[i].date, &status);
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

static enum status read_sources(struct replay *replay) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < replay->farm->source_count; i++) {
        const struct farm_source *source = &replay->farm->source[i];
        struct station_weather *weather = &replay->weather[station_index(replay->farm, source->station)];
        const struct farm_station *station = farm_station_named(replay->farm, source->station);
        bool forecast = source->kind == SOURCE_FORECAST;
        struct weather_days days;
        weather_days_init(&days);
        status = ingest_source(source, station, replay->base_dir, &days, replay->problems);
        if (status == STATUS_OK)
            status = merge_days(&days, forecast ? ORIGIN_FORECAST : ORIGIN_MEASURED,
                                forecast ? &weather->forecast : &weather->observed);
        weather_days_free(&days);
    }
    return status;
}

/* The day after the last one that any station observed. */
static int32_t end_of_weather(const struct replay *replay) {
    int32_t end = CALENDAR_NONE;
    for (size_t i = 0; i < replay->farm->station_count; i++) {
        const struct weather_days *observed = &replay->weather[i].observed;
        if (observed->count > 0 && observed->day[observed->count - 1].date + 1 > end)
            end = observed->day[observed->count - 1].date + 1;
    }
    return end;
}

static struct station_input input_of(const struct replay *replay, size_t index) {
    const struct farm_station *station = &replay->farm->station[index];
    struct station_input input = {.station = station,
                                  .observed = &replay->weather[index].observed,
                                  .forecast = &replay->weather[index].forecast};
    for (int i = 0; i < station->neighbour_count; i++) {
        size_t other = station_index(replay->farm, station->neighbour[i]);
        input.neighbour[input.neighbour_count++] =
            (struct station_neighbour){&replay->farm->station[other], &replay->weather[other].observed};
    }
    return input;
}

static enum status build_stations(struct replay *replay) {
    int32_t first = replay->until;
    for (size_t i = 0; i < replay->farm->planting_count; i++) {
        if (replay->farm->planting[i].start_date < first)
            first = replay->farm->planting[i].start_date;
    }
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < replay->farm->station_count; i++) {
        const struct station_input input = input_of(replay, i);
        status = station_days_build(&input, first - WEATHER_BEFORE_D, replay->until,
                                    replay->until + MORNING_AHEAD - 1, &replay->weather[i].days);
    }
    return status;
}

/* 1 - Ky (1 - ETa / ETc) over the season (FAO-56 eq. 90), where the crop has a Ky. */
static void print_yield(const struct farm_planting *planting, const struct season_total *total) {
    const struct yield_water water = {planting->crop.ky_season, total->etc_mm, total->eta_mm};
    struct yield_share share;
    if (yield_season(&water, &share) == STATUS_OK)
        printf("  relative yield by water alone: %.0f %% (Ky %.2f)\n", 100.0 * share.relative, water.ky);
    else
        printf("  relative yield: the crop has no Ky; give one in the farm file\n");
}

static void print_season(const struct replay *replay, const struct farm_planting *planting) {
    const struct planting_run *run = &replay->run;
    char from[CALENDAR_ISO_SIZE], to[CALENDAR_ISO_SIZE];
    printf("%s, %s, %s to %s\n", planting->field, planting->crop_name,
           calendar_format_iso(run->row[0].day.date, from),
           calendar_format_iso(run->row[run->row_count - 1].day.date, to));
    print_season_total(&run->total, replay->us_units);
    print_yield(planting, &run->total);
    putchar('\n');
}

static enum status replay_planting(struct replay *replay, size_t index, bool first) {
    const struct farm_planting *planting = &replay->farm->planting[index];
    const struct farm_field *field = farm_field_named(replay->farm, planting->field);
    const struct station_days *days = &replay->weather[station_index(replay->farm, field->station)].days;
    if (planting->start_date >= replay->until)
        return STATUS_OK;
    enum status status = planting_run(replay->farm, planting, days, replay->until,
                                      planting_until(replay->farm, index), &replay->run, replay->problems);
    if (status != STATUS_OK)
        return status;
    if (replay->run.weather_missing != CALENDAR_NONE) {
        char iso[CALENDAR_ISO_SIZE];
        problem_add(replay->problems, NULL, 0, 0, planting->field,
                    "no weather from %s on; the season stops before it",
                    calendar_format_iso(replay->run.weather_missing, iso));
    }
    if (replay->run.row_count == 0)
        return STATUS_OK;
    if (replay->csv) {
        struct text csv;
        text_init(&csv, 0);
        view_ledger_csv(planting->field, replay->run.row, replay->run.row_count, &csv);
        const char *text = text_string(&csv);
        const char *body = first ? text : strchr(text, '\n') + 1; /* one header for all */
        fputs(body, stdout);
        text_free(&csv);
    } else {
        print_season(replay, planting);
    }
    return STATUS_OK;
}

static enum status replay_all(struct replay *replay) {
    size_t shown = 0;
    enum status status = read_sources(replay);
    if (status == STATUS_OK && replay->until == CALENDAR_NONE)
        replay->until = end_of_weather(replay);
    if (status == STATUS_OK && replay->until == CALENDAR_NONE) {
        problem_add(replay->problems, NULL, 0, 0, NULL, "the sources of the farm file hold no observed day");
        status = STATUS_REFUSED;
    }
    if (status == STATUS_OK)
        status = build_stations(replay);
    for (size_t i = 0; status == STATUS_OK && i < replay->farm->planting_count; i++) {
        if (replay->only != NULL && strcmp(replay->only, replay->farm->planting[i].field) != 0)
            continue;
        status = replay_planting(replay, i, shown == 0);
        shown++;
    }
    if (status == STATUS_OK && shown == 0) {
        problem_add(replay->problems, NULL, 0, 0, NULL, "found nothing planted%s%s",
                    replay->only != NULL ? " on the field " : "", replay->only != NULL ? replay->only : "");
        status = STATUS_NOT_FOUND;
    }
    return status;
}

static enum status replay_farm(const struct options *options, const struct farm *farm, const char *base_dir,
                               struct problems *problems) {
    struct replay replay = {.farm = farm, .base_dir = base_dir, .until = CALENDAR_NONE, .problems = problems};
    enum status status = option_units(options, farm->us_units, &replay.us_units, problems);
    replay.only = option_value(options, "--field");
    replay.csv = option_value(options, "--csv") != NULL;
    if (status == STATUS_OK && option_value(options, "--today") != NULL) {
        struct morning_time morning;
        status = option_today(options, &morning, problems);
        replay.until = status == STATUS_OK ? morning.today : CALENDAR_NONE;
    }
    replay.weather = calloc(farm->station_count + 1, sizeof *replay.weather);
    if (replay.weather == NULL)
        status = STATUS_NO_MEMORY;
    for (size_t i = 0; replay.weather != NULL && i < farm->station_count; i++) {
        weather_days_init(&replay.weather[i].observed);
        weather_days_init(&replay.weather[i].forecast);
    }
    if (status == STATUS_OK)
        status = replay_all(&replay);
    for (size_t i = 0; replay.weather != NULL && i < farm->station_count; i++) {
        weather_days_free(&replay.weather[i].observed);
        weather_days_free(&replay.weather[i].forecast);
        station_days_free(&replay.weather[i].days);
    }
    free(replay.weather);
    planting_run_free(&replay.run);
    return status;
}

static enum status run_replay(const struct options *options, struct problems *problems) {
    struct farm farm;
    enum status status = read_farm(options->argument[0], &farm, problems);
    if (status != STATUS_OK)
        return status;
    char *base_dir = file_directory(options->argument[0]);
    status = base_dir != NULL ? download_start() : STATUS_NO_MEMORY;
    if (status == STATUS_OK) {
        status = replay_farm(options, &farm, base_dir, problems);
        download_stop();
    }
    free(base_dir);
    farm_free(&farm);
    return status;
}

static const struct option_spec replay_options[] = {
    {"--field", "NAME", "only this field"},
    {"--today", "DATE", "stop before this day; else as far as the observed weather goes"},
    OPTION_UNITS,
    {"--csv", NULL, "for programs: the ledger of every planting, day by day, in millimetres"},
    OPTION_END};

const struct command command_replay = {"replay",
                                       "FARMFILE",
                                       1,
                                       1,
                                       "compute whole seasons from files, without a database",
                                       "Weather comes from the sources that the farm file names (file: paths "
                                       "start where the farm file is). The ledger is\n"
                                       "the one that the daemon would have kept, to the last bit.",
                                       replay_options,
                                       run_replay};

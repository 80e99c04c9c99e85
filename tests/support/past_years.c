#include "tests/support/past_years.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/weather/reference_et.h"
#include "core/weather/weather.h"
#include "tests/support/hostile.h"
#include "tests/support/table.h"

static void give_up(const char *what) {
    fprintf(stderr, "past_years: %s\n", what);
    exit(1);
}

static void *room_for(size_t count, size_t size) {
    void *room = calloc(count, size);
    if (room == NULL)
        give_up("no memory");
    return room;
}

static void years_open(struct past_years *years, const char *name, int32_t first, int count) {
    *years = (struct past_years){.name = name, .first = first, .count = count};
    years->day = room_for((size_t)count, sizeof *years->day);
    years->et0_mm = room_for((size_t)count, sizeof *years->et0_mm);
    years->rain_mm = room_for((size_t)count, sizeof *years->rain_mm);
    years->history = (struct outlook_history){first, count, years->et0_mm, years->rain_mm};
}

void past_years_free(struct past_years *years) {
    free(years->day);
    free(years->et0_mm);
    free(years->rain_mm);
    free(years->forecast);
    free(years->issued);
    memset(years, 0, sizeof *years);
}

/* A reported day as the balance takes it. */
static struct season_input completed(const struct weather_site *site, const struct weather_day *reported) {
    struct season_input input = season_input_empty(reported->date);
    struct weather_full full;
    if (weather_complete(reported, site, NULL, &full) != STATUS_OK ||
        reference_et_day(&full, site, REFERENCE_FAO56_GRASS, NULL, &input.et0_mm) != STATUS_OK)
        give_up("a day cannot be completed");
    input.wind_2m_m_s = full.wind_2m_m_s.value;
    input.rh_min_pct = full.rh_min_pct;
    input.tmax_c = full.tmax_c.value;
    input.tmin_c = full.tmin_c.value;
    input.rain_mm = full.rain_mm.value;
    return input;
}

static void report(struct weather_day *day, enum weather_element element, double value) {
    day->value[element] = value;
    day->origin[element] = ORIGIN_MEASURED;
}

static void years_put(struct past_years *years, int index, const struct season_input *input) {
    years->day[index] = *input;
    years->et0_mm[index] = input->et0_mm;
    years->rain_mm[index] = input->rain_mm;
}

/* The days of one city of the package's file, in which each city's rows follow one another. */
static void years_of_city(struct past_years *years, const char *city, double latitude_deg,
                          double elevation_m) {
    struct table *table = table_read("tests/node_modules/vega-datasets/data/weather.csv");
    struct weather_site site = weather_site_default(latitude_deg, elevation_m);
    int first_row = 0, rows = 0;
    int32_t first = CALENDAR_NONE;
    site.wind_height_m = 10;
    for (int row = 0; row < table_rows(table); row++)
        if (strcmp(table_text(table, row, "location"), city) == 0 && rows++ == 0)
            first_row = row;
    for (int i = 0; i < rows; i++) {
        int32_t date;
        int row = first_row + i;
        if (calendar_parse_iso(table_text(table, row, "date"), &date) != STATUS_OK)
            give_up("a city's date cannot be read");
        if (i == 0) {
            first = date;
            years_open(years, city, date, rows);
        }
        if (date != first + i)
            give_up("a city's day is missing");
        struct weather_day day = weather_day_empty(date);
        report(&day, WEATHER_TMAX_C, table_number(table, row, "temp_max"));
        report(&day, WEATHER_TMIN_C, table_number(table, row, "temp_min"));
        report(&day, WEATHER_WIND_M_S, table_number(table, row, "wind"));
        report(&day, WEATHER_RAIN_MM, table_number(table, row, "precipitation"));
        /* A day of the file has its minimum at its maximum. */
        if (day.value[WEATHER_TMAX_C] <= day.value[WEATHER_TMIN_C])
            day.value[WEATHER_TMAX_C] = day.value[WEATHER_TMIN_C] + 0.1;
        struct season_input input = completed(&site, &day);
        years_put(years, i, &input);
    }
    table_free(table);
}

void past_years_seattle(struct past_years *years) {
    years_of_city(years, "Seattle", 47.6, 53);
}

void past_years_new_york(struct past_years *years) {
    years_of_city(years, "New York", 40.8, 40);
}

/* One line of make_weather: what it printed, completed. */
static bool read_invented(FILE *pipe, const struct weather_site *site, struct season_input *out) {
    char line[256], iso[16];
    double v[7];
    if (fgets(line, sizeof line, pipe) == NULL)
        return false;
    if (sscanf(line, "%15[^,],%lf,%lf,%lf,%lf,%lf,%lf,%lf", iso, &v[0], &v[1], &v[2], &v[3], &v[4], &v[5],
               &v[6]) != 8)
        give_up("make_weather printed something else");
    static const enum weather_element element[7] = {WEATHER_TMAX_C,     WEATHER_TMIN_C,   WEATHER_RH_MAX_PCT,
                                                    WEATHER_RH_MIN_PCT, WEATHER_WIND_M_S, WEATHER_RS_MJ_M2,
                                                    WEATHER_RAIN_MM};
    int32_t date;
    if (calendar_parse_iso(iso, &date) != STATUS_OK)
        give_up("make_weather printed no date");
    struct weather_day day = weather_day_empty(date);
    for (int i = 0; i < 7; i++)
        report(&day, element[i], v[i]);
    *out = completed(site, &day);
    return true;
}

static FILE *make_weather(unsigned seed, int32_t from, int days, const char *more) {
    char command[400], iso[CALENDAR_ISO_SIZE], header[256];
    const char *build = getenv("BUILD");
    snprintf(command, sizeof command,
             "%s/tests/tools/make_weather --seed %u --lat 33.2 --elev 84 --from %s --days %d %s",
             build != NULL ? build : "build", seed, calendar_format_iso(from, iso), days, more);
    FILE *pipe = popen(command, "r");
    if (pipe == NULL || fgets(header, sizeof header, pipe) == NULL)
        give_up("make_weather does not run");
    return pipe;
}

void past_years_invented(struct past_years *years, unsigned seed, int32_t from, int days) {
    struct weather_site site = weather_site_default(33.2, 84);
    char more[80], iso[CALENDAR_ISO_SIZE];
    struct season_input input;
    years_open(years, "invented station", from, days);
    FILE *pipe = make_weather(seed, from, days, "");
    for (int i = 0; i < days; i++) {
        if (!read_invented(pipe, &site, &input))
            give_up("make_weather ended early");
        years_put(years, i, &input);
    }
    pclose(pipe);
    int issues = days - HINDCAST_DAYS;
    years->forecast = room_for((size_t)days * HINDCAST_DAYS, sizeof *years->forecast);
    years->issued = room_for((size_t)days, sizeof *years->issued);
    snprintf(more, sizeof more, "--forecast %s --count %d", calendar_format_iso(from, iso), issues);
    pipe = make_weather(seed, from, days, more);
    for (int i = 0; i < issues; i++) {
        years->issued[i] = true;
        for (int k = 0; k < HINDCAST_DAYS; k++)
            if (!read_invented(pipe, &site, &years->forecast[i * HINDCAST_DAYS + k]))
                give_up("make_weather ended early");
    }
    pclose(pipe);
}

/* A day of another year within ten days of the same date. */
static const struct season_input *like_day(const struct past_years *years, int index,
                                           struct hostile *source) {
    for (;;) {
        int year = (int)hostile_between(source, 0, years->count / 365.25);
        int at = index % 365 + year * 365 + (int)hostile_between(source, -10, 10);
        if (at >= 0 && at < years->count && abs(at - index) > 60)
            return &years->day[at];
    }
}

void past_years_make_forecasts(struct past_years *years, uint64_t seed) {
    struct hostile source = hostile_seed(seed);
    years->forecast = room_for((size_t)years->count * HINDCAST_DAYS, sizeof *years->forecast);
    years->issued = room_for((size_t)years->count, sizeof *years->issued);
    for (int i = 0; i + HINDCAST_DAYS <= years->count; i++) {
        years->issued[i] = true;
        for (int k = 0; k < HINDCAST_DAYS; k++) {
            double skill = 0.9 - 0.07 * k;
            const struct season_input *truth = &years->day[i + k], *other = like_day(years, i + k, &source);
            struct season_input *said = &years->forecast[i * HINDCAST_DAYS + k];
            bool known = hostile_between(&source, 0, 1) < skill;
            *said = *truth;
            said->et0_mm = skill * truth->et0_mm + (1 - skill) * other->et0_mm;
            said->et0_mm *= exp(hostile_between(&source, -0.2, 0.2));
            said->rain_mm = (known ? truth : other)->rain_mm * exp(hostile_between(&source, -0.7, 0.7));
        }
    }
}

bool past_years_forecast(const struct past_years *years, int32_t issued, int days, struct season_input *out) {
    int index = issued - years->first;
    if (years->issued == NULL || index < 0 || index >= years->count || !years->issued[index])
        return false;
    memcpy(out, &years->forecast[index * HINDCAST_DAYS], (size_t)days * sizeof *out);
    return true;
}

struct outlook_pair *past_years_pairs(const struct past_years *years, int32_t before, int issues,
                                      size_t *count) {
    struct outlook_pair *pairs = room_for((size_t)issues * HINDCAST_DAYS + 1, sizeof *pairs);
    *count = 0;
    for (int32_t issued = before - issues; issued < before; issued++) {
        int index = issued - years->first;
        if (index < 0 || !years->issued[index])
            continue;
        for (int k = 0; k < HINDCAST_DAYS && issued + k < before; k++) {
            const struct season_input *said = &years->forecast[index * HINDCAST_DAYS + k];
            pairs[(*count)++] = (struct outlook_pair){issued,        issued + k,
                                                      said->et0_mm,  years->et0_mm[index + k],
                                                      said->rain_mm, years->rain_mm[index + k]};
        }
    }
    return pairs;
}

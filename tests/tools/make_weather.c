/* Makes invented daily weather of a humid subtropical inland lowland, and forecasts of it, as plain CSV on
 * stdout:
 *
 *   make_weather --seed N --lat DEG --elev M --from DATE --days N [--since DATE | --forecast DATE [--count
 * N]]
 *
 * --since DATE     prints only the days from DATE on (the run still begins at --from: same days, fewer lines)
 * --forecast DATE  prints, in place of the weather, a forecast of FORECAST_DAYS days issued on DATE
 * --count N        so many forecasts, one a day from DATE on, one after the other under one header
 *
 * Nothing in here is measured. The figures below are made up to be plausible for such a place, no source:
 *   wet or dry    two-state Markov chain; chance of a wet day after a dry and after a wet one by month
 *   rain          gamma with shape RAIN_SHAPE and a mean by month, 0.3 mm or more on a wet day
 *   temperature   yearly cosine + AR(1) anomaly; wet days cooler by day, milder by night
 *   humidity      dew point below tmin by a gap that is smaller on wet days; RH from eqs 11, 14, 17 of FAO-56
 *   wind          lognormal about a median by month, at 2 m
 *   radiation     share of the clear sky's (FAO-56 eqs 21, 37) by wet or dry, rain and the cloud that also
 *                 narrows the range of temperature
 *   forecast      the hidden variables of the days to come, mixed with noise by a skill that falls with the
 * lead The same arguments give the same text: printed values are rounded far above the last bits of the C
 * library. */
#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/sun.h"

#define DAYS_MAX         36600
#define FORECAST_DAYS    10
#define RAIN_SHAPE       0.80
#define RAIN_LEAST_MM    0.3
#define YEAR_MEAN_C      17.6
#define YEAR_AMPLITUDE_C 10.4
#define WARMEST_DAY      205
#define ANOMALY_MEMORY   0.65
#define PI               3.14159265358979323846

struct month {
    double wet_after_dry, wet_after_wet;
    double rain_mean_mm; /* on a wet day */
    double wind_m_s;     /* median */
    double anomaly_sd_c;
};

static const struct month months[12] = {
    {0.24, 0.45, 10.5, 2.1, 4.2}, {0.25, 0.46, 11.0, 2.2, 4.0}, {0.26, 0.47, 11.5, 2.3, 3.6},
    {0.23, 0.45, 11.5, 2.1, 2.9}, {0.23, 0.47, 10.0, 1.8, 2.3}, {0.22, 0.48, 9.5, 1.6, 1.8},
    {0.22, 0.47, 9.5, 1.4, 1.5},  {0.20, 0.46, 8.5, 1.4, 1.6},  {0.17, 0.46, 10.0, 1.5, 2.2},
    {0.15, 0.45, 11.0, 1.6, 3.0}, {0.19, 0.45, 11.5, 1.9, 3.6}, {0.23, 0.46, 11.5, 2.0, 4.1},
};

/* ---- chance
 * ------------------------------------------------------------------------------------------------- */

/* xoshiro256** of D. Blackman and S. Vigna, seeded by splitmix64; both in the public domain. */
struct chance {
    uint64_t word[4];
};

static uint64_t splitmix64(uint64_t *state) {
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static struct chance chance_seeded(uint64_t seed) {
    struct chance chance;
    for (int i = 0; i < 4; i++)
        chance.word[i] = splitmix64(&seed);
    return chance;
}

static uint64_t rotated(uint64_t word, int bits) {
    return (word << bits) | (word >> (64 - bits));
}

static uint64_t next_word(struct chance *chance) {
    uint64_t *w = chance->word;
    uint64_t result = rotated(w[1] * 5, 7) * 9, shifted = w[1] << 17;
    w[2] ^= w[0];
    w[3] ^= w[1];
    w[1] ^= w[2];
    w[0] ^= w[3];
    w[2] ^= shifted;
    w[3] = rotated(w[3], 45);
    return result;
}

/* Above 0 and below 1. */
static double uniform(struct chance *chance) {
    return ((double)(next_word(chance) >> 12) + 0.5) / 4503599627370496.0;
}

/* Box and Muller 1958. */
static double normal(struct chance *chance) {
    double radius = sqrt(-2.0 * log(uniform(chance)));
    return radius * cos(2.0 * PI * uniform(chance));
}

/* Marsaglia and Tsang 2000; a shape below 1 by their U^(1/shape) step. */
static double gamma_variate(struct chance *chance, double shape) {
    double d = shape + 1.0 - 1.0 / 3.0, c = 1.0 / sqrt(9.0 * d);
    for (;;) {
        double x = normal(chance), v = 1.0 + c * x;
        if (v <= 0.0)
            continue;
        v = v * v * v;
        if (log(uniform(chance)) < 0.5 * x * x + d - d * v + d * log(v))
            return d * v * pow(uniform(chance), 1.0 / shape);
    }
}

/* ---- the weather
 * -------------------------------------------------------------------------------------------- */

/* What is drawn for a day. The last four are standard normal. */
struct hidden {
    bool wet;
    double rain_mm;
    double anomaly_c;
    double cloud, spread, dryness, gust;
};

struct place {
    double latitude_deg, elevation_m;
};

struct shown {
    double tmax_c, tmin_c, rh_max_pct, rh_min_pct, wind_m_s, rs_mj_m2, rain_mm;
};

static const struct month *month_of(int32_t date) {
    return &months[calendar_to_civil(date).month - 1];
}

static double rain_drawn_mm(struct chance *chance, int32_t date) {
    double mean_mm = month_of(date)->rain_mean_mm - RAIN_LEAST_MM;
    return RAIN_LEAST_MM + gamma_variate(chance, RAIN_SHAPE) * mean_mm / RAIN_SHAPE;
}

static void draw_days(struct chance *chance, int32_t from, int count, struct hidden *days) {
    bool wet = false;
    double anomaly = 0.0;
    for (int i = 0; i < count; i++) {
        const struct month *month = month_of(from + i);
        wet = uniform(chance) < (wet ? month->wet_after_wet : month->wet_after_dry);
        anomaly = ANOMALY_MEMORY * anomaly + sqrt(1.0 - ANOMALY_MEMORY * ANOMALY_MEMORY) * normal(chance);
        /* The rain is drawn on dry days too, so that every day takes its numbers from the same place. */
        double rain_mm = rain_drawn_mm(chance, from + i);
        days[i].wet = wet;
        days[i].rain_mm = wet ? rain_mm : 0.0;
        days[i].anomaly_c = anomaly * month->anomaly_sd_c;
        days[i].cloud = normal(chance);
        days[i].spread = normal(chance);
        days[i].dryness = normal(chance);
        days[i].gust = normal(chance);
    }
}

/* Eq. 37, MJ m-2 day-1. */
static double clear_sky_mj_m2(const struct place *place, int32_t date) {
    struct sun_day sun;
    if (sun_of_day(place->latitude_deg, calendar_day_of_year(date), &sun) != STATUS_OK)
        return NAN;
    return sun_clear_sky_mj_m2(sun.ra_mj_m2, place->elevation_m);
}

static double held_within(double value, double least, double most) {
    return value < least ? least : value > most ? most : value;
}

static struct shown day_shown(const struct place *place, int32_t date, const struct hidden *day) {
    double angle = 2.0 * PI * (calendar_day_of_year(date) - WARMEST_DAY) / 365.25;
    double mean_c = YEAR_MEAN_C + YEAR_AMPLITUDE_C * cos(angle) + day->anomaly_c + (day->wet ? -0.9 : 0.4);
    double half_range_c = (day->wet ? 4.4 : 6.3) * exp(0.12 * (0.8 * day->spread - 0.6 * day->cloud));
    double gap_c = day->wet ? 0.2 + 0.4 * fabs(day->dryness) : 0.8 + 1.3 * fabs(day->dryness);
    double share = day->wet ? 0.60 - 0.11 * day->cloud - 0.04 * log(day->rain_mm) : 0.86 - 0.08 * day->cloud;

    struct shown shown = {.tmax_c = mean_c + half_range_c, .tmin_c = mean_c - half_range_c};
    double ea_kpa = air_ea_dewpoint_kpa(shown.tmin_c - gap_c);
    shown.rh_max_pct = 100.0 * ea_kpa / air_saturation_kpa(shown.tmin_c);
    shown.rh_min_pct = 100.0 * ea_kpa / air_saturation_kpa(shown.tmax_c);
    shown.wind_m_s = month_of(date)->wind_m_s * exp(0.3 * day->gust) * (day->wet ? 1.1 : 1.0);
    shown.rs_mj_m2 = held_within(share, 0.10, 1.00) * clear_sky_mj_m2(place, date);
    shown.rain_mm = day->rain_mm;
    return shown;
}

/* ---- the forecast
 * ------------------------------------------------------------------------------------------- */

static double mixed(double skill, double truth, double noise) {
    return skill * truth + sqrt(1.0 - skill * skill) * noise;
}

/* What a forecast says of one day. The skill is the chance that wet or dry is known rather than guessed. */
static struct hidden day_forecast(struct chance *chance, int32_t date, double skill, double error_c,
                                  const struct hidden *truth) {
    const struct month *month = month_of(date);
    double wet_share = month->wet_after_dry / (1.0 + month->wet_after_dry - month->wet_after_wet);
    bool known = uniform(chance) < skill, guess = uniform(chance) < wet_share;
    double drawn_mm = rain_drawn_mm(chance, date), noise = normal(chance);
    double log_mm = truth->wet ? skill * log(truth->rain_mm) + (1.0 - skill) * log(drawn_mm) : log(drawn_mm);

    struct hidden day = {.wet = known ? truth->wet : guess, .anomaly_c = truth->anomaly_c + error_c};
    if (day.wet)
        day.rain_mm = fmax(RAIN_LEAST_MM, exp(log_mm + 0.3 * noise));
    day.cloud = mixed(skill, truth->cloud, normal(chance));
    day.spread = mixed(skill, truth->spread, normal(chance));
    day.dryness = mixed(skill, truth->dryness, normal(chance));
    day.gust = mixed(skill, truth->gust, normal(chance));
    return day;
}

static void forecast_days(struct chance *chance, int32_t issued, const struct hidden *truth,
                          struct hidden *out) {
    double error_c = 0.0;
    for (int lead = 0; lead < FORECAST_DAYS; lead++) {
        error_c = 0.8 * error_c + 0.7 * normal(chance);
        out[lead] = day_forecast(chance, issued + lead, 0.93 - 0.07 * lead, error_c, &truth[lead]);
    }
}

/* ---- the command
 * -------------------------------------------------------------------------------------------- */

struct request {
    uint64_t seed;
    struct place place;
    int32_t from, since, issued; /* the last two: CALENDAR_NONE when not asked for */
    int days, count;
    bool has_seed, has_latitude, has_elevation;
};

static bool read_number(const char *option, const char *text, double least, double most, double *value) {
    char *end;
    errno = 0;
    double number = strtod(text, &end);
    if (end == text || *end != '\0' || errno != 0 || !(number >= least && number <= most)) {
        fprintf(stderr, "make_weather: %s: found \"%s\", expected a number from %g to %g\n", option, text,
                least, most);
        return false;
    }
    *value = number;
    return true;
}

static bool read_date(const char *option, const char *text, int32_t *date) {
    if (calendar_parse_iso(text, date) == STATUS_OK)
        return true;
    fprintf(stderr, "make_weather: %s: found \"%s\", expected a date as 2026-03-01\n", option, text);
    return false;
}

static bool read_option(const char *option, const char *text, struct request *request) {
    double number;
    if (strcmp(option, "--seed") == 0) {
        if (!read_number(option, text, 0, 4294967295.0, &number))
            return false;
        request->seed = (uint64_t)number;
        return request->has_seed = true;
    }
    if (strcmp(option, "--lat") == 0) /* the belt that the figures above are made up for */
        return request->has_latitude = read_number(option, text, 20, 45, &request->place.latitude_deg);
    if (strcmp(option, "--elev") == 0)
        return request->has_elevation = read_number(option, text, 0, 500, &request->place.elevation_m);
    if (strcmp(option, "--days") == 0) {
        if (!read_number(option, text, 1, DAYS_MAX, &number))
            return false;
        request->days = (int)number;
        return true;
    }
    if (strcmp(option, "--count") == 0) {
        if (!read_number(option, text, 1, DAYS_MAX, &number))
            return false;
        request->count = (int)number;
        return true;
    }
    if (strcmp(option, "--from") == 0)
        return read_date(option, text, &request->from);
    if (strcmp(option, "--since") == 0)
        return read_date(option, text, &request->since);
    if (strcmp(option, "--forecast") == 0)
        return read_date(option, text, &request->issued);
    fprintf(stderr, "make_weather: no option %s\n", option);
    return false;
}

static bool read_request(int argc, char **argv, struct request *request) {
    *request =
        (struct request){.from = CALENDAR_NONE, .since = CALENDAR_NONE, .issued = CALENDAR_NONE, .count = 1};
    for (int i = 1; i < argc; i += 2) {
        if (i + 1 == argc) {
            fprintf(stderr, "make_weather: %s: found nothing, expected a value after it\n", argv[i]);
            return false;
        }
        if (!read_option(argv[i], argv[i + 1], request))
            return false;
    }
    if (!request->has_seed || !request->has_latitude || !request->has_elevation ||
        request->from == CALENDAR_NONE || request->days == 0) {
        fprintf(stderr, "usage: make_weather --seed N --lat DEG --elev M --from DATE --days N "
                        "[--since DATE | --forecast DATE [--count N]]\n");
        return false;
    }
    int32_t end = request->from + request->days;
    if (!calendar_valid(end)) {
        fprintf(stderr, "make_weather: --days: the run ends past the calendar's last day\n");
        return false;
    }
    if (request->issued != CALENDAR_NONE &&
        (request->issued < request->from || request->issued + request->count - 1 + FORECAST_DAYS > end)) {
        fprintf(stderr, "make_weather: --forecast: its %d days must lie within the run\n", FORECAST_DAYS);
        return false;
    }
    return true;
}

static void print_days(const struct place *place, int32_t from, int count, const struct hidden *days) {
    for (int i = 0; i < count; i++) {
        char date[CALENDAR_ISO_SIZE];
        struct shown day = day_shown(place, from + i, &days[i]);
        printf("%s,%.1f,%.1f,%.0f,%.0f,%.1f,%.1f,%.1f\n", calendar_format_iso(from + i, date), day.tmax_c,
               day.tmin_c, day.rh_max_pct, day.rh_min_pct, day.wind_m_s, day.rs_mj_m2, day.rain_mm);
    }
}

int main(int argc, char **argv) {
    static struct hidden days[DAYS_MAX];
    struct request request;
    if (!read_request(argc, argv, &request))
        return 2;

    struct chance chance = chance_seeded(request.seed);
    draw_days(&chance, request.from, request.days, days);

    printf("date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s,rs_mj_m2,rain_mm\n");
    if (request.issued != CALENDAR_NONE) {
        for (int32_t issued = request.issued; issued < request.issued + request.count; issued++) {
            struct hidden forecast[FORECAST_DAYS];
            /* A stream of its own for each day of issue: asking for a forecast changes no weather. */
            struct chance error = chance_seeded(request.seed * 1000003u + (uint64_t)(uint32_t)issued);
            forecast_days(&error, issued, &days[issued - request.from], forecast);
            print_days(&request.place, issued, FORECAST_DAYS, forecast);
        }
    } else {
        int32_t first = request.since > request.from ? request.since : request.from;
        int skipped = first - request.from < request.days ? (int)(first - request.from) : request.days;
        print_days(&request.place, first, request.days - skipped, &days[skipped]);
    }
    return fflush(stdout) == 0 && !ferror(stdout) ? 0 : 1;
}

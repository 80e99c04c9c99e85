/* What no weather has. A file is refused where the whole of it speaks for a mistake in the columns, the units
 * or the missing codes. Limits: the records of the World Meteorological Organization's archive of weather
 * extremes for air temperature (from memory), physical bounds for the rest. */
#include <math.h>

#include "core/base/calendar.h"
#include "daemon/source/readers.h"

/* Bounds that a day's value can touch but not pass, and what is likely the matter above them. */
static const struct bound {
    enum weather_element element;
    double least, most;
    const char *unit;
    const char *hint; /* when values lie above */
} bounds[] = {
    {WEATHER_TMAX_C, -90.0, 57.0, "degC", "they look like degrees Fahrenheit, or tenths of a degree"},
    {WEATHER_TMIN_C, -90.0, 45.0, "degC", "they look like degrees Fahrenheit, or tenths of a degree"},
    {WEATHER_TMEAN_C, -90.0, 50.0, "degC", "they look like degrees Fahrenheit, or tenths of a degree"},
    {WEATHER_TDEW_C, -90.0, 36.0, "degC", "they look like degrees Fahrenheit, or tenths of a degree"},
    {WEATHER_TDRY_C, -90.0, 57.0, "degC", "they look like degrees Fahrenheit, or tenths of a degree"},
    {WEATHER_TWET_C, -90.0, 40.0, "degC", "they look like degrees Fahrenheit, or tenths of a degree"},
    {WEATHER_RH_MAX_PCT, 0.0, 110.0, "%", "they are no percentages"},
    {WEATHER_RH_MIN_PCT, 0.0, 110.0, "%", "they are no percentages"},
    {WEATHER_RH_MEAN_PCT, 0.0, 110.0, "%", "they are no percentages"},
    {WEATHER_EA_KPA, 0.0, 6.0, "kPa", "they look like hPa (millibars)"},
    {WEATHER_PRESSURE_KPA, 30.0, 110.0, "kPa", "they look like hPa (millibars)"},
    {WEATHER_WIND_M_S, 0.0, 60.0, "m/s", "they look like km/h, or tenths"},
    {WEATHER_RS_MJ_M2, 0.0, 48.0, "MJ/m2", "they look like W/m2, or like kJ/m2"},
    {WEATHER_SUN_H, 0.0, 24.0, "h", "they look like minutes or seconds"},
    {WEATHER_RAIN_MM, 0.0, 1900.0, "mm", "they look like hundredths or tenths of a millimetre"},
};

/* Numbers that files use for "missing". */
static const double codes[] = {-9999.0, -9999.9, -999.0, -999.9,  -99.0, -99.9, 999.9,
                               9999.0,  9999.9,  999.0,  99999.0, 99.99, 99.9};

static bool is_code(double value) {
    for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
        if (fabs(value - codes[i]) < 1e-9)
            return true;
    }
    return false;
}

struct tally {
    size_t present, outside;
    double first; /* the first value outside */
    int32_t first_date, code_date;
    double code;
};

static struct tally count_outside(const struct weather_days *days, const struct bound *bound) {
    struct tally tally = {.first_date = CALENDAR_NONE, .code_date = CALENDAR_NONE};
    for (size_t i = 0; i < days->count; i++) {
        double value = days->day[i].value[bound->element];
        if (isnan(value))
            continue;
        tally.present++;
        if (value >= bound->least && value <= bound->most)
            continue;
        if (tally.outside++ == 0) {
            tally.first = value;
            tally.first_date = days->day[i].date;
        }
        if (tally.code_date == CALENDAR_NONE && is_code(value)) {
            tally.code = value;
            tally.code_date = days->day[i].date;
        }
    }
    return tally;
}

static void judge_bound(const struct weather_days *days, const struct bound *bound,
                        const struct layout *layout, const char *where, struct problems *problems) {
    struct tally tally = count_outside(days, bound);
    const char *name = weather_element_name(bound->element);
    char iso[CALENDAR_ISO_SIZE];
    if (tally.code_date != CALENDAR_NONE) {
        problem_add(problems, where, 0, 0, name,
                    "found %g on %s, expected a number from %g to %g; it looks like a code for \"missing\", "
                    "which the "
                    "layout \"%s\" has to name",
                    tally.code, calendar_format_iso(tally.code_date, iso), bound->least, bound->most,
                    layout->name);
    } else if (tally.outside * 20 > tally.present && (tally.outside > 1 || tally.present < 3)) {
        problem_add(problems, where, 0, 0, name,
                    "found %zu of %zu days outside %g to %g %s, the first %g on %s; %s", tally.outside,
                    tally.present, bound->least, bound->most, bound->unit, tally.first,
                    calendar_format_iso(tally.first_date, iso),
                    tally.first > bound->most ? bound->hint : "check the column and its unit");
    }
}

/* More than half the days the wrong way round is a mistake in the columns; a single one is for the checks of
 * core/weather to find. */
static void judge_order(const struct weather_days *days, enum weather_element low, enum weather_element high,
                        const char *where, struct problems *problems) {
    size_t both = 0, wrong = 0;
    int32_t first = CALENDAR_NONE;
    for (size_t i = 0; i < days->count; i++) {
        double a = days->day[i].value[low], b = days->day[i].value[high];
        if (!isnan(a) && !isnan(b))
            both++;
        if (a > b && wrong++ == 0)
            first = days->day[i].date;
    }
    char iso[CALENDAR_ISO_SIZE];
    if (wrong * 2 > both)
        problem_add(
            problems, where, 0, 0, weather_element_name(high),
            "found %s below %s on %zu of %zu days, first on %s; expected it above: are the two columns "
            "swapped?",
            weather_element_name(high), weather_element_name(low), wrong, both,
            calendar_format_iso(first, iso));
}

/* Shares given where percentages are meant: no place stays below 1.5 % for long. */
static void judge_humidity(const struct weather_days *days, enum weather_element element, const char *where,
                           struct problems *problems) {
    size_t present = 0;
    double most = 0.0;
    for (size_t i = 0; i < days->count; i++) {
        double value = days->day[i].value[element];
        if (!isnan(value))
            present++;
        if (value > most)
            most = value;
    }
    if (present >= 3 && most > 0.0 && most <= 1.5)
        problem_add(problems, where, 0, 0, weather_element_name(element),
                    "found no value above %g on %zu days, expected per cent; they look like shares of 1",
                    most, present);
}

enum status judge_days(const struct layout *layout, const char *where, const struct weather_days *days,
                       struct problems *problems) {
    size_t before = problems->count;
    for (size_t i = 0; i < sizeof bounds / sizeof bounds[0]; i++)
        judge_bound(days, &bounds[i], layout, where, problems);
    judge_order(days, WEATHER_TMIN_C, WEATHER_TMAX_C, where, problems);
    judge_order(days, WEATHER_RH_MIN_PCT, WEATHER_RH_MAX_PCT, where, problems);
    judge_humidity(days, WEATHER_RH_MAX_PCT, where, problems);
    judge_humidity(days, WEATHER_RH_MEAN_PCT, where, problems);
    return problems->count > before ? STATUS_REFUSED : STATUS_OK;
}

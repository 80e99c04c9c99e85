/* Every layout that ships reads its fixture: the same twelve invented days, told in the shape of each
 * service. The truth is fixtures/layouts/plain.csv. Tolerances are half a step of the service's own
 * resolution, after conversion by exact unit definitions. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "support/near.h"
#include "support/reading.h"

#define ELEMENTS WEATHER_ELEMENT_COUNT

/* What a fixture is expected to hold: elements with their tolerance, and places where a value is missing. */
struct expected {
    const char *layout, *file;
    size_t days;
    struct {
        const char *element;
        double tolerance;
    } element[ELEMENTS];
    const char *missing[8]; /* "2024-02-27 tmax_c" */
};

static bool listed_missing(const struct expected *expected, const char *date, const char *element) {
    char both[64];
    (void)snprintf(both, sizeof both, "%s %s", date, element);
    for (size_t i = 0; i < 8 && expected->missing[i] != NULL; i++) {
        if (strcmp(expected->missing[i], both) == 0)
            return true;
    }
    return false;
}

static double tolerance_of(const struct expected *expected, const char *element) {
    for (size_t i = 0; i < ELEMENTS && expected->element[i].element != NULL; i++) {
        if (strcmp(expected->element[i].element, element) == 0)
            return expected->element[i].tolerance;
    }
    return -1.0;
}

/* Each value that is expected is near the truth, and no other value is there. */
static void assert_as_expected(const struct expected *expected, const struct reading_of *reading,
                               size_t days) {
    struct reading_of *truth = reading_of_fixture("plain", "layouts/plain.csv");
    assert_reading_days(reading, days);
    size_t compared = 0;
    for (size_t i = 0; i < reading->days.count; i++) {
        const struct weather_day *day = &reading->days.day[i],
                                 *true_day = weather_days_find(&truth->days, day->date);
        char iso[CALENDAR_ISO_SIZE];
        assert_non_null(true_day);
        (void)calendar_format_iso(day->date, iso);
        for (int e = 0; e < ELEMENTS; e++) {
            const char *name = weather_element_name((enum weather_element)e);
            double tolerance = tolerance_of(expected, name);
            if (tolerance < 0 || listed_missing(expected, iso, name)) {
                if (!isnan(day->value[e]))
                    fail_msg("%s: %s %s = %g, expected nothing", expected->layout, iso, name, day->value[e]);
                continue;
            }
            compared++;
            if (!(fabs(day->value[e] - true_day->value[e]) <= tolerance))
                fail_msg("%s: %s %s = %.9g, expected %.9g", expected->layout, iso, name, day->value[e],
                         true_day->value[e]);
        }
    }
    assert_true(compared >= days * 3);
    reading_done(truth);
}

static void check(const struct expected *expected) {
    struct reading_of *reading = reading_of_fixture(expected->layout, expected->file);
    assert_as_expected(expected, reading, expected->days);
    reading_done(reading);
}

/* The shape common to the files of GHCN-Daily: tenths; one value with a quality flag, one absent, one -9999.
 */
#define GHCN_ELEMENTS                                                                                        \
    {                                                                                                        \
        {"tmax_c", 1e-9}, {"tmin_c", 1e-9}, {"tdew_c", 1e-9}, {"rh_max_pct", 1e-9}, {"rh_min_pct", 1e-9},    \
            {"rh_mean_pct", 1e-9}, {"pressure_kpa", 1e-9}, {"wind_m_s", 1e-9}, {"sun_h", 1e-9}, {            \
            "rain_mm", 1e-9                                                                                  \
        }                                                                                                    \
    }
#define GHCN_MISSING                                                                                         \
    { "2024-02-27 tmax_c", "2024-03-01 rain_mm", "2024-03-03 wind_m_s" }

static void ghcn_daily_is_read_by_station_by_element_and_in_fixed_columns(void **state) {
    (void)state;
    const struct expected expected[] = {
        {"noaa-ghcn-daily-station", "layouts/noaa-ghcn-daily-station.csv", 12, GHCN_ELEMENTS, GHCN_MISSING},
        {"noaa-ghcn-daily-long", "layouts/noaa-ghcn-daily-long.csv", 12, GHCN_ELEMENTS, GHCN_MISSING},
        {"noaa-ghcn-daily-dly", "layouts/noaa-ghcn-daily-dly.dly", 12, GHCN_ELEMENTS, GHCN_MISSING},
    };
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++)
        check(&expected[i]);
}

static void an_order_in_us_units_is_converted(void **state) {
    (void)state;
    /* Whole degrees Fahrenheit: half of one is 0.28 degC; 0.01 in is 0.254 mm; 0.01 mi/h is 0.0045 m/s. */
    const struct expected expected = {
        "noaa-ghcn-daily-order-us",
        "layouts/noaa-ghcn-daily-order-us.csv",
        12,
        {{"tmax_c", 0.28}, {"tmin_c", 0.28}, {"wind_m_s", 0.003}, {"sun_h", 1e-9}, {"rain_mm", 0.13}},
        {NULL}};
    check(&expected);
}

static void the_summary_of_the_day_takes_rain_only_from_whole_days(void **state) {
    (void)state;
    /* 0.1 degF is 0.056 degC, 0.1 knot 0.051 m/s. Rain marked A and I is not the sum of a day. */
    const struct expected expected = {
        "noaa-gsod",
        "layouts/noaa-gsod.csv",
        12,
        {{"tmax_c", 0.03}, {"tmin_c", 0.03}, {"tdew_c", 0.03}, {"wind_m_s", 0.026}, {"rain_mm", 0.13}},
        {"2024-03-05 tmax_c", "2024-02-26 tdew_c", "2024-03-03 wind_m_s", "2024-03-01 rain_mm",
         "2024-03-04 rain_mm", "2024-02-27 rain_mm"}};
    check(&expected);
}

static void the_reference_network_is_read_by_day(void **state) {
    (void)state;
    const struct expected expected = {"noaa-uscrn-daily",
                                      "layouts/noaa-uscrn-daily.txt",
                                      12,
                                      {{"tmax_c", 1e-9},
                                       {"tmin_c", 1e-9},
                                       {"rh_max_pct", 1e-9},
                                       {"rh_min_pct", 1e-9},
                                       {"rh_mean_pct", 1e-9},
                                       {"rs_mj_m2", 1e-9},
                                       {"rain_mm", 1e-9}},
                                      {"2024-03-01 rain_mm", "2024-03-04 rs_mj_m2"}};
    check(&expected);
}

/* Hours of the first four days of plain.csv; their means and sums to half a step of the file's resolution
 * (radiation: one of 24 h of W/m2 is 0.0036 MJ/m2). */
static void a_plain_table_of_hours_gives_days_and_their_hours(void **state) {
    (void)state;
    struct reading_of *reading = reading_of_fixture("plain-hourly", "layouts/plain-hourly.csv");
    assert_reading_days(reading, 4);
    assert_near(reading_value(reading, "2024-02-25", "tmax_c"), 16.8, 1e-9);
    assert_near(reading_value(reading, "2024-02-26", "rh_min_pct"), 37.0, 1e-9);
    assert_near(reading_value(reading, "2024-02-26", "wind_m_s"), 2.6, 1e-9);
    assert_near(reading_value(reading, "2024-02-25", "rs_mj_m2"), 14.3, 0.0036);
    assert_near(reading_value(reading, "2024-02-27", "rain_mm"), 4.6, 1e-9);
    /* An hour of wind is missing on the last day. */
    assert_int_equal(reading->days.hours_count, 3);
    const struct weather_hours *hours = &reading->days.hours[0];
    int32_t date = CALENDAR_NONE;
    assert_int_equal(calendar_parse_iso("2024-02-24", &date), STATUS_OK);
    assert_int_equal(hours->date, date);
    assert_near(hours->hour[15].t_c, 14.2, 1e-9);
    assert_near(hours->hour[12].wind_m_s, 2.9, 1e-9);
    assert_near(hours->hour[12].rs_mj_m2, 505 * 3600 / 1e6, 1e-12); /* 505 W/m2 for an hour */
    reading_done(reading);
    /* The reference network's hours have no wind: their days have no hours. */
    reading = reading_of_fixture("noaa-uscrn-hourly", "layouts/noaa-uscrn-hourly.txt");
    assert_int_equal(reading->days.hours_count, 0);
    reading_done(reading);
}

static void the_reference_network_is_read_by_hour(void **state) {
    (void)state;
    struct reading_of *reading = reading_of_fixture("noaa-uscrn-hourly", "layouts/noaa-uscrn-hourly.txt");
    /* The third day lacks four hours and the fifth has five: neither is taken. */
    assert_reading_days(reading, 3);
    assert_near(reading_value(reading, "2024-02-24", "tmax_c"), 14.2, 1e-9);
    assert_near(reading_value(reading, "2024-02-25", "tmin_c"), 3.4, 1e-9);
    assert_near(reading_value(reading, "2024-02-27", "rh_min_pct"), 41.0, 1e-9);
    /* The file's hours add up to 3120 W/m2 h: 3120 * 3600 J = 11.232 MJ; see its column 14. */
    assert_near(reading_value(reading, "2024-02-24", "rs_mj_m2"), 3120 * 3600 / 1e6, 1e-9);
    /* One hour of radiation is flagged as erroneous: no day's sum can be told. */
    assert_true(isnan(reading_value(reading, "2024-02-25", "rs_mj_m2")));
    /* Rain: 2.3 + 1.1 + 1.1 as printed in the file. */
    assert_near(reading_value(reading, "2024-02-27", "rain_mm"), 4.5, 1e-9);
    assert_near(reading_value(reading, "2024-02-24", "rain_mm"), 0.0, 1e-9);
    reading_done(reading);
}

static void power_is_read_from_json_and_csv_in_the_units_it_names(void **state) {
    (void)state;
    /* The last day is all fill values and left out; radiation ends earlier. In the CSV it stands in kWh with
     * two decimals: half of 0.01 kWh is 0.018 MJ. */
    struct expected expected = {"nasa-power-json",
                                "layouts/nasa-power-json.json",
                                11,
                                {{"tmax_c", 1e-9},
                                 {"tmin_c", 1e-9},
                                 {"tdew_c", 1e-9},
                                 {"rh_mean_pct", 1e-9},
                                 {"pressure_kpa", 1e-9},
                                 {"wind_m_s", 1e-9},
                                 {"rs_mj_m2", 1e-9},
                                 {"rain_mm", 1e-9}},
                                {"2024-03-04 rs_mj_m2", "2024-03-05 rs_mj_m2"}};
    check(&expected);
    expected.layout = "nasa-power-csv";
    expected.file = "layouts/nasa-power-csv.csv";
    expected.element[6].tolerance = 0.0181;
    check(&expected);
}

static void power_csv_may_give_the_date_as_year_month_and_day(void **state) {
    (void)state;
    static const char text[] =
        "-BEGIN HEADER-\nPS  Surface Pressure (kPa) \n-END HEADER-\nYEAR,MO,DY,T2M_MAX,PS\n"
        "2024,2,29,19.4,97.6\n2024,3,1,12.7,-999\n";
    struct reading_of *reading = reading_by("nasa-power-csv", text);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2024-02-29", "pressure_kpa"), 97.6, 1e-9);
    assert_true(isnan(reading_value(reading, "2024-03-01", "pressure_kpa")));
    reading_done(reading);
    reading =
        reading_by("nasa-power-csv",
                   "-BEGIN HEADER-\nT2M_MAX  Temperature (m/s)\n-END HEADER-\nYEAR,DOY,T2M_MAX\n2024,1,5\n");
    assert_reading_refused(reading, "found the unit \"m/s\" for T2M_MAX, expected one of temperature");
    reading_done(reading);
    reading = reading_by("nasa-power-csv", "YEAR,DOY,T2M_MAX\n2024,1,5\n");
    assert_reading_refused(reading, "found no line \"-END HEADER-\"");
    reading_done(reading);
}

static void an_open_meteo_forecast_is_read_in_the_units_it_names(void **state) {
    (void)state;
    const struct expected expected = {"open-meteo",
                                      "layouts/open-meteo.json",
                                      7,
                                      {{"tmax_c", 1e-9},
                                       {"tmin_c", 1e-9},
                                       {"tdew_c", 1e-9},
                                       {"rh_max_pct", 1e-9},
                                       {"rh_min_pct", 1e-9},
                                       {"wind_m_s", 0.014},
                                       {"rs_mj_m2", 1e-9},
                                       {"sun_h", 1e-9},
                                       {"rain_mm", 0.0128}},
                                      {"2024-03-01 rs_mj_m2"}};
    check(&expected);
    struct reading_of *reading = reading_of_fixture("open-meteo", "layouts/open-meteo.json");
    assert_int_equal(reading->days.day[0].origin[WEATHER_TMAX_C], ORIGIN_FORECAST);
    reading_done(reading);
}

static int32_t six_hours_behind(void *context, int64_t utc) {
    (void)context, (void)utc;
    return -6 * 3600;
}

static int32_t two_hours_ahead(void *context, int64_t utc) {
    (void)context, (void)utc;
    return 2 * 3600;
}

static struct reading_of *in_zone(const char *name, const char *path, layout_zone zone) {
    struct layout *layout = NULL;
    struct problems problems;
    size_t size = 0;
    problems_init(&problems);
    assert_int_equal(layout_builtin(name, &layout, &problems), STATUS_OK);
    assert_true(layout_is_forecast(layout));
    layout_set_zone(layout, zone, NULL);
    char *bytes = reading_file(path, &size);
    assert_non_null(bytes);
    struct reading_of *reading = reading_with(layout, bytes, size);
    free(bytes);
    layout_free(layout);
    problems_free(&problems);
    return reading;
}

static void a_national_weather_service_grid_becomes_days_of_the_place(void **state) {
    (void)state;
    const struct expected expected = {
        "us-nws-grid",
        NULL,
        6,
        {{"tmax_c", 1e-9},
         {"tmin_c", 1e-9},
         {"tdew_c", 1e-6},
         {"rh_max_pct", 1e-9},
         {"rh_min_pct", 1e-9},
         {"wind_m_s", 1e-3},
         {"rain_mm", 1e-6}},
        {"2024-03-01 rain_mm"}}; /* half of that day's rain is not in the file */
    struct reading_of *reading =
        in_zone("us-nws-grid", "fixtures/layouts/us-nws-grid.json", six_hours_behind);
    assert_as_expected(&expected, reading, 6);
    assert_int_equal(reading->days.day[0].origin[WEATHER_RAIN_MM], ORIGIN_FORECAST);
    /* What is left of the first afternoon (9.0 degC over four hours) is no day's highest temperature. */
    assert_true(isnan(reading_value(reading, "2024-02-24", "tmax_c")));
    reading_done(reading);
}

static void a_norwegian_forecast_becomes_days_of_the_place(void **state) {
    (void)state;
    struct reading_of *reading = in_zone("met-norway", "fixtures/layouts/met-norway.json", two_hours_ahead);
    assert_reading_days(reading, 6);
    /* Begins at 06:00 of the first day: three quarters of it are there. */
    assert_near(reading_value(reading, "2024-02-24", "tmax_c"), 14.2, 1e-9);
    assert_near(reading_value(reading, "2024-02-25", "tmin_c"), 3.4, 1e-9);
    assert_near(reading_value(reading, "2024-02-26", "rh_min_pct"), 37.0, 1e-9);
    assert_near(reading_value(reading, "2024-02-27", "tmax_c"), 21.5, 1e-9);
    assert_near(reading_value(reading, "2024-02-27", "wind_m_s"), 2.4, 1e-9);
    assert_near(reading_value(reading, "2024-02-27", "tdew_c"), 2.5, 1e-9);
    /* Rain of single hours, then of six: never both, though both stand there (the six-hour figure is 99 mm).
     */
    assert_near(reading_value(reading, "2024-02-25", "rain_mm"), 0.0, 1e-9);
    assert_near(reading_value(reading, "2024-02-27", "rain_mm"), 4.6, 1e-9);
    assert_near(reading_value(reading, "2024-02-28", "rain_mm"), 18.3, 1e-9);
    reading_done(reading);
}

static void services_state_the_height_of_their_wind(void **state) {
    (void)state;
    static const struct {
        const char *name;
        double height;
    } layouts[] = {{"noaa-gsod", 10.0}, {"nasa-power-json", 2.0}, {"us-nws-grid", 10.0}, {"plain", -1.0}};
    for (size_t i = 0; i < sizeof layouts / sizeof layouts[0]; i++) {
        struct layout *layout = NULL;
        struct problems problems;
        problems_init(&problems);
        assert_int_equal(layout_builtin(layouts[i].name, &layout, &problems), STATUS_OK);
        if (layouts[i].height > 0)
            assert_near(layout_wind_height_m(layout), layouts[i].height, 0.0);
        else
            assert_true(isnan(layout_wind_height_m(layout)));
        layout_free(layout);
        problems_free(&problems);
    }
}

static void a_file_of_two_stations_is_refused(void **state) {
    (void)state;
    struct reading_of *reading = reading_by("noaa-ghcn-daily-long", "XX000000042,20240224,TMAX,142,,,W,\n"
                                                                    "XX000000043,20240224,TMAX,139,,,W,\n");
    assert_reading_refused(reading,
                           "days.csv:2: found station \"XX000000043\", expected only \"XX000000042\"");
    reading_done(reading);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ghcn_daily_is_read_by_station_by_element_and_in_fixed_columns),
        cmocka_unit_test(an_order_in_us_units_is_converted),
        cmocka_unit_test(the_summary_of_the_day_takes_rain_only_from_whole_days),
        cmocka_unit_test(the_reference_network_is_read_by_day),
        cmocka_unit_test(the_reference_network_is_read_by_hour),
        cmocka_unit_test(a_plain_table_of_hours_gives_days_and_their_hours),
        cmocka_unit_test(power_is_read_from_json_and_csv_in_the_units_it_names),
        cmocka_unit_test(power_csv_may_give_the_date_as_year_month_and_day),
        cmocka_unit_test(an_open_meteo_forecast_is_read_in_the_units_it_names),
        cmocka_unit_test(a_national_weather_service_grid_becomes_days_of_the_place),
        cmocka_unit_test(a_norwegian_forecast_becomes_days_of_the_place),
        cmocka_unit_test(services_state_the_height_of_their_wind),
        cmocka_unit_test(a_file_of_two_stations_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

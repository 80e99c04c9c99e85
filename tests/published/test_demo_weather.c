/* The demo's invented weather is what tests/tools/make_weather makes of fixtures/demo/recipe.txt, and is
 * plausible. Physical limits are those of FAO-56 Annex 5; all other bounds are stated in
 * fixtures/demo/README.md and have no other source. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/sun.h"
#include "core/weather/weather.h"

#define HEADER    "date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s,rs_mj_m2,rain_mm\n"
#define DAYS_MAX  36600
#define LATITUDE  33.2
#define ELEVATION 84.0
#define LONG_RUN  "--seed 77 --lat 33.2 --elev 84 --from 1950-01-01 --days 36524" /* 100 whole years */

struct day {
    int32_t date;
    double tmax_c, tmin_c, rh_max_pct, rh_min_pct, wind_m_s, rs_mj_m2, rain_mm;
};

struct run {
    int count;
    struct day day[DAYS_MAX];
};

static struct run long_run, observed, forecast, later;

/* ---- reading
 * ------------------------------------------------------------------------------------------------ */

static char *read_all(FILE *file) {
    size_t size = 0, room = 1 << 16;
    char *text = malloc(room);
    assert_non_null(text);
    for (size_t got; (got = fread(text + size, 1, room - size - 1, file)) > 0;) {
        size += got;
        if (room - size < 2) {
            text = realloc(text, room *= 2);
            assert_non_null(text);
        }
    }
    text[size] = '\0';
    return text;
}

static char *file_text(const char *path) {
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        fail_msg("cannot open %s", path);
    char *text = read_all(file);
    fclose(file);
    return text;
}

/* What the tool prints for these arguments; its exit code in *code. */
static char *tool_text(const char *arguments, int *code) {
    const char *build = getenv("BUILD");
    char command[512];
    snprintf(command, sizeof command, "%s/tests/tools/make_weather %s 2>&1", build != NULL ? build : "build",
             arguments);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    char *text = read_all(pipe);
    int ended = pclose(pipe);
    assert_true(WIFEXITED(ended));
    *code = WEXITSTATUS(ended);
    return text;
}

static void read_run(const char *text, struct run *run) {
    assert_int_equal(strncmp(text, HEADER, strlen(HEADER)), 0);
    run->count = 0;
    for (const char *line = strchr(text, '\n') + 1; *line != '\0'; line = strchr(line, '\n') + 1) {
        assert_true(run->count < DAYS_MAX);
        struct day *day = &run->day[run->count++];
        char date[CALENDAR_ISO_SIZE];
        int got = sscanf(line, "%10s,%lf,%lf,%lf,%lf,%lf,%lf,%lf\n", date, &day->tmax_c, &day->tmin_c,
                         &day->rh_max_pct, &day->rh_min_pct, &day->wind_m_s, &day->rs_mj_m2, &day->rain_mm);
        if (got != 8 || calendar_parse_iso(date, &day->date) != STATUS_OK)
            fail_msg("line %d is not a day: %.60s", run->count + 1, line);
    }
}

static int read_all_runs(void **state) {
    (void)state;
    static const struct {
        const char *path;
        struct run *run;
    } files[] = {{"fixtures/demo/weather/observed.csv", &observed},
                 {"fixtures/demo/weather/forecast.csv", &forecast},
                 {"fixtures/demo/weather/later.csv", &later}};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char *text = file_text(files[i].path);
        read_run(text, files[i].run);
        free(text);
    }
    int code;
    char *text = tool_text(LONG_RUN, &code);
    read_run(text, &long_run);
    free(text);
    return code;
}

/* ---- what a day is held against
 * ----------------------------------------------------------------------------- */

static double ra_mj_m2(int32_t date) {
    struct sun_day sun;
    assert_int_equal(sun_of_day(LATITUDE, calendar_day_of_year(date), &sun), STATUS_OK);
    return sun.ra_mj_m2;
}

static double clear_sky_share(const struct day *day) {
    return day->rs_mj_m2 / sun_clear_sky_mj_m2(ra_mj_m2(day->date), ELEVATION);
}

static bool is_wet(const struct day *day) {
    return day->rain_mm > 0.0;
}

static void check_limits(const struct run *run) {
    assert_true(run->count > 0);
    for (int i = 0; i < run->count; i++) {
        const struct day *day = &run->day[i];
        bool fine = day->tmax_c > day->tmin_c && day->tmin_c > -30.0 && day->tmax_c < 45.0 &&
                    day->rh_min_pct > 0.0 && day->rh_min_pct <= day->rh_max_pct && day->rh_max_pct <= 100.0 &&
                    day->wind_m_s > 0.0 && day->wind_m_s < 12.0 && day->rs_mj_m2 > 0.0 &&
                    day->rs_mj_m2 < ra_mj_m2(day->date) && clear_sky_share(day) <= 1.05 &&
                    day->rain_mm >= 0.0 && day->rain_mm < 250.0 &&
                    (i == 0 || day->date == run->day[i - 1].date + 1);
        if (!fine) {
            char date[CALENDAR_ISO_SIZE];
            fail_msg("%s is not a day that can be", calendar_format_iso(day->date, date));
        }
    }
}

/* ---- tests
 * -------------------------------------------------------------------------------------------------- */

static void shipped_weather_is_what_the_tool_makes_of_the_recipe(void **state) {
    (void)state;
    char *recipe = file_text("fixtures/demo/recipe.txt"), *rest = NULL;
    int lines = 0;
    for (char *line = strtok_r(recipe, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest), lines++) {
        char *arguments = strchr(line, ' '), path[128];
        assert_non_null(arguments);
        *arguments++ = '\0';
        snprintf(path, sizeof path, "fixtures/demo/weather/%s", line);
        int code;
        char *made = tool_text(arguments, &code), *shipped = file_text(path);
        assert_int_equal(code, 0);
        assert_string_equal(made, shipped);
        free(made);
        free(shipped);
    }
    free(recipe);
    assert_int_equal(lines, 3);
}

static void another_seed_makes_another_weather(void **state) {
    (void)state;
    int code;
    char *one = tool_text("--seed 1 --lat 33.2 --elev 84 --from 2026-03-01 --days 30", &code);
    char *other = tool_text("--seed 2 --lat 33.2 --elev 84 --from 2026-03-01 --days 30", &code);
    char *again = tool_text("--seed 1 --lat 33.2 --elev 84 --from 2026-03-01 --days 30", &code);
    assert_string_equal(one, again);
    assert_string_not_equal(one, other);
    free(one);
    free(other);
    free(again);
}

static void every_day_keeps_within_physical_limits(void **state) {
    (void)state;
    check_limits(&observed);
    check_limits(&forecast);
    check_limits(&later);
    check_limits(&long_run);
}

static struct weather_day as_reported(const struct day *day) {
    struct weather_day reported = weather_day_empty(day->date);
    reported.value[WEATHER_TMAX_C] = day->tmax_c;
    reported.value[WEATHER_TMIN_C] = day->tmin_c;
    reported.value[WEATHER_RH_MAX_PCT] = day->rh_max_pct;
    reported.value[WEATHER_RH_MIN_PCT] = day->rh_min_pct;
    reported.value[WEATHER_WIND_M_S] = day->wind_m_s;
    reported.value[WEATHER_RS_MJ_M2] = day->rs_mj_m2;
    reported.value[WEATHER_RAIN_MM] = day->rain_mm;
    return reported;
}

static void the_checks_on_weather_have_nothing_to_say_of_the_shipped_days(void **state) {
    (void)state;
    static struct weather_day days[400];
    struct weather_site site = weather_site_default(LATITUDE, ELEVATION);
    int count = 0;
    for (int i = 0; i < observed.count; i++)
        days[count++] = as_reported(&observed.day[i]);
    for (int i = 0; i < later.count; i++)
        days[count++] = as_reported(&later.day[i]);
    for (int i = 0; i < count; i++) {
        struct weather_findings findings;
        enum status status =
            weather_check(&days[i], i > 0 ? &days[i - 1] : NULL, i + 1 < count ? &days[i + 1] : NULL, days,
                          i + 1, &site, &findings);
        assert_int_equal(status, STATUS_OK);
        assert_int_equal(findings.count, 0);
    }
}

static void the_files_meet_at_the_demo_morning(void **state) {
    (void)state;
    int32_t morning;
    assert_int_equal(calendar_parse_iso("2026-07-14", &morning), STATUS_OK);
    assert_int_equal(calendar_weekday(morning), 1); /* a Tuesday */
    assert_int_equal(observed.day[observed.count - 1].date, morning - 1);
    assert_int_equal(forecast.day[0].date, morning);
    assert_int_equal(later.day[0].date, morning);
    assert_int_equal(forecast.count, 10);
}

/* Sums over the wet or the dry days of June to August. */
static void summer_means(const struct run *run, bool wet, double *share, double *range_c) {
    int count = 0;
    *share = *range_c = 0.0;
    for (int i = 0; i < run->count; i++) {
        int month = calendar_to_civil(run->day[i].date).month;
        if (month < 6 || month > 8 || is_wet(&run->day[i]) != wet)
            continue;
        *share += clear_sky_share(&run->day[i]);
        *range_c += run->day[i].tmax_c - run->day[i].tmin_c;
        count++;
    }
    assert_true(count > 5);
    *share /= count;
    *range_c /= count;
}

static void wet_days_are_duller_and_narrower_than_dry_days(void **state) {
    (void)state;
    const struct run *runs[] = {&observed, &later, &long_run};
    for (int i = 0; i < 3; i++) {
        double wet_share, dry_share, wet_range_c, dry_range_c;
        summer_means(runs[i], true, &wet_share, &wet_range_c);
        summer_means(runs[i], false, &dry_share, &dry_range_c);
        assert_true(wet_share < dry_share - 0.15);
        assert_true(wet_range_c < dry_range_c - 2.0);
    }
}

static void rain_of_a_month_is_on_average_what_the_documentation_says(void **state) {
    (void)state;
    /* fixtures/demo/README.md, mm. 100 Julys have a standard error of some 5 mm: 15 % is three of them. */
    static const double documented_mm[12] = {99, 98, 117, 102, 94, 85, 86, 71, 72, 73, 89, 106};
    double sum_mm[12] = {0};
    for (int i = 0; i < long_run.count; i++)
        sum_mm[calendar_to_civil(long_run.day[i].date).month - 1] += long_run.day[i].rain_mm;
    for (int month = 0; month < 12; month++) {
        double mean_mm = sum_mm[month] / 100.0;
        if (fabs(mean_mm - documented_mm[month]) > 0.15 * documented_mm[month])
            fail_msg("month %d: mean rain %.1f mm, documented %.0f mm", month + 1, mean_mm,
                     documented_mm[month]);
    }
}

static void rain_of_each_shipped_month_is_within_the_documented_range(void **state) {
    (void)state;
    double sum_mm[13] = {0};
    for (int i = 0; i < observed.count; i++)
        sum_mm[calendar_to_civil(observed.day[i].date).month] += observed.day[i].rain_mm;
    for (int i = 0; i < later.count; i++)
        sum_mm[calendar_to_civil(later.day[i].date).month] += later.day[i].rain_mm;
    for (int month = 3; month <= 10; month++)
        assert_true(sum_mm[month] >= 20.0 && sum_mm[month] <= 220.0);
}

static int longest_spell(const struct run *run, bool wet) {
    int longest = 0, length = 0;
    for (int i = 0; i < run->count; i++) {
        length = is_wet(&run->day[i]) == wet ? length + 1 : 0;
        longest = length > longest ? length : longest;
    }
    return longest;
}

static void wet_and_dry_days_come_in_spells(void **state) {
    (void)state;
    int after_dry = 0, wet_after_dry = 0, after_wet = 0, wet_after_wet = 0;
    for (int i = 1; i < long_run.count; i++) {
        bool before = is_wet(&long_run.day[i - 1]), now = is_wet(&long_run.day[i]);
        after_wet += before;
        wet_after_wet += before && now;
        after_dry += !before;
        wet_after_dry += !before && now;
    }
    assert_true((double)wet_after_wet / after_wet > (double)wet_after_dry / after_dry + 0.15);
    assert_true(longest_spell(&observed, false) >= 6);
    assert_true(longest_spell(&observed, true) >= 3);
}

static void a_forecast_is_near_what_comes_but_not_the_same(void **state) {
    (void)state;
    double error_c = 0.0;
    int same = 0, rain_misjudged = 0;
    for (int i = 0; i < forecast.count; i++) {
        const struct day *said = &forecast.day[i], *came = &later.day[i];
        assert_int_equal(said->date, came->date);
        error_c += fabs(said->tmax_c - came->tmax_c) / forecast.count;
        same += said->tmax_c == came->tmax_c && said->rain_mm == came->rain_mm;
        rain_misjudged += is_wet(said) != is_wet(came);
    }
    assert_true(error_c > 0.3 && error_c < 4.0);
    assert_true(same <= 2);
    assert_true(rain_misjudged >= 1 && rain_misjudged <= 5);
}

static void a_bad_argument_is_refused_with_what_was_expected(void **state) {
    (void)state;
    static const char *const bad[][2] = {
        {"", "usage"},
        {"--seed", "expected a value"},
        {"--seed x", "expected a number"},
        {"--lat nan", "expected a number from 20 to 45"},
        {"--lat 70", "expected a number from 20 to 45"},
        {"--elev 1e9", "expected a number from 0 to 500"},
        {"--days 0", "expected a number from 1"},
        {"--from 2026-02-30", "expected a date"},
        {"--colour red", "no option"},
        {"--seed 1 --lat 33 --elev 84 --from 2999-12-01 --days 60", "calendar"},
        {"--seed 1 --lat 33 --elev 84 --from 2026-03-01 --days 10 --forecast 2026-03-05", "within the run"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        int code;
        char *text = tool_text(bad[i][0], &code);
        assert_int_equal(code, 2);
        assert_non_null(strstr(text, bad[i][1]));
        free(text);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shipped_weather_is_what_the_tool_makes_of_the_recipe),
        cmocka_unit_test(another_seed_makes_another_weather),
        cmocka_unit_test(every_day_keeps_within_physical_limits),
        cmocka_unit_test(the_checks_on_weather_have_nothing_to_say_of_the_shipped_days),
        cmocka_unit_test(the_files_meet_at_the_demo_morning),
        cmocka_unit_test(wet_days_are_duller_and_narrower_than_dry_days),
        cmocka_unit_test(rain_of_a_month_is_on_average_what_the_documentation_says),
        cmocka_unit_test(rain_of_each_shipped_month_is_within_the_documented_range),
        cmocka_unit_test(wet_and_dry_days_come_in_spells),
        cmocka_unit_test(a_forecast_is_near_what_comes_but_not_the_same),
        cmocka_unit_test(a_bad_argument_is_refused_with_what_was_expected),
    };
    return cmocka_run_group_tests(tests, read_all_runs, NULL);
}

/* Weather in the database: corrections, issues, what was known on each morning, what is still to be asked
 * for. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/weather_store.h"
#include "support/near.h"
#include "support/store.h"

#define D0 20000 /* a day number like any other: 2024-10-04 */

static const char farm_json[] =
    "{\"farm\": {\"name\": \"F\"}, \"stations\": ["
    "{\"name\": \"yard\", \"latitude\": 38, \"longitude\": -98, \"elevation\": \"500 m\", \"neighbours\": "
    "[\"hill\"]},"
    "{\"name\": \"hill\", \"latitude\": 38.1, \"longitude\": -98, \"elevation\": \"900 m\"}],"
    "\"sources\": ["
    "{\"name\": \"gauge\", \"station\": \"yard\", \"layout\": \"plain\", \"address\": \"file:a\", \"kind\": "
    "\"observed\"},"
    "{\"name\": \"ahead\", \"station\": \"yard\", \"layout\": \"plain\", \"address\": \"file:b\", \"kind\": "
    "\"forecast\"},"
    "{\"name\": \"second\", \"station\": \"yard\", \"layout\": \"plain\", \"address\": \"file:c\", \"kind\": "
    "\"observed\"},"
    "{\"name\": \"hill gauge\", \"station\": \"hill\", \"layout\": \"plain\", \"address\": \"file:d\", "
    "\"kind\": "
    "\"observed\"}],"
    "\"soils\": [{\"name\": \"loam\", \"texture\": \"loam\"}],"
    "\"fields\": [{\"name\": \"Plot\", \"station\": \"yard\", \"soil\": \"loam\", \"area\": \"1 ha\", "
    "\"system\": "
    "{\"kind\": \"drip\", \"flow\": \"20 m3/h\"}}],"
    "\"plantings\": [{\"field\": \"Plot\", \"crop\": \"maize, grain\", \"planted\": \"2024-08-01\"},"
    "{\"field\": \"Plot\", \"crop\": \"maize, grain\", \"planted\": \"2025-05-01\"}]}";

enum { GAUGE, AHEAD, SECOND, HILL };

static struct test_store store;

static int open_store(void **state) {
    (void)state;
    return test_store_open(&store, farm_json);
}

static int close_store(void **state) {
    (void)state;
    test_store_close(&store);
    return 0;
}

/* A download of `count` days from `first`, all with the same rain, taken on a morning. */
struct taken {
    int source;
    int32_t day, first;
    int count;
    double rain_mm;
    int32_t start, end;
    const char *hash; /* NULL: one of its own */
};

static struct weather_fetch fetch_of(const struct taken *taken) {
    static int serial;
    struct weather_fetch fetch = {
        .source_id = store.ids.source[taken->source],
        .station_id = store.ids.station[taken->source == HILL ? 1 : 0],
        .kind = store.farm.source[taken->source].kind,
        .at = (int64_t)taken->day * 86400,
        .day = taken->day,
        .start = taken->start != 0 ? taken->start : CALENDAR_NONE,
        .end = taken->end != 0 ? taken->end : CALENDAR_NONE,
        .address = "file:x",
        .layout = "plain",
        .wind_height_m = (double)NAN,
        .size = 10,
        .site = &store.farm.station[0].site,
    };
    if (taken->hash != NULL)
        (void)snprintf(fetch.sha256, sizeof fetch.sha256, "%s", taken->hash);
    else
        (void)snprintf(fetch.sha256, sizeof fetch.sha256, "%d", serial++);
    return fetch;
}

static size_t take(struct taken taken) {
    struct weather_fetch fetch = fetch_of(&taken);
    struct weather_days days;
    size_t changed = 0;
    weather_days_init(&days);
    for (int i = 0; i < taken.count; i++) {
        enum status status;
        struct weather_day *day = weather_days_at(&days, taken.first + i, &status);
        day->value[WEATHER_RAIN_MM] = taken.rain_mm;
        day->origin[WEATHER_RAIN_MM] = ORIGIN_MEASURED;
    }
    assert_int_equal(weather_store_take(store.db, &fetch, &days, &changed, &store.problems), STATUS_OK);
    weather_days_free(&days);
    return changed;
}

/* The rain of a day as it is known on a morning; NaN: it is not. */
static double known(int32_t today, int32_t date, bool of_forecast) {
    struct weather_days observed, forecast;
    int32_t issued;
    weather_days_init(&observed);
    weather_days_init(&forecast);
    assert_int_equal(weather_store_load(store.db, store.ids.station[0], D0 - 1000, D0 - 1000, today,
                                        D0 + 1000, &observed, &forecast, &issued, &store.problems),
                     STATUS_OK);
    const struct weather_day *day = weather_days_find(of_forecast ? &forecast : &observed, date);
    double rain = day != NULL ? day->value[WEATHER_RAIN_MM] : (double)NAN;
    weather_days_free(&observed);
    weather_days_free(&forecast);
    return rain;
}

static int32_t issued_on(int32_t today) {
    struct weather_days observed, forecast;
    int32_t issued;
    weather_days_init(&observed);
    weather_days_init(&forecast);
    assert_int_equal(weather_store_load(store.db, store.ids.station[0], D0, D0, today, D0, &observed,
                                        &forecast, &issued, &store.problems),
                     STATUS_OK);
    weather_days_free(&observed);
    weather_days_free(&forecast);
    return issued;
}

static int32_t dirty_day_of(int planting) {
    struct farm_ids ids;
    assert_int_equal(farm_store_ids(store.db, &store.farm, &ids, &store.problems), STATUS_OK);
    int32_t day = ids.dirty[planting];
    farm_ids_free(&ids);
    return day;
}

static int32_t dirty_day(void) {
    return dirty_day_of(0);
}

/* The ledger of a planting as it stands after a morning: one day of it, or none (CALENDAR_NONE). */
static void keep_ledger(int planting, int32_t day) {
    struct ledger_writer *writer;
    struct ledger_row row = {.day = {.date = day}};
    const struct ledger_write write = {.planting_id = store.ids.planting[planting],
                                       .marked = true,
                                       .over = true,
                                       .from = CALENDAR_FIRST,
                                       .row = &row,
                                       .row_count = day != CALENDAR_NONE};
    assert_int_equal(ledger_writer_new(store.db, LEDGER_SOME, &writer, &store.problems), STATUS_OK);
    assert_int_equal(ledger_writer_planting(writer, &write, &store.problems), STATUS_OK);
    ledger_writer_free(writer);
    assert_int_equal(dirty_day_of(planting), CALENDAR_NONE);
}

static void each_morning_knows_what_had_been_said_by_then(void **state) {
    (void)state;
    assert_int_equal(take((struct taken){GAUGE, D0 + 3, D0, 3, 1.0, 0, 0, NULL}), 3);
    assert_int_equal(take((struct taken){GAUGE, D0 + 5, D0 + 1, 1, 7.5, 0, 0, NULL}), 1); /* a correction */
    assert_true(isnan(known(D0 + 2, D0, false)));
    assert_true(known(D0 + 3, D0 + 1, false) == 1.0);
    assert_true(known(D0 + 4, D0 + 1, false) == 1.0);
    assert_true(known(D0 + 5, D0 + 1, false) == 7.5);
    assert_true(known(D0 + 9, D0 + 2, false) == 1.0);
}

static void a_day_counts_only_once_it_has_ended(void **state) {
    (void)state;
    static const char same[] = "same";
    assert_int_equal(take((struct taken){GAUGE, D0 + 3, D0, 6, 1.0, 0, 0, same}), 6);
    assert_true(known(D0 + 3, D0 + 2, false) == 1.0);
    assert_true(isnan(known(D0 + 3, D0 + 3, false)));
    /* The next morning without news: what was said of the day before was said before it ended. */
    assert_true(isnan(known(D0 + 4, D0 + 3, false)));
    assert_int_equal(take((struct taken){GAUGE, D0 + 5, D0, 6, 1.0, 0, 0, same}), 0);
    assert_true(known(D0 + 5, D0 + 3, false) == 1.0);
    assert_true(known(D0 + 5, D0 + 4, false) == 1.0);
    assert_true(isnan(known(D0 + 6, D0 + 5, false)));
}

static void the_same_value_said_again_after_the_day_counts(void **state) {
    (void)state;
    assert_int_equal(take((struct taken){GAUGE, D0 + 3, D0 + 3, 1, 1.0, 0, 0, NULL}), 1);
    assert_int_equal(take((struct taken){GAUGE, D0 + 4, D0 + 3, 1, 1.0, 0, 0, NULL}), 1);
    assert_int_equal(take((struct taken){GAUGE, D0 + 5, D0 + 3, 1, 1.0, 0, 0, NULL}), 0);
    assert_true(known(D0 + 4, D0 + 3, false) == 1.0);
}

static void ledgers_are_marked_from_the_first_day_that_changed(void **state) {
    (void)state;
    /* After an import all is to be computed anew, from the planting's first day on. */
    int32_t start = store.farm.planting[0].start_date;
    assert_int_equal(dirty_day(), start);
    (void)take((struct taken){GAUGE, D0 + 5, start - 3, 2, 1.0, 0, 0, NULL});
    assert_int_equal(dirty_day(), start - 3);
    (void)take((struct taken){GAUGE, D0 + 6, start - 7, 2, 1.0, 0, 0, NULL});
    (void)take((struct taken){GAUGE, D0 + 7, D0, 2, 1.0, 0, 0, NULL});
    assert_int_equal(dirty_day(), start - 7);
}

static void weather_marks_only_the_ledgers_that_it_can_touch(void **state) {
    (void)state;
    int32_t next = store.farm.planting[1].start_date;
    keep_ledger(0, next - 2);
    keep_ledger(1, CALENDAR_NONE);
    /* The newest planting's next day is written by the next morning, marked or not; the one before has ended.
     */
    (void)take((struct taken){GAUGE, next + 5, next, 2, 1.0, 0, 0, NULL});
    assert_int_equal(dirty_day_of(0), CALENDAR_NONE);
    assert_int_equal(dirty_day_of(1), CALENDAR_NONE);
    /* A day that is in its ledger is not right any more. */
    keep_ledger(1, next + 1);
    (void)take((struct taken){GAUGE, next + 6, next + 1, 1, 2.0, 0, 0, NULL});
    assert_int_equal(dirty_day_of(0), CALENDAR_NONE);
    assert_int_equal(dirty_day_of(1), next + 1);
    /* The last day of the one before came late: no morning would look at it but for the mark. */
    (void)take((struct taken){GAUGE, next + 7, next - 1, 1, 3.0, 0, 0, NULL});
    assert_int_equal(dirty_day_of(0), next - 1);
    assert_int_equal(dirty_day_of(1), next - 1);
}

static void a_neighbours_news_mark_the_ledgers_that_rest_on_it(void **state) {
    (void)state;
    int32_t start = store.farm.planting[0].start_date;
    assert_int_equal(dirty_day(), start);
    (void)take((struct taken){HILL, D0 + 5, start - 5, 3, 1.0, 0, 0, NULL});
    assert_int_equal(dirty_day(), start - 5);
}

static void all_issues_of_a_forecast_are_kept(void **state) {
    (void)state;
    assert_int_equal(take((struct taken){AHEAD, D0, D0, 5, 3.0, 0, 0, "x"}), 5);
    assert_int_equal(take((struct taken){AHEAD, D0 + 1, D0 + 1, 5, 0.0, 0, 0, "y"}), 5);
    assert_true(known(D0, D0 + 2, true) == 3.0);
    assert_true(known(D0 + 1, D0 + 2, true) == 0.0);
    assert_true(known(D0 + 1, D0, true) == 3.0);
    assert_int_equal(issued_on(D0), D0);
    assert_int_equal(issued_on(D0 + 1), D0 + 1);
}

static void the_same_forecast_on_another_morning_is_an_issue_of_the_same_age(void **state) {
    (void)state;
    assert_int_equal(take((struct taken){AHEAD, D0, D0, 5, 3.0, 0, 0, "x"}), 5);
    assert_int_equal(take((struct taken){AHEAD, D0, D0, 5, 3.0, 0, 0, "x"}), 0);
    assert_int_equal(take((struct taken){AHEAD, D0 + 1, D0, 5, 3.0, 0, 0, "x"}), 5);
    assert_int_equal(issued_on(D0 + 1), D0);
    /* And where the server only says that nothing changed. */
    struct taken again = {AHEAD, D0 + 2, 0, 0, 0.0, 0, 0, NULL};
    struct weather_fetch fetch = fetch_of(&again);
    assert_int_equal(weather_store_unchanged(store.db, &fetch, &store.problems), STATUS_OK);
    assert_int_equal(issued_on(D0 + 2), D0);
    assert_true(known(D0 + 2, D0 + 4, true) == 3.0);
    struct source_state *states = NULL;
    size_t count = 0;
    assert_int_equal(weather_store_sources(store.db, D0 + 2, &states, &count, &store.problems), STATUS_OK);
    assert_int_equal(count, 4);
    assert_int_equal(states[AHEAD].issued, D0);
    assert_int_equal(states[AHEAD].last_day, D0 + 4);
    free(states);
}

static void the_first_source_goes_before_the_second(void **state) {
    (void)state;
    (void)take((struct taken){SECOND, D0 + 3, D0, 3, 9.0, 0, 0, NULL});
    (void)take((struct taken){GAUGE, D0 + 3, D0, 2, 1.0, 0, 0, NULL});
    assert_true(known(D0 + 3, D0 + 1, false) == 1.0);
    assert_true(known(D0 + 3, D0 + 2, false) == 9.0);
}

static void wind_comes_at_the_height_of_the_station(void **state) {
    (void)state;
    struct taken taken = {GAUGE, D0 + 3, D0, 1, 0.0, 0, 0, NULL};
    struct weather_fetch fetch = fetch_of(&taken);
    struct weather_days days, observed, forecast;
    int32_t issued;
    enum status status;
    fetch.wind_height_m = 10.0;
    weather_days_init(&days);
    weather_days_init(&observed);
    weather_days_init(&forecast);
    struct weather_day *day = weather_days_at(&days, D0, &status);
    day->value[WEATHER_WIND_M_S] = 3.2;
    day->origin[WEATHER_WIND_M_S] = ORIGIN_MEASURED;
    assert_int_equal(weather_store_take(store.db, &fetch, &days, NULL, &store.problems), STATUS_OK);
    assert_int_equal(weather_store_load(store.db, fetch.station_id, D0, D0, D0 + 3, D0, &observed, &forecast,
                                        &issued, &store.problems),
                     STATUS_OK);
    /* FAO-56 example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m. */
    assert_true(fabs(observed.day[0].value[WEATHER_WIND_M_S] - 2.4) < 0.05);
    weather_days_free(&days);
    weather_days_free(&observed);
    weather_days_free(&forecast);
}

static void expect_needed(int32_t first, int32_t last, const char *want) {
    bool need[64];
    char got[65] = "";
    assert_true(last - first < 64);
    assert_int_equal(weather_store_needed(store.db, store.ids.source[GAUGE], store.ids.station[0], first,
                                          last, need, &store.problems),
                     STATUS_OK);
    for (int32_t i = 0; i <= last - first; i++)
        got[i] = need[i] ? 'x' : '.';
    assert_string_equal(got, want);
}

static void days_are_asked_for_until_they_are_settled(void **state) {
    (void)state;
    expect_needed(D0, D0 + 9, "xxxxxxxxxx");
    /* Taken on D0 + 10: days 0..5 are five days old then; day 2 was not in the answer. */
    (void)take((struct taken){GAUGE, D0 + 10, D0, 2, 1.0, D0, D0 + 9, NULL});
    (void)take((struct taken){GAUGE, D0 + 10, D0 + 3, 7, 1.0, D0, D0 + 9, NULL});
    expect_needed(D0, D0 + 9, "..x...xxxx");
    /* Fifteen days after it is given up. */
    (void)take((struct taken){GAUGE, D0 + 16, D0 + 6, 10, 1.0, D0 + 2, D0 + 15, NULL});
    expect_needed(D0, D0 + 15, "..x.........xxxx");
    (void)take((struct taken){GAUGE, D0 + 17, D0 + 12, 5, 1.0, D0 + 2, D0 + 16, NULL});
    expect_needed(D0, D0 + 16, ".............xxxx");
}

static void a_copy_is_remembered_for_its_address_and_layout_alone(void **state) {
    (void)state;
    struct source_memory memory;
    struct taken taken = {GAUGE, D0 + 3, D0, 1, 0.0, 0, 0, NULL};
    struct weather_fetch fetch = fetch_of(&taken);
    struct weather_days days;
    enum status status;
    weather_days_init(&days);
    weather_days_at(&days, D0, &status)->value[WEATHER_RAIN_MM] = 0.0;
    fetch.etag = "\"e1\"";
    fetch.modified = "Tue, 01 Oct 2024 00:00:00 GMT";
    assert_int_equal(weather_store_take(store.db, &fetch, &days, NULL, &store.problems), STATUS_OK);
    weather_days_free(&days);
    long long source = fetch.source_id, station = fetch.station_id;
    (void)weather_store_memory(store.db, source, station, "file:x", "plain", &memory, &store.problems);
    assert_string_equal(memory.etag, "\"e1\"");
    assert_string_equal(memory.modified, "Tue, 01 Oct 2024 00:00:00 GMT");
    (void)weather_store_memory(store.db, source, station, "file:y", "plain", &memory, &store.problems);
    assert_string_equal(memory.etag, "");
    (void)weather_store_memory(store.db, source, station, "file:x", "other", &memory, &store.problems);
    assert_string_equal(memory.etag, "");
    (void)weather_store_memory(store.db, source, store.ids.station[1], "file:x", "plain", &memory,
                               &store.problems);
    assert_string_equal(memory.etag, "");
}

static void trouble_stays_until_a_download_is_taken(void **state) {
    (void)state;
    struct source_state *states = NULL;
    struct source_memory memory;
    size_t count = 0;
    long long source = store.ids.source[GAUGE], station = store.ids.station[0];
    assert_int_equal(weather_store_trouble(store.db, source, 500, 800, "it is down", &store.problems),
                     STATUS_OK);
    (void)weather_store_memory(store.db, source, station, "file:x", "plain", &memory, &store.problems);
    assert_int_equal(memory.retry_at, 800);
    assert_int_equal(weather_store_sources(store.db, D0, &states, &count, &store.problems), STATUS_OK);
    assert_string_equal(states[GAUGE].trouble, "it is down");
    assert_int_equal(states[GAUGE].tried_at, 500);
    assert_int_equal(states[GAUGE].taken_at, 0);
    assert_int_equal(states[GAUGE].last_day, CALENDAR_NONE);
    free(states);
    (void)take((struct taken){GAUGE, D0 + 3, D0, 3, 1.0, 0, 0, NULL});
    assert_int_equal(weather_store_sources(store.db, D0 + 3, &states, &count, &store.problems), STATUS_OK);
    assert_string_equal(states[GAUGE].trouble, "");
    assert_int_equal(states[GAUGE].retry_at, 0);
    assert_int_equal(states[GAUGE].first_day, D0);
    assert_int_equal(states[GAUGE].last_day, D0 + 2);
    free(states);
}

/* What pages are made from is then as it was. */
static void the_same_trouble_at_the_same_time_changes_nothing(void **state) {
    (void)state;
    struct db *other;
    int64_t first = 0, same = 0, later = 0;
    long long source = store.ids.source[GAUGE];
    must(db_open(store.path, DB_READ, &other, &store.problems), &store.problems);
    must(weather_store_trouble(store.db, source, 500, 0, "it is down", &store.problems), &store.problems);
    assert_true(db_changes(other, &first));
    must(weather_store_trouble(store.db, source, 500, 0, "it is down", &store.problems), &store.problems);
    assert_true(db_changes(other, &same));
    assert_true(first == same);
    must(weather_store_trouble(store.db, source, 501, 0, "it is down", &store.problems), &store.problems);
    assert_true(db_changes(other, &later));
    assert_true(later != same);
    db_close(other);
}

static void a_corrected_day_takes_its_finding_away(void **state) {
    (void)state;
    struct source_finding *findings = NULL;
    size_t count = 0;
    (void)take((struct taken){GAUGE, D0 + 5, D0, 5, -1.0, 0, 0, NULL});
    assert_int_equal(
        weather_store_findings(store.db, store.ids.source[GAUGE], D0 + 1, &findings, &count, &store.problems),
        STATUS_OK);
    assert_int_equal(count, 1);
    assert_int_equal(findings[0].kind, FINDING_RAIN_IMPLAUSIBLE);
    assert_int_equal(findings[0].days, 4);
    assert_int_equal(findings[0].newest, D0 + 4);
    assert_true(findings[0].found == -1.0 && findings[0].suspect);
    free(findings);
    (void)take((struct taken){GAUGE, D0 + 6, D0, 6, 1.0, 0, 0, NULL});
    assert_int_equal(
        weather_store_findings(store.db, store.ids.source[GAUGE], D0, &findings, &count, &store.problems),
        STATUS_OK);
    assert_int_equal(count, 0);
    free(findings);
}

#define STORE_TEST(test) cmocka_unit_test_setup_teardown(test, open_store, close_store)

/* One day with hours; `t_c` of the first tells versions apart. */
static size_t take_hours(int source, int32_t day, int32_t date, double t_c) {
    struct taken taken = {.source = source, .day = day, .first = date, .count = 1};
    struct weather_fetch fetch = fetch_of(&taken);
    struct weather_hours hours = {.date = date, .start_utc_h = 6.5};
    struct weather_days days;
    enum status status;
    size_t changed = 0;
    weather_days_init(&days);
    weather_days_at(&days, date, &status)->value[WEATHER_RAIN_MM] = 1.0;
    for (int h = 0; h < REFERENCE_HOURS; h++)
        hours.hour[h] = (struct weather_hour){t_c + h / 7.0, 1.0 / 3.0, 2.0 + h, 0.1 * h};
    if (!isnan(t_c))
        assert_int_equal(weather_days_put_hours(&days, &hours), STATUS_OK);
    fetch.wind_height_m = source == SECOND ? 10.0 : (double)NAN;
    assert_int_equal(weather_store_take(store.db, &fetch, &days, &changed, &store.problems), STATUS_OK);
    weather_days_free(&days);
    return changed;
}

/* The hours that are known on a morning; false: none are. */
static bool known_hours(int32_t today, int32_t date, struct weather_hours *out) {
    struct weather_days observed, forecast;
    int32_t issued;
    weather_days_init(&observed);
    weather_days_init(&forecast);
    assert_int_equal(weather_store_load(store.db, store.ids.station[0], D0 - 10, D0 - 10, today, D0 + 10,
                                        &observed, &forecast, &issued, &store.problems),
                     STATUS_OK);
    const struct weather_hours *hours = weather_days_hours(&observed, date);
    if (hours != NULL)
        *out = *hours;
    weather_days_free(&observed);
    weather_days_free(&forecast);
    return hours != NULL;
}

static void hours_come_back_as_they_were_to_the_last_bit(void **state) {
    (void)state;
    struct weather_hours hours;
    assert_int_equal(take_hours(GAUGE, D0 + 1, D0, 11.0), 1);
    assert_true(known_hours(D0 + 1, D0, &hours));
    assert_near(hours.start_utc_h, 6.5, 0.0);
    assert_near(hours.hour[23].t_c, 11.0 + 23 / 7.0, 0.0);
    assert_near(hours.hour[5].ea_kpa, 1.0 / 3.0, 0.0);
    assert_near(hours.hour[5].wind_m_s, 7.0, 0.0);
    assert_near(hours.hour[5].rs_mj_m2, 0.5, 0.0);
    /* The same again is no news, other hours are, and so are hours that were taken back. */
    assert_int_equal(take_hours(GAUGE, D0 + 2, D0, 11.0), 0);
    assert_int_equal(take_hours(GAUGE, D0 + 3, D0, 12.0), 1);
    assert_true(known_hours(D0 + 3, D0, &hours));
    assert_near(hours.hour[0].t_c, 12.0, 0.0);
    assert_true(known_hours(D0 + 2, D0, &hours));
    assert_near(hours.hour[0].t_c, 11.0, 0.0);
    assert_int_equal(take_hours(GAUGE, D0 + 4, D0, (double)NAN), 1);
    assert_false(known_hours(D0 + 4, D0, &hours));
}

static void hours_are_those_of_the_first_source_that_has_the_day(void **state) {
    (void)state;
    struct weather_hours hours;
    assert_int_equal(take_hours(SECOND, D0 + 1, D0, 20.0), 1);
    assert_true(known_hours(D0 + 1, D0, &hours));
    /* Its wind is that of 10 m: the first hour's 2 m/s are brought to the station's 2 m (FAO-56 eq. 47). */
    assert_near(hours.hour[0].wind_m_s, 2.0 * 4.87 / log(67.8 * 10.0 - 5.42), 1e-3);
    /* The first source has the day, without hours: the values would not be those of the hours. */
    assert_int_equal(take_hours(GAUGE, D0 + 2, D0, (double)NAN), 1);
    assert_false(known_hours(D0 + 2, D0, &hours));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        STORE_TEST(each_morning_knows_what_had_been_said_by_then),
        STORE_TEST(a_day_counts_only_once_it_has_ended),
        STORE_TEST(the_same_value_said_again_after_the_day_counts),
        STORE_TEST(ledgers_are_marked_from_the_first_day_that_changed),
        STORE_TEST(weather_marks_only_the_ledgers_that_it_can_touch),
        STORE_TEST(a_neighbours_news_mark_the_ledgers_that_rest_on_it),
        STORE_TEST(all_issues_of_a_forecast_are_kept),
        STORE_TEST(the_same_forecast_on_another_morning_is_an_issue_of_the_same_age),
        STORE_TEST(the_first_source_goes_before_the_second),
        STORE_TEST(wind_comes_at_the_height_of_the_station),
        STORE_TEST(hours_come_back_as_they_were_to_the_last_bit),
        STORE_TEST(hours_are_those_of_the_first_source_that_has_the_day),
        STORE_TEST(days_are_asked_for_until_they_are_settled),
        STORE_TEST(a_copy_is_remembered_for_its_address_and_layout_alone),
        STORE_TEST(trouble_stays_until_a_download_is_taken),
        STORE_TEST(the_same_trouble_at_the_same_time_changes_nothing),
        STORE_TEST(a_corrected_day_takes_its_finding_away),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

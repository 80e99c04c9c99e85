#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/morning/run.h"
#include "support/well_farm.h"

static void put_fields(const struct well_farm *farm, struct text *out) {
    for (const char *field = farm->fields; *field != '\0'; field++)
        text_printf(
            out,
            "%s{\"name\": \"%c\", \"area\": \"10 ha\", \"station\": \"yard\", \"soil\": \"loam\"%s, "
            "\"system\": {\"kind\": \"solid set\", \"efficiency\": \"80 %%\", \"flow\": \"100 m3/h\"}, "
            "\"turns\": {\"shortest\": %d, \"longest\": %d}}",
            field > farm->fields ? ", " : "", *field,
            strchr(farm->at_well, *field) != NULL ? ", \"supply\": \"well\"" : "", farm->shortest_h,
            farm->longest_h);
}

int well_farm_make(struct test_store *store, const struct well_farm *farm) {
    struct text json;
    text_init(&json, 0);
    text_puts(&json, "{\"farm\": {\"name\": \"F\"}, \"stations\": [{\"name\": \"yard\", \"latitude\": 38, "
                     "\"longitude\": -98, \"elevation\": \"500 m\"}], \"sources\": [{\"name\": \"gauge\", "
                     "\"station\": \"yard\", \"layout\": \"plain\", \"address\": \"file:a\", \"kind\": "
                     "\"observed\"}], \"soils\": [{\"name\": \"loam\", \"texture\": \"loam\"}], "
                     "\"supplies\": [{\"name\": \"well\", \"flow\": \"100 m3/h\", \"users\": 1");
    if (farm->allotment_m3 > 0)
        text_printf(&json, ", \"allotment\": \"%d m3\"", farm->allotment_m3);
    text_puts(&json, "}], \"fields\": [");
    put_fields(farm, &json);
    text_puts(&json, "], \"plantings\": [");
    for (const char *field = farm->planted; *field != '\0'; field++)
        text_printf(&json, "%s{\"field\": \"%c\", \"crop\": \"corn\", \"planted\": \"2026-05-07\"}",
                    field > farm->planted ? ", " : "", *field);
    text_puts(&json, "]}");
    int made = text_failed(&json) ? -1 : test_store_open(store, text_string(&json));
    text_free(&json);
    return made;
}

void well_farm_morning(struct test_store *store, int32_t day) {
    struct morning_result result;
    must(test_store_gauge(store, WELL_FARM_FIRST - 10, day, 5, 14), &store->problems);
    const struct morning_time now = {day, 1000000 + (int64_t)(day - WELL_FARM_TODAY) * 86400, 5 * 60};
    must(morning_run(store->db, &now, &(struct morning_how){0}, &result, &store->problems), &store->problems);
}

int well_farm_open(void **state) {
    static struct test_store store;
    static const struct well_farm farm = {.fields = "ABC",
                                          .at_well = "AB",
                                          .planted = "ABC",
                                          .shortest_h = 6,
                                          .longest_h = 40,
                                          .allotment_m3 = 200000};
    if (well_farm_make(&store, &farm) != 0)
        return -1;
    well_farm_morning(&store, WELL_FARM_TODAY);
    *state = &store;
    return 0;
}

int well_farm_close(void **state) {
    test_store_close(*state);
    return 0;
}

struct stored_turns well_farm_turns(struct test_store *store) {
    struct stored_turns turns;
    must(turns_store_load(store->db, CALENDAR_FIRST, &turns, &store->problems), &store->problems);
    return turns;
}

/* A form filled in at an hour of WELL_FARM_TODAY. */
struct book_form well_farm_form(int hour, int number) {
    static char token[ENTRY_TOKEN_SIZE];
    (void)snprintf(token, sizeof token, "%032d", number);
    return (struct book_form){.token = token,
                              .at = 1000000 + hour * 3600,
                              .today = WELL_FARM_TODAY,
                              .minute = hour * 60,
                              .who = "somebody"};
}

struct turns_word well_farm_pin(const char *field, int32_t date, int hour, int hours) {
    struct turns_word word = {.count = 1};
    word.mark[0] = (struct farm_turn_mark){.kind = TURN_PINNED, .date = date, .hour = hour, .hours = hours};
    (void)snprintf(word.mark[0].field, sizeof word.mark[0].field, "%s", field);
    return word;
}

int well_farm_begins(const struct stored_turn *turn) {
    return turns_hour_of(WELL_FARM_TODAY, turn->date, turn->hour);
}

void well_farm_no_two_overlap(struct test_store *store) {
    struct stored_turns turns = well_farm_turns(store);
    for (size_t i = 0; i < turns.turn_count; i++)
        for (size_t k = i + 1; k < turns.turn_count; k++) {
            const struct stored_turn *a = &turns.turn[i], *b = &turns.turn[k];
            if (!turns_unsettled(a) || !turns_unsettled(b))
                continue;
            assert_true(well_farm_begins(a) + a->span <= well_farm_begins(b) ||
                        well_farm_begins(b) + b->span <= well_farm_begins(a));
        }
    stored_turns_free(&turns);
}

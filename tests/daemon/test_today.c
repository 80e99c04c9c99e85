/* The Today view: the order of the fields, the sentences, what is stale, and that nothing is lost in a
 * language. */
#include <ctype.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/view/turns_say.h"
#include "daemon/view/view.h"
#include "support/sample_mornings.h"

#define NBSP "\xC2\xA0"

static struct words *english, *spanish;
static struct farm_facts facts;

static int open_words(void **state) {
    (void)state;
    english = words_open("en");
    spanish = words_open("es");
    facts = sample_facts();
    return english == NULL || spanish == NULL;
}

static int close_words(void **state) {
    (void)state;
    words_close(english);
    words_close(spanish);
    return 0;
}

static cJSON *view_of(const struct words *words, bool us_units, const struct field_morning *mornings,
                      size_t count) {
    struct view_context context = {.facts = &facts, .us_units = us_units, .words = words};
    cJSON *view = view_today(&context, mornings, count);
    assert_non_null(view);
    return view;
}

static cJSON *sample_view(const struct words *words, bool us_units) {
    struct field_morning mornings[SAMPLE_FIELDS];
    for (int i = 0; i < SAMPLE_FIELDS; i++)
        mornings[i] = sample_morning(i);
    return view_of(words, us_units, mornings, SAMPLE_FIELDS);
}

static const char *text_of(const cJSON *object, const char *key) {
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "(none)";
}

static const cJSON *field_of(const cJSON *view, const char *name) {
    const cJSON *field;
    cJSON_ArrayForEach(field, cJSON_GetObjectItemCaseSensitive(view, "fields")) {
        if (strcmp(text_of(field, "name"), name) == 0)
            return field;
    }
    fail_msg("no field \"%s\"", name);
    return NULL;
}

/* Text with no-break spaces as spaces, so that expectations can be read. */
static const char *plain(const char *text) {
    static char out[1024];
    size_t size = 0;
    while (*text != '\0' && size + 1 < sizeof out) {
        bool hard = strncmp(text, NBSP, 2) == 0;
        out[size++] = hard ? ' ' : *text;
        text += hard ? 2 : 1;
    }
    out[size] = '\0';
    return out;
}

static void who_must_act_first_stands_first(void **state) {
    (void)state;
    static const char *const expected[SAMPLE_FIELDS] = {
        "North bottom",
        "=1+1/slash",
        "<script>alert('x')</script>",
        "Río Alto, parcela número catorce, junto al canal viejo",
        "\"><img src=x onerror=alert(1)> {{name}} &amp;",
        "Hold & wait",
        "Fallow 3",
        "Hill"};
    cJSON *view = sample_view(english, false);
    const cJSON *fields = cJSON_GetObjectItemCaseSensitive(view, "fields");
    assert_int_equal(cJSON_GetArraySize(fields), SAMPLE_FIELDS);
    for (int i = 0; i < SAMPLE_FIELDS; i++)
        assert_string_equal(text_of(cJSON_GetArrayItem(fields, i), "name"), expected[i]);
    cJSON_Delete(view);
}

static void fields_alike_keep_the_order_of_the_farm(void **state) {
    (void)state;
    struct field_morning mornings[40];
    for (int i = 0; i < 40; i++) {
        mornings[i] = sample_morning(1);
        snprintf(mornings[i].field, sizeof mornings[i].field, "field %02d", i);
    }
    cJSON *view = view_of(english, false, mornings, 40);
    const cJSON *fields = cJSON_GetObjectItemCaseSensitive(view, "fields");
    for (int i = 0; i < 40; i++)
        assert_string_equal(text_of(cJSON_GetArrayItem(fields, i), "name"), mornings[i].field);
    cJSON_Delete(view);
}

static void the_drier_of_two_fields_to_water_stands_first(void **state) {
    (void)state;
    struct field_morning mornings[3] = {sample_morning(1), sample_morning(1), sample_morning(1)};
    strcpy(mornings[0].field, "unknown");
    mornings[0].call.allowed_mm = NAN;
    strcpy(mornings[1].field, "dry");
    strcpy(mornings[2].field, "drier");
    mornings[2].call.depletion_mm = mornings[1].call.depletion_mm + 1;
    cJSON *view = view_of(english, false, mornings, 3);
    const cJSON *fields = cJSON_GetObjectItemCaseSensitive(view, "fields");
    assert_string_equal(text_of(cJSON_GetArrayItem(fields, 0), "name"), "drier");
    assert_string_equal(text_of(cJSON_GetArrayItem(fields, 1), "name"), "dry");
    assert_string_equal(text_of(cJSON_GetArrayItem(fields, 2), "name"), "unknown");
    cJSON_Delete(view);
}

struct expectation {
    int field;
    const char *sentence, *why;
};

static void check_sentences(const struct words *words, bool us_units, const struct expectation *expected) {
    cJSON *view = sample_view(words, us_units);
    for (int i = 0; i < SAMPLE_FIELDS; i++) {
        struct field_morning morning = sample_morning(expected[i].field);
        const cJSON *field = field_of(view, morning.field);
        assert_string_equal(plain(text_of(field, "sentence")), expected[i].sentence);
        assert_string_equal(plain(text_of(field, "why")), expected[i].why);
        char joined[1024];
        snprintf(joined, sizeof joined, "%s %s", text_of(field, "head"), text_of(field, "tail"));
        assert_string_equal(joined, text_of(field, "sentence"));
    }
    cJSON_Delete(view);
}

static void each_call_is_a_sentence_with_its_reason(void **state) {
    (void)state;
    static const struct expectation expected[SAMPLE_FIELDS] = {
        {0, "Hold: enough water for the days ahead.",
         "18% of the allowed depletion is used, 3 mm of rain expected in the next 10 days"},
        {1, "Water today: run 9½ hours for 38 mm gross, 32 mm net.",
         "67 mm used of the 60 mm allowed, no rain expected today"},
        {2, "Water by Monday: run 44 hours over 3 days for 79 mm gross, 55 mm net.",
         "Dry on Tuesday, 4 mm of rain expected by then"},
        {3, "Cannot say: the rain of past days is missing.", "Enter the rain, even if it was none"},
        {4,
         "Rain may cover it: 14 mm expected. If it stays away, start by Sunday and run 2 h 10 min for 21 mm "
         "gross, "
         "18 mm net.",
         "Dry on Monday without the rain"},
        {5, "Water today: 63 mm gross, 41 mm net.", "Dry by this evening, under 1 mm of rain expected today"},
        {6, "Hold: rainfed, nothing to run.",
         "130% of the allowed depletion is used, 3 mm of rain expected in the next 10 days"},
        {7, "Hold: nothing is planted.", "(none)"},
    };
    check_sentences(english, false, expected);
}

static void sentences_in_spanish_and_inches_say_the_same(void **state) {
    (void)state;
    static const struct expectation expected[SAMPLE_FIELDS] = {
        {0, "Esperar: hay agua suficiente para los próximos días.",
         "Gastado el 18 % del agotamiento permitido, se esperan 0,10 in de lluvia en los próximos 10 días"},
        {1, "Regar hoy: 9½ horas de riego, 1,50 in brutos, 1,25 in netos.",
         "Gastados 2,65 in de los 2,35 in permitidos, hoy no se espera lluvia"},
        {2, "Regar el lunes a más tardar: 44 horas de riego en 3 días, 3,10 in brutos, 2,15 in netos.",
         "Seco el martes, hasta entonces se esperan 0,15 in de lluvia"},
        {3, "No se puede decir: falta la lluvia de días pasados.", "Anote la lluvia, también si no llovió"},
        {4,
         "Puede bastar la lluvia: se esperan 0,55 in. Si no llueve, empezar el domingo a más tardar: 2 h 10 "
         "min de "
         "riego, 0,85 in brutos, 0,70 in netos.",
         "Seco el lunes si no llueve"},
        {5, "Regar hoy: 2,50 in brutos, 1,60 in netos.",
         "Seco esta tarde, hoy se esperan menos de 0,05 in de lluvia"},
        {6, "Esperar: de secano, no hay nada que regar.",
         "Gastado el 130 % del agotamiento permitido, se esperan 0,10 in de lluvia en los próximos 10 días"},
        {7, "Esperar: no hay nada sembrado.", "(none)"},
    };
    check_sentences(spanish, true, expected);
}

static void of_an_older_call_today_is_another_day(void **state) {
    (void)state;
    struct field_morning past = sample_morning(1), passes = sample_morning(5);
    past.call.date--;
    passes.call.date--;
    passes.call.dry_date = passes.call.date;
    cJSON *view = view_of(english, false, &past, 1);
    assert_string_equal(plain(text_of(field_of(view, past.field), "why")), "67 mm used of the 60 mm allowed");
    cJSON_Delete(view);
    view = view_of(english, false, &passes, 1);
    assert_string_equal(plain(text_of(field_of(view, passes.field), "why")),
                        "Dry yesterday, under 1 mm of rain expected by then");
    cJSON_Delete(view);
}

static bool has_note(const struct field_morning *morning, const char *note) {
    cJSON *view = view_of(english, false, morning, 1);
    bool found = false;
    const cJSON *item;
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(field_of(view, morning->field), "notes"))
        found = found || strcmp(item->valuestring, note) == 0;
    cJSON_Delete(view);
    return found;
}

static void what_is_stale_or_missing_is_said(void **state) {
    (void)state;
    struct field_morning morning = sample_morning(1);
    assert_true(has_note(&morning, "humidity estimated"));
    assert_false(has_note(&morning, "no forecast"));
    assert_false(has_note(&morning, "weather until yesterday"));
    morning.weather_until = facts.today - 5;
    assert_true(has_note(&morning, "weather until Sunday"));
    morning.weather_until = CALENDAR_NONE;
    assert_true(has_note(&morning, "no weather yet"));
    morning.forecast_issued = CALENDAR_NONE;
    assert_true(has_note(&morning, "no forecast"));
    morning.forecast_issued = facts.today - 3;
    assert_true(has_note(&morning, "forecast issued on Tuesday"));
    morning.past[3].origin.wind = ORIGIN_ESTIMATED;
    assert_true(has_note(&morning, "humidity, wind estimated"));
    morning.past[5].origin.rain = ORIGIN_MISSING;
    assert_true(has_note(&morning, "rain missing"));
    morning.past[6].origin.radiation = ORIGIN_CLIMATOLOGY;
    assert_true(has_note(&morning, "radiation from past years"));
    morning.call.date = facts.today - 2;
    assert_true(has_note(&morning, "called on Wednesday"));
    morning.call.application.limited = true;
    assert_true(has_note(&morning, "one pass cannot give all that is needed"));
}

static void a_day_to_start_by_that_has_gone_by_is_at_once(void **state) {
    (void)state;
    struct field_morning morning = sample_morning(2);
    morning.call.start_by = facts.today - 3;
    cJSON *view = view_of(english, false, &morning, 1);
    assert_string_equal(text_of(field_of(view, morning.field), "head"), "Water at once:");
    cJSON_Delete(view);
}

/* Chances of days before and after the one that the call has named, each its own. */
static void days_on_which_a_field_may_be_dry_do_not_contradict_the_call(void **state) {
    (void)state;
    struct field_morning morning = sample_morning(2);
    int named = morning.call.dry_date - morning.call.date;
    assert_in_range(named, 1, 8);
    morning.outlook.days = 10;
    for (int i = 0; i < 10; i++)
        morning.outlook.chance[i] = i < named - 1 ? 0 : i == named - 1 ? 0.2 : i == named ? 0.8 : 0.9;
    morning.call.dry_chance = 0.8;
    cJSON *view = view_of(english, false, &morning, 1);
    assert_string_equal(plain(text_of(field_of(view, morning.field), "why")),
                        "Dry on Tuesday (8 in 10), 4 mm of rain expected by then");
    assert_string_equal(plain(text_of(field_of(view, morning.field), "dry_dates")),
                        "Dry by Monday (2 in 10), by Wednesday (9 in 10)");
    cJSON_Delete(view);
}

/* "21:00 to 19:00" would be read as an end before its begin. */
static void a_turn_that_ends_on_another_day_names_it_unless_it_is_of_a_night(void **state) {
    (void)state;
    struct view_context context = {.facts = &facts, .us_units = false, .words = english};
    struct stored_turn turn = {.date = facts.today, .hour = 21, .hours = 22, .span = 22, .net_mm = 10};
    char said[SAY_SIZE];
    assert_string_equal(plain(turns_say_turn(&context, &turn, said)),
                        "today 21:00 to tomorrow 19:00, 22 h, 10 mm");
    turn.span = turn.hours = 8;
    assert_string_equal(plain(turns_say_turn(&context, &turn, said)), "today 21:00 to 5:00, 8 h, 10 mm");
    turn.hour = 2;
    turn.span = turn.hours = 20;
    assert_string_equal(plain(turns_say_turn(&context, &turn, said)), "today 2:00 to 22:00, 20 h, 10 mm");
}

static void the_summary_counts_what_to_do(void **state) {
    (void)state;
    cJSON *view = sample_view(english, false);
    assert_string_equal(text_of(view, "summary"), "Water 2 fields today");
    assert_string_equal(text_of(view, "summary_more"), "1 field needs data first.");
    cJSON_Delete(view);
    struct field_morning morning = sample_morning(1);
    view = view_of(english, false, &morning, 1);
    assert_string_equal(text_of(view, "summary"), "Water 1 field today");
    assert_string_equal(text_of(view, "summary_more"), "(none)");
    cJSON_Delete(view);
    morning = sample_morning(0);
    view = view_of(english, false, &morning, 1);
    assert_string_equal(text_of(view, "summary"), "No field needs water today");
    cJSON_Delete(view);
    morning.call.kind = CALL_CANNOT_SAY;
    view = view_of(english, false, &morning, 1);
    assert_string_equal(text_of(view, "summary"), "No field is known to need water today");
    assert_string_equal(text_of(view, "summary_more"), "1 field needs data first.");
    cJSON_Delete(view);
    view = view_of(english, false, NULL, 0);
    assert_string_equal(text_of(view, "summary"), "No fields yet");
    cJSON_Delete(view);
}

static void an_old_run_is_told(void **state) {
    (void)state;
    cJSON *view = view_of(english, false, NULL, 0);
    assert_string_equal(text_of(view, "run"), "Last run today at 5:40");
    assert_true(cJSON_IsFalse(cJSON_GetObjectItem(view, "run_is_old")));
    cJSON_Delete(view);
    facts.last_run -= 2;
    view = view_of(english, false, NULL, 0);
    assert_string_equal(text_of(view, "run"), "Last run on Wednesday at 5:40: these calls are old");
    assert_true(cJSON_IsTrue(cJSON_GetObjectItem(view, "run_is_old")));
    cJSON_Delete(view);
    facts.last_run = CALENDAR_NONE;
    view = view_of(english, false, NULL, 0);
    assert_string_equal(text_of(view, "run"), "No run yet");
    cJSON_Delete(view);
    facts = sample_facts();
}

static void figures_that_are_not_known_are_null(void **state) {
    (void)state;
    cJSON *view = sample_view(english, false);
    const cJSON *field = field_of(view, "<script>alert('x')</script>");
    assert_true(cJSON_IsNull(cJSON_GetObjectItem(field, "depletion_mm")));
    assert_true(cJSON_IsNull(cJSON_GetObjectItem(field, "start_by")));
    field = field_of(view, "North bottom");
    assert_true(cJSON_GetNumberValue(cJSON_GetObjectItem(field, "gross_mm")) == 37.6);
    assert_string_equal(text_of(field, "start_by"), "2026-06-05");
    assert_string_equal(text_of(field, "call"), "water_today");
    assert_string_equal(text_of(field, "reason"), "past_allowed");
    cJSON_Delete(view);
}

static void a_name_in_a_link_is_percent_encoded(void **state) {
    (void)state;
    cJSON *view = sample_view(english, false);
    assert_string_equal(text_of(field_of(view, "=1+1/slash"), "href"), "/field/%3D1%2B1%2Fslash");
    assert_string_equal(text_of(field_of(view, "North bottom"), "href"), "/field/North%20bottom");
    cJSON_Delete(view);
    struct field_morning morning = sample_morning(1);
    memset(morning.field, 0xC3, sizeof morning.field); /* as long as a name can be */
    morning.field[sizeof morning.field - 1] = '\0';
    view = view_of(english, false, &morning, 1);
    const cJSON *first = cJSON_GetArrayItem(cJSON_GetObjectItem(view, "fields"), 0);
    assert_int_equal(strlen(text_of(first, "href")), strlen("/field/") + 3 * (sizeof morning.field - 1));
    cJSON_Delete(view);
}

/* A key without words shows itself: "why.used". Nothing else in a view looks like one. */
static bool looks_like_key(const char *text) {
    const char *dot = strchr(text, '.');
    if (dot == NULL || dot == text || dot[1] == '\0')
        return false;
    for (const char *c = text; *c != '\0'; c++) {
        if (!islower((unsigned char)*c) && !isdigit((unsigned char)*c) && *c != '_' && *c != '.')
            return false;
    }
    return true;
}

static void check_words(const cJSON *item) {
    if (cJSON_IsString(item) &&
        (looks_like_key(item->valuestring) || strstr(item->valuestring, "{by}") != NULL))
        fail_msg("\"%s\": no words for \"%s\"", item->string != NULL ? item->string : "", item->valuestring);
    for (const cJSON *child = item->child; child != NULL; child = child->next)
        check_words(child);
}

static void check_call(struct field_morning *morning, const struct words *words) {
    for (int variant = 0; variant < 8; variant++) {
        morning->call.application.hours = variant & 1 ? 5 : NAN;
        morning->call.application.days = variant & 2 ? 3 : 0.2;
        morning->call.start_by = variant & 4 ? facts.today + 2 : CALENDAR_NONE;
        morning->call.dry_date = morning->call.start_by;
        morning->call.allowed_mm = variant & 4 ? 60 : NAN;
        morning->planting_date = facts.today + (variant & 1 ? 20 : -20);
        cJSON *view = view_of(words, variant & 1, morning, 1);
        check_words(view);
        cJSON_Delete(view);
    }
}

static void every_call_and_reason_has_words_in_both_languages(void **state) {
    (void)state;
    struct field_morning morning = sample_morning(2);
    for (int kind = 0; kind < CALL_KIND_COUNT; kind++) {
        for (int reason = 0; reason < CALL_REASON_COUNT; reason++) {
            morning.call.kind = (enum call_kind)kind;
            morning.call.reason = (enum call_reason)reason;
            check_call(&morning, english);
            check_call(&morning, spanish);
        }
    }
}

static void every_stage_and_origin_has_words_in_both_languages(void **state) {
    (void)state;
    struct field_morning morning = sample_morning(2);
    for (int i = 0; i < STAGE_COUNT + ORIGIN_COUNT; i++) {
        morning.ahead[0].stage = (enum crop_stage)(i % STAGE_COUNT);
        morning.past[0].origin.wind = (uint8_t)(i % ORIGIN_COUNT);
        check_call(&morning, english);
        check_call(&morning, spanish);
    }
}

static void every_error_has_words_in_both_languages(void **state) {
    (void)state;
    static const char *const keys[] = {"not_found", "bad_request", "wrong_host", "method", "failed"};
    for (size_t i = 0; i < 2 * sizeof keys / sizeof *keys; i++) {
        struct view_context context = {.words = i % 2 ? english : spanish};
        cJSON *view = view_error(&context, keys[i / 2]);
        check_words(view);
        cJSON_Delete(view);
    }
}

static void the_same_mornings_give_the_same_bytes(void **state) {
    (void)state;
    cJSON *first = sample_view(english, false), *second = sample_view(english, false);
    char *printed_first = cJSON_Print(first), *printed_second = cJSON_Print(second);
    assert_string_equal(printed_first, printed_second);
    cJSON_free(printed_first);
    cJSON_free(printed_second);
    cJSON_Delete(first);
    cJSON_Delete(second);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(who_must_act_first_stands_first),
        cmocka_unit_test(fields_alike_keep_the_order_of_the_farm),
        cmocka_unit_test(the_drier_of_two_fields_to_water_stands_first),
        cmocka_unit_test(each_call_is_a_sentence_with_its_reason),
        cmocka_unit_test(sentences_in_spanish_and_inches_say_the_same),
        cmocka_unit_test(of_an_older_call_today_is_another_day),
        cmocka_unit_test(what_is_stale_or_missing_is_said),
        cmocka_unit_test(a_day_to_start_by_that_has_gone_by_is_at_once),
        cmocka_unit_test(days_on_which_a_field_may_be_dry_do_not_contradict_the_call),
        cmocka_unit_test(a_turn_that_ends_on_another_day_names_it_unless_it_is_of_a_night),
        cmocka_unit_test(the_summary_counts_what_to_do),
        cmocka_unit_test(an_old_run_is_told),
        cmocka_unit_test(figures_that_are_not_known_are_null),
        cmocka_unit_test(a_name_in_a_link_is_percent_encoded),
        cmocka_unit_test(every_call_and_reason_has_words_in_both_languages),
        cmocka_unit_test(every_stage_and_origin_has_words_in_both_languages),
        cmocka_unit_test(every_error_has_words_in_both_languages),
        cmocka_unit_test(the_same_mornings_give_the_same_bytes),
    };
    return cmocka_run_group_tests(tests, open_words, close_words);
}

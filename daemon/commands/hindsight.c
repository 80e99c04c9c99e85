#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/commands/on_db.h"
#include "daemon/commands/print_view.h"
#include "daemon/morning/hindsight.h"
#include "daemon/store/farm_store.h"
#include "daemon/view/csv_cell.h"

#define USUAL_DAYS 60

static int number_of(const cJSON *object, const char *key) {
    double number = cJSON_GetNumberValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return isfinite(number) ? (int)number : 0;
}

static const cJSON *list_of(const cJSON *view, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(view, key);
}

static void print_score(const cJSON *score) {
    const cJSON *row;
    if (number_of(score, "all") == 0)
        return;
    printf("  said          times    mean    came\n");
    cJSON_ArrayForEach(row, list_of(score, "tenths")) {
        printf("  %-12s %6d", view_string(row, "range"), number_of(row, "count"));
        view_print_right(row, "said_text", 6);
        view_print_right(row, "came_text", 6);
        putchar('\n');
    }
    printf("  Brier score %s; of the shares over all mornings %s", view_string(score, "brier_text"),
           view_string(score, "brier_climatology_text"));
    if (view_string(score, "brier_path_text")[0] != '\0')
        printf("; of the path without chances %s", view_string(score, "brier_path_text"));
    printf("\n\n");
}

static void print_leads(const cJSON *view) {
    const cJSON *row;
    if (cJSON_GetArraySize(list_of(view, "leads")) == 0)
        return;
    printf("  days ahead  calls  settled  early  on the day  late  mean days off\n");
    cJSON_ArrayForEach(row, list_of(view, "leads")) {
        printf("  %10d %6d %8d %6d %11d %5d", number_of(row, "ahead"), number_of(row, "calls"),
               number_of(row, "settled"), number_of(row, "early"), number_of(row, "on_day"),
               number_of(row, "late"));
        view_print_right(row, "days_off_text", 13);
        putchar('\n');
    }
    putchar('\n');
}

static void print_sources(const cJSON *view) {
    const cJSON *source, *row;
    cJSON_ArrayForEach(source, list_of(view, "forecasts")) {
        struct text head;
        text_init(&head, 0);
        text_printf(&head, "%s, %s: %s", view_string(source, "source"), view_string(source, "station"),
                    view_string(source, "correction"));
        view_print("", text_string(&head));
        text_free(&head);
        if (cJSON_GetArraySize(list_of(source, "leads")) > 0)
            printf("  days ahead  days  ET0 off  its size  rain off  its size  ET0 came/said  wet when none "
                   "said, much "
                   "said\n");
        cJSON_ArrayForEach(row, list_of(source, "leads")) {
            printf("  %10d %5d", number_of(row, "ahead"), number_of(row, "et0_days"));
            view_print_right(row, "et0_error_mm_text", 7);
            view_print_right(row, "et0_abs_error_mm_text", 8);
            view_print_right(row, "rain_error_mm_text", 8);
            view_print_right(row, "rain_abs_error_mm_text", 8);
            view_print_right(row, "et0_ratio_text", 13);
            printf("  %s, %s\n", view_string(row, "wet_if_none_text"), view_string(row, "wet_if_much_text"));
        }
        putchar('\n');
    }
}

static void print_calls(const cJSON *view) {
    static const struct view_column columns[] = {{NULL, "date"},        {NULL, "field"},
                                                 {NULL, "call_text"},   {NULL, "dry_text"},
                                                 {NULL, "chance_text"}, {NULL, "came_text"}};
    view_print_table(list_of(view, "calls"), columns, sizeof columns / sizeof *columns);
}

static void print_years(const cJSON *view) {
    const cJSON *row;
    if (cJSON_GetArraySize(list_of(view, "years")) == 0)
        return;
    printf("\nyear  field                 calls by            turns      gross  below roots  yield\n");
    cJSON_ArrayForEach(row, list_of(view, "years")) {
        printf("%4d  %-20s  %-18s %6d %10s %12s  %5s\n", number_of(row, "year"), view_string(row, "field"),
               view_string(row, "rule"), number_of(row, "turns"), view_string(row, "gross_mm_text"),
               view_string(row, "percolation_mm_text"), view_string(row, "yield_text"));
    }
    putchar('\n');
    print_score(list_of(view, "years_score"));
}

static void print_people(const cJSON *view) {
    printf("%s: %s\n%s\n\n", view_string(view, "farm"), view_string(view, "title"),
           view_string(view, "span"));
    print_score(list_of(view, "score"));
    print_leads(view);
    view_print("", view_string(view, "waits_text"));
    putchar('\n');
    print_sources(view);
    print_calls(view);
    print_years(view);
}

static void print_csv(const struct hindsight *hindsight) {
    struct text csv;
    text_init(&csv, 0);
    text_puts(&csv, "field,date,call,start_by,dry_date,came_dry,known_days,dry_chance,cover_chance,rain_"
                    "expected_mm,rain_mm,"
                    "given_mm,missing_mm\r\n");
    for (size_t i = 0; i < hindsight->call_count; i++) {
        const struct hindsight_call *call = &hindsight->call[i];
        const struct call *said = &call->said.call;
        csv_add_text(&csv, call->said.field);
        csv_add_date(&csv, said->date);
        text_printf(&csv, ",%s", call_kind_key(said->kind));
        csv_add_date(&csv, said->start_by);
        csv_add_date(&csv, said->dry_date);
        csv_add_date(&csv, call->came_dry);
        text_printf(&csv, ",%d", call->known_days);
        csv_add_number(&csv, said->dry_chance);
        csv_add_number(&csv, said->cover_chance);
        csv_add_number(&csv, said->rain_expected_mm);
        csv_add_number(&csv, call->rain_mm);
        csv_add_number(&csv, call->given_mm);
        csv_add_number(&csv, call->missing_mm);
        text_puts(&csv, "\r\n");
    }
    fputs(text_string(&csv), stdout);
    text_free(&csv);
}

static enum status print(const struct options *options, const struct farm_facts *facts, bool us_units,
                         const struct hindsight *hindsight) {
    if (option_value(options, "--csv") != NULL) {
        print_csv(hindsight);
        return STATUS_OK;
    }
    struct words *words = view_words();
    const struct view_context context = {facts, us_units, words};
    cJSON *view = words != NULL ? view_hindsight(&context, hindsight) : NULL;
    enum status status = print_view(options, view, print_people);
    words_close(words);
    return status;
}

/* "--corrections on|off", for every station. */
static enum status set_corrections(const char *word, struct db *db, struct problems *problems) {
    struct farm farm;
    struct farm_ids ids;
    bool on = strcmp(word, "on") == 0;
    if (!on && strcmp(word, "off") != 0) {
        problem_add(problems, NULL, 0, 0, NULL, "--corrections: found \"%s\", expected on or off", word);
        return STATUS_USAGE;
    }
    enum status status = farm_store_load_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = farm_store_ids(db, &farm, &ids, problems);
    if (status == STATUS_OK)
        status = db_begin(db, problems);
    if (status == STATUS_OK) {
        for (size_t i = 0; status == STATUS_OK && i < farm.station_count; i++)
            status = hindsight_store_correct(db, ids.station[i], on, problems);
        status = db_end(db, status, problems);
    }
    if (status == STATUS_OK)
        printf("corrections are %s from the next morning on\n", on ? "on" : "off");
    farm_ids_free(&ids);
    farm_free(&farm);
    return status;
}

static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct farm_facts facts;
    struct morning_time morning;
    struct hindsight hindsight;
    bool us_units = false;
    const char *field = option_value(options, "--field"),
               *corrections = option_value(options, "--corrections");
    double days = USUAL_DAYS;
    if (corrections != NULL)
        return set_corrections(corrections, db, problems);
    enum status status = on_db_facts(options, db, &morning, &facts, &us_units, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--days", 1, 3660, USUAL_DAYS, &days, problems);
    if (status == STATUS_OK && field != NULL && farm_store_has_field(db, field, problems) != STATUS_OK) {
        problem_add(problems, NULL, 0, 0, NULL, "found no field %s; `waterturn call` lists the fields",
                    field);
        status = STATUS_NOT_FOUND;
    }
    if (status != STATUS_OK)
        return status;
    status = hindsight_make(db, field, morning.today - (int32_t)days, morning.today, &hindsight, problems);
    if (status != STATUS_OK)
        return status;
    if (option_value(options, "--hindcast") != NULL)
        status = hindsight_years(db, field, morning.today, &hindsight, problems);
    if (status == STATUS_OK)
        status = print(options, &facts, us_units, &hindsight);
    hindsight_free(&hindsight);
    return status;
}

static enum status run_hindsight(const struct options *options, struct problems *problems) {
    return on_db(options, option_value(options, "--corrections") != NULL ? DB_WRITE : DB_READ, show,
                 problems);
}

static const struct option_spec hindsight_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    {"--field", "NAME", "only this field"},
    {"--days", "N", "calls of so many days back; else 60"},
    {"--hindcast", NULL,
     "also run the planting of each field in past years, by both rules, with what could be known"},
    {"--corrections", "on|off",
     "whether forecasts are corrected by their errors so far; nothing else is done"},
    {"--csv", NULL, "for programs: the calls and what came, in millimetres"},
    {"--json", NULL, "for programs: what the page is made from"},
    OPTION_END};

const struct command command_hindsight = {
    "hindsight",
    "",
    0,
    0,
    "past calls beside what then came, and how far forecasts were off",
    "What came is reckoned without the turns that were given: from the state of that "
    "morning, with the weather that fell.",
    hindsight_options,
    run_hindsight};

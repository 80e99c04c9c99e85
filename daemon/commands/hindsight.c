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

#define COLUMNS(columns) columns, sizeof columns / sizeof *columns

static void print_score(const cJSON *view, const cJSON *score) {
    const struct view_column columns[] = {{view_label(view, "hindsight_said"), "range", false},
                                          {view_label(view, "hindsight_times"), "count", true},
                                          {view_label(view, "hindsight_mean"), "said_text", true},
                                          {view_label(view, "hindsight_came"), "came_text", true}};
    struct text line;
    if (number_of(score, "all") == 0)
        return;
    view_print_table("  ", list_of(score, "tenths"), COLUMNS(columns));
    text_init(&line, 0);
    text_printf(&line, "%s: %s. %s: %s.", view_label(view, "hindsight_brier"),
                view_string(score, "brier_text"), view_label(view, "hindsight_brier_climate"),
                view_string(score, "brier_climatology_text"));
    if (view_string(score, "brier_path_text")[0] != '\0')
        text_printf(&line, " %s: %s.", view_label(view, "hindsight_brier_path"),
                    view_string(score, "brier_path_text"));
    view_print("  ", text_string(&line));
    putchar('\n');
    text_free(&line);
}

static void print_leads(const cJSON *view) {
    const struct view_column columns[] = {{view_label(view, "hindsight_ahead"), "ahead", true},
                                          {view_label(view, "hindsight_calls"), "calls", true},
                                          {view_label(view, "hindsight_settled"), "settled", true},
                                          {view_label(view, "hindsight_early"), "early", true},
                                          {view_label(view, "hindsight_on_day"), "on_day", true},
                                          {view_label(view, "hindsight_late"), "late", true},
                                          {view_label(view, "hindsight_off"), "days_off_text", true}};
    if (cJSON_GetArraySize(list_of(view, "leads")) == 0)
        return;
    view_print_table("  ", list_of(view, "leads"), COLUMNS(columns));
    putchar('\n');
}

/* A label with the unit of its column. */
static const char *off_label(const cJSON *view, const char *name, char out[80]) {
    (void)snprintf(out, 80, "%s, %s", view_label(view, name), view_string(view, "depth_unit"));
    return out;
}

static void print_sources(const cJSON *view) {
    char off[4][80];
    const struct view_column columns[] = {
        {view_label(view, "hindsight_ahead"), "ahead", true},
        {view_label(view, "hindsight_seen"), "et0_days", true},
        {off_label(view, "hindsight_et0_error", off[0]), "et0_error_mm_text", true},
        {off_label(view, "hindsight_et0_abs", off[1]), "et0_abs_error_mm_text", true},
        {off_label(view, "hindsight_rain_error", off[2]), "rain_error_mm_text", true},
        {off_label(view, "hindsight_rain_abs", off[3]), "rain_abs_error_mm_text", true},
        {view_label(view, "hindsight_et0_ratio"), "et0_ratio_text", true},
        {view_label(view, "hindsight_wet_none"), "wet_if_none_text", true},
        {view_label(view, "hindsight_wet_much"), "wet_if_much_text", true}};
    const cJSON *source;
    cJSON_ArrayForEach(source, list_of(view, "forecasts")) {
        struct text head;
        text_init(&head, 0);
        text_printf(&head, "%s, %s: %s", view_string(source, "source"), view_string(source, "station"),
                    view_string(source, "correction"));
        view_print("", text_string(&head));
        text_free(&head);
        if (cJSON_GetArraySize(list_of(source, "leads")) > 0)
            view_print_table("  ", list_of(source, "leads"), COLUMNS(columns));
        putchar('\n');
    }
}

static void print_calls(const cJSON *view) {
    static const struct view_column columns[] = {{NULL, "date", false},        {NULL, "field", false},
                                                 {NULL, "call_text", false},   {NULL, "dry_text", false},
                                                 {NULL, "chance_text", false}, {NULL, "came_text", false}};
    view_print_table("", list_of(view, "calls"), COLUMNS(columns));
}

static void print_years(const cJSON *view) {
    const struct view_column columns[] = {{view_label(view, "hindsight_year"), "year", true},
                                          {view_label(view, "field"), "field", false},
                                          {view_label(view, "hindsight_rule"), "rule", false},
                                          {view_label(view, "turns"), "turns", true},
                                          {view_label(view, "gross"), "gross_mm_text", true},
                                          {view_label(view, "hindsight_below"), "percolation_mm_text", true},
                                          {view_label(view, "hindsight_yield"), "yield_text", true}};
    if (cJSON_GetArraySize(list_of(view, "years")) == 0)
        return;
    putchar('\n');
    view_print_table("", list_of(view, "years"), COLUMNS(columns));
    putchar('\n');
    print_score(view, list_of(view, "years_score"));
}

static void print_people(const cJSON *view) {
    printf("%s: %s\n%s\n\n", view_string(view, "farm"), view_string(view, "title"),
           view_string(view, "span"));
    print_score(view, list_of(view, "score"));
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

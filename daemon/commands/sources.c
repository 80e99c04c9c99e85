#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/command.h"
#include "daemon/commands/print_view.h"
#include "daemon/http/page_data.h"
#include "daemon/morning/source_report.h"

static void print_table(const cJSON *view, const cJSON *sources) {
    const struct view_column columns[] = {
        {view_label(view, "source_name"), "name", false},
        {view_label(view, "source_station"), "station", false},
        {view_label(view, "source_kind"), "kind_text", false},
        {view_label(view, "source_state"), "state_text", false},
        {view_label(view, "source_taken"), "taken_at_text", false},
        {view_label(view, "source_tried"), "tried_at_text", false},
        {view_label(view, "source_lag"), "lag_text", false},
    };
    view_print_table("", sources, columns, sizeof columns / sizeof *columns);
}

static void print_list(const cJSON *list, const char *title) {
    const cJSON *item;
    if (cJSON_GetArraySize(list) == 0 || title[0] == '\0')
        return;
    printf("    %s%s ", title, title[strlen(title) - 1] == ':' ? "" : ":");
    cJSON_ArrayForEach(item, list) {
        printf("%s%s", cJSON_IsString(item) ? item->valuestring : view_string(item, "text"),
               item->next != NULL ? "; " : "\n");
    }
}

static void print_people(const cJSON *view) {
    const cJSON *sources = cJSON_GetObjectItemCaseSensitive(view, "sources"), *source;
    printf("%s, %s\n%s\n\n", view_string(view, "farm"), view_string(view, "date_text"),
           view_string(view, "summary"));
    print_table(view, sources);
    cJSON_ArrayForEach(source, sources) {
        printf("\n%s\n    %s\n", view_string(source, "name"), view_string(source, "means"));
        if (view_string(source, "stops")[0] != '\0')
            printf("    %s\n", view_string(source, "stops"));
        print_list(cJSON_GetObjectItemCaseSensitive(source, "instead"), view_string(source, "instead_title"));
        print_list(cJSON_GetObjectItemCaseSensitive(source, "neighbours"),
                   view_label(view, "source_neighbours"));
        print_list(cJSON_GetObjectItemCaseSensitive(source, "gaps"), view_label(view, "source_gaps"));
        print_list(cJSON_GetObjectItemCaseSensitive(source, "findings"), view_label(view, "source_findings"));
        if (view_string(source, "trouble")[0] != '\0')
            printf("    ! %s\n", view_string(source, "trouble"));
    }
}

static enum status print(const struct options *options, const struct farm_facts *facts,
                         const struct source_report *reports, size_t count) {
    struct words *words = view_words();
    const struct view_context context = {facts, facts->us_units, words};
    cJSON *view = words != NULL ? view_sources(&context, reports, count) : NULL;
    enum status status = print_view(options, view, print_people);
    words_close(words);
    return status;
}

static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct farm_facts facts;
    struct morning_time morning;
    struct source_report *reports = NULL;
    size_t count = 0;
    enum status status = option_today(options, &morning, problems);
    if (status == STATUS_OK)
        status = farm_facts_load(db, morning.today, &facts, problems);
    if (status == STATUS_OK)
        status = source_reports_make(db, morning.today, &reports, &count, problems);
    if (status == STATUS_OK)
        status = print(options, &facts, reports, count);
    free(reports);
    return status;
}

static enum status run_sources(const struct options *options, struct problems *problems) {
    struct db *db = NULL;
    enum status status = option_open_db(options, DB_READ, &db, problems);
    if (status == STATUS_OK)
        status = use_farm_zone(db, problems);
    if (status == STATUS_OK)
        status = show(options, db, problems);
    db_close(db);
    return status;
}

static const struct option_spec sources_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    {"--json", NULL, "for programs: what the page of the sources is made from"},
    OPTION_END};

const struct command command_sources = {"sources",
                                        "",
                                        0,
                                        0,
                                        "how each weather source stands, and what that means for the calls",
                                        "Last success and last try, days behind, days that it lacks, what "
                                        "was odd about its values, and what the days "
                                        "rest on\nmeanwhile.",
                                        sources_options,
                                        run_sources};

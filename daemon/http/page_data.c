#include "daemon/http/page_data.h"

#include <stdlib.h>
#include <string.h>

#include <sodium.h>

#include "daemon/base/wall_clock.h"
#include "daemon/http/field_data.h"
#include "daemon/http/replay_data.h"
#include "daemon/http/turns_data.h"
#include "daemon/http/workings_data.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/weather_store.h"

enum status use_farm_zone(struct db *db, struct problems *problems) {
    struct farm farm;
    enum status status = farm_store_head(db, &farm, problems);
    if (status == STATUS_OK)
        wall_clock_zone(farm.time_zone);
    return status;
}

static enum status facts_sources(struct db *db, int32_t today, struct farm_facts *facts,
                                 struct problems *problems) {
    struct source_state *sources = NULL;
    size_t count = 0;
    enum status status = weather_store_sources(db, today, &sources, &count, problems);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < count && facts->problem_count < FARM_FACTS_PROBLEMS_MAX; i++) {
        if (sources[i].trouble[0] == '\0')
            continue;
        struct source_problem *problem = &facts->problem[facts->problem_count++];
        memcpy(problem->source, sources[i].name, sizeof problem->source);
        memcpy(problem->message, sources[i].trouble, sizeof problem->message);
    }
    free(sources);
    return STATUS_OK;
}

enum status farm_facts_load(struct db *db, int32_t today, struct farm_facts *facts,
                            struct problems *problems) {
    struct farm farm;
    struct farm_counts counts;
    int64_t at = 0;
    memset(facts, 0, sizeof *facts);
    enum status status = farm_store_head(db, &farm, problems);
    if (status == STATUS_OK)
        status = farm_store_count(db, &counts, problems);
    if (status == STATUS_OK)
        status = ledger_store_newest(db, &facts->last_run, &at, problems);
    if (status != STATUS_OK)
        return status;
    memcpy(facts->farm_name, farm.name, sizeof facts->farm_name);
    facts->us_units = farm.us_units;
    facts->has_turns = counts.sharing > 0;
    facts->today = today;
    facts->last_run_minute = facts->last_run != CALENDAR_NONE ? wall_clock_of(at).minute : 0;
    return facts_sources(db, today, facts, problems);
}

/* What goes wrong here is told by the page as "cannot be read"; the words are for the log. */
static struct problems *quiet(void) {
    struct problems *problems = malloc(sizeof *problems);
    if (problems != NULL)
        problems_init(problems);
    return problems;
}

static void quiet_free(struct problems *problems) {
    problems_free(problems);
    free(problems);
}

enum status page_data_key(struct page_data *data, struct problems *problems) {
    unsigned char fresh[SECRET_SIZE];
    if (sodium_init() < 0)
        return STATUS_IO;
    randombytes_buf(fresh, sizeof fresh);
    return secret_store_key(data->writer, "forms", fresh, data->key, problems);
}

struct morning_time page_data_now(const struct page_data *data) {
    return data->today != CALENDAR_NONE ? wall_clock_given(data->today) : wall_clock_now();
}

enum clock_judgement page_data_clock(const struct page_data *data, int32_t newest) {
    const struct morning_time now = page_data_now(data);
    return data->today != CALENDAR_NONE ? CLOCK_GOOD : schedule_judge(&now, newest);
}

enum status page_data_facts(const struct page_data *data, struct farm_facts *facts,
                            struct problems *problems) {
    enum status status = farm_facts_load(data->db, page_data_now(data).today, facts, problems);
    if (status == STATUS_OK)
        facts->clock = page_data_clock(data, facts->last_run);
    return status;
}

int page_data_fields(const struct page_data *data) {
    struct farm_counts counts = {.fields = 0};
    struct problems *problems = data != NULL ? quiet() : NULL;
    if (problems == NULL)
        return 0;
    enum status status = farm_store_count(data->db, &counts, problems);
    quiet_free(problems);
    return status == STATUS_OK ? counts.fields : 0;
}

static bool serve_state(void *context, int64_t *book, int32_t *hour) {
    const struct page_data *data = context;
    struct morning_time now = page_data_now(data);
    *hour = 24 * now.today + now.minute / 60;
    return db_changes(data->db, book);
}

static enum status serve_mornings(void *context, struct field_morning **mornings, size_t *count,
                                  struct farm_facts *facts) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    enum status status = page_data_facts(data, facts, problems);
    if (status == STATUS_OK)
        status = ledger_store_calls(data->db, mornings, count, problems);
    if (status == STATUS_OK) {
        struct morning_time now = page_data_now(data);
        status = turns_store_next(data->db, (int64_t)now.today * 24 + now.minute / 60, *mornings, *count,
                                  problems);
        if (status != STATUS_OK)
            free(*mornings);
    }
    quiet_free(problems);
    return status;
}

static enum status serve_fill(void *context, struct field_morning *morning) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    enum status status = ledger_store_fill(data->db, morning, problems);
    quiet_free(problems);
    return status;
}

static enum status serve_ledger(void *context, const char *field, struct ledger_row **rows, size_t *count) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    int32_t newest;
    int64_t at;
    enum status status = ledger_store_newest(data->db, &newest, &at, problems);
    if (status == STATUS_OK)
        status = newest == CALENDAR_NONE ? STATUS_NOT_FOUND
                                         : ledger_store_rows(data->db, field, newest, rows, count, problems);
    /* A field on which no day was reckoned yet has a page all the same. */
    if (status == STATUS_NOT_FOUND && farm_store_has_field(data->db, field, problems) == STATUS_OK) {
        status = STATUS_OK;
        *rows = NULL;
        *count = 0;
    }
    quiet_free(problems);
    return status;
}

static enum status serve_field(void *context, const char *field, struct field_facts *facts) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    int32_t newest;
    int64_t at;
    enum status status = ledger_store_newest(data->db, &newest, &at, problems);
    if (status == STATUS_OK)
        status = field_facts_load(
            data->db, field, newest != CALENDAR_NONE ? newest : page_data_now(data).today, facts, problems);
    quiet_free(problems);
    return status;
}

static void serve_field_release(void *context, struct field_facts *facts) {
    (void)context;
    field_facts_free(facts);
}

static enum status serve_workings(void *context, const char *field, int32_t date,
                                  struct workings_facts *facts) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    enum status status = workings_load(data->db, field, date, facts, problems);
    quiet_free(problems);
    return status;
}

static enum status serve_replay(void *context, struct replay_wish *wish, struct replay *replay,
                                struct problems *problems) {
    const struct page_data *data = context;
    return replay_load(data->db, wish, replay, problems);
}

static enum status serve_sources(void *context, struct source_report **reports, size_t *count) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    enum status status = source_reports_make(data->db, page_data_now(data).today, reports, count, problems);
    quiet_free(problems);
    return status;
}

/* Calls of so many days back are shown. */
#define HINDSIGHT_DAYS 60

static enum status serve_hindsight(void *context, struct hindsight *out) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    int32_t today = data->today != CALENDAR_NONE ? data->today : wall_clock_now().today;
    enum status status = hindsight_make(data->db, NULL, today - HINDSIGHT_DAYS, today, out, problems);
    quiet_free(problems);
    return status;
}

static enum status serve_turns(void *context, struct turns_data *out, struct morning_time *now) {
    struct page_data *data = context;
    struct problems *problems = quiet();
    if (problems == NULL)
        return STATUS_NO_MEMORY;
    *now = page_data_now(data);
    enum status status = turns_data_load(data->db, now->today, out, problems);
    quiet_free(problems);
    return status;
}

static void serve_release(void *context, struct field_morning *mornings, struct ledger_row *rows) {
    (void)context;
    free(mornings);
    free(rows);
}

struct server_data page_data_functions(struct page_data *data) {
    struct server_data functions = {.context = data,
                                    .mornings = serve_mornings,
                                    .fill = serve_fill,
                                    .ledger = serve_ledger,
                                    .release = serve_release,
                                    .field = serve_field,
                                    .field_release = serve_field_release,
                                    .workings = serve_workings,
                                    .sources = serve_sources,
                                    .replay = serve_replay,
                                    .hindsight = serve_hindsight,
                                    .state = serve_state,
                                    .turns = serve_turns,
                                    .book = data};
    return functions;
}

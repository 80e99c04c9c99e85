#include "daemon/http/watch.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/version.h"
#include "daemon/http/metrics.h"
#include "daemon/http/page_data.h"
#include "daemon/store/health_store.h"
#include "daemon/store/weather_store.h"

/* A morning is missing when the newest one is of the day before yesterday or older. */
#define MORNINGS_LATE 1

enum status watch_health(const struct request *request, struct reply *reply) {
    const struct page_data *data = request->data->book;
    int32_t newest = CALENDAR_NONE;
    int64_t at;
    enum status status =
        data != NULL ? ledger_store_newest(data->db, &newest, &at, &reply->problems) : STATUS_NOT_FOUND;
    if (status != STATUS_OK)
        return status;
    bool wrong = page_data_clock(data, newest) != CLOCK_GOOD;
    bool late = newest == CALENDAR_NONE || newest + MORNINGS_LATE < page_data_now(data).today;
    reply->status = late || wrong ? 503 : 200;
    reply->type = "text/plain; charset=utf-8";
    text_puts(&reply->body, wrong ? "clock\n" : late ? "late\n" : "ok\n");
    return STATUS_OK;
}

static int64_t resident_bytes(void) {
    long pages = 0;
    FILE *stream = fopen("/proc/self/statm", "re");
    if (stream == NULL)
        return 0;
    if (fscanf(stream, "%*d %ld", &pages) != 1)
        pages = 0;
    (void)fclose(stream);
    return (int64_t)pages * sysconf(_SC_PAGESIZE);
}

static enum status load_sources(const struct page_data *data, struct metrics_source **out, size_t *count,
                                struct problems *problems) {
    struct source_state *states = NULL;
    struct morning_time now = page_data_now(data);
    enum status status = weather_store_sources(data->db, now.today, &states, count, problems);
    if (status != STATUS_OK)
        return status;
    struct metrics_source *sources = calloc(*count + 1, sizeof *sources);
    for (size_t i = 0; sources != NULL && i < *count; i++) {
        memcpy(sources[i].name, states[i].name, sizeof sources[i].name);
        sources[i].age_s = states[i].taken_at > 0 ? now.at - states[i].taken_at : -1;
        sources[i].failing = states[i].trouble[0] != '\0';
    }
    free(states);
    *out = sources;
    return sources != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

enum status watch_metrics(const struct request *request, struct reply *reply) {
    const struct page_data *data = request->data->book;
    struct metrics_source *sources = NULL;
    struct health health;
    int32_t newest;
    struct metrics_facts facts = {.version = WATERTURN_VERSION, .resident_bytes = resident_bytes()};
    if (data == NULL || data->metrics == NULL)
        return STATUS_NOT_FOUND;
    enum status status = ledger_store_newest(data->db, &newest, &facts.morning_at, &reply->problems);
    if (status == STATUS_OK && newest == CALENDAR_NONE)
        facts.morning_at = 0;
    if (status == STATUS_OK)
        status = health_store_load(data->db, &health, &reply->problems);
    if (status == STATUS_OK)
        status = load_sources(data, &sources, &facts.source_count, &reply->problems);
    if (status != STATUS_OK)
        return status;
    memcpy(facts.calls, health.calls, sizeof facts.calls);
    facts.devices = (size_t)health.devices;
    facts.database_bytes = health.bytes;
    facts.source = sources;
    bool open = request->accept != NULL && strstr(request->accept, "application/openmetrics-text") != NULL;
    metrics_render(data->metrics, &facts, open, &reply->body);
    free(sources);
    reply->type = open ? "application/openmetrics-text; version=1.0.0; charset=utf-8"
                       : "text/plain; version=0.0.4; charset=utf-8";
    return text_failed(&reply->body) ? STATUS_NO_MEMORY : STATUS_OK;
}

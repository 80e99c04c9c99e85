#include "daemon/morning/ingest_plan.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/source/address_template.h"
#include "daemon/store/ledger_store.h"

/* Spans with fewer settled days between them than this are asked for as one. */
#define SPAN_GAP_D 14

enum status weather_first_needed(struct db *db, const char *station, int32_t today, int32_t *first,
                                 struct problems *problems) {
    int32_t start;
    enum status status = farm_store_first_start(db, station, &start, problems);
    if (status == STATUS_OK)
        *first = (start != CALENDAR_NONE && start < today ? start : today) - WEATHER_BEFORE_D;
    return status;
}

/* What the requests of one source are made from. */
struct planner {
    struct db *db;
    const struct farm *farm;
    const struct farm_ids *ids;
    const struct credentials *credentials;
    int32_t today;
    struct ingest_plan *plan;
    struct problems *problems;
    size_t source, station;
};

static enum status room_for_one(struct ingest_plan *plan) {
    if (plan->count < plan->room)
        return STATUS_OK;
    size_t room = plan->room == 0 ? 8 : plan->room * 2;
    struct ingest_request *grown = realloc(plan->request, room * sizeof *grown);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    plan->request = grown;
    plan->room = room;
    return STATUS_OK;
}

static enum status filled(const struct planner *planner, const struct address_values *values, char **out) {
    const struct farm_source *source = &planner->farm->source[planner->source];
    struct text text;
    text_init(&text, 0);
    enum status status = address_template_fill(source->address, values, &text);
    *out = text_take(&text);
    if (status == STATUS_MISSING)
        problem_add(planner->problems, NULL, 0, 0, source->name,
                    "found {lon} in the address and no longitude at its station");
    return status == STATUS_OK && *out == NULL ? STATUS_NO_MEMORY : status;
}

/* `start` and `end` go into the address; the request is noted as one for them when `noted`. */
static enum status add_request(const struct planner *planner, int32_t start, int32_t end, bool noted) {
    struct ingest_plan *plan = planner->plan;
    const struct farm_source *source = &planner->farm->source[planner->source];
    const struct farm_station *station = &planner->farm->station[planner->station];
    enum status status = room_for_one(plan);
    if (status != STATUS_OK)
        return status;
    struct ingest_request *request = &plan->request[plan->count++];
    memset(request, 0, sizeof *request);
    request->source = planner->source;
    request->station = station;
    request->station_id = planner->ids->station[planner->station];
    request->start = noted ? start : CALENDAR_NONE;
    request->end = noted ? end : CALENDAR_NONE;
    struct address_values values = {
        station->site.latitude_deg, station->longitude_deg, planner->today, start, end, NULL};
    status = filled(planner, &values, &request->shown);
    values.key = credentials_find(planner->credentials, source->name).key;
    if (status == STATUS_OK)
        status = filled(planner, &values, &request->address);
    if (status == STATUS_OK)
        status = weather_store_memory(planner->db, planner->ids->source[planner->source], request->station_id,
                                      request->shown, source->layout, &request->memory, planner->problems);
    return status;
}

static enum status add_spans(const struct planner *planner, int32_t first, size_t count, const bool *need) {
    enum status status = STATUS_OK;
    size_t i = 0;
    while (status == STATUS_OK && i < count) {
        if (!need[i]) {
            i++;
            continue;
        }
        size_t last = i;
        for (size_t k = i + 1; k < count && k - last <= SPAN_GAP_D; k++) {
            if (need[k])
                last = k;
        }
        /* With the day before, which is there: an answer without news is then no answer without days. */
        size_t start = i > 0 ? i - 1 : i;
        status = add_request(planner, first + (int32_t)start, first + (int32_t)last, true);
        i = last + 1;
    }
    return status;
}

static enum status add_years(const struct planner *planner, int32_t first, size_t count, const bool *need) {
    enum status status = STATUS_OK;
    int done = 0;
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        int year = calendar_to_civil(first + (int32_t)i).year;
        if (!need[i] || year == done)
            continue;
        int32_t start = CALENDAR_NONE, end = CALENDAR_NONE;
        (void)calendar_from_civil(year, 1, 1, &start);
        (void)calendar_from_civil(year, 12, 31, &end);
        status = add_request(planner, start, end < planner->today ? end : planner->today - 1, true);
        done = year;
    }
    return status;
}

/* Days that have ended and are not settled. */
static enum status add_missing(const struct planner *planner, enum address_span span) {
    const struct farm_source *source = &planner->farm->source[planner->source];
    int32_t first = 0;
    enum status status =
        weather_first_needed(planner->db, source->station, planner->today, &first, planner->problems);
    if (status != STATUS_OK)
        return status;
    int32_t last = planner->today - 1;
    if (source->since != CALENDAR_NONE && source->since < first)
        first = source->since;
    size_t count = (size_t)(last - first) + 1;
    bool *need = calloc(count, sizeof *need);
    if (need == NULL)
        return STATUS_NO_MEMORY;
    status =
        weather_store_needed(planner->db, planner->ids->source[planner->source],
                             planner->ids->station[planner->station], first, last, need, planner->problems);
    if (status == STATUS_OK && span == ADDRESS_YEAR)
        status = add_years(planner, first, count, need);
    else if (status == STATUS_OK)
        status = add_spans(planner, first, count, need);
    free(need);
    return status;
}

static enum status plan_source(struct planner *planner) {
    const struct farm_source *source = &planner->farm->source[planner->source];
    planner->station = 0;
    while (planner->station < planner->farm->station_count &&
           strcmp(planner->farm->station[planner->station].name, source->station) != 0)
        planner->station++;
    if (planner->station == planner->farm->station_count)
        return STATUS_NOT_FOUND;
    enum address_span span = address_template_span(source->address);
    if (source->kind == SOURCE_FORECAST || span == ADDRESS_WHOLE)
        return add_request(planner, planner->today, planner->today + MORNING_AHEAD - 1, false);
    return add_missing(planner, span);
}

enum status ingest_plan_make(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                             const struct credentials *credentials, int32_t today, struct ingest_plan *plan,
                             struct problems *problems) {
    struct planner planner = {.db = db,
                              .farm = farm,
                              .ids = ids,
                              .credentials = credentials,
                              .today = today,
                              .plan = plan,
                              .problems = problems};
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < farm->source_count; i++) {
        planner.source = i;
        status = plan_source(&planner);
    }
    return status;
}

void ingest_plan_free(struct ingest_plan *plan) {
    for (size_t i = 0; i < plan->count; i++) {
        char *address = plan->request[i].address;
        if (address != NULL)
            explicit_bzero(address, strlen(address));
        free(address);
        free(plan->request[i].shown);
    }
    free(plan->request);
    memset(plan, 0, sizeof *plan);
}

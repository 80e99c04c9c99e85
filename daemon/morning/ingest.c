#include "daemon/morning/ingest.h"

#include <math.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "daemon/base/wall_clock.h"
#include "daemon/morning/ingest_plan.h"
#include "daemon/source/layout_find.h"
#include "daemon/store/weather_store.h"

static void hash_bytes(const struct download *download, char *sha256) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, download->bytes, download->size);
    sodium_bin2hex(sha256, WEATHER_HASH_SIZE, hash, sizeof hash);
}

/* A day of an observed source that reports nothing is no report. */
static void drop_empty(struct weather_days *days) {
    size_t kept = 0;
    for (size_t i = 0; i < days->count; i++) {
        bool any = false;
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++)
            any = any || !isnan(days->day[i].value[e]);
        if (any)
            days->day[kept++] = days->day[i];
    }
    days->count = kept;
}

/* Reads what was downloaded; hours in UTC become days on the farm's clock. */
static enum status read_bytes(const char *layout_name, const char *where, const struct download *got,
                              struct weather_days *days, double *wind_height_m, struct problems *problems) {
    struct layout *layout = NULL;
    enum status status = layout_find(layout_name, &layout, problems);
    if (status != STATUS_OK)
        return status;
    layout_set_zone(layout, wall_clock_zone_s, NULL);
    status = layout_read(layout, where, got->bytes, got->size, days, problems);
    if (status == STATUS_OK)
        drop_empty(days);
    *wind_height_m = layout_wind_height_m(layout);
    layout_free(layout);
    return status;
}

enum status ingest_source(const struct farm_source *source, const struct farm_station *station,
                          const char *base_dir, struct weather_days *days, char *sha256,
                          struct problems *problems) {
    struct download got;
    double height_m = (double)NAN;
    const struct download_request request = {
        .address = source->address, .allow_file = true, .base_dir = base_dir};
    enum status status = STATUS_REFUSED;
    memset(&got, 0, sizeof got);
    if (strchr(source->address, '{') != NULL)
        problem_add(problems, source->address, 0, 0, source->name,
                    "found an address with {...}, which only the daemon fills; expected that of a file");
    else
        status = download_get(&request, &got, problems);
    if (status == STATUS_OK)
        status = read_bytes(source->layout, source->address, &got, days, &height_m, problems);
    if (status == STATUS_OK && !isnan(height_m))
        weather_days_move_wind(days, height_m, station->site.wind_height_m);
    if (status == STATUS_OK && sha256 != NULL)
        hash_bytes(&got, sha256);
    download_free(&got);
    return status;
}

/* ---- all sources of a farm ---- */

struct ingest {
    struct db *db;
    const struct farm *farm;
    const struct farm_ids *ids;
    const struct ingest_options *options;
    int32_t today;
    int64_t at;
    struct ingest_plan plan;
    struct download_job *job; /* one a request that may go out */
    size_t *request_of;       /* of each job: its request */
    size_t jobs;
    bool *failed; /* of each source */
    struct ingest_result *result;
    struct problems *problems;
};

/* One line is kept for the page; all of them go to whoever started the run. */
static enum status note_trouble(const struct ingest *ingest, size_t source, long retry_after_s,
                                const struct problems *found) {
    struct text line;
    text_init(&line, 0);
    problems_keep_first(found, &line);
    for (size_t i = 0; i < found->kept; i++)
        (void)problem_copy(ingest->problems, &found->problem[i]);
    enum status status = weather_store_trouble(ingest->db, ingest->ids->source[source], ingest->at,
                                               retry_after_s > 0 ? ingest->at + retry_after_s : 0,
                                               text_string(&line), ingest->problems);
    text_free(&line);
    return status;
}

static struct weather_fetch fetch_of(const struct ingest *ingest, const struct ingest_request *request,
                                     const struct download *got) {
    const struct farm_source *source = &ingest->farm->source[request->source];
    struct weather_fetch fetch = {
        .source_id = ingest->ids->source[request->source],
        .station_id = request->station_id,
        .kind = source->kind,
        .at = ingest->at,
        .day = ingest->today,
        .start = request->start,
        .end = request->end,
        .address = request->shown,
        .layout = source->layout,
        .wind_height_m = (double)NAN,
        .size = got->size,
        .etag = got->etag,
        .modified = got->last_modified,
        .site = &request->station->site,
        .in_trouble = ingest->failed[request->source],
    };
    return fetch;
}

static enum status take_bytes(const struct ingest *ingest, const struct ingest_request *request,
                              struct download_job *job, enum status *read) {
    struct weather_fetch fetch = fetch_of(ingest, request, &job->got);
    struct weather_days days;
    size_t changed = 0;
    weather_days_init(&days);
    char room[DOWNLOAD_ADDRESS_MAX];
    *read = read_bytes(fetch.layout, download_shown(request->shown, room), &job->got, &days,
                       &fetch.wind_height_m, &job->problems);
    enum status status = STATUS_OK;
    if (*read == STATUS_OK) {
        hash_bytes(&job->got, fetch.sha256);
        status = weather_store_take(ingest->db, &fetch, &days, &changed, ingest->problems);
        ingest->result->days_changed += changed;
    }
    weather_days_free(&days);
    return status;
}

/* One download has ended. Its source's trouble is this farm's news, not the end of the run. */
static enum status take_job(void *context, size_t index, struct download_job *job) {
    struct ingest *ingest = context;
    const struct ingest_request *request = &ingest->plan.request[ingest->request_of[index]];
    enum status good = job->status, status = STATUS_OK;
    if (good == STATUS_OK && job->got.not_modified) {
        struct weather_fetch fetch = fetch_of(ingest, request, &job->got);
        fetch.etag = job->got.etag[0] != '\0' ? job->got.etag : request->memory.etag;
        fetch.modified =
            job->got.last_modified[0] != '\0' ? job->got.last_modified : request->memory.modified;
        return weather_store_unchanged(ingest->db, &fetch, ingest->problems);
    }
    if (good == STATUS_OK)
        status = take_bytes(ingest, request, job, &good);
    if (status != STATUS_OK || good == STATUS_OK)
        return status;
    if (job->problems.count == 0)
        problem_add(&job->problems, request->shown, 0, 0, NULL, "%s", status_name(good));
    ingest->failed[request->source] = true;
    return note_trouble(ingest, request->source, job->got.retry_after_s, &job->problems);
}

/* The server asked for patience, and it is not over yet. */
static void tell_waiting(const struct ingest *ingest, const struct ingest_request *request) {
    struct morning_time until = wall_clock_of(request->memory.retry_at);
    char iso[CALENDAR_ISO_SIZE];
    ingest->failed[request->source] = true;
    problem_add(ingest->problems, NULL, 0, 0, ingest->farm->source[request->source].name,
                "the service asked not to be tried again before %s %02d:%02d; it was left alone",
                calendar_format_iso(until.today, iso), until.minute / 60, until.minute % 60);
}

/* The address wants a key that nobody gave, or that whoever listens between here and there would read. */
static enum status tell_key(const struct ingest *ingest, const struct ingest_request *request,
                            const char *trouble) {
    struct problems *found = calloc(1, sizeof *found);
    if (found == NULL)
        return STATUS_NO_MEMORY;
    ingest->failed[request->source] = true;
    problem_add(found, request->shown, 0, 0, NULL, "%s \"%s\"; it was not asked", trouble,
                ingest->farm->source[request->source].name);
    enum status status = note_trouble(ingest, request->source, 0, found);
    problems_free(found);
    free(found);
    return status;
}

/* NULL: there is none. */
static const char *key_trouble(const char *address, const char *key) {
    if (strstr(address, "{key}") == NULL)
        return NULL;
    if (key == NULL)
        return "found {key} in the address, and the credentials file has no key of";
    if (strncasecmp(address, "http:", 5) == 0 && !download_on_this_machine(address))
        return "found {key} in an address of http://, expected https://, so that nobody on the way reads the "
               "key of";
    return NULL;
}

static enum status make_jobs(struct ingest *ingest) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < ingest->plan.count; i++) {
        struct ingest_request *request = &ingest->plan.request[i];
        const struct farm_source *source = &ingest->farm->source[request->source];
        if (request->memory.retry_at > ingest->at) {
            tell_waiting(ingest, request);
            continue;
        }
        struct credentials_of_source secret = credentials_find(ingest->options->credentials, source->name);
        const char *trouble = key_trouble(source->address, secret.key);
        if (trouble != NULL) {
            status = tell_key(ingest, request, trouble);
            continue;
        }
        ingest->request_of[ingest->jobs] = i;
        struct download_job *job = &ingest->job[ingest->jobs++];
        job->interval_s = source->interval_s;
        job->request = (struct download_request){.address = request->address,
                                                 .shown = request->shown,
                                                 .allow_file = true,
                                                 .etag = request->memory.etag,
                                                 .modified_since = request->memory.modified,
                                                 .credentials = secret.login,
                                                 .token = secret.token};
    }
    return status;
}

static enum status ingest_run(struct ingest *ingest) {
    enum status status = ingest_plan_make(ingest->db, ingest->farm, ingest->ids, ingest->options->credentials,
                                          ingest->today, &ingest->plan, ingest->problems);
    if (status != STATUS_OK)
        return status;
    ingest->job = calloc(ingest->plan.count + 1, sizeof *ingest->job);
    ingest->request_of = calloc(ingest->plan.count + 1, sizeof *ingest->request_of);
    ingest->failed = calloc(ingest->farm->source_count + 1, sizeof *ingest->failed);
    if (ingest->job == NULL || ingest->request_of == NULL || ingest->failed == NULL)
        return STATUS_NO_MEMORY;
    status = make_jobs(ingest);
    if (status == STATUS_OK)
        status = download_all(ingest->job, ingest->jobs, &ingest->options->policy, take_job, ingest);
    ingest->result->sources = ingest->farm->source_count;
    for (size_t i = 0; i < ingest->farm->source_count; i++)
        ingest->result->failed += ingest->failed[i];
    return status;
}

enum status ingest_all(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                       const struct ingest_options *options, int32_t today, int64_t at,
                       struct ingest_result *result, struct problems *problems) {
    struct ingest ingest = {.db = db,
                            .farm = farm,
                            .ids = ids,
                            .options = options,
                            .today = today,
                            .at = at,
                            .result = result,
                            .problems = problems};
    memset(result, 0, sizeof *result);
    if (sodium_init() < 0)
        return STATUS_NO_MEMORY;
    enum status status = ingest_run(&ingest);
    ingest_plan_free(&ingest.plan);
    free(ingest.job);
    free(ingest.request_of);
    free(ingest.failed);
    return status;
}

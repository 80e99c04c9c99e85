#include "daemon/morning/ingest.h"

#include <math.h>
#include <sodium.h>
#include <string.h>

#include "daemon/source/download.h"
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

enum status ingest_source(const struct farm_source *source, const char *base_dir, struct weather_days *days,
                          char *sha256, size_t *size, struct problems *problems) {
    struct layout *layout = NULL;
    struct download download;
    memset(&download, 0, sizeof download);
    enum status status = layout_find(source->layout, &layout, problems);
    if (status != STATUS_OK)
        return status;
    const struct download_request request = {
        .address = source->address, .allow_file = true, .base_dir = base_dir};
    status = download_get(&request, &download, problems);
    if (status == STATUS_OK)
        status = layout_read(layout, source->address, download.bytes, download.size, days, problems);
    if (status == STATUS_OK) {
        drop_empty(days);
        if (sha256 != NULL)
            hash_bytes(&download, sha256);
        if (size != NULL)
            *size = download.size;
    }
    download_free(&download);
    layout_free(layout);
    return status;
}

static enum status note_trouble(struct db *db, long long source_id, int64_t at, const struct problems *found,
                                struct problems *problems) {
    struct text words;
    text_init(&words, 0);
    problems_print(found, &words);
    /* One line is kept for the page; all of them went to whoever started the run. */
    struct text line;
    text_init(&line, 0);
    text_add(&line, text_string(&words), strcspn(text_string(&words), "\n"));
    if (found->count > 1)
        text_printf(&line, " (and %zu more)", found->count - 1);
    enum status status = weather_store_trouble(db, source_id, at, text_string(&line), problems);
    text_free(&words);
    text_free(&line);
    return status;
}

static void problems_move(const struct problems *from, struct problems *to) {
    for (size_t i = 0; i < from->kept; i++)
        problem_add(to, from->problem[i].file, from->problem[i].line, from->problem[i].column,
                    from->problem[i].path, "%s", from->problem[i].message);
}

static enum status ingest_one(struct db *db, const struct farm_source *source, struct weather_fetch *fetch,
                              struct ingest_result *result, struct problems *problems) {
    static struct problems found; /* large; one run at a time downloads */
    struct weather_days days;
    size_t changed = 0;
    weather_days_init(&days);
    problems_init(&found);
    enum status status = ingest_source(source, NULL, &days, fetch->sha256, &fetch->size, &found);
    if (status == STATUS_OK) {
        status = weather_store_take(db, fetch, &days, &changed, problems);
        result->days_changed += changed;
    } else {
        result->failed++;
        if (found.count == 0)
            problem_add(&found, source->address, 0, 0, NULL, "%s", status_name(status));
        problems_move(&found, problems);
        status = note_trouble(db, fetch->source_id, fetch->at, &found, problems);
    }
    problems_free(&found);
    weather_days_free(&days);
    return status;
}

static long long station_id_of(const struct farm *farm, const struct farm_ids *ids, const char *name) {
    for (size_t i = 0; i < farm->station_count; i++) {
        if (strcmp(farm->station[i].name, name) == 0)
            return ids->station[i];
    }
    return 0;
}

enum status ingest_all(struct db *db, const struct farm *farm, const struct farm_ids *ids, int32_t today,
                       int64_t at, struct ingest_result *result, struct problems *problems) {
    memset(result, 0, sizeof *result);
    if (sodium_init() < 0)
        return STATUS_NO_MEMORY;
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < farm->source_count; i++) {
        const struct farm_source *source = &farm->source[i];
        struct weather_fetch fetch = {
            .source_id = ids->source[i],
            .station_id = station_id_of(farm, ids, source->station),
            .kind = source->kind,
            .at = at,
            .day = today,
            .address = source->address,
            .layout = source->layout,
        };
        result->sources++;
        status = ingest_one(db, source, &fetch, result, problems);
    }
    return status;
}

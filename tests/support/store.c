#include "support/store.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/farm/farm_file.h"
#include "daemon/store/weather_store.h"

static int give_up(struct test_store *store) {
    struct text words;
    text_init(&words, 0);
    problems_print(&store->problems, &words);
    (void)fputs(text_string(&words), stderr);
    text_free(&words);
    return -1;
}

int test_store_open(struct test_store *store, const char *farm_json) {
    const char *build = getenv("BUILD");
    memset(store, 0, sizeof *store);
    problems_init(&store->problems);
    (void)snprintf(store->path, sizeof store->path, "%s/store_XXXXXX", build != NULL ? build : "build");
    int file = mkstemp(store->path);
    if (file < 0 || close(file) != 0)
        return -1;
    struct farm farm;
    if (farm_file_read("farm", farm_json, strlen(farm_json), &farm, &store->problems) != STATUS_OK)
        return give_up(store);
    enum status status = db_open(store->path, DB_CREATE, &store->db, &store->problems);
    if (status == STATUS_OK)
        status = farm_store_save(store->db, &farm, false, &store->problems);
    farm_free(&farm);
    if (status == STATUS_OK)
        status = farm_store_load(store->db, &store->farm, &store->problems);
    if (status == STATUS_OK)
        status = farm_store_ids(store->db, &store->farm, &store->ids, &store->problems);
    return status == STATUS_OK ? 0 : give_up(store);
}

enum status test_store_gauge(struct test_store *store, int32_t first, int32_t today, int rain_every,
                             double rain_mm) {
    struct weather_days days;
    enum status status = STATUS_OK;
    weather_days_init(&days);
    for (int i = 0; status == STATUS_OK && first + i < today; i++) {
        struct weather_day day = weather_day_empty(first + i);
        day.value[WEATHER_TMAX_C] = 33;
        day.value[WEATHER_TMIN_C] = 16;
        day.value[WEATHER_RAIN_MM] = i % rain_every == 0 ? rain_mm : 0;
        status = weather_days_add(&days, &day, NULL);
    }
    struct weather_fetch fetch = {.source_id = store->ids.source[0],
                                  .station_id = store->ids.station[0],
                                  .kind = SOURCE_OBSERVED,
                                  .at = 1000 + today,
                                  .day = today,
                                  .address = "file:a",
                                  .layout = "plain",
                                  .size = 1};
    (void)snprintf(fetch.sha256, sizeof fetch.sha256, "%d", (int)today);
    if (status == STATUS_OK)
        status = weather_store_take(store->db, &fetch, &days, NULL, &store->problems);
    weather_days_free(&days);
    return status;
}

void test_store_close(struct test_store *store) {
    static const char *const parts[] = {"", "-wal", "-shm"};
    char path[sizeof store->path + 8];
    farm_ids_free(&store->ids);
    farm_free(&store->farm);
    db_close(store->db);
    problems_free(&store->problems);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        (void)snprintf(path, sizeof path, "%s%s", store->path, parts[i]);
        (void)unlink(path);
    }
}

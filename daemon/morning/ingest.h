/* Weather in: download, read by its layout, judge, store; a source at a time, each whole or not at all. */
#ifndef WATERTURN_INGEST_H
#define WATERTURN_INGEST_H

#include "daemon/farm/farm.h"
#include "daemon/source/weather_days.h"
#include "daemon/store/farm_store.h"

struct ingest_result {
    size_t sources, failed;
    size_t days_changed;
};

/* Downloads and reads one source. `allow_file`: file: addresses are taken (they come from the configuration);
 * `base_dir` is where relative ones start. The bytes' SHA-256 goes to `sha256` (may be NULL), their number to
 * `size` (may be NULL). On failure problems say where and why, and `days` stays empty. */
enum status ingest_source(const struct farm_source *source, const char *base_dir, struct weather_days *days,
                          char *sha256, size_t *size, struct problems *problems);

/* Every source of the farm into the database, for the morning of `today` at the instant `at`. A source that
 * fails is noted with its reason in the database and in `problems`, and the others go on; only a database
 * that refuses makes this fail. */
enum status ingest_all(struct db *db, const struct farm *farm, const struct farm_ids *ids, int32_t today,
                       int64_t at, struct ingest_result *result, struct problems *problems);

#endif

/* Weather in: download, read by its layout, judge, store; each file whole or not at all. */
#ifndef WATERTURN_INGEST_H
#define WATERTURN_INGEST_H

#include "daemon/farm/farm.h"
#include "daemon/source/credentials.h"
#include "daemon/source/download_all.h"
#include "daemon/source/weather_days.h"
#include "daemon/store/farm_store.h"

struct ingest_options {
    const struct credentials *credentials; /* NULL: none */
    struct download_policy policy;
};

struct ingest_result {
    size_t sources, failed; /* failed: at least one of its requests, or none was allowed yet */
    size_t days_changed;
};

/* Downloads and reads one source as a whole, its address without holes for missing days; the wind at the
 * station's own height. `base_dir` is where relative file: addresses start. On failure problems say where and
 * why, and `days` stays empty. */
enum status ingest_source(const struct farm_source *source, const struct farm_station *station,
                          const char *base_dir, struct weather_days *days, struct problems *problems);

/* Every source of the farm into the database, for the morning of `today` at the instant `at`. A source that
 * fails is noted with its reason in the database and in `problems`, and the others go on; only a database
 * that refuses makes this fail. */
enum status ingest_all(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                       const struct ingest_options *options, int32_t today, int64_t at,
                       struct ingest_result *result, struct problems *problems);

#endif

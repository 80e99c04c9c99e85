/* How long the farm book of 500 fields and 3 seasons takes: written as a farm file, read back, put into a
 * database, and read out of it. It should take 1 s out and 3 s
 * in. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/file.h"
#include "daemon/farm/farm_file.h"
#include "daemon/farm/library.h"
#include "daemon/store/farm_store.h"
#include "tests/support/bench.h"

#define FIELDS       500
#define SEASONS      3
#define WATERINGS    24 /* records of each kind on a planting */
#define RAINS        20
#define READINGS     6
#define NOTES        4
#define FIRST_SEASON 19816 /* 2024-04-03 */

static void must(enum status status, const char *doing, const struct problems *problems) {
    if (status == STATUS_OK)
        return;
    struct text words;
    text_init(&words, 0);
    problems_print(problems, &words);
    fprintf(stderr, "bench_book: %s: %s\n%s", doing, status_name(status), text_string(&words));
    exit(1);
}

static void *list_of(size_t count, size_t size) {
    void *list = calloc(count, size);
    if (list == NULL) {
        perror("bench_book");
        exit(1);
    }
    return list;
}

static void add_record(struct farm *farm, int field, int32_t date, enum record_kind kind, double amount) {
    struct farm_record *record = &farm->record[farm->record_count++];
    (void)snprintf(record->field, sizeof record->field, "Field %03d", field);
    record->date = date;
    record->kind = kind;
    record->amount = kind == RECORD_NOTE ? (double)NAN : amount;
    record->sd = kind == RECORD_READING ? 0.02 : (double)NAN;
    if (kind == RECORD_NOTE)
        (void)snprintf(record->text, sizeof record->text, "Checked the %d. line and flushed it.",
                       field % 9 + 1);
}

static void add_season(struct farm *farm, const struct crop *crop, int field, int season) {
    int32_t start = FIRST_SEASON + 365 * season + field % 20;
    struct farm_planting *planting = &farm->planting[farm->planting_count++];
    farm_planting_begin(planting);
    (void)snprintf(planting->field, sizeof planting->field, "Field %03d", field);
    (void)snprintf(planting->crop_name, sizeof planting->crop_name, "maize, grain");
    planting->crop = *crop;
    planting->planting_date = planting->start_date = start;
    for (int i = 0; i < WATERINGS; i++)
        add_record(farm, field, start + 20 + 4 * i, RECORD_IRRIGATION, 20.0 + (field + i) % 13 + 0.3);
    for (int i = 0; i < RAINS; i++)
        add_record(farm, field, start + 5 + 5 * i, RECORD_RAIN, (field * 7 + i * 3) % 31 / 2.0);
    for (int i = 0; i < READINGS; i++)
        add_record(farm, field, start + 30 + 14 * i, RECORD_READING, 0.15 + 0.01 * ((field + i) % 12));
    for (int i = 0; i < NOTES; i++)
        add_record(farm, field, start + 10 + 25 * i, RECORD_NOTE, 0);
}

static void make_farm(struct farm *farm, struct problems *problems) {
    struct library *library;
    struct crop crop;
    must(library_open(&library, problems), "opening the library", problems);
    must(library_crop(library, "maize, grain", "", &crop), "finding the crop", problems);
    farm_init(farm);
    (void)snprintf(farm->name, sizeof farm->name, "Large farm");
    farm->station = list_of(farm->station_count = 1, sizeof *farm->station);
    farm_station_begin(farm->station);
    (void)snprintf(farm->station->name, sizeof farm->station->name, "yard");
    farm->station->longitude_deg = -98.0;
    farm->station->site.latitude_deg = 38.0;
    farm->station->site.elevation_m = 500.0;
    farm->soil = list_of(farm->soil_count = 1, sizeof *farm->soil);
    (void)snprintf(farm->soil->name, sizeof farm->soil->name, "silt loam");
    (void)snprintf(farm->soil->texture, sizeof farm->soil->texture, "silt loam");
    must(library_soil(library, "silt loam", &farm->soil->soil), "finding the soil", problems);
    farm->field = list_of(FIELDS, sizeof *farm->field);
    farm->planting = list_of(FIELDS * SEASONS, sizeof *farm->planting);
    farm->record =
        list_of((size_t)FIELDS * SEASONS * (WATERINGS + RAINS + READINGS + NOTES), sizeof *farm->record);
    for (int i = 0; i < FIELDS; i++) {
        struct farm_field *field = &farm->field[farm->field_count++];
        (void)snprintf(field->name, sizeof field->name, "Field %03d", i);
        (void)snprintf(field->station, sizeof field->station, "yard");
        (void)snprintf(field->soil, sizeof field->soil, "silt loam");
        field->system = system_default(SYSTEM_CENTRE_PIVOT);
        field->system.area_m2 = 4e5 + 100.0 * i;
        field->system.flow_m3_h = 180.0;
        for (int season = 0; season < SEASONS; season++)
            add_season(farm, &crop, i, season);
    }
    must(farm_sort_records(farm), "sorting the records", problems);
    library_free(library);
}

/* As the commands do it: `import` reads, checks and stores; `export` loads and writes. */
static double time_in(const char *file, const char *path, struct problems *problems) {
    struct farm farm;
    struct db *db = NULL;
    char *bytes = NULL;
    size_t size;
    double began = bench_cpu_s();
    must(file_read(file, (size_t)256 << 20, &bytes, &size, problems), "reading the file", problems);
    must(farm_file_read(file, bytes, size, &farm, problems), "reading the farm", problems);
    must(db_open(path, DB_CREATE, &db, problems), "opening the database", problems);
    must(farm_store_save(db, &farm, false, problems), "importing", problems);
    double took = bench_cpu_s() - began;
    db_close(db);
    farm_free(&farm);
    free(bytes);
    return took;
}

static double time_out(const char *file, const char *path, size_t *size, struct problems *problems) {
    struct farm farm;
    struct db *db = NULL;
    double began = bench_cpu_s();
    must(db_open(path, DB_READ, &db, problems), "opening the database", problems);
    must(farm_store_load(db, &farm, problems), "loading", problems);
    char *text = farm_file_write(&farm);
    *size = text != NULL ? strlen(text) : 0;
    must(text != NULL ? file_write(file, text, *size, problems) : STATUS_NO_MEMORY, "writing", problems);
    double took = bench_cpu_s() - began;
    db_close(db);
    farm_free(&farm);
    free(text);
    return took;
}

int main(void) {
    static struct problems problems;
    const char *build = getenv("BUILD");
    char directory[400], file[420], path[420], again[420], wal[440];
    struct farm farm;
    size_t size;
    problems_init(&problems);
    (void)snprintf(directory, sizeof directory, "%s/bench_book_XXXXXX", build != NULL ? build : "build");
    if (mkdtemp(directory) == NULL) {
        perror("bench_book");
        return 1;
    }
    (void)snprintf(file, sizeof file, "%s/farm.json", directory);
    (void)snprintf(path, sizeof path, "%s/farm.db", directory);
    (void)snprintf(again, sizeof again, "%s/again.db", directory);
    make_farm(&farm, &problems);
    char *text = farm_file_write(&farm);
    must(text != NULL ? file_write(file, text, strlen(text), &problems) : STATUS_NO_MEMORY, "writing",
         &problems);
    double in_s = time_in(file, path, &problems);
    double out_s = time_out(file, path, &size, &problems);
    double again_s = time_in(file, again, &problems);
    struct bench_row row = {.work = "the farm book of 500 fields and 3 seasons as a farm file",
                            .ratio = NAN,
                            .goal = "in 3 s, out 1 s",
                            .met = in_s <= 3 && again_s <= 3 && out_s <= 1};
    (void)snprintf(row.figure, sizeof row.figure, "%.1f MB, %zu records: in %.2f s, out %.2f s",
                   (double)size / 1e6, farm.record_count, in_s, out_s);
    free(text);
    farm_free(&farm);
    const char *const made[] = {file, path, again};
    for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
        static const char *const tails[] = {"", "-wal", "-shm"};
        for (int k = 0; k < 3; k++) {
            (void)snprintf(wal, sizeof wal, "%s%s", made[i], tails[k]);
            (void)unlink(wal);
        }
    }
    (void)rmdir(directory);
    return bench_row_print(&row);
}

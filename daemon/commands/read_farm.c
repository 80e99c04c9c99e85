#include "daemon/commands/read_farm.h"

#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/file.h"
#include "daemon/base/wall_clock.h"
#include "daemon/farm/farm_file.h"

#define FARM_FILE_MAX ((size_t)64 << 20)

enum status read_farm(const char *path, struct farm *farm, struct problems *problems) {
    char *bytes = NULL;
    size_t size = 0;
    enum status status = file_read(path, FARM_FILE_MAX, &bytes, &size, problems);
    if (status == STATUS_OK)
        status = farm_file_read(path, bytes, size, farm, problems);
    if (status == STATUS_OK)
        wall_clock_zone(farm->time_zone);
    free(bytes);
    return status;
}

void print_farm_counts(const struct farm *farm) {
    const struct {
        size_t count;
        const char *one, *many;
    } lists[] = {{farm->field_count, "field", "fields"},
                 {farm->planting_count, "planting", "plantings"},
                 {farm->record_count, "record", "records"},
                 {farm->station_count, "station", "stations"},
                 {farm->supply_count, "supply", "supplies"}};
    printf("%s:", farm->name);
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        printf("%s %zu %s", i > 0 ? "," : "", lists[i].count,
               lists[i].count == 1 ? lists[i].one : lists[i].many);
    putchar('\n');
}

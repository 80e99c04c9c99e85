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
    printf("%s: %zu fields, %zu plantings, %zu records, %zu stations, %zu supplies\n", farm->name,
           farm->field_count, farm->planting_count, farm->record_count, farm->station_count,
           farm->supply_count);
}

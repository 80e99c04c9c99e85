#include "daemon/source/layout.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/asset.h"
#include "daemon/base/nearest.h"
#include "daemon/source/layout_rules.h"
#include "daemon/source/readers.h"

#define BUILTIN_FOLDER "config/layouts/"
#define BUILTIN_SUFFIX ".json"

/* The name of a layout out of the path of an asset; false for all other assets. */
static bool builtin_name(const char *path, char room[LAYOUT_NAME_SIZE]) {
    size_t folder = strlen(BUILTIN_FOLDER), suffix = strlen(BUILTIN_SUFFIX), length = strlen(path);
    if (strncmp(path, BUILTIN_FOLDER, folder) != 0 || length <= folder + suffix ||
        length - folder - suffix >= LAYOUT_NAME_SIZE || strcmp(path + length - suffix, BUILTIN_SUFFIX) != 0)
        return false;
    (void)snprintf(room, LAYOUT_NAME_SIZE, "%.*s", (int)(length - folder - suffix), path + folder);
    return true;
}

const char *layout_builtin_name(size_t index, char room[LAYOUT_NAME_SIZE]) {
    for (const struct asset *asset = asset_table; asset->path != NULL; asset++) {
        if (builtin_name(asset->path, room) && index-- == 0)
            return room;
    }
    return NULL;
}

static enum status no_such_layout(const char *name, struct problems *problems) {
    char room[LAYOUT_NAME_SIZE], best[LAYOUT_NAME_SIZE] = "plain";
    struct nearest nearest;
    nearest_begin(&nearest, name);
    for (size_t i = 0; layout_builtin_name(i, room) != NULL; i++) {
        nearest_offer(&nearest, room);
        if (nearest.name == room) { /* the room is written over for the next one */
            memcpy(best, room, sizeof best);
            nearest.name = best;
        }
    }
    problem_add(problems, NULL, 0, 0, "layout", "found no layout named \"%s\", expected perhaps \"%s\"", name,
                best);
    return STATUS_NOT_FOUND;
}

enum status layout_builtin(const char *name, struct layout **out, struct problems *problems) {
    char path[sizeof BUILTIN_FOLDER + LAYOUT_NAME_SIZE + sizeof BUILTIN_SUFFIX];
    int length = snprintf(path, sizeof path, BUILTIN_FOLDER "%s" BUILTIN_SUFFIX, name);
    const struct asset *asset = length > 0 && (size_t)length < sizeof path ? asset_find(path) : NULL;
    if (asset == NULL)
        return no_such_layout(name, problems);
    enum status status = layout_parse(path, (const char *)asset->bytes, asset->size, out, problems);
    if (status == STATUS_OK)
        (void)snprintf((*out)->name, sizeof(*out)->name, "%s", name);
    return status;
}

void layout_free(struct layout *layout) {
    if (layout == NULL)
        return;
    cJSON_Delete(layout->json);
    free(layout);
}

const char *layout_name(const struct layout *layout) {
    return layout->name;
}

const char *layout_title(const struct layout *layout) {
    return layout->title;
}

const char *layout_address(const struct layout *layout) {
    return layout->address;
}

bool layout_is_forecast(const struct layout *layout) {
    return layout->forecast;
}

double layout_wind_height_m(const struct layout *layout) {
    return layout->wind_height_m;
}

void layout_set_zone(struct layout *layout, layout_zone zone, void *context) {
    layout->zone = zone;
    layout->zone_context = context;
}

static const reader readers[] = {[LAYOUT_DELIMITED] = delimited_read,
                                 [LAYOUT_COLUMNS] = columns_file_read,
                                 [LAYOUT_JSON] = json_days_read};

enum status layout_read_counted(const struct layout *layout, const char *where, const unsigned char *bytes,
                                size_t size, struct weather_days *out, struct layout_counts *counts,
                                struct problems *problems) {
    struct day_builder builder;
    size_t before = problems->count;
    *counts = (struct layout_counts){0, 0};
    if (size > LAYOUT_BYTES_MAX) {
        problem_add(problems, where, 0, 0, NULL, "found %zu bytes, expected a weather file of at most %zu",
                    size, LAYOUT_BYTES_MAX);
        return STATUS_NO_ROOM;
    }
    enum status status = raw_check(where, &bytes, &size, layout->latin1, problems);
    if (status != STATUS_OK)
        return status;
    day_builder_start(&builder, layout, where, problems);
    status = readers[layout->kind](&builder, bytes, size);
    if (status == STATUS_OK)
        status = day_builder_finish(&builder);
    if (status == STATUS_OK && problems->count == before)
        status = judge_days(layout, where, &builder.days, problems);
    if (status == STATUS_OK && problems->count > before)
        status = STATUS_REFUSED;
    *counts = (struct layout_counts){builder.days.count, builder.values};
    if (status == STATUS_OK) {
        *out = builder.days;
        weather_days_init(&builder.days);
    }
    day_builder_end(&builder);
    return status;
}

enum status layout_read(const struct layout *layout, const char *where, const unsigned char *bytes,
                        size_t size, struct weather_days *out, struct problems *problems) {
    struct layout_counts counts;
    return layout_read_counted(layout, where, bytes, size, out, &counts, problems);
}

#include "daemon/http/field_data.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/wall_clock.h"
#include "daemon/morning/planting_run.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/weather_store.h"

static int newest_first(const void *left, const void *right) {
    const struct farm_record *a = left, *b = right;
    if (a->date != b->date)
        return a->date > b->date ? -1 : 1;
    return a->kind < b->kind ? -1 : a->kind > b->kind;
}

/* Records from the planting's first day on; of a field without a planting all. */
static enum status take_records(const struct farm *farm, int32_t today, struct field_facts *facts) {
    int32_t first = facts->planted ? facts->planting.start_date : CALENDAR_FIRST;
    facts->record = calloc(farm->record_count + 1, sizeof *facts->record);
    if (facts->record == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < farm->record_count; i++) {
        const struct farm_record *record = &farm->record[i];
        if (record->date >= first && record->date <= today && strcmp(record->field, facts->field.name) == 0)
            facts->record[facts->record_count++] = *record;
    }
    qsort(facts->record, facts->record_count, sizeof *facts->record, newest_first);
    return STATUS_OK;
}

static enum status take_sources(struct db *db, int32_t today, struct field_facts *facts,
                                struct problems *problems) {
    struct source_state *sources = NULL;
    size_t count = 0;
    enum status status = weather_store_sources(db, today, &sources, &count, problems);
    for (size_t i = 0; status == STATUS_OK && i < count && facts->source_count < FIELD_SOURCES_MAX; i++) {
        if (strcmp(sources[i].station, facts->field.station) != 0)
            continue;
        struct field_source *source = &facts->source[facts->source_count++];
        bool taken = sources[i].taken_at != 0;
        struct morning_time at = wall_clock_of(sources[i].taken_at);
        memcpy(source->name, sources[i].name, sizeof source->name);
        source->kind = sources[i].kind;
        source->last_day = sources[i].last_day;
        source->taken_day = taken ? at.today : CALENDAR_NONE;
        source->taken_minute = taken ? at.minute : 0;
    }
    free(sources);
    return status;
}

static enum status take(struct db *db, const struct farm *farm, const char *name, int32_t today,
                        struct field_facts *facts, struct problems *problems) {
    const struct farm_field *field = farm_field_named(farm, name);
    const struct farm_soil *soil = field != NULL ? farm_soil_named(farm, field->soil) : NULL;
    const struct farm_station *station = field != NULL ? farm_station_named(farm, field->station) : NULL;
    if (soil == NULL || station == NULL)
        return STATUS_NOT_FOUND;
    facts->field = *field;
    facts->soil = *soil;
    facts->station = *station;
    facts->neighbour_count = neighbour_places(farm, station, facts->neighbour);
    int planting = planting_current(farm, name, today);
    facts->planted = planting >= 0;
    if (facts->planted)
        facts->planting = farm->planting[planting];
    enum status status = take_records(farm, today, facts);
    return status == STATUS_OK ? take_sources(db, today, facts, problems) : status;
}

enum status field_facts_load(struct db *db, const char *field, int32_t today, struct field_facts *out,
                             struct problems *problems) {
    struct farm farm;
    memset(out, 0, sizeof *out);
    enum status status = farm_store_load_field(db, field, &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = take(db, &farm, field, today, out, problems);
    farm_free(&farm);
    if (status != STATUS_OK)
        field_facts_free(out);
    return status;
}

void field_facts_free(struct field_facts *facts) {
    free(facts->record);
    memset(facts, 0, sizeof *facts);
}

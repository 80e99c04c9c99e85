#include "daemon/farm/farm.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/weather/station_transfer.h"

void farm_init(struct farm *farm) {
    memset(farm, 0, sizeof *farm);
    farm->water_price = NAN;
}

void farm_free(struct farm *farm) {
    free(farm->station);
    free(farm->source);
    free(farm->soil);
    free(farm->supply);
    free(farm->field);
    free(farm->planting);
    free(farm->record);
    free(farm->trial);
    free(farm->turn_mark);
    farm_init(farm);
}

/* ---- entries that begin ---- */

void farm_station_begin(struct farm_station *station) {
    *station =
        (struct farm_station){.longitude_deg = NAN, .lapse_c_km = STATION_LAPSE_C_KM, .hourly_et0 = true};
    station->site = weather_site_default(NAN, NAN);
}

void farm_source_begin(struct farm_source *source) {
    *source = (struct farm_source){.since = CALENDAR_NONE, .interval_s = NAN};
}

void farm_supply_begin(struct farm_supply *supply) {
    *supply = (struct farm_supply){.flow_m3_h = NAN,
                                   .hours_per_day = 24,
                                   .allotment_m3 = NAN,
                                   .season = {CALENDAR_NONE, CALENDAR_NONE},
                                   .water_price = NAN,
                                   .hour_price = NAN};
    for (int i = 0; i < FARM_WINDOWS_MAX; i++)
        supply->window[i].first = CALENDAR_NONE;
    for (int i = 0; i < FARM_CLOSURES_MAX; i++)
        supply->closed[i] = (struct farm_span){CALENDAR_NONE, CALENDAR_NONE};
    for (int i = 0; i < FARM_ALLOTMENTS_MAX; i++)
        supply->allotment[i] = (struct farm_allotment){{CALENDAR_NONE, CALENDAR_NONE}, NAN};
}

void farm_turn_mark_begin(struct farm_turn_mark *mark) {
    *mark = (struct farm_turn_mark){.date = CALENDAR_NONE};
}

void farm_planting_begin(struct farm_planting *planting) {
    struct season_setup usual = season_setup_default();
    planting->method = usual.method;
    planting->planting_date = planting->start_date = CALENDAR_NONE;
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        planting->stage_date[i] = CALENDAR_NONE;
    planting->start_depletion = usual.start_depletion;
    planting->water_table_m = usual.water_table_m;
    planting->capillary_max_mm = usual.capillary_max_mm;
    planting->ece_ds_m = usual.ece_ds_m;
    planting->yield_value = (double)NAN;
}

/* ---- look-ups ---- */

/* Every entry of a list begins with its name. */
static const void *named(const void *array, size_t count, size_t stride, const char *name) {
    for (size_t i = 0; i < count; i++) {
        const char *entry = (const char *)array + i * stride;
        if (strcmp(entry, name) == 0)
            return entry;
    }
    return NULL;
}

const struct farm_station *farm_station_named(const struct farm *farm, const char *name) {
    return named(farm->station, farm->station_count, sizeof *farm->station, name);
}

const struct farm_soil *farm_soil_named(const struct farm *farm, const char *name) {
    return named(farm->soil, farm->soil_count, sizeof *farm->soil, name);
}

const struct farm_supply *farm_supply_named(const struct farm *farm, const char *name) {
    return named(farm->supply, farm->supply_count, sizeof *farm->supply, name);
}

const struct farm_field *farm_field_named(const struct farm *farm, const char *name) {
    return named(farm->field, farm->field_count, sizeof *farm->field, name);
}

const struct farm_planting *farm_planting_on(const struct farm *farm, const char *field, int32_t date) {
    const struct farm_planting *found = NULL;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *planting = &farm->planting[i];
        if (strcmp(planting->field, field) == 0 && planting->start_date <= date &&
            (found == NULL || planting->start_date > found->start_date))
            found = planting;
    }
    return found;
}

/* The day before the next planting's balance begins on the same field. */
static int32_t last_date_of(const struct farm *farm, const struct farm_planting *planting) {
    int32_t last = CALENDAR_LAST;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *other = &farm->planting[i];
        if (strcmp(other->field, planting->field) == 0 && other->start_date > planting->start_date &&
            other->start_date <= last)
            last = other->start_date - 1;
    }
    return last;
}

/* ---- records ---- */

const char *record_kind_name(enum record_kind kind) {
    static const char *const name[RECORD_KIND_COUNT] = {
        [RECORD_IRRIGATION] = "irrigation", [RECORD_RAIN] = "rain",   [RECORD_READING] = "reading",
        [RECORD_STAGE] = "stage",           [RECORD_COVER] = "cover", [RECORD_CUTTING] = "cutting",
        [RECORD_HARVEST] = "harvest",       [RECORD_NOTE] = "note",
    };
    return (unsigned)kind < RECORD_KIND_COUNT ? name[kind] : NULL;
}

const char *turn_mark_kind_name(enum turn_mark_kind kind) {
    static const char *const name[TURN_MARK_KIND_COUNT] = {
        [TURN_PINNED] = "pinned",
        [TURN_KEPT_DRY] = "kept dry",
    };
    return (unsigned)kind < TURN_MARK_KIND_COUNT ? name[kind] : NULL;
}

const char *trial_layout_name(enum trial_layout layout) {
    static const char *const name[TRIAL_LAYOUT_COUNT] = {"completely randomised", "randomised blocks",
                                                         "split plot"};
    return (unsigned)layout < TRIAL_LAYOUT_COUNT ? name[layout] : NULL;
}

static int by_field_date(const struct farm_record *a, const char *field, int32_t date) {
    int order = strcmp(a->field, field);
    return order != 0 ? order : (a->date > date) - (a->date < date);
}

static int by_record(const void *a, const void *b) {
    const struct farm_record *x = *(const struct farm_record *const *)a;
    const struct farm_record *y = *(const struct farm_record *const *)b;
    int order = by_field_date(x, y->field, y->date);
    if (order == 0)
        order = ((int)x->kind > (int)y->kind) - ((int)x->kind < (int)y->kind);
    return order != 0 ? order : (x > y) - (x < y);
}

static bool in_order(const struct farm *farm) {
    for (size_t i = 1; i < farm->record_count; i++) {
        const struct farm_record *before = &farm->record[i - 1], *after = &farm->record[i];
        if (by_record(&before, &after) > 0)
            return false;
    }
    return true;
}

enum status farm_sort_records(struct farm *farm) {
    size_t count = farm->record_count;
    if (in_order(farm)) {
        farm->records_sorted = true;
        return STATUS_OK;
    }
    const struct farm_record **order = calloc(count + 1, sizeof *order);
    struct farm_record *sorted = calloc(count + 1, sizeof *sorted);
    if (order != NULL && sorted != NULL) {
        for (size_t i = 0; i < count; i++)
            order[i] = &farm->record[i];
        qsort(order, count, sizeof *order, by_record);
        for (size_t i = 0; i < count; i++)
            sorted[i] = *order[i];
        free(farm->record);
        farm->record = sorted;
        farm->records_sorted = true;
        sorted = NULL;
    }
    bool done = farm->records_sorted && sorted == NULL;
    free(order);
    free(sorted);
    return done ? STATUS_OK : STATUS_NO_MEMORY;
}

/* Index of the first record on or after a field's day. */
static size_t bisect(const struct farm *farm, const char *field, int32_t date) {
    size_t low = 0, high = farm->record_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (by_field_date(&farm->record[middle], field, date) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* Goes through a field's records from day `first` to day `last`. */
struct walk {
    const struct farm *farm;
    const char *field;
    int32_t first, last;
    size_t at;
};

static struct walk walk_begin(const struct farm *farm, const char *field, int32_t first, int32_t last) {
    struct walk walk = {farm, field, first, last, farm->records_sorted ? bisect(farm, field, first) : 0};
    return walk;
}

/* The next one; NULL past the last. */
static const struct farm_record *walk_next(struct walk *walk) {
    while (walk->at < walk->farm->record_count) {
        const struct farm_record *record = &walk->farm->record[walk->at++];
        bool within = by_field_date(record, walk->field, walk->first) >= 0 &&
                      by_field_date(record, walk->field, walk->last) <= 0;
        if (within)
            return record;
        if (walk->farm->records_sorted)
            return NULL;
    }
    return NULL;
}

/* ---- what the balance is given ---- */

void farm_setup_of(const struct farm_planting *planting, const struct farm_field *field,
                   const struct farm_soil *soil, struct season_setup *setup) {
    *setup = season_setup_default();
    setup->crop = planting->crop;
    setup->soil = soil->soil;
    setup->method = planting->method;
    setup->first_date = planting->start_date;
    setup->planting_date = planting->planting_date;
    memcpy(setup->stage_date, planting->stage_date, sizeof setup->stage_date);
    setup->start_depletion = planting->start_depletion;
    setup->system_wetted_fraction = field->system.wetted_fraction;
    setup->drip_under_canopy = field->system.under_canopy;
    setup->water_table_m = planting->water_table_m;
    setup->capillary_max_mm = planting->capillary_max_mm;
    setup->ece_ds_m = planting->ece_ds_m;
}

enum status farm_planting_setup_seen(const struct farm *farm, const struct farm_planting *planting,
                                     int32_t seen, struct season_setup *setup) {
    const struct farm_field *field = farm_field_named(farm, planting->field);
    const struct farm_soil *soil = field != NULL ? farm_soil_named(farm, field->soil) : NULL;
    if (soil == NULL)
        return STATUS_NOT_FOUND;
    farm_setup_of(planting, field, soil, setup);
    int32_t last = last_date_of(farm, planting);
    struct walk walk = walk_begin(farm, planting->field, planting->start_date, seen < last ? seen : last);
    int32_t recorded[CROP_GROWING_STAGES] = {CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE};
    for (const struct farm_record *record; (record = walk_next(&walk)) != NULL;)
        if (record->kind == RECORD_STAGE && record->stage >= 0 && record->stage < CROP_GROWING_STAGES &&
            record->date > recorded[record->stage])
            setup->stage_date[record->stage] = recorded[record->stage] = record->date;
    return STATUS_OK;
}

enum status farm_planting_setup(const struct farm *farm, const struct farm_planting *planting,
                                struct season_setup *setup) {
    return farm_planting_setup_seen(farm, planting, CALENDAR_LAST, setup);
}

/* The mean of readings, weighed by their variances. One without a deviation is taken as it stands, and then
 * counts alone. */
struct reading_sum {
    double sum, weight;
    double exact_sum;
    int exact;
};

static void add_reading(struct reading_sum *sum, const struct farm_record *record) {
    double weight = 1 / (record->sd * record->sd);
    if (isfinite(weight)) {
        sum->sum += weight * record->amount;
        sum->weight += weight;
    } else {
        sum->exact_sum += record->amount;
        sum->exact++;
    }
}

static void put_reading(const struct reading_sum *sum, struct season_input *input) {
    bool exact = sum->exact > 0;
    input->reading_m3_m3 = exact ? sum->exact_sum / sum->exact : sum->sum / sum->weight;
    input->reading_sd_m3_m3 = exact ? 0 : sqrt(1 / sum->weight);
}

int32_t farm_next_record(const struct farm *farm, const char *field, int32_t from) {
    struct walk walk = walk_begin(farm, field, from, CALENDAR_LAST);
    int32_t next = INT32_MAX;
    for (const struct farm_record *record; (record = walk_next(&walk)) != NULL;) {
        next = record->date < next ? record->date : next;
        if (farm->records_sorted)
            break;
    }
    return next;
}

unsigned farm_records_apply(const struct farm *farm, const struct farm_field *field, int32_t date,
                            struct season_input *input) {
    struct walk walk = walk_begin(farm, field->name, date, date);
    struct reading_sum readings = {0};
    double gross_mm = 0, rain_mm = 0;
    unsigned kinds = 0;
    for (const struct farm_record *record; (record = walk_next(&walk)) != NULL;) {
        kinds |= 1u << record->kind;
        if (record->kind == RECORD_IRRIGATION)
            gross_mm += record->amount;
        else if (record->kind == RECORD_RAIN)
            rain_mm += record->amount;
        else if (record->kind == RECORD_READING)
            add_reading(&readings, record);
        else if (record->kind == RECORD_COVER)
            input->observed_cover = record->amount;
        else if (record->kind == RECORD_CUTTING)
            input->cutting = true;
    }
    if (kinds & 1u << RECORD_IRRIGATION) {
        input->irrigation_gross_mm = gross_mm;
        input->irrigation_net_mm = gross_mm * field->system.efficiency;
    }
    if (kinds & 1u << RECORD_RAIN)
        input->rain_mm = rain_mm;
    if (kinds & 1u << RECORD_READING)
        put_reading(&readings, input);
    return kinds;
}

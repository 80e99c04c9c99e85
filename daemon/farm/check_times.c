#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/check_inside.h"

/* Plantings and records in time: what begins before what, what stands where on a day. */

static const char *const stage_key[CROP_GROWING_STAGES] = {"development", "mid", "late", "end"};
static const char *const stage_path[CROP_GROWING_STAGES] = {"stage_dates.development", "stage_dates.mid",
                                                            "stage_dates.late", "stage_dates.end"};

/* A planting with its stages as they are known from the farm file and from records. */
struct span {
    const struct farm_planting *planting;
    size_t index;
    int32_t stage_date[CROP_GROWING_STAGES];
    const struct farm_record
        *stage_record[CROP_GROWING_STAGES]; /* what the date is from; NULL: the planting */
};

struct spans {
    struct span *span; /* sorted by field and first day */
    size_t count;
};

static int by_field_start(const void *a, const void *b) {
    const struct span *x = a, *y = b;
    int order = strcmp(x->planting->field, y->planting->field);
    if (order == 0)
        order = (x->planting->start_date > y->planting->start_date) -
                (x->planting->start_date < y->planting->start_date);
    return order != 0 ? order : (x->index > y->index) - (x->index < y->index);
}

static enum status spans_make(const struct farm *farm, struct spans *spans) {
    spans->count = 0;
    spans->span = calloc(farm->planting_count + 1, sizeof *spans->span);
    if (spans->span == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *planting = &farm->planting[i];
        if (planting->field[0] == '\0' || planting->planting_date == CALENDAR_NONE)
            continue; /* told where it was read */
        struct span *span = &spans->span[spans->count++];
        span->planting = planting;
        span->index = i;
        memcpy(span->stage_date, planting->stage_date, sizeof span->stage_date);
    }
    qsort(spans->span, spans->count, sizeof *spans->span, by_field_start);
    return STATUS_OK;
}

/* The plantings of a field: index of the first one, and how many. */
static size_t spans_of(const struct spans *spans, const char *field, size_t *count) {
    size_t low = 0, high = spans->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (strcmp(spans->span[middle].planting->field, field) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    for (high = low; high < spans->count && strcmp(spans->span[high].planting->field, field) == 0;)
        high++;
    *count = high - low;
    return low;
}

/* The last of `count` plantings that starts on or before a day; NULL: none. */
static struct span *span_on(struct span *first, size_t count, int32_t date) {
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (first[middle].planting->start_date <= date)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 ? &first[low - 1] : NULL;
}

/* ---- records ---- */

static void record_problem(const struct check *check, const struct farm_record *record, const char *key,
                           const char *code, const char *sentence, const char *from) {
    char date[CALENDAR_ISO_SIZE];
    size_t index = (size_t)(record - check->farm->record);
    check_tell(check, LIST_RECORDS, index, key, code, sentence, "kind/problem.kind.",
               record_kind_name(record->kind), "date", calendar_format_iso(record->date, date), "from", from,
               "field", record->field, PROBLEM_END);
}

/* One record against the plantings of its field. A field where nothing was ever planted has no balance yet
 * that a record could be before. */
static void check_one(const struct check *check, struct span *first, size_t count,
                      const struct farm_record *record) {
    struct span *span = span_on(first, count, record->date);
    bool growing = span != NULL && record->date >= span->planting->planting_date;
    if (record_kind_name(record->kind) == NULL) {
        check_problem(check, LIST_RECORDS, (size_t)(record - check->farm->record), "kind",
                      "found %d, expected a kind of record", (int)record->kind);
    } else if (record->kind == RECORD_STAGE && (record->stage < 0 || record->stage >= CROP_GROWING_STAGES)) {
        record_problem(check, record, "stage", "record_stage",
                       "found {kind} on {date}, expected development, mid, late or end", "");
    } else if (count > 0 && span == NULL) {
        char from[CALENDAR_ISO_SIZE];
        record_problem(check, record, "date", "record_before",
                       "found {kind} on {date}, expected {from} or later, the first day of the balance on "
                       "\"{field}\"",
                       calendar_format_iso(first->planting->start_date, from));
    } else if (record->kind == RECORD_STAGE && !growing) {
        record_problem(check, record, "date", "record_not_planted",
                       "found {kind} on {date}, expected a day on which something is planted", "");
    } else if (record->kind == RECORD_CUTTING && (!growing || !span->planting->crop.forage)) {
        record_problem(check, record, "kind", "record_no_forage",
                       "found {kind} on {date}, expected a planting of a forage crop on the field", "");
    } else if (record->kind == RECORD_STAGE) {
        const struct farm_record *before = span->stage_record[record->stage];
        if (before == NULL || before->date <= record->date) {
            span->stage_record[record->stage] = record;
            span->stage_date[record->stage] = record->date;
        }
    }
}

static void check_records(const struct check *check, struct spans *spans) {
    const char *field = "";
    size_t first = 0, count = 0;
    for (size_t i = 0; i < check->farm->record_count; i++) {
        const struct farm_record *record = &check->farm->record[i];
        if (record->date == CALENDAR_NONE || check_names_find(&check->fields, record->field) == NULL)
            continue;
        /* Records of a field mostly stand together. */
        if (strcmp(field, record->field) != 0) {
            field = record->field;
            first = spans_of(spans, field, &count);
        }
        check_one(check, spans->span + first, count, record);
    }
}

/* ---- plantings ---- */

/* Stages must follow the planting and one another. */
static void check_stages(const struct check *check, const struct span *span) {
    int32_t last = span->planting->planting_date;
    const char *after = "planting";
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        if (span->stage_date[i] == CALENDAR_NONE)
            continue;
        char found[CALENDAR_ISO_SIZE], wanted[CALENDAR_ISO_SIZE];
        (void)calendar_format_iso(span->stage_date[i], found);
        (void)calendar_format_iso(last, wanted);
        if (span->stage_date[i] <= last) {
            const struct farm_record *record = span->stage_record[i];
            bool recorded = record != NULL;
            check_tell(check, recorded ? LIST_RECORDS : LIST_PLANTINGS,
                       recorded ? (size_t)(record - check->farm->record) : span->index,
                       recorded ? "date" : stage_path[i], "stage_order",
                       "found {found} for \"{stage}\", expected a day after {expected} ({after})", "found",
                       found, "stage/problem.stage.", stage_key[i], "expected", wanted,
                       "after/problem.stage.", after, PROBLEM_END);
        }
        last = span->stage_date[i];
        after = stage_key[i];
    }
}

/* The first day on which a planting surely stands no more: its observed end, or that of its days. What ends
 * only by an observed date stands at least on its planting date. */
static int32_t end_of(const struct span *span) {
    const struct crop *crop = &span->planting->crop;
    int32_t planted = span->planting->planting_date;
    double days = 0;
    if (span->stage_date[CROP_GROWING_STAGES - 1] != CALENDAR_NONE)
        return span->stage_date[CROP_GROWING_STAGES - 1];
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        days += crop->stage_days[i];
    bool counted = crop->clock == CLOCK_DAYS && !crop->forage && days >= 0 && days < 10000;
    return planted + (counted ? (int32_t)days : 1);
}

static void check_overlap(const struct check *check, const struct span *before, const struct span *span) {
    const struct farm_planting *other = before->planting, *planting = span->planting;
    int32_t end = end_of(before);
    if (strcmp(other->field, planting->field) != 0 || planting->start_date >= end)
        return;
    char found[CALENDAR_ISO_SIZE], wanted[CALENDAR_ISO_SIZE], planted[CALENDAR_ISO_SIZE], place[40];
    (void)snprintf(place, sizeof place, "plantings[%zu]", before->index);
    check_tell(check, LIST_PLANTINGS, span->index,
               planting->start_date == planting->planting_date ? "planted" : "start", "overlap",
               "found {found}, expected {expected} or later: {place} ({crop}, planted {planted}) stands on "
               "\"{field}\" until then; an earlier end is told by its \"stage_dates\": {\"end\": ...}",
               "found", calendar_format_iso(planting->start_date, found), "expected",
               calendar_format_iso(end, wanted), "place", place, "crop/crop.", other->crop_name, "planted",
               calendar_format_iso(other->planting_date, planted), "field", other->field, PROBLEM_END);
}

static void check_plantings(const struct check *check, const struct spans *spans) {
    for (size_t i = 0; i < spans->count; i++) {
        const struct span *span = &spans->span[i];
        char found[CALENDAR_ISO_SIZE], wanted[CALENDAR_ISO_SIZE];
        if (span->planting->start_date > span->planting->planting_date)
            check_tell(check, LIST_PLANTINGS, span->index, "start", "start_late",
                       "found {found}, expected {expected} (planted) or earlier", "found",
                       calendar_format_iso(span->planting->start_date, found), "expected",
                       calendar_format_iso(span->planting->planting_date, wanted), PROBLEM_END);
        check_stages(check, span);
        if (i > 0)
            check_overlap(check, &spans->span[i - 1], span);
    }
}

enum status check_times(struct check *check) {
    struct spans spans;
    enum status status = spans_make(check->farm, &spans);
    if (status != STATUS_OK)
        return status;
    check_records(check, &spans);
    check_plantings(check, &spans);
    free(spans.span);
    return STATUS_OK;
}

/* ---- one record ---- */

enum status check_record(const struct farm *farm, const struct farm_record *record,
                         struct problems *problems) {
    size_t before = problems->count;
    struct farm_record *records = calloc(farm->record_count + 1, sizeof *records);
    if (records == NULL)
        return STATUS_NO_MEMORY;
    /* Only stages bear on other records. */
    size_t count = 0;
    for (size_t i = 0; i < farm->record_count; i++)
        if (farm->record[i].kind == RECORD_STAGE && strcmp(farm->record[i].field, record->field) == 0)
            records[count++] = farm->record[i];
    records[count++] = *record;
    struct farm with = *farm;
    with.record = records;
    with.record_count = count;
    with.records_sorted = false;
    enum status status = check_relations(&with, NULL, NULL, problems);
    free(records);
    return status == STATUS_OK && problems->count > before ? STATUS_REFUSED : status;
}

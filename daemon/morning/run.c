#include "daemon/morning/run.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/planting_run.h"
#include "daemon/morning/station_load.h"

struct morning {
    struct db *db;
    struct farm farm; /* as it is within the transaction: its places, and a part of its fields at a time */
    struct farm_ids ids;
    int32_t today;
    struct morning_time now;
    const char *only; /* one field; NULL: all */
    bool again;       /* the morning was run to its end before */
    struct ledger_writer *writer;
    struct station_days *days;        /* of each station; built when the first field asks */
    struct station_outlook *outlooks; /* likewise */
    struct planting_run run;          /* its storage serves one planting after the other */
    struct turns_run turns;
    char supply[FARM_NAME_SIZE]; /* of the one field; "" none */
    struct morning_result *result;
    struct problems *problems;
};

static enum status build_station(struct morning *morning, size_t index) {
    int32_t first = 0;
    enum status status = weather_first_needed(morning->db, morning->farm.station[index].name, morning->today,
                                              &first, morning->problems);
    if (status != STATUS_OK)
        return status;
    return station_days_load(morning->db, &morning->farm, &morning->ids, index, first, morning->today,
                             morning->today + MORNING_AHEAD - 1, &morning->days[index], morning->problems);
}

/* The days of a station, and its outlook. */
static enum status open_station(struct morning *morning, size_t index) {
    enum status status = build_station(morning, index);
    return status == STATUS_OK
               ? station_outlook_load(morning->db, &morning->farm, &morning->ids, index, morning->today,
                                      &morning->days[index], &morning->outlooks[index], morning->problems)
               : status;
}

static enum status station_of_field(struct morning *morning, const struct farm_field *field,
                                    const struct station_days **out) {
    for (size_t i = 0; i < morning->farm.station_count; i++) {
        if (strcmp(morning->farm.station[i].name, field->station) != 0)
            continue;
        enum status status = morning->days[i].day == NULL ? open_station(morning, i) : STATUS_OK;
        morning->run.station_outlook = &morning->outlooks[i];
        *out = &morning->days[i];
        return status;
    }
    return STATUS_NOT_FOUND;
}

/* Whether a stage was seen in the field since the last ledger was stored: such a date bends the days before
 * it. */
static bool stage_seen_since(const struct farm *farm, const char *field, int32_t last, int32_t today) {
    for (size_t i = 0; i < farm->record_count; i++) {
        const struct farm_record *record = &farm->record[i];
        if (record->kind == RECORD_STAGE && record->date > last && record->date <= today &&
            strcmp(record->field, field) == 0)
            return true;
    }
    return false;
}

/* Ledger rows are written from the first day that changed, or that is new. */
static enum status store_planting(struct morning *morning, size_t planting, bool refused) {
    int32_t last;
    long long id = morning->ids.planting[planting];
    enum status status = ledger_writer_last(morning->writer, id, &last, morning->problems);
    if (status != STATUS_OK)
        return status;
    const struct planting_run *run = &morning->run;
    int32_t start = morning->farm.planting[planting].start_date;
    int32_t from = last == CALENDAR_NONE ? start : last + 1;
    if (morning->ids.dirty[planting] != CALENDAR_NONE && morning->ids.dirty[planting] < from)
        from = morning->ids.dirty[planting] > start ? morning->ids.dirty[planting] : start;
    if (refused ||
        stage_seen_since(&morning->farm, morning->farm.planting[planting].field, last, morning->today))
        from = start;
    size_t skip = (size_t)(from - start) < run->row_count ? (size_t)(from - start) : run->row_count;
    const struct ledger_write write = {
        .planting_id = id,
        .over = last != CALENDAR_NONE && (from == start || from <= last),
        .marked = morning->ids.dirty[planting] != CALENDAR_NONE,
        .from = from == start ? CALENDAR_FIRST : from, /* the first day may have been an earlier one */
        .row = run->row + skip,
        .row_count = refused ? 0 : run->row_count - skip,
        .ahead = run->ahead,
        .ahead_count = refused ? 0 : run->ahead_count,
    };
    return ledger_writer_planting(morning->writer, &write, morning->problems);
}

/* The planting that was just run, for the turns of its field's supply. */
static enum status note_turns(struct morning *morning, const struct farm_field *field, size_t planting) {
    if (field->supply[0] == '\0')
        return STATUS_OK;
    return turns_run_add(&morning->turns, field, &morning->farm.planting[planting], &morning->run);
}

/* Computes and stores one planting; *call when it is not NULL. */
static enum status run_planting(struct morning *morning, const struct farm_field *field, size_t planting,
                                const struct station_days **days, struct call *call,
                                struct call_outlook *outlook) {
    enum status status = station_of_field(morning, field, days);
    if (status != STATUS_OK)
        return status;
    status = planting_run(&morning->farm, &morning->farm.planting[planting], *days, morning->today,
                          planting_until(&morning->farm, planting), &morning->run, morning->problems);
    if (status == STATUS_NO_MEMORY || status == STATUS_STORE)
        return status;
    /* Inputs that contradict each other are this field's trouble, not the farm's. */
    bool refused = status != STATUS_OK;
    morning->result->plantings++;
    morning->result->refused += refused;
    if (call != NULL && refused) {
        call->kind = CALL_CANNOT_SAY;
        call->reason = CALL_REASON_WEATHER_MISSING;
    } else if (call != NULL) {
        *call = morning->run.call;
        *outlook = morning->run.outlook;
        status = note_turns(morning, field, planting);
    }
    return status == STATUS_OK || refused ? store_planting(morning, planting, refused) : status;
}

/* Earlier plantings of a field, where something changed since their ledger was computed. */
static enum status run_earlier(struct morning *morning, const struct farm_field *field, int current) {
    const struct station_days *days;
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < morning->farm.planting_count; i++) {
        const struct farm_planting *planting = &morning->farm.planting[i];
        if ((int)i != current && morning->ids.dirty[i] != CALENDAR_NONE &&
            planting->start_date <= morning->today && strcmp(planting->field, field->name) == 0)
            status = run_planting(morning, field, i, &days, NULL, NULL);
    }
    return status;
}

static enum status run_field(struct morning *morning, size_t index) {
    const struct farm_field *field = &morning->farm.field[index];
    const struct station_days *days = NULL;
    struct call_outlook outlook = {.days = 0};
    struct call call = {.kind = CALL_HOLD,
                        .reason = CALL_REASON_NOT_GROWING,
                        .date = morning->today,
                        .start_by = CALENDAR_NONE,
                        .dry_date = CALENDAR_NONE,
                        .dry_chance = (double)NAN,
                        .cover_chance = (double)NAN,
                        .lost_chance = (double)NAN,
                        .lost_mm = (double)NAN,
                        .spared_mm = (double)NAN};
    int planting = planting_current(&morning->farm, field->name, morning->today);
    enum status status = run_earlier(morning, field, planting);
    if (status == STATUS_OK && planting >= 0)
        status = run_planting(morning, field, (size_t)planting, &days, &call, &outlook);
    if (status != STATUS_OK)
        return status;
    morning->result->fields++;
    return ledger_writer_call(morning->writer, morning->ids.field[index],
                              planting >= 0 ? morning->ids.planting[planting] : 0, &call, &outlook,
                              days != NULL ? days->observed_until : CALENDAR_NONE,
                              days != NULL ? days->forecast_issued : CALENDAR_NONE, morning->problems);
}

/* A field of which only the turns are to know: its calls and ledger stand as they are. */
static enum status note_field(struct morning *morning, const struct farm_field *field) {
    int planting = planting_current(&morning->farm, field->name, morning->today);
    const struct station_days *days;
    struct problems known; /* they were told when its call was made */
    if (planting < 0)
        return STATUS_OK;
    enum status status = station_of_field(morning, field, &days);
    if (status != STATUS_OK)
        return status;
    problems_init(&known);
    status = planting_run(&morning->farm, &morning->farm.planting[planting], days, morning->today,
                          planting_until(&morning->farm, (size_t)planting), &morning->run, &known);
    problems_free(&known);
    if (status == STATUS_OK)
        return note_turns(morning, field, (size_t)planting);
    return status == STATUS_NO_MEMORY || status == STATUS_STORE ? status : STATUS_OK;
}

static enum status compute_part(struct morning *morning) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < morning->farm.field_count; i++)
        status = run_field(morning, i);
    return status;
}

/* Part after part, so that memory and the look-ups by name do not grow with the farm. */
static enum status compute_fields(struct morning *morning) {
    struct farm_parts *parts = NULL;
    enum status status = farm_parts_open(morning->db, morning->only, &parts, morning->problems);
    bool ended = false;
    while (status == STATUS_OK && !ended) {
        status = farm_parts_next(parts, &morning->farm, &morning->ids, morning->problems);
        ended = morning->only != NULL || status == STATUS_NOT_FOUND;
        if (status == STATUS_OK)
            status = compute_part(morning);
        else if (status == STATUS_NOT_FOUND && morning->only == NULL)
            status = STATUS_OK;
    }
    if (status == STATUS_OK && morning->only != NULL)
        memcpy(morning->supply, morning->farm.field[0].supply, sizeof morning->supply);
    farm_parts_close(parts);
    return status;
}

static enum status note_other(struct morning *morning, const char *field) {
    struct farm_parts *parts = NULL;
    enum status status = farm_parts_open(morning->db, field, &parts, morning->problems);
    if (status == STATUS_OK)
        status = farm_parts_next(parts, &morning->farm, &morning->ids, morning->problems);
    farm_parts_close(parts);
    return status == STATUS_OK ? note_field(morning, &morning->farm.field[0]) : status;
}

/* The fields that share the supply of the one that was asked for. */
static enum status note_others(struct morning *morning) {
    struct farm farm;
    enum status status = farm_store_load_field(morning->db, "", &farm, morning->problems);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; status == STATUS_OK && i < farm.field_count; i++) {
        const struct farm_field *field = &farm.field[i];
        if (strcmp(field->supply, morning->supply) == 0 && strcmp(field->name, morning->only) != 0)
            status = note_other(morning, field->name);
    }
    farm_free(&farm);
    return status;
}

static enum status compute_all(struct morning *morning) {
    morning->days = calloc(morning->farm.station_count + 1, sizeof *morning->days);
    morning->outlooks = calloc(morning->farm.station_count + 1, sizeof *morning->outlooks);
    if (morning->days == NULL || morning->outlooks == NULL)
        return STATUS_NO_MEMORY;
    enum status status = ledger_writer_new(morning->db, &morning->writer, morning->problems);
    if (status == STATUS_OK && morning->only == NULL)
        status = ledger_writer_all(morning->writer, morning->problems);
    if (status == STATUS_OK)
        status = compute_fields(morning);
    if (status == STATUS_OK && morning->supply[0] != '\0')
        status = note_others(morning);
    if (status == STATUS_OK && !morning->again)
        status = ledger_writer_morning(morning->writer, morning->today, morning->now.at, morning->problems);
    if (status == STATUS_OK)
        status = turns_run_plan(&morning->turns, morning->db, morning->today, &morning->now,
                                morning->only != NULL ? morning->supply : NULL, morning->problems);
    return status;
}

/* Within a transaction: the book is read in it, with what the downloads marked dirty, so that a record that
 * was entered meanwhile is neither missed nor its mark lost. */
static enum status compute(struct morning *morning) {
    enum status status =
        farm_store_load_places(morning->db, &morning->farm, &morning->ids, morning->problems);
    if (status != STATUS_OK)
        return status;
    status = compute_all(morning);
    turns_run_free(&morning->turns);
    ledger_writer_free(morning->writer);
    for (size_t i = 0; morning->days != NULL && i < morning->farm.station_count; i++)
        station_days_free(&morning->days[i]);
    for (size_t i = 0; morning->outlooks != NULL && i < morning->farm.station_count; i++)
        station_outlook_free(&morning->outlooks[i]);
    free(morning->days);
    free(morning->outlooks);
    planting_run_free(&morning->run);
    farm_ids_free(&morning->ids);
    farm_free(&morning->farm);
    return status;
}

enum status morning_field(struct db *db, const char *field, const struct morning_time *now,
                          const struct turns_before *before, struct problems *problems) {
    struct morning_result result = {0};
    struct morning morning = {.db = db,
                              .now = *now,
                              .only = field,
                              .again = true,
                              .turns = {.before = before, .at_once = true},
                              .result = &result,
                              .problems = problems};
    int64_t at;
    enum status status = ledger_store_newest(db, &morning.today, &at, problems);
    if (status != STATUS_OK || morning.today == CALENDAR_NONE)
        return status;
    return compute(&morning);
}

static enum status download_sources(struct db *db, const struct ingest_options *download, int32_t today,
                                    int64_t at, struct ingest_result *result, struct problems *problems) {
    struct farm farm;
    struct farm_ids ids;
    enum status status = farm_store_load_places(db, &farm, &ids, problems);
    if (status != STATUS_OK)
        return status;
    status = ingest_all(db, &farm, &ids, download, today, at, result, problems);
    farm_ids_free(&ids);
    farm_free(&farm);
    return status;
}

enum status morning_run(struct db *db, const struct morning_time *now, const struct ingest_options *download,
                        struct morning_result *result, struct problems *problems) {
    memset(result, 0, sizeof *result);
    struct morning morning = {
        .db = db, .today = now->today, .now = *now, .result = result, .problems = problems};
    enum status status = download != NULL
                             ? download_sources(db, download, now->today, now->at, &result->ingest, problems)
                             : STATUS_OK;
    if (status == STATUS_OK)
        status = db_begin_many(db, problems);
    if (status != STATUS_OK)
        return status;
    status = db_end(db, compute(&morning), problems);
    result->ran_at_all = status == STATUS_OK;
    return status;
}

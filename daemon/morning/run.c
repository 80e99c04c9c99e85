#include "daemon/morning/run.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/run_inside.h"
#include "daemon/morning/station_load.h"

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

/* What a planting is computed from. */
static enum status set_task(struct morning *morning, const struct farm_field *field, size_t planting,
                            struct planting_task *task) {
    for (size_t i = 0; i < morning->farm.station_count; i++) {
        if (strcmp(morning->farm.station[i].name, field->station) != 0)
            continue;
        enum status status = morning->days[i].day == NULL ? open_station(morning, i) : STATUS_OK;
        task->planting = planting;
        task->days = &morning->days[i];
        task->outlook = &morning->outlooks[i];
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
static enum status store_planting(struct morning *morning, size_t planting, const struct planting_run *run,
                                  bool refused) {
    int32_t last;
    long long id = morning->ids.planting[planting];
    enum status status = ledger_writer_last(morning->writer, id, &last, morning->problems);
    if (status != STATUS_OK)
        return status;
    int32_t start = morning->farm.planting[planting].start_date;
    int32_t from = last == CALENDAR_NONE ? start : last < morning->today ? last + 1 : morning->today;
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
        .row = run->row_count > 0 ? run->row + skip : NULL,
        .row_count = refused ? 0 : run->row_count - skip,
        .ahead = run->ahead,
        .ahead_count = refused ? 0 : run->ahead_count,
    };
    return ledger_writer_planting(morning->writer, &write, morning->problems);
}

/* The planting that was just run, for the turns of its field's supply. */
static enum status note_turns(struct morning *morning, const struct farm_field *field,
                              const struct planting_task *task) {
    if (field->supply[0] == '\0')
        return STATUS_OK;
    return turns_run_add(&morning->turns, field, &morning->farm.planting[task->planting], &task->run);
}

/* The fields of a part are gone through in steps: plantings whose ledger or call is to be made, in order. */
struct step {
    size_t field;
    int planting; /* -1: the field has none */
    bool current; /* the field's call goes by it */
};

static enum status list_steps(const struct morning *morning, struct step **out, size_t *count) {
    const struct farm *farm = &morning->farm;
    struct step *steps = calloc(farm->field_count + farm->planting_count + 1, sizeof *steps);
    if (steps == NULL)
        return STATUS_NO_MEMORY;
    *count = 0;
    for (size_t i = 0; i < farm->field_count; i++) {
        int current = planting_current(farm, farm->field[i].name, morning->today);
        /* Earlier ones of the field, where something changed since their ledger was computed. */
        for (size_t k = 0; k < farm->planting_count; k++)
            if ((int)k != current && morning->ids.dirty[k] != CALENDAR_NONE &&
                farm->planting[k].start_date <= morning->today &&
                strcmp(farm->planting[k].field, farm->field[i].name) == 0)
                steps[(*count)++] = (struct step){i, (int)k, false};
        steps[(*count)++] = (struct step){i, current, true};
    }
    *out = steps;
    return STATUS_OK;
}

static enum status write_call(struct morning *morning, const struct step *step, const struct call *call,
                              const struct call_outlook *outlook, const struct station_days *days) {
    morning->result->fields++;
    return ledger_writer_call(morning->writer, morning->ids.field[step->field],
                              step->planting >= 0 ? morning->ids.planting[step->planting] : 0, call, outlook,
                              days != NULL ? days->observed_until : CALENDAR_NONE,
                              days != NULL ? days->forecast_issued : CALENDAR_NONE, morning->problems);
}

/* The call where no planting says one. */
static struct call call_without(const struct morning *morning, enum call_kind kind, enum call_reason reason) {
    return (struct call){.kind = kind,
                         .reason = reason,
                         .date = morning->today,
                         .start_by = CALENDAR_NONE,
                         .dry_date = CALENDAR_NONE,
                         .dry_chance = (double)NAN,
                         .cover_chance = (double)NAN,
                         .lost_chance = (double)NAN,
                         .lost_mm = (double)NAN,
                         .spared_mm = (double)NAN};
}

/* Stores what was computed of one planting, and the call that goes by it. */
static enum status store_task(struct morning *morning, const struct step *step, struct planting_task *task) {
    problems_move(&task->problems, morning->problems);
    if (task->status == STATUS_NO_MEMORY || task->status == STATUS_STORE)
        return task->status;
    /* Inputs that contradict each other are this field's trouble, not the farm's. */
    bool refused = task->status != STATUS_OK;
    morning->result->plantings++;
    morning->result->refused += refused;
    enum status status =
        step->current && !refused ? note_turns(morning, &morning->farm.field[step->field], task) : STATUS_OK;
    if (status == STATUS_OK)
        status = store_planting(morning, task->planting, &task->run, refused);
    if (status != STATUS_OK || !step->current)
        return status;
    struct call none = call_without(morning, CALL_CANNOT_SAY, CALL_REASON_WEATHER_MISSING);
    return write_call(morning, step, refused ? &none : &task->run.call, refused ? NULL : &task->run.outlook,
                      task->days);
}

static enum status store_step(struct morning *morning, const struct step *step) {
    if (step->planting < 0) {
        struct call none = call_without(morning, CALL_HOLD, CALL_REASON_NOT_GROWING);
        return write_call(morning, step, &none, NULL, NULL);
    }
    struct planting_task *task = plantings_take(morning->plantings);
    enum status status = store_task(morning, step, task);
    plantings_release(morning->plantings);
    return status;
}

/* Gives out steps from *given on, as many as there is room for. */
static enum status give_steps(struct morning *morning, const struct step *steps, size_t count,
                              size_t *given) {
    struct planting_task *task;
    enum status status = STATUS_OK;
    if (!plantings_wanting(morning->plantings))
        return STATUS_OK;
    for (; status == STATUS_OK && *given < count && (task = plantings_place(morning->plantings)) != NULL;
         ++*given) {
        const struct step *step = &steps[*given];
        if (step->planting < 0)
            continue;
        status = set_task(morning, &morning->farm.field[step->field], (size_t)step->planting, task);
        if (status == STATUS_OK)
            plantings_give(morning->plantings);
    }
    return status;
}

/* What is done is stored in order, while others are computed. */
enum status morning_part(struct morning *morning) {
    struct step *steps = NULL;
    size_t count = 0, given = 0;
    enum status status = list_steps(morning, &steps, &count);
    plantings_begin(morning->plantings, &morning->farm, morning->today);
    for (size_t stored = 0; status == STATUS_OK && stored < count; stored++) {
        status = give_steps(morning, steps, count, &given);
        if (status == STATUS_OK)
            status = store_step(morning, &steps[stored]);
    }
    plantings_drop(morning->plantings); /* those that a trouble left behind */
    free(steps);
    return status;
}

/* A field of which only the turns are to know: its calls and ledger stand as they are. */
static enum status note_field(struct morning *morning, const struct farm_field *field) {
    int planting = planting_current(&morning->farm, field->name, morning->today);
    if (planting < 0)
        return STATUS_OK;
    plantings_begin(morning->plantings, &morning->farm, morning->today);
    struct planting_task *task = plantings_place(morning->plantings);
    enum status status = set_task(morning, field, (size_t)planting, task);
    if (status != STATUS_OK)
        return status;
    plantings_give(morning->plantings);
    task = plantings_take(morning->plantings);
    status = task->status;
    problems_free(&task->problems); /* they were told when its call was made */
    if (status == STATUS_OK)
        status = note_turns(morning, field, task);
    else if (status != STATUS_NO_MEMORY && status != STATUS_STORE)
        status = STATUS_OK;
    plantings_release(morning->plantings);
    return status;
}

static enum status note_other(struct morning *morning, const char *field) {
    struct farm_parts *parts = NULL;
    enum status status = farm_parts_open(morning->db, field, 1, &parts, morning->problems);
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
    enum ledger_scope scope = morning->only != NULL  ? LEDGER_SOME
                              : morning->at_once > 0 ? LEDGER_ALL_IN_PARTS
                                                     : LEDGER_ALL;
    enum status status = plantings_new(morning->threads, &morning->plantings);
    if (status == STATUS_OK)
        status = ledger_writer_new(morning->db, scope, &morning->writer, morning->problems);
    if (status == STATUS_OK)
        status = morning_parts(morning);
    if (status == STATUS_OK && morning->at_once > 0 && morning->turns.count > 0 && !morning->disturbed)
        status = morning_plan_beside(morning);
    if (status != STATUS_OK || morning->disturbed)
        return status;
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
    plantings_free(morning->plantings);
    farm_ids_free(&morning->ids);
    farm_free(&morning->farm);
    return status;
}

enum status morning_field(struct db *db, const char *field, const struct morning_time *now,
                          const struct turns_before *before, struct problems *problems) {
    struct morning_result result = {0};
    /* A mark is about hours; all else is about the field. */
    bool marked = before != NULL && !before->recorded && before->turn == NULL;
    struct morning morning = {.db = db,
                              .now = *now,
                              .only = field,
                              .again = true,
                              .threads = 1,
                              .turns = {.before = before, .about = marked ? NULL : field, .at_once = true},
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

/* In one transaction, or in parts when there are more fields, or plans to be made. Where something was
 * written between two parts that bears on all fields, all are done again; the third time in one. */
static enum status compute_transactions(const struct morning *asked) {
    struct farm_counts counts;
    struct morning morning;
    enum status status = farm_store_count(asked->db, &counts, asked->problems);
    for (int tries = 0; status == STATUS_OK && (tries == 0 || morning.disturbed); tries++) {
        morning = *asked;
        if (tries == 2 || ((size_t)counts.fields <= asked->at_once && counts.sharing == 0))
            morning.at_once = 0;
        if (morning.at_once > 0 && !db_changes(morning.db, &morning.changes))
            return STATUS_STORE;
        morning.result->fields = morning.result->plantings = morning.result->refused = 0;
        status = compute(&morning);
    }
    return status;
}

enum status morning_run(struct db *db, const struct morning_time *now, const struct morning_how *how,
                        struct morning_result *result, struct problems *problems) {
    memset(result, 0, sizeof *result);
    struct morning morning = {.db = db,
                              .today = now->today,
                              .now = *now,
                              .threads = how->threads,
                              .turns = {.threads = how->threads},
                              .at_once = how->at_once > 0 ? how->at_once : MORNING_AT_ONCE,
                              .how = how,
                              .result = result,
                              .problems = problems};
    enum status status = STATUS_OK;
    if (how->download != NULL)
        status = download_sources(db, how->download, now->today, now->at, &result->ingest, problems);
    if (status == STATUS_OK)
        status = db_begin_many(db, problems);
    if (status != STATUS_OK)
        return status;
    status = db_end(db, compute_transactions(&morning), problems);
    result->ran_at_all = status == STATUS_OK;
    return status;
}

/* The forms of records. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/farm/check.h"
#include "daemon/http/form_inputs.h"
#include "daemon/http/form_units.h"
#include "daemon/http/forms.h"
#include "daemon/store/farm_store.h"
#include "daemon/view/book_say.h"
#include "daemon/view/frame.h"

#define READING_SD_DEFAULT                                                                                   \
    0.03 /* m3/m3: a probe without a calibration of its own; common practice, no source */

/* What a form of a record works on. */
struct work {
    const struct request *request;
    const struct farm_view *view;
    struct farm farm;
    const struct farm_field *field;
    int32_t today;
    enum record_kind kind;
    long long replaces;
    struct form_page page;
    struct fill *fill;
    struct form_option stage[CROP_GROWING_STAGES];
};

static void inputs_irrigation(struct work *work) {
    bool us = work->view->context.us_units;
    form_add_amount(&work->page, "water", AMOUNT_WATER, us, true);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
    form_add(&work->page, "meter", INPUT_PART, NULL, 0, true);
    form_add_amount(&work->page, "meter_from", AMOUNT_METER, us, true);
    form_add(&work->page, "meter_to", INPUT_NUMBER, NULL, 0, true);
}

static void inputs_rain(struct work *work) {
    bool us = work->view->context.us_units;
    form_add_amount(&work->page, "rain", AMOUNT_DEPTH, us, false);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
    work->page.input[1].hint = words_get(work->request->words, "form.rain_date.hint");
}

static void inputs_reading(struct work *work) {
    form_add_amount(&work->page, "content", AMOUNT_PERCENT, false, false);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
    form_add_amount(&work->page, "sd", AMOUNT_PERCENT, false, true);
}

static void inputs_stage(struct work *work) {
    char key[40];
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        (void)snprintf(key, sizeof key, "stage_seen.%s", book_stage_key(i));
        work->stage[i] = (struct form_option){book_stage_key(i), words_get(work->request->words, key)};
    }
    form_add(&work->page, "stage", INPUT_CHOOSE, work->stage, CROP_GROWING_STAGES, false);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
}

static void inputs_cover(struct work *work) {
    form_add_amount(&work->page, "cover", AMOUNT_PERCENT, false, false);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
}

static void inputs_cutting(struct work *work) {
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
}

static void inputs_harvest(struct work *work) {
    form_add(&work->page, "yield", INPUT_NUMBER, NULL, 0, false);
    form_add(&work->page, "grade", INPUT_TEXT, NULL, 0, true);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
}

static void inputs_note(struct work *work) {
    form_add(&work->page, "note", INPUT_LINES, NULL, 0, false);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
}

/* ---- reading what was sent ---- */

/* Stages are those of something planted, cuttings those of a forage crop: said beside the date, in the
 * visitor's words, before the book says so. */
static void check_grows(const struct work *work, const struct farm_record *record) {
    const struct farm_planting *planting = farm_planting_on(&work->farm, work->field->name, record->date);
    if (planting != NULL && record->date < planting->planting_date)
        planting = NULL;
    if (work->kind == RECORD_STAGE && planting == NULL)
        input_refuse(work->request, "date", "input.not_planted", NULL, NULL);
    else if (work->kind == RECORD_CUTTING && (planting == NULL || !planting->crop.forage))
        input_refuse(work->request, "date", "input.no_forage", NULL, NULL);
}

/* Two readings of the meter, of which the first one carries the unit. */
static bool read_meter(struct work *work, double *volume_m3) {
    static const struct quantity_limits any = {0, 1e13, false};
    const char *unit = fill_value(work->fill, "meter_from_unit");
    double from, to;
    fill_set(work->fill, "meter_to_unit", unit);
    bool good = input_quantity(work->request, "meter_from", QUANTITY_VOLUME, &any, &from);
    good = input_quantity(work->request, "meter_to", QUANTITY_VOLUME, &any, &to) && good;
    if (good && to <= from) {
        input_refuse(work->request, "meter_to", "input.meter", NULL, NULL);
        good = false;
    }
    if (good)
        *volume_m3 = to - from;
    return good;
}

/* The gross depth of what was written, or in its place of what the meter counted. */
static bool read_water(struct work *work, double *gross_mm, const char **name) {
    double volume_m3;
    *name = "water";
    if (!input_given(work->request, "meter_from") && !input_given(work->request, "meter_to"))
        return input_water(work->request, "water", &work->field->system, gross_mm);
    *name = "meter_to";
    if (!read_meter(work, &volume_m3))
        return false;
    *gross_mm = application_gross_of_volume_mm(&work->field->system, volume_m3);
    if (isnan(*gross_mm))
        input_refuse(work->request, "meter_to", "input.no_flow", NULL, NULL);
    return !isnan(*gross_mm);
}

static void read_irrigation(struct work *work, struct farm_record *record) {
    const char *name;
    char high[SAY_SIZE];
    if (read_water(work, &record->amount, &name) && record->amount > APPLICATION_DEPTH_MAX_MM)
        input_refuse(work->request, name, "input.most", NULL,
                     say_depth(&work->view->context, APPLICATION_DEPTH_MAX_MM, high));
}

static void read_rain(struct work *work, struct farm_record *record) {
    static const struct quantity_limits limits = {0, 2000, false};
    (void)input_change(work->request, "rain", QUANTITY_DEPTH, &limits, &record->amount);
}

static void read_reading(struct work *work, struct farm_record *record) {
    /* Drier than air makes sand, or more than peat has pores, is a slip: 0.25 for 25 %. From memory. */
    static const struct quantity_limits limits = {0.01, 0.8, false}, deviation = {0, 0.5, true};
    record->sd = isnan(record->sd) ? READING_SD_DEFAULT : record->sd;
    (void)input_change(work->request, "content", QUANTITY_SHARE, &limits, &record->amount);
    (void)input_change_or_keep(work->request, "sd", QUANTITY_SHARE, &deviation, &record->sd);
}

static void read_stage(struct work *work, struct farm_record *record) {
    const char *value = fill_value(work->fill, "stage");
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        if (strcmp(value, book_stage_key(i)) == 0) {
            record->stage = i;
            return;
        }
    }
    input_refuse(work->request, "stage", "input.choose", NULL, NULL);
}

static void read_cover(struct work *work, struct farm_record *record) {
    static const struct quantity_limits limits = {0, 1, false};
    (void)input_change(work->request, "cover", QUANTITY_SHARE, &limits, &record->amount);
}

static void read_nothing(struct work *work, struct farm_record *record) {
    (void)work;
    (void)record;
}

static void read_harvest(struct work *work, struct farm_record *record) {
    static const struct quantity_limits limits = {0, 1e12, false};
    (void)input_change(work->request, "yield", QUANTITY_NUMBER, &limits, &record->amount);
    (void)input_text(work->request, "grade", false, record->text, FARM_NAME_SIZE);
}

static void read_note(struct work *work, struct farm_record *record) {
    (void)input_text(work->request, "note", true, record->text, sizeof record->text);
}

static const struct record_form {
    void (*inputs)(struct work *work);
    void (*read)(struct work *work, struct farm_record *record);
} forms[RECORD_KIND_COUNT] = {
    [RECORD_IRRIGATION] = {inputs_irrigation, read_irrigation},
    [RECORD_RAIN] = {inputs_rain, read_rain},
    [RECORD_READING] = {inputs_reading, read_reading},
    [RECORD_STAGE] = {inputs_stage, read_stage},
    [RECORD_COVER] = {inputs_cover, read_cover},
    [RECORD_CUTTING] = {inputs_cutting, read_nothing},
    [RECORD_HARVEST] = {inputs_harvest, read_harvest},
    [RECORD_NOTE] = {inputs_note, read_note},
};

/* ---- what stands in the form before a person writes ---- */

static void set_depth(const struct work *work, const char *name, double mm) {
    bool us = work->view->context.us_units;
    input_show(work->request, work->fill, name, us ? units_from_si(mm, units_find("in")) : mm,
               us ? "in" : "mm");
}

/* What was called, as the call says it. */
static void set_called(const struct work *work, double mm) {
    const struct view_context *context = &work->view->context;
    input_show(work->request, work->fill, "water", say_depth_number(context, mm),
               context->us_units ? "in" : "mm");
}

/* Of the record that is corrected. */
static void set_record(struct work *work, const struct farm_record *record) {
    char iso[CALENDAR_ISO_SIZE];
    fill_set(work->fill, "date", calendar_format_iso(record->date, iso));
    if (record->kind == RECORD_IRRIGATION)
        set_depth(work, "water", record->amount);
    else if (record->kind == RECORD_RAIN)
        set_depth(work, "rain", record->amount);
    else if (record->kind == RECORD_READING)
        input_show(work->request, work->fill, "content", 100 * record->amount, "%");
    else if (record->kind == RECORD_COVER)
        input_show(work->request, work->fill, "cover", 100 * record->amount, "%");
    else if (record->kind == RECORD_HARVEST)
        input_show(work->request, work->fill, "yield", record->amount, NULL);
    if (record->kind == RECORD_READING)
        input_show(work->request, work->fill, "sd", 100 * record->sd, "%");
    if (record->kind == RECORD_STAGE && book_stage_key(record->stage) != NULL)
        fill_set(work->fill, "stage", book_stage_key(record->stage));
    fill_set(work->fill, record->kind == RECORD_HARVEST ? "grade" : "note", record->text);
}

static void set_defaults(struct work *work) {
    char iso[CALENDAR_ISO_SIZE];
    const struct field_morning *morning = farm_view_morning(work->view, work->field->name);
    bool as_called = strcmp(fill_value(work->request->query, "as"), "called") == 0;
    int32_t date = work->kind == RECORD_RAIN ? work->today - 1 : work->today;
    if (as_called && work->kind == RECORD_IRRIGATION && morning != NULL &&
        morning->call.application.gross_mm > 0)
        set_called(work, morning->call.application.gross_mm);
    fill_default(work->fill, "date", calendar_format_iso(date, iso));
    if (work->kind == RECORD_READING)
        fill_default(work->fill, "sd", "3");
}

/* ---- show and take ---- */

static enum record_kind kind_named(const char *name) {
    int kind = 0;
    while (kind < RECORD_KIND_COUNT && strcmp(record_kind_name((enum record_kind)kind), name) != 0)
        kind++;
    return (enum record_kind)kind;
}

static enum status show_form(struct work *work, struct reply *reply, const char *problem) {
    char action[FRAME_PATH_SIZE], back[FRAME_PATH_SIZE], key[64], tail[64], undo[64], token[FORM_TOKEN_SIZE];
    const struct words *words = work->request->words;
    (void)snprintf(tail, sizeof tail, "/record/%s", record_kind_name(work->kind));
    (void)snprintf(key, sizeof key, "form.record.%s", record_kind_name(work->kind));
    work->page.action = frame_path("/field/", work->field->name, tail, action);
    work->page.back = frame_path("/field/", work->field->name, "", back);
    work->page.back_text = work->field->name;
    work->page.title = words_get(words, key);
    work->page.submit = words_get(words, work->replaces != 0 ? "form.correct" : "form.keep");
    (void)snprintf(key, sizeof key, "form.record.%s.about", record_kind_name(work->kind));
    work->page.about = words_find(words, key);
    work->page.problem = problem;
    work->page.fill = work->fill;
    forms[work->kind].inputs(work);
    if (work->replaces != 0) {
        form_add(&work->page, "replaces", INPUT_HIDDEN, NULL, 0, true);
        (void)snprintf(undo, sizeof undo, "/undo/%lld", work->replaces);
        form_token_of(work->request->data->book, undo, undo, token);
        work->page.undo_action = undo;
        work->page.undo_token = token;
    }
    return form_show(work->request, work->view, &work->page, reply);
}

/* The record that is corrected fills the form. */
static enum status fill_of_record(struct work *work, struct problems *problems) {
    struct record_kept kept;
    char id[32];
    enum status status = record_store_get(work->request->data->book->db, work->replaces, &kept, problems);
    if (status == STATUS_OK && (kept.record.kind != work->kind || kept.withdrawn_at != 0 ||
                                strcmp(kept.record.field, work->field->name) != 0))
        status = STATUS_NOT_FOUND;
    if (status != STATUS_OK)
        return status;
    set_record(work, &kept.record);
    (void)snprintf(id, sizeof id, "%lld", work->replaces);
    fill_set(work->fill, "replaces", id);
    return STATUS_OK;
}

static enum status take_form(struct work *work, struct reply *reply, struct problems *problems) {
    struct farm_record record = {.kind = work->kind, .amount = NAN, .sd = NAN, .date = CALENDAR_NONE};
    char action[FRAME_PATH_SIZE], tail[64], room[FARM_TEXT_SIZE];
    struct form_sent sent;
    memcpy(record.field, work->field->name, sizeof record.field);
    (void)snprintf(tail, sizeof tail, "/record/%s", record_kind_name(work->kind));
    frame_path("/field/", work->field->name, tail, action);
    /* What the record that is corrected said, for what is sent back as it was shown. */
    struct record_kept kept;
    if (work->replaces != 0 &&
        record_store_get(work->request->data->book->db, work->replaces, &kept, problems) == STATUS_OK &&
        kept.record.kind == work->kind) {
        record.amount = kept.record.amount;
        record.sd = kept.record.sd;
    }
    forms[work->kind].read(work, &record);
    if (input_record_date(work->request, &work->farm, work->field->name, work->today, &record.date))
        check_grows(work, &record);
    if (!fill_good(work->fill)) {
        reply->status = 422;
        return show_form(work, reply, words_get(work->request->words, "form.wrong"));
    }
    if (form_open(work->request, action, &sent) != STATUS_OK) {
        reply->status = 422;
        return show_form(work, reply, words_get(work->request->words, "form.stale"));
    }
    struct db *writer = work->request->data->book->writer;
    enum status status =
        writer != NULL ? book_record(writer, &sent.book, &record, work->replaces, problems) : STATUS_STORE;
    if (status == STATUS_OK)
        return form_go(reply, frame_path("/entry/", sent.id, "", action));
    status = form_trouble(work->request, status, problems, room, reply);
    return status == STATUS_OK ? show_form(work, reply, room) : status;
}

static enum status with_field(const struct request *request, struct reply *reply, struct work *work,
                              struct fill *fill) {
    static struct problems problems; /* large; one thread answers */
    enum status status;
    problems_init(&problems);
    status = farm_store_view_field(request->data->book->db, request->name, &work->farm, &problems);
    if (status == STATUS_OK) {
        work->field = farm_field_named(&work->farm, request->name);
        status = work->field != NULL ? STATUS_OK : STATUS_NOT_FOUND;
        if (status == STATUS_OK && request->form != NULL) {
            status = take_form(work, reply, &problems);
        } else if (status == STATUS_OK) {
            work->fill = fill;
            status = work->replaces != 0 ? fill_of_record(work, &problems) : STATUS_OK;
            set_defaults(work);
            if (status == STATUS_OK)
                status = show_form(work, reply, NULL);
        }
        farm_free(&work->farm);
    }
    problems_free(&problems);
    return status;
}

enum status record_form(const struct request *request, struct reply *reply) {
    struct farm_view view;
    struct fill fill;
    const struct fill *from = request->form != NULL ? request->form : request->query;
    if (request->data->book == NULL || kind_named(request->part) == RECORD_KIND_COUNT)
        return STATUS_NOT_FOUND;
    enum status status = farm_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    fill_init(&fill);
    struct work *work = calloc(1, sizeof *work);
    if (work != NULL) {
        work->request = request;
        work->view = &view;
        work->kind = kind_named(request->part);
        work->today = page_data_now(request->data->book).today;
        work->replaces = strtoll(fill_value(from, "replaces"), NULL, 10);
        work->fill = request->form;
        status = with_field(request, reply, work, &fill);
    } else {
        status = STATUS_NO_MEMORY;
    }
    free(work);
    fill_free(&fill);
    farm_view_close(request, &view);
    return status;
}

/* What people say of turns: pinned, moved, split, kept dry, done, late, skipped. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/decide/application.h"
#include "daemon/http/form_inputs.h"
#include "daemon/http/form_turning.h"
#include "daemon/http/form_units.h"
#include "daemon/http/forms.h"
#include "daemon/http/turns_pages.h"
#include "daemon/morning/turns_book.h"
#include "daemon/view/frame.h"
#include "daemon/view/json_read.h"
#include "daemon/view/say.h"

#define BOARD "/turns#changes"

/* The turn as the board has it; of a turn that is to be, the day and hour that its form offers. */
struct turn_now {
    long long number, mark; /* mark: that which pinned it; 0: none */
    char field[FARM_NAME_SIZE];
    int32_t date;
    int hour, hours, span;
    double gross_mm;
};

struct work {
    const struct request *request;
    struct turns_view view;
    struct turn_now turn;
    const struct turn_act *act;
    struct form_page page;
    struct form_option *fields;
    struct fill own, *fill;
    char action[FRAME_PATH_SIZE], back[FRAME_PATH_SIZE];
};

/* One form. `take` reads what was sent; what it refuses is noted in the fill, and nothing is written then. */
struct turn_act {
    const char *name;                  /* the last segment of its address; the words of form.turn.NAME */
    void (*inputs)(struct work *work); /* NULL: a button does it */
    void (*show)(struct work *work);
    enum status (*take)(struct work *work, const struct book_form *form, struct problems *problems);
};

/* ---- inputs and what stands in them */

static void set_whole(struct work *work, const char *name, int value, const char *unit) {
    char text[16], key[FILL_NAME_SIZE + 8];
    (void)snprintf(text, sizeof text, "%d", value);
    fill_default(work->fill, name, text);
    (void)snprintf(key, sizeof key, "%s_unit", name);
    if (unit != NULL)
        fill_default(work->fill, key, unit);
}

static void set_date(struct work *work, int32_t date) {
    char iso[CALENDAR_ISO_SIZE];
    fill_default(work->fill, "date", calendar_format_iso(date, iso));
}

static void add_when(struct work *work) {
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
    form_add(&work->page, "hour", INPUT_PICK, turning_hours(), 24, false);
}

static void show_when(struct work *work) {
    set_date(work, work->turn.date);
    set_whole(work, "hour", work->turn.hour, NULL);
}

static void inputs_move(struct work *work) {
    add_when(work);
    form_add_amount(&work->page, "run_hours", AMOUNT_HOURS, false, false);
}

static void show_move(struct work *work) {
    show_when(work);
    set_whole(work, "run_hours", work->turn.hours, "h");
}

static void inputs_split(struct work *work) {
    form_add_amount(&work->page, "first_hours", AMOUNT_HOURS, false, false);
    form_add(&work->page, "part_second", INPUT_PART, NULL, 0, true);
    add_when(work);
}

/* Halves, the second one a day after the first. */
static void show_split(struct work *work) {
    set_whole(work, "first_hours", (work->turn.hours + 1) / 2, "h");
    set_date(work, work->turn.date + 1);
    set_whole(work, "hour", work->turn.hour, NULL);
}

static void inputs_dry(struct work *work) {
    add_when(work);
    form_add_amount(&work->page, "dry_hours", AMOUNT_HOURS, false, false);
    form_add(&work->page, "why", INPUT_TEXT, NULL, 0, true);
}

static void show_dry(struct work *work) {
    show_when(work);
    set_whole(work, "dry_hours", work->turn.span, "h");
}

static void inputs_late(struct work *work) {
    add_when(work);
}

/* Who came from Today goes back there, others to the board. */
static bool is_from_today(const struct fill *fill) {
    return strcmp(fill_value(fill, "to"), "today") == 0;
}

static void inputs_done(struct work *work) {
    bool us = work->view.farm.context.us_units;
    form_add_amount(&work->page, "water", AMOUNT_WATER, us, false);
    form_add(&work->page, "date", INPUT_DATE, NULL, 0, false);
    if (is_from_today(work->fill))
        form_add(&work->page, "to", INPUT_HIDDEN, NULL, 0, true);
}

static void show_done(struct work *work) {
    int32_t today = work->view.now.today;
    if (work->request->query != NULL && is_from_today(work->request->query))
        fill_default(work->fill, "to", "today");
    set_whole(work, "water", work->turn.hours, "h");
    set_date(work, work->turn.date < today ? work->turn.date : today);
}

/* Fields that share a supply and have a system. */
static void add_fields(struct work *work) {
    const struct farm *farm = &work->view.data.farm;
    size_t count = 0;
    work->fields = calloc(farm->field_count + 1, sizeof *work->fields);
    for (size_t i = 0; work->fields != NULL && i < farm->field_count; i++)
        if (farm->field[i].supply[0] != '\0' && farm->field[i].system.kind != SYSTEM_NONE)
            work->fields[count++] = (struct form_option){farm->field[i].name, NULL};
    form_add(&work->page, "field", INPUT_PICK, work->fields, count, false);
}

static void inputs_new(struct work *work) {
    add_fields(work);
    inputs_move(work);
}

static void inputs_new_dry(struct work *work) {
    add_fields(work);
    inputs_dry(work);
}

static void show_field(struct work *work) {
    if (work->request->query != NULL)
        fill_default(work->fill, "field", fill_value(work->request->query, "field"));
}

static void show_new(struct work *work) {
    show_field(work);
    show_move(work);
}

static void show_new_dry(struct work *work) {
    show_field(work);
    show_dry(work);
}

/* ---- reading and writing */

static bool read_when(struct work *work, int32_t *date, int *hour) {
    int32_t today = work->view.now.today;
    bool good = input_date(work->request, "date", today - 3660, today + 3660, date);
    return input_whole(work->request, "hour", QUANTITY_NUMBER, 0, 23, hour) && good;
}

static struct farm_turn_mark mark_of(const struct work *work, enum turn_mark_kind kind) {
    struct farm_turn_mark mark = {
        .kind = kind, .date = work->turn.date, .hour = work->turn.hour, .hours = work->turn.hours};
    memcpy(mark.field, work->turn.field, sizeof mark.field);
    return mark;
}

/* STATUS_REFUSED when the fill has something against it: the form is shown again. */
static enum status put(struct work *work, const struct book_form *form, const struct turns_word *word,
                       struct problems *problems) {
    if (!fill_good(work->fill))
        return STATUS_REFUSED;
    return turns_book_mark(work->request->data->book->writer, form, word, problems);
}

static enum status take_pin(struct work *work, const struct book_form *form, struct problems *problems) {
    const struct turns_word word = {
        .remove = work->turn.mark, .count = 1, .mark = {mark_of(work, TURN_PINNED)}};
    return put(work, form, &word, problems);
}

static enum status take_release(struct work *work, const struct book_form *form, struct problems *problems) {
    const struct turns_word word = {.remove = work->turn.mark};
    return put(work, form, &word, problems);
}

static enum status take_move(struct work *work, const struct book_form *form, struct problems *problems) {
    struct farm_turn_mark mark = mark_of(work, TURN_PINNED);
    (void)read_when(work, &mark.date, &mark.hour);
    (void)input_whole(work->request, "run_hours", QUANTITY_HOURS, 1, FARM_TURN_HOURS_MAX, &mark.hours);
    const struct turns_word word = {
        .remove = work->turn.mark, .moved = work->turn.number, .count = 1, .mark = {mark}};
    return put(work, form, &word, problems);
}

static enum status take_split(struct work *work, const struct book_form *form, struct problems *problems) {
    struct farm_turn_mark first = mark_of(work, TURN_PINNED), second = first;
    if (input_whole(work->request, "first_hours", QUANTITY_HOURS, 1,
                    work->turn.hours > 1 ? work->turn.hours - 1 : 1, &first.hours))
        second.hours = work->turn.hours - first.hours;
    (void)read_when(work, &second.date, &second.hour);
    const struct turns_word word = {.remove = work->turn.mark, .count = 2, .mark = {first, second}};
    return put(work, form, &word, problems);
}

static enum status take_dry(struct work *work, const struct book_form *form, struct problems *problems) {
    struct farm_turn_mark mark = mark_of(work, TURN_KEPT_DRY);
    (void)read_when(work, &mark.date, &mark.hour);
    (void)input_whole(work->request, "dry_hours", QUANTITY_HOURS, 1, 8784, &mark.hours);
    (void)input_text(work->request, "why", false, mark.why, sizeof mark.why);
    const struct turns_word word = {.remove = work->turn.mark, .count = 1, .mark = {mark}};
    return put(work, form, &word, problems);
}

static void read_field(struct work *work) {
    const char *name = fill_value(work->fill, "field");
    if (farm_field_named(&work->view.data.farm, name) == NULL)
        input_refuse(work->request, "field", "input.choose", NULL, NULL);
    else
        (void)snprintf(work->turn.field, sizeof work->turn.field, "%s", name);
}

static enum status take_new(struct work *work, const struct book_form *form, struct problems *problems) {
    read_field(work);
    return take_move(work, form, problems);
}

static enum status take_new_dry(struct work *work, const struct book_form *form, struct problems *problems) {
    read_field(work);
    return take_dry(work, form, problems);
}

static void read_water(struct work *work, const struct system *system, double *gross_mm) {
    char most[SAY_SIZE];
    if (input_water(work->request, "water", system, gross_mm) && *gross_mm > APPLICATION_DEPTH_MAX_MM)
        input_refuse(work->request, "water", "input.most", NULL,
                     say_depth(&work->view.farm.context, APPLICATION_DEPTH_MAX_MM, most));
}

static enum status take_done(struct work *work, const struct book_form *form, struct problems *problems) {
    const struct farm_field *field = farm_field_named(&work->view.data.farm, work->turn.field);
    struct farm_record record = {.kind = RECORD_IRRIGATION, .amount = NAN, .sd = NAN, .date = CALENDAR_NONE};
    int32_t today = work->view.now.today;
    memcpy(record.field, work->turn.field, sizeof record.field);
    if (field == NULL)
        return STATUS_NOT_FOUND;
    read_water(work, &field->system, &record.amount);
    (void)input_record_date(work->request, &work->view.data.farm, field->name, today, &record.date);
    if (!fill_good(work->fill))
        return STATUS_REFUSED;
    return turns_book_done(work->request->data->book->writer, form, work->turn.number, &record, problems);
}

static enum status take_late(struct work *work, const struct book_form *form, struct problems *problems) {
    int32_t date;
    int hour;
    if (!read_when(work, &date, &hour))
        return STATUS_REFUSED;
    return turns_book_late(work->request->data->book->writer, form, work->turn.number, date, hour, problems);
}

static enum status take_skipped(struct work *work, const struct book_form *form, struct problems *problems) {
    return turns_book_skipped(work->request->data->book->writer, form, work->turn.number, problems);
}

static enum status take_mark(struct work *work, const struct book_form *form, struct problems *problems) {
    const struct turns_word word = {.remove = strtoll(work->request->name, NULL, 10)};
    return put(work, form, &word, problems);
}

static const struct turn_act acts[] = {
    {"done", inputs_done, show_done, take_done},     {"late", inputs_late, show_when, take_late},
    {"skipped", NULL, NULL, take_skipped},           {"pin", NULL, NULL, take_pin},
    {"release", NULL, NULL, take_release},           {"move", inputs_move, show_move, take_move},
    {"split", inputs_split, show_split, take_split}, {"dry", inputs_dry, show_dry, take_dry},
};
static const struct turn_act act_new = {"new", inputs_new, show_new, take_new};
static const struct turn_act act_new_dry = {"new_dry", inputs_new_dry, show_new_dry, take_new_dry};
static const struct turn_act act_mark = {"mark", NULL, NULL, take_mark};

/* ---- show and take */

static enum status show(struct work *work, const char *problem, struct reply *reply) {
    char key[64];
    const struct words *words = work->request->words;
    struct form_page *page = &work->page;
    (void)snprintf(key, sizeof key, "form.turn.%s", work->act->name);
    page->title = words_get(words, key);
    (void)snprintf(key, sizeof key, "form.turn.%s.about", work->act->name);
    page->about = words_find(words, key);
    page->action = work->action;
    page->back = work->back;
    page->back_text = work->turn.number != 0 ? work->turn.field : words_get(words, "label.turns");
    page->submit = words_get(words, "form.keep");
    page->problem = problem;
    page->fill = work->fill;
    if (work->act->inputs != NULL)
        work->act->inputs(work);
    return form_show(work->request, &work->view.farm, page, reply);
}

static enum status take(struct work *work, struct reply *reply) {
    static struct problems problems; /* large; one thread answers */
    struct form_sent sent;
    char room[FARM_TEXT_SIZE];
    const struct words *words = work->request->words;
    if (form_open(work->request, work->action, &sent) != STATUS_OK) {
        reply->status = 422;
        return show(work, words_get(words, "form.stale"), reply);
    }
    problems_init(&problems);
    enum status status = work->act->take(work, &sent.book, &problems);
    if (status == STATUS_REFUSED && !fill_good(work->fill)) {
        reply->status = 422;
        status = show(work, words_get(words, "form.wrong"), reply);
    } else if (status == STATUS_OK || status == STATUS_NOT_FOUND) {
        /* Settled or taken away meanwhile: the board says how it stands. */
        status = form_go(reply, is_from_today(work->fill) ? "/" : BOARD);
    } else {
        status = form_trouble(work->request, status, &problems, room, reply);
        status = status == STATUS_OK ? show(work, room, reply) : status;
    }
    problems_free(&problems);
    return status;
}

static enum status answer(struct work *work, struct reply *reply) {
    const struct request *request = work->request;
    if (request->form == NULL && work->act->inputs == NULL)
        return STATUS_NOT_FOUND;
    work->fill = request->form != NULL ? request->form : &work->own;
    if (request->form != NULL)
        return request->data->book->writer != NULL ? take(work, reply) : STATUS_STORE;
    work->act->show(work);
    return show(work, NULL, reply);
}

/* The turn of the address, as the board has it. */
static enum status find_turn(struct work *work) {
    cJSON *board = view_turns(&work->view.farm.context, &work->view.facts);
    const cJSON *turn = turns_find(board, strtoll(work->request->name, NULL, 10));
    struct turn_now *out = &work->turn;
    enum status status = turn != NULL && turns_board_time(turn, "start", &out->date, &out->hour)
                             ? STATUS_OK
                             : STATUS_NOT_FOUND;
    if (status == STATUS_OK) {
        out->number = strtoll(work->request->name, NULL, 10);
        out->mark = json_member(turn, "mark") != NULL ? (long long)json_number(turn, "mark") : 0;
        out->hours = json_int(turn, "hours");
        out->span = json_int(turn, "end_hour") - json_int(turn, "start_hour");
        (void)snprintf(out->field, sizeof out->field, "%s", json_string(turn, "field"));
    }
    cJSON_Delete(board);
    return status;
}

static enum status with_work(const struct request *request, const struct turn_act *act, bool of_turn,
                             struct reply *reply) {
    if (request->data->book == NULL || act == NULL)
        return STATUS_NOT_FOUND;
    struct work *work = calloc(1, sizeof *work);
    enum status status = work != NULL ? turns_view_open(request, &work->view) : STATUS_NO_MEMORY;
    if (status == STATUS_OK) {
        work->request = request;
        work->act = act;
        fill_init(&work->own);
        /* A turn of one's own begins tomorrow at six, unless something else is said. */
        work->turn = (struct turn_now){.date = work->view.now.today + 1, .hour = 6, .hours = 12, .span = 12};
        (void)snprintf(work->action, sizeof work->action, "%s", request->path);
        (void)snprintf(work->back, sizeof work->back, of_turn ? "/turn/%s" : "/turns", request->name);
        status = of_turn ? find_turn(work) : STATUS_OK;
        if (status == STATUS_OK)
            status = answer(work, reply);
        fill_free(&work->own);
        free(work->fields);
        turns_view_close(request, &work->view);
    }
    free(work);
    return status;
}

enum status turn_form(const struct request *request, struct reply *reply) {
    const struct turn_act *act = NULL;
    for (size_t i = 0; i < sizeof acts / sizeof *acts; i++)
        if (strcmp(acts[i].name, request->part) == 0)
            act = &acts[i];
    return with_work(request, act, true, reply);
}

enum status turns_new_form(const struct request *request, struct reply *reply) {
    return with_work(request, &act_new, false, reply);
}

enum status turns_dry_form(const struct request *request, struct reply *reply) {
    return with_work(request, &act_new_dry, false, reply);
}

enum status turns_mark_take(const struct request *request, struct reply *reply) {
    return with_work(request, &act_mark, false, reply);
}

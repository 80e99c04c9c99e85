/* A supply: its flow, when it may run, what may be drawn from it and what that costs. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/http/form_edit.h"
#include "daemon/http/form_turning.h"
#include "daemon/http/form_units.h"

/* The inputs of one entry of a list: their names, "open1_days"; the words of form.open_days and so on are
 * their labels. */
struct row_input {
    const char *tail, *label;
};

enum { OPEN_DAYS, OPEN_FROM, OPEN_HOURS, OPEN_EVERY, OPEN_FIRST, OPEN_INPUTS };
enum { SPAN_FROM, SPAN_TO, SPAN_VOLUME, SPAN_INPUTS };

static const struct row_input open_inputs[OPEN_INPUTS] = {{"days", "form.open_days"},
                                                          {"from", "form.open_from"},
                                                          {"hours", "form.open_hours"},
                                                          {"every", "form.open_every"},
                                                          {"first", "form.open_first"}};
static const struct row_input span_inputs[SPAN_INPUTS] = {
    {"from", "form.span_from"}, {"to", "form.span_to"}, {"volume", "form.span_volume"}};

/* The form keeps names by their address: they last as long as it does. */
struct names {
    char open[FARM_WINDOWS_MAX][OPEN_INPUTS][FILL_NAME_SIZE];
    char closed[FARM_CLOSURES_MAX][SPAN_INPUTS][FILL_NAME_SIZE];
    char allotment[FARM_ALLOTMENTS_MAX][SPAN_INPUTS][FILL_NAME_SIZE];
};

static void name_row(const char *list, int index, const struct row_input *inputs, int count,
                     char (*out)[FILL_NAME_SIZE]) {
    for (int i = 0; i < count; i++)
        (void)snprintf(out[i], FILL_NAME_SIZE, "%s%d_%s", list, index + 1, inputs[i].tail);
}

static const struct names *names_of(struct edit *edit) {
    struct names *names = edit->kept;
    if (names != NULL || (names = calloc(1, sizeof *names)) == NULL)
        return names;
    edit->kept = names;
    for (int i = 0; i < FARM_WINDOWS_MAX; i++)
        name_row("open", i, open_inputs, OPEN_INPUTS, names->open[i]);
    for (int i = 0; i < FARM_CLOSURES_MAX; i++)
        name_row("closed", i, span_inputs, SPAN_INPUTS, names->closed[i]);
    for (int i = 0; i < FARM_ALLOTMENTS_MAX; i++)
        name_row("allotment", i, span_inputs, SPAN_INPUTS, names->allotment[i]);
    return names;
}

/* ---- opening ---- */

static enum status open_supply(struct edit *edit) {
    const struct words *words = edit->request->words;
    bool fresh = strcmp(edit->request->path, "/supplies/new") == 0;
    (void)snprintf(edit->back, sizeof edit->back, "/turns");
    edit->page.title = words_get(words, fresh ? "form.supply.new" : "form.supply.title");
    edit->page.about = words_get(words, "form.supply.about");
    edit->page.back_text = words_get(words, "label.turns");
    edit->page.submit = words_get(words, fresh ? "form.supply.add" : "form.save");
    farm_supply_begin(&edit->supply);
    if (names_of(edit) == NULL)
        return STATUS_NO_MEMORY;
    if (fresh) {
        (void)snprintf(edit->action, sizeof edit->action, "/supplies/new");
        return edit->farm.station_count > 0 ? STATUS_OK : STATUS_NOT_FOUND;
    }
    const struct farm_supply *supply = farm_supply_named(&edit->farm, edit->request->name);
    if (supply == NULL)
        return STATUS_NOT_FOUND;
    edit->index = (size_t)(supply - edit->farm.supply);
    edit->supply = *supply;
    frame_path("/supply/", supply->name, "", edit->action);
    return STATUS_OK;
}

/* ---- showing ---- */

static void show_date(struct edit *edit, const char *name, int32_t date) {
    char iso[CALENDAR_ISO_SIZE];
    if (date != CALENDAR_NONE)
        fill_default(edit->fill, name, calendar_format_iso(date, iso));
}

static void show_window(struct edit *edit, const struct farm_window *window,
                        const char (*name)[FILL_NAME_SIZE]) {
    char days[40] = "", hour[8];
    for (int day = 0; day < 7; day++)
        if ((window->weekdays >> day & 1u) != 0)
            (void)snprintf(days + strlen(days), sizeof days - strlen(days), "%s ", turning_day(day));
    fill_default(edit->fill, name[OPEN_DAYS], days);
    (void)snprintf(hour, sizeof hour, "%d", window->from_hour);
    fill_default(edit->fill, name[OPEN_FROM], hour);
    edit_number(edit, name[OPEN_HOURS], window->hours, "h");
    if (window->every_days != 0)
        edit_number(edit, name[OPEN_EVERY], window->every_days, NULL);
    show_date(edit, name[OPEN_FIRST], window->first);
}

static void show_span(struct edit *edit, const struct farm_span *span, const char (*name)[FILL_NAME_SIZE]) {
    show_date(edit, name[SPAN_FROM], span->from);
    show_date(edit, name[SPAN_TO], span->to);
}

static void show_supply(struct edit *edit) {
    const struct farm_supply *supply = &edit->supply;
    const struct names *names = names_of(edit);
    fill_default(edit->fill, "name", supply->name);
    edit_quantity(edit, "supply_flow", supply->flow_m3_h, "gal/min", "m3/h");
    edit_number(edit, "supply_hours", supply->hours_per_day, "h");
    if (supply->users > 0)
        edit_number(edit, "users", supply->users, NULL);
    for (int i = 0; i < supply->window_count; i++)
        show_window(edit, &supply->window[i], names->open[i]);
    for (int i = 0; i < supply->closed_count; i++)
        show_span(edit, &supply->closed[i], names->closed[i]);
    edit_quantity(edit, "allotment", supply->allotment_m3, "ac-ft", "m3");
    show_date(edit, "season_from", supply->season.from);
    show_date(edit, "season_to", supply->season.to);
    for (int i = 0; i < supply->allotment_count; i++) {
        show_span(edit, &supply->allotment[i].days, names->allotment[i]);
        edit_quantity(edit, names->allotment[i][SPAN_VOLUME], supply->allotment[i].volume_m3, "ac-ft", "m3");
    }
    bool us = edit->view.context.us_units;
    edit_number(edit, "water_price",
                quantity_in(supply->water_price, QUANTITY_PER_VOLUME, units_find(us ? "ac-in" : "m3")),
                us ? "/ac-in" : "/m3");
    edit_number(edit, "hour_price", supply->hour_price, NULL);
}

/* ---- inputs ---- */

static void label_last(struct edit *edit, const char *label) {
    edit->page.input[edit->page.count - 1].label = words_get(edit->request->words, label);
}

static void add_row(struct edit *edit, const char *name, const char *label, enum input_kind kind,
                    const struct form_option *option, size_t count) {
    form_add(&edit->page, name, kind, option, count, true);
    label_last(edit, label);
}

static void add_window(struct edit *edit, const char (*name)[FILL_NAME_SIZE], const struct form_option *week,
                       const struct form_option *clock) {
    add_row(edit, name[OPEN_DAYS], open_inputs[OPEN_DAYS].label, INPUT_DAYS, week, 7);
    add_row(edit, name[OPEN_EVERY], open_inputs[OPEN_EVERY].label, INPUT_NUMBER, NULL, 0);
    add_row(edit, name[OPEN_FIRST], open_inputs[OPEN_FIRST].label, INPUT_DATE, NULL, 0);
    add_row(edit, name[OPEN_FROM], open_inputs[OPEN_FROM].label, INPUT_PICK, clock, 24);
    form_add_amount(&edit->page, name[OPEN_HOURS], AMOUNT_HOURS, false, true);
    label_last(edit, open_inputs[OPEN_HOURS].label);
}

static void add_span(struct edit *edit, const char (*name)[FILL_NAME_SIZE]) {
    add_row(edit, name[SPAN_FROM], span_inputs[SPAN_FROM].label, INPUT_DATE, NULL, 0);
    add_row(edit, name[SPAN_TO], span_inputs[SPAN_TO].label, INPUT_DATE, NULL, 0);
}

/* Rows that are filled, and one more. */
static int rows_of(const struct edit *edit, const char *first, size_t stride, int least, int most) {
    int rows = least;
    for (int i = least; i < most; i++)
        if (fill_value(edit->fill, first + (size_t)i * stride)[0] != '\0')
            rows = i + 1;
    return rows < most ? rows + 1 : most;
}

static void inputs_lists(struct edit *edit, const struct names *names) {
    bool us = edit->view.context.us_units;
    const struct farm_supply *supply = &edit->supply;
    const struct form_option *week = turning_week(edit), *clock = turning_hours();
    if (week == NULL)
        return;
    form_add(&edit->page, "part_open", INPUT_PART, NULL, 0, true);
    int rows = rows_of(edit, names->open[0][OPEN_HOURS], sizeof names->open[0], supply->window_count,
                       FARM_WINDOWS_MAX);
    for (int i = 0; i < rows; i++)
        add_window(edit, names->open[i], week, clock);
    form_add(&edit->page, "part_closed", INPUT_PART, NULL, 0, true);
    rows = rows_of(edit, names->closed[0][SPAN_FROM], sizeof names->closed[0], supply->closed_count,
                   FARM_CLOSURES_MAX);
    for (int i = 0; i < rows; i++)
        add_span(edit, names->closed[i]);
    form_add(&edit->page, "part_allotment", INPUT_PART, NULL, 0, true);
    form_add_amount(&edit->page, "allotment", AMOUNT_VOLUME, us, true);
    form_add(&edit->page, "season_from", INPUT_DATE, NULL, 0, true);
    form_add(&edit->page, "season_to", INPUT_DATE, NULL, 0, true);
    rows = rows_of(edit, names->allotment[0][SPAN_FROM], sizeof names->allotment[0], supply->allotment_count,
                   FARM_ALLOTMENTS_MAX);
    for (int i = 0; i < rows; i++) {
        add_span(edit, names->allotment[i]);
        form_add_amount(&edit->page, names->allotment[i][SPAN_VOLUME], AMOUNT_VOLUME, us, true);
        label_last(edit, span_inputs[SPAN_VOLUME].label);
    }
}

static void inputs_supply(struct edit *edit) {
    bool us = edit->view.context.us_units;
    const struct names *names = names_of(edit);
    if (edit->index != SIZE_MAX)
        edit_link_removal(edit, "/supply/", edit->request->name, "form.supply.remove", "form.supply.title");
    form_add(&edit->page, "name", INPUT_TEXT, NULL, 0, false);
    form_add_amount(&edit->page, "supply_flow", AMOUNT_FLOW, us, false);
    form_add_amount(&edit->page, "supply_hours", AMOUNT_HOURS, us, true);
    form_add(&edit->page, "users", INPUT_NUMBER, NULL, 0, true);
    inputs_lists(edit, names);
    form_add(&edit->page, "part_price", INPUT_PART, NULL, 0, true);
    form_add_amount(&edit->page, "water_price", AMOUNT_PER_VOLUME, us, true);
    form_add(&edit->page, "hour_price", INPUT_NUMBER, NULL, 0, true);
}

/* ---- reading ---- */

static void read_name(struct edit *edit) {
    const struct farm_supply *same;
    if (!input_text(edit->request, "name", true, edit->supply.name, sizeof edit->supply.name))
        return;
    same = farm_supply_named(&edit->farm, edit->supply.name);
    if (same != NULL && (edit->index == SIZE_MAX || same != &edit->farm.supply[edit->index]))
        input_refuse(edit->request, "name", "input.taken_supply", NULL, NULL);
}

/* A row is an opening once days or a count of days are given. */
static bool read_window(struct edit *edit, const char (*name)[FILL_NAME_SIZE], struct farm_window *out) {
    const struct request *request = edit->request;
    const char *days = fill_value(edit->fill, name[OPEN_DAYS]);
    bool week = days[0] != '\0', every = input_given(request, name[OPEN_EVERY]);
    *out = (struct farm_window){.first = CALENDAR_NONE};
    if (!week && !every) {
        if (input_given(request, name[OPEN_HOURS]))
            input_refuse(request, name[OPEN_DAYS], "input.open_days", NULL, NULL);
        return false;
    }
    if (week && every)
        input_refuse(request, name[OPEN_EVERY], "input.open_both", NULL, NULL);
    for (int day = 0; day < 7; day++)
        if (strstr(days, turning_day(day)) != NULL)
            out->weekdays |= 1u << day;
    if (every) {
        (void)input_whole(request, name[OPEN_EVERY], QUANTITY_NUMBER, 1, 60, &out->every_days);
        (void)input_date(request, name[OPEN_FIRST], CALENDAR_FIRST, CALENDAR_LAST, &out->first);
    }
    (void)input_whole(request, name[OPEN_FROM], QUANTITY_NUMBER, 0, 23, &out->from_hour);
    (void)input_whole(request, name[OPEN_HOURS], QUANTITY_HOURS, 1, 24, &out->hours);
    return true;
}

static bool read_span(struct edit *edit, const char (*name)[FILL_NAME_SIZE], struct farm_span *out) {
    *out = (struct farm_span){CALENDAR_NONE, CALENDAR_NONE};
    if (!input_given(edit->request, name[SPAN_FROM]) && !input_given(edit->request, name[SPAN_TO]))
        return false;
    if (input_date(edit->request, name[SPAN_FROM], CALENDAR_FIRST, CALENDAR_LAST, &out->from))
        (void)input_date(edit->request, name[SPAN_TO], out->from, CALENDAR_LAST, &out->to);
    return true;
}

static void read_lists(struct edit *edit, const struct names *names) {
    static const struct quantity_limits volume = {0, 1e12, false};
    struct farm_supply *supply = &edit->supply;
    struct farm_allotment before[FARM_ALLOTMENTS_MAX];
    memcpy(before, supply->allotment, sizeof before);
    supply->window_count = supply->closed_count = supply->allotment_count = 0;
    for (int i = 0; i < FARM_WINDOWS_MAX; i++)
        supply->window_count += read_window(edit, names->open[i], &supply->window[supply->window_count]);
    for (int i = 0; i < FARM_CLOSURES_MAX; i++)
        supply->closed_count += read_span(edit, names->closed[i], &supply->closed[supply->closed_count]);
    for (int i = 0; i < FARM_ALLOTMENTS_MAX; i++) {
        struct farm_allotment *out = &supply->allotment[supply->allotment_count];
        const char *name = names->allotment[i][SPAN_VOLUME];
        if (read_span(edit, names->allotment[i], &out->days)) {
            out->volume_m3 = before[i].volume_m3;
            (void)input_change(edit->request, name, QUANTITY_VOLUME, &volume, &out->volume_m3);
            supply->allotment_count++;
        } else if (input_given(edit->request, name)) {
            input_refuse(edit->request, names->allotment[i][SPAN_FROM], "input.missing", NULL, NULL);
        }
    }
}

static void read_season(struct edit *edit) {
    struct farm_span *season = &edit->supply.season;
    *season = (struct farm_span){CALENDAR_NONE, CALENDAR_NONE};
    if (input_given(edit->request, "season_from"))
        (void)input_date(edit->request, "season_from", CALENDAR_FIRST, CALENDAR_LAST, &season->from);
    if (input_given(edit->request, "season_to"))
        (void)input_date(edit->request, "season_to",
                         season->from != CALENDAR_NONE ? season->from : CALENDAR_FIRST, CALENDAR_LAST,
                         &season->to);
}

static enum status apply_supply(void *context, struct farm *farm, size_t *planting,
                                struct problems *problems) {
    const struct edit *edit = context;
    const char *old = edit->index != SIZE_MAX ? edit->farm.supply[edit->index].name : "";
    (void)planting;
    (void)problems;
    for (size_t i = 0; i < farm->field_count; i++)
        if (old[0] != '\0' && strcmp(farm->field[i].supply, old) == 0)
            memcpy(farm->field[i].supply, edit->supply.name, FARM_NAME_SIZE);
    for (size_t i = 0; i < farm->supply_count; i++) {
        if (old[0] != '\0' && strcmp(farm->supply[i].name, old) == 0) {
            farm->supply[i] = edit->supply;
            return STATUS_OK;
        }
    }
    struct farm_supply *grown = realloc(farm->supply, (farm->supply_count + 1) * sizeof *grown);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    farm->supply = grown;
    farm->supply[farm->supply_count++] = edit->supply;
    return STATUS_OK;
}

static void read_supply(struct edit *edit) {
    static const struct quantity_limits flow = {0, INFINITY, true}, day = {0, 24, true},
                                        volume = {0, INFINITY, false}, price = {0, 1e6, false};
    const struct request *request = edit->request;
    struct farm_supply *supply = &edit->supply;
    read_name(edit);
    (void)input_change(request, "supply_flow", QUANTITY_FLOW, &flow, &supply->flow_m3_h);
    (void)input_change_or_keep(request, "supply_hours", QUANTITY_HOURS, &day, &supply->hours_per_day);
    supply->users = 0;
    if (input_given(request, "users"))
        (void)input_whole(request, "users", QUANTITY_NUMBER, 1, 1000, &supply->users);
    read_lists(edit, names_of(edit));
    (void)input_change_or_none(request, "allotment", QUANTITY_VOLUME, &volume, &supply->allotment_m3);
    read_season(edit);
    (void)input_change_or_none(request, "water_price", QUANTITY_PER_VOLUME, &price, &supply->water_price);
    (void)input_change_or_none(request, "hour_price", QUANTITY_NUMBER, &price, &supply->hour_price);
    const char *old = edit->index != SIZE_MAX ? edit->farm.supply[edit->index].name : NULL;
    edit->book.act = ENTRY_SUPPLY;
    edit->book.field = "";
    edit->book.supply = supply->name;
    edit->book.supply_renamed = old != NULL && strcmp(old, supply->name) != 0 ? old : NULL;
    edit->book.mark = FARM_MARK_NONE;
    edit->book.apply = apply_supply;
}

enum status supply_form(const struct request *request, struct reply *reply) {
    static const char *const places[][2] = {{"name", "name"}, {"season", "season_to"}, {NULL, NULL}};
    static const struct edit_form form = {.then = "/turns",
                                          .open = open_supply,
                                          .show = show_supply,
                                          .inputs = inputs_supply,
                                          .read = read_supply,
                                          .places = places};
    return edit_answer(request, &form, reply);
}

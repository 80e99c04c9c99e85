/* A field: the six questions of a new one, and all its settings. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/http/form_edit.h"
#include "daemon/http/form_planting.h"
#include "daemon/http/form_turning.h"
#include "daemon/http/form_units.h"

#define TEXTURE "texture:" /* before the name of a texture, where names of soils stand too */

/* ---- lists ---- */

/* The farm's own soils, then the textures. */
static void add_soils(struct edit *edit) {
    struct library *library = edit_library(edit);
    size_t textures = library != NULL ? library_texture_count(library) : 0, count = 0;
    struct form_option *list = edit_options(edit, 1 + textures + edit->farm.soil_count);
    char(*values)[FARM_NAME_SIZE + 16] = malloc((textures + 1) * sizeof *values);
    edit->kept = values;
    if (list == NULL || values == NULL)
        return;
    if (edit->index == SIZE_MAX)
        list[count++] = (struct form_option){"", words_get(edit->request->words, "form.soil.choose")};
    for (size_t i = 0; i < edit->farm.soil_count; i++)
        list[count++] = (struct form_option){edit->farm.soil[i].name, edit_soil(edit, &edit->farm.soil[i])};
    for (size_t i = 0; i < textures; i++) {
        const char *name = library_texture_name(library, i);
        if (farm_soil_named(&edit->farm, name) != NULL)
            continue;
        (void)snprintf(values[i], sizeof values[i], TEXTURE "%s", name);
        list[count++] = (struct form_option){values[i], edit_word(edit, "texture", name)};
    }
    form_add(&edit->page, "soil", INPUT_PICK, list, count, false);
}

static void add_systems(struct edit *edit) {
    struct form_option *list = edit_options(edit, SYSTEM_COUNT + 1);
    size_t count = 0;
    if (list == NULL)
        return;
    if (edit->index == SIZE_MAX)
        list[count++] = (struct form_option){"", words_get(edit->request->words, "form.system.choose")};
    for (int i = 0; i < SYSTEM_COUNT; i++) {
        const char *name = system_kind_name((enum system_kind)i);
        list[count++] = (struct form_option){name, edit_word(edit, "system", name)};
    }
    form_add(&edit->page, "system", INPUT_PICK, list, count, false);
}

/* The names of a list whose entries begin with their name; `none`: what stands for no entry, NULL: one is
 * needed. */
static void add_names(struct edit *edit, const char *name, const void *array, size_t count, size_t stride,
                      const char *none) {
    struct form_option *list = edit_options(edit, count + 1);
    size_t at = 0;
    if (list == NULL)
        return;
    if (none != NULL)
        list[at++] = (struct form_option){"", none};
    for (size_t i = 0; i < count; i++)
        list[at++] = (struct form_option){(const char *)array + i * stride, NULL};
    form_add(&edit->page, name, INPUT_PICK, list, at, none != NULL);
}

/* ---- a new field ---- */

static enum status open_new(struct edit *edit) {
    const struct words *words = edit->request->words;
    (void)snprintf(edit->action, sizeof edit->action, "/fields/new");
    (void)snprintf(edit->back, sizeof edit->back, "/");
    edit->page.title = words_get(words, "form.field.new");
    edit->page.about = words_get(words, "form.field.new.about");
    edit->page.back_text = words_get(words, "label.today");
    edit->page.submit = words_get(words, "form.field.add");
    edit->field.system = system_default(SYSTEM_NONE);
    farm_planting_begin(&edit->planting);
    return edit->farm.station_count > 0 ? STATUS_OK : STATUS_NOT_FOUND;
}

static void show_new(struct edit *edit) {
    fill_default(edit->fill, "area_unit", edit->view.context.us_units ? "ac" : "ha");
}

static void inputs_new(struct edit *edit) {
    bool us = edit->view.context.us_units;
    form_add(&edit->page, "name", INPUT_TEXT, NULL, 0, false);
    form_add_amount(&edit->page, "area", AMOUNT_AREA, us, false);
    add_soils(edit);
    add_systems(edit);
    planting_add_crop(edit);
    form_add(&edit->page, "planted", INPUT_DATE, NULL, 0, true);
    if (edit->farm.station_count > 1)
        add_names(edit, "station", edit->farm.station, edit->farm.station_count, sizeof *edit->farm.station,
                  NULL);
}

/* ---- reading ---- */

/* One of the farm's soils, or a texture, which becomes a soil of its name. */
static void read_soil(struct edit *edit) {
    const char *value = fill_value(edit->fill, "soil");
    struct library *library = edit_library(edit);
    size_t prefix = strlen(TEXTURE);
    if (farm_soil_named(&edit->farm, value) != NULL) {
        (void)snprintf(edit->field.soil, sizeof edit->field.soil, "%s", value);
    } else if (strncmp(value, TEXTURE, prefix) == 0 && library != NULL &&
               library_soil(library, value + prefix, &edit->soil.soil) == STATUS_OK) {
        (void)snprintf(edit->soil.name, sizeof edit->soil.name, "%s", value + prefix);
        (void)snprintf(edit->soil.texture, sizeof edit->soil.texture, "%s", value + prefix);
        (void)snprintf(edit->field.soil, sizeof edit->field.soil, "%s", value + prefix);
        edit->has_soil = true;
    } else {
        input_refuse(edit->request, "soil", "input.choose", NULL, NULL);
    }
}

/* Another kind of system brings what is usual for it; area and flow stay. */
static void read_system(struct edit *edit) {
    enum system_kind kind = system_kind_of(fill_value(edit->fill, "system"));
    if (kind == SYSTEM_COUNT) {
        input_refuse(edit->request, "system", "input.choose", NULL, NULL);
        return;
    }
    struct system *system = &edit->field.system;
    if (system->kind == kind && edit->index != SIZE_MAX)
        return;
    struct system usual = system_default(kind);
    usual.area_m2 = system->area_m2;
    usual.flow_m3_h = edit->index != SIZE_MAX ? system->flow_m3_h : usual.flow_m3_h;
    *system = usual;
}

static void read_name_and_area(struct edit *edit) {
    static const struct quantity_limits area = {1, 1e10, false};
    const struct farm_field *same;
    if (input_text(edit->request, "name", true, edit->field.name, sizeof edit->field.name)) {
        same = farm_field_named(&edit->farm, edit->field.name);
        if (same != NULL && (edit->index == SIZE_MAX || same != &edit->farm.field[edit->index]))
            input_refuse(edit->request, "name", "input.taken", NULL, NULL);
    }
    (void)input_change(edit->request, "area", QUANTITY_AREA, &area, &edit->field.system.area_m2);
}

/* The chosen station; the only one needs no choice. */
static void read_station(struct edit *edit) {
    const char *value = fill_value(edit->fill, "station");
    if (edit->farm.station_count == 1 || value[0] == '\0')
        value = edit->field.station[0] != '\0' ? edit->field.station : edit->farm.station[0].name;
    if (farm_station_named(&edit->farm, value) == NULL)
        input_refuse(edit->request, "station", "input.choose", NULL, NULL);
    else if (value != edit->field.station)
        (void)snprintf(edit->field.station, sizeof edit->field.station, "%s", value);
}

/* ---- writing ---- */

static enum status put_soil(const struct edit *edit, struct farm *farm) {
    if (!edit->has_soil || farm_soil_named(farm, edit->soil.name) != NULL)
        return STATUS_OK;
    struct farm_soil *grown = realloc(farm->soil, (farm->soil_count + 1) * sizeof *grown);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    farm->soil = grown;
    farm->soil[farm->soil_count++] = edit->soil;
    return STATUS_OK;
}

static enum status apply_new(void *context, struct farm *farm, size_t *planting, struct problems *problems) {
    const struct edit *edit = context;
    (void)problems;
    enum status status = put_soil(edit, farm);
    if (status != STATUS_OK)
        return status;
    struct farm_field *grown = realloc(farm->field, (farm->field_count + 1) * sizeof *grown);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    farm->field = grown;
    farm->field[farm->field_count++] = edit->field;
    return edit->has_planting ? planting_append(&edit->planting, farm, planting) : STATUS_OK;
}

static void read_new(struct edit *edit) {
    read_name_and_area(edit);
    read_soil(edit);
    read_system(edit);
    read_station(edit);
    memcpy(edit->planting.field, edit->field.name, sizeof edit->planting.field);
    edit->has_planting = input_given(edit->request, "crop") || input_given(edit->request, "planted");
    if (edit->has_planting) {
        planting_read_crop(edit);
        planting_read_dates(edit);
    }
    edit->book.act = ENTRY_FIELD;
    edit->book.field = edit->field.name;
    edit->book.mark = FARM_MARK_FIELD;
    edit->book.marked = edit->field.name;
    edit->book.apply = apply_new;
}

static const char *const field_places[][2] = {
    {"area", "area"}, {"system", "system"}, {"planted", "planted"}, {"start", "start"},
    {"crop", "crop"}, {"name", "name"},     {"soil", "soil"},       {NULL, NULL}};

enum status field_new_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {.runs = true,
                                          .open = open_new,
                                          .show = show_new,
                                          .inputs = inputs_new,
                                          .read = read_new,
                                          .places = field_places};
    return edit_answer(request, &form, reply);
}

/* ---- the settings of a field ---- */

static enum status open_settings(struct edit *edit) {
    const struct words *words = edit->request->words;
    const struct farm_field *field = farm_field_named(&edit->farm, edit->request->name);
    if (field == NULL)
        return STATUS_NOT_FOUND;
    edit->index = (size_t)(field - edit->farm.field);
    edit->field = *field;
    frame_path("/field/", field->name, "/settings", edit->action);
    frame_path("/field/", field->name, "", edit->back);
    edit->page.title = words_get(words, "form.field.settings");
    edit->page.back_text = field->name;
    edit->page.submit = words_get(words, "form.save");
    return STATUS_OK;
}

static void show_settings(struct edit *edit) {
    const struct system *system = &edit->field.system;
    fill_default(edit->fill, "name", edit->field.name);
    fill_default(edit->fill, "soil", edit->field.soil);
    fill_default(edit->fill, "system", system_kind_name(system->kind));
    fill_default(edit->fill, "station", edit->field.station);
    fill_default(edit->fill, "supply", edit->field.supply);
    edit_quantity(edit, "area", system->area_m2, "ac", "ha");
    if (system->kind == SYSTEM_NONE)
        return;
    edit_number(edit, "efficiency", 100 * system->efficiency, "%");
    edit_quantity(edit, "flow", system->flow_m3_h, "gal/min", "m3/h");
    edit_number(edit, "hours_per_day", system->hours_per_day, "h");
    edit_quantity(edit, "net_min", system->net_min_mm, "in", "mm");
    edit_quantity(edit, "net_max", system->net_max_mm, "in", "mm");
    edit_number(edit, "wetted", 100 * system->wetted_fraction, "%");
    turning_show(edit);
}

static bool has_turns(const struct edit *edit) {
    return edit->farm.supply_count > 0 && edit->field.system.kind != SYSTEM_NONE;
}

static void inputs_settings(struct edit *edit) {
    bool us = edit->view.context.us_units;
    struct form_page *page = &edit->page;
    form_add(page, "name", INPUT_TEXT, NULL, 0, false);
    form_add_amount(page, "area", AMOUNT_AREA, us, false);
    add_soils(edit);
    add_systems(edit);
    if (edit->field.system.kind != SYSTEM_NONE) {
        form_add_amount(page, "efficiency", AMOUNT_PERCENT, us, false);
        form_add_amount(page, "flow", AMOUNT_FLOW, us, true);
        form_add_amount(page, "hours_per_day", AMOUNT_HOURS, us, false);
        form_add_amount(page, "net_min", AMOUNT_DEPTH, us, true);
        form_add_amount(page, "net_max", AMOUNT_DEPTH, us, true);
        form_add_amount(page, "wetted", AMOUNT_PERCENT, us, false);
    }
    if (edit->farm.supply_count > 0)
        add_names(edit, "supply", edit->farm.supply, edit->farm.supply_count, sizeof *edit->farm.supply,
                  words_get(edit->request->words, "form.supply.none"));
    if (has_turns(edit))
        turning_inputs(edit);
    if (edit->farm.station_count > 1)
        add_names(edit, "station", edit->farm.station, edit->farm.station_count, sizeof *edit->farm.station,
                  NULL);
    edit_link_removal(edit, "/field/", edit->request->name, "form.field.remove", "form.field.settings");
}

/* Fields, plantings, marks, records and treatments of the old name get the new one. */
static void rename_field(struct farm *farm, const char *old, const char *name) {
    for (size_t i = 0; i < farm->planting_count; i++)
        if (strcmp(farm->planting[i].field, old) == 0)
            memcpy(farm->planting[i].field, name, FARM_NAME_SIZE);
    for (size_t i = 0; i < farm->record_count; i++)
        if (strcmp(farm->record[i].field, old) == 0)
            memcpy(farm->record[i].field, name, FARM_NAME_SIZE);
    for (size_t i = 0; i < farm->turn_mark_count; i++)
        if (strcmp(farm->turn_mark[i].field, old) == 0)
            memcpy(farm->turn_mark[i].field, name, FARM_NAME_SIZE);
    for (size_t i = 0; i < farm->trial_count; i++)
        for (int k = 0; k < farm->trial[i].treatment_count; k++)
            if (strcmp(farm->trial[i].treatment[k].field, old) == 0)
                memcpy(farm->trial[i].treatment[k].field, name, FARM_NAME_SIZE);
}

static enum status apply_settings(void *context, struct farm *farm, size_t *planting,
                                  struct problems *problems) {
    const struct edit *edit = context;
    const char *old = edit->farm.field[edit->index].name;
    const struct farm_field *field = farm_field_named(farm, old);
    (void)planting;
    (void)problems;
    if (field == NULL)
        return STATUS_NOT_FOUND;
    size_t index = (size_t)(field - farm->field);
    char name[FARM_NAME_SIZE];
    memcpy(name, old, sizeof name);
    enum status status = put_soil(edit, farm);
    if (status != STATUS_OK)
        return status;
    farm->field[index] = edit->field;
    rename_field(farm, name, edit->field.name);
    return STATUS_OK;
}

static void read_limits_of_system(struct edit *edit) {
    static const struct quantity_limits efficiency = {0.2, 1, false}, flow = {0.001, 1e6, false},
                                        day = {0, 24, true}, least = {0, 1000, false},
                                        most = {0.1, 1000, false}, wetted = {0.05, 1, false};
    const struct request *request = edit->request;
    struct system *system = &edit->field.system;
    (void)input_change_or_keep(request, "efficiency", QUANTITY_SHARE, &efficiency, &system->efficiency);
    (void)input_change_or_keep(request, "hours_per_day", QUANTITY_HOURS, &day, &system->hours_per_day);
    (void)input_change_or_keep(request, "wetted", QUANTITY_SHARE, &wetted, &system->wetted_fraction);
    (void)input_change_or_none(request, "flow", QUANTITY_FLOW, &flow, &system->flow_m3_h);
    (void)input_change_or_none(request, "net_min", QUANTITY_DEPTH, &least, &system->net_min_mm);
    (void)input_change_or_none(request, "net_max", QUANTITY_DEPTH, &most, &system->net_max_mm);
    if (system->net_min_mm > system->net_max_mm)
        input_refuse(request, "net_max", "input.least_most", NULL, NULL);
}

static void read_settings(struct edit *edit) {
    enum system_kind before = edit->field.system.kind;
    read_name_and_area(edit);
    read_soil(edit);
    read_system(edit);
    read_station(edit);
    /* What was in the form belongs to the kind that it was shown for. */
    if (edit->field.system.kind == before && before != SYSTEM_NONE)
        read_limits_of_system(edit);
    /* The same of its turns. */
    if (fill_given(edit->fill, "setup"))
        turning_read(edit);
    if (fill_given(edit->fill, "supply"))
        (void)input_text(edit->request, "supply", false, edit->field.supply, sizeof edit->field.supply);
    if (edit->field.supply[0] != '\0' && farm_supply_named(&edit->farm, edit->field.supply) == NULL)
        input_refuse(edit->request, "supply", "input.choose", NULL, NULL);
    const char *old = edit->farm.field[edit->index].name;
    edit->book.act = ENTRY_FIELD;
    edit->book.field = edit->field.name;
    edit->book.renamed = strcmp(old, edit->field.name) != 0 ? old : NULL;
    edit->book.mark = FARM_MARK_FIELD;
    edit->book.marked = edit->field.name;
    edit->book.apply = apply_settings;
}

enum status field_settings_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {.open = open_settings,
                                          .show = show_settings,
                                          .inputs = inputs_settings,
                                          .read = read_settings,
                                          .places = field_places};
    return edit_answer(request, &form, reply);
}

/* The soil of a field: what it holds, layer by layer, and its surface. Other fields may have the same soil.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/http/form_edit.h"
#include "daemon/view/say.h"

static const struct form_option percent[] = {{"%", NULL}};
static const struct form_option metres[] = {{"m", NULL}};
static const struct form_option feet[] = {{"ft", NULL}};
static const struct form_option rate_metric[] = {{"mm/h", NULL}};
static const struct form_option rate_us[] = {{"in/h", NULL}};

/* The inputs of the layers, from the surface down. */
static const struct layer_inputs {
    const char *bottom, *field_capacity, *wilting_point;
} layer_inputs[SOIL_LAYERS_MAX] = {
    {"bottom_1", "fc_1", "wp_1"}, {"bottom_2", "fc_2", "wp_2"}, {"bottom_3", "fc_3", "wp_3"},
    {"bottom_4", "fc_4", "wp_4"}, {"bottom_5", "fc_5", "wp_5"}, {"bottom_6", "fc_6", "wp_6"},
    {"bottom_7", "fc_7", "wp_7"}, {"bottom_8", "fc_8", "wp_8"},
};

static enum status open_soil(struct edit *edit) {
    const struct words *words = edit->request->words;
    const struct farm_field *field = farm_field_named(&edit->farm, edit->request->name);
    const struct farm_soil *soil = field != NULL ? farm_soil_named(&edit->farm, field->soil) : NULL;
    if (soil == NULL)
        return STATUS_NOT_FOUND;
    edit->field = *field;
    edit->soil = *soil;
    edit->index = (size_t)(soil - edit->farm.soil);
    frame_path("/field/", field->name, "/soil", edit->action);
    frame_path("/field/", field->name, "", edit->back);
    edit->page.title = words_get(words, "form.soil_values");
    const struct words_hole hole = {"soil", edit_soil(edit, soil)};
    edit->kept = malloc(SAY_SIZE);
    if (edit->kept == NULL)
        return STATUS_NO_MEMORY;
    edit->page.about = say_words(&edit->view.context, "form.soil_values.about", &hole, 1, edit->kept);
    edit->page.back_text = field->name;
    edit->page.submit = words_get(words, "form.save");
    return STATUS_OK;
}

static void show_soil(struct edit *edit) {
    const struct soil *soil = &edit->soil.soil;
    for (int i = 0; i < soil->layer_count; i++) {
        edit_number(edit, layer_inputs[i].field_capacity, 100 * soil->layer[i].field_capacity_m3_m3, "%");
        edit_number(edit, layer_inputs[i].wilting_point, 100 * soil->layer[i].wilting_point_m3_m3, "%");
        edit_quantity(edit, layer_inputs[i].bottom, 1000 * soil->layer[i].bottom_m, "ft", "m");
    }
    edit_number(edit, "curve_number", soil->curve_number, NULL);
    edit_quantity(edit, "intake", soil->intake_mm_h, "in/h", "mm/h");
}

static void add_input(struct edit *edit, const char *name, const char *key, const struct form_option *unit,
                      bool optional) {
    form_add(&edit->page, name, INPUT_NUMBER, unit, unit != NULL ? 1 : 0, optional);
    edit->page.input[edit->page.count - 1].label = words_get(edit->request->words, key);
}

static void inputs_soil(struct edit *edit) {
    const struct soil *soil = &edit->soil.soil;
    bool us = edit->view.context.us_units;
    for (int i = 0; i < soil->layer_count; i++) {
        if (soil->layer_count > 1)
            add_input(edit, layer_inputs[i].bottom, "form.layer_bottom", us ? feet : metres, false);
        add_input(edit, layer_inputs[i].field_capacity, "form.field_capacity", percent, false);
        add_input(edit, layer_inputs[i].wilting_point, "form.wilting_point", percent, false);
    }
    form_add(&edit->page, "curve_number", INPUT_NUMBER, NULL, 0, true);
    form_add(&edit->page, "intake", INPUT_NUMBER, us ? rate_us : rate_metric, 1, true);
}

static void read_layers(struct edit *edit) {
    static const struct quantity_limits depth = {0.01, SOIL_DEPTH_MAX_M, false},
                                        water = {0, SOIL_WATER_MAX, false};
    struct soil *soil = &edit->soil.soil;
    const struct request *request = edit->request;
    for (int i = 0; i < soil->layer_count; i++) {
        struct soil_layer *layer = &soil->layer[i];
        const struct layer_inputs *input = &layer_inputs[i];
        bool good = input_change(request, input->field_capacity, QUANTITY_SHARE, &water,
                                 &layer->field_capacity_m3_m3);
        good = input_change(request, input->wilting_point, QUANTITY_SHARE, &water,
                            &layer->wilting_point_m3_m3) &&
               good;
        if (good && layer->wilting_point_m3_m3 >= layer->field_capacity_m3_m3)
            input_refuse(request, input->wilting_point, "input.wilting_point", NULL, NULL);
        if (soil->layer_count > 1)
            (void)input_change(request, input->bottom, QUANTITY_LENGTH, &depth, &layer->bottom_m);
        if (i > 0 && layer->bottom_m <= soil->layer[i - 1].bottom_m)
            input_refuse(request, input->bottom, "input.layer_bottom", NULL, NULL);
    }
}

static enum status apply_soil(void *context, struct farm *farm, size_t *planting, struct problems *problems) {
    const struct edit *edit = context;
    (void)planting;
    (void)problems;
    for (size_t i = 0; i < farm->soil_count; i++) {
        if (strcmp(farm->soil[i].name, edit->soil.name) == 0) {
            farm->soil[i] = edit->soil;
            return STATUS_OK;
        }
    }
    return STATUS_NOT_FOUND;
}

static void read_soil(struct edit *edit) {
    static const struct quantity_limits number = {1, 100, false}, intake = {0.01, 10000, false};
    struct soil *soil = &edit->soil.soil;
    struct soil_layer before = soil->layer[0];
    read_layers(edit);
    /* What evaporates goes with the water that the surface holds; where that stays, so does what was
     * measured. */
    if (soil->layer[0].field_capacity_m3_m3 != before.field_capacity_m3_m3 ||
        soil->layer[0].wilting_point_m3_m3 != before.wilting_point_m3_m3) {
        double field_capacity = soil->layer[0].field_capacity_m3_m3;
        double wilting_point = soil->layer[0].wilting_point_m3_m3;
        soil->tew_mm = soil_tew_mm(field_capacity, wilting_point, soil->evaporation_depth_m);
        soil->rew_mm = soil_rew_mm(field_capacity, wilting_point);
    }
    (void)input_change_or_none(edit->request, "curve_number", QUANTITY_NUMBER, &number, &soil->curve_number);
    (void)input_change_or_none(edit->request, "intake", QUANTITY_RATE, &intake, &soil->intake_mm_h);
    edit->book.act = ENTRY_FIELD;
    edit->book.field = edit->field.name;
    edit->book.mark = FARM_MARK_SOIL;
    edit->book.marked = edit->soil.name;
    edit->book.apply = apply_soil;
}

enum status soil_form(const struct request *request, struct reply *reply) {
    static const char *const places[][2] = {
        {"layers[0]", "fc_1"}, {"rew", "fc_1"}, {"name", "fc_1"}, {NULL, NULL}};
    static const struct edit_form form = {
        .open = open_soil, .show = show_soil, .inputs = inputs_soil, .read = read_soil, .places = places};
    return edit_answer(request, &form, reply);
}

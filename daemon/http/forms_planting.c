/* A planting: its crop and dates, and what of the crop's values the farm knows better. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "core/base/calendar.h"
#include "daemon/http/form_planting.h"

#define YEARS_BACK 10 /* an old stand may have been planted long ago */

static const struct form_option percent[] = {{"%", NULL}};
static const struct form_option metres[] = {{"m", NULL}};
static const struct form_option feet[] = {{"ft", NULL}};

void planting_add_crop(struct edit *edit) {
    struct library *library = edit_library(edit);
    size_t count = library != NULL ? library_crop_count(library) : 0, kept = 0;
    struct form_option *list = edit_options(edit, count);
    if (list == NULL)
        return;
    for (size_t i = 0; i < count; i++) {
        struct crop crop;
        const char *name = library_crop_name(library, i);
        if (library_crop(library, name, "", &crop) == STATUS_OK)
            list[kept++].value = words_crop(edit->request->words, name);
    }
    form_add(&edit->page, "crop", INPUT_SEARCH, list, kept, true);
}

/* "lengths of the stages (FAO-56 Table 11 has no complete row for it); ..." */
static void refuse_gaps(struct edit *edit, const struct library *library, const char *crop) {
    struct text gaps;
    const char *key, *why;
    size_t at = 0;
    text_init(&gaps, 0);
    while ((key = library_crop_gap(library, crop, &at, &why)) != NULL)
        text_printf(&gaps, "%s%s (%s)", gaps.size > 0 ? "; " : "", edit_word(edit, "gap", key),
                    words_phrase(edit->request->words, why));
    input_refuse(edit->request, "crop", "input.crop_gaps", NULL, text_string(&gaps));
    text_free(&gaps);
}

void planting_read_crop(struct edit *edit) {
    char name[FARM_NAME_SIZE], region[FARM_NAME_SIZE] = "";
    struct library *library = edit_library(edit);
    struct farm_planting *planting = &edit->planting;
    if (!input_text(edit->request, "crop", true, name, sizeof name) || library == NULL)
        return;
    (void)input_text(edit->request, "region", false, region, sizeof region);
    const char *canonical = library_crop_canonical(library, words_crop_named(edit->request->words, name));
    bool same = planting->crop_name[0] != '\0' &&
                strcasecmp(canonical != NULL ? canonical : name, planting->crop_name) == 0;
    if (same && strcasecmp(region, planting->region) == 0)
        return;
    if (!same)
        region[0] = '\0'; /* it was one of the other crop's */
    enum status status =
        canonical != NULL ? library_crop(library, canonical, region, &planting->crop) : STATUS_NOT_FOUND;
    if (canonical == NULL) {
        const char *near = library_crop_nearest(library, name);
        input_refuse(edit->request, "crop", near != NULL ? "input.crop_near" : "input.crop", NULL,
                     near != NULL ? words_crop(edit->request->words, near) : NULL);
    } else if (status == STATUS_NOT_FOUND) {
        input_refuse(edit->request, "region", "input.choose", NULL, NULL);
    } else if (status == STATUS_MISSING) {
        refuse_gaps(edit, library, canonical);
    } else {
        (void)snprintf(planting->crop_name, sizeof planting->crop_name, "%s", canonical);
        memcpy(planting->region, region, sizeof planting->region);
    }
}

void planting_read_dates(struct edit *edit) {
    struct farm_planting *planting = &edit->planting;
    int32_t first = edit->today - YEARS_BACK * 366, last = edit->today + 366;
    if (!input_date(edit->request, "planted", first, last, &planting->planting_date))
        return;
    planting->start_date = planting->planting_date;
    if (input_given(edit->request, "start"))
        (void)input_date(edit->request, "start", first, planting->planting_date, &planting->start_date);
}

enum status planting_append(const struct farm_planting *fresh, struct farm *farm, size_t *planting) {
    struct farm_planting *grown = realloc(farm->planting, (farm->planting_count + 1) * sizeof *grown);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    farm->planting = grown;
    farm->planting[farm->planting_count] = *fresh;
    *planting = farm->planting_count++;
    return STATUS_OK;
}

/* ---- the form ---- */

static size_t planting_named(const struct farm *farm, const char *field, int32_t date) {
    for (size_t i = 0; i < farm->planting_count; i++) {
        if (farm->planting[i].planting_date == date && strcmp(farm->planting[i].field, field) == 0)
            return i;
    }
    return SIZE_MAX;
}

static enum status open_planting(struct edit *edit) {
    const struct words *words = edit->request->words;
    const char *field = edit->request->name;
    int32_t date;
    if (farm_field_named(&edit->farm, field) == NULL)
        return STATUS_NOT_FOUND;
    bool fresh = strcmp(edit->request->part, "new") == 0;
    char tail[FARM_NAME_SIZE + 16];
    (void)snprintf(tail, sizeof tail, "/planting/%s", edit->request->part);
    frame_path("/field/", field, tail, edit->action);
    frame_path("/field/", field, "", edit->back);
    edit->page.title = words_get(words, fresh ? "form.planting.new" : "form.planting");
    edit->page.back_text = field;
    edit->page.submit = words_get(words, fresh ? "form.planting.add" : "form.save");
    farm_planting_begin(&edit->planting);
    (void)snprintf(edit->planting.field, sizeof edit->planting.field, "%s", field);
    if (fresh)
        return STATUS_OK;
    if (calendar_parse_iso(edit->request->part, &date) != STATUS_OK)
        return STATUS_NOT_FOUND;
    edit->index = planting_named(&edit->farm, field, date);
    if (edit->index == SIZE_MAX)
        return STATUS_NOT_FOUND;
    edit->planting = edit->farm.planting[edit->index];
    return STATUS_OK;
}

static void show_planting(struct edit *edit) {
    const struct farm_planting *planting = &edit->planting;
    const struct crop *crop = &planting->crop;
    char iso[CALENDAR_ISO_SIZE], name[FILL_NAME_SIZE];
    if (edit->index == SIZE_MAX)
        return;
    fill_default(edit->fill, "crop", words_crop(edit->request->words, planting->crop_name));
    fill_default(edit->fill, "region", planting->region);
    fill_default(edit->fill, "planted", calendar_format_iso(planting->planting_date, iso));
    fill_default(edit->fill, "start", calendar_format_iso(planting->start_date, iso));
    edit_number(edit, "start_depletion", 100 * planting->start_depletion, "%");
    edit_quantity(edit, "root_max", 1000 * crop->root_max_m, "ft", "m");
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        (void)snprintf(name, sizeof name, "days_%d", i + 1);
        edit_number(edit, name, crop->stage_days[i], NULL);
        (void)snprintf(name, sizeof name, "allowed_%d", i + 1);
        edit_number(edit, name, 100 * crop->allowed_depletion[i], "%");
    }
}

static void add_regions(struct edit *edit) {
    struct library *library = edit_library(edit);
    size_t count = library != NULL ? library_region_count(library, edit->planting.crop_name) : 0;
    const char *own = edit->planting.region;
    struct form_option *list = edit_options(edit, count + 2);
    if (list == NULL || (count < 2 && own[0] == '\0'))
        return;
    bool listed = own[0] == '\0';
    list[0] = (struct form_option){"", words_get(edit->request->words, "form.region.first")};
    for (size_t i = 0; i < count; i++) {
        list[i + 1].value = library_region_name(library, edit->planting.crop_name, i);
        listed = listed || strcmp(list[i + 1].value, own) == 0;
    }
    /* A farm file may name a region by a part of its name. */
    if (!listed)
        list[++count].value = own;
    form_add(&edit->page, "region", INPUT_PICK, list, count + 1, true);
}

static void inputs_planting(struct edit *edit) {
    static const char *const days[] = {"days_1", "days_2", "days_3", "days_4"};
    static const char *const allowed[] = {"allowed_1", "allowed_2", "allowed_3", "allowed_4"};
    struct form_page *page = &edit->page;
    planting_add_crop(edit);
    page->input[0].optional = false;
    page->input[0].hint =
        words_get(edit->request->words, edit->index == SIZE_MAX ? "form.crop.write" : "form.crop.change");
    form_add(page, "planted", INPUT_DATE, NULL, 0, false);
    if (edit->index == SIZE_MAX)
        return;
    add_regions(edit);
    form_add(page, "start", INPUT_DATE, NULL, 0, true);
    form_add(page, "start_depletion", INPUT_NUMBER, percent, 1, true);
    form_add(page, "root_max", INPUT_NUMBER, edit->view.context.us_units ? feet : metres, 1, true);
    form_add(page, "stage_lengths", INPUT_PART, NULL, 0, true);
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        form_add(page, days[i], INPUT_NUMBER, NULL, 0, true);
    form_add(page, "allowed_shares", INPUT_PART, NULL, 0, true);
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        form_add(page, allowed[i], INPUT_NUMBER, percent, 1, true);
}

/* What stands over the library's values; only where the crop is the one that they were shown for. */
static void read_values(struct edit *edit) {
    static const struct quantity_limits share = {0, 1, false}, root = {0.05, 10, false},
                                        days = {1, 1000, false}, allowed = {0.01, 1, false};
    const struct request *request = edit->request;
    struct crop *crop = &edit->planting.crop;
    char name[FILL_NAME_SIZE];
    (void)input_change_or_keep(request, "start_depletion", QUANTITY_SHARE, &share,
                               &edit->planting.start_depletion);
    (void)input_change_or_keep(request, "root_max", QUANTITY_LENGTH, &root, &crop->root_max_m);
    if (crop->root_max_m < crop->root_ini_m)
        crop->root_ini_m = crop->root_max_m;
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        (void)snprintf(name, sizeof name, "days_%d", i + 1);
        (void)input_change_or_keep(request, name, QUANTITY_NUMBER, &days, &crop->stage_days[i]);
        (void)snprintf(name, sizeof name, "allowed_%d", i + 1);
        (void)input_change_or_none(request, name, QUANTITY_SHARE, &allowed, &crop->allowed_depletion[i]);
    }
}

static enum status apply_planting(void *context, struct farm *farm, size_t *planting,
                                  struct problems *problems) {
    const struct edit *edit = context;
    (void)problems;
    if (edit->index == SIZE_MAX)
        return planting_append(&edit->planting, farm, planting);
    const struct farm_planting *before = &edit->farm.planting[edit->index];
    *planting = planting_named(farm, before->field, before->planting_date);
    if (*planting == SIZE_MAX)
        return STATUS_NOT_FOUND;
    farm->planting[*planting] = edit->planting;
    return STATUS_OK;
}

static void read_planting(struct edit *edit) {
    char before[FARM_NAME_SIZE], region[FARM_NAME_SIZE];
    memcpy(before, edit->planting.crop_name, sizeof before);
    memcpy(region, edit->planting.region, sizeof region);
    planting_read_crop(edit);
    planting_read_dates(edit);
    bool same = strcmp(before, edit->planting.crop_name) == 0 && strcmp(region, edit->planting.region) == 0;
    if (edit->index != SIZE_MAX && same)
        read_values(edit);
    int32_t day = edit->planting.planting_date;
    size_t other = planting_named(&edit->farm, edit->planting.field, day);
    if (other != SIZE_MAX && other != edit->index)
        input_refuse(edit->request, "planted", "input.planted_again", NULL, NULL);
    edit->book.act = ENTRY_PLANTING;
    edit->book.field = edit->planting.field;
    edit->book.mark = FARM_MARK_FIELD;
    edit->book.marked = edit->planting.field;
    edit->book.apply = apply_planting;
    if (edit->index != SIZE_MAX && edit->farm.planting[edit->index].planting_date != day) {
        edit->book.moved_from = edit->farm.planting[edit->index].planting_date;
        edit->book.moved_to = day;
    }
}

enum status planting_form(const struct request *request, struct reply *reply) {
    static const char *const places[][2] = {{"planted", "planted"},     {"start", "start"},  {"crop", "crop"},
                                            {"root_depth", "root_max"}, {"date", "planted"}, {NULL, NULL}};
    static const struct edit_form form = {.runs = true,
                                          .open = open_planting,
                                          .show = show_planting,
                                          .inputs = inputs_planting,
                                          .read = read_planting,
                                          .places = places};
    return edit_answer(request, &form, reply);
}

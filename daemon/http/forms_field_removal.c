/* Removing a field with all that is kept of it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/http/form_removal.h"
#include "daemon/morning/planting_run.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/removal_store.h"

/* A season that is under way: whoever gives its crop up has it end, and keeps what is in the book. */
static enum status say_season(struct edit *edit, struct problems *problems) {
    char tail[FARM_NAME_SIZE + 16], iso[CALENDAR_ISO_SIZE];
    struct call call;
    const struct words *words = edit->request->words;
    const char *field = edit->field.name;
    int planting = planting_current(&edit->farm, field, edit->today);
    enum status status = ledger_store_call(edit->data->db, field, &call, problems);
    if (status != STATUS_OK || planting < 0 || edit->farm.planting[planting].start_date > edit->today ||
        (call.date != CALENDAR_NONE && call.reason == CALL_REASON_NOT_GROWING))
        return status;
    edit->page.caution = words_get(words, "form.field.remove_begun");
    removal_link(edit, "/field/", field, "/record/stage", words_get(words, "form.field.remove_end"));
    edit->page.link_label = words_get(words, "form.planting");
    calendar_format_iso(edit->farm.planting[planting].planting_date, iso);
    (void)snprintf(tail, sizeof tail, "/planting/%s", iso);
    removal_link(edit, "/field/", field, tail, words_get(words, "form.planting"));
    return STATUS_OK;
}

static void say_kept(struct edit *edit, const struct field_kept *kept) {
    const struct {
        const char *key;
        int count;
    } lines[] = {{"form.gone.plantings", kept->plantings}, {"form.gone.ledger", kept->ledger_days},
                 {"form.gone.records", kept->records},     {"form.gone.calls", kept->calls},
                 {"form.gone.turns", kept->turns},         {"form.gone.outlook", kept->outlook_days}};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        removal_count(edit, lines[i].key, lines[i].count);
    if (edit->page.list_count > 0)
        edit->page.list_text = words_get(edit->request->words, "form.gone");
}

/* ---- the soil that no other field has ---- */

static bool is_shared(const struct edit *edit) {
    for (size_t i = 0; i < edit->farm.field_count; i++) {
        const struct farm_field *field = &edit->farm.field[i];
        if (strcmp(field->soil, edit->field.soil) == 0 && strcmp(field->name, edit->field.name) != 0)
            return true;
    }
    return false;
}

static bool same(double a, double b) {
    return a == b || (isnan(a) && isnan(b));
}

/* Whether the soil is what choosing its texture makes of it: nothing is lost with it. */
static bool is_of_library(struct edit *edit, const struct farm_soil *own) {
    struct soil soil;
    struct library *library = edit_library(edit);
    const struct soil *a = &own->soil, *b = &soil;
    return library != NULL && library_soil(library, own->name, &soil) == STATUS_OK &&
           a->layer_count == b->layer_count &&
           a->layer[0].field_capacity_m3_m3 == b->layer[0].field_capacity_m3_m3 &&
           a->layer[0].wilting_point_m3_m3 == b->layer[0].wilting_point_m3_m3 && a->rew_mm == b->rew_mm &&
           a->tew_mm == b->tew_mm && a->evaporation_depth_m == b->evaporation_depth_m &&
           same(a->curve_number, b->curve_number) && same(a->intake_mm_h, b->intake_mm_h);
}

/* What stays, and whether the soil does: one that was described is the grower's to keep. */
static void say_soil(struct edit *edit, struct removal *removal) {
    char stays[SAY_SIZE];
    const struct farm_soil *soil = farm_soil_named(&edit->farm, edit->field.soil);
    const struct words_hole hole = {"soil", soil != NULL ? edit_soil(edit, soil) : edit->field.soil};
    bool shared = soil == NULL || is_shared(edit);
    removal->soil = shared ? SOIL_STAYS : is_of_library(edit, soil) ? SOIL_GOES : SOIL_CHOSEN;
    (void)snprintf(removal->about, sizeof removal->about, "%s %s",
                   words_get(edit->request->words, "form.field.remove_about"),
                   say_words(&edit->view.context,
                             shared ? "form.field.remove_stays_soil" : "form.field.remove_stays", &hole, 1,
                             stays));
    edit->page.about = removal->about;
    if (removal->soil == SOIL_GOES)
        removal_line(edit, "form.gone.soil", &hole, 1);
    else if (removal->soil == SOIL_CHOSEN)
        say_words(&edit->view.context, "form.soil_left", &hole, 1, removal->soil_left);
}

/* ---- */

/* A trial without one of its treatments is another trial: the farm file says what becomes of it. */
static void say_trial(struct edit *edit, struct removal *removal, const char *trial) {
    const struct words_hole hole = {"trial", trial};
    edit->page.about = say_words(&edit->view.context, "form.field.in_trial", &hole, 1, removal->about);
    edit->page.submit = NULL;
}

static enum status say_removal(struct edit *edit, struct removal *removal, struct problems *problems) {
    struct field_kept kept;
    enum status status = removal_store_field_kept(edit->data->db, edit->field.name, &kept, problems);
    if (status != STATUS_OK)
        return status;
    if (kept.trial[0] != '\0') {
        say_trial(edit, removal, kept.trial);
        return STATUS_OK;
    }
    say_soil(edit, removal);
    say_kept(edit, &kept);
    status = say_season(edit, problems);
    removal_ask(edit, edit->field.name);
    return status;
}

static enum status open_removal(struct edit *edit) {
    static struct problems unused; /* large; one thread answers */
    const struct farm_field *field = farm_field_named(&edit->farm, edit->request->name);
    if (field == NULL)
        return STATUS_NOT_FOUND;
    edit->field = *field;
    struct removal *removal = removal_begin(edit, "/field/", edit->field.name);
    if (removal == NULL)
        return STATUS_NO_MEMORY;
    problems_init(&unused);
    enum status status = say_removal(edit, removal, &unused);
    problems_free(&unused);
    return status;
}

/* What names the field goes out of a list whose entries begin with a field's name; how many stay. */
static size_t take_out(const char *field, void *list, size_t count, size_t size) {
    char *entry = list;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (strcmp(entry + i * size, field) == 0)
            continue;
        memmove(entry + kept * size, entry + i * size, size);
        kept++;
    }
    return kept;
}

static enum status apply_removal(void *context, struct farm *farm, size_t *planting,
                                 struct problems *problems) {
    const struct edit *edit = context;
    const char *name = edit->field.name;
    char why[2 * SAY_SIZE];
    (void)planting;
    if (farm_field_named(farm, name) == NULL)
        return STATUS_NOT_FOUND;
    for (size_t i = 0; i < farm->trial_count; i++) {
        const struct farm_trial *trial = &farm->trial[i];
        const struct words_hole hole = {"trial", trial->name};
        for (int k = 0; k < trial->treatment_count; k++) {
            if (strcmp(trial->treatment[k].field, name) != 0)
                continue;
            problem_add(problems, NULL, 0, 0, "fields", "%s",
                        say_words(&edit->view.context, "form.field.in_trial", &hole, 1, why));
            return STATUS_REFUSED;
        }
    }
    farm->field_count = take_out(name, farm->field, farm->field_count, sizeof *farm->field);
    farm->planting_count = take_out(name, farm->planting, farm->planting_count, sizeof *farm->planting);
    farm->record_count = take_out(name, farm->record, farm->record_count, sizeof *farm->record);
    farm->turn_mark_count = take_out(name, farm->turn_mark, farm->turn_mark_count, sizeof *farm->turn_mark);
    return STATUS_OK;
}

static void inputs_removal(struct edit *edit) {
    const struct removal *removal = edit->kept;
    struct form_option *options = removal->soil == SOIL_CHOSEN ? edit_options(edit, 2) : NULL;
    if (options != NULL) {
        const struct words *words = edit->request->words;
        options[0] = (struct form_option){"keep", words_get(words, "form.soil_left.keep")};
        options[1] = (struct form_option){"remove", words_get(words, "form.soil_left.remove")};
        fill_default(edit->fill, "soil_left", "keep");
        form_add(&edit->page, "soil_left", INPUT_CHOOSE, options, 2, false);
        edit->page.input[edit->page.count - 1].label = removal->soil_left;
    }
    removal_inputs(edit);
}

static void read_removal(struct edit *edit) {
    const struct removal *removal = edit->kept;
    if (edit->page.submit != NULL)
        removal_read(edit, edit->field.name);
    if (removal->soil == SOIL_GOES ||
        (removal->soil == SOIL_CHOSEN && strcmp(fill_value(edit->fill, "soil_left"), "remove") == 0))
        edit->book.soil_gone = edit->field.soil;
    edit->book.act = ENTRY_FIELD;
    edit->book.field = "";
    edit->book.field_gone = edit->field.name;
    edit->book.mark = FARM_MARK_NONE;
    edit->book.apply = apply_removal;
}

enum status field_removal_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {.then = "/",
                                          .wrong = "form.not_removed",
                                          .open = open_removal,
                                          .show = removal_show,
                                          .inputs = inputs_removal,
                                          .read = read_removal};
    return edit_answer(request, &form, reply);
}

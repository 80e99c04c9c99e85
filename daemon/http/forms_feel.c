/* Soil by feel: a person with a shovel judges how much of the available water is left. The method is that of
 * the NRCS, "Estimating Soil Moisture by Feel and Appearance" (from memory); the descriptions are our own. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/http/form_edit.h"

/* How far such a judgement may be off, as a share of the available water: a band is a quarter wide, which
 * alone makes 0.07, and two people differ by about a tenth (common practice, no source). */
#define FEEL_SD_SHARE 0.12

#define GROUPS 4
#define BANDS  5

static const char *const group_names[GROUPS] = {"coarse", "moderately_coarse", "medium", "fine"};
/* Share of the available water in the middle of a band; the last one is field capacity itself. */
static const double band_share[BANDS] = {0.125, 0.375, 0.625, 0.875, 1.0};

struct feel {
    const struct request *request;
    struct farm_view view;
    struct farm farm;
    const struct farm_field *field;
    const struct farm_soil *soil;
    int group;
    int32_t today;
    struct fill own, *fill;
    struct form_page page;
    struct form_option band[BANDS], link[GROUPS];
    char action[FRAME_PATH_SIZE], back[FRAME_PATH_SIZE];
    char text[BANDS][2 * SAY_SIZE], address[GROUPS][FRAME_PATH_SIZE];
};

static int group_named(const char *name) {
    int group = 0;
    while (group < GROUPS && strcmp(group_names[group], name) != 0)
        group++;
    return group;
}

/* By the texture; of a soil without one, by the water that a metre of it holds available. */
static int group_of(const struct farm_soil *soil) {
    static const int of_texture[TEXTURE_COUNT] = {[TEXTURE_SAND] = 0,
                                                  [TEXTURE_LOAMY_SAND] = 0,
                                                  [TEXTURE_SANDY_LOAM] = 1,
                                                  [TEXTURE_LOAM] = 2,
                                                  [TEXTURE_SILT_LOAM] = 2,
                                                  [TEXTURE_SILT] = 2,
                                                  [TEXTURE_SANDY_CLAY_LOAM] = 2,
                                                  [TEXTURE_CLAY_LOAM] = 3,
                                                  [TEXTURE_SILTY_CLAY_LOAM] = 3,
                                                  [TEXTURE_SANDY_CLAY] = 3,
                                                  [TEXTURE_SILTY_CLAY] = 3,
                                                  [TEXTURE_CLAY] = 3};
    enum soil_texture texture = soil_texture_of(soil->texture);
    if (texture < TEXTURE_COUNT)
        return of_texture[texture];
    double field_capacity = soil->soil.layer[0].field_capacity_m3_m3;
    return field_capacity < 0.17 ? 0 : field_capacity < 0.24 ? 1 : field_capacity < 0.33 ? 2 : 3;
}

/* The depth to which roots have come; of a field without a ledger yet, that at planting. */
static double root_depth_m(const struct feel *feel) {
    const struct field_morning *morning = farm_view_morning(&feel->view, feel->field->name);
    const struct farm_planting *planting = farm_planting_on(&feel->farm, feel->field->name, feel->today);
    if (morning != NULL && morning->past_count > 0 && morning->past[morning->past_count - 1].root_m > 0)
        return morning->past[morning->past_count - 1].root_m;
    return planting != NULL ? planting->crop.root_ini_m : 0.3;
}

static void water_of(const struct feel *feel, double share, double *content, double *sd) {
    double root_m = root_depth_m(feel);
    double full = soil_field_capacity_to_mm(&feel->soil->soil, root_m) / (1000 * root_m);
    double dry = soil_wilting_point_to_mm(&feel->soil->soil, root_m) / (1000 * root_m);
    *content = dry + share * (full - dry);
    *sd = FEEL_SD_SHARE * (full - dry);
}

static void build_page(struct feel *feel) {
    const struct words *words = feel->request->words;
    struct form_page *page = &feel->page;
    char key[64], tail[64];
    for (int i = 0; i < BANDS; i++) {
        static const char *const values[BANDS] = {"0", "1", "2", "3", "4"};
        (void)snprintf(key, sizeof key, "feel.band.%d", i);
        const char *band = words_get(words, key);
        (void)snprintf(key, sizeof key, "feel.%s.%d", group_names[feel->group], i);
        (void)snprintf(feel->text[i], sizeof feel->text[i], "%s: %s", band, words_get(words, key));
        feel->band[i] = (struct form_option){values[i], feel->text[i]};
    }
    for (int i = 0; i < GROUPS; i++) {
        (void)snprintf(tail, sizeof tail, "/feel?group=%s", group_names[i]);
        (void)snprintf(key, sizeof key, "feel.%s", group_names[i]);
        frame_path("/field/", feel->field->name, tail, feel->address[i]);
        feel->link[i] = (struct form_option){feel->address[i], words_get(words, key)};
    }
    page->title = words_get(words, "feel.title");
    page->about = words_get(words, "feel.about");
    page->link = feel->link;
    page->link_count = GROUPS;
    page->link_label = words_get(feel->request->words, "label.soil_kind");
    page->link_current = (size_t)feel->group;
    page->source = words_get(words, "feel.source");
    page->action = feel->action;
    page->back = feel->back;
    page->back_text = feel->field->name;
    page->submit = words_get(words, "form.keep");
    page->fill = feel->fill;
    fill_set(feel->fill, "group", group_names[feel->group]);
    form_add(page, "group", INPUT_HIDDEN, NULL, 0, true);
    form_add(page, "feel", INPUT_CHOOSE, feel->band, BANDS, false);
    form_add(page, "date", INPUT_DATE, NULL, 0, false);
}

static enum status show(struct feel *feel, const char *problem, struct reply *reply) {
    feel->page.problem = problem;
    build_page(feel);
    return form_show(feel->request, &feel->view, &feel->page, reply);
}

static enum status take(struct feel *feel, struct problems *problems, struct reply *reply) {
    struct farm_record record = {.kind = RECORD_READING, .date = CALENDAR_NONE};
    struct form_sent sent;
    char room[FARM_TEXT_SIZE], link[FRAME_PATH_SIZE];
    const struct words *words = feel->request->words;
    const char *value = fill_value(feel->fill, "feel");
    bool chosen = strlen(value) == 1 && value[0] >= '0' && value[0] < '0' + BANDS;
    memcpy(record.field, feel->field->name, sizeof record.field);
    if (chosen)
        water_of(feel, band_share[value[0] - '0'], &record.amount, &record.sd);
    else
        input_refuse(feel->request, "feel", "input.choose", NULL, NULL);
    (void)input_record_date(feel->request, &feel->farm, feel->field->name, feel->today, &record.date);
    const char *problem = !fill_good(feel->fill)                                       ? "form.wrong"
                          : form_open(feel->request, feel->action, &sent) != STATUS_OK ? "form.stale"
                                                                                       : NULL;
    if (problem != NULL) {
        reply->status = 422;
        return show(feel, words_get(words, problem), reply);
    }
    struct db *writer = feel->request->data->book->writer;
    enum status status =
        writer != NULL ? book_record(writer, &sent.book, &record, 0, problems) : STATUS_STORE;
    if (status == STATUS_OK)
        return form_go(reply, frame_path("/entry/", sent.id, "", link));
    status = form_trouble(feel->request, status, problems, room, reply);
    return status == STATUS_OK ? show(feel, room, reply) : status;
}

static enum status with_field(struct feel *feel, struct reply *reply) {
    static struct problems problems; /* large; one thread answers */
    char iso[CALENDAR_ISO_SIZE];
    const struct request *request = feel->request;
    problems_init(&problems);
    enum status status =
        farm_store_view_field(request->data->book->db, request->name, &feel->farm, &problems);
    if (status == STATUS_OK) {
        feel->field = farm_field_named(&feel->farm, request->name);
        feel->soil = feel->field != NULL ? farm_soil_named(&feel->farm, feel->field->soil) : NULL;
        status = feel->soil != NULL ? STATUS_OK : STATUS_NOT_FOUND;
        if (status == STATUS_OK) {
            const struct fill *from = request->form != NULL ? request->form : request->query;
            feel->group = group_named(fill_value(from, "group"));
            if (feel->group == GROUPS)
                feel->group = group_of(feel->soil);
            frame_path("/field/", feel->field->name, "/feel", feel->action);
            frame_path("/field/", feel->field->name, "", feel->back);
            fill_default(feel->fill, "date", calendar_format_iso(feel->today, iso));
            status = request->form != NULL ? take(feel, &problems, reply) : show(feel, NULL, reply);
        }
        farm_free(&feel->farm);
    }
    problems_free(&problems);
    return status;
}

enum status feel_form(const struct request *request, struct reply *reply) {
    if (request->data->book == NULL)
        return STATUS_NOT_FOUND;
    struct feel *feel = calloc(1, sizeof *feel);
    if (feel == NULL)
        return STATUS_NO_MEMORY;
    feel->request = request;
    feel->today = page_data_now(request->data->book).today;
    fill_init(&feel->own);
    feel->fill = request->form != NULL ? request->form : &feel->own;
    enum status status = farm_view_open(request, &feel->view);
    if (status == STATUS_OK) {
        status = with_field(feel, reply);
        farm_view_close(request, &feel->view);
    }
    fill_free(&feel->own);
    free(feel);
    return status;
}

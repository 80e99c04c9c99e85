/* The place: the farm's name and habits, and where its weather is that of. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/base/wall_clock.h"
#include "daemon/farm/farm_file.h"
#include "daemon/http/form_edit.h"

#define ZONES_FILE "/usr/share/zoneinfo/zone1970.tab"
#define ZONES_MAX  512

static enum status open_place(struct edit *edit) {
    const struct words *words = edit->request->words;
    (void)snprintf(edit->action, sizeof edit->action, "/farm");
    (void)snprintf(edit->back, sizeof edit->back, "/");
    edit->page.title = words_get(words, "form.place");
    edit->page.about = words_find(words, "form.place.about");
    edit->page.back_text = words_get(words, "label.today");
    edit->page.submit = words_get(words, edit->fresh ? "form.next" : "form.save");
    memcpy(edit->head.name, edit->farm.name, sizeof edit->head.name);
    memcpy(edit->head.time_zone, edit->farm.time_zone, sizeof edit->head.time_zone);
    edit->head.us_units = edit->fresh ? edit->view.context.us_units : edit->farm.us_units;
    if (edit->farm.station_count > 0) {
        edit->index = 0;
        edit->station = edit->farm.station[0];
    } else {
        farm_station_begin(&edit->station);
    }
    return STATUS_OK;
}

static void show_place(struct edit *edit) {
    fill_default(edit->fill, "farm", edit->head.name);
    fill_default(edit->fill, "units", edit->head.us_units ? "us" : "metric");
    fill_default(edit->fill, "time_zone", edit->head.time_zone);
    if (edit->index == SIZE_MAX)
        return;
    edit_number(edit, "latitude", edit->station.site.latitude_deg, NULL);
    edit_number(edit, "longitude", edit->station.longitude_deg, NULL);
    edit_quantity(edit, "elevation", edit->station.site.elevation_m * 1000.0, "ft", "m");
    edit_quantity(edit, "wind_height", edit->station.site.wind_height_m * 1000.0, "ft", "m");
}

/* The names of the time zones of this machine, as proposals: the third column of zone1970.tab. The file's
 * text is kept by the caller for as long as the options. */
static size_t read_zones(char *text, struct form_option *options) {
    size_t count = 0;
    for (char *line = text, *next; line != NULL && count < ZONES_MAX; line = next) {
        next = strchr(line, '\n');
        if (next != NULL)
            *next++ = '\0';
        char *tab = line[0] != '#' ? strchr(line, '\t') : NULL;
        tab = tab != NULL ? strchr(tab + 1, '\t') : NULL;
        if (tab == NULL)
            continue;
        char *name = tab + 1;
        name[strcspn(name, "\t\r")] = '\0';
        options[count++].value = name;
    }
    return count;
}

static void inputs_place(struct edit *edit) {
    static const struct form_option metres[] = {{"m", NULL}}, feet[] = {{"ft", NULL}};
    const struct form_option *length = edit->view.context.us_units ? feet : metres;
    const struct words *words = edit->request->words;
    struct form_option *units = edit_options(edit, 2), *zones = edit_options(edit, ZONES_MAX);
    static struct problems unused; /* large; one thread answers */
    size_t size, zone_count = 0;
    char *text = NULL;
    if (units == NULL || zones == NULL)
        return;
    units[0] = (struct form_option){"metric", words_get(words, "form.units.metric")};
    units[1] = (struct form_option){"us", words_get(words, "form.units.us")};
    problems_init(&unused);
    if (file_read(ZONES_FILE, 1 << 20, &text, &size, &unused) == STATUS_OK)
        zone_count = read_zones(text, zones);
    edit->kept = text;
    problems_free(&unused);
    form_add(&edit->page, "farm", INPUT_TEXT, NULL, 0, false);
    form_add(&edit->page, "units", INPUT_CHOOSE, units, 2, false);
    form_add(&edit->page, "latitude", INPUT_NUMBER, NULL, 0, false);
    form_add(&edit->page, "longitude", INPUT_NUMBER, NULL, 0, false);
    form_add(&edit->page, "elevation", INPUT_NUMBER, length, 1, false);
    for (size_t i = edit->page.count - 3; i < edit->page.count; i++)
        edit->page.input[i].below_zero = true;
    form_add(&edit->page, "time_zone", INPUT_SEARCH, zones, zone_count, true);
    if (edit->index != SIZE_MAX)
        form_add(&edit->page, "wind_height", INPUT_NUMBER, length, 1, true);
}

static enum status apply_place(void *context, struct farm *farm, size_t *planting,
                               struct problems *problems) {
    const struct edit *edit = context;
    (void)planting;
    (void)problems;
    memcpy(farm->name, edit->head.name, sizeof farm->name);
    memcpy(farm->time_zone, edit->head.time_zone, sizeof farm->time_zone);
    farm->us_units = edit->head.us_units;
    if (farm->station_count == 0) {
        farm->station = calloc(1, sizeof *farm->station);
        if (farm->station == NULL)
            return STATUS_NO_MEMORY;
        farm->station_count = 1;
    }
    farm->station[0] = edit->station;
    return STATUS_OK;
}

static void read_place(struct edit *edit) {
    static const struct quantity_limits latitude = {-90, 90, false}, longitude = {-180, 180, false},
                                        elevation = {-450, 9000, false}, height = {0.5, 100, false};
    const struct request *request = edit->request;
    struct weather_site *site = &edit->station.site;
    (void)input_text(request, "farm", true, edit->head.name, sizeof edit->head.name);
    edit->head.us_units = strcmp(fill_value(edit->fill, "units"), "us") == 0;
    (void)input_change(request, "latitude", QUANTITY_NUMBER, &latitude, &site->latitude_deg);
    (void)input_change(request, "longitude", QUANTITY_NUMBER, &longitude, &edit->station.longitude_deg);
    (void)input_change(request, "elevation", QUANTITY_LENGTH, &elevation, &site->elevation_m);
    (void)input_change_or_keep(request, "wind_height", QUANTITY_LENGTH, &height, &site->wind_height_m);
    if (input_text(request, "time_zone", false, edit->head.time_zone, sizeof edit->head.time_zone) &&
        edit->head.time_zone[0] != '\0' && !wall_clock_knows(edit->head.time_zone))
        input_refuse(request, "time_zone", "input.zone", NULL, NULL);
    if (edit->station.name[0] == '\0')
        memcpy(edit->station.name, edit->head.name, sizeof edit->station.name);
    edit->book.act = ENTRY_FARM;
    edit->book.field = "";
    edit->book.mark = FARM_MARK_ALL;
    edit->book.apply = apply_place;
}

static const char *const place_inputs[][2] = {
    {"latitude", "latitude"}, {"elevation", "elevation"}, {"name", "farm"}, {NULL, NULL}};

enum status place_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {.may_be_empty = true,
                                          .runs = true,
                                          .open = open_place,
                                          .show = show_place,
                                          .inputs = inputs_place,
                                          .read = read_place,
                                          .places = place_inputs};
    return edit_answer(request, &form, reply);
}

enum status farm_file_take(const struct request *request, struct reply *reply) {
    static struct problems problems; /* large; one thread answers */
    struct farm farm;
    if (request->data->book == NULL)
        return STATUS_NOT_FOUND;
    problems_init(&problems);
    enum status status = farm_store_load(request->data->book->db, &farm, &problems);
    problems_free(&problems);
    if (status != STATUS_OK)
        return status;
    char *text = farm_file_write(&farm);
    farm_free(&farm);
    if (text == NULL)
        return STATUS_NO_MEMORY;
    text_puts(&reply->body, text);
    free(text);
    reply->type = "application/json; charset=utf-8";
    reply->disposition = "attachment; filename=\"farm.json\"";
    return text_failed(&reply->body) ? STATUS_NO_MEMORY : STATUS_OK;
}

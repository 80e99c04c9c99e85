/* A weather source: a public service that needs no key, or a file or address of one's own. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "daemon/http/form_edit.h"
#include "daemon/source/address_template.h"
#include "daemon/source/layout.h"

#define LAYOUTS_MAX 64

/* What is offered: the services by the names of their layouts; then files, by "file:" and the layout's name.
 */
struct offer {
    char name[LAYOUT_NAME_SIZE + 8];
    char layout[FARM_NAME_SIZE];
    char title[160];
    char address[FARM_TEXT_SIZE];
    bool forecast;
};

#define OWN "file:"

struct offers {
    size_t count;
    struct offer offer[2 * LAYOUTS_MAX];
};

static void add_offer(struct offers *offers, const char *prefix, const struct layout *layout,
                      const char *address) {
    if (offers->count == sizeof offers->offer / sizeof *offers->offer)
        return;
    struct offer *offer = &offers->offer[offers->count++];
    (void)snprintf(offer->name, sizeof offer->name, "%s%s", prefix, layout_name(layout));
    (void)snprintf(offer->layout, sizeof offer->layout, "%s", layout_name(layout));
    (void)snprintf(offer->title, sizeof offer->title, "%s", layout_title(layout));
    (void)snprintf(offer->address, sizeof offer->address, "%s", address);
    offer->forecast = layout_is_forecast(layout);
}

/* Two rounds through the layouts that ship: the services first, then the files. The plain table of days comes
 * first among the files, since it is what people write themselves. */
static void collect(struct offers *offers, bool services, bool plain) {
    static struct problems unused; /* large; one thread answers */
    char name[LAYOUT_NAME_SIZE];
    for (size_t i = 0; i < LAYOUTS_MAX && layout_builtin_name(i, name) != NULL; i++) {
        struct layout *layout = NULL;
        problems_init(&unused);
        if ((strcmp(name, "plain") == 0) == plain && layout_builtin(name, &layout, &unused) == STATUS_OK) {
            const char *address = layout_address(layout);
            if (services && address != NULL)
                add_offer(offers, "", layout, address);
            else if (!services)
                add_offer(offers, OWN, layout, "");
            layout_free(layout);
        }
        problems_free(&unused);
    }
}

static struct offers *offers_of(struct edit *edit) {
    struct offers *offers = edit->kept;
    if (offers == NULL) {
        offers = calloc(1, sizeof *offers);
        edit->kept = offers;
        if (offers == NULL)
            return NULL;
        collect(offers, true, false);
        collect(offers, false, true);
        collect(offers, false, false);
    }
    return offers;
}

static const struct offer *offer_named(struct edit *edit, const char *name) {
    const struct offers *offers = offers_of(edit);
    for (size_t i = 0; offers != NULL && i < offers->count; i++) {
        if (strcmp(offers->offer[i].name, name) == 0)
            return &offers->offer[i];
    }
    return NULL;
}

/* ---- the form ---- */

static enum status open_source(struct edit *edit) {
    const struct words *words = edit->request->words;
    bool fresh = strcmp(edit->request->path, "/sources/new") == 0;
    /* While the farm is being set up, the list of its steps is where one comes from. */
    bool setting_up = edit->view.facts.last_run == CALENDAR_NONE;
    (void)snprintf(edit->back, sizeof edit->back, "%s", setting_up ? "/" : "/sources");
    edit->page.title = fresh ? words_get(words, "form.source.new") : edit->source.name;
    edit->page.about = fresh ? words_get(words, "form.source.about") : NULL;
    edit->page.back_text = words_get(words, setting_up ? "label.today" : "label.sources");
    edit->page.submit = words_get(words, fresh ? "form.source.add" : "form.save");
    farm_source_begin(&edit->source);
    if (fresh) {
        (void)snprintf(edit->action, sizeof edit->action, "/sources/new");
        return edit->farm.station_count > 0 ? STATUS_OK : STATUS_NOT_FOUND;
    }
    frame_path("/source/", edit->request->name, "", edit->action);
    for (size_t i = 0; i < edit->farm.source_count; i++) {
        if (strcmp(edit->farm.source[i].name, edit->request->name) == 0) {
            edit->index = i;
            edit->source = edit->farm.source[i];
            return STATUS_OK;
        }
    }
    return STATUS_NOT_FOUND;
}

static void show_source(struct edit *edit) {
    char name[LAYOUT_NAME_SIZE + 8];
    if (edit->index == SIZE_MAX) {
        /* Measured days first, then days ahead. */
        bool forecast = edit->farm.source_count > 0;
        const struct offers *offers = offers_of(edit);
        for (size_t i = 0; offers != NULL && i < offers->count; i++) {
            if (offers->offer[i].address[0] != '\0' && offers->offer[i].forecast == forecast)
                fill_default(edit->fill, "service", offers->offer[i].name);
        }
        fill_default(edit->fill, "kind", forecast ? "forecast" : "observed");
        return;
    }
    const struct offer *service = offer_named(edit, edit->source.layout);
    bool own = service == NULL || strcmp(service->address, edit->source.address) != 0;
    (void)snprintf(name, sizeof name, "%s%s", own ? OWN : "", edit->source.layout);
    fill_default(edit->fill, "service", name);
    if (own)
        fill_default(edit->fill, "address", edit->source.address);
    fill_default(edit->fill, "kind", edit->source.kind == SOURCE_FORECAST ? "forecast" : "observed");
    fill_default(edit->fill, "station", edit->source.station);
}

static void inputs_source(struct edit *edit) {
    const struct words *words = edit->request->words;
    struct offers *offers = offers_of(edit);
    size_t count = offers != NULL ? offers->count : 0, stations = edit->farm.station_count;
    struct form_option *services = edit_options(edit, count), *kinds = edit_options(edit, 2);
    struct form_option *list = edit_options(edit, stations);
    if (services == NULL || kinds == NULL || list == NULL)
        return;
    for (size_t i = 0; i < count; i++) {
        /* The names of services are the same in all languages. */
        const struct offer *offer = &offers->offer[i];
        const char *word = edit_word(edit, "layout", offer->layout);
        services[i] = (struct form_option){offer->name, word != offer->layout ? word : offer->title};
    }
    size_t own = 0;
    while (own < count && offers->offer[own].address[0] != '\0')
        own++;
    form_add(&edit->page, "service", INPUT_PICK, services, count, false);
    edit->page.input[0].groups[0] = words_get(words, "form.service.public");
    edit->page.input[0].groups[1] = words_get(words, "form.service.own");
    edit->page.input[0].first_of_second = own;
    kinds[0] = (struct form_option){"observed", words_get(words, "form.kind.observed")};
    kinds[1] = (struct form_option){"forecast", words_get(words, "form.kind.forecast")};
    form_add(&edit->page, "address", INPUT_TEXT, NULL, 0, true);
    form_add(&edit->page, "kind", INPUT_CHOOSE, kinds, 2, true);
    for (size_t i = 0; i < stations; i++)
        list[i].value = edit->farm.station[i].name;
    if (edit->index != SIZE_MAX)
        edit_link_removal(edit, "/source/", edit->source.name, "form.source.remove", "form.source");
    if (stations > 1)
        form_add(&edit->page, "station", INPUT_PICK, list, stations, false);
}

static bool has_source(const struct farm *farm, const char *name) {
    for (size_t i = 0; i < farm->source_count; i++) {
        if (strcmp(farm->source[i].name, name) == 0)
            return true;
    }
    return false;
}

/* A name of its own, from that of the layout. */
static void name_source(struct edit *edit) {
    memcpy(edit->source.name, edit->source.layout, sizeof edit->source.name);
    for (int i = 2; has_source(&edit->farm, edit->source.name) && i < 1000; i++)
        (void)snprintf(edit->source.name, sizeof edit->source.name, "%.50s %d", edit->source.layout, i);
}

static enum status apply_source(void *context, struct farm *farm, size_t *planting,
                                struct problems *problems) {
    const struct edit *edit = context;
    (void)planting;
    (void)problems;
    for (size_t i = 0; i < farm->source_count; i++) {
        if (strcmp(farm->source[i].name, edit->source.name) == 0) {
            farm->source[i] = edit->source;
            return STATUS_OK;
        }
    }
    struct farm_source *grown = realloc(farm->source, (farm->source_count + 1) * sizeof *grown);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    farm->source = grown;
    farm->source[farm->source_count++] = edit->source;
    return STATUS_OK;
}

static bool begins(const char *text, const char *scheme) {
    return strncasecmp(text, scheme, strlen(scheme)) == 0;
}

/* Files of this machine are named by the farm file, whose owner can read them anyway, and never by a page,
 * which whoever holds a manager's phone can fill in. What the farm file named may stay. */
static void read_address(struct edit *edit) {
    char text[FARM_TEXT_SIZE], wrong[ADDRESS_TEMPLATE_WORD_SIZE];
    if (!input_text(edit->request, "address", true, text, sizeof text) ||
        strcmp(text, edit->source.address) == 0)
        return;
    if (text[0] == '/' || begins(text, "file:"))
        input_refuse(edit->request, "address", "input.address.file", NULL, NULL);
    else if ((!begins(text, "http://") && !begins(text, "https://")) || !address_names_host(text))
        input_refuse(edit->request, "address", "input.address", NULL, NULL);
    else if (!address_template_check(text, wrong))
        input_refuse(edit->request, "address", "input.hole", NULL, wrong);
    else
        (void)snprintf(edit->source.address, sizeof edit->source.address, "%s", text);
}

/* A login goes to the address that its owner knew of: neither may a source that has one get another address
 * from a page, nor a new source the name of one. A service's own address comes with the program. */
static void guard_login(struct edit *edit, const char *before) {
    char *const *name = edit->data->with_login;
    if (strcmp(before, edit->source.address) == 0)
        return;
    for (; name != NULL && *name != NULL; name++) {
        if (strcmp(*name, edit->source.name) == 0)
            input_refuse(edit->request, "address", "input.address.login", NULL, *name);
    }
}

static void read_station(struct edit *edit) {
    const char *station = fill_value(edit->fill, "station");
    if (station[0] == '\0')
        station = edit->source.station[0] != '\0' ? edit->source.station : edit->farm.station[0].name;
    if (farm_station_named(&edit->farm, station) == NULL)
        input_refuse(edit->request, "station", "input.choose", NULL, NULL);
    else if (station != edit->source.station)
        (void)snprintf(edit->source.station, sizeof edit->source.station, "%s", station);
}

/* The same days from the same place a second time are no second source. */
static void refuse_twin(struct edit *edit, bool own) {
    for (size_t i = 0; i < edit->farm.source_count; i++) {
        const struct farm_source *other = &edit->farm.source[i], *source = &edit->source;
        if (i != edit->index && source->address[0] != '\0' && other->kind == source->kind &&
            strcmp(other->station, source->station) == 0 && strcmp(other->layout, source->layout) == 0 &&
            strcmp(other->address, source->address) == 0)
            input_refuse(edit->request, own ? "address" : "service", "input.source_twice", NULL, other->name);
    }
}

static void read_source(struct edit *edit) {
    const struct offer *offer = offer_named(edit, fill_value(edit->fill, "service"));
    edit->book.act = ENTRY_SOURCE;
    edit->book.field = "";
    edit->book.mark = FARM_MARK_NONE;
    edit->book.apply = apply_source;
    read_station(edit);
    if (offer == NULL) {
        input_refuse(edit->request, "service", "input.choose", NULL, NULL);
        return;
    }
    bool own = offer->address[0] == '\0';
    char before[FARM_TEXT_SIZE];
    memcpy(before, edit->source.address, sizeof before);
    memcpy(edit->source.layout, offer->layout, sizeof edit->source.layout);
    bool forecast = strcmp(fill_value(edit->fill, "kind"), "forecast") == 0;
    bool told = own && strcmp(edit->source.layout, "plain") == 0; /* a plain table may be either */
    edit->source.kind = (told ? forecast : offer->forecast) ? SOURCE_FORECAST : SOURCE_OBSERVED;
    if (own)
        read_address(edit);
    else
        (void)snprintf(edit->source.address, sizeof edit->source.address, "%s", offer->address);
    refuse_twin(edit, own);
    if (edit->index == SIZE_MAX)
        name_source(edit);
    if (own)
        guard_login(edit, before);
}

enum status source_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {
        .runs = true, .open = open_source, .show = show_source, .inputs = inputs_source, .read = read_source};
    return edit_answer(request, &form, reply);
}

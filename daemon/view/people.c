#include "daemon/view/people.h"

#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/base/wall_clock.h"
#include "daemon/view/frame.h"
#include "daemon/view/qr.h"
#include "daemon/view/say.h"

static const char *role_text(const struct view_context *context, enum access_role role) {
    char key[48];
    snprintf(key, sizeof key, "people.role.%s", access_role_name(role));
    return words_get(context->words, key);
}

static void add_day(const struct view_context *context, cJSON *object, const char *key, int64_t at) {
    char name[32], text[SAY_SIZE];
    int32_t day = wall_clock_of(at).today;
    frame_date(object, key, day);
    snprintf(name, sizeof name, "%s_text", key);
    cJSON_AddStringToObject(object, name, say_day(context, "on", day, text));
}

static cJSON *device_view(const struct view_context *context, const struct people_facts *facts,
                          const struct access_device *device) {
    cJSON *item = cJSON_CreateObject();
    cJSON_AddNumberToObject(item, "id", (double)device->id);
    cJSON_AddStringToObject(item, "name", device->name);
    cJSON_AddStringToObject(item, "role", access_role_name(device->role));
    cJSON_AddStringToObject(item, "role_text", role_text(context, device->role));
    add_day(context, item, "paired", device->paired_at);
    add_day(context, item, "seen", device->seen_at);
    cJSON_AddBoolToObject(item, "own", device->id == facts->own);
    cJSON_AddBoolToObject(item, "may_come", device->revoked_at == 0);
    /* Whoever closes the door to the device in their hand cannot open it again. */
    cJSON_AddBoolToObject(item, "may_be_closed", device->revoked_at == 0 && device->id != facts->own);
    if (device->revoked_at != 0)
        add_day(context, item, "revoked", device->revoked_at);
    return item;
}

static void add_roles(const struct view_context *context, enum access_role chosen, cJSON *view) {
    cJSON *roles = cJSON_AddArrayToObject(view, "roles");
    for (enum access_role role = ACCESS_READER; role <= ACCESS_MANAGER; role++) {
        cJSON *item = cJSON_CreateObject();
        cJSON_AddStringToObject(item, "role", access_role_name(role));
        cJSON_AddStringToObject(item, "text", role_text(context, role));
        cJSON_AddBoolToObject(item, "chosen", role == chosen);
        cJSON_AddItemToArray(roles, item);
    }
}

static void add_link(const struct view_context *context, const struct people_facts *facts, cJSON *view) {
    char about[SAY_SIZE], minutes[SAY_SIZE];
    const struct words_hole holes[] = {{"name", facts->link_for},
                                       {"role", role_text(context, facts->link_role)},
                                       {"minutes", say_count(facts->link_minutes, minutes)}};
    cJSON *link = cJSON_AddObjectToObject(view, "link");
    cJSON_AddStringToObject(link, "href", facts->link);
    cJSON_AddStringToObject(link, "about", say_words(context, "people.link", holes, 3, about));
    struct text svg;
    text_init(&svg, 0);
    if (qr_add_svg(facts->link, words_get(context->words, "people.qr"), &svg))
        cJSON_AddStringToObject(link, "qr", text_string(&svg));
    text_free(&svg);
}

cJSON *view_people(const struct view_context *context, const struct people_facts *facts) {
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    cJSON_AddStringToObject(view, "title", words_get(context->words, "people.title"));
    cJSON_AddStringToObject(view, "about",
                            words_get(context->words, facts->count > 0 ? "people.about" : "people.none"));
    cJSON_AddStringToObject(view, "token", facts->token);
    cJSON *list = cJSON_AddArrayToObject(view, "devices");
    for (size_t i = 0; i < facts->count; i++)
        cJSON_AddItemToArray(list, device_view(context, facts, &facts->device[i]));
    add_roles(context,
              facts->role != ACCESS_NOBODY ? facts->role
              : facts->count > 0           ? ACCESS_OPERATOR
                                           : ACCESS_MANAGER,
              view);
    cJSON_AddStringToObject(view, "name", facts->name != NULL ? facts->name : "");
    if (facts->problem != NULL)
        cJSON_AddStringToObject(view, "problem", facts->problem);
    if (facts->link != NULL)
        add_link(context, facts, view);
    return view;
}

cJSON *view_pair(const struct view_context *context, const struct access_device *invited,
                 const char *action) {
    char text[SAY_SIZE];
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    cJSON_AddStringToObject(view, "action", action);
    cJSON_AddBoolToObject(view, "good", invited != NULL);
    if (invited == NULL) {
        cJSON_AddStringToObject(view, "title", words_get(context->words, "pair.over"));
        cJSON_AddStringToObject(view, "about", words_get(context->words, "pair.over.hint"));
        return view;
    }
    const struct words_hole holes[] = {{"name", invited->name}, {"role", role_text(context, invited->role)}};
    cJSON_AddStringToObject(view, "title", say_words(context, "pair.title", holes, 2, text));
    cJSON_AddStringToObject(view, "about", say_words(context, "pair.about", holes, 2, text));
    cJSON_AddStringToObject(view, "submit", words_get(context->words, "pair.submit"));
    return view;
}

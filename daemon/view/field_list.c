#include "daemon/view/field_list.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/view/say.h"

void field_list_text(const struct view_context *context, cJSON *list, const char *key, const char *text) {
    if (text[0] == '\0')
        return;
    cJSON *item = cJSON_CreateObject();
    cJSON_AddStringToObject(item, "name", words_get(context->words, key));
    cJSON_AddStringToObject(item, "text", text);
    cJSON_AddItemToArray(list, item);
}

static const char *say_soil(const struct view_context *context, const struct farm_soil *soil,
                            char out[SAY_SIZE]) {
    char key[sizeof soil->texture + 8];
    if (soil->texture[0] == '\0')
        return soil->name;
    (void)snprintf(key, sizeof key, "texture.%s", soil->texture);
    if (strcmp(soil->name, soil->texture) == 0) /* chosen as a texture: that is its name */
        return words_get(context->words, key);
    const struct words_hole holes[] = {{"soil", soil->name}, {"texture", words_get(context->words, key)}};
    return say_words(context, "fact.soil.texture", holes, 2, out);
}

void field_list_add(const struct view_context *context, const struct field_facts *facts, cJSON *list) {
    char text[SAY_SIZE], key[48];
    const struct system *system = &facts->field.system;
    field_list_text(context, list, "fact.area", say_area(context, system->area_m2, text));
    field_list_text(context, list, "fact.soil", say_soil(context, &facts->soil, text));
    snprintf(key, sizeof key, "system.%d", (int)system->kind);
    field_list_text(context, list, "fact.system", words_get(context->words, key));
    if (system->kind != SYSTEM_NONE) {
        field_list_text(context, list, "fact.efficiency", say_share(context, system->efficiency, text));
        if (isfinite(system->flow_m3_h))
            field_list_text(context, list, "fact.flow", say_flow(context, system->flow_m3_h, text));
        field_list_text(context, list, "fact.supply", facts->field.supply);
    }
    field_list_text(context, list, "fact.station", facts->field.station);
}

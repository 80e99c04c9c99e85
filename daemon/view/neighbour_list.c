#include "daemon/view/neighbour_list.h"

#include <math.h>
#include <stdio.h>

#include "daemon/view/frame.h"

char *neighbour_say(const struct view_context *context, const struct neighbour_place *place,
                    char out[SAY_SIZE]) {
    char distance[SAY_SIZE], height[SAY_SIZE];
    const struct words_hole holes[] = {{"name", place->name},
                                       {"distance", say_distance(context, place->distance_km, distance)},
                                       {"height", say_height(context, fabs(place->higher_m), height)}};
    const char *key = fabs(place->higher_m) < 0.5 ? "neighbour.level"
                      : place->higher_m > 0       ? "neighbour.higher"
                                                  : "neighbour.lower";
    return say_words(context, key, holes, 3, out);
}

cJSON *neighbour_list(const struct view_context *context, const struct neighbour_place *places, int count) {
    cJSON *list = cJSON_CreateArray();
    for (int i = 0; i < count; i++) {
        char text[SAY_SIZE], whole[2 * SAY_SIZE];
        cJSON *item = cJSON_CreateObject();
        snprintf(whole, sizeof whole, "%s%s", neighbour_say(context, &places[i], text),
                 places[i].far ? words_get(context->words, "neighbour.far") : "");
        cJSON_AddStringToObject(item, "name", places[i].name);
        frame_number(item, "distance_km", places[i].distance_km);
        frame_number(item, "higher_m", places[i].higher_m);
        cJSON_AddBoolToObject(item, "far", places[i].far);
        cJSON_AddStringToObject(item, "text", whole);
        cJSON_AddItemToArray(list, item);
    }
    return list;
}

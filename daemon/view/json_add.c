#include "daemon/view/json_add.h"

#include <math.h>

#include "core/base/calendar.h"
#include "daemon/view/number.h"

void json_add_number(cJSON *object, const char *name, double value) {
    struct text digits;
    if (!isfinite(value)) {
        cJSON_AddNullToObject(object, name);
        return;
    }
    text_init(&digits, 0);
    number_add_shortest(&digits, value);
    cJSON_AddRawToObject(object, name, text_string(&digits));
    text_free(&digits);
}

void json_add_date(cJSON *object, const char *name, int32_t date) {
    char iso[CALENDAR_ISO_SIZE];
    if (calendar_valid(date))
        cJSON_AddStringToObject(object, name, calendar_format_iso(date, iso));
    else
        cJSON_AddNullToObject(object, name);
}

cJSON *json_add_entry(cJSON *array) {
    cJSON *entry = cJSON_CreateObject();
    cJSON_AddItemToArray(array, entry);
    return entry;
}

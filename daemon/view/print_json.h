/* JSON with every digit. */
#ifndef WATERTURN_PRINT_JSON_H
#define WATERTURN_PRINT_JSON_H

#include <stdbool.h>

#include <cjson/cJSON.h>

#include "core/base/status.h"
#include "daemon/base/text.h"

/* Adds the view as JSON. cJSON prints what reads back nearly the same number; here each is printed so that it
 * reads back as the same bits, for which the view's numbers turn into raw items. False: no memory. */
bool print_json(cJSON *view, bool formatted, struct text *out);

/* Adds a document of cJSON's own digits and a line's end, and frees it. STATUS_NO_MEMORY, also when it is
 * NULL. */
enum status print_json_document(cJSON *json, struct text *out);

#endif

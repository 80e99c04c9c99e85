/* What a field is, as a list of names and texts: for its page and for the record on paper. */
#ifndef WATERTURN_FIELD_LIST_H
#define WATERTURN_FIELD_LIST_H

#include <cjson/cJSON.h>

#include "daemon/view/view.h"

/* Adds {"name": the words of `key`, "text": text} to a list; nothing when the text is empty. */
void field_list_text(const struct view_context *context, cJSON *list, const char *key, const char *text);

/* Area, soil, system, efficiency, supply, station. */
void field_list_add(const struct view_context *context, const struct field_facts *facts, cJSON *list);

#endif

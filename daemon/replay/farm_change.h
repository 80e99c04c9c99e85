/* A farm file with some of its settings changed, as "planting:Trial plot B.allowed_depletion" = "60 %". The
 * change is made in the file's own words and the whole is read and checked anew, so that whatever a farm file
 * can say can be changed, with the same units and the same messages. */
#ifndef WATERTURN_FARM_CHANGE_H
#define WATERTURN_FARM_CHANGE_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stddef.h>

#include "daemon/base/problem.h"
#include "daemon/farm/farm.h"

/* A list of settings and their values: an object whose keys are settings. The numbers in it are kept as they
 * were written. All of these are freed with cJSON_Delete(). */

/* From JSON text with comments; `name` stands in messages. STATUS_REFUSED. */
enum status change_parse(const char *name, const char *text, size_t size, cJSON **out,
                         struct problems *problems);

/* From "KEY = VALUE; KEY = VALUE", as on a command line; a value is JSON, or else the text as it stands.
 * STATUS_USAGE with the reason in `problems`. */
enum status change_of_words(const char *words, cJSON **out, struct problems *problems);

/* A value as written: of a string its text, of a number its digits; NULL for anything else. */
const char *change_text(const cJSON *value);

/* Whether a setting names a part of the farm file ("planting:", "field:", "soil:", "station:", "supply:"). */
bool change_of_farm(const char *key);

/* Reads the farm that `file` (from change_parse()) describes once the settings in `changes` for which
 * change_of_farm() holds are put over it. A planting is named by its field, and by "@" and its date where the
 * field has several: "planting:East pivot@2026-05-18.kcb.mid". Another crop or region brings all its own
 * values, another texture its own soil. A setting whose value is null is taken out. Messages begin with
 * `name`. STATUS_REFUSED, and `farm` is then empty. */
enum status change_farm(const char *name, const cJSON *file, const cJSON *changes, struct farm *farm,
                        struct problems *problems);

#endif

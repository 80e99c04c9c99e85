/* What all view models have in common. */
#ifndef WATERTURN_FRAME_H
#define WATERTURN_FRAME_H

#include <cjson/cJSON.h>

#include "daemon/view/say.h"
#include "daemon/view/view.h"

/* language, farm, date, units, switches, the last run, problems, and `labels`: the words of "label." NULL: no
 * memory. */
cJSON *frame_new(const struct view_context *context);

/* One field as Today shows it; `id` numbers its ribbon. NULL: no memory. */
cJSON *frame_field(const struct view_context *context, const struct field_morning *morning, int id);

/* The call in one sentence: its head ("Water today:") and the rest. */
char *frame_sentence(const struct view_context *context, const struct field_morning *morning,
                     char out[2 * SAY_SIZE + 1]);

/* null when not finite. `key` must last as long as the object, here and in frame_date(). */
void frame_number(cJSON *object, const char *key, double value);
/* "YYYY-MM-DD", null for no date. */
void frame_date(cJSON *object, const char *key, int32_t date);
#define FRAME_PATH_SIZE (3 * FARM_NAME_SIZE + 128)
/* before, the name percent-encoded, after. Returns `out`. */
char *frame_path(const char *before, const char *name, const char *after, char out[FRAME_PATH_SIZE]);
/* "/field/NAME" with the name percent-encoded, and `tail` after it. */
void frame_link(cJSON *object, const char *key, const char *field, const char *tail);

/* The name of a stage in the language's words; "" outside the enum. */
const char *frame_stage(const struct view_context *context, enum crop_stage stage);

/* What is not measured or derived on some days: "humidity, wind estimated", one string for each origin, added
 * to `list`. */
void frame_origins(const struct view_context *context, const struct ledger_origins *days, size_t count,
                   cJSON *list);

#endif

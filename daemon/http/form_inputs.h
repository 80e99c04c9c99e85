/* Reads the inputs of a form that was sent. What is wrong goes beside its input, in the visitor's words; the
 * functions then return false and write nothing. */
#ifndef WATERTURN_FORM_INPUTS_H
#define WATERTURN_FORM_INPUTS_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/farm/quantity.h"
#include "daemon/http/request.h"

/* Whether anything was written into an input. */
bool input_given(const struct request *request, const char *name);

/* A number in the unit that was chosen beside it (NAME_unit) or written behind it, to the unit of core/. A
 * comma is a decimal sign in any language, unless it may part thousands in this one. */
bool input_quantity(const struct request *request, const char *name, enum quantity_kind kind,
                    const struct quantity_limits *limits, double *out);
/* The same as a setting has it, "62.5 %", wherever it lies. */
bool input_written(const struct request *request, const char *name, enum quantity_kind kind, char *out,
                   size_t size);
/* The number where a value may be there before (NaN: none): one that is sent back as it was shown, rounded,
 * stays as it is to the last bit. */
bool input_change(const struct request *request, const char *name, enum quantity_kind kind,
                  const struct quantity_limits *limits, double *value);
/* Left empty, the value stays as it is; or there is none any more. */
bool input_change_or_keep(const struct request *request, const char *name, enum quantity_kind kind,
                          const struct quantity_limits *limits, double *value);
bool input_change_or_none(const struct request *request, const char *name, enum quantity_kind kind,
                          const struct quantity_limits *limits, double *value);

/* What an input shows before a person writes: six digits, and the unit (NULL: none); of NaN the unit alone.
 * What was sent stays. */
void input_show(const struct request *request, struct fill *fill, const char *name, double value,
                const char *unit);

/* A whole number, also of hours; `low` and `high` are at most 10000 apart. */
bool input_whole(const struct request *request, const char *name, enum quantity_kind kind, int low, int high,
                 int *out);

/* Water as it was delivered by a system: a depth, a volume or hours, by the chosen unit. The gross depth, mm;
 * a depth as input_change() has it. */
bool input_water(const struct request *request, const char *name, const struct system *system,
                 double *gross_mm);

/* A date from `first` to `last`. */
bool input_date(const struct request *request, const char *name, int32_t first, int32_t last, int32_t *out);

/* The date of a record on a field, in the input "date": not before the first balance of the field, of which
 * the plantings are in `farm`, nor ten years ago, nor after today. */
bool input_record_date(const struct request *request, const struct farm *farm, const char *field,
                       int32_t today, int32_t *out);

/* A text of less than `size` bytes without blanks around it; `required`: it may not be empty. */
bool input_text(const struct request *request, const char *name, bool required, char *out, size_t size);

/* Refuses an input with the words of a key; `low` and `high` fill its holes (NULL: none). */
void input_refuse(const struct request *request, const char *name, const char *key, const char *low,
                  const char *high);

/* The chosen unit of an input: its kind tells a depth from a volume. NULL: none that is known. */
const struct unit *input_unit(const struct request *request, const char *name);

#endif

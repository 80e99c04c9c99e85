/* The ribbon: the picture of a field as an SVG element. One cell for each day from the left: MORNING_PAST
 * days past, MORNING_AHEAD to come. A cell's tone is the depletion as a share of the allowed one, hatched
 * where past it. Rain hangs from the upper edge, irrigation stands on the lower one, both to one scale. Days
 * to come are outlined. */
#ifndef WATERTURN_RIBBON_H
#define WATERTURN_RIBBON_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/base/text.h"
#include "daemon/store/ledger_store.h"
#include "daemon/view/words.h"

/* Adds the ribbon of a field as it is seen on the morning of `today`. `id` makes the ids in it differ from
 * those of the page's other ribbons: any number, once a page. Rows outside its days are left out; a day
 * without a row, or with a depletion that is not known, shows as an empty cell. `us_units`: the sentence
 * speaks in inches. */
void ribbon_add(const struct field_morning *morning, int32_t today, int id, bool us_units,
                const struct words *words, struct text *out);

#endif

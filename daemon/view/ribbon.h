/* The ribbon: the picture of a field as an SVG element. One cell for each day from the left: MORNING_PAST
 * days past, MORNING_AHEAD to come. A cell's tone is the depletion as a share of the allowed one, hatched
 * where past it. Rain hangs from the upper edge, irrigation stands on the lower one, both to one scale. Days
 * to come are outlined; where the call has an outlook their tone is split in three bands, from the upper
 * edge: the depletion that 10, 50 and 90 % of its members do not pass. */
#ifndef WATERTURN_RIBBON_H
#define WATERTURN_RIBBON_H

#include "daemon/base/text.h"
#include "daemon/store/ledger_store.h"
#include "daemon/view/view.h"

/* Adds the ribbon of a field as it is seen this morning. `id` makes the ids in it differ from those of the
 * page's other ribbons. Rows outside its days are left out; a day without a row, or with a depletion that is
 * not known, shows as an empty cell. No text from outside gets in. Bars are drawn to the largest of them, at
 * least RIBBON_SCALE_MM. */
void ribbon_add(const struct view_context *context, const struct field_morning *morning, int id,
                struct text *out);

#define RIBBON_SCALE_MM 25

#endif

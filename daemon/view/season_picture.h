/* The season so far as an SVG element, in the language of the ribbon. Rain hangs from the upper edge,
 * irrigation stands on the lower one, both to one scale; between them the depletion goes down from field
 * capacity, with the allowed one as a broken line, hatched where past it. Below are the stages and months. A
 * line marks this morning; days to come are outlined. */
#ifndef WATERTURN_SEASON_PICTURE_H
#define WATERTURN_SEASON_PICTURE_H

#include "daemon/base/text.h"
#include "daemon/store/ledger_store.h"
#include "daemon/view/view.h"

#define SEASON_PICTURE_DAYS_MAX 750 /* only the newest of more are drawn */

/* Adds the picture of a planting: `rows` is its ledger, oldest first; `morning` (may be NULL) has the days to
 * come. Nothing is added when there is no day to draw. False: no memory. */
bool season_picture_add(const struct view_context *context, const struct field_morning *morning,
                        const struct ledger_row *rows, size_t count, struct text *out);

#endif

/* What the forms of a new field and of a planting share. */
#ifndef WATERTURN_FORM_PLANTING_H
#define WATERTURN_FORM_PLANTING_H

#include "daemon/http/form_edit.h"
#include "daemon/view/frame.h"

/* The crop, with the library's names as proposals. */
void planting_add_crop(struct edit *edit);
/* The crop that was written, from the library, into the draft; a crop that stays the same keeps its values.
 */
void planting_read_crop(struct edit *edit);
void planting_read_dates(struct edit *edit);
/* Adds a planting at the end of the farm's. */
enum status planting_append(const struct farm_planting *fresh, struct farm *farm, size_t *planting);

#endif

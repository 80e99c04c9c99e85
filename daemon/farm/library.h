/* The crops and soils that ship with the program: config/crops.json and config/soils.json, compiled in.
 * Every name is matched without regard to case; crops and textures also by their other names ("corn"). */
#ifndef WATERTURN_LIBRARY_H
#define WATERTURN_LIBRARY_H

#include <stddef.h>

#include "core/balance/crop.h"
#include "core/balance/soil.h"
#include "core/base/status.h"
#include "daemon/base/problem.h"

struct library;

/* Reads the compiled-in files. What is wrong with them is added to `problems`, and STATUS_REFUSED returned.
 */
enum status library_open(struct library **library, struct problems *problems);
void library_free(struct library *library);

/* A crop by name or other name. `region` names a row of stage lengths: as library_region_name() writes it
 * ("Mediterranean, April"), or only the region ("Mediterranean": its first row); "" or NULL: the first row.
 * STATUS_NOT_FOUND: no such crop, or no such region for it; `out` is not written.
 * STATUS_MISSING: `out` is written, but no table gives some of what the balance needs (stage lengths, rooting
 * depth, p): those members are NaN; library_crop_gap() says which. Where the stage lengths of a
 * forage crop are missing, so are those after a cutting. */
enum status library_crop(const struct library *library, const char *name, const char *region,
                         struct crop *out);

/* Why no table gives something of a crop, in words; NULL when one does. Keys: "stage_days", "kcb",
 * "root_depth", "depletion_fraction", which the balance needs, and "salt" and "ky", which it can do without.
 */
const char *library_crop_open(const struct library *library, const char *name, const char *key);
/* What the balance needs and no table gives: the key of the first gap from `*at` on and why, as above; `*at`
 * is then behind it. NULL: there is none. */
const char *library_crop_gap(const struct library *library, const char *name, size_t *at, const char **why);

/* The name under which the library keeps a crop (for "corn": "maize, grain"); NULL: no such crop. */
const char *library_crop_canonical(const struct library *library, const char *name);
/* The name or other name nearest to a mistyped one, by edit distance; NULL when none is near. */
const char *library_crop_nearest(const struct library *library, const char *name);
const char *library_region_nearest(const struct library *library, const char *crop, const char *region);
const char *library_texture_nearest(const struct library *library, const char *texture);

/* Pick lists, in the order of the tables; NULL past the end. */
size_t library_crop_count(const struct library *library);
const char *library_crop_name(const struct library *library, size_t index);
size_t library_region_count(const struct library *library, const char *crop);
const char *library_region_name(const struct library *library, const char *crop, size_t index);
size_t library_texture_count(const struct library *library);
const char *library_texture_name(const struct library *library, size_t index);

/* The soil of a texture class: one layer, with the values of Table 19 (mid-points of its ranges), or, for the
 * three classes that it leaves out, of Saxton and Rawls (2006). Curve number and intake are NaN.
 * STATUS_NOT_FOUND. */
enum status library_soil(const struct library *library, const char *texture, struct soil *out);

/* Curve numbers II by cover ("row crops, straight row, good"), hydrologic soil group 'A'..'D' (or lower
 * case). */
size_t library_cover_count(const struct library *library);
const char *library_cover_name(const struct library *library, size_t index);
enum status library_curve_number(const struct library *library, const char *cover, char group, double *out);

#endif

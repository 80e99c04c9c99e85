/* Yield from the water that the crop had. FAO-56 eq. 90, and J. Doorenbos and A.H. Kassam, Yield response to
 * water, FAO Irrigation and Drainage Paper 33, 1979. Yields are shares of Ym, the yield without water stress.
 */
#ifndef WATERTURN_YIELD_H
#define WATERTURN_YIELD_H

#include <stdbool.h>

#include "core/base/status.h"

#define YIELD_STAGES_MAX                                                                                     \
    5 /* FAO-33 has at most: early and late vegetative, flowering, yield formation, ripening */

/* Water over a season or a stage. */
struct yield_water {
    double ky;     /* yield response factor, 0..3; NaN: none published */
    double etc_mm; /* crop evapotranspiration without stress, 0..1e5 */
    double eta_mm; /* as it was, 0..etc_mm */
};

struct yield_share {
    double relative; /* Ya / Ym, 0..1 */
    double lost;     /* 1 - relative */
    bool total_loss; /* Ky (1 - ETa/ETc) is 1 or more (for stages: in one of them); `relative` is then 0,
                        where the straight line of eq. 90 may go below it and has no meaning */
};

/* Eq. 90 over the season: Ya / Ym = 1 - Ky (1 - ETa / ETc). STATUS_MISSING: Ky is NaN, or ETc is 0.
 * STATUS_NOT_FINITE. STATUS_OUT_OF_RANGE. STATUS_ORDER: ETa above ETc. */
enum status yield_season(const struct yield_water *season, struct yield_share *out);

/* What one stage did. */
struct yield_stage {
    bool counted;  /* it has a Ky, and was reached (ETc above 0) */
    double factor; /* 1 - Ky (1 - ETa / ETc), at least 0; NaN when not counted */
    double cost; /* share of Ym lost in this stage: (1 - factor) x what the stages before had left; 0 when not
                    counted. The costs add up to `lost`. */
};

/* Eq. 90 by stages, as a product in the order of the stages: Ya / Ym = product of the factors. Form: N.H.
 * Rao, P.B.S. Sarma, S. Chander, A simple dated water-production function for use in irrigated agriculture,
 * Agric. Water Manage. 13, 1988 (from memory). `stage` has `count` members, 1..YIELD_STAGES_MAX, and so has
 * `each`. Statuses as above; STATUS_MISSING: no stage counted; STATUS_NO_ROOM: count outside its range. On
 * failure nothing is written. */
enum status yield_by_stage(const struct yield_water *stage, int count, struct yield_share *out,
                           struct yield_stage *each);

#endif

#include "core/balance/yield.h"

#include <math.h>

/* Ranges and order; a Ky of NaN passes. */
static enum status check_water(const struct yield_water *water) {
    if (isinf(water->ky) || !isfinite(water->etc_mm) || !isfinite(water->eta_mm))
        return STATUS_NOT_FINITE;
    if (water->ky < 0 || water->ky > 3 || water->eta_mm < 0 || water->etc_mm < 0 || water->etc_mm > 1e5)
        return STATUS_OUT_OF_RANGE;
    return water->eta_mm > water->etc_mm ? STATUS_ORDER : STATUS_OK;
}

static bool counts(const struct yield_water *water) {
    return !isnan(water->ky) && water->etc_mm > 0;
}

/* The straight line of eq. 90; may be negative. */
static double line(const struct yield_water *water) {
    return 1 - water->ky * (1 - water->eta_mm / water->etc_mm);
}

static struct yield_share share(double relative) {
    return (struct yield_share){.relative = relative, .lost = 1 - relative, .total_loss = relative <= 0};
}

enum status yield_season(const struct yield_water *season, struct yield_share *out) {
    enum status status = check_water(season);
    if (status != STATUS_OK)
        return status;
    if (!counts(season))
        return STATUS_MISSING;
    *out = share(fmax(line(season), 0));
    return STATUS_OK;
}

enum status yield_by_stage(const struct yield_water *stage, int count, struct yield_share *out,
                           struct yield_stage *each) {
    if (count < 1 || count > YIELD_STAGES_MAX)
        return STATUS_NO_ROOM;
    int counted = 0;
    for (int i = 0; i < count; i++) {
        enum status status = check_water(&stage[i]);
        if (status != STATUS_OK)
            return status;
        counted += counts(&stage[i]);
    }
    if (counted == 0)
        return STATUS_MISSING;
    double left = 1;
    for (int i = 0; i < count; i++) {
        each[i] = (struct yield_stage){.counted = false, .factor = NAN, .cost = 0};
        if (!counts(&stage[i]))
            continue;
        double factor = fmax(line(&stage[i]), 0);
        each[i] = (struct yield_stage){.counted = true, .factor = factor, .cost = (1 - factor) * left};
        left *= factor;
    }
    *out = share(left);
    return STATUS_OK;
}

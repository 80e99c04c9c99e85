/* Many days of one place at once: what weather_complete_at() and reference_et_day() make of each, to the last
 * bit, in a third of their time. What has to be decided (what is missing, which rule) is decided day by day,
 * and then each equation is reckoned for all days of a block side by side, which compilers turn into the
 * processor's vectors. */
#ifndef WATERTURN_DAY_BLOCK_H
#define WATERTURN_DAY_BLOCK_H

#include "core/weather/reference_et.h"
#include "core/weather/weather.h"

/* One of the days. The caller sets all but `status`. */
struct day_block_day {
    const struct weather_day *reported;
    unsigned suspect; /* weather_suspects() of its findings; 0: none */
    struct weather_full *full;
    double *et_mm;      /* room by enum reference_kind */
    enum status status; /* as weather_complete(); on anything but STATUS_OK full and et_mm are not written */
};

/* Completes `count` days, 0 or more, of a place that weather_place_open() accepted. ET is reckoned of the
 * kinds whose bits (1 << enum reference_kind) are in `kinds`, and by no others is et_mm written. */
void day_block_complete(struct weather_place *place, unsigned kinds, struct day_block_day *day, int count);

#endif

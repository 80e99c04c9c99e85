#include "daemon/source/place_days.h"

#include <stddef.h>

#include "core/base/calendar.h"

#define HALF_YEAR_D 182

int64_t place_offset(const struct layout *layout, int64_t time) {
    if (layout->time.zone == ZONE_AS_WRITTEN || layout->zone == NULL)
        return 0;
    return layout->zone(layout->zone_context, time);
}

int32_t place_date(const struct layout *layout, int64_t time) {
    int64_t local = time + place_offset(layout, time) - layout->time.day_begins_s;
    int64_t day = local / PLACE_DAY_S - (local % PLACE_DAY_S < 0);
    return (int32_t)day;
}

int64_t place_day_start(const struct layout *layout, int32_t date) {
    int64_t local = date * PLACE_DAY_S + layout->time.day_begins_s;
    int64_t time = local - place_offset(layout, local);
    return local - place_offset(layout, time);
}

/* What a clock is ahead of UTC when it shows this time. */
static int64_t ahead_at(const struct layout *layout, int64_t shown) {
    int64_t near = layout->zone(layout->zone_context, shown);
    return layout->zone(layout->zone_context, shown - near);
}

int64_t place_day_length(const struct layout *layout, int32_t date) {
    int64_t start = place_day_start(layout, date), next = place_day_start(layout, date + 1);
    if (layout->time.zone != ZONE_AS_WRITTEN || layout->zone == NULL || !layout->time.summer_time)
        return next - start;
    int64_t left_out = ahead_at(layout, next) - ahead_at(layout, start);
    return next - start - (left_out > 0 ? left_out : 0);
}

int64_t place_day_start_utc(const struct layout *layout, int32_t date) {
    int64_t start = place_day_start(layout, date);
    if (layout->time.zone != ZONE_AS_WRITTEN || layout->zone == NULL)
        return start;
    /* At local noon, when no clock is set. */
    int64_t now = layout->zone(layout->zone_context, start + PLACE_DAY_S / 2);
    int64_t then = layout->zone(layout->zone_context, start + HALF_YEAR_D * PLACE_DAY_S);
    return start - (layout->time.summer_time || now < then ? now : then);
}

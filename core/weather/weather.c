#include "core/weather/weather.h"

#include <math.h>

struct weather_day weather_day_empty(int32_t date) {
    struct weather_day day = {.date = date};
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        day.value[i] = (double)NAN;
        day.origin[i] = ORIGIN_MISSING;
    }
    return day;
}

struct weather_site weather_site_default(double latitude_deg, double elevation_m) {
    struct weather_site site = {.latitude_deg = latitude_deg,
                                .elevation_m = elevation_m,
                                .wind_height_m = 2.0,
                                .coastal = false,
                                .krs = (double)NAN,
                                .angstrom_as = 0.25,
                                .angstrom_bs = 0.50,
                                .aridity_c = 0.0,
                                .wind_default_m_s = 2.0};
    return site;
}

enum status weather_site_check(const struct weather_site *site) {
    const struct {
        double value, low, high;
    } range[] = {{site->latitude_deg, -90.0, 90.0},
                 {site->elevation_m, -430.0, 6000.0},
                 {site->wind_height_m, 0.5, 100.0},
                 {isnan(site->krs) ? 0.16 : site->krs, 0.05, 0.3},
                 {site->angstrom_as, 0.0, 1.0},
                 {site->angstrom_bs, 0.0, 1.0},
                 {site->angstrom_as + site->angstrom_bs, 0.2, 1.0},
                 {site->aridity_c, 0.0, 5.0},
                 {site->wind_default_m_s, 0.5, 10.0}};
    for (unsigned i = 0; i < sizeof range / sizeof range[0]; i++) {
        if (!isfinite(range[i].value))
            return STATUS_NOT_FINITE;
        if (range[i].value < range[i].low || range[i].value > range[i].high)
            return STATUS_OUT_OF_RANGE;
    }
    return STATUS_OK;
}

#include "daemon/morning/station_hours.h"

#include <math.h>
#include <stddef.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"

bool station_hours_believed(const struct weather_day *seen, const struct weather_findings *findings) {
    for (int i = 0; i < findings->count; i++) {
        enum weather_element element = findings->finding[i].element;
        if (findings->finding[i].suspect && element != WEATHER_RAIN_MM && element != WEATHER_PRESSURE_KPA)
            return false;
    }
    return !isnan(seen->value[WEATHER_TMAX_C]) && !isnan(seen->value[WEATHER_TMIN_C]) &&
           !isnan(seen->value[WEATHER_WIND_M_S]) && !isnan(seen->value[WEATHER_RS_MJ_M2]);
}

/* At 2 m (eq. 47), and on the clock of UTC. */
static struct reference_hours hours_at_2m(const struct weather_hours *seen, const struct weather_site *site) {
    struct reference_hours hours = {.start_h = seen->start_utc_h};
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        const struct weather_hour *hour = &seen->hour[h];
        hours.hour[h] = (struct reference_hour){
            hour->t_c, hour->ea_kpa, air_wind_2m_m_s(hour->wind_m_s, site->wind_height_m), hour->rs_mj_m2};
    }
    return hours;
}

/* Rs/Rso of the evening before, else of the day. */
static double clearness_before(const struct weather_hours *before, const struct weather_site *site,
                               const struct weather_full *full, const struct station_hours *of_day) {
    double clearness = (double)NAN, rs_mj_m2 = 0.0;
    if (before != NULL) {
        struct reference_hours hours = hours_at_2m(before, site);
        clearness = reference_evening_clearness(&hours, &of_day->place, calendar_day_of_year(before->date));
    }
    if (!isnan(clearness))
        return clearness;
    for (int h = 0; h < REFERENCE_HOURS; h++)
        rs_mj_m2 += of_day->hours.hour[h].rs_mj_m2;
    return sun_clearness(rs_mj_m2, full->rso_mj_m2);
}

bool station_hours_make(const struct farm_station *station, const struct weather_days *observed,
                        const struct weather_full *full, struct station_hours *out) {
    const struct weather_site *site = &station->site;
    const struct weather_hours *seen = weather_days_hours(observed, full->date);
    if (seen == NULL || !station->hourly_et0 || isnan(station->longitude_deg) || isnan(full->rso_mj_m2))
        return false;
    out->hours = hours_at_2m(seen, site);
    out->place =
        (struct reference_place){{site->latitude_deg, station->longitude_deg, 0.0}, site->elevation_m};
    out->clearness_before = clearness_before(weather_days_hours(observed, full->date - 1), site, full, out);
    return true;
}

bool station_hours_sum(const struct station_hours *hours, int32_t date,
                       double et0_mm[REFERENCE_ASCE_TALL + 1]) {
    for (int kind = 0; kind <= REFERENCE_ASCE_TALL; kind++) {
        struct reference_hours_sum sum;
        if (reference_et_hours_summed(&hours->hours, &hours->place, calendar_day_of_year(date),
                                      hours->clearness_before, (enum reference_kind)kind, &sum) != STATUS_OK)
            return false;
        et0_mm[kind] = sum.et_mm;
    }
    return true;
}

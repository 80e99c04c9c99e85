#include "core/weather/station_transfer.h"

#include <math.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/sun.h"

#define EARTH_RADIUS_KM 6371.0088
#define LAPSE_MIN_C_KM  (-10.0)
#define LAPSE_MAX_C_KM  15.0
#define ELEVATION_MIN_M (-430.0)
#define ELEVATION_MAX_M 6000.0

static const double radians = 3.14159265358979323846 / 180.0;

/* False also for NaN. */
static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

static bool elevations(double from_m, double to_m) {
    return within(from_m, ELEVATION_MIN_M, ELEVATION_MAX_M) && within(to_m, ELEVATION_MIN_M, ELEVATION_MAX_M);
}

double station_distance_km(double latitude_a_deg, double longitude_a_deg, double latitude_b_deg,
                           double longitude_b_deg) {
    if (!within(latitude_a_deg, -90.0, 90.0) || !within(latitude_b_deg, -90.0, 90.0) ||
        !within(longitude_a_deg, -180.0, 180.0) || !within(longitude_b_deg, -180.0, 180.0))
        return (double)NAN;
    double across = sin((latitude_b_deg - latitude_a_deg) * radians / 2.0);
    double along = sin((longitude_b_deg - longitude_a_deg) * radians / 2.0);
    double half =
        across * across + cos(latitude_a_deg * radians) * cos(latitude_b_deg * radians) * along * along;
    return 2.0 * EARTH_RADIUS_KM * asin(sqrt(fmin(half, 1.0)));
}

double station_temperature_c(double t_c, double from_m, double to_m, double lapse_c_km) {
    if (!within(t_c, -100.0, 100.0) || !elevations(from_m, to_m) ||
        !within(lapse_c_km, LAPSE_MIN_C_KM, LAPSE_MAX_C_KM))
        return (double)NAN;
    return t_c + lapse_c_km * (from_m - to_m) / 1000.0;
}

double station_pressure_kpa(double pressure_kpa, double from_m, double to_m) {
    if (!within(pressure_kpa, 30.0, 120.0) || !elevations(from_m, to_m))
        return (double)NAN;
    return pressure_kpa * (air_pressure_kpa(to_m) / air_pressure_kpa(from_m));
}

double station_vapour_kpa(double ea_kpa, double from_m, double to_m) {
    if (!within(ea_kpa, 0.0, 20.0) || !elevations(from_m, to_m))
        return (double)NAN;
    return ea_kpa * (air_pressure_kpa(to_m) / air_pressure_kpa(from_m));
}

double station_radiation_mj_m2(double rs_mj_m2, double from_latitude_deg, double to_latitude_deg,
                               int day_of_year) {
    struct sun_day from, to;
    if (!within(rs_mj_m2, 0.0, 60.0) || sun_of_day(from_latitude_deg, day_of_year, &from) != STATUS_OK ||
        sun_of_day(to_latitude_deg, day_of_year, &to) != STATUS_OK)
        return (double)NAN;
    return from.ra_mj_m2 > 0.0 ? rs_mj_m2 * (to.ra_mj_m2 / from.ra_mj_m2) : rs_mj_m2;
}

double station_wind_m_s(double wind_m_s, double from_height_m, double to_height_m) {
    return air_wind_2m_m_s(wind_m_s, from_height_m) / air_wind_2m_m_s(1.0, to_height_m);
}

static void put(struct weather_day *out, enum weather_element element, double value) {
    if (isnan(value))
        return;
    out->value[element] = value;
    out->origin[element] = ORIGIN_NEIGHBOUR;
}

static bool suspect(const struct weather_findings *findings, enum weather_element element) {
    for (int i = 0; i < findings->count; i++) {
        if (findings->finding[i].suspect && findings->finding[i].element == element)
            return true;
    }
    return false;
}

/* The value of the neighbour where it is there and believed. */
static double believed(const struct weather_day *from, const struct weather_findings *findings,
                       enum weather_element element) {
    return suspect(findings, element) ? (double)NAN : from->value[element];
}

static double measured(const struct weather_value *value) {
    return value->origin == ORIGIN_MEASURED || value->origin == ORIGIN_DERIVED ? value->value : (double)NAN;
}

enum status station_transfer(const struct weather_day *from, const struct weather_site *from_site,
                             const struct weather_site *to_site, double lapse_c_km, struct weather_day *out) {
    struct weather_findings findings = {0};
    struct weather_full full;
    *out = weather_day_empty(from->date);
    enum status status = weather_site_check(to_site);
    if (status == STATUS_OK && !within(lapse_c_km, LAPSE_MIN_C_KM, LAPSE_MAX_C_KM))
        status = STATUS_OUT_OF_RANGE;
    if (status == STATUS_OK)
        status = weather_check(from, NULL, NULL, NULL, 0, from_site, &findings);
    /* A day alone, without those before it, has fewer findings than there is room for. */
    if (status != STATUS_OK)
        return status;
    double from_m = from_site->elevation_m, to_m = to_site->elevation_m;
    double pressure = believed(from, &findings, WEATHER_PRESSURE_KPA);
    double rs = believed(from, &findings, WEATHER_RS_MJ_M2);
    double rain = believed(from, &findings, WEATHER_RAIN_MM);
    double wind = believed(from, &findings, WEATHER_WIND_M_S);
    if (weather_complete(from, from_site, &findings, &full) == STATUS_OK) {
        put(out, WEATHER_TMAX_C, station_temperature_c(full.tmax_c.value, from_m, to_m, lapse_c_km));
        put(out, WEATHER_TMIN_C, station_temperature_c(full.tmin_c.value, from_m, to_m, lapse_c_km));
        put(out, WEATHER_EA_KPA, station_vapour_kpa(measured(&full.ea_kpa), from_m, to_m));
        rs = measured(&full.rs_mj_m2);
    }
    put(out, WEATHER_PRESSURE_KPA, station_pressure_kpa(pressure, from_m, to_m));
    put(out, WEATHER_WIND_M_S, station_wind_m_s(wind, from_site->wind_height_m, to_site->wind_height_m));
    put(out, WEATHER_RS_MJ_M2,
        station_radiation_mj_m2(rs, from_site->latitude_deg, to_site->latitude_deg,
                                calendar_day_of_year(from->date)));
    if (within(rain, 0.0, WEATHER_RAIN_MAX_MM))
        put(out, WEATHER_RAIN_MM, rain);
    return STATUS_OK;
}

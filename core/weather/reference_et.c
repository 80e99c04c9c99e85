#include "core/weather/reference_et.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "core/weather/air.h"
#include "core/weather/equations.h"
#include "core/weather/weather_inside.h"

const struct reference_constants reference_daily[] = {
    [REFERENCE_FAO56_GRASS] = {900.0, 0.34},
    [REFERENCE_ASCE_SHORT] = {900.0, 0.34},
    [REFERENCE_ASCE_TALL] = {1600.0, 0.38},
};

/* The same for hours (eq. 53), and G as a share of Rn: FAO-56 eqs 45, 46; ASCE-EWRI eqs 65, 66. */
static const struct {
    struct reference_constants constants;
    double soil_heat;
} by_day[] =
    {
        [REFERENCE_FAO56_GRASS] = {{37.0, 0.34}, 0.1},
        [REFERENCE_ASCE_SHORT] = {{37.0, 0.24}, 0.1},
        [REFERENCE_ASCE_TALL] = {{66.0, 0.25}, 0.04},
},
  by_night[] = {
      [REFERENCE_FAO56_GRASS] = {{37.0, 0.34}, 0.5},
      [REFERENCE_ASCE_SHORT] = {{37.0, 0.96}, 0.5},
      [REFERENCE_ASCE_TALL] = {{66.0, 1.7}, 0.2},
};

#define KIND_COUNT ((unsigned)(sizeof reference_daily / sizeof reference_daily[0]))

struct needed {
    double value, low, high;
};

static enum status check_needed(const struct needed *needed, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (isnan(needed[i].value))
            return STATUS_MISSING;
        if (isinf(needed[i].value))
            return STATUS_NOT_FINITE;
        if (needed[i].value < needed[i].low || needed[i].value > needed[i].high)
            return STATUS_OUT_OF_RANGE;
    }
    return STATUS_OK;
}

enum status reference_et_day(const struct weather_full *day, const struct weather_site *site,
                             enum reference_kind kind, struct reference_et_terms *terms, double *et_mm) {
    double pressure =
        isnan(day->pressure_kpa.value) ? air_pressure_kpa(site->elevation_m) : day->pressure_kpa.value;
    const struct needed needed[] = {{day->tmax_c.value, -100.0, 100.0},    {day->tmin_c.value, -100.0, 100.0},
                                    {day->tmean_c.value, -100.0, 100.0},   {day->ea_kpa.value, 0.0, 20.0},
                                    {day->wind_2m_m_s.value, 0.0, 200.0},  {day->rn_mj_m2, -100.0, 100.0},
                                    {day->soil_heat_mj_m2, -100.0, 100.0}, {pressure, 30.0, 120.0}};
    enum status status = check_needed(needed, sizeof needed / sizeof needed[0]);
    if (status != STATUS_OK)
        return status;
    if ((unsigned)kind >= KIND_COUNT)
        return STATUS_OUT_OF_RANGE;
    if (day->tmin_c.value > day->tmax_c.value)
        return STATUS_ORDER;

    struct equation_air air = {.t_c = day->tmean_c.value,
                               .es_kpa = air_mean_saturation_kpa(day->tmax_c.value, day->tmin_c.value),
                               .ea_kpa = day->ea_kpa.value,
                               .delta_kpa_c = air_saturation_slope_kpa_c(day->tmean_c.value),
                               .gamma_kpa_c = air_psychrometric_kpa_c(pressure),
                               .wind_2m_m_s = day->wind_2m_m_s.value,
                               .available_mj_m2 = day->rn_mj_m2 - day->soil_heat_mj_m2};
    double denominator = equation_denominator(&air, reference_daily[kind].cd);
    double radiation_mm = equation_radiation_mm(&air, denominator);
    double aerodynamic_mm = equation_aerodynamic_mm(&air, reference_daily[kind].cn, denominator);
    if (terms != NULL)
        *terms = (struct reference_et_terms){air.delta_kpa_c, air.gamma_kpa_c, air.es_kpa, radiation_mm,
                                             aerodynamic_mm};
    *et_mm = radiation_mm + aerodynamic_mm;
    return STATUS_OK;
}

enum status reference_et_temperature(double tmax_c, double tmin_c, double ra_mj_m2, double *et_mm) {
    const struct needed needed[] = {{tmax_c, -100.0, 100.0},
                                    {tmin_c, -100.0, 100.0},
                                    {ra_mj_m2, 0.0, 60.0},
                                    {(tmax_c + tmin_c) / 2.0, -17.8, 100.0}};
    enum status status = check_needed(needed, sizeof needed / sizeof needed[0]);
    if (status != STATUS_OK)
        return status;
    if (tmin_c > tmax_c)
        return STATUS_ORDER;
    *et_mm =
        0.0023 * ((tmax_c + tmin_c) / 2.0 + 17.8) * sqrt(tmax_c - tmin_c) * EQUATION_MM_PER_MJ_M2 * ra_mj_m2;
    return STATUS_OK;
}

/* Eq. 39 for an hour, where Tmax and Tmin are one. */
static double net_long_hour(double t_c, double ea_kpa, double clearness) {
    return SUN_STEFAN_BOLTZMANN_H * equation_fourth_power(t_c + 273.16) * (0.34 - 0.14 * sqrt(ea_kpa)) *
           (1.35 * clearness - 0.35);
}

static void balance_of_hour(const struct reference_hour *hour, double elevation_m, double clearness_before,
                            struct reference_hour_terms *terms) {
    terms->rso_mj_m2 = sun_clear_sky_mj_m2(terms->sun.ra_mj_m2, elevation_m);
    terms->clearness = terms->sun.elevation_rad < REFERENCE_LOW_SUN_RAD
                           ? clearness_before
                           : sun_clearness(hour->rs_mj_m2, terms->rso_mj_m2);
    terms->rns_mj_m2 = sun_net_short_mj_m2(hour->rs_mj_m2);
    terms->rnl_mj_m2 = net_long_hour(hour->t_c, hour->ea_kpa, terms->clearness);
    terms->rn_mj_m2 = terms->rns_mj_m2 - terms->rnl_mj_m2;
}

enum status reference_et_hourly(const struct reference_hour *hour, const struct reference_place *place,
                                int day_of_year, double midpoint_h, double clearness_before,
                                enum reference_kind kind, struct reference_hour_terms *terms, double *et_mm) {
    const struct needed needed[] = {
        {hour->t_c, -100.0, 100.0},           {hour->ea_kpa, 0.0, 20.0},
        {hour->wind_2m_m_s, 0.0, 200.0},      {hour->rs_mj_m2, 0.0, 6.0},
        {place->elevation_m, -430.0, 6000.0}, {clearness_before, SUN_CLEARNESS_MIN, SUN_CLEARNESS_MAX}};
    struct reference_hour_terms own;
    enum status status = check_needed(needed, sizeof needed / sizeof needed[0]);
    if (status == STATUS_OK && (unsigned)kind >= KIND_COUNT)
        status = STATUS_OUT_OF_RANGE;
    if (status == STATUS_OK)
        status = sun_of_period(&place->sun, day_of_year, midpoint_h, 1.0, &own.sun);
    if (status != STATUS_OK)
        return status;

    balance_of_hour(hour, place->elevation_m, clearness_before, &own);
    /* FAO-56 parts day from night by the sun, ASCE-EWRI by the sign of Rn. */
    bool day = kind == REFERENCE_FAO56_GRASS ? own.sun.ra_mj_m2 > 0.0 : own.rn_mj_m2 >= 0.0;
    const struct reference_constants *constants = day ? &by_day[kind].constants : &by_night[kind].constants;
    own.cn = constants->cn;
    own.cd = constants->cd;
    own.soil_heat_share = day ? by_day[kind].soil_heat : by_night[kind].soil_heat;
    own.soil_heat_mj_m2 = own.soil_heat_share * own.rn_mj_m2;
    own.delta_kpa_c = air_saturation_slope_kpa_c(hour->t_c);
    own.gamma_kpa_c = air_psychrometric_kpa_c(air_pressure_kpa(place->elevation_m));
    own.es_kpa = air_saturation_kpa(hour->t_c);
    struct equation_air air = {.t_c = hour->t_c,
                               .es_kpa = own.es_kpa,
                               .ea_kpa = hour->ea_kpa,
                               .delta_kpa_c = own.delta_kpa_c,
                               .gamma_kpa_c = own.gamma_kpa_c,
                               .wind_2m_m_s = hour->wind_2m_m_s,
                               .available_mj_m2 = own.rn_mj_m2 - own.soil_heat_mj_m2};
    double denominator = equation_denominator(&air, constants->cd);
    own.radiation_mm = equation_radiation_mm(&air, denominator);
    own.aerodynamic_mm = equation_aerodynamic_mm(&air, constants->cn, denominator);
    if (terms != NULL)
        *terms = own;
    *et_mm = own.radiation_mm + own.aerodynamic_mm;
    return STATUS_OK;
}

/* Of the middle of hour i, 0..24. */
static double midpoint(const struct reference_hours *hours, int i) {
    double middle_h = hours->start_h + i + 0.5;
    return middle_h - 24.0 * floor(middle_h / 24.0);
}

enum status reference_et_hours_summed(const struct reference_hours *hours,
                                      const struct reference_place *place, int day_of_year,
                                      double clearness_before, enum reference_kind kind,
                                      struct reference_hours_sum *out) {
    const struct needed needed[] = {{hours->start_h, -24.0, 48.0}};
    struct reference_hours_sum own = {.et_mm = 0.0};
    double clearness = clearness_before;
    enum status status = check_needed(needed, 1);
    for (int i = 0; status == STATUS_OK && i < REFERENCE_HOURS; i++) {
        status = reference_et_hourly(&hours->hour[i], place, day_of_year, midpoint(hours, i), clearness, kind,
                                     &own.terms[i], &own.hour_mm[i]);
        clearness = own.terms[i].clearness;
        own.et_mm += own.hour_mm[i];
    }
    if (status == STATUS_OK)
        *out = own;
    return status;
}

double reference_evening_clearness(const struct reference_hours *hours, const struct reference_place *place,
                                   int day_of_year) {
    const struct needed needed[] = {{hours->start_h, -24.0, 48.0}, {place->elevation_m, -430.0, 6000.0}};
    struct sun_period sun;
    if (check_needed(needed, 2) != STATUS_OK)
        return (double)NAN;
    for (int i = REFERENCE_HOURS - 1; i >= 0; i--) {
        if (sun_of_period(&place->sun, day_of_year, midpoint(hours, i), 1.0, &sun) != STATUS_OK)
            return (double)NAN;
        if (sun.elevation_rad >= REFERENCE_LOW_SUN_RAD)
            return sun_clearness(hours->hour[i].rs_mj_m2,
                                 sun_clear_sky_mj_m2(sun.ra_mj_m2, place->elevation_m));
    }
    return (double)NAN;
}

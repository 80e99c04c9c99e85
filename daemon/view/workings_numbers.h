/* The numbers of one day of one field, flat, as the table of the workings names them. */
#ifndef WATERTURN_WORKINGS_NUMBERS_H
#define WATERTURN_WORKINGS_NUMBERS_H

#include "daemon/farm/farm.h"
#include "daemon/morning/planting_run.h"

/* What may be had in more than one way on a day; the table has a line for each way. */
enum workings_choice {
    CHOICE_NONE,
    CHOICE_PRESSURE,  /* enum weather_rule */
    CHOICE_EA,        /* enum weather_rule */
    CHOICE_WIND,      /* enum weather_rule */
    CHOICE_RS,        /* enum weather_rule */
    CHOICE_REFERENCE, /* 0 grass, 1 tall, 2 summed from hours */
    CHOICE_STEP,      /* 0 ET0 of the day, 1 summed from hours */
    CHOICE_SUN,       /* 0 rises and sets, 1 stays up or down */
    CHOICE_STAGE,     /* enum crop_stage */
    CHOICE_EXPECTED,  /* enum crop_stage, where the crop is thinner or denser than expected; else -1 */
    CHOICE_MID,       /* 1: Kcb mid is adjusted to the climate, 0: it is not, -1: it does not count today */
    CHOICE_END,       /* the same of Kcb end */
    CHOICE_COVER,     /* 0 as expected, 1 thinner, 2 denser; -1: nothing grows */
    CHOICE_KC_MAX,    /* the same of a grass reference, 3 more of the tall one */
    CHOICE_CLIMATE,   /* 0 of the day, 1 of the season; -1: nothing is adjusted */
    CHOICE_METHOD,    /* 0 dual, or nothing grows; 1 single */
    CHOICE_GROWING,   /* 0 or 1 */
    CHOICE_RUNOFF,    /* 1: reckoned */
    CHOICE_IRRIGATED, /* 1 */
    CHOICE_WETTED,    /* 0 as before, 1 rain, 2 the system */
    CHOICE_DRIP,      /* 1: drip under the canopy */
    CHOICE_LAYERS,    /* 1: one layer of soil down to the roots' end */
    CHOICE_P,         /* 1: adjusted for the day's ETc */
    CHOICE_ALLOWED,   /* 1: a share that the user has set */
    CHOICE_SALT,      /* 1 */
    CHOICE_KS,        /* 1: of water alone */
    CHOICE_ETA,       /* 0 dual, 1 dual where the root zone ran dry, 2 and 3 the same of single */
    CHOICE_DRAINAGE,  /* 1: takes days */
    CHOICE_READING,   /* 1 */
    CHOICE_RAIN,      /* 0 of the station, 1 gauge, 2 not known */
    CHOICE_COUNT
};

struct workings_numbers {
    int choice[CHOICE_COUNT];
    /* place and time */
    double latitude_deg, latitude_rad, elevation_m, day_of_year;
    /* weather as reported, where it was used */
    double tmax, tmin, rh_max, rh_min, rh_mean, tdew, tdry, twet, wind, sunshine;
    double wind_height, aridity, krs, angstrom_as, angstrom_bs;
    /* weather */
    double tmean, pressure, e_tmax, e_tmin, es, ea, u2, rh_afternoon;
    /* sun */
    double dr, declination, sunset, ra, daylight, rso, rs, clearness, rns, rnl, rn, soil_heat;
    /* reference ET */
    double delta, gamma, radiation_mm, aerodynamic_mm, et0;
    /* crop */
    double days, share, kcb_ini, kcb_mid, kcb_end, height_ini, height_max, climate_u2, climate_rh,
        climate_term;
    double kcb_mid_adjusted, kcb_end_adjusted, kcb_expected, cover_ratio, gap_ratio, kcb, height, kc_max;
    double cover_expected, cover, kc_ini, kc_mid, kc_end, kc_mid_adjusted, kc_end_adjusted, kc_single, root;
    /* surface layer */
    double rew, tew, surface_start, curve_number, wetness, cn_dry, cn_wet, cn, retention, rain, runoff;
    double gross, efficiency, net, fw, surface_wet, kr, few, ke;
    /* demand and stress */
    double kc, etc, theta_fc, theta_wp, taw, p_table, p, raw, allowed_share, allowed, dr_start, excess_start;
    double new_soil, capillary, dr_wet, ks_water, ks_salt, ks;
    /* balance */
    double unmet, eta, evaporation, transpiration, drainage_days, percolation;
    double reading_mm, reading_sd, variance, gain, shift, excess, depletion, roots_from_surface, surface_end;
    double closure;
};

/* From a day that planting_run_day() kept, its field and the station that the weather is from. */
void workings_numbers_fill(const struct planting_day *day, const struct farm_field *field,
                           const struct farm_station *station, struct workings_numbers *out);

#endif

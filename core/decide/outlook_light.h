/* The light step of the outlook (outlook.h), in the pieces of which outlook_step.c makes one member's day and
 * outlook_lanes.c those of many side by side: each equation stands here once. What is asked of a member is
 * asked by `?:` alone, so that a loop over members can be made of vectors.
 *
 * Mostly nothing holds a member back: what evaporates is there (eq. 78), and the root zone has what is asked
 * of it. A day that is gone through as `free` takes this for granted, spares the divisions, and says of each
 * lane whether it was so; where it was not, the day is gone through once more without. */
#ifndef WATERTURN_OUTLOOK_LIGHT_H
#define WATERTURN_OUTLOOK_LIGHT_H

#include <math.h>

#include "core/balance/runoff.h"
#include "core/base/vectors.h"
#include "core/decide/outlook.h"

/* What a day is for every member: no lane reads the field itself, so that the loops over lanes know that
 * nothing of it changes. */
struct light {
    double net_mm, system_wetted_fraction;
    double net_over_wetted_mm; /* as deep as it is on what the system wets */
    /* 1 or 0: loops of vectors take numbers. */
    double drip_under_canopy, growing, single, shallow, allowed_by_p, shifted;
    double wet_mm, dry_mm, cn_dry, cn_wet; /* of the surface, for runoff */
    double taw_mm, reached_share, capillary_limit_mm;
    double rew_mm, tew_mm, cover, kcb, kc_max, kc;
    double p, p_slope, p_least, p_most, allowed_mm, ks_salt;
    double roots_in_surface; /* (Ze / Zr)^0.6 */
    double drainage_days, reading_shift_mm;
    double morning_mm;     /* of the first day, with what its records took off; NaN on others */
    double rain_all_in_mm; /* so much never runs off; NaN: none does */
    double known_rain_mm;  /* in place of any member's; NaN: each has its own */
    bool usual;            /* neither shallow roots, nor the single coefficient, nor drainage over days */
    bool plain;            /* and a crop to which rain alone comes, with no reading of today */
};

/* A member on its way through the day. */
struct lane {
    struct outlook_state state;
    double by_system; /* in place of the state's: 1 or 0 */
    double rain_mm, et0_mm, runoff_mm;
    double wet_mm; /* the depletion that Ks counts with */
    double ke, few, evaporation_mm, transpiration_mm, of_surface_mm;
    double held_back; /* 1 or 0: the day was not free */
    struct outlook_step step;
};

static VECTORS_INLINE struct light light_of(const struct outlook_field *field, int index, double net_mm) {
    const struct outlook_day *day = &field->day[index];
    double given_mm = net_mm + day->irrigation_net_mm;
    bool p_moves = day->growing && !field->p_fixed;
    bool shifted = day->reading_shift_mm < 0 || day->reading_shift_mm > 0;
    double depth_m = field->evaporation_m < day->root_m ? field->evaporation_m : day->root_m;
    return (struct light){
        .net_mm = given_mm,
        .net_over_wetted_mm = given_mm > 0 ? given_mm / field->system_wetted_fraction : 0,
        .system_wetted_fraction = field->system_wetted_fraction,
        .drip_under_canopy = field->drip_under_canopy,
        .growing = day->growing,
        .single = day->single,
        .shallow = field->shallow,
        .allowed_by_p = isnan(day->allowed_share) ? 1 : 0,
        .shifted = shifted,
        .wet_mm = 0.5 * field->rew_mm,
        .dry_mm = 0.7 * field->rew_mm + 0.3 * field->tew_mm,
        .cn_dry = field->cn_dry,
        .cn_wet = field->cn_wet,
        .taw_mm = day->taw_mm,
        .reached_share = day->reached_share,
        .capillary_limit_mm = day->capillary_limit_mm,
        .rew_mm = field->rew_mm,
        .tew_mm = field->tew_mm,
        .cover = day->cover,
        .kcb = day->kcb,
        .kc_max = day->kc_max,
        .kc = day->kc,
        .p = field->p,
        /* Table 22, footnote. */
        .p_slope = p_moves ? 0.04 : 0,
        .p_least = p_moves ? 0.1 : -HUGE_VAL,
        .p_most = p_moves ? 0.8 : HUGE_VAL,
        .allowed_mm = day->allowed_share * day->taw_mm,
        .ks_salt = day->ks_salt,
        .roots_in_surface = field->shallow ? surface_root_depth_share(depth_m, day->root_m) : (double)NAN,
        .drainage_days = field->drainage_days > 1 ? field->drainage_days : 1,
        .reading_shift_mm = day->reading_shift_mm,
        .morning_mm = index == 0 ? field->start.depletion_mm - field->settled_mm : (double)NAN,
        .rain_all_in_mm = RUNOFF_ABSTRACTION_RATIO * runoff_retention_inside_mm(field->cn_wet),
        .known_rain_mm = day->rain_known ? day->rain_mm : (double)NAN,
        .usual = !day->single && !field->shallow && !(field->drainage_days > 1),
        .plain =
            !(given_mm > 0) && !(day->capillary_limit_mm > 0) && day->growing && !day->rain_known && !shifted,
    };
}

/* The same of a plain day, said so that the compiler leaves out what such a day has not. */
static VECTORS_INLINE struct light light_plainly(const struct light *given) {
    struct light light = *given;
    light.net_mm = light.net_over_wetted_mm = light.capillary_limit_mm = light.shifted = 0;
    light.growing = 1;
    light.known_rain_mm = (double)NAN;
    light.usual = true;
    return light;
}

/* The days of a field, the first of them with a turn of `net_mm`. */
static inline void light_days(const struct outlook_field *field, int days, double net_mm,
                              struct light *lights) {
    for (int day = 0; day < days; day++)
        lights[day] = light_of(field, day, day == 0 ? net_mm : 0);
}

/* The rain of a member. */
static VECTORS_INLINE double light_rain_mm(const struct light *light, double rain_mm) {
    return isnan(light->known_rain_mm) ? rain_mm : light->known_rain_mm;
}

/* p of a day's ETc: Table 22, footnote. */
static VECTORS_INLINE double light_p(const struct light *light, double etc_mm) {
    double p = light->p + light->p_slope * (5 - etc_mm);
    p = p < light->p_least ? light->p_least : p;
    return p > light->p_most ? light->p_most : p;
}

/* Runoff by the curve number for the wetness of the surface layer (runoff.h), without its checks. */
static VECTORS_INLINE double run_off_mm(const struct light *light, double surface_mm, double rain_mm) {
    double wetness = surface_mm <= light->wet_mm ? 1
                     : surface_mm < light->dry_mm
                         ? (light->dry_mm - surface_mm) / (light->dry_mm - light->wet_mm)
                         : 0;
    double cn = light->cn_dry + wetness * (light->cn_wet - light->cn_dry);
    double retention_mm = runoff_retention_inside_mm(cn < light->cn_wet ? cn : light->cn_wet);
    double excess_mm = rain_mm - RUNOFF_ABSTRACTION_RATIO * retention_mm;
    return excess_mm > 0 ? excess_mm * (excess_mm / (excess_mm + retention_mm)) : 0;
}

/* Water in: surface layer and root zone. */
static VECTORS_INLINE void water_in(const struct light *light, struct lane *lane) {
    struct outlook_state *state = &lane->state;
    double in_mm = lane->rain_mm - lane->runoff_mm;
    bool by_rain = lane->rain_mm > SURFACE_WETTING_RAIN_MM;
    double wetted = light->net_mm > 0 ? light->system_wetted_fraction : state->wetted_fraction;
    double by_system = light->net_mm > 0 ? 1 : lane->by_system;
    state->wetted_fraction = by_rain ? 1 : wetted;
    lane->by_system = by_rain ? 0 : by_system;
    double surface_mm = state->surface_mm - in_mm;
    surface_mm -= by_rain ? light->net_mm : light->net_over_wetted_mm;
    state->surface_mm = surface_mm < 0 ? 0 : surface_mm;

    double room_mm = light->taw_mm - state->depletion_mm;
    double reached_mm = state->below_mm * light->reached_share;
    double new_soil_mm = reached_mm < room_mm ? reached_mm : room_mm;
    double balance_mm = state->depletion_mm - state->excess_mm + new_soil_mm - in_mm - light->net_mm;
    double rising_mm = light->capillary_limit_mm < balance_mm ? light->capillary_limit_mm : balance_mm;
    balance_mm = light->capillary_limit_mm > 0 && balance_mm > 0 ? balance_mm - rising_mm : balance_mm;
    state->below_mm -= new_soil_mm;
    double held_mm = balance_mm < light->taw_mm ? balance_mm : light->taw_mm;
    state->depletion_mm = balance_mm > 0 ? held_mm : 0;
    state->excess_mm = balance_mm < 0 ? -balance_mm : 0;
    lane->wet_mm = state->depletion_mm;
}

/* Evaporation as the surface layer lets it through (eqs 71 to 75), and the wetted exposed fraction. */
static VECTORS_INLINE void evaporate(const struct light *light, bool freely, struct lane *lane) {
    const struct outlook_state *state = &lane->state;
    double kr = surface_kr_inside(state->surface_mm, light->rew_mm, light->tew_mm);
    double under = surface_exposed_inside(light->cover, state->wetted_fraction, true);
    double open = surface_exposed_inside(light->cover, state->wetted_fraction, false);
    lane->few = light->drip_under_canopy * lane->by_system > 0 ? under : open;
    double ke = surface_ke_inside(kr, light->kcb, light->kc_max, lane->few);
    double asked_mm = ke * lane->et0_mm, held_mm = lane->few * (light->tew_mm - state->surface_mm);
    lane->ke = freely || asked_mm <= held_mm ? ke : held_mm / lane->et0_mm;
    lane->evaporation_mm = freely || asked_mm <= held_mm ? asked_mm : held_mm;
    lane->held_back = asked_mm <= held_mm ? 0 : 1;
}

/* ETc, RAW, the allowed depletion and Ks. */
static VECTORS_INLINE void stress(const struct light *light, struct lane *lane) {
    double kc = light->single > 0 ? light->kc : light->kcb + lane->ke;
    double etc_mm = kc * lane->et0_mm, raw_mm = light_p(light, etc_mm) * light->taw_mm;
    double ks = light->ks_salt *
                (lane->wet_mm <= raw_mm ? 1 : (light->taw_mm - lane->wet_mm) / (light->taw_mm - raw_mm));
    lane->step.etc_mm = etc_mm;
    lane->step.raw_mm = raw_mm;
    lane->step.allowed_mm = light->allowed_by_p > 0 ? raw_mm : light->allowed_mm;
    lane->step.ks = light->growing > 0 ? ks : 1;
}

/* What the plants take. With the single coefficient Ke only shares out what Kc says. */
static VECTORS_INLINE void transpire(const struct light *light, struct lane *lane) {
    double both = light->kcb + lane->ke, eta_mm = lane->step.ks * lane->step.etc_mm;
    double part_mm = lane->ke / both * eta_mm;
    double share_mm = both > 0 ? part_mm : 0;
    double evaporation_mm = share_mm < lane->evaporation_mm ? share_mm : lane->evaporation_mm;
    lane->evaporation_mm = light->single > 0 ? evaporation_mm : lane->evaporation_mm;
    double alone_mm = lane->step.ks * light->kcb * lane->et0_mm;
    lane->transpiration_mm = light->single > 0 ? eta_mm - evaporation_mm : alone_mm;
}

/* What shallow roots take out of the surface layer, eq. 77. */
static VECTORS_INLINE void root_in_surface(const struct light *light, struct lane *lane) {
    double share = surface_root_share_inside(lane->state.surface_mm / light->tew_mm,
                                             lane->wet_mm / light->taw_mm, light->roots_in_surface);
    double taken_mm = lane->transpiration_mm * share;
    lane->of_surface_mm = light->shallow * lane->transpiration_mm > 0 ? taken_mm : 0;
}

/* Water out of the root zone and the surface layer; drainage. */
static VECTORS_INLINE void water_out(const struct light *light, bool at_once, bool freely,
                                     struct lane *lane) {
    struct outlook_state *state = &lane->state;
    double asked_mm = lane->evaporation_mm + lane->transpiration_mm;
    double balance_mm = state->depletion_mm - state->excess_mm, held_mm = light->taw_mm - balance_mm;
    lane->held_back = asked_mm < held_mm ? lane->held_back : 1;
    lane->step.eta_mm = freely || asked_mm < held_mm ? asked_mm : held_mm;
    balance_mm = freely || asked_mm < held_mm ? balance_mm + asked_mm : light->taw_mm;
    state->depletion_mm = balance_mm > 0 ? balance_mm : 0;
    double excess_mm = balance_mm < 0 ? -balance_mm : 0;
    double percolation_mm = at_once ? excess_mm : excess_mm / light->drainage_days;
    state->excess_mm = excess_mm - percolation_mm;
    state->below_mm -= percolation_mm < state->below_mm ? percolation_mm : state->below_mm;
    double met = !freely && lane->step.eta_mm < asked_mm ? lane->step.eta_mm / asked_mm : 1;
    double surface_mm =
        state->surface_mm + (met * lane->evaporation_mm + met * lane->of_surface_mm) / lane->few;
    state->surface_mm = surface_mm > light->tew_mm ? light->tew_mm : surface_mm;
    lane->step.percolation_mm = percolation_mm;
}

/* A reading of the day moves its evening. */
static VECTORS_INLINE void shift(const struct light *light, struct lane *lane) {
    double shifted_mm = lane->state.depletion_mm + light->reading_shift_mm;
    shifted_mm = shifted_mm < 0 ? 0 : shifted_mm;
    shifted_mm = shifted_mm > light->taw_mm ? light->taw_mm : shifted_mm;
    lane->state.depletion_mm = light->shifted > 0 ? shifted_mm : lane->state.depletion_mm;
}

/* A day of a lane whose runoff is known. `usual` as in struct light; `freely`: see above. */
static VECTORS_INLINE void go_through(const struct light *light, bool usual, bool freely, struct lane *lane) {
    water_in(light, lane);
    evaporate(light, freely, lane);
    stress(light, lane);
    if (usual) {
        lane->transpiration_mm = lane->step.ks * light->kcb * lane->et0_mm;
        lane->of_surface_mm = 0;
    } else {
        transpire(light, lane);
        root_in_surface(light, lane);
    }
    water_out(light, usual, freely, lane);
    shift(light, lane);
}

#endif

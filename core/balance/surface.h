/* The surface layer, from which the soil evaporates: FAO-56 chapter 7, eqs 71, 74, 75, 77, 78 and 79.
 *
 * Depths of the layer are mm over the wetted and exposed part of the ground, as FAO-56 counts them;
 * evaporation is mm over the whole field. The day's rain and irrigation come early in the day, before it
 * evaporates. What season_step() calls each day stands here, for the compiler to put it where it is called.
 */
#ifndef WATERTURN_SURFACE_H
#define WATERTURN_SURFACE_H

#include <math.h>
#include <stdbool.h>

#include "core/base/extreme.h"
#include "core/base/inlined.h"
#include "core/base/status.h"

#define SURFACE_COVER_MAX 0.99 /* eq. 76 */

/* Rain from which it wets the whole ground: "3 to 4 mm" (FAO-56 page 149, with the errata). */
#define SURFACE_WETTING_RAIN_MM 3.0

/* Carried from day to day. */
struct surface {
    double depletion_mm;    /* De, 0..TEW */
    double wetted_fraction; /* fw of the last wetting */
    bool by_system;         /* that was the irrigation system alone */
};

/* What wets it on a day, mm over the field. */
struct surface_wetting {
    double rain_mm;                /* as it fell: decides about fw */
    double infiltration_mm;        /* rain less runoff */
    double irrigation_mm;          /* net */
    double system_wetted_fraction; /* 0.05..1 */
};

/* What the crop and the soil ask for on a day. */
struct surface_demand {
    double kcb, kc_max; /* kcb below kc_max */
    double cover;       /* fc, 0..0.99 */
    double et0_mm;
    double rew_mm, tew_mm;  /* 0 <= REW < TEW */
    bool drip_under_canopy; /* fw of a system under the canopy falls with the cover: fw (1 - 2/3 fc) */
};

/* What comes of it. */
struct surface_evaporation {
    double kr, ke;           /* Ke is cut where the layer would dry past TEW (eq. 78) */
    double exposed_fraction; /* few */
    double evaporation_mm;   /* E = Ke ET0 */
};

/* Eq. 74: 1 up to REW, then (TEW - De) / (TEW - REW), 0 at TEW. 0 <= De <= TEW, 0 <= REW < TEW. NaN outside.
 */
double surface_kr(double depletion_mm, double rew_mm, double tew_mm);

/* Eq. 75: the smaller of 1 - fc and fw; fw (1 - 2/3 fc) for drip under the canopy (Example 34). fc 0..0.99,
 * fw 0.01..1. NaN outside. */
double surface_exposed(double cover, double wetted_fraction, bool drip_under_canopy);

/* Eq. 71: Kr (Kc max - Kcb), at most few Kc max. Each 0 or more, Kcb at most Kc max, Kr and few at most 1.
 * NaN outside. */
double surface_ke(double kr, double kcb, double kc_max, double exposed_fraction);

/* fw after a day's wetting. Rain above SURFACE_WETTING_RAIN_MM: 1, with irrigation or without it (errata of
 * FAO-56); else irrigation: that of the system; else as it was. */
INLINED void surface_rewet(struct surface *surface, const struct surface_wetting *wetting) {
    if (wetting->rain_mm > SURFACE_WETTING_RAIN_MM) {
        surface->wetted_fraction = 1;
        surface->by_system = false;
    } else if (wetting->irrigation_mm > 0) {
        surface->wetted_fraction = wetting->system_wetted_fraction;
        surface->by_system = true;
    }
}

/* Wets the layer: fw, then De less rain - runoff and less irrigation / fw, not below 0. What goes deeper, DPe
 * of eq. 79 (mm over the wetted part), is returned. All members finite and inside their ranges, NaN gives
 * NaN. */
INLINED double surface_wet(struct surface *surface, const struct surface_wetting *wetting) {
    surface_rewet(surface, wetting);
    double after_mm = surface->depletion_mm - wetting->infiltration_mm;
    if (wetting->irrigation_mm > 0)
        after_mm -= wetting->irrigation_mm / surface->wetted_fraction;
    surface->depletion_mm = greater_of(after_mm, 0);
    return surface->depletion_mm - after_mm;
}

/* The same three of what is known to lie inside. */
INLINED double surface_kr_inside(double depletion_mm, double rew_mm, double tew_mm) {
    return lesser_of((tew_mm - depletion_mm) / (tew_mm - rew_mm), 1); /* up to REW it is 1 or more */
}
INLINED double surface_exposed_inside(double cover, double wetted_fraction, bool drip_under_canopy) {
    double wetted = drip_under_canopy ? wetted_fraction * (1 - 2.0 / 3.0 * cover) : wetted_fraction;
    return lesser_of(wetted, 1 - cover);
}
INLINED double surface_ke_inside(double kr, double kcb, double kc_max, double exposed_fraction) {
    return lesser_of(kr * (kc_max - kcb), exposed_fraction * kc_max);
}

/* What evaporates after that. The layer is not changed. STATUS_MISSING for NaN, STATUS_NOT_FINITE,
 * STATUS_OUT_OF_RANGE (et0_mm: below 0; cover; REW and TEW; De outside 0..TEW), STATUS_ORDER: Kcb above Kc
 * max. */
enum status surface_evaporate(const struct surface *surface, const struct surface_demand *demand,
                              struct surface_evaporation *out);

/* Cuts Ke and E to what the wetted ground (eq. 71) and the water in it (eq. 78) let through. */
INLINED void surface_limit(double ground, double held_mm, double et0_mm, struct surface_evaporation *out) {
    out->ke = lesser_of(out->ke, ground);
    out->evaporation_mm = out->ke * et0_mm;
    if (out->evaporation_mm > held_mm) {
        out->evaporation_mm = held_mm;
        out->ke = held_mm / et0_mm;
    }
}

/* The same of what is known to lie inside. */
INLINED struct surface_evaporation surface_evaporate_inside(const struct surface *surface,
                                                            const struct surface_demand *demand) {
    double de_mm = surface->depletion_mm, tew_mm = demand->tew_mm;
    double kr = surface_kr_inside(de_mm, demand->rew_mm, tew_mm);
    double few = surface_exposed_inside(demand->cover, surface->wetted_fraction,
                                        demand->drip_under_canopy && surface->by_system);
    double energy = kr * (demand->kc_max - demand->kcb), ground = few * demand->kc_max; /* eq. 71 */
    double held_mm = few * (tew_mm - de_mm);
    struct surface_evaporation out = {
        .kr = kr, .ke = energy, .exposed_fraction = few, .evaporation_mm = energy * demand->et0_mm};
    if (SELDOM(ground < energy || out.evaporation_mm > held_mm))
        surface_limit(ground, held_mm, demand->et0_mm, &out);
    return out;
}

/* Takes what did evaporate, E / few, and what roots took from the layer (mm over the field, over few as
 * well), out of the layer: eq. 77. De stays at TEW where that would pass it (eq. 78), which the roots alone
 * can do. */
INLINED void surface_dry(struct surface *surface, double evaporation_mm, double transpiration_mm,
                         double exposed_fraction, double tew_mm) {
    double after_mm = surface->depletion_mm + (evaporation_mm + transpiration_mm) / exposed_fraction;
    surface->depletion_mm = lesser_of(after_mm, tew_mm);
}

/* Share of the transpiration that roots take from the surface layer, for eq. 77's Tew: Kt = ((1 - De/TEW) /
 * (1 - Dr/TAW)) (Ze / Zr)^0.6, at most 1. FAO-56 leaves Tew out except for shallow roots (0.5 to 0.6 m). 0 <=

 * <= TEW, 0 <= Dr < TAW, 0 < Ze <= Zr; NaN outside. Reference: R.G. Allen, L.S. Pereira, M. Smith, D. Raes,
 * J.L. Wright, FAO-56 dual crop coefficient method for estimating evaporation from soil and application
 * extensions, ASCE J. Irrig. Drain. Eng. 131(1), 2005 (from memory). */
double surface_root_share(double surface_depletion_share, double root_depletion_share, double surface_depth_m,
                          double root_m);

/* The same in two parts, of what is known to lie inside: what depends on the depths, and all of it. */
double surface_root_depth_share(double surface_depth_m, double root_m);
static inline double surface_root_share_inside(double surface_depletion_share, double root_depletion_share,
                                               double depth_share) {
    double share = (1 - surface_depletion_share) / (1 - root_depletion_share) * depth_share;
    return share > 1 ? 1 : share;
}

#endif

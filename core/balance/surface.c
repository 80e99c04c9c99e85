#include "core/balance/surface.h"

#include <math.h>
#include <stddef.h>

#define COVER_MAX 0.99 /* eq. 76 */

double surface_kr(double depletion_mm, double rew_mm, double tew_mm) {
    if (!(rew_mm >= 0 && rew_mm < tew_mm && depletion_mm >= 0 && depletion_mm <= tew_mm))
        return NAN;
    return depletion_mm <= rew_mm ? 1 : (tew_mm - depletion_mm) / (tew_mm - rew_mm);
}

double surface_exposed(double cover, double wetted_fraction, bool drip_under_canopy) {
    if (!(cover >= 0 && cover <= COVER_MAX && wetted_fraction >= 0.01 && wetted_fraction <= 1))
        return NAN;
    double wetted = drip_under_canopy ? wetted_fraction * (1 - 2.0 / 3.0 * cover) : wetted_fraction;
    return wetted < 1 - cover ? wetted : 1 - cover;
}

double surface_ke(double kr, double kcb, double kc_max, double exposed_fraction) {
    if (!(kr >= 0 && kr <= 1 && kcb >= 0 && kcb <= kc_max && exposed_fraction >= 0 && exposed_fraction <= 1))
        return NAN;
    double energy = kr * (kc_max - kcb), ground = exposed_fraction * kc_max;
    return energy < ground ? energy : ground;
}

void surface_rewet(struct surface *surface, const struct surface_wetting *wetting) {
    if (wetting->rain_mm > SURFACE_WETTING_RAIN_MM) {
        surface->wetted_fraction = 1;
        surface->by_system = false;
    } else if (wetting->irrigation_mm > 0) {
        surface->wetted_fraction = wetting->system_wetted_fraction;
        surface->by_system = true;
    }
}

double surface_wet(struct surface *surface, const struct surface_wetting *wetting) {
    surface_rewet(surface, wetting);
    double after_mm = surface->depletion_mm - wetting->infiltration_mm;
    if (wetting->irrigation_mm > 0)
        after_mm -= wetting->irrigation_mm / surface->wetted_fraction;
    surface->depletion_mm = after_mm < 0 ? 0 : after_mm;
    return surface->depletion_mm - after_mm;
}

enum status surface_evaporate(const struct surface *surface, const struct surface_demand *demand,
                              struct surface_evaporation *out) {
    /* A sum is finite only when its terms are (or cancel, and then it is NaN). */
    double sum = surface->depletion_mm + surface->wetted_fraction + demand->kcb + demand->kc_max +
                 demand->cover + demand->et0_mm + demand->rew_mm + demand->tew_mm;
    if (!isfinite(sum))
        return isnan(sum) ? STATUS_MISSING : STATUS_NOT_FINITE;
    double kr = surface_kr(surface->depletion_mm, demand->rew_mm, demand->tew_mm);
    double few = surface_exposed(demand->cover, surface->wetted_fraction,
                                 demand->drip_under_canopy && surface->by_system);
    if (isnan(kr) || isnan(few) || demand->et0_mm < 0 || demand->kcb < 0)
        return STATUS_OUT_OF_RANGE;
    if (demand->kcb > demand->kc_max)
        return STATUS_ORDER;
    double ke = surface_ke(kr, demand->kcb, demand->kc_max, few);
    double held_mm = few * (demand->tew_mm - surface->depletion_mm);
    double evaporation_mm = ke * demand->et0_mm;
    if (evaporation_mm > held_mm) {
        evaporation_mm = held_mm;
        ke = held_mm / demand->et0_mm;
    }
    *out = (struct surface_evaporation){
        .kr = kr, .ke = ke, .exposed_fraction = few, .evaporation_mm = evaporation_mm};
    return STATUS_OK;
}

void surface_dry(struct surface *surface, double evaporation_mm, double transpiration_mm,
                 double exposed_fraction, double tew_mm) {
    double after_mm = surface->depletion_mm + (evaporation_mm + transpiration_mm) / exposed_fraction;
    surface->depletion_mm = after_mm > tew_mm ? tew_mm : after_mm;
}

double surface_root_share(double surface_depletion_share, double root_depletion_share, double surface_depth_m,
                          double root_m) {
    if (!(surface_depletion_share >= 0 && surface_depletion_share <= 1 && root_depletion_share >= 0 &&
          root_depletion_share < 1 && surface_depth_m > 0 && surface_depth_m <= root_m))
        return NAN;
    double share =
        (1 - surface_depletion_share) / (1 - root_depletion_share) * pow(surface_depth_m / root_m, 0.6);
    return share > 1 ? 1 : share;
}

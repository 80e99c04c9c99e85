#include "core/balance/surface.h"

double surface_kr(double depletion_mm, double rew_mm, double tew_mm) {
    if (!(rew_mm >= 0 && rew_mm < tew_mm && depletion_mm >= 0 && depletion_mm <= tew_mm))
        return NAN;
    return surface_kr_inside(depletion_mm, rew_mm, tew_mm);
}

double surface_exposed(double cover, double wetted_fraction, bool drip_under_canopy) {
    if (!(cover >= 0 && cover <= SURFACE_COVER_MAX && wetted_fraction >= 0.01 && wetted_fraction <= 1))
        return NAN;
    return surface_exposed_inside(cover, wetted_fraction, drip_under_canopy);
}

double surface_ke(double kr, double kcb, double kc_max, double exposed_fraction) {
    if (!(kr >= 0 && kr <= 1 && kcb >= 0 && kcb <= kc_max && exposed_fraction >= 0 && exposed_fraction <= 1))
        return NAN;
    return surface_ke_inside(kr, kcb, kc_max, exposed_fraction);
}

/* Why surface_evaporate() refuses. */
static enum status refusal(const struct surface *surface, const struct surface_demand *demand) {
    /* A sum is finite only when its terms are (or cancel, and then it is NaN). */
    double sum = surface->depletion_mm + surface->wetted_fraction + demand->kcb + demand->kc_max +
                 demand->cover + demand->et0_mm + demand->rew_mm + demand->tew_mm;
    if (!isfinite(sum))
        return isnan(sum) ? STATUS_MISSING : STATUS_NOT_FINITE;
    bool only_order = !isnan(surface_kr(surface->depletion_mm, demand->rew_mm, demand->tew_mm)) &&
                      !isnan(surface_exposed(demand->cover, surface->wetted_fraction, false)) &&
                      demand->et0_mm >= 0 && demand->kcb >= 0;
    return only_order ? STATUS_ORDER : STATUS_OUT_OF_RANGE;
}

enum status surface_evaporate(const struct surface *surface, const struct surface_demand *demand,
                              struct surface_evaporation *out) {
    double de_mm = surface->depletion_mm, rew_mm = demand->rew_mm, tew_mm = demand->tew_mm;
    if (!(rew_mm >= 0 && rew_mm < tew_mm && de_mm >= 0 && de_mm <= tew_mm && demand->cover >= 0 &&
          demand->cover <= SURFACE_COVER_MAX && surface->wetted_fraction >= 0.01 &&
          surface->wetted_fraction <= 1 && demand->kcb >= 0 && demand->kcb <= demand->kc_max &&
          demand->et0_mm >= 0 && demand->kc_max + demand->et0_mm + tew_mm < HUGE_VAL))
        return refusal(surface, demand);
    *out = surface_evaporate_inside(surface, demand);
    return STATUS_OK;
}

double surface_root_depth_share(double surface_depth_m, double root_m) {
    return pow(surface_depth_m / root_m, 0.6);
}

double surface_root_share(double surface_depletion_share, double root_depletion_share, double surface_depth_m,
                          double root_m) {
    if (!(surface_depletion_share >= 0 && surface_depletion_share <= 1 && root_depletion_share >= 0 &&
          root_depletion_share < 1 && surface_depth_m > 0 && surface_depth_m <= root_m))
        return NAN;
    return surface_root_share_inside(surface_depletion_share, root_depletion_share,
                                     surface_root_depth_share(surface_depth_m, root_m));
}

#include "core/decide/outlook_light.h"

/* Members of structs are copied one by one: a copy of the whole is read in wider pieces than it was written
 * in, for which a processor waits. */
void outlook_step(const struct outlook_field *field, int index, double et0_mm, double rain_mm, double net_mm,
                  struct outlook_state *state, struct outlook_step *out) {
    const struct light light = light_of(field, index, net_mm);
    struct lane lane = {.state = {.depletion_mm = state->depletion_mm,
                                  .excess_mm = state->excess_mm,
                                  .below_mm = state->below_mm,
                                  .surface_mm = state->surface_mm,
                                  .wetted_fraction = state->wetted_fraction},
                        .by_system = state->by_system,
                        .rain_mm = light_rain_mm(&light, rain_mm),
                        .et0_mm = et0_mm > 0 ? et0_mm : 0};
    if (lane.rain_mm > 0 && !isnan(light.cn_dry))
        lane.runoff_mm = run_off_mm(&light, state->surface_mm, lane.rain_mm);
    go_through(&light, light.usual, false, &lane);
    state->depletion_mm = lane.state.depletion_mm;
    state->excess_mm = lane.state.excess_mm;
    state->below_mm = lane.state.below_mm;
    state->surface_mm = lane.state.surface_mm;
    state->wetted_fraction = lane.state.wetted_fraction;
    state->by_system = lane.by_system > 0;
    out->raw_mm = lane.step.raw_mm;
    out->allowed_mm = lane.step.allowed_mm;
    out->ks = lane.step.ks;
    out->etc_mm = lane.step.etc_mm;
    out->eta_mm = lane.step.eta_mm;
    out->percolation_mm = lane.step.percolation_mm;
    out->runoff_mm = lane.runoff_mm;
}

#include "core/decide/outlook_lanes.h"

#include "core/decide/outlook_light.h"

void outlook_lanes_begin(const struct outlook_field *field, struct outlook_lanes *lanes) {
    for (int i = 0; i < OUTLOOK_LANES; i++) {
        lanes->depletion_mm[i] = field->start.depletion_mm;
        lanes->excess_mm[i] = field->start.excess_mm;
        lanes->below_mm[i] = field->start.below_mm;
        lanes->surface_mm[i] = field->start.surface_mm;
        lanes->wetted_fraction[i] = field->start.wetted_fraction;
        lanes->by_system[i] = field->start.by_system;
    }
}

static void take_weather(const struct outlook_day *day, struct outlook_lanes *lanes) {
    for (int i = 0; i < OUTLOOK_LANES; i++) {
        lanes->et0_mm[i] = lanes->et0_mm[i] > 0 ? lanes->et0_mm[i] : 0;
        lanes->runoff_mm[i] = 0;
    }
    for (int i = 0; day->rain_known && i < OUTLOOK_LANES; i++)
        lanes->rain_mm[i] = day->rain_mm;
}

VECTORS_WIDER static void run_off_lanes(const struct light *given, struct outlook_lanes *lanes) {
    const struct light light = *given;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        lanes->runoff_mm[i] = run_off_mm(&light, lanes->surface_mm[i], lanes->rain_mm[i]);
}

static VECTORS_INLINE void go_lane(const struct light *light, bool usual, struct outlook_lanes *lanes,
                                   int i) {
    struct lane lane = {.state = {.depletion_mm = lanes->depletion_mm[i],
                                  .excess_mm = lanes->excess_mm[i],
                                  .below_mm = lanes->below_mm[i],
                                  .surface_mm = lanes->surface_mm[i],
                                  .wetted_fraction = lanes->wetted_fraction[i]},
                        .by_system = lanes->by_system[i],
                        .rain_mm = lanes->rain_mm[i],
                        .et0_mm = lanes->et0_mm[i],
                        .runoff_mm = lanes->runoff_mm[i]};
    go_through(light, usual, &lane);
    lanes->depletion_mm[i] = lane.state.depletion_mm;
    lanes->excess_mm[i] = lane.state.excess_mm;
    lanes->below_mm[i] = lane.state.below_mm;
    lanes->surface_mm[i] = lane.state.surface_mm;
    lanes->wetted_fraction[i] = lane.state.wetted_fraction;
    lanes->by_system[i] = lane.by_system;
    lanes->allowed_mm[i] = lane.step.allowed_mm;
    lanes->percolation_mm[i] = lane.step.percolation_mm;
}

VECTORS_WIDER static void go_usual(const struct light *given, struct outlook_lanes *lanes) {
    const struct light light = *given;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        go_lane(&light, true, lanes, i);
}

VECTORS_WIDER static void go_unusual(const struct light *given, struct outlook_lanes *lanes) {
    const struct light light = *given;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        go_lane(&light, false, lanes, i);
}

/* False for NaN: without a curve number nothing runs off. */
static bool any_above(const double value[OUTLOOK_LANES], double least) {
    int above = 0;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        above |= value[i] > least;
    return above != 0;
}

void outlook_lanes_step(const struct outlook_field *field, int index, double net_mm,
                        struct outlook_lanes *lanes) {
    const struct outlook_day *day = &field->day[index];
    const struct light light = light_of(field, day, net_mm);
    take_weather(day, lanes);
    if (any_above(lanes->rain_mm, RUNOFF_ABSTRACTION_RATIO * runoff_retention_inside_mm(light.cn_wet)))
        run_off_lanes(&light, lanes);
    if (is_usual(field, day))
        go_usual(&light, lanes);
    else
        go_unusual(&light, lanes);
}

#include "core/decide/outlook_lanes.h"

#include <string.h>

/* Of so many lanes or more runoff is reckoned in all of them. */
#define MANY_RUN_OFF 12

struct outlook_lanes_weather outlook_lanes_weather_of(const struct outlook_weather *weather, int day,
                                                      int first, struct outlook_lanes_room *room) {
    int at = day * weather->members + first, count = weather->members - first;
    if (count >= OUTLOOK_LANES)
        return (struct outlook_lanes_weather){&weather->et0_mm[at], &weather->rain_mm[at]};
    for (int i = 0; i < OUTLOOK_LANES; i++) {
        int lane = i < count ? i : count - 1;
        room->et0_mm[i] = weather->et0_mm[at + lane];
        room->rain_mm[i] = weather->rain_mm[at + lane];
    }
    return (struct outlook_lanes_weather){room->et0_mm, room->rain_mm};
}

void outlook_lanes_begin(const struct outlook_field *field, struct outlook_lanes *lanes) {
    struct outlook_lanes_state *state = lanes->evening = &lanes->state[0];
    lanes->morning = &lanes->state[1];
    memset(lanes->runoff_mm, 0, sizeof lanes->runoff_mm);
    lanes->ran_off = false;
    for (int i = 0; i < OUTLOOK_LANES; i++) {
        state->depletion_mm[i] = field->start.depletion_mm;
        state->excess_mm[i] = field->start.excess_mm;
        state->below_mm[i] = field->start.below_mm;
        state->surface_mm[i] = field->start.surface_mm;
        state->wetted_fraction[i] = field->start.wetted_fraction;
        state->by_system[i] = field->start.by_system;
        state->percolated_mm[i] = state->dry[i] = 0;
    }
}

/* In how many lanes some may run off: none for NaN. */
VECTORS_WIDER static int count_above(const double *rain_mm, double all_in_mm) {
    int above = 0;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        above += rain_mm[i] > all_in_mm;
    return above;
}

VECTORS_WIDER static void run_off_all(const struct light *given, const double *restrict rain_mm,
                                      const double *restrict surface_mm, double *restrict runoff_mm) {
    const struct light light = *given;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        runoff_mm[i] = run_off_mm(&light, surface_mm[i], light_rain_mm(&light, rain_mm[i]));
}

static void run_off_few(const struct light *light, const double *rain_mm, struct outlook_lanes *lanes) {
    for (int i = 0; i < OUTLOOK_LANES; i++)
        if (rain_mm[i] > light->rain_all_in_mm)
            lanes->runoff_mm[i] = run_off_mm(light, lanes->morning->surface_mm[i], rain_mm[i]);
}

static void run_off(const struct light *light, const double *rain_mm, struct outlook_lanes *lanes) {
    int above = OUTLOOK_LANES;
    if (isnan(light->known_rain_mm))
        above = count_above(rain_mm, light->rain_all_in_mm);
    else if (!(light->known_rain_mm > light->rain_all_in_mm))
        above = 0;
    if (lanes->ran_off)
        memset(lanes->runoff_mm, 0, sizeof lanes->runoff_mm);
    lanes->ran_off = above > 0;
    if (above >= MANY_RUN_OFF)
        run_off_all(light, rain_mm, lanes->morning->surface_mm, lanes->runoff_mm);
    else if (above > 0)
        run_off_few(light, rain_mm, lanes);
}

/* Whether it was held back. */
static VECTORS_INLINE double go_lane(const struct light *light, bool freely, double et0_mm, double rain_mm,
                                     double runoff_mm, const struct outlook_lanes_state *morning,
                                     struct outlook_lanes_state *evening, int i) {
    struct lane lane = {.state = {.depletion_mm = morning->depletion_mm[i],
                                  .excess_mm = morning->excess_mm[i],
                                  .below_mm = morning->below_mm[i],
                                  .surface_mm = morning->surface_mm[i],
                                  .wetted_fraction = morning->wetted_fraction[i]},
                        .by_system = morning->by_system[i],
                        .rain_mm = light_rain_mm(light, rain_mm),
                        .et0_mm = et0_mm > 0 ? et0_mm : 0,
                        .runoff_mm = runoff_mm};
    go_through(light, light->usual, freely, &lane);
    evening->depletion_mm[i] = lane.state.depletion_mm;
    evening->excess_mm[i] = lane.state.excess_mm;
    evening->below_mm[i] = lane.state.below_mm;
    evening->surface_mm[i] = lane.state.surface_mm;
    evening->wetted_fraction[i] = lane.state.wetted_fraction;
    evening->by_system[i] = lane.by_system;
    evening->percolated_mm[i] = morning->percolated_mm[i] + lane.step.percolation_mm;
    double dry = lane.state.depletion_mm >= lane.step.allowed_mm ? 1 : morning->dry[i];
    dry = light->morning_mm >= lane.step.allowed_mm ? 1 : dry;
    evening->dry[i] = light->growing > 0 ? dry : morning->dry[i]; /* nothing is dry that does not grow */
    return lane.held_back;
}

/* One loop for each kind of day: where the compiler knows the kind, it leaves out what such a day has not. */

/* Whether all lanes were free. */
VECTORS_WIDER static bool go_plain(const struct light *given, const double *restrict et0_mm,
                                   const double *restrict rain_mm, const double *restrict runoff_mm,
                                   const struct outlook_lanes_state *restrict morning,
                                   struct outlook_lanes_state *restrict evening) {
    const struct light light = light_plainly(given);
    double held_back[OUTLOOK_LANES];
    int any = 0;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        held_back[i] = go_lane(&light, true, et0_mm[i], rain_mm[i], runoff_mm[i], morning, evening, i);
    for (int i = 0; i < OUTLOOK_LANES; i++)
        any |= held_back[i] > 0;
    return any == 0;
}

VECTORS_WIDER static void go_usual(const struct light *given, const double *restrict et0_mm,
                                   const double *restrict rain_mm, const double *restrict runoff_mm,
                                   const struct outlook_lanes_state *restrict morning,
                                   struct outlook_lanes_state *restrict evening) {
    struct light light = *given;
    light.usual = true;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        (void)go_lane(&light, false, et0_mm[i], rain_mm[i], runoff_mm[i], morning, evening, i);
}

VECTORS_WIDER static void go_unusual(const struct light *given, const double *restrict et0_mm,
                                     const double *restrict rain_mm, const double *restrict runoff_mm,
                                     const struct outlook_lanes_state *restrict morning,
                                     struct outlook_lanes_state *restrict evening) {
    struct light light = *given;
    light.usual = false;
    for (int i = 0; i < OUTLOOK_LANES; i++)
        (void)go_lane(&light, false, et0_mm[i], rain_mm[i], runoff_mm[i], morning, evening, i);
}

int outlook_lanes_step(const struct light *light, struct outlook_lanes_weather weather,
                       struct outlook_lanes *lanes) {
    struct outlook_lanes_state *morning = lanes->evening, *evening = lanes->morning;
    const double *et0_mm = weather.et0_mm, *rain_mm = weather.rain_mm, *runoff_mm = lanes->runoff_mm;
    lanes->morning = morning;
    lanes->evening = evening;
    run_off(light, rain_mm, lanes);
    if (!light->usual)
        go_unusual(light, et0_mm, rain_mm, runoff_mm, morning, evening);
    else if (!light->plain || !go_plain(light, et0_mm, rain_mm, runoff_mm, morning, evening))
        go_usual(light, et0_mm, rain_mm, runoff_mm, morning, evening);
    return count_above(evening->dry, 0);
}

#include "core/weather/day_block.h"

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#include "core/base/vectors.h"
#include "core/weather/equations.h"
#include "core/weather/weather_inside.h"

/* Days side by side. A whole number of any processor's vectors, and small enough for its first cache. */
#define LANES 32

/* What the equations need and give, a lane for each day. A lane whose day is refused goes through them with
 * the weather of an invented one. */
struct lanes {
    double tmax_c[LANES], tmin_c[LANES], tmean_c[LANES];
    double e_tmax_kpa[LANES], e_tmin_kpa[LANES], es_kpa[LANES], delta_kpa_c[LANES];
    double ea_kpa[LANES], pressure_kpa[LANES], wind_2m_m_s[LANES], rs_mj_m2[LANES], rso_mj_m2[LANES];
    double rh_min_pct[LANES], rn_mj_m2[LANES], et_mm[LANES];
};

VECTORS_WIDER static void look(const struct day_block_day *day, struct weather_presence *presence) {
    for (int i = 0; i < LANES; i++)
        presence[i] = weather_presence_of(day[i].reported);
}

static void take_temperatures(struct day_block_day *day, const struct weather_presence *presence,
                              struct weather_use *use, struct lanes *lanes) {
    const uint8_t *origin = day[0].reported->origin;
    unsigned told = weather_told(origin);
    for (int i = 0; i < LANES; i++) {
        const struct weather_day *reported = day[i].reported;
        /* As a rule the same as of the day before. */
        if (memcmp(reported->origin, origin, sizeof reported->origin) != 0) {
            origin = reported->origin;
            told = weather_told(origin);
        }
        day[i].status = weather_use(reported, presence[i], told, day[i].suspect, &use[i]);
        bool good = day[i].status == STATUS_OK;
        lanes->tmax_c[i] = good ? reported->value[WEATHER_TMAX_C] : 20;
        lanes->tmin_c[i] = good ? reported->value[WEATHER_TMIN_C] : 10;
    }
}

VECTORS_WIDER static void reckon_vapour(struct lanes *lanes) {
    for (int i = 0; i < LANES; i++)
        lanes->e_tmax_kpa[i] = equation_saturation_kpa(lanes->tmax_c[i]);
    for (int i = 0; i < LANES; i++)
        lanes->e_tmin_kpa[i] = equation_saturation_kpa(lanes->tmin_c[i]);
    for (int i = 0; i < LANES; i++) {
        double tmean_c = equation_mean_c(lanes->tmax_c[i], lanes->tmin_c[i]);
        lanes->tmean_c[i] = tmean_c;
        lanes->delta_kpa_c[i] = equation_saturation_slope_kpa_c(tmean_c, equation_saturation_kpa(tmean_c));
        lanes->es_kpa[i] = equation_mean_saturation_kpa(lanes->e_tmax_kpa[i], lanes->e_tmin_kpa[i]);
    }
}

static bool same_in_use(const struct weather_use *a, const struct weather_use *b) {
    return a->present == b->present && a->set_aside == b->set_aside &&
           memcmp(a->day->origin, b->day->origin, sizeof a->day->origin) == 0;
}

static void apply_rules(struct weather_place *place, const struct weather_use *use,
                        const struct day_block_day *day, struct lanes *lanes) {
    struct weather_plan plan;
    const struct weather_use *planned = NULL;
    for (int i = 0; i < LANES; i++) {
        if (day[i].status != STATUS_OK) {
            lanes->ea_kpa[i] = lanes->wind_2m_m_s[i] = lanes->rs_mj_m2[i] = lanes->rso_mj_m2[i] = 1;
            lanes->pressure_kpa[i] = 100;
            continue;
        }
        struct weather_full *full = day[i].full;
        const struct weather_vapour vapour = {lanes->e_tmax_kpa[i], lanes->e_tmin_kpa[i]};
        weather_sun_at(place, day[i].reported->date, full);
        /* As a rule the same as of the day before. */
        if (planned == NULL || !same_in_use(planned, &use[i])) {
            planned = &use[i];
            weather_plan_make(planned, &place->site, &plan);
        }
        weather_plan_follow(&plan, &use[i], &place->site, place->pressure_kpa, &vapour, full);
        lanes->ea_kpa[i] = full->ea_kpa.value;
        lanes->pressure_kpa[i] = full->pressure_kpa.value;
        lanes->wind_2m_m_s[i] = full->wind_2m_m_s.value;
        lanes->rs_mj_m2[i] = full->rs_mj_m2.value;
        lanes->rso_mj_m2[i] = full->rso_mj_m2;
    }
}

VECTORS_WIDER static void reckon_radiation(struct lanes *lanes) {
    for (int i = 0; i < LANES; i++) {
        lanes->rh_min_pct[i] = equation_rh_min_pct(lanes->ea_kpa[i], lanes->e_tmax_kpa[i]);
        lanes->rn_mj_m2[i] = equation_net_mj_m2(lanes->tmax_c[i], lanes->tmin_c[i], lanes->ea_kpa[i],
                                                lanes->rs_mj_m2[i], lanes->rso_mj_m2[i]);
    }
}

VECTORS_WIDER static void reckon_et(const struct reference_constants *constants, struct lanes *lanes) {
    for (int i = 0; i < LANES; i++) {
        const struct equation_air air = {.t_c = lanes->tmean_c[i],
                                         .es_kpa = lanes->es_kpa[i],
                                         .ea_kpa = lanes->ea_kpa[i],
                                         .delta_kpa_c = lanes->delta_kpa_c[i],
                                         .gamma_kpa_c = equation_psychrometric_kpa_c(lanes->pressure_kpa[i]),
                                         .wind_2m_m_s = lanes->wind_2m_m_s[i],
                                         .available_mj_m2 = lanes->rn_mj_m2[i] - 0.0};
        double denominator = equation_denominator(&air, constants->cd);
        lanes->et_mm[i] = equation_radiation_mm(&air, denominator) +
                          equation_aerodynamic_mm(&air, constants->cn, denominator);
    }
}

static void complete_block(struct weather_place *place, unsigned kinds, struct day_block_day *day) {
    struct weather_presence presence[LANES];
    struct weather_use use[LANES];
    struct lanes lanes;
    look(day, presence);
    take_temperatures(day, presence, use, &lanes);
    reckon_vapour(&lanes);
    apply_rules(place, use, day, &lanes);
    reckon_radiation(&lanes);
    for (int i = 0; i < LANES; i++) {
        if (day[i].status != STATUS_OK)
            continue;
        day[i].full->rh_min_pct = lanes.rh_min_pct[i];
        day[i].full->rn_mj_m2 = lanes.rn_mj_m2[i];
    }
    for (int kind = 0; kind <= REFERENCE_ASCE_TALL; kind++) {
        if ((kinds >> kind & 1) == 0)
            continue;
        reckon_et(&reference_daily[kind], &lanes);
        for (int i = 0; i < LANES; i++)
            if (day[i].status == STATUS_OK)
                day[i].et_mm[kind] = lanes.et_mm[i];
    }
}

static void complete_one(struct weather_place *place, unsigned kinds, struct day_block_day *day) {
    struct weather_use use;
    day->status = weather_use(day->reported, weather_presence_of(day->reported),
                              weather_told(day->reported->origin), day->suspect, &use);
    if (day->status == STATUS_OK)
        weather_complete_used(use, place, day->full);
    for (int kind = 0; day->status == STATUS_OK && kind <= REFERENCE_ASCE_TALL; kind++)
        if ((kinds >> kind & 1) != 0)
            day->status =
                reference_et_day(day->full, &place->site, (enum reference_kind)kind, NULL, &day->et_mm[kind]);
}

void day_block_complete(struct weather_place *place, unsigned kinds, struct day_block_day *day, int count) {
    int done = 0;
    for (; count - done >= LANES; done += LANES)
        complete_block(place, kinds, day + done);
    for (; done < count; done++)
        complete_one(place, kinds, day + done);
}

/* When a supply is open, and what is left of its allotments. */
#ifndef WATERTURN_TURNS_SUPPLY_H
#define WATERTURN_TURNS_SUPPLY_H

#include "core/decide/turns.h"
#include "daemon/store/turns_store.h"

/* Hours from midnight of `today`. */
int turns_hour_of(int32_t today, int32_t date, int hour);

/* Hours in which a supply is open, by day from `first` on: bit h, from h to h + 1 o'clock. Those that the
 * farm's clock leaves out are none. */
void turns_open_days(const struct farm_supply *supply, int32_t first, int days, uint32_t *open);

/* Hours from..to - 1 (from midnight of `today`) in which a supply is open and which the clock goes through
 * twice: a turn that runs over one ends so much earlier by the clock, and its water is what was planned. */
int turns_twice(const uint32_t *open, int32_t today, int from, int to);

/* Whole hours that it may run on a day. */
int turns_day_hours(const struct farm_supply *supply);

/* The hours of a turn that ran before an hour (from midnight of `today`), as far as the supply was open. */
int turns_hours_run(const struct farm_supply *supply, const struct stored_turn *turn, int32_t today,
                    int hour);

/* The days that the season's allotment is for: the supply's own, or those of the plantings that stand on its
 * fields. CALENDAR_NONE where nothing says. */
struct farm_span turns_season_of(const struct farm *farm, const struct farm_supply *supply, int32_t today);

/* What was recorded as drawn from a supply on the days first..last, m3. */
double turns_drawn_m3(const struct farm *farm, const struct farm_supply *supply, int32_t first, int32_t last);

/* The allotment for a part of the season that holds a day; NULL: none does. */
const struct farm_allotment *turns_period_on(const struct farm_supply *supply, int32_t today);

/* Fills the limits and prices of a supply; `m3` was drawn besides what is recorded. Prices that are not given
 * are left 0. */
void turns_supply_fill(const struct farm *farm, const struct farm_supply *supply, int32_t today, int days,
                       double m3, struct turns_supply *out);

#endif

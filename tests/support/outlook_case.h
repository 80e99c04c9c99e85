/* Fields and weather for the tests of the outlook: invented, and wide. */
#ifndef WATERTURN_TESTS_OUTLOOK_CASE_H
#define WATERTURN_TESTS_OUTLOOK_CASE_H

#include "core/decide/outlook.h"
#include "tests/support/hostile.h"

/* A field whose crop, soil and water differ with `source`; days are counted by the calendar, and Kc ini of
 * the single method is the table's: what the light step keeps fixed follows no weather. */
struct season_setup outlook_case_setup(struct hostile *source, int32_t first);

/* A day of mild weather; now and then rain. */
struct season_input outlook_case_day(struct hostile *source, int32_t date);

/* Prepares the setup and walks `days` days from season_begin() on, with irrigation now and then. */
void outlook_case_walk(struct hostile *source, const struct season_setup *setup, int days,
                       struct season_prepared *prepared, struct season_state *state);

/* Such a field on a morning of its season, after at most `walked` days of it, prepared for `days` more (at
 * most OUTLOOK_DAYS_MAX). */
void outlook_case_field(struct hostile *source, int32_t first, int walked, int days,
                        struct outlook_field *out);

#endif

/* What season.c and season_day.c share. Nobody else includes this. */
#ifndef WATERTURN_SEASON_INSIDE_H
#define WATERTURN_SEASON_INSIDE_H

#include "core/balance/season.h"

/* Ks of salt alone, eq. 91; 1 when salinity is not considered. STATUS_* as season_setup_check(). */
enum status season_salt_stress(const struct season_setup *setup, double *ks);

#endif

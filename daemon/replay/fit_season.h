/* Settings of a season fitted to readings of soil water. What comes out is a proposal; nothing is changed. */
#ifndef WATERTURN_FIT_SEASON_H
#define WATERTURN_FIT_SEASON_H

#include "core/decide/fit.h"
#include "core/decide/scores.h"
#include "daemon/replay/parameter.h"
#include "daemon/replay/probe.h"
#include "daemon/replay/replay.h"

#define FIT_READING_SD 0.02 /* m3/m3, of readings that do not say theirs (common practice, no source) */

/* A reading of the mean water content of the root zone. */
struct fit_reading {
    int32_t date;
    double water_m3_m3, sd_m3_m3;
};

struct season_fit {
    int parameters;
    enum parameter parameter[FIT_PARAMETERS_MAX];
    struct fit_parameter range[FIT_PARAMETERS_MAX]; /* with the present values as `start` */
    bool priors;
    struct fit_reading *reading; /* in order */
    size_t readings;
    struct fit_result result;
    bool trustworthy;
    struct scores before, after;
    double *modelled_before, *modelled; /* at the readings */
};

/* The readings of a field's records within the season; malloc'd. */
enum status fit_readings_of_records(const struct farm *farm, const struct season_case *season,
                                    struct fit_reading **out, size_t *count);
/* Those of a probe's file, made means of the root zone by the root depths of `day`, the rows of the season.
 */
enum status fit_readings_of_probe(const struct probe *probe, const struct season_day *day, int days,
                                  struct fit_reading **out, size_t *count);

/* Ranges, priors and starts of the named parameters, from what the season has now. STATUS_REFUSED: one that
 * no fit moves.
 */
enum status season_fit_begin(const struct season_case *season, const enum parameter *parameter,
                             int parameters, bool priors, struct season_fit *out, struct problems *problems);

/* Fits; `out` has its readings. STATUS_REFUSED with the reason: too few readings, a season that cannot be
 * kept. */
enum status season_fit_run(const struct season_case *season, struct season_fit *out,
                           struct problems *problems);
void season_fit_free(struct season_fit *fit);

/* The settings with what was found put over them. */
struct season_variant season_fit_variant(const struct season_case *season, const struct season_fit *fit);

#endif

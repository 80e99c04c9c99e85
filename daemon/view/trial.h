/* A trial as people and programs read it. */
#ifndef WATERTURN_VIEW_TRIAL_H
#define WATERTURN_VIEW_TRIAL_H

#include <cjson/cJSON.h>

#include "daemon/base/text.h"
#include "daemon/replay/trial.h"
#include "daemon/view/words.h"

/* {"made", "trial", "layout", "confidence", "grades": [{"grade", "plots", "table", "means", "differences"}],
 * "model"}. `made` stays the caller's. NULL: no memory. */
cJSON *view_trial_json(const struct trial *trial, const cJSON *made);

/* A row for each plot and grade. */
void view_trial_csv(const struct trial *trial, const cJSON *made, struct text *out);

void view_trial_text(const struct trial *trial, bool us_units, struct text *out);

/* The treatments against each other, as view_replay_svg(). */
enum status view_trial_svg(const struct replay *replay, const struct trial *trial, const cJSON *made,
                           bool us_units, const struct words *words, struct text *out);

/* "treatment", "whole plot", "sub-plot"; NULL outside the enum. */
const char *trial_group_kind_name(enum trial_group_kind kind);

#endif

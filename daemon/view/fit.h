/* A fit as people and programs read it. */
#ifndef WATERTURN_VIEW_FIT_H
#define WATERTURN_VIEW_FIT_H

#include <cjson/cJSON.h>

#include "daemon/base/text.h"
#include "daemon/replay/fit_season.h"

/* {"made", "field", "readings", "trustworthy", "condition", "parameters": [...], "before", "after",
 * "proposal": {settings as for a scenario}}. NULL: no memory. */
cJSON *view_fit_json(const struct season_case *season, const struct season_fit *fit, const char *soil,
                     const cJSON *made);

/* A row for each reading: measured, modelled before and after. */
void view_fit_csv(const struct season_fit *fit, const cJSON *made, struct text *out);

void view_fit_text(const struct season_case *season, const struct season_fit *fit, const char *soil,
                   struct text *out);

#endif

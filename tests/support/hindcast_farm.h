/* Invented fields whose seasons are run over years of weather. */
#ifndef WATERTURN_TESTS_HINDCAST_FARM_H
#define WATERTURN_TESTS_HINDCAST_FARM_H

#include "core/decide/hindcast.h"
#include "tests/support/past_years.h"

#define HINDCAST_MEMBERS     200
#define HINDCAST_SEASONS_MAX 400

struct hindcast_farm_season {
    const char *crop;
    struct season_setup setup;
    struct system system;
    int first, days;               /* of the years' days */
    struct outlook_errors climate; /* the defaults, before anything is learnt */
    const struct past_years *years;
};

struct hindcast_farm {
    struct past_years *years;
    bool forecasts;
    struct hindcast_farm_season season[HINDCAST_SEASONS_MAX];
    int season_count;
    struct hindcast_room room;
    struct outlook_prices prices;
    double *store;
};

/* One season of every field in every whole year. With forecasts, their errors are learnt each morning from
 * the 300 issues before it. */
void hindcast_farm_open(struct hindcast_farm *farm, struct past_years *years, bool forecasts);
void hindcast_farm_close(struct hindcast_farm *farm);

/* Calls by the allowed depletion, the season's seed. */
struct hindcast_input hindcast_farm_input(struct hindcast_farm *farm, int season);

#endif

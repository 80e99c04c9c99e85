#include "tests/support/hindcast_farm.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/farm/library.h"

#define MEMBER_DAYS (HINDCAST_MEMBERS * HINDCAST_DAYS)
#define ISSUES      300

/* Places, soils and ways to water that differ. */
static const struct {
    const char *crop, *region, *texture;
    int month, day; /* planted */
    double root_max_m, curve_number;
    enum system_kind kind;
    double flow_m3_h, area_m2, hours_per_day, net_min_mm, net_max_mm;
} fields[] = {
    {"maize, grain", "", "silt loam", 4, 20, 0.9, 74, SYSTEM_CENTRE_PIVOT, 220, 320000, 22, 8, 30},
    {"soybean", "", "loam", 5, 15, 0.7, 70, SYSTEM_CENTRE_PIVOT, 220, 260000, 22, 8, 30},
    {"potato", "", "sandy loam", 4, 25, 0.5, NAN, SYSTEM_SOLID_SET, 40, 12000, 12, NAN, NAN},
    {"tomato", "", "silt loam", 4, 28, 0.7, NAN, SYSTEM_DRIP, 40, 40000, 12, NAN, NAN},
    {"sweet potato", "", "sandy loam", 5, 20, 0.8, 65, SYSTEM_HAND_MOVED, 50, 60000, 16, 20, 60},
};
#define FIELDS ((int)(sizeof fields / sizeof *fields))

static void give_up(const char *what) {
    fprintf(stderr, "hindcast_farm: %s\n", what);
    exit(1);
}

static struct problems problems;

static void season_open(const struct library *library, int field, int32_t planted,
                        struct hindcast_farm_season *season) {
    season->crop = fields[field].crop;
    season->setup = season_setup_default();
    if (library_crop(library, fields[field].crop, fields[field].region, &season->setup.crop) != STATUS_OK ||
        library_soil(library, fields[field].texture, &season->setup.soil) != STATUS_OK)
        give_up(fields[field].crop);
    season->setup.crop.root_max_m = fields[field].root_max_m;
    season->setup.soil.curve_number = fields[field].curve_number;
    season->setup.first_date = season->setup.planting_date = planted;
    season->setup.start_depletion = 0.2;
    season->setup.start_surface = 0.5;
    season->system = system_default(fields[field].kind);
    season->system.flow_m3_h = fields[field].flow_m3_h;
    season->system.area_m2 = fields[field].area_m2;
    season->system.hours_per_day = fields[field].hours_per_day;
    season->system.net_min_mm = fields[field].net_min_mm;
    season->system.net_max_mm = fields[field].net_max_mm;
    season->setup.system_wetted_fraction = season->system.wetted_fraction;
    season->days = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        season->days += (int)season->setup.crop.stage_days[k];
}

/* The season's climate, from all other years. */
static void climate(const struct hindcast_farm *farm, struct hindcast_farm_season *season) {
    const struct past_years *years = farm->years;
    int32_t planted = season->setup.planting_date;
    const struct outlook_weather_input middle = {.today = planted + season->days / 2,
                                                 .history = &years->history,
                                                 .skip_from = planted,
                                                 .skip_to = planted + season->days + HINDCAST_DAYS,
                                                 .use_future = true};
    double wet_share, amount_mm;
    outlook_climate(&middle, season->days / 2, &wet_share, &amount_mm);
    if (outlook_errors_default(wet_share, amount_mm, &season->climate) != STATUS_OK)
        give_up("no climate");
    season->years = years;
}

static void learn(void *context, int32_t today, struct outlook_errors *errors) {
    const struct hindcast_farm_season *season = context;
    size_t count;
    struct outlook_pair *pairs = past_years_pairs(season->years, today, ISSUES, &count);
    *errors = season->climate;
    outlook_errors_learn(pairs, count, errors);
    free(pairs);
}

static bool forecast(void *context, int32_t issued, int days, struct season_input *out) {
    const struct hindcast_farm_season *season = context;
    return past_years_forecast(season->years, issued, days, out);
}

static void rooms_open(struct hindcast_farm *farm) {
    size_t days = MEMBER_DAYS;
    farm->store = calloc(5 * days + 2 * (size_t)HINDCAST_MEMBERS, sizeof *farm->store);
    struct outlook_state *states = calloc(days + HINDCAST_MEMBERS, sizeof *states);
    if (farm->store == NULL || states == NULL)
        give_up("no memory");
    farm->room.weather.et0_mm = farm->store;
    farm->room.weather.rain_mm = farm->store + days;
    farm->room.outlook = (struct outlook_room){farm->store + 2 * days, farm->store + 5 * days};
    farm->room.cost = (struct outlook_cost_room){states, farm->store + 3 * days, farm->store + 4 * days};
}

void hindcast_farm_open(struct hindcast_farm *farm, struct past_years *years, bool forecasts) {
    struct library *library = NULL;
    memset(farm, 0, sizeof *farm);
    farm->years = years;
    farm->forecasts = forecasts;
    farm->prices = outlook_prices_default();
    if (library_open(&library, &problems) != STATUS_OK)
        give_up("no library");
    int first_year = calendar_to_civil(years->first).year;
    for (int year = first_year; year <= calendar_to_civil(years->first + years->count - 1).year; year++)
        for (int field = 0; field < FIELDS && farm->season_count < HINDCAST_SEASONS_MAX; field++) {
            struct hindcast_farm_season *season = &farm->season[farm->season_count];
            int32_t planted;
            if (calendar_from_civil(year, fields[field].month, fields[field].day, &planted) != STATUS_OK)
                give_up("no such date");
            season_open(library, field, planted, season);
            season->first = planted - years->first;
            if (season->first < 0 || season->first + season->days + HINDCAST_DAYS > years->count)
                continue;
            climate(farm, season);
            farm->season_count++;
        }
    library_free(library);
    rooms_open(farm);
}

void hindcast_farm_close(struct hindcast_farm *farm) {
    free(farm->store);
    free(farm->room.cost.state);
}

struct hindcast_input hindcast_farm_input(struct hindcast_farm *farm, int index) {
    struct hindcast_farm_season *season = &farm->season[index];
    return (struct hindcast_input){
        .setup = &season->setup,
        .weather = &farm->years->day[season->first],
        .days = season->days + HINDCAST_DAYS,
        .system = &season->system,
        .prices = &farm->prices,
        .history = &farm->years->history,
        .forecast = farm->forecasts ? forecast : NULL,
        .learn = learn,
        .forecast_context = season,
        .members = HINDCAST_MEMBERS,
        .seed = 1000003u * (uint64_t)(index + 1),
    };
}

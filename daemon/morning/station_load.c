#include "daemon/morning/station_load.h"

#include <string.h>

#include "daemon/store/weather_store.h"

/* One neighbour's observed days of the same span; a name that is no station's is passed over. */
static enum status load_neighbour(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                  const char *name, int32_t first, int32_t today, int32_t last,
                                  struct station_input *input, struct weather_days *observed,
                                  struct problems *problems) {
    size_t other = 0;
    while (other < farm->station_count && strcmp(farm->station[other].name, name) != 0)
        other++;
    if (other == farm->station_count)
        return STATUS_OK;
    struct weather_days ignored;
    int32_t issued;
    weather_days_init(&ignored);
    struct weather_days *days = &observed[input->neighbour_count];
    input->neighbour[input->neighbour_count++] = (struct station_neighbour){&farm->station[other], days};
    enum status status = weather_store_load(db, ids->station[other], first, last + 1, today, last, days,
                                            &ignored, &issued, problems);
    weather_days_free(&ignored);
    return status;
}

enum status station_days_load(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                              size_t station, int32_t first, int32_t today, int32_t last,
                              struct station_days *out, struct problems *problems) {
    struct weather_days observed, forecast, neighbour[FARM_NEIGHBOURS_MAX];
    const struct farm_station *own = &farm->station[station];
    struct station_input input = {.station = own, .observed = &observed, .forecast = &forecast};
    int32_t issued = CALENDAR_NONE;
    weather_days_init(&observed);
    weather_days_init(&forecast);
    for (int i = 0; i < FARM_NEIGHBOURS_MAX; i++)
        weather_days_init(&neighbour[i]);
    enum status status = weather_store_load(db, ids->station[station], CALENDAR_FIRST, first, today, last,
                                            &observed, &forecast, &issued, problems);
    for (int i = 0; status == STATUS_OK && i < own->neighbour_count; i++)
        status =
            load_neighbour(db, farm, ids, own->neighbour[i], first, today, last, &input, neighbour, problems);
    if (status == STATUS_OK)
        status = station_days_build(&input, first, today, last, out);
    if (status == STATUS_OK)
        out->forecast_issued = issued;
    weather_days_free(&observed);
    weather_days_free(&forecast);
    for (int i = 0; i < FARM_NEIGHBOURS_MAX; i++)
        weather_days_free(&neighbour[i]);
    return status;
}

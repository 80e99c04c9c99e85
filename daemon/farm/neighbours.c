#include "daemon/farm/neighbours.h"

#include <math.h>
#include <string.h>

#include "core/weather/station_transfer.h"

int neighbour_places(const struct farm *farm, const struct farm_station *station,
                     struct neighbour_place out[FARM_NEIGHBOURS_MAX]) {
    int count = 0;
    for (int i = 0; i < station->neighbour_count; i++) {
        const struct farm_station *other = farm_station_named(farm, station->neighbour[i]);
        if (other == NULL)
            continue;
        struct neighbour_place *place = &out[count++];
        memcpy(place->name, other->name, sizeof place->name);
        place->distance_km = station_distance_km(station->site.latitude_deg, station->longitude_deg,
                                                 other->site.latitude_deg, other->longitude_deg);
        place->higher_m = other->site.elevation_m - station->site.elevation_m;
        place->far = place->distance_km > NEIGHBOUR_FAR_KM || fabs(place->higher_m) > NEIGHBOUR_FAR_M;
    }
    return count;
}

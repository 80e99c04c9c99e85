/* Prints what core/weather computes as CSV, for tests that hold it against other programs.
 *
 *   print_weather sun   latitude,day_of_year,distance_factor,declination_rad,ra_mj_m2,daylight_h: 65 S .. 65
 * N by 5 degrees, all days of a year print_weather air   t_c,saturation_kpa,dew_point_c: -40 .. 55 degC by
 * 0.5; the dew point of that vapour pressure print_weather wet elevation_m,pressure_kpa,tdry_c,twet_c,ea_kpa:
 * psychrometers at four elevations print_weather rh    tmax_c,tmin_c,rh_max_pct,rh_min_pct,ea_kpa (eq. 17) */
#include <stdio.h>
#include <string.h>

#include "core/weather/air.h"
#include "core/weather/sun.h"

static void print_sun(void) {
    puts("latitude,day_of_year,distance_factor,declination_rad,ra_mj_m2,daylight_h");
    for (int latitude = -65; latitude <= 65; latitude += 5)
        for (int day = 1; day <= 365; day++) {
            struct sun_day sun;
            if (sun_of_day(latitude, day, &sun) == STATUS_OK)
                printf("%d,%d,%.17g,%.17g,%.17g,%.17g\n", latitude, day, sun.distance_factor,
                       sun.declination_rad, sun.ra_mj_m2, sun.daylight_h);
        }
}

static void print_air(void) {
    puts("t_c,saturation_kpa,dew_point_c");
    for (int half = -80; half <= 110; half++) {
        double e0 = air_saturation_kpa(half / 2.0);
        printf("%.17g,%.17g,%.17g\n", half / 2.0, e0, air_dew_point_c(e0));
    }
}

static void print_wet(void) {
    puts("elevation_m,pressure_kpa,tdry_c,twet_c,ea_kpa");
    for (int elevation = 0; elevation <= 3000; elevation += 1000) {
        double pressure = air_pressure_kpa(elevation);
        for (int dry = 10; dry <= 40; dry += 5)
            for (int wet = dry - 10; wet <= dry; wet += 2)
                printf("%d,%.17g,%d,%d,%.17g\n", elevation, pressure, dry, wet,
                       air_ea_psychrometer_kpa(dry, wet, pressure, AIR_PSYCHROMETER_VENTILATED));
    }
}

static void print_rh(void) {
    puts("tmax_c,tmin_c,rh_max_pct,rh_min_pct,ea_kpa");
    for (int tmax = 10; tmax <= 45; tmax += 5)
        for (int highest = 40; highest <= 100; highest += 20)
            printf("%d,%d,%d,%d,%.17g\n", tmax, tmax - 8, highest, highest / 2,
                   air_ea_rh_max_min_kpa(tmax, tmax - 8, highest, highest / 2));
}

static const struct {
    const char *name;
    void (*print)(void);
} tables[] = {{"sun", print_sun}, {"air", print_air}, {"wet", print_wet}, {"rh", print_rh}};

int main(int argc, char **argv) {
    for (size_t i = 0; argc == 2 && i < sizeof tables / sizeof tables[0]; i++)
        if (strcmp(argv[1], tables[i].name) == 0) {
            tables[i].print();
            return 0;
        }
    fputs("usage: print_weather sun|air|wet|rh\n", stderr);
    return 1;
}

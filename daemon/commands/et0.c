#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/file.h"
#include "daemon/commands/command.h"
#include "daemon/morning/station_hours.h"
#include "daemon/source/layout_find.h"
#include "daemon/view/csv_cell.h"

static void add_origin(const struct weather_value *value, struct text *out) {
    text_puts(out, ",");
    text_puts(out, value->rule == WEATHER_RULE_NONE ? "missing" : weather_rule_key(value->rule));
}

/* A day whose temperatures are missing has no ET0: nothing is made up from the days beside it. */
static void add_day(const struct farm_station *station, const struct weather_days *days,
                    const struct weather_day *reported, struct text *out) {
    struct weather_findings findings = {0};
    struct weather_full full;
    struct station_hours hours;
    char iso[CALENDAR_ISO_SIZE];
    double et0_mm[REFERENCE_ASCE_TALL + 1] = {(double)NAN};
    (void)weather_check(reported, NULL, NULL, NULL, 0, &station->site, &findings);
    enum status status = weather_complete(reported, &station->site, &findings, &full);
    bool summed = status == STATUS_OK && station_hours_believed(reported, &findings) &&
                  station_hours_make(station, days, &full, &hours) &&
                  station_hours_sum(&hours, full.date, et0_mm);
    if (status == STATUS_OK && !summed)
        status = reference_et_day(&full, &station->site, REFERENCE_FAO56_GRASS, NULL, et0_mm);
    text_puts(out, calendar_format_iso(reported->date, iso));
    if (status != STATUS_OK) {
        text_printf(out, ",,%s,,,,,\r\n", status_name(status));
        return;
    }
    text_printf(out, ",%.4f,ok", et0_mm[REFERENCE_FAO56_GRASS]);
    add_origin(&full.tmean_c, out);
    add_origin(&full.ea_kpa, out);
    add_origin(&full.rs_mj_m2, out);
    add_origin(&full.wind_2m_m_s, out);
    text_puts(out, summed ? ",hours\r\n" : ",day\r\n");
}

static enum status print_days(const struct farm_station *station, const struct weather_days *days) {
    struct text out;
    text_init(&out, 0);
    text_puts(&out, "date,et0_mm,status,tmean,humidity,radiation,wind,et0_from\r\n");
    for (size_t i = 0; i < days->count; i++)
        add_day(station, days, &days->day[i], &out);
    enum status status = text_failed(&out) ? STATUS_NO_MEMORY : STATUS_OK;
    if (status == STATUS_OK)
        fputs(text_string(&out), stdout);
    text_free(&out);
    return status;
}

static enum status read_station(const struct options *options, struct farm_station *station, double *utc_h,
                                struct problems *problems) {
    double latitude, elevation, wind_height;
    enum status status = option_number(options, "--lat", -90, 90, (double)NAN, &latitude, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--elev", -430, 6000, (double)NAN, &elevation, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--wind-height", 0.5, 100, 2.0, &wind_height, problems);
    /* A place given without a longitude lies nowhere on the clock: its ET0 is that of days. */
    bool placed = option_value(options, "--lon") != NULL;
    station->longitude_deg = (double)NAN;
    if (status == STATUS_OK && placed)
        status = option_number(options, "--lon", -180, 180, (double)NAN, &station->longitude_deg, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--utc-offset", -14, 14,
                               placed ? round(station->longitude_deg / 15) : 0, utc_h, problems);
    if (status != STATUS_OK)
        return status;
    station->site = weather_site_default(latitude, elevation);
    station->site.wind_height_m = wind_height;
    station->hourly_et0 = true;
    return STATUS_OK;
}

/* The clock of the file: so many hours ahead of UTC all year. */
static int32_t fixed_zone(void *context, int64_t utc) {
    (void)utc;
    return (int32_t)lround(3600 * *(const double *)context);
}

static enum status run_et0(const struct options *options, struct problems *problems) {
    struct farm_station station = {0};
    struct layout *layout = NULL;
    struct weather_days days;
    const char *name = option_value(options, "--layout"), *file = options->argument[0];
    char *bytes = NULL;
    size_t size = 0;
    double utc_h = 0;
    weather_days_init(&days);
    enum status status = read_station(options, &station, &utc_h, problems);
    if (status == STATUS_OK)
        status = layout_find(name != NULL ? name : "plain", &layout, problems);
    if (status == STATUS_OK)
        status = file_read(file, LAYOUT_BYTES_MAX, &bytes, &size, problems);
    if (status == STATUS_OK) {
        layout_set_zone(layout, fixed_zone, &utc_h);
        status = layout_read(layout, file, (const unsigned char *)bytes, size, &days, problems);
    }
    if (status == STATUS_OK && !isnan(layout_wind_height_m(layout)))
        weather_days_move_wind(&days, layout_wind_height_m(layout), station.site.wind_height_m);
    if (status == STATUS_OK)
        status = print_days(&station, &days);
    weather_days_free(&days);
    layout_free(layout);
    free(bytes);
    return status;
}

static const struct option_spec et0_options[] = {
    {"--lat", "D", "latitude of the station, degrees, north positive"},
    {"--elev", "M", "its elevation, m"},
    {"--wind-height", "M", "height of its anemometer, m; else 2"},
    {"--layout", "NAME", "how the file is read; else plain: the header below"},
    {"--lon", "D", "longitude, degrees, east positive: wanted for ET0 summed from hours"},
    {"--utc-offset", "H", "hours by which the file's clock is ahead of UTC; else by the longitude"},
    OPTION_END};

const struct command command_et0 = {"et0",
                                    "FILE",
                                    1,
                                    1,
                                    "reference evapotranspiration of each day of a weather CSV",
                                    "The file (- is standard input) begins with a header row of any of: "
                                    "date, tmax_c, tmin_c, tmean_c, rh_max_pct,\n"
                                    "rh_min_pct, rh_mean_pct, tdew_c, ea_kpa, wind_m_s, rs_mj_m2, sun_h, "
                                    "rain_mm. FAO-56 Penman-Monteith, eq. 6. CSV on\n"
                                    "standard output: the date, ET0, and the rule by which each input was "
                                    "obtained (as_reported: it stood in the\n"
                                    "file). A day without temperatures has an empty ET0 and says why. With a "
                                    "layout of hours (as plain-hourly)\n"
                                    "and --lon, ET0 of a day whose 24 hours are all there is the sum of "
                                    "hourly values, eq. 53: et0_from says hours.",
                                    et0_options,
                                    run_et0};

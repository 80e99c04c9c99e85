#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/file.h"
#include "daemon/commands/command.h"
#include "daemon/morning/station_days.h"
#include "daemon/source/layout.h"
#include "daemon/view/csv_cell.h"

static void add_origin(const struct weather_value *value, struct text *out) {
    text_puts(out, ",");
    text_puts(out, value->rule == WEATHER_RULE_NONE ? "missing" : weather_rule_key(value->rule));
}

/* A day whose temperatures are missing has no ET0: nothing is made up from the days beside it. */
static void add_day(const struct farm_station *station, const struct weather_day *reported,
                    struct text *out) {
    struct weather_findings findings = {0};
    struct weather_full full;
    char iso[CALENDAR_ISO_SIZE];
    double et0_mm = (double)NAN;
    (void)weather_check(reported, NULL, NULL, NULL, 0, &station->site, &findings);
    enum status status = weather_complete(reported, &station->site, &findings, &full);
    if (status == STATUS_OK)
        status = reference_et_day(&full, &station->site, REFERENCE_FAO56_GRASS, NULL, &et0_mm);
    text_puts(out, calendar_format_iso(reported->date, iso));
    if (status != STATUS_OK) {
        text_printf(out, ",,%s,,,,\r\n", status_name(status));
        return;
    }
    text_printf(out, ",%.4f,ok", et0_mm);
    add_origin(&full.tmean_c, out);
    add_origin(&full.ea_kpa, out);
    add_origin(&full.rs_mj_m2, out);
    add_origin(&full.wind_2m_m_s, out);
    text_puts(out, "\r\n");
}

static enum status print_days(const struct farm_station *station, const struct weather_days *days) {
    struct text out;
    text_init(&out, 0);
    text_puts(&out, "date,et0_mm,status,tmean,humidity,radiation,wind\r\n");
    for (size_t i = 0; i < days->count; i++)
        add_day(station, &days->day[i], &out);
    enum status status = text_failed(&out) ? STATUS_NO_MEMORY : STATUS_OK;
    if (status == STATUS_OK)
        fputs(text_string(&out), stdout);
    text_free(&out);
    return status;
}

static enum status read_station(const struct options *options, struct farm_station *station,
                                struct problems *problems) {
    double latitude, elevation, wind_height;
    enum status status = option_number(options, "--lat", -90, 90, (double)NAN, &latitude, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--elev", -430, 6000, (double)NAN, &elevation, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--wind-height", 0.5, 100, 2.0, &wind_height, problems);
    if (status != STATUS_OK)
        return status;
    station->site = weather_site_default(latitude, elevation);
    station->site.wind_height_m = wind_height;
    return STATUS_OK;
}

static enum status run_et0(const struct options *options, struct problems *problems) {
    struct farm_station station = {0};
    struct layout *layout = NULL;
    struct weather_days days;
    char *bytes = NULL;
    size_t size = 0;
    weather_days_init(&days);
    enum status status = read_station(options, &station, problems);
    if (status == STATUS_OK)
        status = layout_builtin("plain", &layout, problems);
    if (status == STATUS_OK)
        status = file_read(options->argument[0], LAYOUT_BYTES_MAX, &bytes, &size, problems);
    if (status == STATUS_OK)
        status =
            layout_read(layout, options->argument[0], (const unsigned char *)bytes, size, &days, problems);
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
                                    "file). A day without temperatures has an empty ET0 and says why.",
                                    et0_options,
                                    run_et0};

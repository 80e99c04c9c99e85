#include "core/weather/climatology.h"

#include <math.h>

#include "core/base/calendar.h"

struct sums {
    double weight[CLIMATOLOGY_VALUE_COUNT], sum[CLIMATOLOGY_VALUE_COUNT];
};

static double measured(const struct weather_value *value) {
    return value->origin == ORIGIN_MEASURED || value->origin == ORIGIN_DERIVED ? value->value : (double)NAN;
}

/* The measured values of a day; false when it has no temperatures. */
static bool values_of(const struct weather_day *day, const struct weather_site *site,
                      double value[CLIMATOLOGY_VALUE_COUNT]) {
    struct weather_findings findings = {0};
    struct weather_full full;
    (void)weather_check(day, NULL, NULL, NULL, 0, site, &findings);
    if (weather_complete(day, site, &findings, &full) != STATUS_OK)
        return false;
    value[CLIMATOLOGY_TMAX_C] = measured(&full.tmax_c);
    value[CLIMATOLOGY_TMIN_C] = measured(&full.tmin_c);
    value[CLIMATOLOGY_EA_KPA] = measured(&full.ea_kpa);
    value[CLIMATOLOGY_WIND_2M_M_S] = measured(&full.wind_2m_m_s);
    value[CLIMATOLOGY_RS_MJ_M2] = measured(&full.rs_mj_m2);
    return true;
}

/* Index of the first day that is not before `date`. */
static size_t first_from(const struct weather_day *day, size_t count, int32_t date) {
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (day[middle].date < date)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The same day of the year in another year; 29 February becomes 28 February. */
static int32_t same_day_in(int year, const struct calendar_civil *civil) {
    int32_t date = CALENDAR_NONE;
    if (calendar_from_civil(year, civil->month, civil->day, &date) != STATUS_OK)
        (void)calendar_from_civil(year, civil->month, civil->day - 1, &date);
    return date;
}

static void add_year(const struct weather_day *day, size_t count, const struct weather_site *site,
                     int32_t centre, int32_t before, struct sums *sums, int years[CLIMATOLOGY_VALUE_COUNT]) {
    int present[CLIMATOLOGY_VALUE_COUNT] = {0};
    for (size_t i = first_from(day, count, centre - CLIMATOLOGY_REACH_D + 1);
         i < count && day[i].date < centre + CLIMATOLOGY_REACH_D && day[i].date < before; i++) {
        double value[CLIMATOLOGY_VALUE_COUNT];
        if (!values_of(&day[i], site, value))
            continue;
        double weight = 1.0 - fabs((double)(day[i].date - centre)) / CLIMATOLOGY_REACH_D;
        for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++) {
            if (isnan(value[v]))
                continue;
            sums->weight[v] += weight;
            sums->sum[v] += weight * value[v];
            present[v]++;
        }
    }
    for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++)
        years[v] += present[v] >= CLIMATOLOGY_REACH_D;
}

enum status climatology_of(const struct weather_day *day, size_t count, const struct weather_site *site,
                           int32_t date, struct climatology *out) {
    for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++) {
        out->mean[v] = (double)NAN;
        out->years[v] = 0;
    }
    enum status status = weather_site_check(site);
    if (status == STATUS_OK && !calendar_valid(date))
        status = STATUS_OUT_OF_RANGE;
    if (status != STATUS_OK || count == 0)
        return status;
    struct sums sums = {{0}, {0}};
    struct calendar_civil civil = calendar_to_civil(date);
    int first = calendar_to_civil(day[0].date).year;
    for (int year = civil.year - 1; year >= first - 1 && year >= 1600; year--) {
        int32_t centre = same_day_in(year, &civil);
        /* In early January the reach goes into the year before, which is an earlier year all the same; in
         * late December it must not go into this one. */
        int32_t new_year = CALENDAR_NONE;
        (void)calendar_from_civil(civil.year, 1, 1, &new_year);
        add_year(day, count, site, centre, new_year, &sums, out->years);
    }
    for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++) {
        if (out->years[v] >= CLIMATOLOGY_YEARS_MIN)
            out->mean[v] = sums.sum[v] / sums.weight[v];
    }
    return STATUS_OK;
}

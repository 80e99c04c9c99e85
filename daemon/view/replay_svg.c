#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/replay/made.h"
#include "daemon/view/chart.h"
#include "daemon/view/replay.h"
#include "daemon/view/svg.h"

enum { WIDTH = 1600, HEIGHT = 900, KEY_PITCH = 34, KEYS_ACROSS = 3 };

struct picture {
    const struct replay *replay;
    const struct replay_result *const *result;
    const char *const *name; /* of each */
    const char *title;
    size_t count;
    bool us_units;
    struct text *out;
    double *x, *y, *limit; /* room for the longest season */
};

static double depth(const struct picture *picture, double mm) {
    return picture->us_units ? units_from_si(mm, units_find("in")) : mm;
}

static const char *unit(const struct picture *picture) {
    return picture->us_units ? "inches" : "mm";
}

/* The span of days, over all scenarios. */
static void dates(const struct picture *picture, struct chart *chart) {
    chart->x_dates = true;
    chart->x_label = "";
    chart->x_low = INFINITY;
    chart->x_high = -INFINITY;
    for (size_t i = 0; i < picture->count; i++) {
        if (picture->result[i]->days == 0)
            continue;
        chart->x_low = fmin(chart->x_low, picture->result[i]->budget.first);
        chart->x_high = fmax(chart->x_high, picture->result[i]->budget.last);
    }
    if (!(chart->x_high > chart->x_low))
        chart->x_high = chart->x_low + 1;
}

/* Rain that stayed and gross irrigation, added up. */
static void cumulate(const struct picture *picture, const struct replay_result *result) {
    double sum = 0;
    for (int k = 0; k < result->days; k++) {
        const struct season_day *day = &result->day[k];
        sum += depth(picture, day->rain_mm - day->runoff_mm + day->irrigation_gross_mm);
        picture->x[k] = day->date;
        picture->y[k] = sum;
    }
}

static void draw_water(const struct picture *picture, struct chart *chart) {
    chart->title = "Water that came in: rain less runoff, and irrigation";
    chart->y_label = unit(picture);
    for (size_t i = 0; i < picture->count; i++) {
        cumulate(picture, picture->result[i]);
        if (picture->result[i]->days > 0)
            chart->y_high = fmax(chart->y_high, picture->y[picture->result[i]->days - 1]);
    }
    chart_round(&chart->y_low, &chart->y_high, true);
    chart_frame(chart);
    for (size_t i = 0; i < picture->count; i++) {
        cumulate(picture, picture->result[i]);
        chart_line(chart, picture->x, picture->y, (size_t)picture->result[i]->days, i);
    }
}

static void draw_depletion(const struct picture *picture, struct chart *chart) {
    chart->title = "Depletion of the root zone; thin: what is allowed";
    chart->y_label = unit(picture);
    chart->y_down = true;
    for (size_t i = 0; i < picture->count; i++) {
        const struct replay_result *result = picture->result[i];
        for (int k = 0; k < result->days; k++)
            chart->y_high = fmax(chart->y_high, depth(picture, result->day[k].depletion_mm));
    }
    chart_round(&chart->y_low, &chart->y_high, true);
    chart_frame(chart);
    for (size_t i = 0; i < picture->count; i++) {
        const struct replay_result *result = picture->result[i];
        for (int k = 0; k < result->days; k++) {
            const struct season_day *day = &result->day[k];
            picture->x[k] = day->date;
            picture->y[k] = depth(picture, day->depletion_mm);
            picture->limit[k] = crop_growing(day->stage) ? depth(picture, day->allowed_mm) : (double)NAN;
            if (picture->limit[k] > chart->y_high)
                picture->limit[k] = (double)NAN;
        }
        chart_limit(chart, picture->x, picture->limit, (size_t)result->days);
        chart_line(chart, picture->x, picture->y, (size_t)result->days, i);
    }
}

static double water_in(const struct picture *picture, const struct budget_part *season) {
    return depth(picture, season->rain_mm - season->runoff_mm + season->irrigation_gross_mm);
}

static void draw_yield(const struct picture *picture, struct chart *chart) {
    bool amount = isfinite(picture->replay->money.max_yield);
    chart->title = "Yield against water";
    char label[FARM_NAME_SIZE + 20] = "% of the yield without stress";
    if (amount)
        (void)snprintf(label, sizeof label, "%s per ha", picture->replay->money.yield_unit);
    chart->y_label = label;
    chart->x_label = picture->us_units ? "water that came in, inches" : "water that came in, mm";
    chart->x_low = INFINITY;
    chart->x_high = -INFINITY;
    chart->y_high = amount ? picture->replay->money.max_yield : 100;
    for (size_t i = 0; i < picture->count; i++) {
        double water = water_in(picture, &picture->result[i]->budget.season);
        chart->x_low = fmin(chart->x_low, water);
        chart->x_high = fmax(chart->x_high, water);
    }
    chart_round(&chart->x_low, &chart->x_high, false);
    chart_round(&chart->y_low, &chart->y_high, true);
    chart_frame(chart);
    bool any = false;
    for (size_t i = 0; i < picture->count; i++) {
        const struct replay_result *result = picture->result[i];
        any = any || isfinite(result->value.relative);
        char number[24];
        (void)snprintf(number, sizeof number, "%zu", i);
        chart_point(chart, water_in(picture, &result->budget.season),
                    amount ? result->value.yield : 100 * result->value.relative, i, number);
    }
    if (!any)
        text_printf(picture->out, "<text x=\"%.1f\" y=\"%.1f\">the crop has no Ky to tell yields by</text>\n",
                    chart->left + 20, chart->top + chart->height / 2);
}

static void head(const struct picture *picture, const cJSON *made, double height) {
    struct text *out = picture->out;
    char from[CALENDAR_ISO_SIZE], to[CALENDAR_ISO_SIZE];
    text_printf(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%.0f\" viewBox=\"0 0 %d %.0f\" "
        "role=\"img\" font-family=\"sans-serif\" font-size=\"20\" fill=\"#000\">\n",
        WIDTH, height, WIDTH, height);
    made_add(made, out);
    text_puts(out, "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n"
                   "<text x=\"60\" y=\"50\" font-size=\"30\" font-weight=\"bold\">");
    svg_add_escaped(out, picture->title);
    text_printf(out, ", %s to %s</text>\n", calendar_format_iso(picture->result[0]->budget.first, from),
                calendar_format_iso(picture->result[0]->budget.last, to));
}

/* The names of the scenarios with their lines; returns where the charts may begin. */
static double keys(const struct picture *picture) {
    for (size_t i = 0; i < picture->count; i++) {
        char name[60];
        int cut = snprintf(name, sizeof name, "%zu %s", i, picture->name[i]);
        size_t size = cut > 0 && (size_t)cut >= sizeof name ? sizeof name - 1 : 0;
        while (size > 0 && ((unsigned char)name[size - 1] & 0xC0) == 0x80)
            size--; /* no half of a letter at the end */
        if (size > 0)
            name[size - 1] = '\0';
        chart_key(picture->out, 60 + (double)(i % KEYS_ACROSS) * 500,
                  88 + (double)(i / KEYS_ACROSS) * KEY_PITCH, i, name);
    }
    return 88 + (double)((picture->count - 1) / KEYS_ACROSS) * KEY_PITCH + 70;
}

static void draw(const struct picture *picture, const cJSON *made) {
    double more = (double)((picture->count - 1) / KEYS_ACROSS) * KEY_PITCH;
    head(picture, made, HEIGHT + more);
    double top = keys(picture), height = (HEIGHT + more - top - 40 - 110) / 2;
    struct chart water = {.left = 100, .top = top, .width = 860, .height = height, .out = picture->out};
    struct chart depletion = water, yield = water;
    depletion.top = top + height + 100;
    yield.left = 1080;
    yield.width = 460;
    yield.height = 2 * height + 70;
    dates(picture, &water);
    dates(picture, &depletion);
    draw_water(picture, &water);
    draw_depletion(picture, &depletion);
    draw_yield(picture, &yield);
    text_puts(picture->out, "</svg>\n");
}

enum status view_results_svg(const struct replay *replay, const struct replay_result *const *result,
                             const char *const *name, size_t count, const char *title, const cJSON *made,
                             bool us_units, struct text *out) {
    size_t most = 1;
    struct picture picture = {.replay = replay,
                              .result = result,
                              .name = name,
                              .title = title,
                              .count = count,
                              .us_units = us_units,
                              .out = out};
    if (count == 0)
        return STATUS_NOT_FOUND;
    for (size_t i = 0; i < count; i++)
        most = (size_t)result[i]->days > most ? (size_t)result[i]->days : most;
    double *room = calloc(3 * most, sizeof *room);
    if (room == NULL)
        return STATUS_NO_MEMORY;
    picture.x = room;
    picture.y = room + most;
    picture.limit = room + 2 * most;
    draw(&picture, made);
    free(room);
    return text_failed(out) ? STATUS_NO_MEMORY : STATUS_OK;
}

enum status view_replay_svg(const struct replay *replay, const char *field, const cJSON *made, bool us_units,
                            struct text *out) {
    const struct replay_result *result[SCENARIOS_MAX];
    const char *name[SCENARIOS_MAX];
    char title[2 * FARM_NAME_SIZE + 2];
    size_t first = replay_first_of(replay, field);
    if (first >= replay->result_count)
        return STATUS_NOT_FOUND;
    for (size_t i = 0; i < replay->scenario_count; i++) {
        result[i] = &replay->result[first + i];
        name[i] = replay->scenario[i].name;
    }
    (void)snprintf(title, sizeof title, "%s, %s", result[0]->field, result[0]->crop_name);
    return view_results_svg(replay, result, name, replay->scenario_count, title, made, us_units, out);
}

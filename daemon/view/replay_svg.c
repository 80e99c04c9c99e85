#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/replay/made.h"
#include "daemon/view/chart.h"
#include "daemon/view/replay.h"
#include "daemon/view/svg.h"

enum {
    WIDTH = 1600,
    HEIGHT = 900,
    MARGIN = 60,
    KEY_PITCH = 34,
    KEY_LINE = 80,
    LETTER = 11,
    KEY_NAME_SIZE = 160
};

struct picture {
    const struct replay *replay;
    const struct results_shown *shown;
    const struct replay_result *const *result; /* those shown */
    size_t count;
    bool us_units;
    const struct words *words;
    struct text *out;
    double *x, *y, *limit;   /* room for the longest season */
    struct chart_spot *spot; /* of each result */
};

static double depth(const struct picture *picture, double mm) {
    return picture->us_units ? units_from_si(mm, units_find("in")) : mm;
}

/* Words of the picture. */
static const char *said(const struct picture *picture, const char *name) {
    char key[48];
    (void)snprintf(key, sizeof key, "picture.%s", name);
    return words_get(picture->words, key);
}

static const char *unit(const struct picture *picture) {
    return said(picture, picture->us_units ? "inches" : "mm");
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
    chart->title = said(picture, "water");
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
    chart->title = said(picture, "depletion");
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

/* Water, with some room on either side; a season alone stands in the middle. */
static void span_of_water(const struct picture *picture, struct chart *chart) {
    chart->x_low = INFINITY;
    chart->x_high = -INFINITY;
    for (size_t i = 0; i < picture->count; i++) {
        double water = water_in(picture, &picture->result[i]->budget.season);
        if (picture->result[i]->days == 0)
            continue;
        chart->x_low = fmin(chart->x_low, water);
        chart->x_high = fmax(chart->x_high, water);
    }
    double room = fmax(0.05 * (chart->x_high - chart->x_low), depth(picture, 20));
    if (chart->x_low > chart->x_high)
        chart->x_low = chart->x_high = 0;
    chart->x_low = fmax(chart->x_low - room, 0);
    chart->x_high += room;
    chart_round(&chart->x_low, &chart->x_high, false);
}

/* What a yield is told in; NaN: not known. */
static double yield_of(const struct picture *picture, size_t i) {
    const struct season_value *value = &picture->result[i]->value;
    if (picture->shown->of_best != NULL)
        return 100 * picture->shown->of_best[i];
    if (!isfinite(picture->replay->money.max_yield))
        return 100 * value->relative;
    return replay_term_shown(TERM_PER_HA, value->yield, picture->us_units);
}

/* Whether any yield is known. */
static bool add_spots(const struct picture *picture) {
    bool any = false;
    for (size_t i = 0; i < picture->count; i++) {
        const struct replay_result *result = picture->result[i];
        double yield = result->days > 0 ? yield_of(picture, i) : (double)NAN;
        picture->spot[i] = (struct chart_spot){.x = water_in(picture, &result->budget.season), .y = yield};
        any = any || isfinite(yield);
    }
    return any;
}

static void draw_yield(const struct picture *picture, struct chart *chart) {
    const struct results_shown *shown = picture->shown;
    bool amount = shown->of_best == NULL && isfinite(picture->replay->money.max_yield);
    struct text label;
    const struct words_hole hole = {"unit", picture->replay->money.yield_unit};
    text_init(&label, 0);
    words_fill(picture->words,
               shown->of_best != NULL ? "picture.of_best"
               : !amount              ? "picture.of_full"
               : picture->us_units    ? "picture.per_acre"
                                      : "picture.per_ha",
               &hole, 1, &label);
    chart->title = said(picture, "yield");
    chart->y_label = text_string(&label);
    chart->x_label = said(picture, picture->us_units ? "water_inches" : "water_mm");
    chart->y_high =
        amount ? replay_term_shown(TERM_PER_HA, picture->replay->money.max_yield, picture->us_units) : 100;
    span_of_water(picture, chart);
    chart_round(&chart->y_low, &chart->y_high, true);
    chart_frame(chart);
    bool any = add_spots(picture);
    for (size_t i = 0; shown->measured_of_best != NULL && i < picture->count; i++)
        chart_ring(chart, picture->spot[i].x, 100 * shown->measured_of_best[i], i);
    chart_points(chart, picture->spot, picture->count);
    if (!any || shown->measured_of_best != NULL)
        text_printf(picture->out, "<text x=\"%.1f\" y=\"%.1f\">%s</text>\n", chart->left + 20,
                    chart->top + chart->height - 20, said(picture, any ? "measured" : "no_ky"));
    text_free(&label);
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
    svg_add_escaped(out, picture->shown->title);
    const struct words_hole holes[] = {{"from", calendar_format_iso(picture->result[0]->budget.first, from)},
                                       {"to", calendar_format_iso(picture->result[0]->budget.last, to)}};
    text_puts(out, ", ");
    words_fill(picture->words, "picture.span", holes, 2, out);
    text_puts(out, "</text>\n");
}

/* "2 irrigation = none", cut where it would be too long. */
static void key_name(const struct picture *picture, size_t i, char name[KEY_NAME_SIZE]) {
    int cut = snprintf(name, KEY_NAME_SIZE, "%zu %s", i, picture->shown->name[i]);
    size_t most = (WIDTH - 2 * MARGIN - KEY_LINE) / LETTER,
           size = cut < KEY_NAME_SIZE ? (size_t)cut : KEY_NAME_SIZE - 1;
    if (size <= most)
        return;
    size = most;
    while (size > 0 && ((unsigned char)name[size] & 0xC0) == 0x80)
        size--; /* no half of a letter at the end */
    name[size] = '\0';
}

/* As many columns as the longest name leaves room for, three at most. */
static size_t keys_across(const struct picture *picture) {
    char name[KEY_NAME_SIZE];
    size_t longest = 1;
    for (size_t i = 0; i < picture->count; i++) {
        key_name(picture, i, name);
        longest = strlen(name) > longest ? strlen(name) : longest;
    }
    size_t across = (WIDTH - 2 * MARGIN) / (KEY_LINE + LETTER * longest);
    return across < 1 ? 1 : across > 3 ? 3 : across;
}

/* Height of the lines of keys below the first. */
static double more_keys(const struct picture *picture) {
    return (double)((picture->count - 1) / keys_across(picture)) * KEY_PITCH;
}

/* The names of the scenarios with their lines; returns where the charts may begin. */
static double keys(const struct picture *picture) {
    size_t across = keys_across(picture);
    for (size_t i = 0; i < picture->count; i++) {
        char name[KEY_NAME_SIZE];
        key_name(picture, i, name);
        chart_key(picture->out, MARGIN + (double)(i % across) * (WIDTH - 2 * MARGIN) / (double)across,
                  88 + (double)(i / across) * KEY_PITCH, i, name);
    }
    return 88 + more_keys(picture) + 70;
}

static void draw(const struct picture *picture, const cJSON *made) {
    double more = more_keys(picture);
    head(picture, made, HEIGHT + more);
    double top = keys(picture), height = (HEIGHT + more - top - 40 - 110) / 2;
    struct chart water = {.left = 100,
                          .top = top,
                          .width = 860,
                          .height = height,
                          .decimal = words_get(picture->words, "number.decimal")[0],
                          .out = picture->out};
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

enum status view_results_svg(const struct replay *replay, const struct results_shown *shown,
                             const cJSON *made, bool us_units, const struct words *words, struct text *out) {
    size_t most = 1, count = shown->count;
    struct picture picture = {.replay = replay,
                              .shown = shown,
                              .result = shown->result,
                              .count = count,
                              .us_units = us_units,
                              .words = words,
                              .out = out};
    if (count == 0)
        return STATUS_NOT_FOUND;
    for (size_t i = 0; i < count; i++)
        most = (size_t)shown->result[i]->days > most ? (size_t)shown->result[i]->days : most;
    double *room = calloc(3 * most, sizeof *room);
    picture.spot = calloc(count, sizeof *picture.spot);
    picture.x = room;
    if (room != NULL && picture.spot != NULL) {
        picture.y = room + most;
        picture.limit = room + 2 * most;
        draw(&picture, made);
    }
    bool good = room != NULL && picture.spot != NULL;
    free(room);
    free(picture.spot);
    return !good || text_failed(out) ? STATUS_NO_MEMORY : STATUS_OK;
}

/* A scenario in words, as far as the picture has any for its settings. */
static const char *scenario_name(const struct words *words, const struct replay *replay, size_t i) {
    const char *name = replay->scenario[i].name;
    return i == 0                                        ? words_get(words, "replay.as_it_was")
           : strcmp(name, "irrigation = none") == 0      ? words_get(words, "label.replay_rainfed")
           : strcmp(name, "irrigation = automatic") == 0 ? words_get(words, "label.replay_automatic")
                                                         : name;
}

enum status view_replay_svg(const struct replay *replay, const char *field, const cJSON *made, bool us_units,
                            const struct words *words, struct text *out) {
    const struct replay_result *result[SCENARIOS_MAX];
    const char *name[SCENARIOS_MAX];
    char title[2 * FARM_NAME_SIZE + 2];
    size_t first = replay_first_of(replay, field);
    if (first >= replay->result_count)
        return STATUS_NOT_FOUND;
    for (size_t i = 0; i < replay->scenario_count; i++) {
        result[i] = &replay->result[first + i];
        name[i] = scenario_name(words, replay, i);
    }
    (void)snprintf(title, sizeof title, "%s, %s", result[0]->field, words_crop(words, result[0]->crop_name));
    const struct results_shown shown = {
        .title = title, .result = result, .name = name, .count = replay->scenario_count};
    return view_results_svg(replay, &shown, made, us_units, words, out);
}

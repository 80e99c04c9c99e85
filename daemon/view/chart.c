#include "daemon/view/chart.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/svg.h"

/* M. Okabe and K. Ito, Color universal design, 2008, without their yellow, which is lost on white. */
static const char *const colour[CHART_STYLES] = {"#000000", "#0072b2", "#d55e00", "#009e73",
                                                 "#cc79a7", "#56b4e9", "#e69f00", "#7f7f7f"};
static const char *const dashes[CHART_STYLES] = {"none",     "none", "14 6", "4 5",
                                                 "14 5 4 5", "22 6", "8 8",  "2 8"};

static double step_of(double span) {
    return svg_nice_step(span, 5);
}

void chart_round(double *low, double *high, bool zero) {
    if (zero) {
        *low = fmin(*low, 0);
        *high = fmax(*high, 0);
    }
    if (!(*high > *low))
        *high = *low + 1;
    double step = step_of(*high - *low);
    *low = step * floor(*low / step);
    *high = step * ceil(*high / step);
}

static double place_x(const struct chart *chart, double x) {
    return chart->left + chart->width * (x - chart->x_low) / (chart->x_high - chart->x_low);
}

static double place_y(const struct chart *chart, double y) {
    double share = (y - chart->y_low) / (chart->y_high - chart->y_low);
    return chart->top + chart->height * (chart->y_down ? share : 1 - share);
}

#define NUMBER_ROOM 32

/* A number of an axis; what is nothing beside its step is 0. */
static const char *say(const struct chart *chart, double value, double step, char out[NUMBER_ROOM]) {
    (void)snprintf(out, NUMBER_ROOM, "%g", fabs(value) < step / 1e6 ? 0 : value);
    char *point = strchr(out, '.');
    if (point != NULL)
        *point = chart->decimal;
    return out;
}

static void mark_y(const struct chart *chart) {
    double step = step_of(chart->y_high - chart->y_low);
    for (double y = chart->y_low; y <= chart->y_high + step / 2; y += step) {
        text_printf(chart->out, "<path d=\"M%.1f %.1fh%.1f\" stroke=\"#ddd\"/>", chart->left,
                    place_y(chart, y), chart->width);
        char words[NUMBER_ROOM];
        text_printf(chart->out, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">%s</text>\n",
                    chart->left - 10, place_y(chart, y) + 7, say(chart, y, step, words));
    }
}

static void mark_x_at(const struct chart *chart, double x, const char *words) {
    text_printf(chart->out, "<path d=\"M%.1f %.1fv8\" stroke=\"#000\" stroke-width=\"2\" fill=\"none\"/>",
                place_x(chart, x), chart->top + chart->height);
    text_printf(chart->out, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\">%s</text>\n",
                place_x(chart, x), chart->top + chart->height + 30, words);
}

/* The first of each month; of every second, third, sixth or twelfth in a long season. */
static void mark_months(const struct chart *chart) {
    int every = 1;
    static const int steps[] = {1, 2, 3, 6, 12};
    for (size_t i = 0; i < 5 && (chart->x_high - chart->x_low) / (30.4 * every) > 8; i++)
        every = steps[i];
    for (int32_t date = (int32_t)chart->x_low; date <= (int32_t)chart->x_high; date++) {
        struct calendar_civil civil = calendar_to_civil(date);
        char words[24];
        if (civil.day != 1 || (civil.month - 1) % every != 0)
            continue;
        (void)snprintf(words, sizeof words, "%04d-%02d", civil.year, civil.month);
        mark_x_at(chart, date, words);
    }
}

static void mark_x(const struct chart *chart) {
    double step = step_of(chart->x_high - chart->x_low);
    char words[NUMBER_ROOM];
    for (double x = chart->x_low; x <= chart->x_high + step / 2; x += step) {
        mark_x_at(chart, x, say(chart, x, step, words));
    }
}

void chart_frame(const struct chart *chart) {
    mark_y(chart);
    if (chart->x_dates)
        mark_months(chart);
    else
        mark_x(chart);
    text_printf(chart->out,
                "<path d=\"M%.1f %.1fv%.1fh%.1f\" stroke=\"#000\" stroke-width=\"2\" fill=\"none\"/>\n",
                chart->left, chart->top, chart->height, chart->width);
    text_printf(chart->out, "<text x=\"%.1f\" y=\"%.1f\" font-weight=\"bold\">", chart->left,
                chart->top - 24);
    svg_add_escaped(chart->out, chart->title);
    text_printf(chart->out, "</text>\n<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">",
                chart->left + chart->width, chart->top - 24);
    svg_add_escaped(chart->out, chart->y_label);
    text_printf(chart->out, "</text>\n<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">",
                chart->left + chart->width, chart->top + chart->height + 58);
    svg_add_escaped(chart->out, chart->x_label);
    text_puts(chart->out, "</text>\n");
}

static void path(const struct chart *chart, const double *x, const double *y, size_t count) {
    bool pen = false;
    text_puts(chart->out, "<path d=\"");
    for (size_t i = 0; i < count; i++) {
        if (isfinite(x[i]) && isfinite(y[i]))
            text_printf(chart->out, "%s%.1f %.1f", pen ? "L" : "M", place_x(chart, x[i]),
                        place_y(chart, y[i]));
        pen = isfinite(x[i]) && isfinite(y[i]);
    }
    text_puts(chart->out, "\"");
}

void chart_line(const struct chart *chart, const double *x, const double *y, size_t count, size_t style) {
    path(chart, x, y, count);
    text_printf(chart->out,
                " class=\"line\" stroke-width=\"4\" fill=\"none\" stroke=\"%s\" stroke-dasharray=\"%s\"/>\n",
                colour[style % CHART_STYLES], dashes[style % CHART_STYLES]);
}

void chart_limit(const struct chart *chart, const double *x, const double *y, size_t count) {
    path(chart, x, y, count);
    text_puts(chart->out, " stroke=\"#888\" stroke-width=\"1.5\" fill=\"none\"/>\n");
}

/* ---- points ---- */

#define DOT         10 /* radius */
#define LABEL_WIDTH 13 /* of a digit, about */
#define LABEL_UP    16

/* What stands between a label's middle and a dot's, or another label's: 0 or less when they touch. */
static double gap(double x, double y, double other_x, double other_y, double room) {
    return hypot(x - other_x, y - other_y) - room;
}

/* Room around the label of spot i at (x, y): the least gap to a dot, a label that stands already, or the
 * frame. */
static double room_at(const struct chart *chart, const struct chart_spot *spot, size_t count, size_t i,
                      double x, double y) {
    double least = fmin(fmin(x - chart->left, chart->left + chart->width - x) - LABEL_WIDTH,
                        fmin(y - chart->top, chart->top + chart->height - y) + LABEL_UP);
    for (size_t k = 0; k < count; k++) {
        if (k != i && isfinite(spot[k].y))
            least = fmin(least,
                         gap(x, y, place_x(chart, spot[k].x), place_y(chart, spot[k].y), DOT + LABEL_WIDTH));
        if (k < i && isfinite(spot[k].y))
            least = fmin(least, gap(x, y, spot[k].label_x, spot[k].label_y, 2 * LABEL_WIDTH));
    }
    return least;
}

/* Beside its dot, on the first of eight sides that has room, else on the one that has most. */
static void place_label(const struct chart *chart, struct chart_spot *spot, size_t count, size_t i) {
    static const int sides[][2] = {{24, 0},  {-24, 0},  {0, 24},   {0, -24},
                                   {18, 18}, {-18, 18}, {18, -18}, {-18, -18}};
    double most = -INFINITY;
    for (size_t side = 0; side < sizeof sides / sizeof sides[0] && most <= 0; side++) {
        double x = place_x(chart, spot[i].x) + sides[side][0], y = place_y(chart, spot[i].y) + sides[side][1];
        double room = room_at(chart, spot, count, i, x, y);
        if (room <= most)
            continue;
        most = room;
        spot[i].label_x = x;
        spot[i].label_y = y;
    }
}

void chart_ring(const struct chart *chart, double x, double y, size_t style) {
    if (isfinite(x) && isfinite(y))
        text_printf(
            chart->out,
            "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%d\" fill=\"none\" stroke=\"%s\" stroke-width=\"4\"/>\n",
            place_x(chart, x), place_y(chart, y), DOT + 4, colour[style % CHART_STYLES]);
}

void chart_points(const struct chart *chart, struct chart_spot *spot, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(spot[i].x))
            spot[i].y = (double)NAN;
        if (isfinite(spot[i].y))
            text_printf(
                chart->out,
                "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%d\" fill=\"%s\" stroke=\"#fff\" stroke-width=\"2\"/>\n",
                place_x(chart, spot[i].x), place_y(chart, spot[i].y), DOT, colour[i % CHART_STYLES]);
    }
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(spot[i].y))
            continue;
        place_label(chart, spot, count, i);
        text_printf(chart->out, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\">%zu</text>\n",
                    spot[i].label_x, spot[i].label_y + 7, i);
    }
}

void chart_key(struct text *out, double x, double y, size_t style, const char *name) {
    text_printf(out,
                "<path d=\"M%.1f %.1fh60\" class=\"line\" stroke-width=\"4\" fill=\"none\" stroke=\"%s\" "
                "stroke-dasharray=\"%s\"/>",
                x, y, colour[style % CHART_STYLES], dashes[style % CHART_STYLES]);
    text_printf(out, "<text x=\"%.1f\" y=\"%.1f\">", x + 70, y + 7);
    svg_add_escaped(out, name);
    text_puts(out, "</text>\n");
}

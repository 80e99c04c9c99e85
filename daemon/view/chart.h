/* Line charts and point charts as SVG, for pictures that go on a slide: large letters, lines that differ in
 * colour and in dashes. */
#ifndef WATERTURN_CHART_H
#define WATERTURN_CHART_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/base/text.h"

/* A rectangle of the picture with an axis on its left and lower edge. */
struct chart {
    double left, top, width, height; /* of the plotted area */
    double x_low, x_high, y_low, y_high;
    bool x_dates; /* x are day numbers: months are marked */
    bool y_down;  /* the axis grows downwards, as a depletion does */
    const char *title, *x_label, *y_label;
    char decimal; /* the sign of its numbers */
    struct text *out;
};

#define CHART_STYLES 8 /* the ninth line looks like the first */

/* Widens low..high to round numbers, 0 included when `zero`. */
void chart_round(double *low, double *high, bool zero);

void chart_frame(const struct chart *chart);
/* A line through `count` points; a NaN breaks it. */
void chart_line(const struct chart *chart, const double *x, const double *y, size_t count, size_t style);
/* The same, thin and grey: what a line is held against. */
void chart_limit(const struct chart *chart, const double *x, const double *y, size_t count);
/* An open point. */
void chart_ring(const struct chart *chart, double x, double y, size_t style);

/* Points, in the style and with the number of their place in the list; a NaN leaves one out. Where the
 * numbers stand is written into the list. */
struct chart_spot {
    double x, y;
    double label_x, label_y;
};
void chart_points(const struct chart *chart, struct chart_spot *spot, size_t count);

/* A piece of a line and its name, at a place of the picture. */
void chart_key(struct text *out, double x, double y, size_t style, const char *name);

#endif

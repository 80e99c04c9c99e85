#include "daemon/view/ribbon.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/number.h"
#include "daemon/view/say.h"
#include "daemon/view/svg.h"

/* In units of the viewBox; a page draws one of them a little wider than a pixel on a phone. */
enum {
    CELLS = MORNING_PAST + MORNING_AHEAD,
    PITCH = 12, /* from cell to cell */
    CELL_WIDTH = 11,
    TODAY_GAP = 4, /* before today's cell, for its line */
    TOP = 6,       /* upper edge of the strip */
    CELL_HEIGHT = 40,
    INSET = 2, /* of the tone of a day to come inside its outline */
    BAR_WIDTH = 5,
    BAR_MAX = 19, /* rain and irrigation of the same day never meet */
    LETTER_Y = 58,
    WIDTH = CELLS * PITCH + TODAY_GAP,
    HEIGHT = 60,
    BANDS = OUTLOOK_LINES,
    WEEK_D = 7,
    TONES = 8, /* tone 8: all of the allowed depletion, and more */
    HATCHED
};

#define BAR_SEEN_MM 0.2 /* less leaves no mark */

struct cell {
    bool known;
    double share, rain_mm, irrigation_mm;
    double band[BANDS]; /* shares, from the upper edge: all of them `share`, or the outlook's 10, 50 and 90 %
                           lines */
    int tone[BANDS];    /* of each of them; -1: not known */
    unsigned levels;    /* bits: those of its bands, see band_has() */
};

struct ribbon {
    struct cell cell[CELLS];
    double scale_mm;
};

static int cell_x(int index) {
    return index * PITCH + (index >= MORNING_PAST ? TODAY_GAP : 0);
}

static double depth_or_zero(double mm) {
    return isfinite(mm) && mm > 0 ? mm : 0;
}

static void put_day(struct ribbon *ribbon, const struct past_day *day, int64_t index, int first, int count) {
    if (index < first || index >= first + count)
        return;
    struct cell *cell = &ribbon->cell[index];
    cell->share = say_share_of(day->depletion_mm, day->allowed_mm);
    cell->known = isfinite(cell->share);
    for (int band = 0; band < BANDS; band++)
        cell->band[band] = cell->share;
    cell->rain_mm = depth_or_zero(day->rain_mm);
    cell->irrigation_mm =
        depth_or_zero(isfinite(day->irrigation_gross_mm) ? day->irrigation_gross_mm : day->irrigation_net_mm);
    ribbon->scale_mm = fmax(ribbon->scale_mm, fmax(cell->rain_mm, cell->irrigation_mm));
}

/* The outlook of the call on a day to come. */
static void put_lines(struct ribbon *ribbon, const struct field_morning *morning,
                      const struct season_day *day, int32_t today) {
    int64_t ahead = (int64_t)day->date - morning->call.date,
            index = (int64_t)day->date - today + MORNING_PAST;
    if (ahead < 0 || ahead >= morning->outlook.days || ahead >= MORNING_AHEAD || index < MORNING_PAST ||
        index >= CELLS || !ribbon->cell[index].known)
        return;
    for (int band = 0; band < BANDS; band++) {
        double share = say_share_of(morning->outlook.depletion_mm[ahead][band], day->allowed_mm);
        if (isfinite(share))
            ribbon->cell[index].band[band] = share;
    }
}

static int limited(int count, int most) {
    return count < 0 ? 0 : count > most ? most : count;
}

/* Tones are levels; HATCHED stands for the hatching. */
static bool band_has(const struct cell *cell, int band, int level) {
    return level == HATCHED ? cell->known && cell->band[band] > 1 : cell->tone[band] == level;
}

static void set_tones(struct ribbon *ribbon) {
    for (int i = 0; i < CELLS; i++) {
        struct cell *cell = &ribbon->cell[i];
        for (int band = 0; band < BANDS; band++) {
            double share = cell->band[band];
            cell->tone[band] = cell->known ? limited((int)(fmin(fmax(share, 0), 1) * TONES), TONES) : -1;
            if (cell->known)
                cell->levels |= 1U << cell->tone[band] | (unsigned)(share > 1) << HATCHED;
        }
    }
}

static struct ribbon arrange(const struct field_morning *morning, int32_t today) {
    struct ribbon ribbon = {.scale_mm = RIBBON_SCALE_MM};
    int past = limited(morning->past_count, MORNING_PAST),
        ahead = limited(morning->ahead_count, MORNING_AHEAD);
    for (int i = 0; i < past; i++) {
        const struct past_day *day = &morning->past[i];
        put_day(&ribbon, day, (int64_t)day->date - today + MORNING_PAST, 0, MORNING_PAST);
    }
    for (int i = 0; i < ahead; i++) {
        const struct season_day *day = &morning->ahead[i];
        const struct past_day shown = {.depletion_mm = day->depletion_mm,
                                       .allowed_mm = day->allowed_mm,
                                       .rain_mm = day->rain_mm,
                                       .irrigation_gross_mm = day->irrigation_gross_mm,
                                       .irrigation_net_mm = day->irrigation_net_mm};
        put_day(&ribbon, &shown, (int64_t)day->date - today + MORNING_PAST, MORNING_PAST, MORNING_AHEAD);
        put_lines(&ribbon, morning, day, today);
    }
    set_tones(&ribbon);
    return ribbon;
}

static void add_box(struct text *out, int index, int inset) {
    svg_add_box(out, cell_x(index) + inset, TOP + inset, CELL_WIDTH - 2 * inset, CELL_HEIGHT - 2 * inset);
}

static bool has_level(const struct ribbon *ribbon, int index, int level) {
    return (ribbon->cell[index].levels & 1U << level) != 0;
}

/* The bands of a cell that have a level, those that touch as one box. */
static void add_bands(const struct ribbon *ribbon, int index, int level, struct text *out) {
    int inset = index >= MORNING_PAST ? INSET : 0, height = CELL_HEIGHT - 2 * inset;
    int width = CELL_WIDTH - 2 * inset;
    for (int band = 0; band < BANDS;) {
        int first = band;
        while (band < BANDS && band_has(&ribbon->cell[index], band, level))
            band++;
        if (band > first)
            svg_add_box(out, cell_x(index) + inset, TOP + inset + height * first / BANDS, width,
                        height * band / BANDS - height * first / BANDS);
        band += band == first;
    }
}

/* One path for each tone, so that a ribbon stays small. */
static void add_tones(const struct ribbon *ribbon, int id, struct text *out) {
    for (int level = 0; level <= TONES; level++) {
        bool any = false;
        for (int i = 0; i < CELLS; i++) {
            if (!has_level(ribbon, i, level))
                continue;
            if (!any)
                text_printf(out, "<path class=\"t%d\" d=\"", level);
            any = true;
            add_bands(ribbon, i, level, out);
        }
        if (any)
            text_puts(out, "\"/>");
    }
    text_printf(out, "<path fill=\"url(#r%dh)\" d=\"", id);
    for (int i = 0; i < CELLS; i++)
        if (has_level(ribbon, i, HATCHED))
            add_bands(ribbon, i, HATCHED, out);
    text_puts(out, "\"/>");
}

static void add_outlines(const struct ribbon *ribbon, struct text *out) {
    text_puts(out, "<path class=\"ahead\" d=\"");
    for (int i = MORNING_PAST; i < CELLS; i++)
        add_box(out, i, 0);
    text_puts(out, "\"/><path class=\"unknown\" d=\"");
    for (int i = 0; i < CELLS; i++) {
        if (!ribbon->cell[i].known)
            text_printf(out, "M%d %dh%d", cell_x(i) + INSET, TOP + CELL_HEIGHT / 2, CELL_WIDTH - 2 * INSET);
    }
    text_puts(out, "\"/>");
}

/* Of 1 to BAR_MAX, without zeros at the end. */
static const char *three_digits(double length, char out[NUMBER_SIZE]) {
    number_fixed(length, length < 10 ? 2 : 1, out);
    size_t size = strlen(out);
    while (out[size - 1] == '0')
        out[--size] = '\0';
    if (out[size - 1] == '.')
        out[size - 1] = '\0';
    return out;
}

static void add_bar(const struct ribbon *ribbon, struct text *out, int index, double mm, bool hangs) {
    if (mm < BAR_SEEN_MM)
        return;
    double length = fmax(1, BAR_MAX * mm / ribbon->scale_mm);
    char digits[NUMBER_SIZE];
    text_printf(out, "M%d %dh%dv%s%sh-%dz", cell_x(index) + (CELL_WIDTH - BAR_WIDTH) / 2,
                hangs ? TOP : TOP + CELL_HEIGHT, BAR_WIDTH, hangs ? "" : "-", three_digits(length, digits),
                BAR_WIDTH);
}

static void add_bars(const struct ribbon *ribbon, struct text *out) {
    text_puts(out, "<path class=\"rain\" d=\"");
    for (int i = 0; i < CELLS; i++)
        add_bar(ribbon, out, i, ribbon->cell[i].rain_mm, true);
    text_puts(out, "\"/><path class=\"water\" d=\"");
    for (int i = 0; i < CELLS; i++)
        add_bar(ribbon, out, i, ribbon->cell[i].irrigation_mm, false);
    text_puts(out, "\"/>");
}

/* The letters of the weekdays below the cells, and the line before today's. */
static void add_days(const struct view_context *context, struct text *out) {
    int x = cell_x(MORNING_PAST) - 3;
    text_printf(out, "<path class=\"now\" d=\"M%d 0h7l-3 5v%dh-1v-%dz\"/><text y=\"%d\" x=\"", x - 3,
                CELL_HEIGHT + 4, CELL_HEIGHT + 4, LETTER_Y);
    for (int i = 0; i < CELLS; i++) {
        text_put_int(out, cell_x(i) + CELL_WIDTH / 2);
        text_puts(out, " ");
    }
    text_puts(out, "\">");
    const char *initial[WEEK_D];
    for (int i = 0; i < WEEK_D; i++) {
        char key[32];
        snprintf(key, sizeof key, "weekday_initial.%d",
                 calendar_weekday(context->facts->today - MORNING_PAST + i));
        initial[i] = words_get(context->words, key);
    }
    for (int i = 0; i < CELLS; i++)
        svg_add_escaped(out, initial[i % WEEK_D]);
    text_puts(out, "</text>");
}

static double sum_mm(const struct ribbon *ribbon, int from, int to, bool rain) {
    double sum = 0;
    for (int i = from; i < to; i++)
        sum += rain ? ribbon->cell[i].rain_mm : ribbon->cell[i].irrigation_mm;
    return sum;
}

static void add_sentences(const struct view_context *context, const struct field_morning *morning,
                          const struct ribbon *ribbon, int id, struct text *out) {
    char sentence[SAY_SIZE], share[SAY_SIZE], rain[SAY_SIZE], irrigation[SAY_SIZE], ahead[SAY_SIZE];
    double depletion = say_share_of(morning->call.depletion_mm, morning->call.allowed_mm);
    const struct words_hole title = {"share", say_share(context, depletion, share)};
    text_printf(out, "<title id=\"r%dt\">", id);
    svg_add_escaped(out, say_words(context, isfinite(depletion) ? "ribbon.title" : "ribbon.title.unknown",
                                   &title, 1, sentence));
    const struct words_hole desc[] = {
        {"rain", say_depth(context, sum_mm(ribbon, 0, MORNING_PAST, true), rain)},
        {"irrigation", say_depth(context, sum_mm(ribbon, 0, MORNING_PAST, false), irrigation)},
        {"ahead", say_depth(context, sum_mm(ribbon, MORNING_PAST, CELLS, true), ahead)}};
    text_printf(out, "</title><desc id=\"r%dd\">", id);
    svg_add_escaped(out, say_words(context, "ribbon.desc", desc, sizeof desc / sizeof *desc, sentence));
    int first = MORNING_PAST;
    while (first < CELLS && !(ribbon->cell[first].known && ribbon->cell[first].share > 1))
        first++;
    if (first < CELLS) {
        char day[SAY_SIZE];
        const struct words_hole on = {
            "on", say_day(context, "on", context->facts->today + first - MORNING_PAST, day)};
        text_puts(out, " ");
        svg_add_escaped(out, say_words(context, "ribbon.desc.dry", &on, 1, sentence));
    }
    text_puts(out, "</desc>");
}

/* "share of the allowed depletion in %,rain,irrigation;" for each day, in the reader's unit: what a finger on
 * the picture asks. */
static void add_values(const struct view_context *context, const struct ribbon *ribbon, struct text *out) {
    char iso[CALENDAR_ISO_SIZE], digits[NUMBER_SIZE];
    bool us = context->us_units;
    double unit_mm = us ? units_to_si(1, units_find("in")) : 1;
    text_printf(out,
                " data-first=\"%s\" data-left=\"0\" data-pitch=\"%d\" data-gap-at=\"%d\" data-gap=\"%d\" "
                "data-unit=\"%s\" data-values=\"",
                calendar_format_iso(context->facts->today - MORNING_PAST, iso), PITCH, MORNING_PAST,
                TODAY_GAP, us ? "in" : "mm");
    for (int i = 0; i < CELLS; i++) {
        const struct cell *cell = &ribbon->cell[i];
        if (cell->known)
            text_puts(out, number_fixed(cell->share * 100, 0, digits));
        const double depths[] = {cell->rain_mm, cell->irrigation_mm};
        for (int k = 0; k < 2; k++) {
            text_puts(out, ",");
            if (depths[k] >= BAR_SEEN_MM)
                text_puts(out, number_fixed(depths[k] / unit_mm, us ? 2 : 0, digits));
        }
        text_puts(out, i + 1 < CELLS ? ";" : "\"");
    }
}

void ribbon_add(const struct view_context *context, const struct field_morning *morning, int id,
                struct text *out) {
    struct ribbon ribbon = arrange(morning, context->facts->today);
    text_printf(out, "<svg class=\"ribbon\" viewBox=\"0 0 %d %d\" role=\"img\" aria-labelledby=\"r%dt r%dd\"",
                WIDTH, HEIGHT, id, id);
    add_values(context, &ribbon, out);
    text_puts(out, ">");
    add_sentences(context, morning, &ribbon, id, out);
    text_printf(out,
                "<pattern id=\"r%dh\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\" "
                "patternTransform=\"rotate(45)\"><path class=\"hatch\" d=\"M2 0v4\"/></pattern>",
                id);
    add_tones(&ribbon, id, out);
    add_bars(&ribbon, out);
    add_outlines(&ribbon, out);
    add_days(context, out);
    text_puts(out, "</svg>");
}

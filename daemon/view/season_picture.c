#include "daemon/view/season_picture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/frame.h"
#include "daemon/view/say.h"
#include "daemon/view/svg.h"

/* In units of the viewBox; a phone draws one of them about as wide as a pixel. */
enum {
    WIDTH = 360,
    LEFT = 24, /* of the first day; numbers stand before it */
    RIGHT = 358,
    RAIN_TOP = 8,
    BAR_MAX = 28,
    PLOT_TOP = 44, /* field capacity */
    PLOT_HEIGHT = 88,
    PLOT_BOTTOM = PLOT_TOP + PLOT_HEIGHT,
    WATER_BOTTOM = PLOT_BOTTOM + 8 + BAR_MAX,
    STAGE_TOP = WATER_BOTTOM + 4,
    STAGE_Y = STAGE_TOP + 10,
    MONTH_Y = STAGE_Y + 13,
    HEIGHT = MONTH_Y + 5,
    TICKS = 4,
    LETTER = 5 /* width of a letter of the labels, about */
};

#define BAR_SEEN_MM   0.2 /* less leaves no mark */
#define BAR_SCALE_MM  25
#define PLOT_LEAST_MM 10

struct picture_day {
    int32_t date;
    enum crop_stage stage;
    bool ahead, reading;
    double depletion_mm, allowed_mm, rain_mm, water_mm;
};

struct picture {
    const struct view_context *context;
    struct picture_day *day;
    int count;
    double pitch, plot_mm, bar_mm, step; /* step: of the numbers beside the plot, in their own unit */
    double unit_mm;                      /* of that unit */
    struct text *out;
};

static struct picture_day day_of(const struct season_day *day, bool ahead) {
    return (struct picture_day){.date = day->date,
                                .stage = day->stage,
                                .ahead = ahead,
                                .reading = fabs(day->reading_shift_mm) > 0,
                                .depletion_mm = day->depletion_mm,
                                .allowed_mm = day->allowed_mm,
                                .rain_mm = fmax(day->rain_mm, 0),
                                .water_mm = fmax(day->irrigation_gross_mm, 0)};
}

/* Days in order; those to come follow the ledger where it ends. */
static void collect(struct picture *picture, const struct field_morning *morning,
                    const struct ledger_row *rows, size_t count) {
    for (size_t i = 0; i < count; i++)
        picture->day[picture->count++] = day_of(&rows[i].day, false);
    int ahead = morning != NULL && morning->ahead_count <= MORNING_AHEAD ? morning->ahead_count : 0;
    for (int i = 0; i < ahead; i++) {
        const struct season_day *day = &morning->ahead[i];
        if (picture->count == 0 || day->date == picture->day[picture->count - 1].date + 1)
            picture->day[picture->count++] = day_of(day, true);
    }
}

static void scale(struct picture *picture) {
    picture->plot_mm = PLOT_LEAST_MM;
    picture->bar_mm = BAR_SCALE_MM;
    for (int i = 0; i < picture->count; i++) {
        const struct picture_day *day = &picture->day[i];
        picture->plot_mm = fmax(picture->plot_mm, 1.05 * fmax(day->depletion_mm, day->allowed_mm));
        picture->bar_mm = fmax(picture->bar_mm, fmax(day->rain_mm, day->water_mm));
    }
    picture->pitch = (double)(RIGHT - LEFT) / picture->count;
    picture->unit_mm = picture->context->us_units ? units_to_si(1, units_find("in")) : 1;
    picture->step = svg_nice_step(picture->plot_mm / picture->unit_mm, TICKS);
}

static double x_of(const struct picture *picture, int index) {
    return LEFT + index * picture->pitch;
}

static double y_of(const struct picture *picture, double depletion_mm) {
    return PLOT_TOP + PLOT_HEIGHT * fmax(depletion_mm, 0) / picture->plot_mm;
}

/* ---- the plot ---- */

/* The depletion of days first..last-1 as a filled step curve down from field capacity. */
static void add_area(const struct picture *picture, int first, int last, const char *class) {
    struct text *out = picture->out;
    text_printf(out, "<path class=\"%s\" d=\"", class);
    bool open = false;
    for (int i = first; i < last; i++) {
        bool known = isfinite(picture->day[i].depletion_mm);
        if (known && !open)
            text_printf(out, "M%.1f %d", x_of(picture, i), PLOT_TOP);
        if (known)
            text_printf(out, "V%.1fH%.1f", y_of(picture, picture->day[i].depletion_mm), x_of(picture, i + 1));
        if (open && !known)
            text_printf(out, "V%dz", PLOT_TOP);
        open = known;
    }
    text_printf(out, open ? "V%dz\"/>" : "\"/>", PLOT_TOP);
}

static void add_past_allowed(const struct picture *picture) {
    struct text *out = picture->out;
    text_puts(out, "<pattern id=\"sph\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\" "
                   "patternTransform=\"rotate(45)\"><path class=\"hatch\" d=\"M2 0v4\"/></pattern>"
                   "<path fill=\"url(#sph)\" d=\"");
    for (int i = 0; i < picture->count; i++) {
        const struct picture_day *day = &picture->day[i];
        if (crop_growing(day->stage) && day->depletion_mm > day->allowed_mm)
            text_printf(out, "M%.1f %.1fH%.1fV%.1fH%.1fz", x_of(picture, i), y_of(picture, day->allowed_mm),
                        x_of(picture, i + 1), y_of(picture, day->depletion_mm), x_of(picture, i));
    }
    text_puts(out, "\"/>");
}

static void add_allowed(const struct picture *picture) {
    struct text *out = picture->out;
    text_puts(out, "<path class=\"allowed\" d=\"");
    bool open = false;
    for (int i = 0; i < picture->count; i++) {
        double allowed_mm = picture->day[i].allowed_mm;
        bool known = isfinite(allowed_mm) && crop_growing(picture->day[i].stage);
        if (known)
            text_printf(out, "%s%.1f %.1fH%.1f", open ? "L" : "M", x_of(picture, i),
                        y_of(picture, allowed_mm), x_of(picture, i + 1));
        open = known;
    }
    text_puts(out, "\"/>");
}

static void add_readings(const struct picture *picture) {
    struct text *out = picture->out;
    text_puts(out, "<path class=\"reading\" d=\"");
    for (int i = 0; i < picture->count; i++) {
        if (picture->day[i].reading)
            text_printf(out, "M%.1f %.1fm-3 0l3 3l3-3l-3-3z", x_of(picture, i) + picture->pitch / 2,
                        y_of(picture, picture->day[i].depletion_mm));
    }
    text_puts(out, "\"/>");
}

/* Field capacity, and numbers down from it. */
static void add_scale(const struct picture *picture) {
    struct text *out = picture->out;
    const struct view_context *context = picture->context;
    char number[SAY_SIZE];
    text_printf(out, "<path class=\"grid\" d=\"");
    for (double at = picture->step; at * picture->unit_mm <= picture->plot_mm; at += picture->step)
        text_printf(out, "M%d %.1fH%d", LEFT, y_of(picture, at * picture->unit_mm), RIGHT);
    text_printf(out, "\"/><path class=\"edge\" d=\"M%d %dH%dM%d %dH%dM%d %dH%d\"/>", LEFT, RAIN_TOP, RIGHT,
                LEFT, PLOT_TOP, RIGHT, LEFT, WATER_BOTTOM, RIGHT);
    int decimals = picture->step < 1 ? 1 : 0;
    for (double at = 0; at * picture->unit_mm <= picture->plot_mm; at += picture->step)
        text_printf(out, "<text class=\"scale\" x=\"%d\" y=\"%.1f\">%s</text>", LEFT - 3,
                    y_of(picture, at * picture->unit_mm) + 3, say_number(context, at, decimals, number));
}

static void add_label(const struct picture *picture, int y, const char *key) {
    text_printf(picture->out, "<text class=\"name\" x=\"%d\" y=\"%d\">", LEFT + 2, y);
    svg_add_escaped(picture->out, words_get(picture->context->words, key));
    text_puts(picture->out, "</text>");
}

/* ---- water ---- */

static void add_bars(const struct picture *picture, bool rain) {
    struct text *out = picture->out;
    double width = fmax(picture->pitch * 0.8, 0.6);
    text_printf(out, "<path class=\"%s\" d=\"", rain ? "rain" : "water");
    for (int i = 0; i < picture->count; i++) {
        double mm = rain ? picture->day[i].rain_mm : picture->day[i].water_mm;
        if (!(mm >= BAR_SEEN_MM))
            continue;
        double length = fmax(1, BAR_MAX * mm / picture->bar_mm);
        text_printf(out, "M%.1f %dh%.1fv%s%.1fh-%.1fz", x_of(picture, i) + 0.1 * picture->pitch,
                    rain ? RAIN_TOP : WATER_BOTTOM, width, rain ? "" : "-", length, width);
    }
    text_puts(out, "\"/>");
}

/* ---- time ---- */

static void add_months(const struct picture *picture) {
    struct text *out = picture->out;
    text_puts(out, "<path class=\"grid\" d=\"");
    for (int i = 1; i < picture->count; i++) {
        if (calendar_to_civil(picture->day[i].date).day == 1)
            text_printf(out, "M%.1f %dV%d", x_of(picture, i), RAIN_TOP, MONTH_Y);
    }
    text_puts(out, "\"/>");
    for (int i = 0; i < picture->count; i++) {
        struct calendar_civil civil = calendar_to_civil(picture->day[i].date);
        bool first = civil.day == 1 || (i == 0 && civil.day < 22);
        if (!first || x_of(picture, i) > RIGHT - 4 * LETTER)
            continue;
        char key[32];
        snprintf(key, sizeof key, "month.%d", civil.month);
        text_printf(out, "<text class=\"name\" x=\"%.1f\" y=\"%d\">", x_of(picture, i) + 2, MONTH_Y);
        char month[4];
        snprintf(month, sizeof month, "%.3s", words_get(picture->context->words, key));
        svg_add_escaped(out, month);
        text_puts(out, "</text>");
    }
}

/* A bracket for each stage, its name where there is room. */
static void add_stages(const struct picture *picture) {
    struct text *out = picture->out;
    for (int i = 0, next; i < picture->count; i = next) {
        enum crop_stage stage = picture->day[i].stage;
        for (next = i + 1; next < picture->count && picture->day[next].stage == stage;)
            next++;
        double from = x_of(picture, i), to = x_of(picture, next);
        text_printf(out, "<path class=\"stage\" d=\"M%.1f %dv-3H%.1fv3\"/>", from + 0.5, STAGE_TOP + 2,
                    to - 0.5);
        const char *name = frame_stage(picture->context, stage);
        if ((double)strlen(name) * LETTER > to - from)
            continue;
        text_printf(out, "<text class=\"middle\" x=\"%.1f\" y=\"%d\">", (from + to) / 2, STAGE_Y);
        svg_add_escaped(out, name);
        text_puts(out, "</text>");
    }
}

static void add_now(const struct picture *picture) {
    int first = 0;
    while (first < picture->count && !picture->day[first].ahead)
        first++;
    if (first == picture->count)
        return;
    double x = x_of(picture, first);
    text_printf(picture->out, "<path class=\"now\" d=\"M%.1f 0h7l-3 5V%dh-1V5z\"/>", x - 3.5, STAGE_TOP);
}

/* ---- words and numbers ---- */

static void add_sentences(const struct picture *picture) {
    struct text *out = picture->out;
    const struct view_context *context = picture->context;
    double rain_mm = 0, water_mm = 0;
    int past = 0, days = 0;
    for (int i = 0; i < picture->count && !picture->day[i].ahead; i++, days++) {
        rain_mm += picture->day[i].rain_mm;
        water_mm += picture->day[i].water_mm;
        past +=
            picture->day[i].depletion_mm > picture->day[i].allowed_mm && crop_growing(picture->day[i].stage);
    }
    char text[SAY_SIZE], rain[SAY_SIZE], water[SAY_SIZE], n[SAY_SIZE], all[SAY_SIZE], on[SAY_SIZE];
    const struct words_hole holes[] = {{"rain", say_depth(context, rain_mm, rain)},
                                       {"irrigation", say_depth(context, water_mm, water)},
                                       {"past", say_count(past, n)},
                                       {"days", say_count(days, all)},
                                       {"on", say_day(context, "on", picture->day[0].date, on)}};
    text_puts(out, "<title id=\"spt\">");
    svg_add_escaped(out, words_get(context->words, "season.picture.title"));
    text_puts(out, "</title><desc id=\"spd\">");
    svg_add_escaped(out,
                    say_words(context, "season.picture.desc", holes, sizeof holes / sizeof *holes, text));
    text_puts(out, "</desc>");
}

/* "depletion,allowed,rain,irrigation;" for each day, in the reader's unit: what a finger on the picture asks.
 */
static void add_values(const struct picture *picture) {
    char iso[CALENDAR_ISO_SIZE];
    int decimals = picture->context->us_units ? 2 : 0;
    text_printf(picture->out,
                " data-first=\"%s\" data-left=\"%d\" data-pitch=\"%.3f\" data-unit=\"%s\" data-values=\"",
                calendar_format_iso(picture->day[0].date, iso), LEFT, picture->pitch,
                picture->context->us_units ? "in" : "mm");
    for (int i = 0; i < picture->count; i++) {
        const struct picture_day *day = &picture->day[i];
        const double values[] = {day->depletion_mm, day->allowed_mm, day->rain_mm, day->water_mm};
        for (int k = 0; k < 4; k++) {
            if (k > 0)
                text_puts(picture->out, ",");
            if ((k < 2 || values[k] > 0) && isfinite(values[k]))
                text_printf(picture->out, "%.*f", decimals, values[k] / picture->unit_mm);
        }
        text_puts(picture->out, i + 1 < picture->count ? ";" : "");
    }
    text_puts(picture->out, "\"");
}

static void draw(const struct picture *picture) {
    int past = 0;
    while (past < picture->count && !picture->day[past].ahead)
        past++;
    text_printf(picture->out,
                "<svg class=\"season\" viewBox=\"0 0 %d %d\" role=\"img\" aria-labelledby=\"spt spd\"", WIDTH,
                HEIGHT);
    add_values(picture);
    text_puts(picture->out, ">");
    add_sentences(picture);
    add_months(picture);
    add_scale(picture);
    add_area(picture, 0, past, "used");
    add_area(picture, past, picture->count, "to_come");
    add_past_allowed(picture);
    add_allowed(picture);
    add_readings(picture);
    add_bars(picture, true);
    add_bars(picture, false);
    add_label(picture, RAIN_TOP + 8, "element.rain");
    add_label(picture, PLOT_TOP - 3, "season.field_capacity");
    add_label(picture, WATER_BOTTOM - BAR_MAX + 6, "season.irrigation");
    add_stages(picture);
    add_now(picture);
    text_puts(picture->out, "</svg>");
}

bool season_picture_add(const struct view_context *context, const struct field_morning *morning,
                        const struct ledger_row *rows, size_t count, struct text *out) {
    size_t most = SEASON_PICTURE_DAYS_MAX - MORNING_AHEAD;
    const struct ledger_row *first = count > most ? rows + (count - most) : rows;
    struct picture picture = {.context = context, .out = out};
    picture.day = calloc(SEASON_PICTURE_DAYS_MAX, sizeof *picture.day);
    if (picture.day == NULL)
        return false;
    collect(&picture, morning, first, count > most ? most : count);
    if (picture.count > 0) {
        scale(&picture);
        draw(&picture);
    }
    free(picture.day);
    return !text_failed(out);
}

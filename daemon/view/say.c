#include "daemon/view/say.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/number.h"

#define DEPTH_STEP_IN 0.05
#define WEEK_DAYS     7
#define FAR_DAYS      300 /* from here on a date is said with its year */

static char *keep(const struct text *text, char out[SAY_SIZE]) {
    const char *string = text_string(text);
    size_t size = text->size < SAY_SIZE ? text->size : SAY_SIZE - 1;
    while (size < text->size && size > 0 && ((unsigned char)string[size] & 0xC0) == 0x80)
        size--;
    memcpy(out, string, size);
    out[size] = '\0';
    return out;
}

char *say_words(const struct view_context *context, const char *key, const struct words_hole *holes,
                size_t count, char out[SAY_SIZE]) {
    struct text text;
    text_init(&text, 0);
    words_fill(context->words, key, holes, count, &text);
    keep(&text, out);
    text_free(&text);
    return out;
}

char *say_number(const struct view_context *context, double value, int decimals, char out[SAY_SIZE]) {
    if (!isfinite(value)) {
        snprintf(out, SAY_SIZE, "%s", words_get(context->words, "number.none"));
        return out;
    }
    char plain[NUMBER_SIZE];
    number_fixed(value, decimals, plain);
    /* "-0.0" reads as an error. */
    const char *digits = plain[0] == '-' && strspn(plain, "-0.") == strlen(plain) ? plain + 1 : plain;
    const char *point = strchr(digits, '.');
    if (point == NULL)
        snprintf(out, SAY_SIZE, "%.*s", SAY_SIZE - 1, digits);
    else
        snprintf(out, SAY_SIZE, "%.*s%s%s", (int)(point - digits), digits,
                 words_get(context->words, "number.decimal"), point + 1);
    return out;
}

char *say_count(int count, char out[SAY_SIZE]) {
    char digits[NUMBER_SIZE];
    return strcpy(out, number_fixed(count, 0, digits));
}

/* A quantity in one of two units: `key` with ".metric" or ".us" has the words. */
static char *say_quantity(const struct view_context *context, const char *key, double metric, int decimals,
                          double us, int us_decimals, char out[SAY_SIZE]) {
    if (!isfinite(metric))
        return say_words(context, "unknown", NULL, 0, out);
    char number[SAY_SIZE], name[48];
    bool us_units = context->us_units;
    const struct words_hole hole = {
        "n", say_number(context, us_units ? us : metric, us_units ? us_decimals : decimals, number)};
    snprintf(name, sizeof name, "%s.%s", key, us_units ? "us" : "metric");
    return say_words(context, name, &hole, 1, out);
}

char *say_area(const struct view_context *context, double m2, char out[SAY_SIZE]) {
    double ha = units_from_si(m2, units_find("ha")), ac = units_from_si(m2, units_find("ac"));
    return say_quantity(context, "area", ha, ha < 10 ? 2 : 1, ac, ac < 10 ? 2 : 1, out);
}

char *say_volume(const struct view_context *context, double m3, char out[SAY_SIZE]) {
    return say_quantity(context, "volume", m3, 0, units_from_si(m3, units_find("ac-in")), 1, out);
}

char *say_flow(const struct view_context *context, double m3_h, char out[SAY_SIZE]) {
    return say_quantity(context, "flow", m3_h, 0, units_from_si(m3_h, units_find("gal/min")), 0, out);
}

char *say_length(const struct view_context *context, double m, char out[SAY_SIZE]) {
    return say_quantity(context, "length", m, 2, units_convert(m, units_find("m"), units_find("ft")), 1, out);
}

char *say_distance(const struct view_context *context, double km, char out[SAY_SIZE]) {
    double mi = units_convert(km, units_find("km"), units_find("mi"));
    return say_quantity(context, "distance", km, km < 10 ? 1 : 0, mi, mi < 10 ? 1 : 0, out);
}

char *say_height(const struct view_context *context, double m, char out[SAY_SIZE]) {
    return say_quantity(context, "length", m, 0, units_convert(m, units_find("m"), units_find("ft")), 0, out);
}

static char *unknown(const struct view_context *context, char out[SAY_SIZE]) {
    return say_words(context, "unknown", NULL, 0, out);
}

static double depth_step_mm(const struct view_context *context) {
    return context->us_units ? units_to_si(DEPTH_STEP_IN, units_find("in")) : 1;
}

static double depth_number(const struct view_context *context, double mm) {
    return round(mm / depth_step_mm(context)) * (context->us_units ? DEPTH_STEP_IN : 1);
}

/* As it was read: to hundredths of an inch, tenths of a mm. */
static double depth_read(const struct view_context *context, double mm) {
    double value = context->us_units ? units_from_si(mm, units_find("in")) : mm;
    double steps = context->us_units ? 100 : 10;
    return round(value * steps) / steps;
}

double say_depth_number(const struct view_context *context, double mm) {
    double number = depth_number(context, mm);
    return number > 0 ? number : depth_read(context, mm);
}

char *say_depth(const struct view_context *context, double mm, char out[SAY_SIZE]) {
    if (!isfinite(mm))
        return unknown(context, out);
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", number};
    if (mm > 0 && mm < depth_step_mm(context) / 2)
        return say_words(context, context->us_units ? "depth.in.small" : "depth.mm.small", NULL, 0, out);
    say_number(context, depth_number(context, mm), context->us_units ? 2 : 0, number);
    return say_words(context, context->us_units ? "depth.in" : "depth.mm", &hole, 1, out);
}

char *say_depth_read(const struct view_context *context, double mm, char out[SAY_SIZE]) {
    if (!isfinite(mm))
        return unknown(context, out);
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", number};
    double rounded = depth_read(context, mm);
    say_number(context, rounded, context->us_units ? 2 : rounded == round(rounded) ? 0 : 1, number);
    return say_words(context, context->us_units ? "depth.in" : "depth.mm", &hole, 1, out);
}

char *say_hours(const struct view_context *context, double hours, char out[SAY_SIZE]) {
    if (!isfinite(hours))
        return unknown(context, out);
    double minutes = round(hours * 12) * 5;
    char h[SAY_SIZE], m[SAY_SIZE];
    const struct words_hole holes[] = {{"h", h}, {"m", m}};
    if (minutes < 5)
        return say_words(context, "hours.small", NULL, 0, out);
    if (minutes >= 180) {
        double halves = round(hours * 2);
        say_number(context, floor(halves / 2), 0, h);
        return say_words(context, fmod(halves, 2) > 0 ? "hours.half" : "hours.whole", holes, 1, out);
    }
    say_count((int)minutes / 60, h);
    say_count((int)minutes % 60, m);
    if (minutes < 60)
        return say_words(context, "hours.minutes", holes, 2, out);
    if ((int)minutes % 60 != 0)
        return say_words(context, "hours.both", holes, 2, out);
    return say_words(context, minutes > 60 ? "hours.whole" : "hours.one", holes, 2, out);
}

char *say_share(const struct view_context *context, double share, char out[SAY_SIZE]) {
    if (!isfinite(share))
        return unknown(context, out);
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", say_number(context, share * 100, 0, number)};
    return say_words(context, "number.percent", &hole, 1, out);
}

static const char *weekday(const struct view_context *context, int32_t date) {
    static const char *const keys[] = {"weekday.0", "weekday.1", "weekday.2", "weekday.3",
                                       "weekday.4", "weekday.5", "weekday.6"};
    return words_get(context->words, keys[calendar_weekday(date)]);
}

static char *date_words(const struct view_context *context, const char *key, int32_t date,
                        char out[SAY_SIZE]) {
    struct calendar_civil civil = calendar_to_civil(date);
    static const char *const months[] = {"month.1", "month.2", "month.3", "month.4",  "month.5",  "month.6",
                                         "month.7", "month.8", "month.9", "month.10", "month.11", "month.12"};
    char day[SAY_SIZE], year[SAY_SIZE];
    const struct words_hole holes[] = {{"weekday", weekday(context, date)},
                                       {"day", say_count(civil.day, day)},
                                       {"month", words_get(context->words, months[civil.month - 1])},
                                       {"year", say_count(civil.year, year)}};
    return say_words(context, key, holes, sizeof holes / sizeof *holes, out);
}

char *say_date(const struct view_context *context, int32_t date, char out[SAY_SIZE]) {
    if (!calendar_valid(date))
        return unknown(context, out);
    return date_words(context, "date.long", date, out);
}

char *say_date_year(const struct view_context *context, int32_t date, char out[SAY_SIZE]) {
    if (!calendar_valid(date))
        return unknown(context, out);
    return date_words(context, "date.year", date, out);
}

char *say_day(const struct view_context *context, const char *form, int32_t date, char out[SAY_SIZE]) {
    if (!calendar_valid(date))
        return unknown(context, out);
    int64_t distance = (int64_t)date - context->facts->today;
    const char *which = "date";
    if (distance >= -1 && distance <= 1)
        which = distance < 0 ? "yesterday" : distance > 0 ? "tomorrow" : "today";
    else if (distance > -WEEK_DAYS && distance < WEEK_DAYS)
        which = "weekday";
    else if (distance < -FAR_DAYS || distance > FAR_DAYS)
        which = "date_year";
    char key[32];
    snprintf(key, sizeof key, "%s.%s", form, which);
    return date_words(context, key, date, out);
}

double say_share_of(double depletion_mm, double allowed_mm) {
    if (!isfinite(depletion_mm) || !isfinite(allowed_mm) || allowed_mm <= 0)
        return NAN;
    return depletion_mm / allowed_mm;
}

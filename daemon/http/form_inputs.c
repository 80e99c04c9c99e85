#include "daemon/http/form_inputs.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/number.h"

#define BLANKS " \t\r\n"

bool input_given(const struct request *request, const char *name) {
    const char *value = fill_value(request->form, name);
    return value[strspn(value, BLANKS)] != '\0';
}

void input_refuse(const struct request *request, const char *name, const char *key, const char *low,
                  const char *high) {
    struct text text;
    const struct words_hole holes[] = {{"low", low != NULL ? low : ""}, {"high", high != NULL ? high : ""}};
    text_init(&text, 0);
    words_fill(request->words, key, holes, 2, &text);
    fill_refuse(request->form, name, text_string(&text));
    text_free(&text);
}

const struct unit *input_unit(const struct request *request, const char *name) {
    char key[FILL_NAME_SIZE + 8];
    (void)snprintf(key, sizeof key, "%s_unit", name);
    return units_find(fill_value(request->form, key));
}

static char decimal_sign(const struct request *request) {
    return words_get(request->words, "number.decimal")[0];
}

/* Whether a comma may be one between thousands: "1,500", and not "12,5", "0,125" or "1,50 m". */
static bool parts_thousands(const char *text, const char *comma) {
    const char *whole = text + strspn(text, "-+");
    size_t before = (size_t)(comma - whole), zeros = strspn(whole, "0");
    return strspn(comma + 1, "0123456789") == 3 && before <= 3 && zeros < before;
}

/* A lone comma is the decimal sign where people write it so, and where it can be nothing else: some phones
 * offer no other. The minus of maps is one too. False: the number may be a thousand times another. */
static bool plain_number(const struct request *request, char *text) {
    static const char minus[] = "\xE2\x88\x92";
    size_t size = sizeof minus - 1;
    if (strncmp(text, minus, size) == 0) {
        text[0] = '-';
        memmove(text + 1, text + size, strlen(text + size) + 1);
    }
    char *comma = strchr(text, ',');
    if (comma == NULL)
        return true;
    if (strchr(text, '.') != NULL || strchr(comma + 1, ',') != NULL ||
        (decimal_sign(request) != ',' && parts_thousands(text, comma)))
        return false;
    *comma = '.';
    return true;
}

/* What stands in an input, with the chosen unit behind a bare number. */
static bool written(const struct request *request, const char *name, char *out, size_t size) {
    char key[FILL_NAME_SIZE + 8];
    const char *value = fill_value(request->form, name);
    (void)snprintf(key, sizeof key, "%s_unit", name);
    (void)snprintf(out, size, "%s", value + strspn(value, BLANKS));
    bool plain = plain_number(request, out);
    size_t length = strlen(out);
    while (length > 0 && strchr(BLANKS, out[length - 1]) != NULL)
        out[--length] = '\0';
    const char *unit = fill_value(request->form, key);
    if (length > 0 && strchr("0123456789.", out[length - 1]) != NULL && unit[0] != '\0')
        (void)snprintf(out + length, size - length, " %s", unit);
    return plain;
}

/* So many digits of a number, without an exponent, with the language's decimal sign. */
static void say_digits(const struct request *request, double value, int digits, char *out, size_t size) {
    struct text text;
    char rounded[32];
    (void)snprintf(rounded, sizeof rounded, "%.*g", digits, value);
    text_init(&text, 0);
    number_add_shortest(&text, strtod(rounded, NULL));
    (void)snprintf(out, size, "%s", text_string(&text));
    text_free(&text);
    char *point = strchr(out, '.');
    if (point != NULL)
        *point = decimal_sign(request);
}

void input_show(const struct request *request, struct fill *fill, const char *name, double value,
                const char *unit) {
    char key[FILL_NAME_SIZE + 8], digits[48];
    (void)snprintf(key, sizeof key, "%s_unit", name);
    if (unit != NULL)
        fill_default(fill, key, unit);
    if (isnan(value))
        return;
    say_digits(request, value, 6, digits, sizeof digits);
    fill_default(fill, name, digits);
}

/* A limit in the unit that was written. */
static void say_limit(const struct request *request, double limit, const struct unit *unit,
                      enum quantity_kind kind, char *out, size_t size) {
    char digits[48];
    say_digits(request, unit != NULL ? quantity_in(limit, kind, unit) : limit, 4, digits, sizeof digits);
    if (unit != NULL)
        (void)snprintf(out, size, "%s %s%s", digits, quantity_sign(kind), unit->symbol);
    else
        (void)snprintf(out, size, "%s", digits);
}

static void refuse_range(const struct request *request, const char *name, const struct unit *unit,
                         enum quantity_kind kind, const struct quantity_limits *limits) {
    char low[64], high[64] = "";
    bool open = isinf(limits->max);
    say_limit(request, limits->min, unit, kind, low, sizeof low);
    if (!open)
        say_limit(request, limits->max, unit, kind, high, sizeof high);
    input_refuse(request, name,
                 limits->above ? open ? "input.more" : "input.above"
                 : open        ? "input.least"
                               : "input.range",
                 low, high);
}

/* What was written, with its unit, and what it comes to. */
static bool read_written(const struct request *request, const char *name, enum quantity_kind kind, char *text,
                         size_t size, struct quantity *quantity) {
    char expected[QUANTITY_WORDS_SIZE];
    const char *wrong = !input_given(request, name)                                  ? "input.missing"
                        : !written(request, name, text, size)                        ? "input.thousands"
                        : quantity_read(text, kind, quantity, expected) != STATUS_OK ? "input.number"
                                                                                     : NULL;
    if (wrong != NULL)
        input_refuse(request, name, wrong, NULL, NULL);
    return wrong == NULL;
}

bool input_written(const struct request *request, const char *name, enum quantity_kind kind, char *out,
                   size_t size) {
    struct quantity quantity;
    return read_written(request, name, kind, out, size, &quantity);
}

bool input_quantity(const struct request *request, const char *name, enum quantity_kind kind,
                    const struct quantity_limits *limits, double *out) {
    char text[128], expected[QUANTITY_WORDS_SIZE];
    struct quantity quantity;
    if (!read_written(request, name, kind, text, sizeof text, &quantity))
        return false;
    if (quantity_within(&quantity, kind, limits, expected) != STATUS_OK) {
        refuse_range(request, name, quantity.unit, kind, limits);
        return false;
    }
    *out = quantity.value;
    return true;
}

bool input_change(const struct request *request, const char *name, enum quantity_kind kind,
                  const struct quantity_limits *limits, double *value) {
    double sent;
    if (!input_quantity(request, name, kind, limits, &sent))
        return false;
    /* Numbers are shown with six digits. */
    if (!(fabs(sent - *value) <= 5e-6 * fabs(*value)))
        *value = sent;
    return true;
}

bool input_change_or_keep(const struct request *request, const char *name, enum quantity_kind kind,
                          const struct quantity_limits *limits, double *value) {
    return !input_given(request, name) || input_change(request, name, kind, limits, value);
}

bool input_change_or_none(const struct request *request, const char *name, enum quantity_kind kind,
                          const struct quantity_limits *limits, double *value) {
    if (input_given(request, name))
        return input_change(request, name, kind, limits, value);
    *value = (double)NAN;
    return true;
}

bool input_whole(const struct request *request, const char *name, enum quantity_kind kind, int low, int high,
                 int *out) {
    const struct quantity_limits limits = {low, high, false};
    char least[24], most[24];
    double value;
    if (!input_quantity(request, name, kind, &limits, &value))
        return false;
    if (value != floor(value)) {
        (void)snprintf(least, sizeof least, "%d", low);
        (void)snprintf(most, sizeof most, "%d", high);
        input_refuse(request, name, "input.whole", least, most);
        return false;
    }
    *out = (int)value;
    return true;
}

bool input_water(const struct request *request, const char *name, const struct system *system,
                 double *gross_mm) {
    static const struct quantity_limits any = {0, 1e9, true}, deep = {0, APPLICATION_DEPTH_MAX_MM, true};
    const struct unit *unit = input_unit(request, name);
    double amount;
    if (unit != NULL && unit->kind == UNIT_VOLUME) {
        if (!input_quantity(request, name, QUANTITY_VOLUME, &any, &amount))
            return false;
        *gross_mm = application_gross_of_volume_mm(system, amount);
    } else if (unit != NULL && unit->kind == UNIT_TIME) {
        if (!input_quantity(request, name, QUANTITY_HOURS, &any, &amount))
            return false;
        *gross_mm = application_gross_of_hours_mm(system, amount);
    } else {
        return input_change(request, name, QUANTITY_DEPTH, &deep, gross_mm);
    }
    if (isnan(*gross_mm))
        input_refuse(request, name, "input.no_flow", NULL, NULL);
    return !isnan(*gross_mm);
}

bool input_date(const struct request *request, const char *name, int32_t first, int32_t last, int32_t *out) {
    char low[CALENDAR_ISO_SIZE], high[CALENDAR_ISO_SIZE];
    int32_t date;
    if (!input_given(request, name)) {
        input_refuse(request, name, "input.missing", NULL, NULL);
        return false;
    }
    if (calendar_parse_iso(fill_value(request->form, name), &date) != STATUS_OK) {
        input_refuse(request, name, "input.date", NULL, NULL);
        return false;
    }
    if (date < first || date > last) {
        input_refuse(request, name, "input.dates", calendar_format_iso(first, low),
                     calendar_format_iso(last, high));
        return false;
    }
    *out = date;
    return true;
}

bool input_record_date(const struct request *request, const struct farm *farm, const char *field,
                       int32_t today, int32_t *out) {
    int32_t first = CALENDAR_NONE, oldest = today - 3660;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *planting = &farm->planting[i];
        if (strcmp(planting->field, field) == 0 && (first == CALENDAR_NONE || planting->start_date < first))
            first = planting->start_date;
    }
    bool bounds = first != CALENDAR_NONE && first > oldest && first <= today;
    return input_date(request, "date", bounds ? first : oldest, today, out);
}

bool input_text(const struct request *request, const char *name, bool required, char *out, size_t size) {
    const char *value = fill_value(request->form, name);
    value += strspn(value, BLANKS);
    size_t length = strlen(value);
    while (length > 0 && strchr(BLANKS, value[length - 1]) != NULL)
        length--;
    char most[24];
    (void)snprintf(most, sizeof most, "%zu", size - 1);
    if (length == 0 && required)
        input_refuse(request, name, "input.missing", NULL, NULL);
    else if (length >= size)
        input_refuse(request, name, "input.long", NULL, most);
    if (fill_error(request->form, name) != NULL)
        return false;
    memcpy(out, value, length);
    out[length] = '\0';
    return true;
}

#include "daemon/view/number.h"

#include <float.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DIGITS_MAX 17 /* enough for every double */

#define NUMBER_ROOM 40

/* Whether so many digits behind the first tell the value from all others. */
static bool is_told(double value, int precision, char buffer[NUMBER_ROOM]) {
    snprintf(buffer, NUMBER_ROOM, "%.*e", precision, value);
    return strtod(buffer, NULL) == value;
}

/* What has at most 15 digits comes back from 15 of them with zeros behind its own (DBL_DIG of C), but for
 * numbers so small that they have fewer bits. */
static int precision_told(double value, char buffer[NUMBER_ROOM]) {
    for (int precision = value >= DBL_MIN ? DBL_DIG - 1 : 0; precision < DIGITS_MAX - 1; precision++) {
        if (is_told(value, precision, buffer))
            return precision;
    }
    return DIGITS_MAX - 1;
}

/* Digits without a point, and the place of the point counted from their left. */
static int shortest_digits(double value, char digits[DIGITS_MAX + 1], int *point) {
    char buffer[NUMBER_ROOM];
    (void)is_told(value, precision_told(value, buffer), buffer);
    char *exponent = strchr(buffer, 'e');
    *point = (int)strtol(exponent + 1, NULL, 10) + 1;
    int count = 0;
    for (const char *c = buffer; c < exponent; c++) {
        if (*c >= '0' && *c <= '9')
            digits[count++] = *c;
    }
    while (count > 1 && digits[count - 1] == '0')
        count--;
    digits[count] = '\0';
    return count;
}

static void add_zeros(struct text *out, int count) {
    for (int i = 0; i < count; i++)
        text_puts(out, "0");
}

static void add_exponent_form(struct text *out, const char *digits, int count, int point) {
    text_add(out, digits, 1);
    if (count > 1)
        text_printf(out, ".%s", digits + 1);
    text_printf(out, "e%+d", point - 1);
}

void number_add_shortest(struct text *out, double value) {
    if (isnan(value)) {
        text_puts(out, "NaN");
        return;
    }
    if (value < 0)
        text_puts(out, "-");
    if (isinf(value)) {
        text_puts(out, "Infinity");
        return;
    }
    char digits[DIGITS_MAX + 1];
    int point;
    int count = shortest_digits(fabs(value), digits, &point);
    if (value == 0 || (count <= point && point <= 21)) { /* the bounds 21 and -6 are ECMAScript's */
        text_puts(out, digits);
        add_zeros(out, value == 0 ? 0 : point - count);
    } else if (point > 0 && point < count) {
        text_add(out, digits, (size_t)point);
        text_printf(out, ".%s", digits + point);
    } else if (point > -6 && point <= 0) {
        text_puts(out, "0.");
        add_zeros(out, -point);
        text_puts(out, digits);
    } else {
        add_exponent_form(out, digits, count, point);
    }
}

/* Below this a product with 1000 is off by less than a ten-millionth, so that all but near halves are rounded
 * as the number itself. */
#define PLAIN_MOST 1e6
#define NEAR_HALF  1e-6

char *number_fixed(double value, int decimals, char out[NUMBER_SIZE]) {
    static const unsigned powers[] = {1, 10, 100, 1000};
    bool plain = !signbit(value) && value < PLAIN_MOST && decimals >= 0 && decimals <= 3;
    double scaled = plain ? value * powers[decimals] : 0, whole = floor(scaled), part = scaled - whole;
    if (!plain || fabs(part - 0.5) < NEAR_HALF) {
        (void)snprintf(out, NUMBER_SIZE, "%.*f", decimals, value);
        return out;
    }
    unsigned left = (unsigned)whole + (part > 0.5);
    char digits[16];
    size_t at = sizeof digits;
    for (int i = 0; i <= decimals || left > 0; i++) {
        if (decimals > 0 && i == decimals)
            digits[--at] = '.';
        digits[--at] = (char)('0' + left % 10);
        left /= 10;
    }
    memcpy(out, digits + at, sizeof digits - at);
    out[sizeof digits - at] = '\0';
    return out;
}

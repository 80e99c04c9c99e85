#include "daemon/view/number.h"

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

/* Digits without a point, and the place of the point counted from their left. */
static int shortest_digits(double value, char digits[DIGITS_MAX + 1], int *point) {
    char buffer[NUMBER_ROOM];
    /* With digits enough more of them are enough too, but for a power of two, below which doubles lie closer.
     */
    int exponent_2, most = DIGITS_MAX - 1, precision = 0;
    bool even = frexp(value, &exponent_2) > 0.5;
    while (precision < most) {
        int tried = even ? precision + (most - precision) / 2 : precision;
        if (is_told(value, tried, buffer))
            most = tried;
        else
            precision = tried + 1;
    }
    (void)is_told(value, most, buffer);
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

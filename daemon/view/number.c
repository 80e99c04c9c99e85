#include "daemon/view/number.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DIGITS_MAX 17 /* enough for every double */

/* Digits without a point, and the place of the point counted from their left. */
static int shortest_digits(double value, char digits[DIGITS_MAX + 1], int *point) {
    char buffer[40];
    for (int precision = 0; precision < DIGITS_MAX; precision++) {
        snprintf(buffer, sizeof buffer, "%.*e", precision, value);
        if (strtod(buffer, NULL) == value)
            break;
    }
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

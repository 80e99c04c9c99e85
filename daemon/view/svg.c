#include "daemon/view/svg.h"

#include <math.h>
#include <string.h>

void svg_add_escaped(struct text *out, const char *string) {
    for (const char *c = string; *c != '\0';) {
        size_t plain = strcspn(c, "&<>\"'");
        text_add(out, c, plain);
        c += plain;
        if (*c != '\0')
            text_printf(out, "&#%d;", *c++);
    }
}

#define NUMBER_ROOM 12

/* `before` and the number; what is behind them. */
static char *put(char *at, const char *before, int value) {
    char digits[NUMBER_ROOM];
    size_t first = sizeof digits;
    unsigned left = value < 0 ? 0U - (unsigned)value : (unsigned)value;
    while (*before != '\0')
        *at++ = *before++;
    if (value < 0)
        *at++ = '-';
    do
        digits[--first] = (char)('0' + left % 10);
    while ((left /= 10) > 0);
    memcpy(at, digits + first, sizeof digits - first);
    return at + sizeof digits - first;
}

void svg_add_box(struct text *out, int x, int y, int width, int height) {
    char box[5 * (NUMBER_ROOM + 2) + 2];
    char *end = put(box, "M", x);
    end = put(end, " ", y);
    end = put(end, "h", width);
    end = put(end, "v", height);
    end = put(end, "h-", width);
    *end++ = 'z';
    text_add(out, box, (size_t)(end - box));
}

double svg_nice_step(double most, int parts) {
    double power = pow(10, floor(log10(most / parts)));
    static const double steps[] = {1, 2, 5, 10};
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof *steps && steps[i] * power * parts < most)
        i++;
    return steps[i] * power;
}

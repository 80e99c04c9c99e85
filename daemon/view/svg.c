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

void svg_add_box(struct text *out, int x, int y, int width, int height) {
    const struct {
        const char *before;
        int value;
    } part[] = {{"M", x}, {" ", y}, {"h", width}, {"v", height}, {"h-", width}};
    for (size_t i = 0; i < sizeof part / sizeof *part; i++) {
        text_puts(out, part[i].before);
        text_put_int(out, part[i].value);
    }
    text_puts(out, "z");
}

double svg_nice_step(double most, int parts) {
    double power = pow(10, floor(log10(most / parts)));
    static const double steps[] = {1, 2, 5, 10};
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof *steps && steps[i] * power * parts < most)
        i++;
    return steps[i] * power;
}

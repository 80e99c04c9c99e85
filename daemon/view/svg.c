#include "daemon/view/svg.h"

#include <math.h>
#include <string.h>

void svg_add_escaped(struct text *out, const char *string) {
    for (const char *c = string; *c != '\0'; c++) {
        if (strchr("&<>\"'", *c) != NULL)
            text_printf(out, "&#%d;", *c);
        else
            text_add(out, c, 1);
    }
}

double svg_nice_step(double most, int parts) {
    double power = pow(10, floor(log10(most / parts)));
    static const double steps[] = {1, 2, 5, 10};
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof *steps && steps[i] * power * parts < most)
        i++;
    return steps[i] * power;
}

#include "daemon/view/csv_cell.h"

#include <csv.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/number.h"

static bool is_formula(const char *text) {
    return text[0] != '\0' && strchr("=+-@\t\r", text[0]) != NULL;
}

void csv_add_text(struct text *out, const char *text) {
    struct text safe;
    text_init(&safe, 0);
    text_puts(&safe, is_formula(text) ? "'" : "");
    text_puts(&safe, text);
    size_t size = 2 * safe.size + 2; /* libcsv doubles quotes and adds two */
    char *quoted = malloc(size);
    if (quoted != NULL && !text_failed(&safe))
        text_add(out, quoted, csv_write(quoted, size, text_string(&safe), safe.size));
    else
        out->failed = true;
    free(quoted);
    text_free(&safe);
}

void csv_add_number(struct text *out, double value) {
    text_puts(out, ",");
    if (isfinite(value))
        number_add_shortest(out, value);
}

void csv_add_date(struct text *out, int32_t date) {
    char iso[CALENDAR_ISO_SIZE];
    text_printf(out, ",%s", calendar_valid(date) ? calendar_format_iso(date, iso) : "");
}

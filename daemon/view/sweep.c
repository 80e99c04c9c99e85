#include "daemon/view/sweep.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/base/cores.h"
#include "daemon/replay/made.h"

static const struct {
    const char *name;
    size_t offset;
    bool whole;
} column[] = {{"days", offsetof(struct sweep_row, days), true},
              {"rain_mm", offsetof(struct sweep_row, rain_mm), false},
              {"effective_rain_mm", offsetof(struct sweep_row, effective_rain_mm), false},
              {"runoff_mm", offsetof(struct sweep_row, runoff_mm), false},
              {"irrigations", offsetof(struct sweep_row, irrigations), true},
              {"irrigation_gross_mm", offsetof(struct sweep_row, irrigation_gross_mm), false},
              {"irrigation_net_mm", offsetof(struct sweep_row, irrigation_net_mm), false},
              {"denied_mm", offsetof(struct sweep_row, denied_mm), false},
              {"percolation_mm", offsetof(struct sweep_row, percolation_mm), false},
              {"etc_mm", offsetof(struct sweep_row, etc_mm), false},
              {"eta_mm", offsetof(struct sweep_row, eta_mm), false},
              {"transpiration_mm", offsetof(struct sweep_row, transpiration_mm), false},
              {"stress_days", offsetof(struct sweep_row, stress_days), true},
              {"stress_mm", offsetof(struct sweep_row, stress_mm), false},
              {"relative", offsetof(struct sweep_row, relative), false}};

#define COLUMNS (sizeof column / sizeof column[0])

#define PART 1024 /* runs that one thread writes at once */

static void add_number(double value, struct text *out) {
    if (isfinite(value))
        text_printf(out, ",%.10g", value);
    else
        text_puts(out, ",");
}

static void add_row(const struct sweep *sweep, long run, int year, struct text *out) {
    const struct sweep_row *row = &sweep->row[run];
    double value[SWEEP_AXES_MAX];
    sweep_values(sweep, run, value);
    text_printf(out, "%ld,%d", run, year);
    for (int i = 0; i < sweep->axes; i++)
        add_number(value[i], out);
    text_printf(out, ",%s", row->done ? "ok" : status_name(row->status));
    for (size_t i = 0; i < COLUMNS; i++) {
        const char *at = (const char *)row + column[i].offset;
        if (!row->done)
            text_puts(out, ",");
        else if (column[i].whole)
            text_printf(out, ",%d", *(const int *)(const void *)at);
        else
            add_number(*(const double *)(const void *)at, out);
    }
    text_puts(out, "\r\n");
}

struct rows {
    const struct sweep *sweep;
    const int *year;
    long runs;
    struct part {
        struct text text;
        long written;
    } * part;
};

static void add_part(void *context, long index) {
    struct rows *rows = context;
    struct part *part = &rows->part[index];
    text_init(&part->text, 0);
    for (long run = index * PART; run < rows->runs && run < (index + 1) * PART; run++) {
        const struct sweep_row *row = &rows->sweep->row[run];
        if (!row->done && row->status == STATUS_OK)
            continue;
        add_row(rows->sweep, run, rows->year[sweep_year(rows->sweep, run)], &part->text);
        part->written++;
    }
}

static void add_head(const struct sweep *sweep, const cJSON *made, struct text *out) {
    made_add(made, out);
    text_puts(out, "run,weather_year");
    for (int i = 0; i < sweep->axes; i++)
        text_printf(out, ",%s", parameter_rows[sweep->axis[i].parameter].name);
    text_puts(out, ",status");
    for (size_t i = 0; i < COLUMNS; i++)
        text_printf(out, ",%s", column[i].name);
    text_puts(out, "\r\n");
}

enum status view_sweep_csv(const struct sweep *sweep, const int *year, const cJSON *made, int threads,
                           struct text *out, long *written) {
    struct rows rows = {.sweep = sweep, .year = year, .runs = sweep_runs(sweep)};
    long parts = (rows.runs + PART - 1) / PART;
    rows.part = calloc((size_t)parts, sizeof *rows.part);
    if (rows.part == NULL)
        return STATUS_NO_MEMORY;
    add_head(sweep, made, out);
    cores_share(threads, parts, add_part, &rows);
    *written = 0;
    for (long i = 0; i < parts; i++) {
        struct part *part = &rows.part[i];
        text_add(out, text_string(&part->text), part->text.size);
        out->failed = out->failed || text_failed(&part->text);
        *written += part->written;
        text_free(&part->text);
    }
    free(rows.part);
    return text_failed(out) ? STATUS_NO_MEMORY : STATUS_OK;
}

#include "daemon/commands/print_ledger.h"

#include <math.h>
#include <stdio.h>

#include "core/base/units.h"
#include "daemon/view/view.h"

/* A letter for each group of values that was not measured or derived from measurements that day, and for ET0
 * that is a sum of hours. */
static void flags(const struct ledger_row *row, char out[7]) {
    const struct {
        uint8_t origin;
        char letter;
    } groups[] = {{row->origin.temperature, 'T'},
                  {row->origin.humidity, 'H'},
                  {row->origin.radiation, 'S'},
                  {row->origin.wind, 'W'},
                  {row->origin.rain, 'R'}};
    int count = 0;
    for (size_t i = 0; i < sizeof groups / sizeof groups[0]; i++) {
        if (groups[i].origin != ORIGIN_MEASURED && groups[i].origin != ORIGIN_DERIVED)
            out[count++] = groups[i].letter;
    }
    if (row->et0_from_hours)
        out[count++] = 'h';
    out[count] = '\0';
}

/* A depth in mm or in; nothing at all for a plain zero, so that the eye finds rain and irrigation. */
static void print_depth(double mm, bool us_units, bool blank_zero) {
    if (blank_zero && mm == 0.0)
        printf("%9s", "");
    else if (us_units)
        printf("%9.2f", units_from_si(mm, units_find("in")));
    else
        printf("%9.1f", mm);
}

static void print_row(const struct ledger_row *row, bool us_units) {
    char iso[CALENDAR_ISO_SIZE], letters[7];
    const struct season_day *day = &row->day;
    flags(row, letters);
    printf("%s  %-11s", calendar_format_iso(day->date, iso), crop_stage_name(day->stage));
    print_depth(day->et0_mm, us_units, false);
    printf("%6.2f%6.2f", day->kc, day->ks);
    print_depth(day->eta_mm, us_units, false);
    print_depth(day->rain_mm, us_units, true);
    print_depth(day->runoff_mm, us_units, true);
    print_depth(day->irrigation_net_mm, us_units, true);
    print_depth(day->percolation_mm, us_units, true);
    print_depth(day->depletion_mm, us_units, false);
    print_depth(day->allowed_mm, us_units, false);
    bool past = day->depletion_mm > day->allowed_mm;
    printf("%s%s%s\n", past ? "  past allowed" : "", letters[0] == '\0' ? "" : past ? " " : "  ", letters);
}

static void print_totals(const struct season_total *total, bool us_units) {
    printf("%-23s", "sum");
    print_depth(total->et0_mm, us_units, false);
    printf("%12s", "");
    print_depth(total->eta_mm, us_units, false);
    print_depth(total->rain_mm, us_units, false);
    print_depth(total->runoff_mm, us_units, false);
    print_depth(total->irrigation_net_mm, us_units, false);
    print_depth(total->percolation_mm, us_units, false);
    printf("\n%d days, %d of them with stress; the largest error of a day's balance is %.1e mm\n",
           total->days, total->stress_days, total->closure_max_mm);
}

void print_ledger(const char *field, const struct ledger_row *rows, size_t count, bool us_units) {
    struct season_total total = season_total_empty();
    printf("%s, depths in %s\n%-10s  %-11s%9s%6s%6s%9s%9s%9s%9s%9s%9s%9s\n", field,
           us_units ? "inches" : "mm", "date", "stage", "ET0", "Kc", "Ks", "ETa", "rain", "runoff",
           "net irr.", "percol.", "Dr", "allowed");
    for (size_t i = 0; i < count; i++) {
        print_row(&rows[i], us_units);
        season_total_add(&total, &rows[i].day);
    }
    print_totals(&total, us_units);
}

void print_ledger_csv(const char *field, const struct ledger_row *rows, size_t count) {
    struct text csv;
    text_init(&csv, 0);
    view_ledger_csv(field, rows, count, &csv);
    fputs(text_string(&csv), stdout);
    text_free(&csv);
}

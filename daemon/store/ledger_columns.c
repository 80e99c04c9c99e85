#include "daemon/store/ledger_columns.h"

#define ROW(type, member)   COLUMN(type, ledger_row, day.member, #member)
#define PAST(type, member)  COLUMN(type, past_day, member, #member)
#define AHEAD(type, member) COLUMN(type, season_day, member, #member)

static const struct column row_table[] = {
    COLUMN(COLUMN_DAY, ledger_row, day.date, "day"),
    ROW(COLUMN_INT, stage),
    ROW(COLUMN_REAL, days_in_season),
    ROW(COLUMN_REAL, et0_mm),
    ROW(COLUMN_REAL, kc),
    ROW(COLUMN_REAL, kcb),
    ROW(COLUMN_REAL, ke),
    ROW(COLUMN_REAL, ks),
    ROW(COLUMN_REAL, kr),
    ROW(COLUMN_REAL, etc_mm),
    ROW(COLUMN_REAL, eta_mm),
    ROW(COLUMN_REAL, evaporation_mm),
    ROW(COLUMN_REAL, transpiration_mm),
    ROW(COLUMN_REAL, rain_mm),
    ROW(COLUMN_REAL, runoff_mm),
    ROW(COLUMN_REAL, irrigation_gross_mm),
    ROW(COLUMN_REAL, irrigation_net_mm),
    ROW(COLUMN_REAL, capillary_mm),
    ROW(COLUMN_REAL, percolation_mm),
    ROW(COLUMN_REAL, new_soil_mm),
    ROW(COLUMN_REAL, reading_shift_mm),
    ROW(COLUMN_REAL, unmet_mm),
    ROW(COLUMN_REAL, excess_start_mm),
    ROW(COLUMN_REAL, excess_mm),
    ROW(COLUMN_REAL, root_m),
    ROW(COLUMN_REAL, taw_mm),
    ROW(COLUMN_REAL, p),
    ROW(COLUMN_REAL, raw_mm),
    ROW(COLUMN_REAL, allowed_mm),
    ROW(COLUMN_REAL, depletion_start_mm),
    ROW(COLUMN_REAL, depletion_mm),
    ROW(COLUMN_REAL, surface_depletion_mm),
    ROW(COLUMN_REAL, wetted_fraction),
    ROW(COLUMN_REAL, exposed_wetted_fraction),
    ROW(COLUMN_REAL, below_depletion_mm),
    ROW(COLUMN_REAL, height_m),
    ROW(COLUMN_REAL, cover),
    COLUMN(COLUMN_BYTE, ledger_row, origin.temperature, "origin_temperature"),
    COLUMN(COLUMN_BYTE, ledger_row, origin.humidity, "origin_humidity"),
    COLUMN(COLUMN_BYTE, ledger_row, origin.radiation, "origin_radiation"),
    COLUMN(COLUMN_BYTE, ledger_row, origin.wind, "origin_wind"),
    COLUMN(COLUMN_BYTE, ledger_row, origin.rain, "origin_rain"),
    COLUMN(COLUMN_BYTE, ledger_row, rule_humidity, "rule_humidity"),
    COLUMN(COLUMN_BYTE, ledger_row, rule_radiation, "rule_radiation"),
    COLUMN(COLUMN_BYTE, ledger_row, rule_wind, "rule_wind"),
    COLUMN(COLUMN_BOOL, ledger_row, et0_from_hours, "et0_from_hours"),
};

static const struct column past_table[] = {
    COLUMN(COLUMN_DAY, past_day, date, "day"),
    PAST(COLUMN_INT, stage),
    PAST(COLUMN_REAL, rain_mm),
    PAST(COLUMN_REAL, irrigation_gross_mm),
    PAST(COLUMN_REAL, irrigation_net_mm),
    PAST(COLUMN_REAL, root_m),
    PAST(COLUMN_REAL, allowed_mm),
    PAST(COLUMN_REAL, depletion_mm),
    COLUMN(COLUMN_BYTE, past_day, origin.temperature, "origin_temperature"),
    COLUMN(COLUMN_BYTE, past_day, origin.humidity, "origin_humidity"),
    COLUMN(COLUMN_BYTE, past_day, origin.radiation, "origin_radiation"),
    COLUMN(COLUMN_BYTE, past_day, origin.wind, "origin_wind"),
    COLUMN(COLUMN_BYTE, past_day, origin.rain, "origin_rain"),
};

static const struct column ahead_table[] = {
    COLUMN(COLUMN_DAY, season_day, date, "day"),
    AHEAD(COLUMN_INT, stage),
    AHEAD(COLUMN_REAL, et0_mm),
    AHEAD(COLUMN_REAL, etc_mm),
    AHEAD(COLUMN_REAL, eta_mm),
    AHEAD(COLUMN_REAL, rain_mm),
    AHEAD(COLUMN_REAL, ks),
    AHEAD(COLUMN_REAL, taw_mm),
    AHEAD(COLUMN_REAL, raw_mm),
    AHEAD(COLUMN_REAL, allowed_mm),
    AHEAD(COLUMN_REAL, depletion_start_mm),
    AHEAD(COLUMN_REAL, depletion_mm),
};

static const struct column call_table[] = {
    COLUMN(COLUMN_DAY, call, date, "day"),
    COLUMN(COLUMN_INT, call, kind, "kind"),
    COLUMN(COLUMN_INT, call, reason, "reason"),
    COLUMN(COLUMN_DAY, call, start_by, "start_by_day"),
    COLUMN(COLUMN_DAY, call, dry_date, "dry_day"),
    COLUMN(COLUMN_REAL, call, depletion_mm, "depletion_mm"),
    COLUMN(COLUMN_REAL, call, allowed_mm, "allowed_mm"),
    COLUMN(COLUMN_REAL, call, taw_mm, "taw_mm"),
    COLUMN(COLUMN_REAL, call, rain_expected_mm, "rain_expected_mm"),
    COLUMN(COLUMN_REAL, call, application.net_mm, "net_mm"),
    COLUMN(COLUMN_REAL, call, application.gross_mm, "gross_mm"),
    COLUMN(COLUMN_REAL, call, application.volume_m3, "volume_m3"),
    COLUMN(COLUMN_REAL, call, application.hours, "hours"),
    COLUMN(COLUMN_REAL, call, application.days, "run_days"),
    COLUMN(COLUMN_BOOL, call, application.limited, "limited"),
    COLUMN(COLUMN_BOOL, call, by_cost, "by_cost"),
    COLUMN(COLUMN_REAL, call, dry_chance, "dry_chance"),
    COLUMN(COLUMN_REAL, call, cover_chance, "cover_chance"),
    COLUMN(COLUMN_REAL, call, lost_chance, "lost_chance"),
    COLUMN(COLUMN_REAL, call, lost_mm, "lost_mm"),
    COLUMN(COLUMN_REAL, call, spared_mm, "spared_mm"),
};

static const struct column outlook_table[] = {
    COLUMN(COLUMN_INT, outlook_row, ahead, "ahead"),
    COLUMN(COLUMN_REAL, outlook_row, chance, "chance"),
    COLUMN(COLUMN_REAL, outlook_row, depletion_mm[OUTLOOK_P10], "p10_mm"),
    COLUMN(COLUMN_REAL, outlook_row, depletion_mm[OUTLOOK_P50], "p50_mm"),
    COLUMN(COLUMN_REAL, outlook_row, depletion_mm[OUTLOOK_P90], "p90_mm"),
    COLUMN(COLUMN_REAL, outlook_row, rain_mm, "rain_mm"),
};

const struct column *ledger_row_columns(int *count) {
    *count = (int)(sizeof row_table / sizeof row_table[0]);
    return row_table;
}

const struct column *past_columns(int *count) {
    *count = (int)(sizeof past_table / sizeof past_table[0]);
    return past_table;
}

const struct column *ahead_columns(int *count) {
    *count = (int)(sizeof ahead_table / sizeof ahead_table[0]);
    return ahead_table;
}

const struct column *outlook_columns(int *count) {
    *count = (int)(sizeof outlook_table / sizeof outlook_table[0]);
    return outlook_table;
}

const struct column *call_columns(int *count) {
    *count = (int)(sizeof call_table / sizeof call_table[0]);
    return call_table;
}

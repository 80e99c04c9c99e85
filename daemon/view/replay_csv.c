#include <math.h>
#include <stddef.h>

#include "core/base/calendar.h"
#include "daemon/replay/made.h"
#include "daemon/view/csv_cell.h"
#include "daemon/view/ledger_columns.h"
#include "daemon/view/replay.h"

struct csv {
    const struct replay *replay;
    struct text *out;
};

static void head(const struct csv *csv, const char *more) {
    text_printf(csv->out, "field,crop,planted,scenario%s", more);
}

static void begin(const struct csv *csv, const struct replay_result *result) {
    csv_add_text(csv->out, result->field);
    text_puts(csv->out, ",");
    csv_add_text(csv->out, result->crop_name);
    csv_add_date(csv->out, result->planting_date);
    text_puts(csv->out, ",");
    csv_add_text(csv->out, csv->replay->scenario[result->scenario].name);
}

static void term_names(const struct csv *csv, const struct replay_term *terms) {
    for (; terms->name != NULL; terms++)
        text_printf(csv->out, ",%s", terms->name);
}

static void term_values(const struct csv *csv, const struct replay_term *terms,
                        const struct replay_result *result, size_t offset) {
    for (; terms->name != NULL; terms++)
        csv_add_number(csv->out, replay_term_value(result, offset, terms));
}

static void seasons(const struct csv *csv) {
    head(csv, ",first,last,finished");
    term_names(csv, replay_budget_terms);
    term_names(csv, replay_value_terms);
    text_puts(csv->out, ",allotment_spent,measured,closure_max_mm\r\n");
    for (size_t i = 0; i < csv->replay->result_count; i++) {
        const struct replay_result *result = &csv->replay->result[i];
        begin(csv, result);
        csv_add_date(csv->out, result->budget.first);
        csv_add_date(csv->out, result->budget.last);
        text_puts(csv->out, result->finished ? ",yes" : ",no");
        term_values(csv, replay_budget_terms, result, offsetof(struct replay_result, budget.season));
        term_values(csv, replay_value_terms, result, offsetof(struct replay_result, value));
        csv_add_date(csv->out, result->spent_date);
        csv_add_number(csv->out, result->measured);
        csv_add_number(csv->out, result->budget.closure_max_mm);
        text_puts(csv->out, "\r\n");
    }
}

static void stages(const struct csv *csv) {
    head(csv, ",stage,first");
    term_names(csv, replay_budget_terms);
    text_puts(csv->out, "\r\n");
    for (size_t i = 0; i < csv->replay->result_count; i++) {
        const struct replay_result *result = &csv->replay->result[i];
        for (int stage = 0; stage < STAGE_ENDED; stage++) {
            if (result->budget.stage[stage].days == 0)
                continue;
            begin(csv, result);
            text_printf(csv->out, ",%s", crop_stage_name((enum crop_stage)stage));
            csv_add_date(csv->out, result->budget.stage_first[stage]);
            term_values(csv, replay_budget_terms, result, replay_stage_offset(stage));
            text_puts(csv->out, "\r\n");
        }
    }
}

static void days(const struct csv *csv) {
    head(csv, ",date,stage");
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++)
        text_printf(csv->out, ",%s", column->member);
    text_puts(csv->out, ",closure_mm\r\n");
    for (size_t i = 0; i < csv->replay->result_count; i++) {
        const struct replay_result *result = &csv->replay->result[i];
        for (int k = 0; k < result->days; k++) {
            const struct season_day *day = &result->day[k];
            begin(csv, result);
            csv_add_date(csv->out, day->date);
            text_printf(csv->out, ",%s", crop_stage_name(day->stage));
            for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++)
                csv_add_number(csv->out, ledger_value(day, column));
            csv_add_number(csv->out, season_closure_mm(day));
            text_puts(csv->out, "\r\n");
        }
    }
}

static void harvests(const struct csv *csv) {
    head(csv, ",harvest,days_in_season,transpired,relative,irrigation_gross_mm,eta_mm,stress_days,depletion_"
              "mm\r\n");
    for (size_t i = 0; i < csv->replay->result_count; i++) {
        const struct replay_result *result = &csv->replay->result[i];
        for (int k = 0; k < result->harvest_count; k++) {
            const struct harvest_option *option = &result->harvest[k];
            begin(csv, result);
            csv_add_date(csv->out, option->date);
            csv_add_number(csv->out, option->days_in_season);
            csv_add_number(csv->out, option->transpired);
            csv_add_number(csv->out, option->relative);
            csv_add_number(csv->out, option->irrigation_gross_mm);
            csv_add_number(csv->out, option->eta_mm);
            csv_add_number(csv->out, option->stress_days);
            csv_add_number(csv->out, option->depletion_mm);
            text_puts(csv->out, "\r\n");
        }
    }
}

void view_replay_csv(const struct replay *replay, const cJSON *made, enum replay_by by, struct text *out) {
    static void (*const face[REPLAY_BY_COUNT])(const struct csv *csv) = {seasons, stages, days, harvests};
    const struct csv csv = {replay, out};
    made_add(made, out);
    face[by](&csv);
}

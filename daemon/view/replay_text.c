#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/replay.h"

#define LABEL_WIDTH 27
#define CELL_WIDTH  12
#define COLUMNS_MAX 6 /* scenarios that stand beside each other; more go below */

/* Some scenarios of one planting. */
struct page {
    const struct replay *replay;
    const struct replay_result *result; /* of the first scenario of the planting */
    size_t from, to;                    /* scenarios */
    bool us_units;
    struct text *out;
};

static void cell(const struct page *page, enum term_kind kind, double value) {
    struct text *out = page->out;
    double shown = replay_term_shown(kind, value, page->us_units);
    if (!isfinite(value))
        text_printf(out, "%*s", CELL_WIDTH, "-");
    else if (kind == TERM_COUNT || kind == TERM_DAYS)
        text_printf(out, "%*.0f", CELL_WIDTH, shown);
    else if (kind == TERM_SHARE || kind == TERM_SHARE_MM)
        text_printf(out, "%*.1f %%", CELL_WIDTH - 2, shown);
    else if (kind == TERM_RATIO)
        text_printf(out, "%*.2f", CELL_WIDTH, shown);
    else if (kind == TERM_DEPTH)
        text_printf(out, "%*.*f", CELL_WIDTH, page->us_units ? 2 : 1, shown);
    else
        text_printf(out, "%*.4g", CELL_WIDTH, shown);
}

/* A line of a term; none at all where no scenario has a number for it. */
static void line(const struct page *page, const struct replay_term *term, size_t offset) {
    bool any = false;
    for (size_t i = page->from; i < page->to; i++)
        any = any || isfinite(replay_term_value(&page->result[i], offset, term));
    if (!any || replay_term_again(term, page->us_units))
        return;
    text_printf(page->out, "  %-*s", LABEL_WIDTH,
                page->us_units && term->us_label != NULL ? term->us_label : term->label);
    for (size_t i = page->from; i < page->to; i++)
        cell(page, term->kind, replay_term_value(&page->result[i], offset, term));
    text_puts(page->out, "\n");
}

static void lines(const struct page *page, const struct replay_term *terms, size_t offset) {
    for (; terms->name != NULL; terms++)
        line(page, terms, offset);
}

static void heads(const struct page *page, const char *what) {
    text_printf(page->out, "  %-*s", LABEL_WIDTH, what);
    for (size_t i = page->from; i < page->to; i++) {
        char head[24];
        (void)snprintf(head, sizeof head, "(%zu)", i);
        text_printf(page->out, "%*s", CELL_WIDTH, head);
    }
    text_puts(page->out, "\n");
}

static void season(const struct page *page) {
    heads(page, page->us_units ? "depths in inches" : "depths in mm");
    lines(page, replay_budget_terms, offsetof(struct replay_result, budget.season));
    lines(page, replay_value_terms, offsetof(struct replay_result, value));
    static const struct replay_term measured = {"measured", "yield as recorded", TERM_AMOUNT, 0, NULL};
    line(page, &measured, offsetof(struct replay_result, measured));
}

static void stages(const struct page *page) {
    for (int stage = 0; stage < STAGE_ENDED; stage++) {
        int days = 0;
        for (size_t i = page->from; i < page->to; i++)
            days += page->result[i].budget.stage[stage].days;
        if (days == 0)
            continue;
        heads(page, crop_stage_name((enum crop_stage)stage));
        lines(page, replay_budget_terms, replay_stage_offset(stage));
    }
}

static void harvest(const struct page *page) {
    for (size_t i = page->from; i < page->to; i++) {
        const struct replay_result *result = &page->result[i];
        text_printf(page->out,
                    "  (%zu) harvested on    day  transpired  rel. yield  irrigated   stress days\n", i);
        for (int k = 0; k < result->harvest_count; k++) {
            const struct harvest_option *option = &result->harvest[k];
            char iso[CALENDAR_ISO_SIZE];
            text_printf(page->out, "      %s %8.0f", calendar_format_iso(option->date, iso),
                        option->days_in_season);
            cell(page, TERM_SHARE, option->transpired);
            cell(page, TERM_SHARE, option->relative);
            cell(page, TERM_DEPTH, option->irrigation_gross_mm);
            cell(page, TERM_COUNT, option->stress_days);
            text_puts(page->out, "\n");
        }
    }
}

static void days(const struct page *page) {
    for (size_t i = page->from; i < page->to; i++) {
        const struct replay_result *result = &page->result[i];
        text_printf(page->out, "  (%zu) date  %*s%*s%*s%*s%*s%*s%*s\n", i, CELL_WIDTH, "rain", CELL_WIDTH,
                    "net irr.", CELL_WIDTH, "ETc", CELL_WIDTH, "actual ET", CELL_WIDTH, "percolation",
                    CELL_WIDTH, "Dr", CELL_WIDTH, "allowed");
        for (int k = 0; k < result->days; k++) {
            const struct season_day *day = &result->day[k];
            const double value[] = {day->rain_mm,        day->irrigation_net_mm, day->etc_mm,    day->eta_mm,
                                    day->percolation_mm, day->depletion_mm,      day->allowed_mm};
            char iso[CALENDAR_ISO_SIZE];
            text_printf(page->out, "  %s", calendar_format_iso(day->date, iso));
            for (size_t v = 0; v < sizeof value / sizeof value[0]; v++)
                cell(page, TERM_DEPTH, value[v]);
            text_puts(page->out, "\n");
        }
    }
}

/* What the numbers below must be read with. */
static void notes(const struct page *page) {
    char iso[CALENDAR_ISO_SIZE];
    const struct replay *replay = page->replay;
    for (size_t i = page->from; i < page->to; i++) {
        const struct replay_result *result = &page->result[i];
        text_printf(page->out, "  (%zu) %s", i, replay->scenario[i].name);
        if (result->weather_missing != CALENDAR_NONE)
            text_printf(page->out, "; no weather from %s on",
                        calendar_format_iso(result->weather_missing, iso));
        if (result->days > 0 && !result->finished)
            text_printf(page->out, "; the season is not over, this is how it stands after %s",
                        calendar_format_iso(result->budget.last, iso));
        if (result->spent_date != CALENDAR_NONE)
            text_printf(page->out, "; the allotment of %s was used up on %s", result->supply,
                        calendar_format_iso(result->spent_date, iso));
        if (result->readings > 0)
            text_printf(page->out, "; %d readings of soil water were %s", result->readings,
                        result->readings_used ? "used" : "left");
        text_puts(page->out, "\n");
    }
}

static void planting(struct page *page, enum replay_by by) {
    static void (*const face[REPLAY_BY_COUNT])(const struct page *page) = {season, stages, days, harvest};
    char from[CALENDAR_ISO_SIZE], to[CALENDAR_ISO_SIZE];
    const struct replay_result *result = page->result;
    text_printf(page->out, "%s, %s, %s to %s\n", result->field, result->crop_name,
                calendar_format_iso(result->budget.first, from),
                calendar_format_iso(result->budget.last, to));
    for (page->from = 0; page->from < page->replay->scenario_count; page->from = page->to) {
        size_t left = page->replay->scenario_count - page->from;
        page->to = page->from + (left < COLUMNS_MAX ? left : COLUMNS_MAX);
        notes(page);
        face[by](page);
    }
    text_puts(page->out, "\n");
}

void view_replay_text(const struct replay *replay, enum replay_by by, bool us_units, struct text *out) {
    struct page page = {.replay = replay, .us_units = us_units, .out = out};
    size_t same = 0;
    for (size_t i = 0; i < replay->result_count; i += replay->scenario_count) {
        page.result = &replay->result[i];
        if (replay->scenario_count == 1 || replay_differs(replay, i))
            planting(&page, by);
        else
            same++;
    }
    if (same == 0)
        return;
    text_printf(out, "the same in every scenario:");
    size_t told = 0;
    for (size_t i = 0; i < replay->result_count; i += replay->scenario_count) {
        if (replay->scenario_count > 1 && !replay_differs(replay, i))
            text_printf(out, "%s %s", told++ > 0 ? "," : "", replay->result[i].field);
    }
    text_puts(out, "\n");
}

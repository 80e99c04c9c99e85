#include "daemon/view/chance.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"

#define LOSS_CHANCE_LEAST 0.1 /* less likely losses are not told */

char *say_chance(const struct view_context *context, double chance, char out[SAY_SIZE]) {
    int tenths = outlook_tenths(chance);
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", say_count(tenths, number)};
    const char *key = tenths < 0     ? "unknown"
                      : tenths == 0  ? "chance.hardly"
                      : tenths == 10 ? "chance.sure"
                                     : "chance.tenths";
    return say_words(context, key, &hole, 1, out);
}

/* The key of what is said, and the chance in it; NULL: nothing. */
static const char *clause_key(const struct call *call, double *chance) {
    *chance = call->dry_chance;
    switch (call->reason) {
    case CALL_REASON_PASSES_TODAY:
        return "why.chance.today";
    case CALL_REASON_PASSES_LATER:
    case CALL_REASON_TO_HARVEST:
        return "why.chance.then";
    case CALL_REASON_RAIN_EXPECTED:
        *chance = call->cover_chance;
        return "why.chance.cover";
    case CALL_REASON_ENOUGH:
    case CALL_REASON_CARRIED:
        return "why.chance.days";
    default:
        return NULL;
    }
}

char *chance_clause(const struct view_context *context, const struct field_morning *morning,
                    char out[SAY_SIZE]) {
    double chance;
    char words[SAY_SIZE], days[SAY_SIZE];
    const char *key = clause_key(&morning->call, &chance);
    const struct words_hole holes[] = {{"chance", say_chance(context, chance, words)},
                                       {"days", say_count(morning->outlook.days, days)}};
    out[0] = '\0';
    if (morning->outlook.days > 0 && key != NULL && isfinite(chance))
        say_words(context, key, holes, 2, out);
    return out;
}

/* The first day by whose evening the chance is as high; CALENDAR_NONE: none. */
static int32_t date_of(const struct field_morning *morning, double share) {
    for (int i = 0; i < morning->outlook.days; i++)
        if (morning->outlook.chance[i] >= share)
            return morning->call.date + i;
    return CALENDAR_NONE;
}

char *chance_dates(const struct view_context *context, const struct field_morning *morning,
                   char out[DATES_SIZE]) {
    static const double shares[OUTLOOK_LINES] = {0.1, 0.5, 0.9};
    char list[3 * SAY_SIZE] = "", by[SAY_SIZE], chance[SAY_SIZE], one[SAY_SIZE];
    size_t size = 0;
    double own;
    const char *key = clause_key(&morning->call, &own);
    bool dry_said =
        key != NULL && (strcmp(key, "why.chance.today") == 0 || strcmp(key, "why.chance.then") == 0);
    int32_t said = dry_said ? morning->call.dry_date : CALENDAR_NONE;
    int32_t early = date_of(morning, shares[OUTLOOK_P10]), late = date_of(morning, shares[OUTLOOK_P90]);
    /* Where all members agree, the call has said it. */
    if (morning->call.depletion_mm >= morning->call.allowed_mm || early == late)
        return NULL;
    for (int line = 0; line < OUTLOOK_LINES; line++) {
        int32_t date = date_of(morning, shares[line]);
        if (date == CALENDAR_NONE)
            break;
        /* A day once, with its own chance; not the one that the call has just said. */
        if ((line + 1 < OUTLOOK_LINES && date_of(morning, shares[line + 1]) == date) || date == said)
            continue;
        double then = morning->outlook.chance[date - morning->call.date];
        const struct words_hole holes[] = {{"by", say_day(context, "by", date, by)},
                                           {"chance", say_chance(context, then, chance)}};
        size += (size_t)snprintf(list + size, sizeof list - size, "%s%s", size > 0 ? ", " : "",
                                 say_words(context, "why.dates.one", holes, 2, one));
    }
    if (size == 0)
        return NULL;
    snprintf(out, DATES_SIZE, "%s %s", words_get(context->words, "why.dates"), list);
    return out;
}

char *chance_loss(const struct view_context *context, const struct field_morning *morning,
                  char out[SAY_SIZE]) {
    const struct call *call = &morning->call;
    char words[SAY_SIZE], depth[SAY_SIZE];
    const struct words_hole holes[] = {{"chance", say_chance(context, call->lost_chance, words)},
                                       {"lost", say_depth(context, call->lost_mm, depth)}};
    if (morning->outlook.days == 0 || call->kind != CALL_WATER_TODAY ||
        !(call->lost_chance >= LOSS_CHANCE_LEAST))
        return NULL;
    return say_words(context, "note.loss", holes, 2, out);
}

void chance_figures(const struct field_morning *morning, cJSON *field) {
    const struct call *call = &morning->call;
    const struct call_outlook *outlook = &morning->outlook;
    if (outlook->days == 0)
        return;
    cJSON_AddBoolToObject(field, "by_cost", call->by_cost);
    frame_number(field, "dry_chance", call->dry_chance);
    frame_number(field, "cover_chance", call->cover_chance);
    frame_number(field, "lost_chance", call->lost_chance);
    frame_number(field, "lost_mm", call->lost_mm);
    frame_number(field, "spared_mm", call->spared_mm);
    cJSON *days = cJSON_AddArrayToObject(field, "outlook");
    for (int i = 0; i < outlook->days; i++) {
        cJSON *day = cJSON_CreateObject();
        frame_date(day, "date", call->date + i);
        frame_number(day, "dry_chance", outlook->chance[i]);
        frame_number(day, "depletion_p10_mm", outlook->depletion_mm[i][OUTLOOK_P10]);
        frame_number(day, "depletion_p50_mm", outlook->depletion_mm[i][OUTLOOK_P50]);
        frame_number(day, "depletion_p90_mm", outlook->depletion_mm[i][OUTLOOK_P90]);
        frame_number(day, "rain_mean_mm", outlook->rain_mm[i]);
        cJSON_AddItemToArray(days, day);
    }
}

#include "daemon/view/turns.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"
#include "daemon/view/turns_say.h"

#define HOLES(list) list, sizeof list / sizeof *list

/* What everything in here works on. */
struct board {
    const struct view_context *context;
    const struct turns_facts *facts;
    int32_t day; /* the first one */
    int days;
};

/* ---- times */

/* Whole hours from midnight of the first day. */
static int hour_from(const struct board *board, int32_t date, int hour) {
    return 24 * (date - board->day) + hour;
}

static void add_time(cJSON *object, const char *key, int32_t date, int hour) {
    char iso[CALENDAR_ISO_SIZE], text[32];
    if (date == CALENDAR_NONE) {
        cJSON_AddNullToObject(object, key);
        return;
    }
    (void)snprintf(text, sizeof text, "%sT%02d:00", calendar_format_iso(date + hour / 24, iso), hour % 24);
    cJSON_AddStringToObject(object, key, text);
}

static int64_t minutes_of(int32_t date, int hour) {
    return ((int64_t)date * 24 + hour) * 60;
}

const char *view_turn_state(const struct stored_turn *turn, const struct morning_time *now) {
    int64_t at = (int64_t)now->today * 24 * 60 + now->minute;
    if (turn->state == TURN_DONE)
        return "done";
    if (turn->state == TURN_SKIPPED)
        return "skipped";
    if (minutes_of(turn->date, turn->hour + turn->span) <= at)
        return "not_recorded";
    if (minutes_of(turn->date, turn->hour) <= at)
        return "under_way";
    return turn->state == TURN_LATE ? "late" : "planned";
}

/* ---- turns and fields */

static long long mark_of(const struct turns_facts *facts, const struct stored_turn *turn) {
    for (size_t i = 0; turn->pinned && i < facts->farm->turn_mark_count; i++) {
        const struct farm_turn_mark *mark = &facts->farm->turn_mark[i];
        if (mark->kind == TURN_PINNED && mark->date == turn->date && mark->hour == turn->hour &&
            strcmp(mark->field, turn->field) == 0)
            return facts->mark[i];
    }
    return 0;
}

static void add_turn(const struct board *board, const struct stored_turn *turn, cJSON *list) {
    char text[SAY_SIZE], key[64];
    cJSON *out = cJSON_CreateObject();
    cJSON_AddItemToArray(list, out);
    const char *state = view_turn_state(turn, &board->facts->now);
    long long mark = mark_of(board->facts, turn);
    int64_t done_from = turns_done_from(turn, farm_field_named(board->facts->farm, turn->field));
    cJSON_AddStringToObject(out, "uid", turn->uid);
    cJSON_AddNumberToObject(out, "number", (double)turn->id);
    cJSON_AddStringToObject(out, "field", turn->field);
    cJSON_AddStringToObject(out, "supply", turn->supply);
    add_time(out, "start", turn->date, turn->hour);
    add_time(out, "end", turn->date, turn->hour + turn->span);
    add_time(out, "done_from", (int32_t)(done_from / 24), (int)(done_from % 24));
    cJSON_AddNumberToObject(out, "start_hour", hour_from(board, turn->date, turn->hour));
    cJSON_AddNumberToObject(out, "end_hour", hour_from(board, turn->date, turn->hour) + turn->span);
    cJSON_AddNumberToObject(out, "hours", turn->hours);
    frame_number(out, "net_mm", turn->net_mm);
    frame_number(out, "gross_mm", turn->gross_mm);
    frame_number(out, "volume_m3", turn->volume_m3);
    cJSON_AddStringToObject(out, "text", turns_say_turn(board->context, turn, text));
    cJSON_AddBoolToObject(out, "pinned", turn->pinned);
    if (mark != 0)
        cJSON_AddNumberToObject(out, "mark", (double)mark);
    cJSON_AddStringToObject(out, "state", state);
    (void)snprintf(key, sizeof key, "turns.state.%s", state);
    cJSON_AddStringToObject(out, "state_text", words_get(board->context->words, key));
    add_time(out, "moved_from", turn->was_date, turn->was_hour);
}

static const struct stored_path *path_of(const struct stored_turns *turns, const char *field) {
    for (size_t i = 0; i < turns->path_count; i++)
        if (strcmp(turns->path[i].field, field) == 0)
            return &turns->path[i];
    return NULL;
}

static void add_path(const struct board *board, const struct stored_path *path, cJSON *list) {
    for (int d = 0; path != NULL && d < path->days; d++) {
        cJSON *out = cJSON_CreateObject();
        frame_date(out, "date", board->day + d);
        frame_number(out, "mm", path->depletion_mm[d]);
        frame_number(out, "allowed_mm", path->allowed_mm[d]);
        cJSON_AddBoolToObject(out, "past", path->depletion_mm[d] > path->allowed_mm[d] * (1 + 1e-9));
        cJSON_AddItemToArray(list, out);
    }
}

static const struct field_morning *morning_of(const struct turns_facts *facts, const char *field) {
    for (size_t i = 0; i < facts->morning_count; i++)
        if (strcmp(facts->mornings[i].field, field) == 0)
            return &facts->mornings[i];
    return NULL;
}

static void add_marks(const struct board *board, const char *field, cJSON *list) {
    const struct farm *farm = board->facts->farm;
    for (size_t i = 0; i < farm->turn_mark_count; i++) {
        const struct farm_turn_mark *mark = &farm->turn_mark[i];
        int start = hour_from(board, mark->date, mark->hour);
        if (mark->kind != TURN_KEPT_DRY || strcmp(mark->field, field) != 0 || start + mark->hours <= 0 ||
            start >= 24 * board->days)
            continue;
        cJSON *out = cJSON_CreateObject();
        cJSON_AddNumberToObject(out, "mark", (double)board->facts->mark[i]);
        add_time(out, "start", mark->date, mark->hour);
        add_time(out, "end", mark->date, mark->hour + mark->hours);
        cJSON_AddNumberToObject(out, "start_hour", start);
        cJSON_AddNumberToObject(out, "end_hour", start + mark->hours);
        cJSON_AddNumberToObject(out, "hours", mark->hours);
        cJSON_AddStringToObject(out, "why", mark->why);
        cJSON_AddItemToArray(list, out);
    }
}

/* Why a field of a supply that has a plan is not in it. */
static const char *left_out(const struct farm_field *field, const struct field_morning *morning) {
    if (field->system.kind == SYSTEM_NONE)
        return "turns.field.rainfed";
    if (isnan(field->system.flow_m3_h))
        return "turns.field.flow";
    return morning != NULL && morning->call.kind == CALL_CANNOT_SAY ? "turns.field.cannot_say"
                                                                    : "turns.field.not_growing";
}

static void add_field(const struct board *board, const struct farm_field *field, cJSON *list) {
    const struct stored_turns *turns = board->facts->turns;
    const struct field_morning *morning = morning_of(board->facts, field->name);
    const struct stored_path *path = path_of(turns, field->name);
    cJSON *out = cJSON_CreateObject();
    cJSON_AddItemToArray(list, out);
    cJSON_AddStringToObject(out, "name", field->name);
    frame_link(out, "address", field->name, "");
    if (morning != NULL) {
        char sentence[2 * SAY_SIZE + 1];
        cJSON_AddStringToObject(out, "call", call_kind_key(morning->call.kind));
        cJSON_AddStringToObject(out, "sentence", frame_sentence(board->context, morning, sentence));
    }
    if (path == NULL)
        cJSON_AddStringToObject(out, "no_turns", words_get(board->context->words, left_out(field, morning)));
    add_path(board, path, cJSON_AddArrayToObject(out, "depletion"));
    cJSON *own = cJSON_AddArrayToObject(out, "turns");
    for (size_t i = 0; i < turns->turn_count; i++) {
        const struct stored_turn *turn = &turns->turn[i];
        if (strcmp(turn->field, field->name) == 0 &&
            hour_from(board, turn->date, turn->hour) + turn->span > 0)
            add_turn(board, turn, own);
    }
    add_marks(board, field->name, cJSON_AddArrayToObject(out, "kept_dry"));
}

/* ---- supplies */

static void add_allotment(const struct board *board, const char *key, double of_m3, double used_m3,
                          double planned_m3, double later_m3, int32_t from, int32_t to, cJSON *supply) {
    if (isnan(of_m3)) {
        cJSON_AddNullToObject(supply, key);
        return;
    }
    cJSON *out = cJSON_AddObjectToObject(supply, key);
    double left_m3 = of_m3 - used_m3 - planned_m3 - later_m3;
    cJSON_AddNumberToObject(out, "of_m3", of_m3);
    frame_number(out, "used_m3", used_m3);
    frame_number(out, "planned_m3", planned_m3);
    frame_number(out, "later_m3", later_m3);
    frame_number(out, "season_left_m3", left_m3);
    char of[SAY_SIZE], used[SAY_SIZE], planned[SAY_SIZE], left[SAY_SIZE], until[SAY_SIZE];
    char text[TURNS_SAY_SIZE];
    const struct words_hole holes[] = {
        {"of", say_volume(board->context, of_m3, of)},
        {"used", say_volume(board->context, used_m3, used)},
        {"planned", say_volume(board->context, planned_m3, planned)},
        {"left",
         say_volume(board->context, isnan(left_m3) ? of_m3 - used_m3 - planned_m3 : fabs(left_m3), left)},
        {"until", say_day(board->context, "until", to, until)}};
    if (from == CALENDAR_NONE) {
        cJSON_AddNullToObject(out, "period");
    } else {
        cJSON *period = cJSON_AddObjectToObject(out, "period");
        frame_date(period, "from", from);
        frame_date(period, "to", to);
    }
    const char *words = from != CALENDAR_NONE ? "turns.allotment.period"
                        : left_m3 < 0         ? "turns.allotment.short"
                                              : "turns.allotment.left";
    cJSON_AddStringToObject(out, "text", turns_say(board->context, words, HOLES(holes), text));
}

static void add_hours(const struct board *board, const struct stored_supply *plan, cJSON *supply) {
    cJSON *list = cJSON_AddArrayToObject(supply, "days");
    int run = 0, free_hours = 0;
    char taken[SAY_SIZE], open[SAY_SIZE], text[SAY_SIZE];
    for (int d = 0; d < plan->days; d++) {
        cJSON *day = cJSON_CreateObject();
        int left = plan->hours_open[d] - plan->hours_run[d];
        frame_date(day, "date", board->day + d);
        cJSON_AddNumberToObject(day, "hours_open", plan->hours_open[d]);
        cJSON_AddNumberToObject(day, "hours_run", plan->hours_run[d]);
        cJSON_AddNumberToObject(day, "hours_free", left);
        cJSON_AddItemToArray(list, day);
        run += plan->hours_run[d];
        free_hours += left;
    }
    cJSON_AddNumberToObject(supply, "hours_run", run);
    cJSON_AddNumberToObject(supply, "hours_free", free_hours);
    const struct words_hole holes[] = {{"run", say_count(run, taken)},
                                       {"open", say_count(run + free_hours, open)}};
    if (plan->days > 0)
        cJSON_AddStringToObject(supply, "hours_text",
                                say_words(board->context, "turns.supply.hours", HOLES(holes), text));
}

static const char *const reason_keys[TURNS_REASON_COUNT] = {
    [TURNS_REASON_NONE] = NULL,
    [TURNS_REASON_FIELDS] = "turns.none.fields",
    [TURNS_REASON_FLOW] = "turns.none.flow",
    [TURNS_REASON_UNKNOWN] = "turns.none.unknown",
};

static const struct stored_supply *plan_of(const struct stored_turns *turns, const char *supply) {
    for (size_t i = 0; i < turns->supply_count; i++)
        if (strcmp(turns->supply[i].supply, supply) == 0)
            return &turns->supply[i];
    return NULL;
}

static void add_supply(const struct board *board, const struct farm_supply *supply, cJSON *list) {
    const struct farm *farm = board->facts->farm;
    const struct stored_supply *plan = plan_of(board->facts->turns, supply->name);
    int fields = 0;
    char text[SAY_SIZE];
    for (size_t i = 0; i < farm->field_count; i++)
        fields += strcmp(farm->field[i].supply, supply->name) == 0;
    if (fields == 0)
        return;
    cJSON *out = cJSON_CreateObject();
    cJSON_AddItemToArray(list, out);
    cJSON_AddStringToObject(out, "name", supply->name);
    cJSON_AddStringToObject(out, "flow_text", say_flow(board->context, supply->flow_m3_h, text));
    cJSON_AddNumberToObject(out, "places", supply->users > 0 ? supply->users : fields);
    const char *reason = plan == NULL ? "turns.none.morning" : reason_keys[plan->reason];
    if (reason != NULL)
        cJSON_AddStringToObject(out, "no_plan", words_get(board->context->words, reason));
    static const struct stored_supply empty = {.days = 0};
    add_hours(board, plan != NULL ? plan : &empty, out);
    bool has = plan != NULL;
    double planned_m3 = has ? plan->planned_m3 : 0;
    add_allotment(board, "allotment", has ? plan->season_m3 : (double)NAN, has ? plan->season_used_m3 : 0,
                  planned_m3, has ? plan->season_later_m3 : 0, CALENDAR_NONE, CALENDAR_NONE, out);
    add_allotment(board, "period_allotment", has ? plan->period_m3 : (double)NAN,
                  has ? plan->period_used_m3 : 0, has ? plan->period_planned_m3 : 0, NAN,
                  has ? plan->period_from : CALENDAR_NONE, has ? plan->period_to : CALENDAR_NONE, out);
    cJSON *own = cJSON_AddArrayToObject(out, "fields");
    for (size_t i = 0; i < farm->field_count; i++)
        if (strcmp(farm->field[i].supply, supply->name) == 0)
            add_field(board, &farm->field[i], own);
}

/* ---- what the plan costs */

/* Sums over the supplies that have a plan. */
struct sum {
    struct turns_cost cost;
    double bound, worth, change;
    bool money, proven, any, changed;
};

static struct sum sum_of(const struct stored_turns *turns) {
    struct sum sum = {.money = true, .proven = true};
    for (size_t i = 0; i < turns->supply_count; i++) {
        const struct stored_supply *plan = &turns->supply[i];
        if (plan->days == 0)
            continue;
        sum.any = true;
        sum.money = sum.money && plan->money;
        sum.proven = sum.proven && plan->proven;
        sum.cost.loss += plan->cost.loss;
        sum.cost.water += plan->cost.water;
        sum.cost.pumping += plan->cost.pumping;
        sum.cost.percolation += plan->cost.percolation;
        sum.cost.end += plan->cost.end;
        sum.cost.total += plan->cost.total;
        sum.bound += plan->bound;
        sum.worth += plan->worth;
        if (!isnan(plan->change_cost)) {
            sum.changed = true;
            sum.change += plan->change_cost;
        }
    }
    return sum;
}

static void add_cost(const struct board *board, const struct sum *sum, cJSON *view) {
    bool bounded = isfinite(sum->bound);
    double gap = !bounded              ? (double)NAN
                 : sum->cost.total > 0 ? fmax(sum->cost.total - sum->bound, 0) / sum->cost.total
                                       : 0;
    double lost = sum->worth > 0 ? sum->cost.loss / sum->worth : (double)NAN;
    char bound[SAY_SIZE], total[SAY_SIZE], share[SAY_SIZE], percent[SAY_SIZE], text[TURNS_SAY_SIZE];
    cJSON *out = cJSON_AddObjectToObject(view, "cost");
    cJSON_AddBoolToObject(out, "money", sum->money);
    if (sum->money) {
        frame_number(out, "loss", sum->cost.loss);
        frame_number(out, "water", sum->cost.water);
        frame_number(out, "pumping", sum->cost.pumping);
        frame_number(out, "percolation", sum->cost.percolation);
        frame_number(out, "end", sum->cost.end);
        frame_number(out, "total", sum->cost.total);
        frame_number(out, "bound", sum->bound);
    }
    frame_number(out, "loss_share", lost);
    frame_number(out, "gap_pct", 100 * gap);
    cJSON_AddBoolToObject(out, "proven", sum->proven);
    const struct words_hole hole = {"n", say_number(board->context, 100 * gap, 1, share)};
    const struct words_hole holes[] = {
        {"bound", turns_say_money(board->context, sum->bound, bound)},
        {"total", turns_say_money(board->context, sum->cost.total, total)},
        {"gap", say_words(board->context, "number.percent", &hole, 1, percent)}};
    const char *key = !bounded      ? sum->money ? "turns.bound.money.later" : "turns.bound.later"
                      : sum->money  ? sum->proven ? "turns.bound.money.proven" : "turns.bound.money"
                      : sum->proven ? "turns.bound.proven"
                                    : "turns.bound";
    cJSON_AddStringToObject(out, "sentence", turns_say(board->context, key, HOLES(holes), text));
}

/* What a word of people changed stands alone with what it costs: the rest was told in the morning. */
static bool told_now(const struct stored_turns *turns, const struct sum *sum,
                     const struct stored_change *change) {
    const struct stored_supply *plan = plan_of(turns, change->supply);
    return !sum->changed || (plan != NULL && !isnan(plan->change_cost));
}

static void add_lists(const struct board *board, const struct sum *sum, cJSON *view) {
    const struct stored_turns *turns = board->facts->turns;
    char text[TURNS_SAY_SIZE];
    cJSON *limits = cJSON_AddArrayToObject(view, "limits");
    for (size_t i = 0; i < turns->limit_count; i++) {
        const struct stored_limit *limit = &turns->limit[i];
        cJSON *out = cJSON_CreateObject();
        cJSON_AddStringToObject(out, "kind", turns_limit_key(limit->kind));
        cJSON_AddStringToObject(out, "sentence", turns_say_limit(board->context, limit, text));
        cJSON *cures = cJSON_AddArrayToObject(out, "cures");
        for (int c = 0; turns_say_cure(board->context, limit, sum->money, c, text)[0] != '\0'; c++)
            cJSON_AddItemToArray(cures, cJSON_CreateString(text));
        cJSON_AddItemToArray(limits, out);
    }
    cJSON *changes = cJSON_AddArrayToObject(view, "changes");
    for (size_t i = 0; i < turns->change_count; i++) {
        if (!told_now(turns, sum, &turns->change[i]))
            continue;
        cJSON *out = cJSON_CreateObject();
        cJSON_AddStringToObject(out, "kind", turns_change_key(turns->change[i].kind));
        cJSON_AddStringToObject(out, "sentence", turns_say_change(board->context, &turns->change[i], text));
        cJSON_AddItemToArray(changes, out);
    }
}

static void add_change(const struct board *board, const struct sum *sum, cJSON *view) {
    char cost[SAY_SIZE], share[SAY_SIZE], percent[SAY_SIZE], text[TURNS_SAY_SIZE];
    if (sum->money && sum->changed)
        frame_number(view, "change_cost", sum->change);
    else
        cJSON_AddNullToObject(view, "change_cost");
    if (!sum->changed) {
        cJSON_AddNullToObject(view, "change_sentence");
        return;
    }
    double part = sum->cost.total > 0 ? fabs(sum->change) / sum->cost.total : 0;
    const struct words_hole hole = {"n", say_number(board->context, 100 * part, 1, share)};
    const struct words_hole holes[] = {
        {"cost", turns_say_money(board->context, fabs(sum->change), cost)},
        {"share", say_words(board->context, "number.percent", &hole, 1, percent)}};
    bool none = part < 0.0005;
    const char *key = none         ? "turns.costs.nothing"
                      : sum->money ? sum->change > 0 ? "turns.costs.money.more" : "turns.costs.money.less"
                      : sum->change > 0 ? "turns.costs.more"
                                        : "turns.costs.less";
    cJSON_AddStringToObject(view, "change_sentence", turns_say(board->context, key, HOLES(holes), text));
}

/* ---- all of it */

static void add_days(const struct board *board, cJSON *view) {
    cJSON *list = cJSON_AddArrayToObject(view, "days");
    for (int d = 0; d < board->days; d++) {
        char key[32];
        cJSON *out = cJSON_CreateObject();
        (void)snprintf(key, sizeof key, "weekday.%d", calendar_weekday(board->day + d));
        frame_date(out, "date", board->day + d);
        cJSON_AddStringToObject(out, "weekday", words_get(board->context->words, key));
        cJSON_AddNumberToObject(out, "day", calendar_to_civil(board->day + d).day);
        cJSON_AddBoolToObject(out, "today", board->day + d == board->context->facts->today);
        cJSON_AddItemToArray(list, out);
    }
}

/* "12 turns in the days ahead" */
static void add_summary(const struct board *board, cJSON *view) {
    const struct stored_turns *turns = board->facts->turns;
    char number[SAY_SIZE], text[SAY_SIZE];
    int count = 0;
    for (size_t i = 0; i < turns->turn_count; i++) {
        const char *state = view_turn_state(&turns->turn[i], &board->facts->now);
        count += strcmp(state, "planned") == 0 || strcmp(state, "late") == 0;
    }
    const struct words_hole hole = {"n", say_count(count, number)};
    cJSON_AddStringToObject(
        view, "summary",
        say_words(board->context, count == 1 ? "turns.summary.one" : "turns.summary.many", &hole, 1, text));
}

/* Turns that are over, of which nobody said what became of them. */
static void add_unrecorded(const struct board *board, cJSON *view) {
    const struct stored_turns *turns = board->facts->turns;
    cJSON *list = cJSON_AddArrayToObject(view, "not_recorded");
    for (size_t i = 0; i < turns->turn_count; i++)
        if (strcmp(view_turn_state(&turns->turn[i], &board->facts->now), "not_recorded") == 0)
            add_turn(board, &turns->turn[i], list);
}

static void begin_board(struct board *board) {
    const struct stored_turns *turns = board->facts->turns;
    board->day = board->context->facts->today;
    board->days = MORNING_AHEAD;
    for (size_t i = 0; i < turns->supply_count; i++)
        if (turns->supply[i].day < board->day)
            board->day = turns->supply[i].day;
}

cJSON *view_turns(const struct view_context *context, const struct turns_facts *facts) {
    struct board board = {.context = context, .facts = facts};
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    begin_board(&board);
    const struct stored_supply *first = facts->turns->supply_count > 0 ? &facts->turns->supply[0] : NULL;
    cJSON_AddStringToObject(view, "title", words_get(context->words, "title.turns"));
    frame_date(view, "today", context->facts->today);
    frame_date(view, "first_day", board.day);
    cJSON_AddNumberToObject(view, "first_hour", first != NULL ? first->first_hour : 0);
    add_time(view, "made", first != NULL ? first->day : CALENDAR_NONE, first != NULL ? first->first_hour : 0);
    add_days(&board, view);
    cJSON *supplies = cJSON_AddArrayToObject(view, "supplies");
    for (size_t i = 0; i < facts->farm->supply_count; i++)
        add_supply(&board, &facts->farm->supply[i], supplies);
    add_summary(&board, view);
    struct sum sum = sum_of(facts->turns);
    if (sum.any)
        add_cost(&board, &sum, view);
    else
        cJSON_AddNullToObject(view, "cost");
    add_lists(&board, &sum, view);
    add_change(&board, &sum, view);
    add_unrecorded(&board, view);
    const char *none = cJSON_GetArraySize(supplies) == 0 ? "turns.none.supplies"
                       : facts->turns->supply_count == 0 ? "turns.none.morning"
                       : !sum.any                        ? "turns.none.fields"
                                                         : NULL;
    if (none != NULL)
        cJSON_AddStringToObject(view, "no_plan", words_get(context->words, none));
    else
        cJSON_AddNullToObject(view, "no_plan");
    return view;
}

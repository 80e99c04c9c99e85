#include "daemon/http/turns_pages.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/http/access.h"
#include "daemon/http/forms.h"
#include "daemon/view/frame.h"
#include "daemon/view/json_read.h"
#include "daemon/view/turns_say.h"
#include "daemon/view/turns_sheet.h"

enum status turns_view_open(const struct request *request, struct turns_view *view) {
    const struct server_data *data = request->data;
    if (data->turns == NULL)
        return STATUS_NOT_FOUND;
    enum status status = data->turns(data->context, &view->data, &view->now);
    if (status == STATUS_OK)
        status = farm_view_open(request, &view->farm);
    if (status != STATUS_OK) {
        turns_data_free(&view->data);
        return status;
    }
    view->facts = turns_data_facts(&view->data, view->farm.mornings, view->farm.count, &view->now);
    return STATUS_OK;
}

void turns_view_close(const struct request *request, struct turns_view *view) {
    farm_view_close(request, &view->farm);
    turns_data_free(&view->data);
}

struct turns_rights turns_rights_of(const struct request *request) {
    const struct page_data *book = request->data->book;
    enum access_role role = request->visitor != NULL ? request->visitor->role : ACCESS_MANAGER;
    bool writes = book != NULL && book->writer != NULL;
    return (struct turns_rights){.records = writes && role >= ACCESS_OPERATOR,
                                 .plans = writes && role >= ACCESS_MANAGER};
}

/* What people said of the days to come, each with a button that takes it back. */
static void add_marks(const struct request *request, const struct turns_view *view, cJSON *board) {
    const struct farm *farm = &view->data.farm;
    cJSON *list = cJSON_AddArrayToObject(board, "marks");
    for (size_t i = 0; i < farm->turn_mark_count; i++) {
        const struct farm_turn_mark *mark = &farm->turn_mark[i];
        char when[SAY_SIZE], hours[SAY_SIZE], text[TURNS_SAY_SIZE], action[64], token[FORM_TOKEN_SIZE];
        int64_t end = (int64_t)mark->date * 24 + mark->hour + mark->hours;
        if (end <= (int64_t)view->now.today * 24 + view->now.minute / 60)
            continue;
        const struct words_hole holes[] = {
            {"field", mark->field},
            {"when", turns_say_when(&view->farm.context, mark->date, mark->hour, when)},
            {"hours", turns_say_hours(&view->farm.context, mark->hours, hours)},
            {"why", mark->why}};
        const char *key = mark->kind == TURN_PINNED ? "turns.mark.pinned"
                          : mark->why[0] != '\0'    ? "turns.mark.dry.why"
                                                    : "turns.mark.dry";
        cJSON *out = cJSON_CreateObject();
        (void)snprintf(action, sizeof action, "/turns/mark/%lld", view->data.ids.turn_mark[i]);
        form_token_fresh(request->data->book, action, token);
        cJSON_AddStringToObject(out, "text", turns_say(&view->farm.context, key, holes, 4, text));
        cJSON_AddStringToObject(out, "action", action);
        cJSON_AddStringToObject(out, "token", token);
        cJSON_AddItemToArray(list, out);
    }
    cJSON_AddBoolToObject(board, "has_marks", cJSON_GetArraySize(list) > 0);
}

enum status turns_page(const struct request *request, struct reply *reply) {
    struct turns_view view;
    enum status status = turns_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    cJSON *board = view_turns(&view.farm.context, &view.facts);
    const struct turns_rights rights = turns_rights_of(request);
    if (board != NULL && strncmp(request->path, "/api/", 5) != 0)
        turns_board_add(&view.farm.context, &rights, board);
    if (board != NULL && rights.plans && strncmp(request->path, "/api/", 5) != 0)
        add_marks(request, &view, board);
    status = pages_show(request, board, "turns", reply);
    turns_view_close(request, &view);
    return status;
}

enum status turns_sheet_page(const struct request *request, struct reply *reply) {
    struct turns_view view;
    enum status status = turns_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    cJSON *board = view_turns(&view.farm.context, &view.facts);
    if (board != NULL)
        turns_sheet_add(&view.farm.context, board);
    status = pages_show(request, board, "sheet", reply);
    turns_view_close(request, &view);
    return status;
}

/* ---- one turn */

static const cJSON *find_in(const cJSON *list, long long number) {
    const cJSON *turn;
    cJSON_ArrayForEach(turn, list) {
        const cJSON *own = json_member(turn, "number");
        if (cJSON_IsNumber(own) && (long long)own->valuedouble == number)
            return turn;
    }
    return NULL;
}

const cJSON *turns_find(const cJSON *view, long long number) {
    const cJSON *supply, *field;
    cJSON_ArrayForEach(supply, json_member(view, "supplies")) {
        cJSON_ArrayForEach(field, json_member(supply, "fields")) {
            const cJSON *turn = find_in(json_member(field, "turns"), number);
            if (turn != NULL)
                return turn;
        }
    }
    return find_in(json_member(view, "not_recorded"), number);
}

/* Whether it can be said to be done by now. */
static bool may_be_done(const struct turns_view *view, const cJSON *turn, int32_t *date, int *hour) {
    return turns_board_time(turn, "done_from", date, hour) &&
           turns_hour_came((int64_t)*date * 24 + *hour, &view->now);
}

/* What may be done with a turn in a state, and by whom. */
static const struct turn_act {
    const char *name; /* of its form; the words of turns.act.NAME are on its button */
    bool plans;       /* a manager's */
    bool at_once;     /* a button that does it: there is nothing to fill in */
    bool planned, under_way, over;
    int pinned; /* 1: of pinned turns, 0: of others, -1: of both */
} acts[] = {
    {"done", false, false, true, true, true, -1},   {"late", false, false, true, true, false, -1},
    {"skipped", false, true, true, true, true, -1}, {"pin", true, true, true, false, false, 0},
    {"release", true, true, true, false, false, 1}, {"move", true, false, true, false, false, -1},
    {"split", true, false, true, false, false, -1}, {"dry", true, false, true, false, false, -1},
};

/* One that is late has its hour from people already: they may say another, and what became of it. */
static bool act_fits(const struct turn_act *act, const struct turns_rights *rights, const cJSON *turn) {
    const char *state = json_string(turn, "state");
    bool pinned = cJSON_IsTrue(json_member(turn, "pinned"));
    bool fits = (strcmp(state, "planned") == 0 && act->planned) ||
                (strcmp(state, "late") == 0 && act->planned && !act->plans) ||
                (strcmp(state, "under_way") == 0 && act->under_way) ||
                (strcmp(state, "not_recorded") == 0 && act->over);
    return fits && (act->plans ? rights->plans : rights->records) &&
           (act->pinned < 0 || (act->pinned == 1) == pinned);
}

static void add_done_from(const struct view_context *context, int32_t date, int hour, cJSON *page) {
    char when[SAY_SIZE], text[SAY_SIZE];
    const struct words_hole hole = {"when", turns_say_when(context, date, hour, when)};
    cJSON_AddStringToObject(page, "done_from_text", say_words(context, "turns.done_from", &hole, 1, text));
}

static void add_acts(const struct request *request, const struct turns_view *view, const cJSON *turn,
                     cJSON *page) {
    const struct turns_rights rights = turns_rights_of(request);
    int32_t date;
    int hour;
    bool begun = may_be_done(view, turn, &date, &hour);
    bool over = strcmp(json_string(turn, "state"), "not_recorded") == 0;
    cJSON *links = cJSON_AddArrayToObject(page, "acts"), *posts = cJSON_AddArrayToObject(page, "posts");
    char key[40], action[FRAME_PATH_SIZE], token[FORM_TOKEN_SIZE];
    for (size_t i = 0; i < sizeof acts / sizeof *acts; i++) {
        if (!act_fits(&acts[i], &rights, turn))
            continue;
        if (strcmp(acts[i].name, "done") == 0 && !begun) {
            add_done_from(&view->farm.context, date, hour, page);
            continue;
        }
        cJSON *out = cJSON_CreateObject();
        (void)snprintf(key, sizeof key, "turns.act.%s%s", acts[i].name,
                       over && acts[i].at_once ? ".over" : "");
        (void)snprintf(action, sizeof action, "/turn/%s/%s", request->name, acts[i].name);
        cJSON_AddStringToObject(out, "text", words_get(request->words, key));
        cJSON_AddStringToObject(out, "href", action);
        if (acts[i].at_once) {
            form_token_fresh(request->data->book, action, token);
            cJSON_AddStringToObject(out, "token", token);
        }
        cJSON_AddItemToArray(acts[i].at_once ? posts : links, out);
    }
}

static void add_fact(const struct request *request, cJSON *list, const char *key, const char *text) {
    cJSON *fact = cJSON_CreateObject();
    cJSON_AddStringToObject(fact, "name", words_get(request->words, key));
    cJSON_AddStringToObject(fact, "text", text);
    cJSON_AddItemToArray(list, fact);
}

static void add_facts(const struct request *request, const struct view_context *context, const cJSON *turn,
                      cJSON *view) {
    char text[SAY_SIZE];
    cJSON *facts = cJSON_AddArrayToObject(view, "facts");
    add_fact(request, facts, "turns.fact.supply", json_string(turn, "supply"));
    add_fact(request, facts, "turns.fact.net", say_depth(context, json_number(turn, "net_mm"), text));
    add_fact(request, facts, "turns.fact.gross", say_depth(context, json_number(turn, "gross_mm"), text));
    add_fact(request, facts, "turns.fact.volume", say_volume(context, json_number(turn, "volume_m3"), text));
}

enum status turn_page(const struct request *request, struct reply *reply) {
    struct turns_view view;
    enum status status = turns_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    cJSON *board = view_turns(&view.farm.context, &view.facts);
    const cJSON *turn = turns_find(board, strtoll(request->name, NULL, 10));
    cJSON *page = turn != NULL ? frame_new(&view.farm.context) : NULL;
    status = board == NULL ? STATUS_NO_MEMORY : turn == NULL ? STATUS_NOT_FOUND : STATUS_OK;
    if (page != NULL) {
        const cJSON *field = json_member(turn, "field");
        cJSON_AddStringToObject(page, "title", cJSON_GetStringValue(field));
        frame_link(page, "field_href", cJSON_GetStringValue(field), "");
        cJSON_AddItemToObject(page, "turn", cJSON_Duplicate(turn, true));
        add_facts(request, &view.farm.context, turn, page);
        add_acts(request, &view, turn, page);
    }
    if (status == STATUS_OK)
        status = pages_show(request, page, "turn", reply);
    cJSON_Delete(board);
    turns_view_close(request, &view);
    return status;
}

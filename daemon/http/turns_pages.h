/* The routes of the turns: the board, the crew's sheet, one turn, what goes to calendars and tables, and
 * their forms. */
#ifndef WATERTURN_TURNS_PAGES_H
#define WATERTURN_TURNS_PAGES_H

#include <cjson/cJSON.h>

#include "daemon/http/pages.h"
#include "daemon/http/turns_data.h"
#include "daemon/view/turns_board.h"

enum status turns_page(const struct request *request, struct reply *reply);
enum status turns_sheet_page(const struct request *request, struct reply *reply);
enum status turn_page(const struct request *request, struct reply *reply);

/* ---- forms (forms_turn.c) */

/* What becomes of a turn: request->part is "move", "done", ... */
enum status turn_form(const struct request *request, struct reply *reply);
/* A turn of one's own, and hours that a field is kept dry. */
enum status turns_new_form(const struct request *request, struct reply *reply);
enum status turns_dry_form(const struct request *request, struct reply *reply);
/* Takes a mark away. */
enum status turns_mark_take(const struct request *request, struct reply *reply);

/* ---- feeds (turns_feeds.c) */

enum status turns_csv(const struct request *request, struct reply *reply);
enum status turns_supply_feed(const struct request *request, struct reply *reply);
enum status turns_field_feed(const struct request *request, struct reply *reply);
/* The addresses of the feeds; a manager may have them renewed. */
enum status turns_feeds_page(const struct request *request, struct reply *reply);

/* ---- what they share */

/* The farm, its turns, and the moment, as the pages want them. */
struct turns_view {
    struct turns_data data;
    struct morning_time now;
    struct farm_view farm;
    struct turns_facts facts;
};
/* Closed by turns_view_close() when STATUS_OK. */
enum status turns_view_open(const struct request *request, struct turns_view *view);
void turns_view_close(const struct request *request, struct turns_view *view);

/* What the visitor may do on a page; nothing where the book cannot be written. */
struct turns_rights turns_rights_of(const struct request *request);

/* A turn of the board by its number, within `view`; NULL: there is none. */
const cJSON *turns_find(const cJSON *view, long long number);

#endif

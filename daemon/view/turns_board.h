/* What the page of the turns adds to their view model: the board as SVG, the list by days for a phone, what
 * runs now and what comes next, and the links of whoever may change something. All from the model itself. */
#ifndef WATERTURN_TURNS_BOARD_H
#define WATERTURN_TURNS_BOARD_H

#include <cjson/cJSON.h>

#include "daemon/view/view.h"

struct turns_rights {
    bool records; /* may say what became of a turn */
    bool plans;   /* may pin, move and forbid */
};

void turns_board_add(const struct view_context *context, const struct turns_rights *rights, cJSON *view);

/* Puts the objects of a list in the order of their "at". */
void turns_board_sort(cJSON *list);

/* "2026-07-14T05:00" as a day and an hour. False: it is none. */
bool turns_board_time(const cJSON *object, const char *key, int32_t *date, int *hour);

#endif

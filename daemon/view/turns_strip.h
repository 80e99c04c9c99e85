/* The strip of a field on the board of turns: its evenings, its turns, the hours in which it is kept dry. */
#ifndef WATERTURN_TURNS_STRIP_H
#define WATERTURN_TURNS_STRIP_H

#include <cjson/cJSON.h>

#include "daemon/view/turns_board.h"

struct turns_strip {
    const struct view_context *context;
    const struct turns_rights *rights;
    const char *first_day;
    int hours;      /* of all days */
    int first_hour; /* from which on the plan goes */
};

/* Adds "strip", SVG, to a field of the model. */
void turns_strip_add(const struct turns_strip *strip, cJSON *field);

bool turns_is_state(const cJSON *turn, const char *state);
/* Planned or late. */
bool turns_is_to_come(const cJSON *turn);

#endif

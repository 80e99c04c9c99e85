/* The crew's sheet: the turns by supply and day, to be printed and written on. */
#ifndef WATERTURN_TURNS_SHEET_H
#define WATERTURN_TURNS_SHEET_H

#include <cjson/cJSON.h>

#include "daemon/view/view.h"

/* Adds "sheets" to the view model of the turns: for each supply its rows by begin. */
void turns_sheet_add(const struct view_context *context, cJSON *view);

#endif

/* Turns in words: their times, what limits them, what changed. */
#ifndef WATERTURN_TURNS_SAY_H
#define WATERTURN_TURNS_SAY_H

#include "daemon/store/turns_store.h"
#include "daemon/view/say.h"

/* Longer than SAY_SIZE: a sentence with names in it. */
#define TURNS_SAY_SIZE (4 * SAY_SIZE)

/* "today 22:00" */
char *turns_say_when(const struct view_context *context, int32_t date, int hour, char out[SAY_SIZE]);
/* "14 h" */
char *turns_say_hours(const struct view_context *context, int hours, char out[SAY_SIZE]);
/* "today 22:00 to 12:00, 14 h, 18 mm" */
char *turns_say_turn(const struct view_context *context, const struct stored_turn *turn, char out[SAY_SIZE]);

/* "Turn: today 22:00, 14 h for 18 mm net", and that it comes after the day of the call when it does; "" when
 * there is none.
 */
char *turns_say_next(const struct view_context *context, const struct field_morning *morning,
                     char out[TURNS_SAY_SIZE]);

/* "Turn over, not recorded: yesterday 22:00 to 6:00, 8 h, 18 mm"; "" when there is none. */
char *turns_say_over(const struct view_context *context, const struct field_morning *morning,
                     char out[TURNS_SAY_SIZE]);

/* Stable keys: "supply_short", ..., "new", ... */
const char *turns_limit_key(enum turns_limit_kind kind);
const char *turns_change_key(enum turn_change kind);

char *turns_say_limit(const struct view_context *context, const struct stored_limit *limit,
                      char out[TURNS_SAY_SIZE]);
/* Each by itself; "" past the last. `money`: costs are in the user's. */
char *turns_say_cure(const struct view_context *context, const struct stored_limit *limit, bool money,
                     int index, char out[TURNS_SAY_SIZE]);
char *turns_say_change(const struct view_context *context, const struct stored_change *change,
                       char out[TURNS_SAY_SIZE]);

/* An amount of the user's money: whole numbers from 100 on. */
char *turns_say_money(const struct view_context *context, double amount, char out[SAY_SIZE]);

/* Fills the holes of a text, without cutting it. */
char *turns_say(const struct view_context *context, const char *key, const struct words_hole *holes,
                size_t count, char out[TURNS_SAY_SIZE]);

#endif

/* Quantities, days and shares as people read them: rounded sensibly, in their units, in their language. */
#ifndef WATERTURN_SAY_H
#define WATERTURN_SAY_H

#include <stdint.h>

#include "daemon/base/text.h"
#include "daemon/view/view.h"

/* Long enough for any piece of a sentence; what would be longer is cut at a character. */
#define SAY_SIZE 256

/* "38 mm", or "1.50 in" to the nearest 0.05; "not known" when not finite. */
char *say_depth(const struct view_context *context, double mm, char out[SAY_SIZE]);

/* The number in it, in inches or mm, for an input that offers the same amount: to hundredths of an inch or
 * tenths of a mm where there would be none. */
double say_depth_number(const struct view_context *context, double mm);

/* Of what a person measured: "12.5 mm", "0.12 in". */
char *say_depth_read(const struct view_context *context, double mm, char out[SAY_SIZE]);

/* "9½ hours" from 3 h on, "2 h 10 min" to 5 minutes below; "not known" when not finite. */
char *say_hours(const struct view_context *context, double hours, char out[SAY_SIZE]);

/* "62%". "not known" when the share is not finite. */
char *say_share(const struct view_context *context, double share, char out[SAY_SIZE]);

/* A number with that many decimals and the language's decimal sign; "–" when not finite. */
char *say_number(const struct view_context *context, double value, int decimals, char out[SAY_SIZE]);

/* "6.0 ha", "14.8 ac". */
char *say_area(const struct view_context *context, double m2, char out[SAY_SIZE]);

/* "1200 m³", "11.7 ac-in". */
char *say_volume(const struct view_context *context, double m3, char out[SAY_SIZE]);

/* "220 m³/h", "970 gal/min". */
char *say_flow(const struct view_context *context, double m3_h, char out[SAY_SIZE]);

/* "0.90 m", "3.0 ft". */
char *say_length(const struct view_context *context, double m, char out[SAY_SIZE]);

/* Of places: "16 km", "9.9 mi"; one decimal below 10. */
char *say_distance(const struct view_context *context, double km, char out[SAY_SIZE]);

/* Of the ground: "178 m", "584 ft". */
char *say_height(const struct view_context *context, double m, char out[SAY_SIZE]);

/* A whole number. */
char *say_count(int count, char out[SAY_SIZE]);

/* "Friday 5 June" */
char *say_date(const struct view_context *context, int32_t date, char out[SAY_SIZE]);

/* "5 June 2026" */
char *say_date_year(const struct view_context *context, int32_t date, char out[SAY_SIZE]);

/* A day as seen from today: form "on": "today", "on Thursday", "on Friday 12 June"; "by" and "until" alike.
 */
char *say_day(const struct view_context *context, const char *form, int32_t date, char out[SAY_SIZE]);

/* Fills the holes of a text (see words.h) into `out`. */
char *say_words(const struct view_context *context, const char *key, const struct words_hole *holes,
                size_t count, char out[SAY_SIZE]);

/* Depletion as a share of the allowed one; NaN when it cannot be known. */
double say_share_of(double depletion_mm, double allowed_mm);

#endif

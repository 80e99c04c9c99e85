/* Dates of the proleptic Gregorian calendar as day numbers: days since 1970-01-01 (ISO 8601; the civil-day
 * algorithm is exact integer arithmetic). No clock and no time zone in here. */
#ifndef WATERTURN_CALENDAR_H
#define WATERTURN_CALENDAR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/base/status.h"

/* "No date": never a valid day number. */
#define CALENDAR_NONE INT32_MIN

/* Valid day numbers: 1600-01-01 .. 2999-12-31. */
#define CALENDAR_FIRST (-135140)
#define CALENDAR_LAST  376199

#define CALENDAR_ISO_SIZE 11 /* "YYYY-MM-DD" and its NUL */

struct calendar_civil {
    int year;  /* 1600..2999 */
    int month; /* 1..12 */
    int day;   /* 1..31 */
};

/* True for a day number in CALENDAR_FIRST..CALENDAR_LAST. */
static inline bool calendar_valid(int32_t date) {
    return date >= CALENDAR_FIRST && date <= CALENDAR_LAST;
}

/* Day number of a civil date. STATUS_OUT_OF_RANGE for a date that does not exist (30 February). */
enum status calendar_from_civil(int year, int month, int day, int32_t *date);

/* Civil date of a valid day number; for an invalid one the fields are zero. */
struct calendar_civil calendar_to_civil(int32_t date);

/* Day of the year, 1..366 (J of FAO-56); 0 for an invalid day number. */
int calendar_day_of_year(int32_t date);

/* Day of the week, 0 Monday .. 6 Sunday (ISO 8601 less one). `date` must be valid. */
int calendar_weekday(int32_t date);

/* Reads exactly "YYYY-MM-DD" (ten characters at `text`, NUL after them). STATUS_OUT_OF_RANGE otherwise. */
enum status calendar_parse_iso(const char *text, int32_t *date);

/* Writes "YYYY-MM-DD"; for an invalid date "----------". Returns `out`. */
char *calendar_format_iso(int32_t date, char out[CALENDAR_ISO_SIZE]);

#endif

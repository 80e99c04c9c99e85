/* Addresses with holes: "https://weather.example/daily?lat={lat}&lon={lon}&start={start}&end={end}".
 *
 *   {lat} {lon}     the station's place, degrees with four decimals
 *   {date}          the morning
 *   {start} {end}   the first and the last day that are wanted; of a forecast today and the last day ahead
 *   {year}          the year of {start}; one request for each year is made then
 *   {key}           a key out of the credentials file
 *
 * A date is written 2026-07-14, or in the form behind a colon: {start:YYYYMMDD}, {end:MM/DD/YYYY}, where
 * YYYY, MM, DD and DDD (day of the year) stand for their digits and all else for itself. */
#ifndef WATERTURN_ADDRESS_TEMPLATE_H
#define WATERTURN_ADDRESS_TEMPLATE_H

#include <stdbool.h>
#include <stdint.h>

#include "core/base/status.h"
#include "daemon/base/text.h"

#define ADDRESS_TEMPLATE_WORDS     "{lat}, {lon}, {date}, {start}, {end}, {year}, {key}"
#define ADDRESS_TEMPLATE_WORD_SIZE 64

/* Whether an address that begins with http:// or https:// goes on with a host, and has no blank in it. */
bool address_names_host(const char *address);

/* False when there is a hole that nothing fills; `wrong` then has it as it is written. */
bool address_template_check(const char *address, char wrong[ADDRESS_TEMPLATE_WORD_SIZE]);

/* Which days one address stands for. */
enum address_span {
    ADDRESS_WHOLE, /* whatever the file has */
    ADDRESS_DAYS,  /* those from {start} to {end} */
    ADDRESS_YEAR   /* those of one {year} */
};
enum address_span address_template_span(const char *address);

struct address_values {
    double latitude_deg, longitude_deg;
    int32_t today, start, end;
    const char *key; /* NULL: {key} stays as it is written, for showing and storing */
};

/* Adds the address with its holes filled; the key is percent-encoded. STATUS_MISSING: a longitude that is
 * wanted and not known; STATUS_REFUSED: as address_template_check(). */
enum status address_template_fill(const char *address, const struct address_values *values, struct text *out);

#endif

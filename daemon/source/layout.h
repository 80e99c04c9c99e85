/* A layout: a JSON file that says how one kind of weather file is read. Reading is pure: bytes in, days out,
 * no file, clock or time zone of the machine. A file is taken whole or refused whole, with every reason. */
#ifndef WATERTURN_LAYOUT_H
#define WATERTURN_LAYOUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"
#include "daemon/source/weather_days.h"

struct layout;

/* Largest weather file that is read. */
#define LAYOUT_BYTES_MAX ((size_t)64 << 20)

/* Reads a layout from JSON text. `name` is what problems call the file. STATUS_REFUSED with the reasons. */
enum status layout_parse(const char *name, const char *json, size_t size, struct layout **out,
                         struct problems *problems);

/* A layout that ships: config/layouts/NAME.json. STATUS_NOT_FOUND, with the nearest names, when there is
 * none. */
enum status layout_builtin(const char *name, struct layout **out, struct problems *problems);

/* The names of the layouts that ship, in order; NULL past the last. The string is the caller's `room`. */
#define LAYOUT_NAME_SIZE 64
const char *layout_builtin_name(size_t index, char room[LAYOUT_NAME_SIZE]);

void layout_free(struct layout *layout);

const char *layout_name(const struct layout *layout);
/* One line that says what it reads. */
const char *layout_title(const struct layout *layout);
/* Where a service that needs no key gives such a file for any place: an address with holes
 * (address_template.h); NULL: there is none. */
const char *layout_address(const struct layout *layout);
/* True when its days are a forecast: they come out with ORIGIN_FORECAST, all others with ORIGIN_MEASURED. */
bool layout_is_forecast(const struct layout *layout);
/* Height above ground at which this service states its wind, m; NaN: at the height of the station's own
 * anemometer. */
double layout_wind_height_m(const struct layout *layout);

/* Seconds to add to UTC for local time at an instant (seconds since 1970-01-01T00:00Z). */
typedef int32_t (*layout_zone)(void *context, int64_t utc);
/* Where local days begin, for layouts of hours in UTC. Without it such days are UTC days. */
void layout_set_zone(struct layout *layout, layout_zone zone, void *context);

/* Reads the bytes of a weather file into `out` (initialised by the caller and empty; stays empty unless
 * STATUS_OK). `where` is the file's name or address, for the problems.
 * STATUS_REFUSED when anything is wrong: a page of HTML, NUL bytes, an encoding other than UTF-8, a row cut
 * short, a number that is none, a date column that is missing, days that contradict each other, values that
 * no weather has (a unit mixed up, a missing code not named). STATUS_NO_ROOM past a limit, STATUS_NO_MEMORY.
 */
enum status layout_read(const struct layout *layout, const char *where, const unsigned char *bytes,
                        size_t size, struct weather_days *out, struct problems *problems);

/* The layout that ships which fits the bytes best. */
struct layout_fit {
    char name[LAYOUT_NAME_SIZE];
    enum status status;  /* STATUS_OK: it reads the file as it stands */
    size_t days, values; /* what it read, or would have read but for the problems */
};
/* STATUS_NOT_FOUND when no layout finds a single day in the bytes; `fit` is then empty. */
enum status layout_guess(const char *where, const unsigned char *bytes, size_t size, struct layout_fit *fit);

#endif

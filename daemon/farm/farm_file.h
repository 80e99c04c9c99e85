/* A farm file: JSON with comments (line and block), quantities with units. See config/waterturn.json. */
#ifndef WATERTURN_FARM_FILE_H
#define WATERTURN_FARM_FILE_H

#include "daemon/base/problem.h"
#include "daemon/farm/farm.h"

/* Reads and checks a whole farm from text. All that is wrong is added to `problems`; on anything but
 * STATUS_OK `farm` is left empty. STATUS_REFUSED: the text was judged and refused. `name` stands in the
 * messages. */
enum status farm_file_read(const char *name, const char *text, size_t size, struct farm *farm,
                           struct problems *problems);

/* Writes the farm as a stable, sorted, diffable farm file that farm_file_read() reads back to the same
 * structs, bit for bit. Every value of a crop and a soil is written, so that another version of the tables
 * that ship changes nothing. A malloc'd string; NULL when out of memory, or past TEXT_LIMIT_DEFAULT. */
char *farm_file_write(const struct farm *farm);

#endif

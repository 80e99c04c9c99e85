/* The readers, by kind of layout. Each is pure: it sees the bytes and the layout, and nothing else. */
#ifndef WATERTURN_READERS_H
#define WATERTURN_READERS_H

#include "daemon/source/day_builder.h"

/* Problems go to the builder and do not end the reading; a status other than STATUS_OK does. */
typedef enum status (*reader)(struct day_builder *builder, const unsigned char *bytes, size_t size);

enum status delimited_read(struct day_builder *builder, const unsigned char *bytes, size_t size);
enum status columns_file_read(struct day_builder *builder, const unsigned char *bytes, size_t size);
enum status json_days_read(struct day_builder *builder, const unsigned char *bytes, size_t size);

/* Refuses days that no place on earth has: columns swapped, units mixed up, missing codes taken for values.
 * A single odd day is let through: core/weather finds and names it. */
enum status judge_days(const struct layout *layout, const char *where, const struct weather_days *days,
                       struct problems *problems);

#endif

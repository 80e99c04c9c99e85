/* Readings in, days out: the part that all readers share. A reader finds the raw pieces of each value; the
 * builder reads the number, looks at missing codes, flags and units, and puts the value where it belongs. */
#ifndef WATERTURN_DAY_BUILDER_H
#define WATERTURN_DAY_BUILDER_H

#include "daemon/source/layout_rules.h"
#include "daemon/source/raw.h"
#include "daemon/source/stamp.h"

/* One reading of a value whose layout has more than one a day. */
struct reading {
    int64_t start, end;
    double value;
    int rule, line;
};

#define READINGS_MAX 4000000

struct day_builder {
    const struct layout *layout;
    const struct layout_time *time; /* the layout's, or its other one */
    bool stamped;                   /* a time has been read */
    char station[RAW_SHOWN_SIZE];   /* of the first row; "" before it */
    const char *where;
    struct problems *problems;
    size_t problems_before;
    struct weather_days days;
    struct reading *reading;
    size_t reading_count, reading_room;
    size_t values; /* read and present */
};

/* Where in the file a piece stands, for problems. */
struct piece_place {
    int line, column;
    const char *name; /* header of the column, pointer; NULL */
};

void day_builder_start(struct day_builder *builder, const struct layout *layout, const char *where,
                       struct problems *problems);
void day_builder_end(struct day_builder *builder);

/* Reads the time of a row; false, with a problem, when it is none. */
bool day_builder_stamp(struct day_builder *builder, const struct stamp_parts *parts,
                       const struct piece_place *place, struct stamp *out);

/* False, with a problem, when the row is of another station than the rows before: one file, one station. */
bool day_builder_station(struct day_builder *builder, struct raw name, int line);

/* Takes one value. `flag` has text NULL when the value has none. `unit` is the one that the file itself
 * names, or NULL. A number that is none is a problem and STATUS_OK; other statuses end the reading. */
enum status day_builder_put(struct day_builder *builder, int rule, const struct stamp *stamp, struct raw text,
                            struct raw flag, const struct unit *unit, const struct piece_place *place);

/* The same for a number that needs no reading; missing codes and flags are the caller's. */
enum status day_builder_put_number(struct day_builder *builder, int rule, const struct stamp *stamp,
                                   double number, const struct unit *unit, const struct piece_place *place);

/* Whether a piece is empty, one of the layout's missing codes, or taken out by its flag. */
bool day_builder_missing(const struct day_builder *builder, int rule, struct raw text, struct raw flag);

/* Makes the days out of the readings. */
enum status day_builder_finish(struct day_builder *builder);

#endif

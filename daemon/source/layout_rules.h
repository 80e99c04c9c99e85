/* The inside of a layout: what layout_parse.c reads from JSON and the readers go by. */
#ifndef WATERTURN_LAYOUT_RULES_H
#define WATERTURN_LAYOUT_RULES_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stdint.h>

#include "core/base/units.h"
#include "core/weather/weather.h"
#include "daemon/source/layout.h"

enum layout_kind { LAYOUT_DELIMITED, LAYOUT_COLUMNS, LAYOUT_JSON };

/* How a JSON file holds its days. */
enum layout_form {
    FORM_SIDE_BY_SIDE, /* arrays of equal length, one of them the times */
    FORM_LIST,         /* a list of objects, one a time */
    FORM_BY_DATE,      /* one object a value, its keys the times */
    FORM_INTERVALS     /* one list a value, of objects with their own time */
};

/* How the readings of one value become the value of a day. */
enum layout_how {
    HOW_DAY,  /* the file has one a day already */
    HOW_MEAN, /* weighed by how long each holds */
    HOW_SUM,  /* shared out over the days that its interval meets */
    HOW_MAX,
    HOW_MIN,
    HOW_RUNNING, /* a counter that grows and now and then starts again */
    HOW_MIDDLE   /* belongs to the day that holds the middle of its interval */
};

enum layout_time_format {
    TIME_ISO, /* 2021-06-01, 2021-06-01T14:00Z, 2021-06-01T12:00:00+00:00/PT6H */
    TIME_YYYYMMDD,
    TIME_YEAR_DAY,       /* two columns: year, day of the year */
    TIME_YEAR_MONTH_DAY, /* three columns */
    TIME_YEAR_MONTH,     /* two columns; the day is the place in a row that repeats */
    TIME_MONTH_DAY_YEAR, /* 6/1/2021 */
    TIME_DAY_MONTH_YEAR, /* 1.6.2021, 1/6/2021 */
    TIME_EPOCH           /* seconds since 1970-01-01T00:00Z */
};

enum layout_zone_kind {
    ZONE_AS_WRITTEN, /* the times are those of the place already */
    ZONE_FIXED,      /* the times are at a fixed offset from UTC and are moved to the place's */
};

/* Where something stands: under a header name, in the n-th column, in characters from..to, or (JSON) at a
 * pointer or key. */
struct layout_place {
    const char *name; /* NULL: by number */
    int number;       /* from 1; 0: by name or characters */
    int from, to;     /* from 1, both included */
};

/* Places for the same thing, the first that is there counts. */
#define LAYOUT_PLACES_MAX 4
struct layout_places {
    struct layout_place at[LAYOUT_PLACES_MAX];
    int count;
};

struct layout_flag {
    struct layout_places places; /* count 0: no flag */
    int part;                    /* n-th of the parts between commas; 0: all of it */
    const cJSON *keep;           /* flags with which the value is taken, or NULL */
    const cJSON *drop;           /* flags with which it is missing, or NULL */
};

struct layout_value {
    enum weather_element element;
    struct layout_places places;
    const char *key; /* long form: what the element column says */
    const struct unit *unit, *target;
    bool unit_in_preamble; /* the line that explains the column ends with its unit in parentheses */
    const cJSON
        *unit_at; /* JSON: pointer, or list of them, to where the file names the unit; NULL: it does not */
    double scale;
    const cJSON *missing; /* texts and numbers that mean missing, or NULL */
    struct layout_flag flag;
    enum layout_how how;
    bool required;
    double complete;              /* share of a day that must be there, 0..1 */
    int hours[LAYOUT_PLACES_MAX]; /* of each place: how long its readings hold, h; 0: as the time says */
    const char *path;             /* "values.tmax_c", for problems */
};

struct layout_time {
    struct layout_place column[3];
    int column_count;
    struct layout_place clock; /* HHMM or HH:MM beside the date; name NULL and number 0: none */
    enum layout_time_format format;
    enum layout_zone_kind zone;
    int32_t zone_offset_s; /* of the times as written, ZONE_FIXED */
    int32_t step_s;        /* 0: days; else how long a reading holds */
    bool summer_time;      /* ZONE_AS_WRITTEN: the clock is set forward in summer; else it is standard time */
    bool until_next;       /* a reading holds until the next, at most step_s */
    bool marks_end;        /* the time is the end of the reading's interval */
    int32_t day_begins_s;  /* after local midnight */
    bool named_by_end;     /* the day takes the date on which it ends */
    double complete;       /* share of a day that must be there, 0..1 */
};

#define LAYOUT_VALUES_MAX 48

struct layout {
    char name[LAYOUT_NAME_SIZE];
    cJSON *json; /* owns all strings below */
    const char *title;
    const char
        *address; /* of the service that writes such files, with holes; NULL: none that fits any place */
    enum layout_kind kind;
    bool forecast;
    bool latin1;
    double wind_height_m;
    /* delimited and columns */
    char separator, quote, decimal, comment; /* comment, quote 0: none */
    bool header, ignore_others, any_last_line;
    int skip_rows, unit_rows;
    const char *skip_to;
    int fields; /* columns parted by blanks: fields in a row; 0: any number */
    int length; /* columns by characters: least length of a row; 0: any */
    struct {    /* columns: groups that repeat along a row, one a day of the month */
        int first, width, count;
    } repeat;
    struct layout_place element; /* long form: which value a row holds */
    struct layout_place station; /* must say the same in all rows */
    /* JSON */
    enum layout_form form;
    const cJSON *rows; /* pointer to where the days are, or a list of pointers; NULL: the root */
    const char *item;  /* FORM_INTERVALS: pointer to the value in an item of its list */
    struct layout_time time;
    struct layout_time other_time; /* used where the columns or the first date of `time` are not there */
    bool has_other_time;
    struct layout_value value[LAYOUT_VALUES_MAX];
    int value_count;
    layout_zone zone;
    void *zone_context;
};

/* What was understood of a file, also of one that is refused. */
struct layout_counts {
    size_t days, values;
};

/* layout_read(), and what was understood. */
enum status layout_read_counted(const struct layout *layout, const char *where, const unsigned char *bytes,
                                size_t size, struct weather_days *out, struct layout_counts *counts,
                                struct problems *problems);

#endif

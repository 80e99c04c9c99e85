/* The farm as it is written in a farm file and kept in the database: plain structs, SI units, names as keys.
 * Missing numbers are NaN, missing dates CALENDAR_NONE, missing strings "". Lists keep the order of the file,
 * but for records, which are sorted. */
#ifndef WATERTURN_FARM_H
#define WATERTURN_FARM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/balance/crop.h"
#include "core/balance/season.h"
#include "core/balance/soil.h"
#include "core/decide/application.h"
#include "core/weather/weather.h"

/* Names are keys: 1..63 bytes of UTF-8, shown as they are. Notes are longer. */
#define FARM_NAME_SIZE 64
#define FARM_TEXT_SIZE 1024

#define FARM_NEIGHBOURS_MAX 8

struct farm_station {
    char name[FARM_NAME_SIZE];
    double longitude_deg;
    struct weather_site site; /* latitude, elevation, wind height, ... */
    double lapse_c_km;        /* how much colder it is 1 km higher up, for values of neighbours */
    bool hourly_et0;          /* ET0 is summed from the hours of a day that has them all */
    int neighbour_count;
    /* stations that fill gaps, the first before all others */
    char neighbour[FARM_NEIGHBOURS_MAX][FARM_NAME_SIZE];
};

enum source_kind { SOURCE_OBSERVED, SOURCE_FORECAST };

struct farm_source {
    char name[FARM_NAME_SIZE];
    char station[FARM_NAME_SIZE];
    char layout[FARM_NAME_SIZE];  /* name of a layout in config/layouts/, or of one in WATERTURN_LAYOUTS */
    char address[FARM_TEXT_SIZE]; /* http://, https://, or file: path (relative: to the farm file); may have
                                     {lat}, {start}, ... in it (daemon/source/address_template.h) */
    enum source_kind kind;
    int32_t since;     /* ask also for days from here on; CALENDAR_NONE: what the plantings need */
    double interval_s; /* between two requests to its host; NaN: DOWNLOAD_INTERVAL_DEFAULT_S */
};

struct farm_soil {
    char name[FARM_NAME_SIZE];
    char texture[FARM_NAME_SIZE]; /* as written, or the class of the sand and clay as written; "" when
                                     measured */
    struct soil soil;             /* ready for the balance */
};

/* Days from..to, both in it. */
struct farm_span {
    int32_t from, to;
};

/* Hours in which a supply may run: on days of the week, or once in so many days (a canal's turn days). */
struct farm_window {
    unsigned weekdays; /* bit 0 Monday .. bit 6 Sunday; 0: by every_days */
    int every_days;    /* 1..60; 0: by weekdays */
    int32_t first;     /* with every_days: a day on which it opens */
    int from_hour;     /* 0..23 */
    int hours;         /* 1..24, also past midnight */
};

/* What may be drawn in a part of the season. */
struct farm_allotment {
    struct farm_span days;
    double volume_m3; /* 0 or more */
};

#define FARM_TURN_HOURS_MAX 384
#define FARM_WINDOWS_MAX    8
#define FARM_CLOSURES_MAX   16
#define FARM_ALLOTMENTS_MAX 8

struct farm_supply {
    char name[FARM_NAME_SIZE];
    double flow_m3_h;
    double hours_per_day;
    double allotment_m3; /* for the season; NaN: none */
    /* Days that the allotment is for; from CALENDAR_NONE: since the earliest start of the plantings that
     * stand on its fields; to CALENDAR_NONE: to the last end of theirs. */
    struct farm_span season;
    int users;        /* turns that may be on at once; 0: as many as its flow serves */
    int window_count; /* 0: open at all hours */
    struct farm_window window[FARM_WINDOWS_MAX];
    int closed_count;
    struct farm_span closed[FARM_CLOSURES_MAX];
    int allotment_count;
    struct farm_allotment allotment[FARM_ALLOTMENTS_MAX]; /* for parts of the season, beside allotment_m3 */
    double water_price;                                   /* of 1 m3, in the user's money; NaN: the farm's */
    double hour_price; /* of an hour that it runs; NaN: none, so that water_price holds all */
};

/* How a field takes its turns. */
struct farm_turning {
    int setup_hours;                   /* 0..24, before each turn */
    int shortest_hours, longest_hours; /* of a turn, 1..384; 0: no such limit */
    bool may_pause; /* a turn may stop while its supply is closed and go on when it opens */
};

struct farm_field {
    char name[FARM_NAME_SIZE];
    char station[FARM_NAME_SIZE];
    char soil[FARM_NAME_SIZE];
    char supply[FARM_NAME_SIZE]; /* "" when it shares none */
    struct system system;        /* area and flow in it */
    struct farm_turning turning;
};

enum turn_mark_kind { TURN_PINNED, TURN_KEPT_DRY, TURN_MARK_KIND_COUNT };

/* People's word on the turns of a field: a turn that stands as they say, or hours in which there is none. */
struct farm_turn_mark {
    char field[FARM_NAME_SIZE];
    enum turn_mark_kind kind;
    int32_t date; /* it begins on this day, */
    int hour;     /* at this hour of the farm's clock, 0..23, */
    int hours;    /* and lasts: pinned: hours that water runs, 1..384; kept dry: clock hours, 1..8784 */
    char why[FARM_NAME_SIZE]; /* "spraying"; "" not said */
};

/* A crop on a field from planting on. */
struct farm_planting {
    char field[FARM_NAME_SIZE];
    char crop_name[FARM_NAME_SIZE]; /* as in config/crops.json */
    char region[FARM_NAME_SIZE];    /* which row of stage lengths; "" the first */
    struct crop crop;               /* the library's values with the file's own put over them */
    enum coefficient_method method;
    int32_t planting_date;
    int32_t start_date; /* first day of the balance; planting_date unless given */
    int32_t stage_date[CROP_GROWING_STAGES];
    double start_depletion; /* 0..1 */
    double water_table_m, capillary_max_mm, ece_ds_m;
    double yield_value; /* of the full yield of 1 ha, in the user's money; NaN: not given */
};

enum record_kind {
    RECORD_IRRIGATION,
    RECORD_RAIN,
    RECORD_READING,
    RECORD_STAGE,
    RECORD_COVER,
    RECORD_CUTTING,
    RECORD_HARVEST,
    RECORD_NOTE,
    RECORD_KIND_COUNT
};

struct farm_record {
    char field[FARM_NAME_SIZE];
    int32_t date;
    enum record_kind kind;
    /* irrigation: gross mm; rain: mm; reading: m3 m-3; cover: 0..1; harvest: the user's unit */
    double amount;
    double sd;                 /* reading: its standard deviation; NaN */
    int stage;                 /* RECORD_STAGE: index in stage_date */
    char text[FARM_TEXT_SIZE]; /* note; grade of a harvest */
    char plot[FARM_NAME_SIZE]; /* harvest: the plot of a trial that it is of; "" the field as a whole */
};

/* How the treatments lie on the ground. */
enum trial_layout {
    TRIAL_COMPLETELY_RANDOMISED,
    TRIAL_RANDOMISED_BLOCKS,
    TRIAL_SPLIT_PLOT,
    TRIAL_LAYOUT_COUNT
};

/* The field is the one whose balance stands for the treatment. In a split plot a treatment is a level of the
 * factor of whole plots with one of the factor of sub-plots. */
struct farm_treatment {
    char name[FARM_NAME_SIZE];
    char field[FARM_NAME_SIZE];
    char whole[FARM_NAME_SIZE], sub[FARM_NAME_SIZE]; /* "" but in a split plot */
};

/* One replicate of a treatment. Its yields are the harvests of the treatment's field that name it. */
struct farm_plot {
    char name[FARM_NAME_SIZE];
    char treatment[FARM_NAME_SIZE];
    char block[FARM_NAME_SIZE]; /* "" in a completely randomised layout */
    double area_m2; /* NaN: yields are compared as they are written down; else they are put on a hectare */
};

#define FARM_TREATMENTS_MAX 32
#define FARM_PLOTS_MAX      128

struct farm_trial {
    char name[FARM_NAME_SIZE];
    enum trial_layout layout;
    int treatment_count;
    struct farm_treatment treatment[FARM_TREATMENTS_MAX];
    int plot_count;
    struct farm_plot plot[FARM_PLOTS_MAX];
};

/* "completely randomised", "randomised blocks", "split plot"; NULL outside the enum. */
const char *trial_layout_name(enum trial_layout layout);

/* What a call goes by. */
/* The first is the default: the call by expected cost is there to be tried, and not yet shown to be better.
 */
enum call_rule { CALL_RULE_DEPLETION, CALL_RULE_COST, CALL_RULE_COUNT };

struct farm {
    char name[FARM_NAME_SIZE];
    bool us_units;                  /* the farm's own habit: inches, acres, gallons */
    char time_zone[FARM_NAME_SIZE]; /* IANA name; "" local */
    enum call_rule call_rule;
    double water_price; /* of 1 m3 as delivered, with its pumping, in the user's money; NaN: not given */
    struct farm_station *station;
    size_t station_count;
    struct farm_source *source;
    size_t source_count;
    struct farm_soil *soil;
    size_t soil_count;
    struct farm_supply *supply;
    size_t supply_count;
    struct farm_field *field;
    size_t field_count;
    struct farm_planting *planting;
    size_t planting_count;
    struct farm_record *record;
    size_t record_count;
    struct farm_turn_mark *turn_mark;
    size_t turn_mark_count;
    bool records_sorted; /* by field, date and kind: farm_sort_records() */
    struct farm_trial *trial;
    size_t trial_count;
};

void farm_init(struct farm *farm);
void farm_free(struct farm *farm);

/* Entries of which nothing is known yet: what is usual where there is a usual value, else missing. */
void farm_station_begin(struct farm_station *station);
void farm_source_begin(struct farm_source *source);
void farm_supply_begin(struct farm_supply *supply);
void farm_planting_begin(struct farm_planting *planting); /* but for its crop */
void farm_turn_mark_begin(struct farm_turn_mark *mark);

/* Look-ups by name; NULL when there is none. */
const struct farm_station *farm_station_named(const struct farm *farm, const char *name);
const struct farm_soil *farm_soil_named(const struct farm *farm, const char *name);
const struct farm_supply *farm_supply_named(const struct farm *farm, const char *name);
const struct farm_field *farm_field_named(const struct farm *farm, const char *name);

/* The planting whose balance runs on a field on a day: the last one that starts on or before it; NULL: none.
 */
const struct farm_planting *farm_planting_on(const struct farm *farm, const char *field, int32_t date);

/* "irrigation", "rain", "reading", ...; NULL outside the enum. */
const char *record_kind_name(enum record_kind kind);
/* "pinned", "kept dry"; NULL outside the enum. */
const char *turn_mark_kind_name(enum turn_mark_kind kind);
/* Sorts records by field, date and kind; equal ones keep their order. Whoever fills a farm calls this: the
 * records of a day are then found by bisection, else by going through all. STATUS_NO_MEMORY: nothing changed.
 */
enum status farm_sort_records(struct farm *farm);

/* What the balance of a planting is set up with: its crop, its field's soil and system, its dates. A recorded
 * stage takes the place of the planting's own date for it, a later record that of an earlier one. A harvest
 * ends nothing (some crops are picked many times): the stage "end" does. STATUS_NOT_FOUND: the field or its
 * soil is not in the farm. */
enum status farm_planting_setup(const struct farm *farm, const struct farm_planting *planting,
                                struct season_setup *setup);
/* The same as it stood on a morning: stages recorded after the day `seen` are not known yet. */
enum status farm_planting_setup_seen(const struct farm *farm, const struct farm_planting *planting,
                                     int32_t seen, struct season_setup *setup);
/* The same without records, of a field and a soil at hand. */
void farm_setup_of(const struct farm_planting *planting, const struct farm_field *field,
                   const struct farm_soil *soil, struct season_setup *setup);

/* The first day from `from` on of which a field has a record; INT32_MAX: none. */
int32_t farm_next_record(const struct farm *farm, const char *field, int32_t from);

/* Puts the day's records of a field into `input`, which holds the weather already: irrigation
 * (gross, and net by the system's efficiency), the rain gauge in place of the station's rain (amounts of a
 * day add up), readings (of several the mean, weighed by their variances), cover, cutting. Returns which
 * kinds there were: 1u << kind for each. */
unsigned farm_records_apply(const struct farm *farm, const struct farm_field *field, int32_t date,
                            struct season_input *input);

#endif

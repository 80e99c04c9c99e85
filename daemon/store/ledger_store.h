/* What the mornings left: the ledger of each planting, the days ahead, the calls. All SQL is behind this. */
#ifndef WATERTURN_LEDGER_STORE_H
#define WATERTURN_LEDGER_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "core/balance/season.h"
#include "core/decide/call.h"
#include "core/weather/weather.h"
#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* How the weather of a day came to be: weather_origin of each. */
struct ledger_origins {
    uint8_t temperature, humidity, radiation, wind, rain;
};

/* One row of the ledger with how its weather came to be. */
struct ledger_row {
    struct season_day day;
    struct ledger_origins origin;
    uint8_t rule_humidity, rule_radiation, rule_wind; /* weather_rule */
    bool et0_from_hours; /* ET0 is the sum of 24 hours (eq. 53), else that of the day (eq. 6) */
};

#define MORNING_PAST  14
#define MORNING_AHEAD 10

/* What the outlook of a call said of the days ahead, today first; 0 days: there was none. */
struct call_outlook {
    int days;
    double chance[MORNING_AHEAD]; /* that by that evening it was dry, without a turn */
    double depletion_mm[MORNING_AHEAD][OUTLOOK_LINES];
    double rain_mm[MORNING_AHEAD]; /* the mean */
};

/* A turn of a field; hours 0: there is none. */
struct field_turn {
    int64_t id;
    int32_t date;
    int hour, hours, span; /* as of struct stored_turn */
    double net_mm;
    bool under_way;
    bool left_out; /* `hours` is 0, and its supply has a plan */
};

/* What is shown of a day past, of its row of the ledger. */
struct past_day {
    int32_t date;
    enum crop_stage stage;
    double rain_mm, irrigation_gross_mm, irrigation_net_mm;
    double root_m, allowed_mm, depletion_mm;
    struct ledger_origins origin;
};

/* What a morning left for one field: all that the Today page and `call` show. */
struct field_morning {
    long long field_id, planting_id; /* in the store; 0: none */
    char field[FARM_NAME_SIZE], supply[FARM_NAME_SIZE], crop_name[FARM_NAME_SIZE];
    char trial[FARM_NAME_SIZE], treatment[FARM_NAME_SIZE]; /* "" when in none */
    struct system system;
    int32_t planting_date; /* CALENDAR_NONE: nothing planted */
    struct call call;
    int32_t weather_until;   /* last day with observed weather that went in; CALENDAR_NONE: none */
    int32_t forecast_issued; /* day on which the forecast used was issued; CALENDAR_NONE: none used */
    int past_count; /* 0..MORNING_PAST days, oldest first, the last one is yesterday (or weather_until) */
    struct past_day past[MORNING_PAST];
    int ahead_count; /* 0..MORNING_AHEAD days, today first, no irrigation on any of them */
    struct season_day ahead[MORNING_AHEAD];
    struct call_outlook outlook;
    struct field_turn turn; /* the next one, or the one that is on; of turns_store_next() */
    struct field_turn over; /* the last one that ended without a word of it; likewise */
};

/* What a run computed for one planting, to be stored. */
struct ledger_write {
    long long planting_id;
    bool marked;                  /* it was marked to be computed anew, and no longer is */
    bool over;                    /* rows from `from` on may be there */
    int32_t from;                 /* rows from this day on are replaced */
    const struct ledger_row *row; /* rows from `from` on, in order */
    size_t row_count;
    const struct season_day *ahead;
    int ahead_count;
};

/* What a run writes: some plantings, or those of all fields for a morning, whose days ahead take the place of
 * all that are there. In parts, each a transaction, they do so with ledger_writer_morning(): until then
 * readers have the whole of the morning before. */
enum ledger_scope { LEDGER_SOME, LEDGER_ALL, LEDGER_ALL_IN_PARTS };

/* The statements of a run; within the caller's transaction (db_begin), or with LEDGER_ALL_IN_PARTS several of
 * them (db_begin_many). */
struct ledger_writer;
enum status ledger_writer_new(struct db *db, enum ledger_scope scope, struct ledger_writer **out,
                              struct problems *problems);
void ledger_writer_free(struct ledger_writer *writer);
/* The last day in the ledger of a planting; CALENDAR_NONE when it has none. */
enum status ledger_writer_last(struct ledger_writer *writer, long long planting_id, int32_t *day,
                               struct problems *problems);
enum status ledger_writer_planting(struct ledger_writer *writer, const struct ledger_write *write,
                                   struct problems *problems);
/* planting_id 0: the field has none. `outlook` NULL or of 0 days: there was none. */
enum status ledger_writer_call(struct ledger_writer *writer, long long field_id, long long planting_id,
                               const struct call *call, const struct call_outlook *outlook,
                               int32_t weather_until, int32_t forecast_issued, struct problems *problems);
/* Others wrote between two parts. Whether what was stored stands, but for fields of forms; else all is to be
 * done again. */
enum status ledger_writer_stands(struct ledger_writer *writer, bool *stands, struct problems *problems);
/* The fields that a form took back to the morning before, a malloc'd array; `count` is above `most` where
 * there are more. From then on what the run stored of a field goes when it is stored again. */
enum status ledger_writer_behind(struct ledger_writer *writer, int32_t today, size_t most,
                                 char (**field)[FARM_NAME_SIZE], size_t *count, struct problems *problems);
/* Notes the end of a morning's run; later mornings, their calls and ledger rows are dropped, since a run
 * knows nothing of days after its own. */
enum status ledger_writer_morning(struct ledger_writer *writer, int32_t today, int64_t at,
                                  struct problems *problems);

/* The newest morning that was run to its end; CALENDAR_NONE: none was. */
enum status ledger_store_newest(struct db *db, int32_t *day, int64_t *at, struct problems *problems);

/* The calls of the newest morning for every field, in the order of the farm file: without the days past and
 * ahead and the outlook, which ledger_store_fill() adds to one of them within the same db_read_begin(). Of
 * hundreds of fields few are looked at. A malloc'd array. */
enum status ledger_store_calls(struct db *db, struct field_morning **out, size_t *count,
                               struct problems *problems);
enum status ledger_store_fill(struct db *db, struct field_morning *morning, struct problems *problems);

/* What the newest morning left for every field, in the order of the farm file. A malloc'd array. */
enum status ledger_store_mornings(struct db *db, struct field_morning **out, size_t *count,
                                  struct problems *problems);

/* The newest morning's call for a field; its date is CALENDAR_NONE when there is none. */
enum status ledger_store_call(struct db *db, const char *field, struct call *out, struct problems *problems);

/* The ledger of the planting of a field that holds on `day` (the newest one that started by then). A malloc'd
 * array, `crop_name` and `planting_day` may be NULL. STATUS_NOT_FOUND: no such field, or nothing planted. */
enum status ledger_store_rows(struct db *db, const char *field, int32_t day, struct ledger_row **out,
                              size_t *count, struct problems *problems);

#endif

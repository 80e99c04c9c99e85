/* The commands as a table, and their options. Each command is one function in a file of its own. */
#ifndef WATERTURN_COMMAND_H
#define WATERTURN_COMMAND_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/base/problem.h"
#include "daemon/base/wall_clock.h"
#include "daemon/lifecycle/settings.h"
#include "daemon/morning/ingest.h"
#include "daemon/store/db.h"

struct option_spec {
    const char *name;  /* "--db"; NULL ends a list */
    const char *value; /* what its value is called, "FILE"; NULL: the option is a flag */
    const char *help;
};

#define OPTIONS_MAX   16
#define ARGUMENTS_MAX 4
#define GIVEN_MAX     80 /* options with a value, those that are given several times counted each time */

struct options {
    const struct option_spec *spec;
    const char *value[OPTIONS_MAX]; /* NULL: not given; a flag that is given has its own name */
    const char *argument[ARGUMENTS_MAX];
    int arguments;
    int given_count; /* in the order of the command line */
    struct {
        int option;
        const char *value;
    } given[GIVEN_MAX];
};

struct command {
    const char *name;
    const char *arguments; /* for the usage line: "FIELD"; "" none */
    int least, most;       /* how many arguments */
    const char *summary;   /* one line */
    const char *details;   /* more for --help; "" none */
    const struct option_spec *options;
    enum status (*run)(const struct options *options, struct problems *problems);
};

/* All of them, in the order of the usage text; ends with NULL. */
extern const struct command *const command_table[];

extern const struct command command_pair, command_people, command_backup, command_restore, command_doctor,
    command_tell;
extern const struct command command_serve, command_morning, command_call, command_ledger, command_workings,
    command_et0, command_replay, command_hindsight, command_import, command_export, command_check,
    command_sources, command_layout, command_trial, command_fit, command_sweep, command_turns, command_page;

/* Reads a command's arguments. STATUS_USAGE with the reason in `problems`. */
enum status options_read(const struct command *command, int count, char **arguments, struct options *options,
                         struct problems *problems);

/* The value of an option, or NULL. */
const char *option_value(const struct options *options, const char *name);

/* The values of an option that may be given several times, one by one from 0; NULL past the last. */
const char *option_values(const struct options *options, const char *name, int index);

/* A number within limits; `missing` when the option is not given (NaN: it must be). */
enum status option_number(const struct options *options, const char *name, double least, double most,
                          double missing, double *out, struct problems *problems);

/* "--today DATE", or now; and the farm's time zone set before. */
enum status option_today(const struct options *options, struct morning_time *out, struct problems *problems);

/* "--db FILE", $WATERTURN_DB, or a file in the user's data directory (its directory is made for DB_CREATE).
 */
enum status option_open_db(const struct options *options, enum db_mode mode, struct db **out,
                           struct problems *problems);

/* The path alone; `make`: its directory is made. */
enum status option_db_path(const struct options *options, bool make, struct text *out,
                           struct problems *problems);

/* "--config FILE" or $WATERTURN_CONFIG; NULL: neither. And the settings in it, or what holds without one. */
const char *option_config(const struct options *options);
enum status option_settings(const struct options *options, struct settings *out, struct problems *problems);

/* "--units us|metric"; `habit` when it is not given. */
enum status option_units(const struct options *options, bool habit, bool *us_units,
                         struct problems *problems);

/* "--credentials FILE" (or $WATERTURN_CREDENTIALS) and "--tries N"; `credentials` is freed with
 * credentials_free(). */
enum status option_ingest(const struct options *options, struct ingest_options *out,
                          struct credentials **credentials, struct problems *problems);

#define OPTION_CREDENTIALS                                                                                   \
    {                                                                                                        \
        "--credentials", "FILE",                                                                             \
            "logins and keys of weather services, readable by you alone; else $WATERTURN_CREDENTIALS"        \
    }
#define OPTION_TRIES                                                                                         \
    { "--tries", "N", "how often a source that does not answer is tried, 1 to 10; else 4" }
#define OPTION_DB                                                                                            \
    { "--db", "FILE", "the database; else $WATERTURN_DB, else waterturn.db in the user's data directory" }
#define OPTION_CONFIG                                                                                        \
    { "--config", "FILE", "the settings of the daemon; else $WATERTURN_CONFIG, else none" }
#define OPTION_TODAY                                                                                         \
    { "--today", "DATE", "the morning, as 2026-07-14; else today" }
#define OPTION_UNITS                                                                                         \
    { "--units", "us|metric", "inches or millimetres; else the farm's habit" }
#define OPTION_END                                                                                           \
    { NULL, NULL, NULL }

#endif

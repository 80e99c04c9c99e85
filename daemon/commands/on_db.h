/* What the commands that show something of the database have in common. */
#ifndef WATERTURN_ON_DB_H
#define WATERTURN_ON_DB_H

#include "daemon/commands/command.h"
#include "daemon/view/view.h"

/* Opens the database that the options name, puts the process into the farm's time zone, calls `work`, closes.
 */
enum status on_db(const struct options *options, enum db_mode mode,
                  enum status (*work)(const struct options *options, struct db *db,
                                      struct problems *problems),
                  struct problems *problems);

/* The day and units that the options ask for, and the farm's facts as of that day. */
enum status on_db_facts(const struct options *options, struct db *db, struct morning_time *morning,
                        struct farm_facts *facts, bool *us_units, struct problems *problems);

#endif

/* A replay for the page, from the database. */
#ifndef WATERTURN_REPLAY_DATA_H
#define WATERTURN_REPLAY_DATA_H

#include "daemon/replay/made.h"
#include "daemon/store/db.h"
#include "daemon/view/replay_page.h"

/* Puts the settings of the wish together and computes what it asks for, as of the newest morning. `replay` is
 * zeroed, and freed with replay_free() whatever is returned. What is wrong with the wish goes to `problems`.
 */
enum status replay_load(struct db *db, struct replay_wish *wish, struct replay *replay,
                        struct problems *problems);

/* How a download of the same wish is made, as the command line would say it: `waterturn replay --verify FILE
 * --db DATABASE` makes it again. NULL: no memory. */
cJSON *replay_made(const struct replay_wish *wish, const struct replay *replay, enum made_form form,
                   bool us_units, const char *language);

#endif

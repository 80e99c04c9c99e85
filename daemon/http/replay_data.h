/* A replay for the page, from the database. */
#ifndef WATERTURN_REPLAY_DATA_H
#define WATERTURN_REPLAY_DATA_H

#include "daemon/store/db.h"
#include "daemon/view/replay_page.h"

/* Computes what the visitor asked for, as of the newest morning. `replay` is zeroed, and freed with
 * replay_free() whatever is returned. What is wrong with the wish goes to `problems`. */
enum status replay_load(struct db *db, const struct replay_wish *wish, struct replay *replay,
                        struct problems *problems);

#endif

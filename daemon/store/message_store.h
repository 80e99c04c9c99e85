/* Messages on their way: each matter is told to a person at most once. */
#ifndef WATERTURN_MESSAGE_STORE_H
#define WATERTURN_MESSAGE_STORE_H

#include <stdint.h>

#include "core/decide/call.h"
#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* Kept in the database: the numbers stay. */
enum message_state {
    MESSAGE_WAITING,
    MESSAGE_SENDING, /* left behind by a program that was ended: it may have gone out, and is not sent again
                      */
    MESSAGE_SENT,
    MESSAGE_DROPPED, /* refused for good, or of no use any more */
    MESSAGE_UNSURE   /* it went out, and no answer came: it is not sent again */
};

#define MESSAGE_MATTER_SIZE (2 * FARM_NAME_SIZE + 32)

struct message {
    char person[FARM_NAME_SIZE];
    char matter[MESSAGE_MATTER_SIZE]; /* "digest 2026-07-14" */
    int64_t made_at, due_at, stale_at;
    int tries;
    char *subject, *body, *data; /* message_free() frees them */
};
void message_free(struct message *message);

/* Puts a message into the queue. *added: false when this matter was put there before, whatever came of it. */
enum status message_store_add(struct db *db, const struct message *message, bool *added,
                              struct problems *problems);

/* The one that is due first, if any is due at `at`; what is stale by then is dropped before.
 * STATUS_NOT_FOUND: none. */
enum status message_store_next(struct db *db, int64_t at, struct message *out, struct problems *problems);

/* Notes that it is being sent, before that is tried; and what came of it. */
enum status message_store_begin(struct db *db, const struct message *message, struct problems *problems);
enum status message_store_end(struct db *db, const struct message *message, enum message_state state,
                              int64_t due_at, const char *trouble, struct problems *problems);

/* Those that a program left while sending become MESSAGE_UNSURE; what is older than 60 days goes. */
enum status message_store_tidy(struct db *db, int64_t at, struct problems *problems);

/* When the next one is due; 0: none waits. */
enum status message_store_due(struct db *db, int64_t *due_at, struct problems *problems);

/* The call of a field that a person was told last. STATUS_NOT_FOUND: none. */
enum status message_store_told(struct db *db, const char *person, const char *field, int32_t *day,
                               enum call_kind *kind, struct problems *problems);
enum status message_store_tell(struct db *db, const char *person, const char *field, int32_t day,
                               enum call_kind kind, struct problems *problems);

#endif

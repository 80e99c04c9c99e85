/* What the commands that replay seasons begin and end with. */
#ifndef WATERTURN_OPEN_REPLAY_H
#define WATERTURN_OPEN_REPLAY_H

#include "daemon/commands/command.h"
#include "daemon/replay/made.h"
#include "daemon/replay/replay.h"

/* Opens the farm file that is the command's argument, or the database; `replay` is zeroed, and freed with
 * replay_free() whatever is returned. */
enum status open_replay(const struct options *options, struct replay *replay, struct problems *problems);

/* Adds what --what-if, --scenarios and --money say. */
enum status open_replay_scenarios(const struct options *options, struct replay *replay,
                                  struct problems *problems);

/* How the output is made. Of a database the morning is put down too, so that later ones change nothing. NULL:
 * no memory. */
cJSON *open_replay_made(const struct options *options, const struct replay *replay, const char *command);

/* A few lines on it for a terminal. */
void open_replay_tell(const cJSON *made, struct text *out);

/* The options that made an output, out of its note, which must outlive them. */
struct open_replay_words {
    char *word[2 * GIVEN_MAX + ARGUMENTS_MAX];
};
enum status open_replay_again(const struct command *command, const cJSON *made,
                              struct open_replay_words *words, struct options *options,
                              struct problems *problems);

#endif

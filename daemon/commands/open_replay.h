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

/* Both, for a command that works on one planting: the newest of --field. At most one --what-if is taken;
 * `use` says in the refusal what it is for. */
enum status open_replay_planting(const struct options *options, struct replay *replay, size_t *planting,
                                 const char *use, struct problems *problems);

/* How the output is made. Of a database the morning is put down too, so that later ones change nothing. NULL:
 * no memory. */
cJSON *open_replay_made(const struct options *options, const struct replay *replay, const char *command);

/* A few lines on it for a terminal. */
void open_replay_tell(const cJSON *made, struct text *out);

struct open_replay_output {
    struct text text;
    cJSON *made;
    bool partial; /* it was stopped before its end; what is there is written all the same */
};

/* Makes an output; the format is that of the end of `path`, NULL: for a terminal. */
typedef enum status open_replay_make(const struct options *options, const char *path,
                                     struct open_replay_output *output, struct problems *problems);

/* --out FILE, --verify FILE, or standard output. */
enum status open_replay_run(const struct options *options, const struct command *command,
                            open_replay_make *make, struct problems *problems);

#endif

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

struct open_replay_output {
    enum made_form form;
    const cJSON *then; /* the note of an output that is made again; NULL: a new one */
    struct text text;
    cJSON *made;
    bool partial; /* it was stopped before its end; what is there is written all the same */
};

/* Makes the note on how the output is made. Of a database the morning is put down too, so that later ones
 * change nothing. STATUS_NO_MEMORY. */
enum status open_replay_made(const struct options *options, const struct replay *replay, const char *command,
                             struct open_replay_output *output);

/* Makes an output in output->form. */
typedef enum status open_replay_make(const struct options *options, struct open_replay_output *output,
                                     struct problems *problems);

/* What a command writes: to standard output, and to files, by the ends of their names. Without any of these a
 * file has the form of standard output, whatever it is called. */
struct open_replay_forms {
    enum made_form shown;
    bool json, csv, svg;
};

/* --out FILE, --verify FILE, or standard output; `--csv` there stands for CSV. */
enum status open_replay_run(const struct options *options, const struct command *command,
                            const struct open_replay_forms *forms, open_replay_make *make,
                            struct problems *problems);

#endif

/* A trial: its yields judged by its layout, what the balance says beside them. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/commands/open_replay.h"
#include "daemon/replay/trial.h"
#include "daemon/view/print_json.h"
#include "daemon/view/trial.h"

static const struct farm_trial *find_trial(const struct farm *farm, const char *name,
                                           struct problems *problems) {
    if (name == NULL && farm->trial_count == 1)
        return &farm->trial[0];
    for (size_t i = 0; name != NULL && i < farm->trial_count; i++) {
        if (strcmp(farm->trial[i].name, name) == 0)
            return &farm->trial[i];
    }
    if (farm->trial_count == 0)
        problem_add(problems, NULL, 0, 0, NULL, "the farm has no trial");
    else if (name == NULL)
        problem_add(problems, NULL, 0, 0, NULL, "the farm has %zu trials, expected --trial NAME, as \"%s\"",
                    farm->trial_count, farm->trial[0].name);
    else
        problem_add(problems, NULL, 0, 0, NULL, "--trial: found %s, expected a trial of the farm, as \"%s\"",
                    name, farm->trial[0].name);
    return NULL;
}

static enum status write_text(const struct trial *trial, const cJSON *made, bool us_units, struct text *out) {
    view_trial_text(trial, us_units, out);
    text_puts(out, "\n");
    made_add(made, out);
    return STATUS_OK;
}

static enum status write_picture(const struct replay *replay, const struct trial *trial, const cJSON *made,
                                 bool us_units, struct text *out) {
    struct words *words = words_open("en");
    enum status status =
        words != NULL ? view_trial_svg(replay, trial, made, us_units, words, out) : STATUS_NO_MEMORY;
    words_close(words);
    return status;
}

static enum status show(const struct options *options, const struct replay *replay, const struct trial *trial,
                        struct open_replay_output *output, struct problems *problems) {
    bool us_units = false;
    struct text *out = &output->text;
    enum status status = option_units(options, replay->farm.us_units, &us_units, problems);
    if (status == STATUS_OK)
        status = open_replay_made(options, replay, "trial", output);
    if (status != STATUS_OK)
        return status;
    switch (output->form) {
    case MADE_CSV:
        view_trial_csv(trial, output->made, out);
        return STATUS_OK;
    case MADE_JSON:
        return print_json_document(view_trial_json(trial, output->made), out);
    case MADE_SVG:
        return write_picture(replay, trial, output->made, us_units, out);
    default:
        return write_text(trial, output->made, us_units, out);
    }
}

static enum status compute(const struct options *options, struct open_replay_output *output,
                           struct problems *problems) {
    struct replay replay = {0};
    struct trial *trial = calloc(1, sizeof *trial);
    const struct farm_trial *of = NULL;
    double confidence = 0.95;
    enum status status = trial != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = option_number(options, "--confidence", 0.5, 0.9999, 0.95, &confidence, problems);
    if (status == STATUS_OK)
        status = open_replay(options, &replay, problems);
    if (status == STATUS_OK) {
        of = find_trial(&replay.farm, option_value(options, "--trial"), problems);
        status = of != NULL ? STATUS_OK : STATUS_NOT_FOUND;
    }
    if (status == STATUS_OK)
        status = trial_run(&replay, of, confidence, trial, problems);
    if (status == STATUS_OK)
        status = show(options, &replay, trial, output, problems);
    replay_free(&replay);
    free(trial);
    return status;
}

static enum status run_trial(const struct options *options, struct problems *problems) {
    static const struct open_replay_forms forms = {MADE_TEXT, true, true, true};
    return open_replay_run(options, &command_trial, &forms, compute, problems);
}

static const struct option_spec trial_options[] = {
    OPTION_DB,
    {"--trial", "NAME", "which one; else the only one"},
    {"--today", "DATE", "the morning it is seen from; else as far as the observed weather goes"},
    {"--confidence", "P", "of the intervals, 0.5 to 0.9999; else 0.95"},
    OPTION_UNITS,
    {"--out", "FILE", "write to a .json, .csv (yields by plot) or .svg file"},
    {"--verify", "FILE", "make an output again, and say whether every byte is the same"},
    OPTION_END};

const struct command command_trial = {"trial",
                                      "[FARMFILE]",
                                      0,
                                      1,
                                      "compare a trial's treatments: yields, and the balance beside them",
                                      "Of a farm file, or without one of the database. Yields are the "
                                      "harvest records that name a plot of the trial;\n"
                                      "grades are judged one by one and together. The analysis of variance "
                                      "is that of the trial's layout: completely\n"
                                      "randomised, randomised blocks, or split plot.",
                                      trial_options,
                                      run_trial};

/* A season's soil and crop fitted to what was measured. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/open_replay.h"
#include "daemon/morning/ingest_plan.h"
#include "daemon/replay/fit_season.h"
#include "daemon/view/fit.h"
#include "daemon/view/print_json.h"

#define PARAMETERS_USUAL "field_capacity, wilting_point, root_depth, start_depletion"

struct wish {
    enum parameter parameter[FIT_PARAMETERS_MAX];
    int parameters;
    bool priors;
};

static enum status add_parameter(const char *name, struct wish *wish, struct problems *problems) {
    enum parameter parameter = parameter_named(name);
    bool again = false;
    for (int i = 0; i < wish->parameters; i++)
        again = again || wish->parameter[i] == parameter;
    if (parameter == PARAMETER_COUNT || again || wish->parameters == FIT_PARAMETERS_MAX) {
        problem_add(problems, NULL, 0, 0, NULL,
                    "--parameters: found %s%s, expected each once of field_capacity, wilting_point, "
                    "root_depth, kcb_mid, p, "
                    "start_depletion, curve_number",
                    name[0] != '\0' ? name : "nothing", again ? " again" : "");
        return STATUS_USAGE;
    }
    wish->parameter[wish->parameters++] = parameter;
    return STATUS_OK;
}

static enum status read_wish(const struct options *options, struct wish *wish, struct problems *problems) {
    const char *words = option_value(options, "--parameters");
    enum status status = STATUS_OK;
    memset(wish, 0, sizeof *wish);
    wish->priors = option_value(options, "--no-priors") == NULL;
    if (words == NULL)
        words = PARAMETERS_USUAL;
    while (status == STATUS_OK && *words != '\0') {
        char name[FARM_NAME_SIZE];
        words += strspn(words, " ");
        size_t size = strcspn(words, ", ");
        (void)snprintf(name, sizeof name, "%.*s", (int)(size < sizeof name ? size : sizeof name - 1), words);
        status = add_parameter(name, wish, problems);
        words += size;
        words += strspn(words, ", ");
    }
    return status;
}

/* ---- the season, without its readings ---- */

static enum status make_case(struct replay *replay, size_t planting, struct season_case *season,
                             struct problems *problems) {
    struct scenario *scenario = &replay->scenario[replay->scenario_count - 1];
    const struct farm_planting *grown = &scenario->farm.planting[planting];
    const struct farm_field *field = farm_field_named(&scenario->farm, grown->field);
    struct station_days *days = calloc(replay->weather.count + 1, sizeof *days);
    scenario->use_readings = false;
    enum status status =
        days == NULL ? STATUS_NO_MEMORY
                     : replay_weather_build(&replay->weather, &scenario->farm,
                                            grown->start_date - WEATHER_BEFORE_D, replay->until, days);
    if (status == STATUS_OK)
        status =
            season_case_make(scenario, planting, &days[replay_station_index(&scenario->farm, field->station)],
                             replay->until, false, season, problems);
    for (size_t i = 0; days != NULL && i < replay->weather.count; i++)
        station_days_free(&days[i]);
    free(days);
    return status;
}

static enum status read_probe(const struct options *options, const struct season_case *season,
                              struct season_fit *fit, struct problems *problems) {
    const char *layout = option_value(options, "--probe-layout");
    struct season_day *day = calloc((size_t)season->count + 1, sizeof *day);
    struct probe probe = {0};
    struct budget budget;
    int days = 0;
    enum status status = day != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = season_case_run(season, "fit", day, &days, &budget, NULL, problems);
    if (status == STATUS_OK)
        status =
            probe_read(layout != NULL ? layout : "plain", option_value(options, "--probe"), &probe, problems);
    if (status == STATUS_OK)
        status = fit_readings_of_probe(&probe, day, days, &fit->reading, &fit->readings);
    probe_free(&probe);
    free(day);
    return status;
}

/* ---- the output ---- */

static enum status write_as(const struct season_case *season, const struct season_fit *fit,
                            struct open_replay_output *output) {
    const char *soil = season->field->soil;
    if (output->form == MADE_JSON)
        return print_json_document(view_fit_json(season, fit, soil, output->made), &output->text);
    if (output->form == MADE_CSV) {
        view_fit_csv(fit, output->made, &output->text);
        return STATUS_OK;
    }
    view_fit_text(season, fit, soil, &output->text);
    text_puts(&output->text, "\n");
    made_add(output->made, &output->text);
    return STATUS_OK;
}

static enum status fit_season(const struct options *options, const struct replay *replay,
                              const struct season_case *season, const struct wish *wish,
                              struct open_replay_output *output, struct problems *problems) {
    struct season_fit fit = {0};
    enum status status =
        season_fit_begin(season, wish->parameter, wish->parameters, wish->priors, &fit, problems);
    if (status == STATUS_OK)
        status = option_value(options, "--probe") != NULL
                     ? read_probe(options, season, &fit, problems)
                     : fit_readings_of_records(&replay->farm, season, &fit.reading, &fit.readings);
    if (status == STATUS_OK)
        status = season_fit_run(season, &fit, problems);
    if (status == STATUS_OK)
        status = open_replay_made(options, replay, "fit", output);
    if (status == STATUS_OK)
        status = write_as(season, &fit, output);
    season_fit_free(&fit);
    return status;
}

static enum status compute(const struct options *options, struct open_replay_output *output,
                           struct problems *problems) {
    struct replay replay = {0};
    struct season_case season = {0};
    struct wish wish;
    size_t planting = 0;
    enum status status = read_wish(options, &wish, problems);
    if (status == STATUS_OK)
        status = open_replay_planting(options, &replay, &planting, "of which the fit starts", problems);
    if (status == STATUS_OK)
        status = make_case(&replay, planting, &season, problems);
    if (status == STATUS_OK)
        status = fit_season(options, &replay, &season, &wish, output, problems);
    season_case_free(&season);
    replay_free(&replay);
    return status;
}

static enum status run_fit(const struct options *options, struct problems *problems) {
    static const struct open_replay_forms forms = {MADE_TEXT, true, true, false};
    return open_replay_run(options, &command_fit, &forms, compute, problems);
}

static const struct option_spec fit_options[] = {
    OPTION_DB,
    {"--field", "NAME", "the field; its newest planting is taken"},
    {"--today", "DATE", "use what was known before this day"},
    {"--parameters", "LIST",
     "of field_capacity, wilting_point, root_depth, kcb_mid, p, start_depletion, curve_number; else "
     "\"" PARAMETERS_USUAL "\""},
    {"--no-priors", NULL, "the readings alone: what the farm file says counts for nothing"},
    {"--probe", "FILE", "readings from a probe's file, in place of the records"},
    {"--probe-layout", "NAME", "how it is to be read; else plain: a header line, then date,water_content"},
    {"--what-if", "SETTINGS", "begin from these settings, as for `waterturn replay`"},
    {"--out", "FILE", "write to a .json or .csv (the readings) file"},
    {"--verify", "FILE", "make an output again, and say whether every byte is the same"},
    OPTION_END};

const struct command command_fit = {
    "fit",
    "[FARMFILE]",
    0,
    1,
    "fit soil and crop to readings of soil water",
    "Of a farm file, or without one of the database. What is found is proposed; nothing is changed. Readings "
    "are the mean\n"
    "water content of the root zone. The present values are where the fit begins, and its priors.",
    fit_options,
    run_fit};

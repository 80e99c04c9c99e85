/* Seasons replayed, side by side with what might have been. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/command.h"
#include "daemon/commands/open_replay.h"
#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/planting_run.h"
#include "daemon/view/print_json.h"
#include "daemon/view/replay.h"
#include "daemon/view/view.h"

/* ---- the ledger itself ---- */

static enum status ledger_csv(const struct replay *replay, const char *field, struct text *out,
                              struct problems *problems) {
    struct station_days *days = calloc(replay->weather.count + 1, sizeof *days);
    struct planting_run run = {0};
    int32_t first = replay->until;
    size_t shown = 0;
    for (size_t i = 0; i < replay->farm.planting_count; i++)
        first = replay->farm.planting[i].start_date < first ? replay->farm.planting[i].start_date : first;
    enum status status = days == NULL ? STATUS_NO_MEMORY
                                      : replay_weather_build(&replay->weather, &replay->farm,
                                                             first - WEATHER_BEFORE_D, replay->until, days);
    for (size_t i = 0; status == STATUS_OK && i < replay->farm.planting_count; i++) {
        const struct farm_planting *planting = &replay->farm.planting[i];
        const struct farm_field *on = farm_field_named(&replay->farm, planting->field);
        if ((field != NULL && strcmp(field, planting->field) != 0) || planting->start_date >= replay->until)
            continue;
        status =
            planting_run(&replay->farm, planting, &days[replay_station_index(&replay->farm, on->station)],
                         replay->until, planting_until(&replay->farm, i), &run, problems);
        if (status != STATUS_OK || run.row_count == 0)
            continue;
        struct text csv;
        text_init(&csv, 0);
        view_ledger_csv(planting->field, run.row, run.row_count, &csv);
        const char *text = text_string(&csv);
        text_puts(out, shown++ == 0 ? text : strchr(text, '\n') + 1); /* one header for all */
        text_free(&csv);
    }
    for (size_t i = 0; days != NULL && i < replay->weather.count; i++)
        station_days_free(&days[i]);
    free(days);
    planting_run_free(&run);
    if (status == STATUS_OK && shown == 0) {
        problem_add(problems, NULL, 0, 0, NULL, "found nothing planted%s%s",
                    field != NULL ? " on the field " : "", field != NULL ? field : "");
        return STATUS_NOT_FOUND;
    }
    return status;
}

/* ---- an output ---- */

static enum status option_by(const struct options *options, enum replay_by *by, struct problems *problems) {
    const char *word = option_value(options, "--by");
    *by = REPLAY_BY_SEASON;
    for (int i = 0; word != NULL && i < REPLAY_BY_COUNT; i++) {
        if (strcmp(word, replay_by_name((enum replay_by)i)) == 0) {
            *by = (enum replay_by)i;
            return STATUS_OK;
        }
    }
    if (word == NULL)
        return STATUS_OK;
    problem_add(problems, NULL, 0, 0, NULL, "--by: found %s, expected season, stage, day or harvest", word);
    return STATUS_USAGE;
}

static enum status write_text(const struct replay *replay, const cJSON *made, enum replay_by by,
                              bool us_units, struct text *out) {
    view_replay_text(replay, by, us_units, out);
    made_add(made, out);
    return STATUS_OK;
}

/* Whether the days of --csv are of one scenario, and so the ledger itself. */
static bool is_ledger(const struct options *options, const struct replay *replay) {
    return option_value(options, "--csv") != NULL && replay->scenario_count == 1;
}

static enum status write_csv(const struct options *options, struct replay *replay, const cJSON *made,
                             enum replay_by by, struct text *out, struct problems *problems) {
    if (is_ledger(options, replay)) {
        made_add(made, out);
        return ledger_csv(replay, option_value(options, "--field"), out, problems);
    }
    view_replay_csv(replay, made, option_value(options, "--csv") != NULL ? REPLAY_BY_DAY : by, out);
    return STATUS_OK;
}

/* In English, unless it was asked otherwise: the same arguments give the same bytes anywhere. */
static enum status write_picture(const struct options *options, const struct replay *replay,
                                 const cJSON *made, bool us_units, struct text *out) {
    const char *language = option_value(options, "--language");
    struct words *words = words_open(words_choose(language != NULL ? language : "en"));
    enum status status =
        words != NULL ? view_replay_svg(replay, option_value(options, "--field"), made, us_units, words, out)
                      : STATUS_NO_MEMORY;
    words_close(words);
    return status;
}

static enum status write_as(const struct options *options, struct replay *replay,
                            struct open_replay_output *output, struct problems *problems) {
    bool us_units = false;
    enum replay_by by;
    const cJSON *made = output->made;
    struct text *out = &output->text;
    enum status status = option_by(options, &by, problems);
    if (status == STATUS_OK)
        status = option_units(options, replay->farm.us_units, &us_units, problems);
    if (status != STATUS_OK)
        return status;
    switch (output->form) {
    case MADE_CSV:
        status = write_csv(options, replay, made, by, out, problems);
        break;
    case MADE_JSON:
        status = print_json_document(view_replay_json(replay, made, by == REPLAY_BY_DAY), out);
        break;
    case MADE_SVG:
        status = write_picture(options, replay, made, us_units, out);
        break;
    default:
        status = write_text(replay, made, by, us_units, out);
    }
    return status == STATUS_OK && text_failed(out) ? STATUS_NO_MEMORY : status;
}

/* ---- the run ---- */

static enum status compute(const struct options *options, struct open_replay_output *output,
                           struct problems *problems) {
    struct replay replay = {0};
    enum status status = open_replay(options, &replay, problems);
    if (status == STATUS_OK)
        status = open_replay_scenarios(options, &replay, problems);
    if (status == STATUS_OK && !is_ledger(options, &replay))
        status = replay_run(&replay, option_value(options, "--field"), problems);
    if (status == STATUS_OK)
        status = open_replay_made(options, &replay, "replay", output);
    if (status == STATUS_OK)
        status = write_as(options, &replay, output, problems);
    replay_free(&replay);
    return status;
}

static enum status run_replay(const struct options *options, struct problems *problems) {
    static const struct open_replay_forms forms = {MADE_TEXT, true, true, true};
    return open_replay_run(options, &command_replay, &forms, compute, problems);
}

static const struct option_spec replay_options[] = {
    OPTION_DB,
    {"--field", "NAME", "only this field"},
    {"--today", "DATE", "stop before this day; else as far as the observed weather goes"},
    {"--what-if", "SETTINGS",
     "a scenario beside what was, as \"irrigation = none\"; may be given several times"},
    {"--scenarios", "FILE",
     "more of them: {\"scenarios\": [{\"name\": ..., \"set\": {...}}], \"money\": {...}}"},
    {"--money", "SETTINGS",
     "for a hectare and a m3, as \"max_yield = 40; yield_unit = t; price = 250; water_cost = 0.1; currency = "
     "EUR\", "
     "or another unit, as \"max_yield = 200 /ac; water_cost = 12 /ac-in\""},
    {"--by", "TERM", "season, stage, day or harvest (dates of an earlier harvest); else season"},
    OPTION_UNITS,
    {"--language", "CODE", "words of a .svg file: en or es; else en"},
    {"--csv", NULL, "for programs: the ledger of every planting, day by day, in millimetres"},
    {"--out", "FILE", "write to a .json, .csv or .svg file"},
    {"--verify", "FILE",
     "make an output again, also one of the Replay page (with --db): is every byte the same?"},
    OPTION_END};

const struct command command_replay = {
    "replay",
    "[FARMFILE]",
    0,
    1,
    "compute whole seasons, and what might have been",
    "Of a farm file and the sources that it names (file: paths start where the farm file is), or without one "
    "of the\n"
    "database. The ledger is the one that the daemon would have kept, to the last bit.\n\n"
    "A scenario is settings parted by semicolons:\n"
    "  planting:FIELD.KEY, field:NAME.KEY, soil:NAME.KEY, station:NAME.KEY, supply:NAME.KEY  as in the farm "
    "file\n"
    "  irrigation = recorded | none | automatic    automatic: on each morning the allowed depletion is "
    "passed\n"
    "  irrigation.share, .trigger, .refill, .limit, .stop, .days, .every, .depth, .from, .to; "
    "irrigation:FIELD...\n"
    "  supply:NAME.flow, .hours_per_day, .allotment    bound what \"automatic\" gives, as if the field had "
    "its "
    "supply to\n"
    "itself; sharing one among fields is what the turns are for. Recorded water and given days stay as they "
    "are.\n"
    "  weather.years = -1    the weather of another year        readings, stages = use | leave\n"
    "as: --what-if \"planting:Trial plot B.allowed_depletion = 60 %; irrigation = automatic; irrigation.stop "
    "= late\"",
    replay_options,
    run_replay};

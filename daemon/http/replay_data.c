#include "daemon/http/replay_data.h"

#include <stdio.h>
#include <string.h>

#include "daemon/replay/farm_change.h"
#include "daemon/store/ledger_store.h"

#define SCENARIOS_ASKED_MAX (REPLAY_WHAT_MAX + 2)

/* The scenarios asked for, as a command line names them; returns how many. */
static size_t scenarios_of(const struct replay_wish *wish, const char *words[SCENARIOS_ASKED_MAX]) {
    size_t count = 0;
    if (wish->rainfed)
        words[count++] = "irrigation = none";
    if (wish->automatic)
        words[count++] = "irrigation = automatic";
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        if (wish->what[i][0] != '\0')
            words[count++] = wish->what[i];
    }
    return count;
}

/* The planting that holds last: of several on a field, with its date. */
static void name_planting(const struct farm *farm, const char *field, struct text *out) {
    char iso[CALENDAR_ISO_SIZE];
    size_t found = 0;
    int32_t newest = CALENDAR_NONE;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *planting = &farm->planting[i];
        if (strcmp(planting->field, field) != 0)
            continue;
        newest = found == 0 || planting->planting_date > newest ? planting->planting_date : newest;
        found++;
    }
    text_puts(out, field);
    if (found > 1)
        text_printf(out, "@%s", calendar_format_iso(newest, iso));
}

/* The settings of one of the things that may have been otherwise. */
static enum status compose(const struct farm *farm, struct replay_wish *wish, int i,
                           struct problems *problems) {
    const struct replay_set *set = wish->set[i];
    const struct farm_field *field = farm_field_named(farm, wish->field);
    char place_of[16];
    struct text planting, out;
    if (wish->value[i][0] == '\0' || field == NULL)
        return STATUS_OK;
    (void)snprintf(place_of, sizeof place_of, "what%d", i + 1);
    const struct problem_place place = {NULL, 0, 0, place_of, NULL};
    const char *settings = set->settings != NULL ? set->settings : "{value}";
    if (strstr(settings, "{supply}") != NULL && field->supply[0] == '\0') {
        problem_tell_at(problems, &place, "turn_no_supply",
                        "found {found}, which draws from no supply, expected a field that shares one",
                        "found", wish->field, PROBLEM_END);
        return STATUS_REFUSED;
    }
    text_init(&planting, 0);
    text_init(&out, 0);
    name_planting(farm, wish->field, &planting);
    const struct words_hole holes[] = {{"planting", text_string(&planting)},
                                       {"soil", field->soil},
                                       {"supply", field->supply},
                                       {"value", wish->value[i]}};
    text_fill(&out, settings, holes, sizeof holes / sizeof *holes);
    bool fits = out.size < sizeof wish->what[i];
    if (fits)
        memcpy(wish->what[i], text_string(&out), out.size + 1);
    else
        problem_tell_at(problems, &place, "setting_long",
                        "found settings that are too long, expected shorter ones: {found}", "found",
                        text_string(&out), PROBLEM_END);
    text_free(&planting);
    text_free(&out);
    return fits ? STATUS_OK : STATUS_REFUSED;
}

static enum status add_scenario(struct replay *replay, const char *words, struct problems *problems) {
    cJSON *changes = NULL;
    enum status status = change_of_words(words, &changes, problems);
    return status == STATUS_OK ? replay_add(replay, words, changes, problems) : status;
}

static enum status add_money(struct replay *replay, const char *words, struct problems *problems) {
    cJSON *settings = NULL;
    enum status status = change_of_words(words, &settings, problems);
    if (status == STATUS_OK)
        status = money_read("", settings, &replay->money, problems);
    cJSON_Delete(settings);
    return status;
}

enum status replay_load(struct db *db, struct replay_wish *wish, struct replay *replay,
                        struct problems *problems) {
    int32_t today;
    int64_t at;
    enum status status = ledger_store_newest(db, &today, &at, problems);
    if (status == STATUS_OK && today == CALENDAR_NONE)
        status = STATUS_NOT_FOUND;
    if (status == STATUS_OK)
        status = replay_open_db(replay, db, wish->field, today, problems);
    for (int i = 0; status == STATUS_OK && i < REPLAY_WHAT_MAX; i++)
        status = compose(&replay->farm, wish, i, problems);
    const char *words[SCENARIOS_ASKED_MAX];
    size_t count = scenarios_of(wish, words);
    for (size_t i = 0; status == STATUS_OK && i < count; i++)
        status = add_scenario(replay, words[i], problems);
    if (status == STATUS_OK)
        status = add_money(replay, wish->money, problems);
    return status == STATUS_OK ? replay_run(replay, wish->field, problems) : status;
}

/* Each option with its value: --field, --money, --by, --units, --language, --today, and the scenarios. */
#define WISH_WORDS_MAX (2 * (SCENARIOS_ASKED_MAX + 6))

cJSON *replay_made(const struct replay_wish *wish, const struct replay *replay, enum made_form form,
                   bool us_units, const char *language) {
    const char *argument[WISH_WORDS_MAX], *words[SCENARIOS_ASKED_MAX];
    char today[CALENDAR_ISO_SIZE];
    size_t count = 0, scenarios = scenarios_of(wish, words);
    const struct {
        const char *name, *value;
    } option[] = {{"--field", wish->field},
                  {"--money", wish->money},
                  {"--by", form == MADE_CSV ? "day" : ""},
                  {"--units", form != MADE_SVG ? ""
                              : us_units       ? "us"
                                               : "metric"},
                  {"--language", form == MADE_SVG && strcmp(language, "en") != 0 ? language : ""},
                  {"--today", calendar_format_iso(replay->until, today)}};
    for (size_t i = 0; i < scenarios; i++) {
        argument[count++] = "--what-if";
        argument[count++] = words[i];
    }
    for (size_t i = 0; i < sizeof option / sizeof option[0]; i++) {
        if (option[i].value[0] == '\0')
            continue;
        argument[count++] = option[i].name;
        argument[count++] = option[i].value;
    }
    return made_new(replay, "replay", form, argument, count, NULL, 0);
}

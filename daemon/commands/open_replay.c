#include "daemon/commands/open_replay.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/replay/farm_change.h"
#include "daemon/source/download.h"
#include "daemon/store/ledger_store.h"

#define INPUTS_MAX 400

static enum status open_db(const struct options *options, struct replay *replay, int32_t today,
                           struct problems *problems) {
    struct db *db = NULL;
    int64_t at;
    enum status status = option_open_db(options, DB_READ, &db, problems);
    if (status == STATUS_OK && today == CALENDAR_NONE)
        status = ledger_store_newest(db, &today, &at, problems);
    if (status == STATUS_OK && today == CALENDAR_NONE) {
        problem_add(problems, NULL, 0, 0, NULL, "no morning was run yet; `waterturn morning` runs one");
        status = STATUS_NOT_FOUND;
    }
    if (status == STATUS_OK)
        status = replay_open_db(replay, db, today, problems);
    db_close(db);
    return status;
}

enum status open_replay(const struct options *options, struct replay *replay, struct problems *problems) {
    struct morning_time morning = {.today = CALENDAR_NONE};
    enum status status = STATUS_OK;
    if (option_value(options, "--today") != NULL)
        status = option_today(options, &morning, problems);
    if (status == STATUS_OK && options->arguments > 0 && option_value(options, "--db") != NULL) {
        problem_add(problems, NULL, 0, 0, NULL, "found a farm file and --db, expected one of them");
        status = STATUS_USAGE;
    }
    if (status != STATUS_OK)
        return status;
    if (options->arguments == 0)
        return open_db(options, replay, morning.today, problems);
    status = download_start();
    if (status == STATUS_OK) {
        status = replay_open_file(replay, options->argument[0], morning.today, problems);
        download_stop();
    }
    return status;
}

static enum status add_money(const char *words, struct replay *replay, struct problems *problems) {
    cJSON *settings = NULL;
    enum status status = change_of_words(words, &settings, problems);
    if (status == STATUS_OK)
        status = money_read("--money", settings, &replay->money, problems);
    cJSON_Delete(settings);
    return status;
}

enum status open_replay_scenarios(const struct options *options, struct replay *replay,
                                  struct problems *problems) {
    enum status status = STATUS_OK;
    const char *words = option_value(options, "--scenarios");
    if (words != NULL)
        status = replay_add_file(replay, words, problems);
    for (int i = 0; status == STATUS_OK; i++) {
        cJSON *changes = NULL;
        words = option_values(options, "--what-if", i);
        if (words == NULL)
            break;
        status = change_of_words(words, &changes, problems);
        if (status == STATUS_OK)
            status = replay_add(replay, words, changes, problems);
    }
    words = option_value(options, "--money");
    if (status == STATUS_OK && words != NULL)
        status = add_money(words, replay, problems);
    return status;
}

/* ---- how it was made ---- */

/* Where an output goes is not how it is made. */
static bool is_way(const char *option) {
    return strcmp(option, "--out") == 0 || strcmp(option, "--verify") == 0 ||
           strcmp(option, "--threads") == 0;
}

static size_t collect_arguments(const struct options *options, const struct replay *replay, char today[],
                                const char **argument) {
    size_t count = 0;
    for (int i = 0; i < options->given_count; i++) {
        const struct option_spec *spec = &options->spec[options->given[i].option];
        if (is_way(spec->name))
            continue;
        argument[count++] = spec->name;
        if (spec->value != NULL)
            argument[count++] = options->given[i].value;
    }
    if (options->arguments == 0 && option_value(options, "--today") == NULL) {
        argument[count++] = "--today";
        argument[count++] = calendar_format_iso(replay->until, today);
    }
    if (options->arguments > 0) {
        argument[count++] = "--";
        argument[count++] = options->argument[0];
    }
    return count;
}

static void add_file(const char *what, const char *path, char sha256[WEATHER_HASH_SIZE],
                     struct made_input *input, size_t *count) {
    char *bytes = NULL;
    size_t size = 0;
    struct problems ignored;
    problems_init(&ignored);
    if (path != NULL && file_read(path, (size_t)64 << 20, &bytes, &size, &ignored) == STATUS_OK) {
        replay_hash(bytes, size, sha256);
        input[(*count)++] = (struct made_input){what, path, sha256};
    }
    problems_free(&ignored);
    free(bytes);
}

cJSON *open_replay_made(const struct options *options, const struct replay *replay, const char *command) {
    const char *argument[2 * GIVEN_MAX + 4];
    struct made_input *input = calloc(INPUTS_MAX, sizeof *input);
    char today[CALENDAR_ISO_SIZE], scenarios[WEATHER_HASH_SIZE];
    size_t count = 0, arguments = collect_arguments(options, replay, today, argument);
    if (input == NULL)
        return NULL;
    input[count++] = (struct made_input){"farm", replay->name, replay->file_sha256};
    add_file("scenarios", option_value(options, "--scenarios"), scenarios, input, &count);
    for (size_t i = 0; i < replay->weather.input_count && count < INPUTS_MAX; i++) {
        const struct replay_input *from = &replay->weather.input[i];
        input[count++] = (struct made_input){from->what, from->address, from->sha256};
    }
    cJSON *made = made_new(command, argument, arguments, input, count);
    free(input);
    return made;
}

void open_replay_tell(const cJSON *made, struct text *out) {
    const cJSON *entry;
    text_printf(out, "made by waterturn %s from\n",
                cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(made, "version")));
    cJSON_ArrayForEach(entry, cJSON_GetObjectItemCaseSensitive(made, "inputs")) {
        const char *address = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(entry, "address"));
        text_printf(out, "  %s  %s%s%s\n",
                    cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(entry, "sha256")),
                    cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(entry, "what")),
                    address != NULL ? ", " : "", address != NULL ? address : "");
    }
}

enum status open_replay_again(const struct command *command, const cJSON *made,
                              struct open_replay_words *words, struct options *options,
                              struct problems *problems) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(made, "command"));
    const cJSON *word;
    int count = 0;
    bool good = name != NULL && strcmp(name, command->name) == 0;
    cJSON_ArrayForEach(word, cJSON_GetObjectItemCaseSensitive(made, "arguments")) {
        good = good && cJSON_IsString(word) && count < (int)(sizeof words->word / sizeof words->word[0]);
        if (good)
            words->word[count++] = word->valuestring;
    }
    if (!good) {
        problem_add(problems, NULL, 0, 0, NULL,
                    "found a note of another command, expected one of `waterturn %s`", command->name);
        return STATUS_REFUSED;
    }
    return options_read(command, count, words->word, options, problems);
}

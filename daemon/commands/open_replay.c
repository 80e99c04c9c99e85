#include "daemon/commands/open_replay.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/replay/farm_change.h"
#include "daemon/source/download.h"
#include "daemon/store/ledger_store.h"

#define INPUTS_MAX 400
#define OUTPUT_MAX ((size_t)1 << 30)

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
    status = download_start(problems);
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

/* In the farm of the last scenario: settings may have moved its plantings. */
static enum status find_planting(const struct replay *replay, const char *field, size_t *planting,
                                 struct problems *problems) {
    const struct farm *farm = &replay->scenario[replay->scenario_count - 1].farm;
    const struct farm_planting *found =
        field != NULL ? farm_planting_on(farm, field, replay->until - 1) : NULL;
    if (found == NULL) {
        problem_add(problems, NULL, 0, 0, NULL, "--field: found %s, expected a field with a planting",
                    field != NULL ? field : "nothing");
        return STATUS_NOT_FOUND;
    }
    *planting = (size_t)(found - farm->planting);
    return STATUS_OK;
}

enum status open_replay_planting(const struct options *options, struct replay *replay, size_t *planting,
                                 const char *use, struct problems *problems) {
    enum status status = open_replay(options, replay, problems);
    if (status == STATUS_OK)
        status = open_replay_scenarios(options, replay, problems);
    if (status == STATUS_OK && replay->scenario_count > 2) {
        problem_add(problems, NULL, 0, 0, NULL, "found several --what-if, expected one, %s", use);
        status = STATUS_USAGE;
    }
    if (status == STATUS_OK)
        status = find_planting(replay, option_value(options, "--field"), planting, problems);
    return status;
}

cJSON *open_replay_made(const struct options *options, const struct replay *replay, const char *command) {
    const char *argument[2 * GIVEN_MAX + 4];
    struct made_input *input = calloc(INPUTS_MAX, sizeof *input);
    char today[CALENDAR_ISO_SIZE], scenarios[WEATHER_HASH_SIZE], probe[WEATHER_HASH_SIZE];
    size_t count = 0, arguments = collect_arguments(options, replay, today, argument);
    if (input == NULL)
        return NULL;
    input[count++] = (struct made_input){"farm", replay->name, replay->file_sha256};
    add_file("scenarios", option_value(options, "--scenarios"), scenarios, input, &count);
    add_file("probe", option_value(options, "--probe"), probe, input, &count);
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

/* ---- running, and verifying ---- */

/* The options that made an output, out of its note. */
struct words {
    char *word[2 * GIVEN_MAX + ARGUMENTS_MAX];
    int count;
};

static enum status options_again(const struct command *command, const cJSON *made, struct words *words,
                                 struct options *options, struct problems *problems) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(made, "command"));
    const cJSON *word;
    bool good = name != NULL && strcmp(name, command->name) == 0;
    words->count = 0;
    cJSON_ArrayForEach(word, cJSON_GetObjectItemCaseSensitive(made, "arguments")) {
        good =
            good && cJSON_IsString(word) && words->count < (int)(sizeof words->word / sizeof words->word[0]);
        if (good)
            words->word[words->count++] = word->valuestring;
    }
    if (!good) {
        problem_add(problems, NULL, 0, 0, NULL,
                    "found the note of another command, expected one of `waterturn %s`", command->name);
        return STATUS_REFUSED;
    }
    return options_read(command, words->count, words->word, options, problems);
}

static enum status compare(const char *path, const char *bytes, size_t size,
                           const struct open_replay_output *again, const cJSON *then,
                           struct problems *problems) {
    const char *other = text_string(&again->text);
    if (again->text.size == size && memcmp(bytes, other, size) == 0) {
        printf("%s: made again, every byte the same (%zu bytes)\n", path, size);
        return STATUS_OK;
    }
    if (made_compare(then, again->made, problems) > 0) {
        problem_add(problems, path, 0, 0, NULL, "it cannot be made again from what is there now");
        return STATUS_REFUSED;
    }
    size_t at = 0;
    while (at < size && at < again->text.size && bytes[at] == other[at])
        at++;
    problem_add(problems, path, 0, 0, NULL,
                "the inputs are the same and the output is not: it was changed, from byte %zu on", at + 1);
    return STATUS_REFUSED;
}

static enum status verify(const char *path, const struct command *command, open_replay_make *make,
                          struct problems *problems) {
    char *bytes = NULL;
    size_t size = 0;
    struct words words;
    struct options options;
    struct open_replay_output again = {.made = NULL};
    text_init(&again.text, OUTPUT_MAX);
    enum status status = file_read(path, OUTPUT_MAX, &bytes, &size, problems);
    cJSON *then = status == STATUS_OK ? made_find(bytes, size) : NULL;
    if (status == STATUS_OK && then == NULL) {
        problem_add(problems, path, 0, 0, NULL,
                    "found no note on how it was made, expected an output of --out");
        status = STATUS_REFUSED;
    }
    if (status == STATUS_OK)
        status = options_again(command, then, &words, &options, problems);
    if (status == STATUS_OK)
        status = make(&options, path, &again, problems);
    if (status == STATUS_OK)
        status = compare(path, bytes, size, &again, then, problems);
    cJSON_Delete(then);
    cJSON_Delete(again.made);
    text_free(&again.text);
    free(bytes);
    return status;
}

enum status open_replay_run(const struct options *options, const struct command *command,
                            open_replay_make *make, struct problems *problems) {
    const char *path = option_value(options, "--out"), *old = option_value(options, "--verify");
    if (old != NULL)
        return verify(old, command, make, problems);
    struct open_replay_output output = {.made = NULL};
    text_init(&output.text, OUTPUT_MAX);
    enum status status = make(options, path, &output, problems);
    if (status == STATUS_OK && text_failed(&output.text))
        status = STATUS_NO_MEMORY;
    if (status == STATUS_OK && path != NULL)
        status = file_write(path, text_string(&output.text), output.text.size, problems);
    else if (status == STATUS_OK)
        fwrite(text_string(&output.text), 1, output.text.size, stdout);
    if (status == STATUS_OK && output.partial)
        status = STATUS_REFUSED;
    cJSON_Delete(output.made);
    text_free(&output.text);
    return status;
}

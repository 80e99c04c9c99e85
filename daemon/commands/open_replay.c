#include "daemon/commands/open_replay.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/replay/farm_change.h"
#include "daemon/source/download.h"
#include "daemon/store/ledger_store.h"

/* Each option with its value, the morning, and the farm file. */
#define WORDS_MAX  (2 * GIVEN_MAX + 4)
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
        status = replay_open_db(replay, db, NULL, today, problems);
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

static size_t noted_arguments(const cJSON *then, const char **argument, size_t room) {
    size_t count = 0;
    const cJSON *word;
    cJSON_ArrayForEach(word, cJSON_GetObjectItemCaseSensitive(then, "arguments")) {
        if (count < room && cJSON_IsString(word))
            argument[count++] = word->valuestring;
    }
    return count;
}

/* A farm file that was moved is the same input: what counts is its hash. */
static void keep_address(const cJSON *then, cJSON *made) {
    cJSON *now = cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(made, "inputs"), 0);
    const cJSON *farm = cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(then, "inputs"), 0);
    const cJSON *address = cJSON_GetObjectItemCaseSensitive(farm, "address");
    if (cJSON_IsString(address))
        cJSON_ReplaceItemInObjectCaseSensitive(now, "address", cJSON_Duplicate(address, true));
}

enum status open_replay_made(const struct options *options, const struct replay *replay, const char *command,
                             struct open_replay_output *output) {
    const char *argument[WORDS_MAX];
    struct made_input more[2];
    char today[CALENDAR_ISO_SIZE], scenarios[WEATHER_HASH_SIZE], probe[WEATHER_HASH_SIZE];
    size_t count = 0;
    size_t arguments = output->then != NULL ? noted_arguments(output->then, argument, WORDS_MAX)
                                            : collect_arguments(options, replay, today, argument);
    add_file("scenarios", option_value(options, "--scenarios"), scenarios, more, &count);
    add_file("probe", option_value(options, "--probe"), probe, more, &count);
    output->made = made_new(replay, command, output->form, argument, arguments, more, count);
    if (output->then != NULL && output->made != NULL)
        keep_address(output->then, output->made);
    return output->made != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

/* ---- the form ---- */

static bool has_form(const struct open_replay_forms *forms, enum made_form form) {
    return form == forms->shown || (form == MADE_JSON && forms->json) || (form == MADE_CSV && forms->csv) ||
           (form == MADE_SVG && forms->svg);
}

/* --csv says what the rows are, so it wants a file of that form. */
static enum status form_of(const struct options *options, const struct open_replay_forms *forms,
                           enum made_form *form, struct problems *problems) {
    static const enum made_form of_file[] = {MADE_JSON, MADE_CSV, MADE_SVG};
    const char *path = option_value(options, "--out"), *dot = path != NULL ? strrchr(path, '.') : NULL;
    bool rows = option_value(options, "--csv") != NULL, any = forms->json || forms->csv || forms->svg;
    char expected[60] = "";
    *form = rows ? MADE_CSV : forms->shown;
    if (path == NULL || !any)
        return STATUS_OK;
    for (size_t i = 0; i < sizeof of_file / sizeof of_file[0]; i++) {
        size_t used = strlen(expected);
        if (!has_form(forms, of_file[i]) || (rows && of_file[i] != MADE_CSV))
            continue;
        if (dot != NULL && strcmp(dot + 1, made_form_name(of_file[i])) == 0) {
            *form = of_file[i];
            return STATUS_OK;
        }
        (void)snprintf(expected + used, sizeof expected - used, "%s.%s", used > 0 ? " or " : "",
                       made_form_name(of_file[i]));
    }
    problem_add(problems, NULL, 0, 0, NULL, "--out: found %s, expected a name that ends in %s", path,
                expected);
    return STATUS_USAGE;
}

/* ---- running, and verifying ---- */

/* The words of a command line that makes an output again. */
struct words {
    char *word[2 * WORDS_MAX];
    int count;
};

static void add_word(struct words *words, const char *word) {
    if (words->count < (int)(sizeof words->word / sizeof words->word[0]))
        words->word[words->count++] = (char *)(uintptr_t)word; /* options_read() changes none */
}

/* Where the inputs are now may be told beside --verify: another database, another farm file. */
static void words_given(const struct options *given, struct words *words) {
    static const char *const told[] = {"--db", "--threads"};
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
        if (option_value(given, told[i]) == NULL)
            continue;
        add_word(words, told[i]);
        add_word(words, option_value(given, told[i]));
    }
}

static void words_noted(const struct options *given, const cJSON *then, struct words *words) {
    const char *argument[WORDS_MAX];
    size_t count = noted_arguments(then, argument, WORDS_MAX);
    bool elsewhere = option_value(given, "--db") != NULL || given->arguments > 0;
    for (size_t i = 0; i < count; i++) {
        bool db = strcmp(argument[i], "--db") == 0, file = strcmp(argument[i], "--") == 0;
        if (elsewhere && (db || file))
            i++;
        else
            add_word(words, argument[i]);
    }
    if (given->arguments > 0) {
        add_word(words, "--");
        add_word(words, given->argument[0]);
    }
}

static enum status options_again(const struct options *given, const struct command *command,
                                 const cJSON *then, struct words *words, struct options *options,
                                 struct problems *problems) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(then, "command"));
    words->count = 0;
    if (name == NULL || strcmp(name, command->name) != 0) {
        problem_add(problems, NULL, 0, 0, NULL,
                    "found an output of `waterturn %s`, expected one of `waterturn %s`",
                    name != NULL ? name : "nothing", command->name);
        return STATUS_REFUSED;
    }
    words_given(given, words);
    words_noted(given, then, words);
    return options_read(command, words->count, words->word, options, problems);
}

static enum status compare(const char *path, const char *bytes, size_t size,
                           const struct open_replay_output *again, struct problems *problems) {
    const char *other = text_string(&again->text);
    bool page = made_form_of(again->then) == MADE_PAGE;
    if (!page && again->text.size == size && memcmp(bytes, other, size) == 0) {
        printf("%s: made again, every byte the same (%zu bytes)\n", path, size);
        return STATUS_OK;
    }
    if (made_compare(again->then, again->made, problems) > 0) {
        problem_add(problems, path, 0, 0, NULL, "it cannot be made again from what is there now");
        return STATUS_REFUSED;
    }
    if (page) {
        printf("%s: made from the same inputs; a page's bytes are not compared, those of its downloads are\n",
               path);
        return STATUS_OK;
    }
    size_t at = 0;
    while (at < size && at < again->text.size && bytes[at] == other[at])
        at++;
    problem_add(problems, path, 0, 0, NULL,
                "the inputs are the same and the output is not: it was changed, from byte %zu on", at + 1);
    return STATUS_REFUSED;
}

static enum status make_again(const struct options *given, const struct command *command,
                              const struct open_replay_forms *forms, open_replay_make *make,
                              struct open_replay_output *again, struct problems *problems) {
    struct words words;
    struct options options;
    again->form = made_form_of(again->then);
    if (again->form == MADE_PAGE)
        again->form = MADE_JSON;
    if (!has_form(forms, again->form)) {
        problem_add(problems, NULL, 0, 0, NULL, "found a note that names no form of the output");
        return STATUS_REFUSED;
    }
    enum status status = options_again(given, command, again->then, &words, &options, problems);
    return status == STATUS_OK ? make(&options, again, problems) : status;
}

static enum status verify(const struct options *given, const struct command *command,
                          const struct open_replay_forms *forms, open_replay_make *make,
                          struct problems *problems) {
    const char *path = option_value(given, "--verify");
    char *bytes = NULL;
    size_t size = 0;
    struct open_replay_output again = {.made = NULL};
    text_init(&again.text, OUTPUT_MAX);
    enum status status = file_read(path, OUTPUT_MAX, &bytes, &size, problems);
    cJSON *then = status == STATUS_OK ? made_find(bytes, size) : NULL;
    again.then = then;
    if (status == STATUS_OK && then == NULL) {
        problem_add(problems, path, 0, 0, NULL,
                    "found no note on how it was made, expected an output of "
                    "`waterturn %s`",
                    command->name);
        status = STATUS_REFUSED;
    }
    if (status == STATUS_OK)
        status = make_again(given, command, forms, make, &again, problems);
    if (status == STATUS_OK)
        status = compare(path, bytes, size, &again, problems);
    cJSON_Delete(then);
    cJSON_Delete(again.made);
    text_free(&again.text);
    free(bytes);
    return status;
}

enum status open_replay_run(const struct options *options, const struct command *command,
                            const struct open_replay_forms *forms, open_replay_make *make,
                            struct problems *problems) {
    const char *path = option_value(options, "--out");
    if (option_value(options, "--verify") != NULL)
        return verify(options, command, forms, make, problems);
    struct open_replay_output output = {.made = NULL};
    text_init(&output.text, OUTPUT_MAX);
    enum status status = form_of(options, forms, &output.form, problems);
    if (status == STATUS_OK)
        status = make(options, &output, problems);
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

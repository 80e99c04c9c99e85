#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "core/base/calendar.h"
#include "daemon/commands/command.h"

static int option_index(const struct option_spec *spec, const char *name, size_t length) {
    for (int i = 0; spec[i].name != NULL; i++) {
        if (strlen(spec[i].name) == length && strncmp(spec[i].name, name, length) == 0)
            return i;
    }
    return -1;
}

/* One option at arguments[*at]; "--name value" or "--name=value". */
static enum status option_take(const struct command *command, int count, char **arguments, int *at,
                               struct options *options, struct problems *problems) {
    const char *word = arguments[*at];
    size_t length = strcspn(word, "=");
    int index = option_index(command->options, word, length);
    if (index < 0) {
        problem_add(problems, NULL, 0, 0, NULL,
                    "found the option %s; `waterturn %s --help` lists those there are", word, command->name);
        return STATUS_USAGE;
    }
    const struct option_spec *spec = &command->options[index];
    const char *value = spec->name;
    if (spec->value == NULL && word[length] == '=') {
        problem_add(problems, NULL, 0, 0, NULL, "found %s, expected %s without a value", word, spec->name);
        return STATUS_USAGE;
    }
    if (spec->value != NULL)
        value = word[length] == '=' ? word + length + 1 : ++*at < count ? arguments[*at] : NULL;
    if (value == NULL) {
        problem_add(problems, NULL, 0, 0, NULL, "found %s at the end, expected %s after it", spec->name,
                    spec->value);
        return STATUS_USAGE;
    }
    if (options->given_count == GIVEN_MAX) {
        problem_add(problems, NULL, 0, 0, NULL, "found more than %d options", GIVEN_MAX);
        return STATUS_USAGE;
    }
    options->value[index] = value;
    options->given[options->given_count].option = index;
    options->given[options->given_count++].value = value;
    return STATUS_OK;
}

enum status options_read(const struct command *command, int count, char **arguments, struct options *options,
                         struct problems *problems) {
    memset(options, 0, sizeof *options);
    options->spec = command->options;
    bool only_arguments = false;
    for (int i = 0; i < count; i++) {
        const char *word = arguments[i];
        if (!only_arguments && strcmp(word, "--") == 0) {
            only_arguments = true;
        } else if (!only_arguments && word[0] == '-' && word[1] == '-') {
            enum status status = option_take(command, count, arguments, &i, options, problems);
            if (status != STATUS_OK)
                return status;
        } else if (options->arguments == command->most) {
            problem_add(problems, NULL, 0, 0, NULL, "found one argument too many: %s", word);
            return STATUS_USAGE;
        } else {
            options->argument[options->arguments++] = word;
        }
    }
    if (options->arguments < command->least) {
        problem_add(problems, NULL, 0, 0, NULL, "expected %s", command->arguments);
        return STATUS_USAGE;
    }
    return STATUS_OK;
}

const char *option_value(const struct options *options, const char *name) {
    int index = option_index(options->spec, name, strlen(name));
    return index >= 0 ? options->value[index] : NULL;
}

const char *option_values(const struct options *options, const char *name, int index) {
    int option = option_index(options->spec, name, strlen(name));
    for (int i = 0; i < options->given_count; i++) {
        if (options->given[i].option == option && index-- == 0)
            return options->given[i].value;
    }
    return NULL;
}

enum status option_number(const struct options *options, const char *name, double least, double most,
                          double missing, double *out, struct problems *problems) {
    const char *text = option_value(options, name);
    if (text == NULL && !isnan(missing)) {
        *out = missing;
        return STATUS_OK;
    }
    char *end = NULL;
    double value = text != NULL ? strtod(text, &end) : (double)NAN;
    if (text == NULL || end == text || *end != '\0' || !(value >= least && value <= most)) {
        problem_add(problems, NULL, 0, 0, NULL, "%s: found %s, expected a number from %.15g to %.15g", name,
                    text != NULL ? text : "nothing", least, most);
        return STATUS_USAGE;
    }
    *out = value;
    return STATUS_OK;
}

enum status option_today(const struct options *options, struct morning_time *out, struct problems *problems) {
    const char *text = option_value(options, "--today");
    int32_t today;
    if (text == NULL) {
        *out = wall_clock_now();
        return STATUS_OK;
    }
    if (calendar_parse_iso(text, &today) != STATUS_OK) {
        problem_add(problems, NULL, 0, 0, NULL, "--today: found %s, expected a date as 2026-07-14", text);
        return STATUS_USAGE;
    }
    *out = wall_clock_given(today);
    return STATUS_OK;
}

/* $XDG_DATA_HOME/waterturn/waterturn.db, else ~/.local/share/waterturn/waterturn.db (XDG base directories).
 */
static enum status default_path(bool make, struct text *out) {
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data != NULL && data[0] == '/')
        text_puts(out, data);
    else if (home != NULL && home[0] == '/')
        text_printf(out, "%s/.local/share", home);
    else
        return STATUS_NOT_FOUND;
    text_puts(out, "/waterturn");
    char *path = strdup(text_string(out));
    if (path == NULL)
        return STATUS_NO_MEMORY;
    for (char *slash = path + 1; make && slash != NULL;) {
        slash = strchr(slash, '/');
        if (slash != NULL)
            *slash = '\0';
        (void)mkdir(path, 0700); /* what fails here fails clearly when the file is opened */
        if (slash != NULL)
            *slash++ = '/';
    }
    free(path);
    text_puts(out, "/waterturn.db");
    return STATUS_OK;
}

enum status option_db_path(const struct options *options, bool make, struct text *out,
                           struct problems *problems) {
    const char *given = option_value(options, "--db");
    if (given == NULL)
        given = getenv("WATERTURN_DB");
    if (given != NULL && given[0] != '\0') {
        text_puts(out, given);
        return text_failed(out) ? STATUS_NO_MEMORY : STATUS_OK;
    }
    enum status status = default_path(make, out);
    if (status != STATUS_OK)
        problem_add(problems, NULL, 0, 0, NULL, "no home directory for the database; name it with --db FILE");
    return status;
}

enum status option_open_db(const struct options *options, enum db_mode mode, struct db **out,
                           struct problems *problems) {
    struct text path;
    text_init(&path, 0);
    enum status status = option_db_path(options, mode == DB_CREATE, &path, problems);
    if (status == STATUS_OK)
        status = db_open(text_string(&path), mode, out, problems);
    text_free(&path);
    return status;
}

enum status option_units(const struct options *options, bool habit, bool *us_units,
                         struct problems *problems) {
    const char *text = option_value(options, "--units");
    *us_units = text == NULL ? habit : strcmp(text, "us") == 0;
    if (text != NULL && strcmp(text, "us") != 0 && strcmp(text, "metric") != 0) {
        problem_add(problems, NULL, 0, 0, NULL, "--units: found %s, expected us or metric", text);
        return STATUS_USAGE;
    }
    return STATUS_OK;
}

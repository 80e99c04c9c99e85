/* waterturn COMMAND ...: finds the command, reads its options, runs it, says what went wrong. */
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/version.h"
#include "daemon/commands/command.h"

#define EXIT_REFUSED 1
#define EXIT_USAGE   2

static void print_usage(FILE *out) {
    fputs("waterturn: which field needs water this morning, when, and how much\n\n"
          "usage: waterturn COMMAND [OPTIONS] [ARGUMENTS]\n\n",
          out);
    for (const struct command *const *command = command_table; *command != NULL; command++)
        fprintf(out, "  %-9s %-10s %s\n", (*command)->name, (*command)->arguments, (*command)->summary);
    fputs("\n`waterturn COMMAND --help` tells more. Exit status: 0 done, 1 refused (nothing was changed), 2 "
          "usage.\n"
          "The tool estimates, it does not measure: check the soil before acting on a call.\n",
          out);
}

static void print_help(const struct command *command) {
    printf("usage: waterturn %s %s%s%s\n\n%s\n", command->name,
           command->options[0].name != NULL ? "[OPTIONS]" : "", command->arguments[0] != '\0' ? " " : "",
           command->arguments, command->summary);
    if (command->details[0] != '\0')
        printf("\n%s\n", command->details);
    for (const struct option_spec *spec = command->options; spec->name != NULL; spec++) {
        char name[64];
        (void)snprintf(name, sizeof name, "%s %s", spec->name, spec->value != NULL ? spec->value : "");
        printf("%s  %-24s %s\n", spec == command->options ? "\n" : "", name, spec->help);
    }
}

static const struct command *command_named(const char *name) {
    for (const struct command *const *command = command_table; *command != NULL; command++) {
        if (strcmp((*command)->name, name) == 0)
            return *command;
    }
    return NULL;
}

static bool wants_help(int count, char **arguments) {
    for (int i = 0; i < count; i++) {
        if (strcmp(arguments[i], "--help") == 0)
            return true;
    }
    return false;
}

static int run(const struct command *command, int count, char **arguments) {
    static struct problems problems;
    struct options options;
    problems_init(&problems);
    enum status status = options_read(command, count, arguments, &options, &problems);
    if (status == STATUS_OK)
        status = command->run(&options, &problems);
    if (status != STATUS_OK && problems.count == 0)
        problem_add(&problems, NULL, 0, 0, NULL, "%s", status_name(status));
    struct text words;
    text_init(&words, 0);
    problems_print(&problems, &words);
    fputs(text_string(&words), stderr);
    if (status == STATUS_USAGE)
        fprintf(stderr, "`waterturn %s --help` tells more\n", command->name);
    text_free(&words);
    problems_free(&problems);
    return status == STATUS_OK ? EXIT_SUCCESS : status == STATUS_USAGE ? EXIT_USAGE : EXIT_REFUSED;
}

static int dispatch(int argc, char **argv) {
    if (argc < 2) {
        print_usage(stderr);
        return EXIT_USAGE;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "help") == 0) {
        print_usage(stdout);
        return EXIT_SUCCESS;
    }
    if (strcmp(argv[1], "--version") == 0) {
        puts("waterturn " WATERTURN_VERSION);
        return EXIT_SUCCESS;
    }
    const struct command *command = command_named(argv[1]);
    if (command == NULL) {
        fprintf(stderr, "found the command %s, expected one of these:\n\n", argv[1]);
        print_usage(stderr);
        return EXIT_USAGE;
    }
    if (wants_help(argc - 2, argv + 2)) {
        print_help(command);
        return EXIT_SUCCESS;
    }
    return run(command, argc - 2, argv + 2);
}

int main(int argc, char **argv) {
    int code = dispatch(argc, argv);
    /* What a full disk or a closed pipe swallowed must not look like success: neither what is left in the
     * buffer, nor what went before it. */
    errno = 0;
    bool lost = fflush(stdout) != 0 || ferror(stdout) != 0;
    if (lost && code == EXIT_SUCCESS) {
        fprintf(stderr, "standard output: %s\n", errno != 0 ? strerror(errno) : "not all could be written");
        code = EXIT_REFUSED;
    }
    return code;
}

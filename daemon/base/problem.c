#include "daemon/base/problem.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PROBLEM_NAME_SIZE 80 /* of a hole */

void problems_init(struct problems *problems) {
    problems->count = 0;
    problems->kept = 0;
}

void problems_free(struct problems *problems) {
    for (size_t i = 0; i < problems->kept; i++) {
        free(problems->problem[i].file);
        free(problems->problem[i].path);
        free(problems->problem[i].message);
        free(problems->problem[i].said);
    }
    problems_init(problems);
}

/* The next one to be filled in; NULL: no more are kept. */
static struct problem *add(struct problems *problems, const struct problem_place *place) {
    problems->count++;
    if (problems->kept == PROBLEMS_MAX)
        return NULL;
    struct problem *problem = &problems->problem[problems->kept++];
    *problem = (struct problem){.line = place->line, .column = place->column};
    problem->file = place->file != NULL ? strdup(place->file) : NULL;
    problem->path = place->path != NULL && place->path[0] != '\0' ? strdup(place->path) : NULL;
    return problem;
}

void problem_add(struct problems *problems, const char *file, int line, int column, const char *path,
                 const char *format, ...) {
    const struct problem_place place = {file, line, column, path};
    struct problem *problem = add(problems, &place);
    if (problem == NULL)
        return;
    va_list arguments;
    va_start(arguments, format);
    if (vasprintf(&problem->message, format, arguments) < 0)
        problem->message = NULL;
    va_end(arguments);
}

/* Names without what follows a slash, which is not of the English sentence. */
static void fill_english(struct text *out, const char *sentence, const struct words_hole *holes,
                         size_t count) {
    char name[PROBLEM_HOLES_MAX][PROBLEM_NAME_SIZE];
    struct words_hole plain[PROBLEM_HOLES_MAX];
    for (size_t i = 0; i < count; i++) {
        (void)snprintf(name[i], sizeof name[i], "%.*s", (int)strcspn(holes[i].name, "/"), holes[i].name);
        plain[i] = (struct words_hole){name[i], holes[i].value};
    }
    text_fill(out, sentence, plain, count);
}

void problem_tell_list(struct problems *problems, const struct problem_place *place, const char *code,
                       const char *sentence, va_list list) {
    struct words_hole holes[PROBLEM_HOLES_MAX];
    struct text said, message;
    size_t count = 0;
    struct problem *problem = add(problems, place);
    if (problem == NULL)
        return;
    text_init(&said, 0);
    text_init(&message, 0);
    text_add(&said, code, strlen(code) + 1);
    for (const char *name; count < PROBLEM_HOLES_MAX && (name = va_arg(list, const char *)) != NULL;
         count++) {
        holes[count] = (struct words_hole){name, va_arg(list, const char *)};
        text_add(&said, name, strlen(name) + 1);
        text_add(&said, holes[count].value, strlen(holes[count].value) + 1);
    }
    text_add(&said, "", 1);
    fill_english(&message, sentence, holes, count);
    problem->said = text_take(&said);
    problem->message = text_take(&message);
}

void problem_tell(struct problems *problems, const char *code, const char *sentence, ...) {
    const struct problem_place nowhere = {NULL, 0, 0, NULL};
    va_list holes;
    va_start(holes, sentence);
    problem_tell_list(problems, &nowhere, code, sentence, holes);
    va_end(holes);
}

void problems_move(struct problems *from, struct problems *to) {
    size_t room = PROBLEMS_MAX - to->kept, moved = from->kept < room ? from->kept : room;
    to->count += from->count;
    memcpy(&to->problem[to->kept], from->problem, moved * sizeof *to->problem);
    to->kept += moved;
    from->kept -= moved;
    memmove(from->problem, &from->problem[moved], from->kept * sizeof *from->problem);
    problems_free(from);
}

void problems_sort(struct problems *problems, size_t from) {
    for (size_t i = from + 1; i < problems->kept; i++) {
        struct problem problem = problems->problem[i];
        size_t to = i;
        for (; to > from; to--) {
            const struct problem *before = &problems->problem[to - 1];
            if (before->line < problem.line ||
                (before->line == problem.line && before->column <= problem.column))
                break;
            problems->problem[to] = *before;
        }
        problems->problem[to] = problem;
    }
}

static void problem_print(const struct problem *problem, struct text *out) {
    if (problem->file != NULL)
        text_puts(out, problem->file);
    if (problem->line > 0)
        text_printf(out, ":%d", problem->line);
    if (problem->line > 0 && problem->column > 0)
        text_printf(out, ":%d", problem->column);
    if (problem->file != NULL || problem->line > 0)
        text_puts(out, ": ");
    if (problem->path != NULL)
        text_printf(out, "%s: ", problem->path);
    text_printf(out, "%s\n", problem->message != NULL ? problem->message : "(no memory for the message)");
}

void problems_print(const struct problems *problems, struct text *out) {
    for (size_t i = 0; i < problems->kept; i++)
        problem_print(&problems->problem[i], out);
    if (problems->count > problems->kept)
        text_printf(out, "and %zu more\n", problems->count - problems->kept);
}

#include "daemon/base/problem.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void problems_init(struct problems *problems) {
    problems->count = 0;
    problems->kept = 0;
}

void problems_free(struct problems *problems) {
    for (size_t i = 0; i < problems->kept; i++) {
        free(problems->problem[i].file);
        free(problems->problem[i].path);
        free(problems->problem[i].message);
    }
    problems_init(problems);
}

void problem_add(struct problems *problems, const char *file, int line, int column, const char *path,
                 const char *format, ...) {
    problems->count++;
    if (problems->kept == PROBLEMS_MAX)
        return;
    struct problem *problem = &problems->problem[problems->kept++];
    problem->file = file != NULL ? strdup(file) : NULL;
    problem->path = path != NULL && path[0] != '\0' ? strdup(path) : NULL;
    problem->line = line;
    problem->column = column;
    va_list arguments;
    va_start(arguments, format);
    if (vasprintf(&problem->message, format, arguments) < 0)
        problem->message = NULL;
    va_end(arguments);
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

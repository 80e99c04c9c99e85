#include "daemon/base/problem.h"

#include <stdbool.h>
#include <stdint.h>
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

/* FNV-1a (64 bits) goes on over a string, without the characters `but`. */
static uint64_t mix(uint64_t kind, const char *text, const char *but) {
    for (const char *at = text != NULL ? text : ""; *at != '\0'; at++)
        if (strchr(but, *at) == NULL)
            kind = (kind ^ (unsigned char)*at) * UINT64_C(0x100000001b3);
    return (kind ^ 0xFF) * UINT64_C(0x100000001b3);
}

/* "records[7].date" and "records[12].date" are like places. */
static uint64_t kind_of(const struct problem_place *place, const char *sentence) {
    static const char digits[] = "0123456789";
    uint64_t kind = mix(UINT64_C(0xcbf29ce484222325), place->file, "");
    return mix(mix(mix(kind, place->path, digits), place->key, ""), sentence, digits);
}

/* The last one of a kind, when so many are kept that another one is only counted. */
static struct problem *last_of_kind(struct problems *problems, uint64_t kind) {
    int found = 0;
    struct problem *last = NULL;
    for (size_t i = 0; i < problems->kept; i++) {
        struct problem *problem = &problems->problem[i];
        if (problem->kind != kind)
            continue;
        if (last == NULL || last->more == 0)
            last = problem;
        found++;
    }
    return found < PROBLEMS_OF_A_KIND ? NULL : last;
}

static void count_line(struct problem *problem, int line) {
    problem->more++;
    if (line > 0 && (problem->more_first == 0 || line < problem->more_first))
        problem->more_first = line;
    if (line > problem->more_last)
        problem->more_last = line;
}

/* The next one to be filled in; NULL: it is not kept. */
static struct problem *add(struct problems *problems, const struct problem_place *place,
                           const char *sentence) {
    uint64_t kind = kind_of(place, sentence);
    struct problem *last = last_of_kind(problems, kind);
    problems->count++;
    if (last != NULL)
        count_line(last, place->line);
    if (last != NULL || problems->kept == PROBLEMS_MAX)
        return NULL;
    struct problem *problem = &problems->problem[problems->kept++];
    *problem = (struct problem){.line = place->line, .column = place->column, .kind = kind};
    problem->file = place->file != NULL ? strdup(place->file) : NULL;
    problem->path = place->path != NULL && place->path[0] != '\0' ? strdup(place->path) : NULL;
    return problem;
}

void problem_add_list(struct problems *problems, const struct problem_place *place, const char *format,
                      va_list arguments) {
    char *message = NULL;
    bool plain = strcmp(format, "%s") == 0;
    if (vasprintf(&message, format, arguments) < 0)
        message = NULL;
    const char *sentence = plain && message != NULL ? message : format;
    struct problem *problem = add(problems, place, sentence);
    if (problem == NULL) {
        free(message);
        return;
    }
    problem->message = message;
    problem->said = calloc(1, strlen(sentence) + 2);
    if (problem->said != NULL)
        memcpy(problem->said, sentence, strlen(sentence));
}

void problem_add(struct problems *problems, const char *file, int line, int column, const char *path,
                 const char *format, ...) {
    const struct problem_place place = {file, line, column, path, NULL};
    va_list arguments;
    va_start(arguments, format);
    problem_add_list(problems, &place, format, arguments);
    va_end(arguments);
}

/* Bytes of what was said, without the last NUL. */
static size_t said_size(const char *said) {
    size_t size = 1 + strlen(said);
    while (said[size] != '\0') {
        size += strlen(said + size) + 1;
        size += strlen(said + size) + 1; /* a value may be empty, a name is not */
    }
    return size;
}

static char *copy_said(const char *said) {
    size_t size = said_size(said) + 1;
    char *copy = malloc(size);
    if (copy != NULL)
        memcpy(copy, said, size);
    return copy;
}

struct problem *problem_copy(struct problems *problems, const struct problem *problem) {
    problems->count += 1 + problem->more;
    if (problems->kept == PROBLEMS_MAX)
        return NULL;
    struct problem *copy = &problems->problem[problems->kept++];
    *copy = *problem;
    copy->file = problem->file != NULL ? strdup(problem->file) : NULL;
    copy->path = problem->path != NULL ? strdup(problem->path) : NULL;
    copy->message = problem->message != NULL ? strdup(problem->message) : NULL;
    copy->said = problem->said != NULL ? copy_said(problem->said) : NULL;
    return copy;
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
    struct problem *problem = add(problems, place, sentence);
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
    const struct problem_place nowhere = {NULL, 0, 0, NULL, NULL};
    va_list holes;
    va_start(holes, sentence);
    problem_tell_list(problems, &nowhere, code, sentence, holes);
    va_end(holes);
}

void problem_tell_at(struct problems *problems, const struct problem_place *place, const char *code,
                     const char *sentence, ...) {
    va_list holes;
    va_start(holes, sentence);
    problem_tell_list(problems, place, code, sentence, holes);
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

static void place_print(const struct problem *problem, struct text *out) {
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
}

static void problem_print(const struct problem *problem, struct text *out) {
    place_print(problem, out);
    text_printf(out, "%s\n", problem->message != NULL ? problem->message : "(no memory for the message)");
}

static void put_lines(int first, int last, struct text *out) {
    if (first > 0 && first < last)
        text_printf(out, " in lines %d to %d", first, last);
    else if (first > 0)
        text_printf(out, " in line %d", first);
}

static void more_print(const struct problem *problem, struct text *out) {
    if (problem->more == 0)
        return;
    if (problem->file != NULL)
        text_printf(out, "%s: ", problem->file);
    text_printf(out, "and %zu more of this kind", problem->more);
    put_lines(problem->more_first, problem->more_last, out);
    text_puts(out, "\n");
}

void problems_print(const struct problems *problems, struct text *out) {
    size_t told = problems->kept;
    for (size_t i = 0; i < problems->kept; i++) {
        problem_print(&problems->problem[i], out);
        more_print(&problems->problem[i], out);
        told += problems->problem[i].more;
    }
    if (problems->count > told)
        text_printf(out, "and %zu more\n", problems->count - told);
}

/* The first and the last line of all but the first problem. */
static void other_lines(const struct problems *problems, int *first, int *last) {
    *first = *last = 0;
    for (size_t i = 0; i < problems->kept; i++) {
        const struct problem *problem = &problems->problem[i];
        const int lines[] = {i > 0 ? problem->line : 0, problem->more_first, problem->more_last};
        for (size_t k = 0; k < sizeof lines / sizeof *lines; k++) {
            if (lines[k] > 0 && (*first == 0 || lines[k] < *first))
                *first = lines[k];
            *last = lines[k] > *last ? lines[k] : *last;
        }
    }
}

void problems_print_first(const struct problems *problems, struct text *out) {
    struct text all;
    int first, last;
    text_init(&all, 0);
    problems_print(problems, &all);
    text_add(out, text_string(&all), strcspn(text_string(&all), "\n"));
    text_free(&all);
    if (problems->count < 2)
        return;
    other_lines(problems, &first, &last);
    text_printf(out, " (and %zu more", problems->count - 1);
    put_lines(first, last, out);
    text_puts(out, ")");
}

void problems_keep_first(const struct problems *problems, struct text *out) {
    int first, last;
    struct text all;
    problems_print_first(problems, out);
    const struct problem *problem = &problems->problem[0];
    if (problems->kept == 0 || problem->message == NULL || problem->said == NULL)
        return;
    text_init(&all, 0);
    other_lines(problems, &first, &last);
    text_printf(&all, "%c", PROBLEM_KEPT);
    place_print(problem, &all);
    text_printf(&all, "%c%s%c%zu%c%d%c%d%c", PROBLEM_KEPT, problem->message, PROBLEM_KEPT,
                problems->count - 1, PROBLEM_KEPT, first, PROBLEM_KEPT, last, PROBLEM_KEPT);
    size_t size = said_size(problem->said);
    for (size_t i = 0; i < size; i++)
        text_printf(&all, "%c", problem->said[i] != '\0' ? problem->said[i] : PROBLEM_KEPT);
    if (out->size + all.size < PROBLEM_KEPT_SIZE && strchr(text_string(out), PROBLEM_KEPT) == NULL)
        text_add(out, text_string(&all), all.size);
    text_free(&all);
}

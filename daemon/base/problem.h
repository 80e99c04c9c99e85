/* What is wrong with something that came from outside: all of it at once, each with its place, what was found
 * and what was expected. Printed as "file:line:col: path: found X, expected Y". */
#ifndef WATERTURN_PROBLEM_H
#define WATERTURN_PROBLEM_H

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include "core/base/status.h"
#include "daemon/base/text.h"

struct problem {
    char *file;       /* file name or address; NULL: none */
    int line, column; /* from 1; 0: not known */
    char *path;       /* "fields[2].area", "row 14, tmax_c"; NULL: none */
    char *message;    /* "found -3 ha, expected more than 0" or any sentence */
    char *said;       /* what problem_tell() was told: code, then names and values of the holes, each with its
                         NUL, and one more; of problem_add() the format alone. NULL: no memory */
    uint64_t kind;    /* problems of one kind have the same: of one file, sentence and like place */
    size_t more;      /* others of its kind that were met after it and are not kept, */
    int more_first, more_last; /* and the first and the last of their lines; 0: not known */
};

#define PROBLEMS_MAX 100
/* Of one kind so many are kept; of the others the last one that is kept tells how many there were. */
#define PROBLEMS_OF_A_KIND 5

struct problems {
    size_t count; /* all that were met, also those that are not kept */
    size_t kept;
    struct problem problem[PROBLEMS_MAX];
};

void problems_init(struct problems *problems);
void problems_free(struct problems *problems);

/* Adds one. file and path may be NULL. Other languages may have the sentence as the words "problem.FORMAT",
 * in which {1}, {2} ... are what stands for its conversions; two without anything between them are one. */
void problem_add(struct problems *problems, const char *file, int line, int column, const char *path,
                 const char *format, ...) __attribute__((format(printf, 6, 7)));

/* Adds one whose sentence other languages have too, as the words "problem.CODE". `sentence` is the English
 * one, with holes: "found {found}, expected {expected}". Behind it stand the names of the holes and their
 * values, at most PROBLEM_HOLES_MAX, and PROBLEM_END. The name may go on with a slash and the key by which
 * words have the value ("what/problem.what.soil"); if that ends with a dot, the value is the rest of it
 * ("crop/crop."). Of a number, perhaps with a unit, it is "number.decimal": its point is that sign. */
#define PROBLEM_HOLES_MAX 8
#define PROBLEM_END       ((const char *)NULL)
struct problem_place {
    const char *file;
    int line, column;
    const char *path;
    const char *key; /* what else tells kinds apart; NULL: nothing */
};
void problem_tell(struct problems *problems, const char *code, const char *sentence, ...)
    __attribute__((sentinel));
void problem_tell_at(struct problems *problems, const struct problem_place *place, const char *code,
                     const char *sentence, ...) __attribute__((sentinel));
void problem_tell_list(struct problems *problems, const struct problem_place *place, const char *code,
                       const char *sentence, va_list holes);

void problem_add_list(struct problems *problems, const struct problem_place *place, const char *format,
                      va_list arguments) __attribute__((format(printf, 3, 0)));

/* Adds one as it stands elsewhere, with how many more there were. NULL: it is not kept. */
struct problem *problem_copy(struct problems *problems, const struct problem *problem);

/* Moves all of `from` behind those of `to`, as far as PROBLEMS_MAX; `from` is empty then. */
void problems_move(struct problems *from, struct problems *to);

/* Puts those from index `from` on into the order of their lines and columns; equal places keep their order.
 */
void problems_sort(struct problems *problems, size_t from);

/* One line for each, and one for the others of its kind; then a line that counts what was left out. */
void problems_print(const struct problems *problems, struct text *out);
/* The first one, without its newline, how many more there are, and in which lines. */
void problems_print_first(const struct problems *problems, struct text *out);

/* That line, and behind it, each behind a PROBLEM_KEPT, what words_kept() says it by in other languages: the
 * place, the message, how many more, the first and the last of their lines, and what was said. Only the line
 * where all would not fit PROBLEM_KEPT_SIZE. */
#define PROBLEM_KEPT      '\x1F'
#define PROBLEM_KEPT_SIZE 2048
void problems_keep_first(const struct problems *problems, struct text *out);

#endif

/* Whole files in and out. */
#ifndef WATERTURN_FILE_H
#define WATERTURN_FILE_H

#include <stddef.h>

#include "daemon/base/problem.h"

/* Reads a file ("-": standard input) of at most `limit` bytes; free() the bytes, which a NUL follows. */
enum status file_read(const char *path, size_t limit, char **bytes, size_t *size, struct problems *problems);

/* Writes a file whole ("-": standard output): to a new file beside it, then renamed, so that nothing
 * half-written is ever there. No SQLite file is replaced: STATUS_REFUSED. */
enum status file_write(const char *path, const char *bytes, size_t size, struct problems *problems);

/* The directory of a path, with no slash at its end; "." for a bare name. free() it; NULL: no memory. */
char *file_directory(const char *path);

#endif

/* Logins and keys of weather services: a JSON file of its own that nobody but its owner may read. It is never
 * stored, exported or logged, and no message has a value out of it.
 *
 *   {"name of a source": {"user": "...", "password": "..."},    HTTP authentication
 *    "another source": {"token": "..."},                       Authorization: Bearer
 *    "a third": {"key": "..."}}                                 {key} in its address */
#ifndef WATERTURN_CREDENTIALS_H
#define WATERTURN_CREDENTIALS_H

#include <stddef.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"

struct credentials;

/* STATUS_REFUSED: the file can be read by others, is not JSON of this form, or names a key twice; STATUS_IO,
 * STATUS_NOT_FOUND: it cannot be read. */
enum status credentials_read(const char *path, struct credentials **out, struct problems *problems);
/* Wipes them from memory. NULL is allowed. */
void credentials_free(struct credentials *credentials);

/* What one source has; NULL for what it has not. */
struct credentials_of_source {
    const char *login; /* "user:password" */
    const char *token, *key;
};
/* `credentials` may be NULL: nothing is there. */
struct credentials_of_source credentials_find(const struct credentials *credentials, const char *source);

/* The name of each source that has some, from 0; NULL past the last. */
const char *credentials_source(const struct credentials *credentials, size_t index);

#endif

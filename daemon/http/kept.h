/* Pages as they were last sent, for as long as what they are made from stays as it is: the book, the day, and
 * who asks for what. A few of them; the one that was not asked for the longest makes room. */
#ifndef WATERTURN_KEPT_H
#define WATERTURN_KEPT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <microhttpd.h>

#include "daemon/view/words.h"

#define KEPT_TAG_SIZE 48

/* All that a page's bytes come from. */
struct kept_key {
    const char *path;
    const struct words *words; /* of the language */
    int units;                 /* enum units_wish */
    int role;                  /* enum access_role */
    bool packed;               /* as gzip */
    int32_t hour;
    int64_t book; /* another number whenever the book is another */
};

struct kept_page {
    struct MHD_Response *response; /* with all its headers */
    char tag[KEPT_TAG_SIZE];       /* ETag */
};

struct kept;
struct kept *kept_new(void); /* NULL: no memory */
void kept_free(struct kept *kept);

/* NULL: it is to be made. What is found holds until the next kept_put(). */
const struct kept_page *kept_find(struct kept *kept, const struct kept_key *key);

/* A page that was made anew though it is the same, by its tag: it is kept on. NULL: it is another one. */
const struct kept_page *kept_again(struct kept *kept, const struct kept_key *key, const char *tag);

/* Keeps a page, and takes its response; `size` is that of its body. What is too long is not kept, and the
 * response given back to libmicrohttpd. */
void kept_put(struct kept *kept, const struct kept_key *key, const struct kept_page *page, size_t size);

#endif

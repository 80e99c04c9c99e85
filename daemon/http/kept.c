#include "daemon/http/kept.h"

#include <stdlib.h>
#include <string.h>

#define PAGES     6
#define PATH_SIZE 32
#define BYTES_MAX (96 * 1024)

struct entry {
    char path[PATH_SIZE];
    struct kept_key key; /* its path is the one above */
    struct kept_page page;
    uint64_t asked; /* by the count of questions; 0: nothing is here */
};

struct kept {
    uint64_t questions;
    struct entry entry[PAGES];
};

struct kept *kept_new(void) {
    return calloc(1, sizeof(struct kept));
}

static void drop(struct entry *entry) {
    if (entry->asked > 0)
        MHD_destroy_response(entry->page.response);
    entry->asked = 0;
}

void kept_free(struct kept *kept) {
    if (kept == NULL)
        return;
    for (size_t i = 0; i < PAGES; i++)
        drop(&kept->entry[i]);
    free(kept);
}

/* The same page, though of another day or book. */
static bool same_page(const struct entry *entry, const struct kept_key *key) {
    return entry->asked > 0 && entry->key.words == key->words && entry->key.units == key->units &&
           entry->key.role == key->role && entry->key.packed == key->packed &&
           strcmp(entry->path, key->path) == 0;
}

const struct kept_page *kept_find(struct kept *kept, const struct kept_key *key) {
    kept->questions++;
    for (size_t i = 0; i < PAGES; i++) {
        struct entry *entry = &kept->entry[i];
        if (!same_page(entry, key) || entry->key.hour != key->hour || entry->key.book != key->book)
            continue;
        entry->asked = kept->questions;
        return &entry->page;
    }
    return NULL;
}

const struct kept_page *kept_again(struct kept *kept, const struct kept_key *key, const char *tag) {
    for (size_t i = 0; i < PAGES; i++) {
        struct entry *entry = &kept->entry[i];
        if (!same_page(entry, key) || strcmp(entry->page.tag, tag) != 0)
            continue;
        entry->key.hour = key->hour;
        entry->key.book = key->book;
        entry->asked = kept->questions;
        return &entry->page;
    }
    return NULL;
}

/* Where the page stood before, else the place that was not asked for the longest. */
static struct entry *place_for(struct kept *kept, const struct kept_key *key) {
    struct entry *oldest = &kept->entry[0];
    for (size_t i = 0; i < PAGES; i++) {
        if (same_page(&kept->entry[i], key))
            return &kept->entry[i];
        if (kept->entry[i].asked < oldest->asked)
            oldest = &kept->entry[i];
    }
    return oldest;
}

void kept_put(struct kept *kept, const struct kept_key *key, const struct kept_page *page, size_t size) {
    size_t length = strlen(key->path);
    if (size > BYTES_MAX || length >= PATH_SIZE) {
        MHD_destroy_response(page->response);
        return;
    }
    struct entry *entry = place_for(kept, key);
    drop(entry);
    memcpy(entry->path, key->path, length + 1);
    entry->key = *key;
    entry->key.path = NULL;
    entry->page = *page;
    entry->asked = kept->questions;
}

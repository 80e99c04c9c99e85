#include "daemon/http/access.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <sodium.h>

#define SEEN_SECONDS 3600 /* how stale a device's seen_at may get */

/* ---- tokens ---- */

void access_hash(const char *text, unsigned char hash[ACCESS_HASH_SIZE]) {
    crypto_generichash(hash, ACCESS_HASH_SIZE, (const unsigned char *)text, strlen(text), NULL, 0);
}

static void make(char *out, size_t size, size_t bytes, unsigned char hash[ACCESS_HASH_SIZE]) {
    unsigned char random[32];
    randombytes_buf(random, bytes);
    sodium_bin2base64(out, size, random, bytes, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    sodium_memzero(random, sizeof random);
    access_hash(out, hash);
}

void access_make_token(char out[ACCESS_TOKEN_SIZE], unsigned char hash[ACCESS_HASH_SIZE]) {
    make(out, ACCESS_TOKEN_SIZE, 32, hash);
}

void access_make_code(char out[ACCESS_CODE_SIZE], unsigned char hash[ACCESS_HASH_SIZE]) {
    make(out, ACCESS_CODE_SIZE, 16, hash);
}

/* ---- what a request needs ---- */

/* The first line that fits holds; '*' stands for one segment. Reading needs a reader and writing a manager
 * unless a line says otherwise, so that a route that is forgotten here is closed rather than open. */
static const struct need {
    const char *path;
    enum access_role reads, writes;
} needs[] = {
    {"/healthz", ACCESS_NOBODY, ACCESS_MANAGER},
    {"/pair/*", ACCESS_NOBODY, ACCESS_NOBODY},
    {"/people", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/farm", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/farm.json", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/sources/new", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/source/*", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/source/*/remove", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/fields/new", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/field/*/settings", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/field/*/remove", ACCESS_MANAGER, ACCESS_MANAGER},
    /* Feeds: by the key in their address (turns_feeds.c). */
    {"/turns/supply/*", ACCESS_NOBODY, ACCESS_MANAGER},
    {"/turns/field/*", ACCESS_NOBODY, ACCESS_MANAGER},
    {"/turns/new", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/turns/dry", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/turn/*/done", ACCESS_OPERATOR, ACCESS_OPERATOR},
    {"/turn/*/late", ACCESS_OPERATOR, ACCESS_OPERATOR},
    {"/turn/*/skipped", ACCESS_OPERATOR, ACCESS_OPERATOR},
    {"/turn/*/*", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/supplies/new", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/supply/*", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/supply/*/remove", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/field/*/soil", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/field/*/planting/*", ACCESS_MANAGER, ACCESS_MANAGER},
    {"/field/*/record/*", ACCESS_OPERATOR, ACCESS_OPERATOR},
    {"/field/*/feel", ACCESS_OPERATOR, ACCESS_OPERATOR},
    {"/morning", ACCESS_OPERATOR, ACCESS_OPERATOR},
    {"/undo/*", ACCESS_OPERATOR, ACCESS_OPERATOR},
};

static bool fits(const char *pattern, const char *path) {
    while (*pattern != '\0') {
        if (*pattern == '*') {
            path += strcspn(path, "/");
            pattern++;
        } else if (*pattern++ != *path++) {
            return false;
        }
    }
    return *path == '\0';
}

/* What a page of any kind looks and works by, also that which says "too often": the same for everybody, so
 * that no guess is counted. */
static bool is_asset(const struct access_request *request) {
    static const char *const assets[] = {"/style.css", "/icon.svg", "/app.js", "/board.js", "/worker.js"};
    for (size_t i = 0; request->reads && i < sizeof assets / sizeof *assets; i++) {
        if (strcmp(assets[i], request->path) == 0)
            return true;
    }
    return false;
}

static enum access_role needed(const struct access_request *request) {
    for (size_t i = 0; i < sizeof needs / sizeof *needs; i++) {
        if (fits(needs[i].path, request->path))
            return request->reads ? needs[i].reads : needs[i].writes;
    }
    return request->reads ? ACCESS_READER : ACCESS_MANAGER;
}

/* ---- how often ---- */

/* Two buckets for each peer, which fill with time: one for all requests, one for wrong tokens and codes. */
#define BUCKETS         512
#define ASKS_MOST       240.0
#define ASKS_A_SECOND   40.0
#define MISSES_MOST     12.0
#define MISSES_A_SECOND 0.2

struct bucket {
    uint64_t peer;
    int64_t at_ms;
    double asks, misses;
};

struct access {
    struct db *db;
    unsigned char key[crypto_shorthash_KEYBYTES]; /* so that nobody can choose which peers share a bucket */
    struct bucket bucket[BUCKETS];
};

struct access *access_new(struct db *db) {
    struct access *access = sodium_init() >= 0 ? calloc(1, sizeof *access) : NULL;
    if (access == NULL)
        return NULL;
    access->db = db;
    crypto_shorthash_keygen(access->key);
    return access;
}

void access_free(struct access *access) {
    free(access);
}

/* A device that is known has buckets of its own; others share those of where they come from. An IPv6 network
 * is one peer: whoever has one address of it has all of them. */
static struct bucket *bucket_of(struct access *access, const struct access_request *request,
                                long long device) {
    static const unsigned char mapped[12] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xFF, 0xFF};
    bool v4 = memcmp(request->peer, mapped, sizeof mapped) == 0;
    unsigned char hash[crypto_shorthash_BYTES];
    uint64_t peer;
    if (device != 0)
        crypto_shorthash(hash, (const unsigned char *)&device, sizeof device, access->key);
    else
        crypto_shorthash(hash, request->peer, v4 ? ACCESS_PEER_SIZE : ACCESS_PEER_SIZE / 2, access->key);
    memcpy(&peer, hash, sizeof peer);
    struct bucket *bucket = &access->bucket[peer % BUCKETS];
    double seconds = (double)(request->now_ms - bucket->at_ms) / 1000.0;
    if (bucket->peer != peer) {
        *bucket = (struct bucket){peer, request->now_ms, ASKS_MOST, MISSES_MOST};
    } else if (seconds > 0) {
        bucket->asks = fmin(bucket->asks + seconds * ASKS_A_SECOND, ASKS_MOST);
        bucket->misses = fmin(bucket->misses + seconds * MISSES_A_SECOND, MISSES_MOST);
        bucket->at_ms = request->now_ms;
    }
    return bucket;
}

void access_note_failure(struct access *access, const struct access_request *request) {
    struct bucket *bucket = bucket_of(access, request, 0);
    bucket->misses = fmax(bucket->misses - 1, 0);
}

/* ---- the verdict ---- */

/* The device of the request's token. STATUS_NOT_FOUND: it brings none that is known. */
static enum status find_device(struct access *access, const struct access_request *request,
                               struct visitor *visitor, struct problems *problems) {
    struct access_device device;
    unsigned char hash[ACCESS_HASH_SIZE];
    if (request->token == NULL)
        return STATUS_NOT_FOUND;
    access_hash(request->token, hash);
    enum status status = access_store_find(access->db, hash, &device, problems);
    if (status != STATUS_OK)
        return status;
    visitor->device = device.id;
    visitor->role = device.role;
    memcpy(visitor->name, device.name, sizeof visitor->name);
    /* A note that cannot be written, since a morning is being stored or the book may only be read, is written
     * another time. */
    struct problems unheard;
    problems_init(&unheard);
    if (request->at - device.seen_at >= SEEN_SECONDS &&
        access_store_seen(access->db, device.id, request->at, &unheard) != STATUS_OK)
        (void)db_trouble_taken(access->db, &unheard);
    problems_free(&unheard);
    return STATUS_OK;
}

enum access_verdict access_judge(struct access *access, const struct access_request *request,
                                 struct visitor *visitor, struct problems *problems) {
    bool guarded = true;
    enum access_role role = needed(request);
    memset(visitor, 0, sizeof *visitor);
    enum status status = access_store_any(access->db, &guarded, problems);
    if (status == STATUS_OK && !guarded && !request->forwarded) {
        visitor->role = ACCESS_MANAGER;
        return ACCESS_ALLOWED;
    }
    if (status == STATUS_OK)
        status = find_device(access, request, visitor, problems);
    if (is_asset(request))
        return ACCESS_ALLOWED;
    struct bucket *bucket = bucket_of(access, request, visitor->device);
    if (bucket->asks < 1)
        return ACCESS_TOO_OFTEN;
    bucket->asks -= 1;
    if (status != STATUS_OK && status != STATUS_NOT_FOUND)
        return ACCESS_FAILED;
    if (visitor->role != ACCESS_NOBODY)
        return visitor->role >= role ? ACCESS_ALLOWED : ACCESS_ROLE;
    if (request->token != NULL)
        access_note_failure(access, request);
    if (bucket->misses < 1)
        return ACCESS_TOO_OFTEN;
    return role == ACCESS_NOBODY ? ACCESS_ALLOWED : ACCESS_LOGIN;
}

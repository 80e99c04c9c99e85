/* Who may: a visitor's token, what their role lets them do, and how often anybody may ask. Free of the HTTP
 * library.
 *
 * As long as nobody was ever invited, and the page is on this machine only, everybody who reaches it is its
 * manager. From the first invitation on every request has to bring the token of a device. */
#ifndef WATERTURN_ACCESS_H
#define WATERTURN_ACCESS_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/store/access_store.h"

/* 32 and 16 random bytes in URL-safe base64. */
#define ACCESS_TOKEN_SIZE   44
#define ACCESS_CODE_SIZE    23
#define ACCESS_PEER_SIZE    16
#define ACCESS_COOKIE       "waterturn"
#define ACCESS_COOKIE_TLS   "__Host-waterturn" /* browsers take a cookie of this name from https only */
#define ACCESS_LINK_SECONDS (15 * 60)

struct visitor {
    long long device; /* 0: nobody has to say who they are here */
    enum access_role role;
    char name[FARM_NAME_SIZE]; /* whose device it is; "" as above */
};

struct access_request {
    const char *path;                     /* still percent-encoded */
    const char *token;                    /* of the cookie or the Authorization header; NULL: none */
    bool reads;                           /* GET and HEAD */
    bool forwarded;                       /* a proxy passed it on */
    unsigned char peer[ACCESS_PEER_SIZE]; /* where it came from: an IPv6 address, or an IPv4 one mapped */
    int64_t at;                           /* seconds since 1970-01-01 UTC */
    int64_t now_ms;                       /* of a clock that never goes back */
};

enum access_verdict {
    ACCESS_ALLOWED,
    ACCESS_LOGIN,     /* no token that is known (401) */
    ACCESS_ROLE,      /* known, but this is for others (403) */
    ACCESS_TOO_OFTEN, /* (429) */
    ACCESS_FAILED     /* the database refused (500) */
};

struct access;

/* `db`: a connection that may write, of the thread that calls access_judge(). NULL: no memory. */
struct access *access_new(struct db *db);
void access_free(struct access *access);

/* `visitor` is filled whenever the verdict is ACCESS_ALLOWED or ACCESS_ROLE. */
enum access_verdict access_judge(struct access *access, const struct access_request *request,
                                 struct visitor *visitor, struct problems *problems);

/* Notes that a guess at a link's code failed: a peer that guesses is slowed down. */
void access_note_failure(struct access *access, const struct access_request *request);

/* A fresh token or code, and its hash. */
void access_make_token(char out[ACCESS_TOKEN_SIZE], unsigned char hash[ACCESS_HASH_SIZE]);
void access_make_code(char out[ACCESS_CODE_SIZE], unsigned char hash[ACCESS_HASH_SIZE]);
/* The hash of any text that came as one. */
void access_hash(const char *text, unsigned char hash[ACCESS_HASH_SIZE]);

#endif

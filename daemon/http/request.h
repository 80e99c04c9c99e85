/* What was asked and what is answered, free of the HTTP library: routes.c turns one into the other. */
#ifndef WATERTURN_REQUEST_H
#define WATERTURN_REQUEST_H

#include <stdbool.h>

#include "daemon/base/asset.h"
#include "daemon/base/text.h"
#include "daemon/farm/farm.h"
#include "daemon/http/server.h"
#include "daemon/view/fill.h"
#include "daemon/view/words.h"

enum units_wish { UNITS_OF_FARM, UNITS_METRIC, UNITS_US };

struct visitor;

struct request {
    const struct server_data *data;
    const char *path;          /* still percent-encoded */
    const struct words *words; /* of the visitor's language */
    enum units_wish units;
    const char *version;           /* of the assets: stands in their links */
    bool versioned;                /* the link had one */
    char name[FARM_NAME_SIZE];     /* what stood where the route has its first '*' */
    char part[FARM_NAME_SIZE];     /* and its second */
    const struct fill *query;      /* what stood behind the '?'; NULL: not kept */
    struct fill *form;             /* what was posted; NULL: nothing was */
    const struct visitor *visitor; /* who asks (access.h); NULL: nobody was asked who they are */
    bool tls;                      /* over https */
    bool http_1_0;                 /* by the protocol that browsers left behind */
    const char *host, *accept;     /* those headers; NULL: none */
};

struct reply {
    unsigned status; /* of HTTP */
    const char *type;
    const char *disposition;                 /* NULL: none */
    bool lasting;                            /* never changes under its link */
    const struct asset *asset;               /* what the body is, when it is one; the body then stays empty */
    char location[3 * FARM_NAME_SIZE + 128]; /* of a status 303; "": none */
    char cookie[192];                        /* to be set; "": none */
    bool missed;                             /* a code was guessed, and is none */
    bool keeps; /* its bytes come from what struct kept_key has, and nothing else (kept.h) */
    bool wakes; /* it wants a morning at once: page_data.wake(), made apart */
    struct text body;
    struct problems problems; /* what to report when status is 500 */
};

void reply_init(struct reply *reply);
void reply_free(struct reply *reply);

/* Whether a page, or a form that was sent to it, computes so much that it is better made apart (apart.h). */
bool routes_apart(const char *path, bool posted);
/* Whether a page grows with the farm, so that a large farm's is better made apart too. */
bool routes_grows(const char *path);

/* Answers a GET, or a POST when there is a form. */
void routes_answer(struct request *request, struct reply *reply);

/* What came of a handler goes into the reply: of anything but STATUS_OK an error, with what the database said
 * in `problems`. */
void routes_finish(const struct request *request, enum status status, struct reply *reply);

/* An error in the house look; `key` as in view_error(). */
void routes_refuse(const struct request *request, unsigned status, const char *key, struct reply *reply);

/* Whether a text is UTF-8 without control characters; `lines`: line ends and tabs may be in it. */
bool request_clean(const char *text, bool lines);

/* Of the head with which `waterturn page --head` begins: the HTTP status, the type, the disposition, where
 * the browser is sent on to ("": none), and "wake" when a morning is wanted at once; a line each. */
#define PAGE_HEAD_SIZE 512

/* Percent-encodes a text, as a path or a query has it. */
void request_encode(const char *text, struct text *out);

/* Puts one NAME=VALUE of what stands behind the '?' into a fill, decoded; what cannot be decoded is left out.
 */
void request_add_query(struct fill *query, const char *name, const char *value);

/* A fill as NAME=VALUE&..., and back; what went wrong in between is told by false. `text` is taken apart. */
void request_write_fill(const struct fill *fill, struct text *out);
bool request_read_fill(char *text, struct fill *fill);

/* Undoes percent-encoding. False when it is malformed, does not fit, or gives what is not UTF-8 or has a
 * control character in it. */
bool request_decode(const char *from, size_t size, char *out, size_t room);

#endif

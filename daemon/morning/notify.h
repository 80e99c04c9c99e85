/* Sends one message: by mail (SMTP, through libcurl) or to a webhook (JSON by POST). */
#ifndef WATERTURN_NOTIFY_H
#define WATERTURN_NOTIFY_H

#include <stdbool.h>
#include <stdint.h>

#include "core/base/status.h"
#include "daemon/base/text.h"

/* What came of it. A message that may have arrived is not sent again. */
enum notify_outcome {
    NOTIFY_DONE,
    NOTIFY_LATER,   /* it did not arrive, and may when it is tried again */
    NOTIFY_REFUSED, /* it will never be taken as it is */
    NOTIFY_UNSURE   /* it went out whole, and no answer came */
};

struct notify_mail {
    const char *server;    /* "smtps://mail.example:465", or "smtp://mail.example:587" with TLS demanded */
    bool plain;            /* no TLS is demanded of smtp:// */
    const char *authority; /* a file of certificates that vouch for the server's; NULL: those of the system */
    const char *login;     /* "user:password"; NULL: none */
    const char *from, *to, *subject, *body;
    const char *id; /* the same for each try of a message, so that a program can know it */
    int64_t at;
};

/* `trouble` gets why it was not NOTIFY_DONE, in one line. */
enum notify_outcome notify_mail(const struct notify_mail *mail, struct text *trouble);

struct notify_webhook {
    const char *address, *data;
    const char *token; /* "Authorization: Bearer"; NULL: none. Only by https, or to this machine */
    const char *id;
};
/* `retry_after_s`: as the server asked; 0. */
enum notify_outcome notify_webhook(const struct notify_webhook *webhook, int64_t *retry_after_s,
                                   struct text *trouble);

/* A header's value as it goes over the wire: text that is not ASCII in encoded words (RFC 2047). */
void notify_encode_header(const char *value, struct text *out);

/* How long to wait after the n-th try (from 1), s: 1 min, 5 min, 15 min, then an hour. */
int64_t notify_wait_s(int tries);

#endif

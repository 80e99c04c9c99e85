/* What people are told by mail and webhook: the calls of a morning, and a call that has changed since. */
#ifndef WATERTURN_DIGEST_H
#define WATERTURN_DIGEST_H

#include "daemon/view/view.h"

struct digest {
    struct text subject, body, data; /* data: JSON */
};
void digest_init(struct digest *digest);
void digest_free(struct digest *digest);

/* All calls. `link`: of the page; NULL: none is given. False: no memory. */
bool digest_morning(const struct view_context *context, const struct field_morning *mornings, size_t count,
                    const char *link, struct digest *out);

/* One field whose call was `before` when it was told last. */
bool digest_change(const struct view_context *context, const struct field_morning *morning,
                   enum call_kind before, const char *link, struct digest *out);

/* Whether a change is worth a message of its own: to or from "water today", or to "cannot say". */
bool digest_urgent(enum call_kind before, enum call_kind now);

#endif

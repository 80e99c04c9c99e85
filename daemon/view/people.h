/* View models of who may come in. */
#ifndef WATERTURN_PEOPLE_H
#define WATERTURN_PEOPLE_H

#include "daemon/store/access_store.h"
#include "daemon/view/view.h"

struct people_facts {
    const struct access_device *device;
    size_t count;
    long long own;        /* the device that asks; 0: none */
    int64_t now;          /* seconds since 1970-01-01 UTC */
    const char *token;    /* of the forms */
    const char *link;     /* of an invitation just made; NULL: none was */
    const char *link_for; /* the name in it */
    enum access_role link_role;
    int link_minutes;
    const char *problem;   /* what is wrong with a form that was sent; NULL: nothing */
    const char *name;      /* as it was sent */
    enum access_role role; /* likewise; ACCESS_NOBODY: none was */
};
cJSON *view_people(const struct view_context *context, const struct people_facts *facts);

/* The page behind a one-time link; `invited` NULL: the link is not taken (any more). */
cJSON *view_pair(const struct view_context *context, const struct access_device *invited, const char *action);

#endif

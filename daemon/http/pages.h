/* What the files that answer requests share: the faces of a view model, and the farm as a view wants it. */
#ifndef WATERTURN_PAGES_H
#define WATERTURN_PAGES_H

#include <cjson/cJSON.h>

#include "daemon/http/request.h"

/* Prints the view (JSON), or renders its page. Takes the view; NULL stands for no memory. */
enum status pages_show(const struct request *request, cJSON *view, const char *page, struct reply *reply);

struct farm_view {
    const struct server_data *data;
    struct field_morning
        *mornings; /* of all fields, some without their days past and ahead: farm_view_morning() */
    bool *whole;   /* which of them are whole; NULL: all */
    size_t count;
    struct farm_facts facts;
    struct view_context context;
};

enum status farm_view_open(const struct request *request, struct farm_view *view);
/* The same, also of an empty book, which has no name and no mornings. */
enum status farm_view_begin(const struct request *request, struct farm_view *view);
/* Its facts alone, without the mornings; also of an empty book. For pages with a book (server_data.book). */
enum status farm_view_head(const struct request *request, struct farm_view *view);
void farm_view_close(const struct request *request, struct farm_view *view);
/* Makes one of them whole. What cannot be read is left out, as of a field of which nothing is known. */
void farm_view_fill(const struct farm_view *view, size_t index);
/* NULL: there is none. Whole. */
const struct field_morning *farm_view_morning(const struct farm_view *view, const char *field);

#endif

/* What the forms that remove something have in common: a page that says what goes, and the name to be
 * written before it does. */
#ifndef WATERTURN_FORM_REMOVAL_H
#define WATERTURN_FORM_REMOVAL_H

#include "daemon/http/form_edit.h"

#define REMOVAL_LINES 21
#define REMOVAL_LINKS 21

/* What the page says; kept in edit->kept. */
struct removal {
    char title[SAY_SIZE], about[2 * SAY_SIZE], confirm[SAY_SIZE];
    char text[REMOVAL_LINES][SAY_SIZE];
    const char *line[REMOVAL_LINES];
    char path[REMOVAL_LINKS][FRAME_PATH_SIZE];
    struct form_option link[REMOVAL_LINKS];
    bool named;                                       /* the name is to be written */
    enum { SOIL_STAYS, SOIL_GOES, SOIL_CHOSEN } soil; /* of a field that is removed; */
    char soil_left[SAY_SIZE];                         /* with SOIL_CHOSEN what is asked */
};

/* Title, button, and where it leads: of "/field/", "East". NULL: no memory. */
struct removal *removal_begin(struct edit *edit, const char *kind, const char *name);

/* A line of what goes. Those past REMOVAL_LINES are left out. */
void removal_line(struct edit *edit, const char *key, const struct words_hole *holes, size_t count);
/* The same with the hole {n}; none of 0. */
void removal_count(struct edit *edit, const char *key, int n);

/* A link, to "/field/" "East" "/settings". Those past REMOVAL_LINKS are left out. */
void removal_link(struct edit *edit, const char *before, const char *name, const char *after,
                  const char *text);

/* Asks for the name to be written, and offers a copy of the book first. */
void removal_ask(struct edit *edit, const char *name);

/* A removal has nothing to fill in but the name. */
void removal_show(struct edit *edit);
void removal_inputs(struct edit *edit);
/* Whether the name was written where it is asked for; refuses the input if not. */
void removal_read(struct edit *edit, const char *name);

#endif

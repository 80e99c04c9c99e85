/* The frame of the forms that change what is not a record: the farm is read, the form is shown with what is
 * there, or read back and written. Each form is a struct edit_form. */
#ifndef WATERTURN_FORM_EDIT_H
#define WATERTURN_FORM_EDIT_H

#include "daemon/farm/library.h"
#include "daemon/http/form_inputs.h"
#include "daemon/http/forms.h"
#include "daemon/view/frame.h"

/* What a form works on. The draft is what was there, with what was sent written over it. */
struct edit {
    const struct request *request;
    struct page_data *data;
    struct farm_view view;
    struct farm farm; /* as it is; empty before the place is set */
    bool fresh;       /* the book is empty */
    int32_t today;
    struct fill own;   /* of a form that is shown first */
    struct fill *fill; /* that, or what was sent */
    struct form_page page;
    char action[FRAME_PATH_SIZE], back[FRAME_PATH_SIZE];
    struct library *library; /* opened by those that need it */
    struct form_option *options[8];
    size_t option_lists;
    void *kept;                    /* text that options are in */
    char removal[FRAME_PATH_SIZE]; /* where what is shown can be removed, */
    struct form_option below;      /* and the words of that, under the form */

    struct farm head; /* only its own row */
    struct farm_station station;
    struct farm_source source;
    struct farm_soil soil;
    struct farm_supply supply;
    struct farm_field field;
    struct farm_planting planting;
    bool has_soil, has_planting;
    size_t index; /* of the entry that is edited; SIZE_MAX: a new one */
    struct book_edit book;
};

struct edit_form {
    bool may_be_empty; /* may be used before there is a farm */
    bool runs;         /* asks for a morning at once */
    const char *then;  /* where the browser goes on; NULL: to what the form did */
    const char *wrong; /* words of what is wrong with an input; NULL: "form.wrong" */
    /* Finds the entry, sets action, back, title and words. STATUS_NOT_FOUND. */
    enum status (*open)(struct edit *edit);
    /* Fills the form from the draft. */
    void (*show)(struct edit *edit);
    /* The inputs, with their lists. */
    void (*inputs)(struct edit *edit);
    /* Reads what was sent into the draft and sets up `book`. */
    void (*read)(struct edit *edit);
    /* Where a problem of check_farm() belongs: "area" of "fields[2].area". Ends with NULL. */
    const char *const (*places)[2];
};

/* The library, opened when first asked for; NULL: it cannot be. */
struct library *edit_library(struct edit *edit);

/* A name that stands in its language's words as PREFIX.NAME, else the name itself. */
const char *edit_word(const struct edit *edit, const char *prefix, const char *name);

/* A soil's name; that of one which was chosen as a texture is a word. */
const char *edit_soil(const struct edit *edit, const struct farm_soil *soil);

/* A link under the form to the page that removes what it shows: of "/field/", "East". */
void edit_link_removal(struct edit *edit, const char *kind, const char *name, const char *text,
                       const char *label);

/* Answers GET and POST of a form. */
enum status edit_answer(const struct request *request, const struct edit_form *form, struct reply *reply);

/* An array of options that lasts as long as the edit; NULL: no memory, or too many lists. */
struct form_option *edit_options(struct edit *edit, size_t count);

/* Writes a number as people read it, in at most six digits, with its unit: NaN leaves the input empty. */
void edit_number(struct edit *edit, const char *name, double value, const char *unit);
/* The same, from the unit of core/ to that of the visitor. */
void edit_quantity(struct edit *edit, const char *name, double si, const char *us, const char *metric);

#endif

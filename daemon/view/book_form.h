/* The view model of a form: one for all of them, so that they look and behave alike. */
#ifndef WATERTURN_BOOK_FORM_H
#define WATERTURN_BOOK_FORM_H

#include "daemon/view/fill.h"
#include "daemon/view/view.h"

enum input_kind {
    INPUT_TEXT,
    INPUT_NUMBER, /* a number, with the unit that `option` offers (none: without) */
    INPUT_DATE,
    INPUT_PICK,   /* one of `option`, in a list that opens */
    INPUT_CHOOSE, /* one of `option`, all of them in sight */
    INPUT_SEARCH, /* free text with `option` as proposals */
    INPUT_LINES,  /* text of several lines */
    INPUT_HIDDEN,
    INPUT_DAYS, /* any of `option`: their values, each with a blank after it, in one text */
    INPUT_PART  /* not an input: a heading for those that follow; the words of form.NAME */
};

struct form_option {
    const char *value, *text; /* text NULL: the value is shown */
};

/* The words of form.NAME are its label, those of form.NAME.hint (if there are any) the hint below it. The
 * unit of a number is an input of its own, named NAME_unit. */
struct form_input {
    const char *name;
    enum input_kind kind;
    const struct form_option *option;
    size_t option_count;
    const char *label; /* NULL: the words */
    const char *hint;  /* NULL: the words */
    bool optional;
    bool below_zero; /* of a number: the keypad needs a minus, which that of decimals lacks on some phones */
    const char
        *groups[2]; /* of INPUT_PICK: headings of the options up to `first_of_second`, and from it on */
    size_t first_of_second;
};

#define FORM_INPUTS_MAX 128

struct form_page {
    const char *title, *about;           /* about NULL: none */
    const char *action, *token, *submit; /* submit NULL: it cannot be sent */
    const char *back, *back_text;
    const char *problem;            /* what is wrong with all of it; NULL: nothing */
    const struct form_option *link; /* forms beside it: address and words */
    size_t link_count, link_current;
    const char *link_label; /* what they are */
    bool links_below;       /* under the form, since they take away what it is about */
    const char *source;     /* what it rests on; NULL: nothing to say */
    const char *list_text;  /* what the list says; NULL: no list */
    const char *const *list;
    size_t list_count;
    const char *caution;                  /* what to think of first; NULL: nothing */
    const char *note;                     /* what to do first, NULL: nothing, */
    struct form_option does;              /* and the link that does it */
    const char *undo_action, *undo_token; /* takes back what is corrected; NULL: nothing is */
    struct form_input input[FORM_INPUTS_MAX];
    size_t count;
    const struct fill *fill;
};

void form_add(struct form_page *page, const char *name, enum input_kind kind,
              const struct form_option *option, size_t option_count, bool optional);

/* Its inputs alone, as the list "inputs". */
void view_form_inputs(const struct view_context *context, const struct form_page *page, cJSON *view);

cJSON *view_form(const struct view_context *context, const struct form_page *page);

#endif

/* What all forms have in common: their token, sending the browser on, and what is said when the book cannot
 * be written; and the functions of the routes that have forms. */
#ifndef WATERTURN_FORMS_H
#define WATERTURN_FORMS_H

#include "daemon/http/page_data.h"
#include "daemon/http/pages.h"
#include "daemon/morning/book.h"
#include "daemon/view/book_form.h"

/* A token: 16 bytes that name this one sending, 16 that only this database can have made for this action; all
 * in hexadecimal. */
#define FORM_TOKEN_SIZE (2 * (ENTRY_TOKEN_SIZE - 1) + 1)

/* A fresh token for a form that is sent to `action`. */
void form_token_fresh(const struct page_data *data, const char *action, char out[FORM_TOKEN_SIZE]);
/* The token of one certain sending: the same `sending` gives the same token. */
void form_token_of(const struct page_data *data, const char *action, const char *sending,
                   char out[FORM_TOKEN_SIZE]);
/* Whether the database made the token for this action; its first half goes to `id`. */
bool form_token_good(const struct page_data *data, const char *action, const char *token,
                     char id[ENTRY_TOKEN_SIZE]);

/* Shows a form; a fresh token unless the sent one is good. */
enum status form_show(const struct request *request, const struct farm_view *farm, struct form_page *page,
                      struct reply *reply);

/* A form that came in. */
struct form_sent {
    struct book_form book; /* its token is `id` */
    char id[ENTRY_TOKEN_SIZE];
};
/* STATUS_REFUSED: its token is not of this page: the caller shows the form again with "form.stale". */
enum status form_open(const struct request *request, const char *action, struct form_sent *sent);

/* Sends the browser on (303). */
enum status form_go(struct reply *reply, const char *link);

/* What to say when the book refused `status`: words for the page in `page->problem` (kept in `room`), the
 * HTTP status in the reply, the details for the log. STATUS_OK: say it on the form; else what the request
 * ends with. */
enum status form_trouble(const struct request *request, enum status status, struct problems *problems,
                         char room[FARM_TEXT_SIZE], struct reply *reply);

/* ---- routes ---- */

/* Those with a form answer GET and POST. */
enum status record_form(const struct request *request, struct reply *reply);
enum status feel_form(const struct request *request, struct reply *reply);
enum status undo_take(const struct request *request, struct reply *reply);
enum status entry_show(const struct request *request, struct reply *reply);

enum status place_form(const struct request *request, struct reply *reply);
/* The farm book as a farm file. */
enum status farm_file_take(const struct request *request, struct reply *reply);
enum status source_form(const struct request *request, struct reply *reply);
enum status field_new_form(const struct request *request, struct reply *reply);
enum status field_removal_form(const struct request *request, struct reply *reply);
enum status field_settings_form(const struct request *request, struct reply *reply);
enum status supply_form(const struct request *request, struct reply *reply);
enum status source_removal_form(const struct request *request, struct reply *reply);
enum status supply_removal_form(const struct request *request, struct reply *reply);
enum status soil_form(const struct request *request, struct reply *reply);
enum status planting_form(const struct request *request, struct reply *reply);

/* Runs the morning at once. */
enum status morning_take(const struct request *request, struct reply *reply);

/* The steps to the first call, in place of Today until there is one. */
enum status start_show(const struct request *request, struct farm_view *farm, struct reply *reply);

/* ---- what other pages get from here ---- */

/* Beside each field that is to be watered today a button that records it as called. */
void forms_add_done(const struct request *request, const struct farm_view *farm, cJSON *view);
/* On the page of the sources: links to change one, and to add one. */
void forms_add_sources(const struct request *request, cJSON *view);
/* On a field's page: links to its forms, and its newest records. */
enum status forms_add_records(const struct request *request, const struct farm_view *farm, cJSON *view);

#endif

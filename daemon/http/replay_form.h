/* The form of the Replay page, which is a link too: what stands in it, and what that asks for. */
#ifndef WATERTURN_REPLAY_FORM_H
#define WATERTURN_REPLAY_FORM_H

#include "daemon/http/request.h"
#include "daemon/view/replay_page.h"

/* Takes the inputs of the form out of a query, those that are not empty. */
void replay_form_take(const struct fill *query, struct fill *fill);

/* What they ask for; `request->form` is that fill. What is wrong goes beside its input. `us`: a bare amount
 * is in US units. */
void replay_form_read(const struct request *request, bool us, struct replay_wish *wish);

/* Sets up the inputs of worth and cost; amounts in other units than the reader's are converted. */
void replay_form_show(const struct request *request, const struct view_context *context,
                      const struct replay_wish *wish, struct form_page *page);

/* Puts what was wrong beside its input, in the reader's words; what has none goes into `rest`. */
void replay_form_refuse(const struct request *request, const struct replay_wish *wish,
                        const struct problems *problems, struct text *rest);

#endif

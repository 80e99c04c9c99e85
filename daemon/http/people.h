/* The pages of who may come in: the list for the manager, and the one behind a one-time link. */
#ifndef WATERTURN_HTTP_PEOPLE_H
#define WATERTURN_HTTP_PEOPLE_H

#include "daemon/http/request.h"

/* GET and POST each. */
enum status people_page(const struct request *request, struct reply *reply);
enum status pair_page(const struct request *request, struct reply *reply);

/* Room for the link of a code behind an address. */
#define PEOPLE_LINK_SIZE 320

#endif

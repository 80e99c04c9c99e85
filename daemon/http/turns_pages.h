/* The routes of the turns. */
#ifndef WATERTURN_TURNS_PAGES_H
#define WATERTURN_TURNS_PAGES_H

#include "daemon/http/request.h"

enum status turns_page(const struct request *request, struct reply *reply);

#endif

/* The pages of one field, and its ledger as CSV. */
#ifndef WATERTURN_FIELD_PAGES_H
#define WATERTURN_FIELD_PAGES_H

#include "daemon/http/request.h"

enum status field_page(const struct request *request, struct reply *reply);
enum status field_ledger(const struct request *request, struct reply *reply);
enum status field_workings(const struct request *request, struct reply *reply);
enum status field_ledger_csv(const struct request *request, struct reply *reply);

#endif

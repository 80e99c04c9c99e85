/* The Replay page, a GET form, and its downloads: picture, CSV, JSON. Each names how it was made. */
#ifndef WATERTURN_REPLAY_PAGES_H
#define WATERTURN_REPLAY_PAGES_H

#include "daemon/http/request.h"

enum status replay_page(const struct request *request, struct reply *reply);
enum status replay_picture(const struct request *request, struct reply *reply);
enum status replay_csv(const struct request *request, struct reply *reply);
enum status replay_json(const struct request *request, struct reply *reply);

#endif

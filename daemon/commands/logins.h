/* Which sources have a login or a key: their names alone, for the pages (page_data.with_login). */
#ifndef WATERTURN_LOGINS_H
#define WATERTURN_LOGINS_H

#include "daemon/commands/command.h"

/* A list that ends with NULL. What is wrong with the credentials file is told as by option_ingest(). */
enum status logins_take(const struct options *options, char ***out, struct problems *problems);
/* NULL is allowed. */
void logins_free(char **names);

#endif

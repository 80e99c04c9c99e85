#include "daemon/commands/logins.h"

#include <stdlib.h>
#include <string.h>

void logins_free(char **names) {
    for (char **name = names; name != NULL && *name != NULL; name++)
        free(*name);
    free(names);
}

enum status logins_take(const struct options *options, char ***out, struct problems *problems) {
    struct credentials *credentials = NULL;
    struct ingest_options ingest;
    size_t count = 0;
    enum status status = option_ingest(options, &ingest, &credentials, problems);
    while (credentials_source(credentials, count) != NULL)
        count++;
    char **names = status == STATUS_OK ? calloc(count + 1, sizeof *names) : NULL;
    if (status == STATUS_OK && names == NULL)
        status = STATUS_NO_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        names[i] = strdup(credentials_source(credentials, i));
        status = names[i] != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    }
    credentials_free(credentials);
    if (status == STATUS_OK)
        *out = names;
    else
        logins_free(names);
    return status;
}

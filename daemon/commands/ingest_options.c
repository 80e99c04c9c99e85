#include <stdlib.h>
#include <string.h>

#include "daemon/commands/command.h"

enum status option_ingest(const struct options *options, struct ingest_options *out,
                          struct credentials **credentials, struct problems *problems) {
    double tries = 0;
    memset(out, 0, sizeof *out);
    enum status status = option_number(options, "--tries", 1, 10, DOWNLOAD_TRIES_DEFAULT, &tries, problems);
    const char *path = option_value(options, "--credentials");
    if (path == NULL)
        path = getenv("WATERTURN_CREDENTIALS");
    if (status == STATUS_OK && path != NULL && path[0] != '\0')
        status = credentials_read(path, credentials, problems);
    out->policy.tries = (int)tries;
    out->credentials = *credentials;
    return status;
}

#include <stdlib.h>
#include <string.h>

#include "daemon/commands/command.h"

const char *option_config(const struct options *options) {
    const char *path = option_value(options, "--config");
    if (path == NULL)
        path = getenv("WATERTURN_CONFIG");
    return path != NULL && path[0] != '\0' ? path : NULL;
}

enum status option_settings(const struct options *options, struct settings *out, struct problems *problems) {
    const char *path = option_config(options);
    settings_default(out);
    return path != NULL ? settings_read(path, out, problems) : STATUS_OK;
}

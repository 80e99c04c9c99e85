#include "daemon/source/layout_find.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/file.h"

#define LAYOUT_FILE_MAX ((size_t)1 << 20)

enum status layout_find(const char *name, struct layout **out, struct problems *problems) {
    const char *directory = getenv("WATERTURN_LAYOUTS");
    struct text path;
    text_init(&path, 0);
    /* A name is a file's name, never a path out of the directory. */
    if (directory != NULL && directory[0] != '\0' && strchr(name, '/') == NULL)
        text_printf(&path, "%s/%s.json", directory, name);
    enum status status;
    if (path.size > 0 && access(text_string(&path), F_OK) == 0) {
        char *json = NULL;
        size_t size = 0;
        status = file_read(text_string(&path), LAYOUT_FILE_MAX, &json, &size, problems);
        if (status == STATUS_OK)
            status = layout_parse(text_string(&path), json, size, out, problems);
        free(json);
    } else {
        status = layout_builtin(name, out, problems);
    }
    text_free(&path);
    return status;
}

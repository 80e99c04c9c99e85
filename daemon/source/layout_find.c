#include "daemon/source/layout_find.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/file.h"

#define LAYOUT_FILE_MAX ((size_t)1 << 20)

enum status layout_find_file(const char *name, char **json, size_t *size, struct text *path,
                             struct problems *problems) {
    const char *directory = getenv("WATERTURN_LAYOUTS");
    /* A name is a file's name, never a path out of the directory. */
    if (directory != NULL && directory[0] != '\0' && strchr(name, '/') == NULL)
        text_printf(path, "%s/%s.json", directory, name);
    if (path->size == 0 || access(text_string(path), F_OK) != 0)
        return STATUS_NOT_FOUND;
    return file_read(text_string(path), LAYOUT_FILE_MAX, json, size, problems);
}

enum status layout_find(const char *name, struct layout **out, struct problems *problems) {
    char *json = NULL;
    size_t size = 0;
    struct text path;
    text_init(&path, 0);
    enum status status = layout_find_file(name, &json, &size, &path, problems);
    if (status == STATUS_OK)
        status = layout_parse(text_string(&path), json, size, out, problems);
    else if (status == STATUS_NOT_FOUND)
        status = layout_builtin(name, out, problems);
    free(json);
    text_free(&path);
    return status;
}

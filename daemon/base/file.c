#include "daemon/base/file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static enum status read_stream(FILE *stream, const char *path, size_t limit, struct text *text,
                               struct problems *problems) {
    char block[65536];
    size_t count;
    while ((count = fread(block, 1, sizeof block, stream)) > 0) {
        text_add(text, block, count);
        if (text_failed(text)) {
            problem_add(problems, path, 0, 0, NULL, "found more than %zu bytes, expected at most that",
                        limit);
            return STATUS_NO_ROOM;
        }
    }
    if (ferror(stream)) {
        problem_add(problems, path, 0, 0, NULL, "cannot be read: %s", strerror(errno));
        return STATUS_IO;
    }
    return STATUS_OK;
}

enum status file_read(const char *path, size_t limit, char **bytes, size_t *size, struct problems *problems) {
    bool standard = strcmp(path, "-") == 0;
    FILE *stream = standard ? stdin : fopen(path, "rb");
    if (stream == NULL) {
        problem_add(problems, path, 0, 0, NULL, "cannot be opened: %s", strerror(errno));
        return errno == ENOENT ? STATUS_NOT_FOUND : STATUS_IO;
    }
    struct text text;
    text_init(&text, limit);
    enum status status = read_stream(stream, path, limit, &text, problems);
    if (!standard)
        fclose(stream);
    size_t length = text.size;
    char *data = status == STATUS_OK ? text_take(&text) : NULL;
    text_free(&text);
    if (status == STATUS_OK && data == NULL)
        return STATUS_NO_MEMORY;
    *bytes = data;
    *size = length;
    return status;
}

static enum status write_trouble(const char *path, struct problems *problems) {
    problem_add(problems, path, 0, 0, NULL, "cannot be written: %s", strerror(errno));
    return STATUS_IO;
}

/* A farm's book is not what anybody means to write over: an argument is at the wrong place. */
static enum status refuse_database(const char *path, struct problems *problems) {
    static const char mark[] = "SQLite format 3"; /* of SQLite's file format, section 1.3 */
    char head[sizeof mark] = "";
    FILE *stream = fopen(path, "rb");
    if (stream == NULL)
        return STATUS_OK;
    bool database =
        fread(head, 1, sizeof head, stream) == sizeof head && memcmp(head, mark, sizeof head) == 0;
    (void)fclose(stream);
    if (!database)
        return STATUS_OK;
    problem_add(problems, path, 0, 0, NULL,
                "found a database, expected another file to write to; it was not changed");
    return STATUS_REFUSED;
}

enum status file_write(const char *path, const char *bytes, size_t size, struct problems *problems) {
    if (strcmp(path, "-") == 0)
        return fwrite(bytes, 1, size, stdout) == size ? STATUS_OK : write_trouble(path, problems);
    enum status status = refuse_database(path, problems);
    if (status != STATUS_OK)
        return status;
    struct text name;
    text_init(&name, 0);
    text_printf(&name, "%s.new", path);
    FILE *stream = text_failed(&name) ? NULL : fopen(text_string(&name), "wb");
    if (stream == NULL) {
        status = write_trouble(path, problems);
    } else {
        bool bad =
            fwrite(bytes, 1, size, stream) != size || fflush(stream) != 0 || fsync(fileno(stream)) != 0;
        bad = fclose(stream) != 0 || bad;
        if (bad || rename(text_string(&name), path) != 0) {
            status = write_trouble(path, problems);
            (void)unlink(text_string(&name));
        }
    }
    text_free(&name);
    return status;
}

char *file_directory(const char *path) {
    const char *slash = strrchr(path, '/');
    if (slash == NULL)
        return strdup(".");
    return slash == path ? strdup("/") : strndup(path, (size_t)(slash - path));
}

#include "daemon/source/credentials.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define FILE_SIZE_MAX ((size_t)1 << 20)

struct entry {
    char *source, *login, *token, *key;
};

struct credentials {
    struct entry *entry;
    size_t count;
};

/* explicit_bzero(): a plain memset() before free() may be left out by the compiler. */
static void wipe(char *text) {
    if (text != NULL)
        explicit_bzero(text, strlen(text));
    free(text);
}

void credentials_free(struct credentials *credentials) {
    if (credentials == NULL)
        return;
    for (size_t i = 0; i < credentials->count; i++) {
        free(credentials->entry[i].source);
        wipe(credentials->entry[i].login);
        wipe(credentials->entry[i].token);
        wipe(credentials->entry[i].key);
    }
    free(credentials->entry);
    free(credentials);
}

/* ---- the file ---- */

static enum status judge_file(const char *path, int file, size_t *size, struct problems *problems) {
    struct stat about;
    if (fstat(file, &about) != 0 || !S_ISREG(about.st_mode)) {
        problem_add(problems, path, 0, 0, NULL, "found no regular file, expected the credentials file");
        return STATUS_REFUSED;
    }
    if ((about.st_mode & (S_IRWXG | S_IRWXO)) != 0 || (about.st_uid != geteuid() && about.st_uid != 0)) {
        problem_add(problems, path, 0, 0, NULL,
                    "found a credentials file that others may read or write (mode %03o), expected one of the "
                    "user of this program alone: `chmod 600 %s`",
                    (unsigned)about.st_mode & 0777U, path);
        return STATUS_REFUSED;
    }
    if ((size_t)about.st_size > FILE_SIZE_MAX) {
        problem_add(problems, path, 0, 0, NULL, "found more than %zu bytes, expected a credentials file",
                    FILE_SIZE_MAX);
        return STATUS_REFUSED;
    }
    *size = (size_t)about.st_size;
    return STATUS_OK;
}

static enum status read_whole(const char *path, char **out, size_t *size, struct problems *problems) {
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0) {
        int why = errno;
        problem_add(problems, path, 0, 0, NULL, "cannot open the credentials file: %s", strerror(why));
        return why == ENOENT ? STATUS_NOT_FOUND : STATUS_IO;
    }
    char *bytes = NULL;
    enum status status = judge_file(path, file, size, problems);
    if (status == STATUS_OK && (bytes = calloc(*size + 1, 1)) == NULL)
        status = STATUS_NO_MEMORY;
    if (status == STATUS_OK && read(file, bytes, *size) != (ssize_t)*size) {
        problem_add(problems, path, 0, 0, NULL, "the credentials file cannot be read to its end");
        status = STATUS_IO;
    }
    (void)close(file);
    if (status == STATUS_OK)
        *out = bytes;
    else
        free(bytes);
    return status;
}

/* ---- its entries ---- */

static enum status refuse(const char *path, const char *source, const char *expected,
                          struct problems *problems) {
    problem_add(problems, path, 0, 0, source, "expected %s", expected);
    return STATUS_REFUSED;
}

static char *copy(const char *text) {
    return text != NULL ? strdup(text) : NULL;
}

static char *join_login(const char *user, const char *password) {
    size_t size = strlen(user) + strlen(password) + 2;
    char *login = malloc(size);
    if (login != NULL)
        (void)snprintf(login, size, "%s:%s", user, password);
    return login;
}

/* A line break would begin a header of its own. */
static bool is_plain(const cJSON *text) {
    for (const char *c = text != NULL ? text->valuestring : ""; *c != '\0'; c++) {
        if ((unsigned char)*c < 0x20 || *c == 0x7F)
            return false;
    }
    return true;
}

static enum status read_entry(const char *path, const cJSON *item, struct entry *entry,
                              struct problems *problems) {
    static const char form[] =
        "{\"user\": ..., \"password\": ...}, {\"token\": ...} or {\"key\": ...}, each a text";
    const cJSON *user = NULL, *password = NULL, *token = NULL, *key = NULL, *member;
    if (!cJSON_IsObject(item))
        return refuse(path, item->string, form, problems);
    cJSON_ArrayForEach(member, item) {
        const cJSON **place = strcmp(member->string, "user") == 0       ? &user
                              : strcmp(member->string, "password") == 0 ? &password
                              : strcmp(member->string, "token") == 0    ? &token
                              : strcmp(member->string, "key") == 0      ? &key
                                                                        : NULL;
        if (place == NULL || *place != NULL || !cJSON_IsString(member))
            return refuse(path, item->string, form, problems);
        *place = member;
    }
    if ((user == NULL) != (password == NULL) || (user != NULL && token != NULL) ||
        (user == NULL && token == NULL && key == NULL))
        return refuse(path, item->string, form, problems);
    if (user != NULL && strchr(user->valuestring, ':') != NULL)
        return refuse(path, item->string, "a user name without a colon", problems);
    if (!is_plain(user) || !is_plain(password) || !is_plain(token) || !is_plain(key))
        return refuse(path, item->string, "values without line breaks and control characters", problems);
    entry->source = copy(item->string);
    entry->login = user != NULL ? join_login(user->valuestring, password->valuestring) : NULL;
    entry->token = copy(cJSON_GetStringValue(token));
    entry->key = copy(cJSON_GetStringValue(key));
    bool whole = entry->source != NULL && (user == NULL || entry->login != NULL) &&
                 (token == NULL || entry->token != NULL) && (key == NULL || entry->key != NULL);
    return whole ? STATUS_OK : STATUS_NO_MEMORY;
}

static void wipe_tree(cJSON *item) {
    for (; item != NULL; item = item->next) {
        if (item->valuestring != NULL)
            explicit_bzero(item->valuestring, strlen(item->valuestring));
        wipe_tree(item->child);
    }
}

static enum status read_entries(const char *path, const cJSON *json, struct credentials *credentials,
                                struct problems *problems) {
    if (!cJSON_IsObject(json))
        return refuse(path, NULL, "a JSON object with the name of a source for each key", problems);
    credentials->entry = calloc((size_t)cJSON_GetArraySize(json) + 1, sizeof *credentials->entry);
    enum status status = credentials->entry != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    for (const cJSON *item = json->child; status == STATUS_OK && item != NULL; item = item->next) {
        for (size_t i = 0; i < credentials->count; i++) {
            if (strcmp(credentials->entry[i].source, item->string) == 0)
                return refuse(path, item->string, "each source once", problems);
        }
        status = read_entry(path, item, &credentials->entry[credentials->count++], problems);
    }
    return status;
}

enum status credentials_read(const char *path, struct credentials **out, struct problems *problems) {
    char *bytes = NULL;
    size_t size = 0;
    enum status status = read_whole(path, &bytes, &size, problems);
    if (status != STATUS_OK)
        return status;
    struct credentials *credentials = calloc(1, sizeof *credentials);
    cJSON *json = cJSON_ParseWithLength(bytes, size);
    if (credentials == NULL)
        status = STATUS_NO_MEMORY;
    else
        status = read_entries(path, json, credentials, problems);
    wipe_tree(json);
    cJSON_Delete(json);
    explicit_bzero(bytes, size);
    free(bytes);
    if (status == STATUS_OK)
        *out = credentials;
    else
        credentials_free(credentials);
    return status;
}

struct credentials_of_source credentials_find(const struct credentials *credentials, const char *source) {
    struct credentials_of_source found = {NULL, NULL, NULL};
    for (size_t i = 0; credentials != NULL && i < credentials->count; i++) {
        const struct entry *entry = &credentials->entry[i];
        if (strcmp(entry->source, source) == 0)
            found = (struct credentials_of_source){entry->login, entry->token, entry->key};
    }
    return found;
}

const char *credentials_source(const struct credentials *credentials, size_t index) {
    return credentials != NULL && index < credentials->count ? credentials->entry[index].source : NULL;
}

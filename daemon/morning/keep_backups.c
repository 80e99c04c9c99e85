#include "daemon/morning/keep_backups.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/base/calendar.h"
#include "daemon/store/backup_store.h"

#define PREFIX    "waterturn-"
#define SUFFIX    ".db"
#define FILES_MAX 1000

static int month_of(int32_t day) {
    struct calendar_civil civil = calendar_to_civil(day);
    return civil.year * 12 + civil.month;
}

bool keep_backups_keeps(const int32_t *day, size_t count, size_t index, int days, int months) {
    if (count - index <= (size_t)days)
        return true;
    if (index > 0 && month_of(day[index - 1]) == month_of(day[index]))
        return false;
    int newer = 0;
    for (size_t i = index + 1; i < count; i++)
        newer += month_of(day[i]) != month_of(day[i - 1]);
    return newer < months;
}

/* CALENDAR_NONE: no file of ours. */
static int32_t day_of_name(const char *name) {
    char iso[CALENDAR_ISO_SIZE];
    int32_t day = CALENDAR_NONE;
    size_t prefix = strlen(PREFIX), date = CALENDAR_ISO_SIZE - 1;
    if (strncmp(name, PREFIX, prefix) != 0 || strlen(name) != prefix + date + strlen(SUFFIX) ||
        strcmp(name + prefix + date, SUFFIX) != 0)
        return CALENDAR_NONE;
    memcpy(iso, name + prefix, date);
    iso[date] = '\0';
    return calendar_parse_iso(iso, &day) == STATUS_OK ? day : CALENDAR_NONE;
}

static char *path_of(const char *directory, int32_t day) {
    char iso[CALENDAR_ISO_SIZE], *path = NULL;
    if (asprintf(&path, "%s/" PREFIX "%s" SUFFIX, directory, calendar_format_iso(day, iso)) < 0)
        return NULL;
    return path;
}

static int by_day(const void *a, const void *b) {
    int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return x < y ? -1 : x > y;
}

static size_t list_days(const char *directory, int32_t day[FILES_MAX]) {
    size_t count = 0;
    DIR *stream = opendir(directory);
    if (stream == NULL)
        return 0;
    for (const struct dirent *entry; (entry = readdir(stream)) != NULL && count < FILES_MAX;) {
        day[count] = day_of_name(entry->d_name);
        count += day[count] != CALENDAR_NONE;
    }
    (void)closedir(stream);
    qsort(day, count, sizeof *day, by_day);
    return count;
}

static enum status drop_old(const char *directory, int days, int months, struct problems *problems) {
    int32_t *day = calloc(FILES_MAX, sizeof *day);
    if (day == NULL)
        return STATUS_NO_MEMORY;
    enum status status = STATUS_OK;
    size_t count = list_days(directory, day);
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        char *path = keep_backups_keeps(day, count, i, days, months) ? NULL : path_of(directory, day[i]);
        if (path != NULL && unlink(path) != 0) {
            problem_add(problems, path, 0, 0, NULL, "an old backup cannot be removed: %s", strerror(errno));
            status = STATUS_IO;
        }
        free(path);
    }
    free(day);
    return status;
}

enum status keep_backups_run(struct db *db, const char *directory, int32_t today, int days, int months,
                             struct problems *problems) {
    char *path = path_of(directory, today);
    if (path == NULL)
        return STATUS_NO_MEMORY;
    enum status status = access(path, F_OK) == 0 ? STATUS_OK : backup_store_write(db, path, problems);
    if (status == STATUS_OK)
        status = drop_old(directory, days, months, problems);
    free(path);
    return status;
}

int32_t keep_backups_newest(const char *directory) {
    int32_t newest = CALENDAR_NONE, *day = calloc(FILES_MAX, sizeof *day);
    size_t count = day != NULL ? list_days(directory, day) : 0;
    if (count > 0)
        newest = day[count - 1];
    free(day);
    return newest;
}

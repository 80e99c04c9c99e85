/* A backup each day, and how long they are kept. */
#ifndef WATERTURN_KEEP_BACKUPS_H
#define WATERTURN_KEEP_BACKUPS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/store/db.h"

/* Of backups of these days (rising), whether the one at `index` is kept: the newest `days`, and of the newest
 * `months` months that have one the first. */
bool keep_backups_keeps(const int32_t *day, size_t count, size_t index, int days, int months);

/* Writes DIRECTORY/waterturn-DATE.db unless it is there, and removes those that are not kept any more. Other
 * files are left alone. */
enum status keep_backups_run(struct db *db, const char *directory, int32_t today, int days, int months,
                             struct problems *problems);

/* The day of the newest one; CALENDAR_NONE. */
int32_t keep_backups_newest(const char *directory);

#endif

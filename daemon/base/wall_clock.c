#include "daemon/base/wall_clock.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "core/base/calendar.h"

/* The zone is the process's, and a form may change it while pages are made. */
static pthread_mutex_t zone_lock = PTHREAD_MUTEX_INITIALIZER;

void wall_clock_zone(const char *time_zone) {
    (void)pthread_mutex_lock(&zone_lock);
    if (time_zone[0] != '\0')
        (void)setenv("TZ", time_zone, 1);
    tzset();
    (void)pthread_mutex_unlock(&zone_lock);
}

bool wall_clock_knows(const char *time_zone) {
    static const char zones[] = "/usr/share/zoneinfo";
    char path[256];
    if (access(zones, R_OK) != 0)
        return true;
    int size = snprintf(path, sizeof path, "%s/%s", zones, time_zone);
    return strstr(time_zone, "..") == NULL && size < (int)sizeof path && access(path, R_OK) == 0;
}

static bool local_time(int64_t at, struct tm *local) {
    time_t instant = (time_t)at;
    (void)pthread_mutex_lock(&zone_lock);
    bool known = localtime_r(&instant, local) != NULL;
    (void)pthread_mutex_unlock(&zone_lock);
    return known;
}

struct morning_time wall_clock_of(int64_t at) {
    struct morning_time morning = {CALENDAR_NONE, at, 0};
    struct tm local;
    if (local_time(at, &local) && calendar_from_civil(local.tm_year + 1900, local.tm_mon + 1, local.tm_mday,
                                                      &morning.today) == STATUS_OK)
        morning.minute = local.tm_hour * 60 + local.tm_min;
    return morning;
}

int32_t wall_clock_zone_s(void *context, int64_t utc) {
    struct tm local;
    (void)context;
    return local_time(utc, &local) ? (int32_t)local.tm_gmtoff : 0;
}

int64_t wall_clock_running_ms(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

struct morning_time wall_clock_now(void) {
    return wall_clock_of((int64_t)time(NULL));
}

struct morning_time wall_clock_given(int32_t today) {
    struct morning_time morning = {today, (int64_t)today * 86400 + 5 * 3600, 5 * 60};
    return morning;
}

/* mktime() may take either of two hours of the same name, by what it was asked before. */
int64_t wall_clock_instant(int32_t date, int hour) {
    const int64_t day_s = 86400, utc = (int64_t)date * day_s + (int64_t)hour * 3600;
    if (!calendar_valid(date))
        return -1;
    int32_t before_s = wall_clock_zone_s(NULL, utc - day_s), after_s = wall_clock_zone_s(NULL, utc + day_s);
    int64_t first = utc - before_s, second = utc - after_s;
    bool changed = wall_clock_zone_s(NULL, first) != before_s && wall_clock_zone_s(NULL, second) == after_s;
    return changed ? second : first;
}

void wall_clock_changes(int32_t date, uint32_t *skipped, uint32_t *twice) {
    int64_t from = wall_clock_instant(date, 0);
    *skipped = *twice = 0;
    for (int hour = 0; hour < 24 && from >= 0; hour++) {
        int64_t to = wall_clock_instant(date, hour + 1);
        *skipped |= to == from ? UINT32_C(1) << hour : 0;
        *twice |= to - from >= 7200 ? UINT32_C(1) << hour : 0;
        from = to;
    }
}

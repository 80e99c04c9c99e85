/* How the daemon runs on one machine: a JSON file with comments, checked whole before anything of it is used.
 * The farm itself is in the database; logins are in the credentials file. */
#ifndef WATERTURN_SETTINGS_H
#define WATERTURN_SETTINGS_H

#include <stdbool.h>

#include "daemon/base/log.h"
#include "daemon/farm/farm.h"

#define SETTINGS_PATH_SIZE  512
#define SETTINGS_HOSTS_MAX  8
#define SETTINGS_PEOPLE_MAX 64
#define MINUTE_NONE         (-1)

/* Somebody who is told of the calls, by mail or by webhook. */
struct person {
    char name[FARM_NAME_SIZE];
    char mail[256];
    char webhook[SETTINGS_PATH_SIZE];
    char language[8];            /* "" English */
    int units;                   /* 0 those of the farm, 1 metric, 2 US */
    int digest_minute;           /* when the digest is sent; MINUTE_NONE: as soon as the morning was run */
    int quiet_from, quiet_until; /* minutes of the day between which nothing is sent; MINUTE_NONE: none */
    bool digest, urgent;
};

struct settings {
    char listen[128];  /* "" the default */
    char address[256]; /* what links to the page begin with: "https://farm.example"; "" as listen */
    char host[SETTINGS_HOSTS_MAX][256];
    const char *hosts[SETTINGS_HOSTS_MAX + 1]; /* the same as a list that NULL ends */
    int host_count;
    char certificate[SETTINGS_PATH_SIZE], key[SETTINGS_PATH_SIZE]; /* of TLS; "" plain HTTP */
    int morning_minute;                                            /* of the day, on the farm's clock */
    enum log_level log;
    char backup_directory[SETTINGS_PATH_SIZE]; /* "" none are made */
    int backup_days, backup_months;            /* how many are kept: the newest of days, and of months */
    char mail_server[256], mail_from[256];     /* "smtps://mail.example:465"; "" no mail */
    char mail_authority[SETTINGS_PATH_SIZE];   /* who vouches for its certificate, in PEM; "" those of the
                                                  system */
    bool mail_plain;                           /* without TLS, which is otherwise demanded */
    struct person person[SETTINGS_PEOPLE_MAX];
    int people;
};

/* What holds without a file. */
void settings_default(struct settings *out);

/* Reads and checks a file; all that is wrong goes to `problems`. STATUS_REFUSED, STATUS_NOT_FOUND, STATUS_IO;
 * `out` is then left alone. */
enum status settings_read(const char *path, struct settings *out, struct problems *problems);

/* The same of a text that is there. */
enum status settings_parse(const char *path, const char *text, size_t size, struct settings *out,
                           struct problems *problems);

#endif

#include "daemon/base/log.h"

#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *name;
    int number; /* of syslog(3) */
} levels[LOG_LEVEL_COUNT] = {{"error", 3}, {"warning", 4}, {"notice", 5}, {"info", 6}, {"debug", 7}};

static atomic_int most = LOG_LEVEL_NOTICE;

void log_set_level(enum log_level level) {
    atomic_store(&most, (int)level);
}

/* One write for a line, so that lines of two threads stay whole. */
static void put_line(enum log_level level, const char *text, size_t size) {
    char line[2048];
    int length = getenv("JOURNAL_STREAM") != NULL
                     ? snprintf(line, sizeof line, "<%d>%.*s\n", levels[level].number, (int)size, text)
                     : snprintf(line, sizeof line, "%s: %.*s\n", levels[level].name, (int)size, text);
    if (length >= (int)sizeof line)
        line[sizeof line - 2] = '\n';
    fputs(line, stderr);
}

void log_line(enum log_level level, const char *format, ...) {
    char text[2000];
    if ((int)level > atomic_load(&most))
        return;
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    put_line(level, text, strlen(text));
}

void log_problems(enum log_level level, const struct problems *problems) {
    struct text all;
    if ((int)level > atomic_load(&most))
        return;
    text_init(&all, 0);
    problems_print(problems, &all);
    for (const char *line = text_string(&all); *line != '\0';) {
        size_t size = strcspn(line, "\n");
        put_line(level, line, size);
        line += size + (line[size] == '\n' ? 1 : 0);
    }
    text_free(&all);
}

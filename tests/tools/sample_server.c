/* Serves invented mornings on a free loopback port: sample_server [FIELDS [LEDGER_ROWS]]. Prints the port,
 * runs until SIGTERM or SIGINT. For tests/web/pages.test.mjs and for looking at pages. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/http/server.h"
#include "support/sample_mornings.h"
#include "support/sample_sources.h"

struct sample_farm {
    int fields, rows;
};

static enum status mornings(void *context, struct field_morning **out, size_t *count,
                            struct farm_facts *facts) {
    const struct sample_farm *farm = context;
    *facts = sample_facts();
    *out = calloc((size_t)farm->fields + 1, sizeof **out);
    if (*out == NULL)
        return STATUS_NO_MEMORY;
    for (int i = 0; i < farm->fields; i++) {
        struct field_morning *morning = &(*out)[i];
        *morning = sample_morning(i % SAMPLE_FIELDS);
        if (i >= SAMPLE_FIELDS)
            snprintf(morning->field, sizeof morning->field, "Field %d", i);
    }
    *count = (size_t)farm->fields;
    return STATUS_OK;
}

static enum status ledger(void *context, const char *field, struct ledger_row **rows, size_t *count) {
    const struct sample_farm *farm = context;
    for (int i = 0; i < SAMPLE_FIELDS; i++) {
        struct field_morning morning = sample_morning(i);
        if (strcmp(morning.field, field) != 0)
            continue;
        int row_count = morning.past_count > 0 ? farm->rows : 0;
        *rows = calloc((size_t)row_count + 1, sizeof **rows);
        if (*rows == NULL)
            return STATUS_NO_MEMORY;
        for (int row = 0; row < row_count; row++)
            (*rows)[row] = sample_row(i, row, row_count);
        *count = (size_t)row_count;
        return STATUS_OK;
    }
    return STATUS_NOT_FOUND;
}

static enum status sources(void *context, struct source_report **out, size_t *count) {
    (void)context;
    *out = calloc(SAMPLE_SOURCES, sizeof **out);
    for (int i = 0; *out != NULL && i < SAMPLE_SOURCES; i++)
        (*out)[i] = sample_source(i);
    *count = SAMPLE_SOURCES;
    return *out != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

static enum status field(void *context, const char *name, struct field_facts *facts) {
    (void)context;
    for (int i = 0; i < SAMPLE_FIELDS; i++) {
        struct field_morning morning = sample_morning(i);
        if (strcmp(morning.field, name) != 0)
            continue;
        *facts = sample_field_facts(i);
        return STATUS_OK;
    }
    return STATUS_NOT_FOUND;
}

static void field_release(void *context, struct field_facts *facts) {
    (void)context;
    (void)facts;
}

static void release(void *context, struct field_morning *list, struct ledger_row *rows) {
    (void)context;
    free(list);
    free(rows);
}

static void report(void *context, const char *message) {
    (void)context;
    fputs(message, stderr);
}

int main(int argc, char **argv) {
    struct sample_farm farm = {.fields = argc > 1 ? atoi(argv[1]) : SAMPLE_FIELDS,
                               .rows = argc > 2 ? atoi(argv[2]) : 40};
    const struct server_options options = {.listen = "127.0.0.1:0",
                                           .data = {.context = &farm,
                                                    .mornings = mornings,
                                                    .ledger = ledger,
                                                    .release = release,
                                                    .sources = sources,
                 .field = field,
                                                    .field_release = field_release},
                                           .report = report};
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGTERM);
    sigaddset(&signals, SIGINT);
    sigprocmask(SIG_BLOCK, &signals, NULL);
    struct problems problems;
    problems_init(&problems);
    struct server *server = NULL;
    if (server_start(&options, &server, &problems) != STATUS_OK) {
        struct text text;
        text_init(&text, 0);
        problems_print(&problems, &text);
        fputs(text_string(&text), stderr);
        return 1;
    }
    printf("%d\n", server_port(server));
    fflush(stdout);
    int received;
    sigwait(&signals, &received);
    server_stop(server);
    return 0;
}

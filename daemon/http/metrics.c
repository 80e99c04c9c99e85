#include "daemon/http/metrics.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

/* Bounds of the histograms, seconds. */
static const double request_bounds[] = {0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5};
static const double morning_bounds[] = {0.1, 0.5, 1, 5, 15, 60, 300, 900};
#define BOUNDS_MAX 9

struct histogram {
    atomic_ullong bucket[BOUNDS_MAX + 1]; /* not yet summed up; the last one is what is past all bounds */
    atomic_ullong microseconds;
};

struct metrics {
    atomic_ullong answers[6]; /* by the first digit of the status; 0: any other */
    atomic_ullong mornings[2], errors, connections;
    struct histogram request, morning;
};

struct metrics *metrics_new(void) {
    return calloc(1, sizeof(struct metrics));
}

void metrics_free(struct metrics *metrics) {
    free(metrics);
}

static void observe(struct histogram *histogram, const double *bounds, size_t count, double seconds) {
    size_t i = 0;
    while (i < count && seconds > bounds[i])
        i++;
    atomic_fetch_add(&histogram->bucket[i], 1);
    atomic_fetch_add(&histogram->microseconds, (unsigned long long)llround(fmax(seconds, 0) * 1e6));
}

#define COUNT(array) (sizeof(array) / sizeof *(array))

void metrics_request(struct metrics *metrics, unsigned status, double seconds) {
    if (metrics == NULL)
        return;
    unsigned digit = status / 100;
    atomic_fetch_add(&metrics->answers[digit < 6 ? digit : 0], 1);
    observe(&metrics->request, request_bounds, COUNT(request_bounds), seconds);
}

void metrics_connections(struct metrics *metrics, size_t count) {
    if (metrics != NULL)
        atomic_store(&metrics->connections, count);
}

void metrics_morning(struct metrics *metrics, bool good, double seconds) {
    atomic_fetch_add(&metrics->mornings[good ? 1 : 0], 1);
    observe(&metrics->morning, morning_bounds, COUNT(morning_bounds), seconds);
}

void metrics_error(struct metrics *metrics) {
    atomic_fetch_add(&metrics->errors, 1);
}

/* ---- the text ---- */

/* The two formats differ in whether a counter's family has "_total" in its name. */
static void family(struct text *out, bool open, const char *name, const char *type, const char *unit,
                   const char *help) {
    bool counter = type[0] == 'c';
    const char *tail = counter && !open ? "_total" : "";
    text_printf(out, "# TYPE waterturn_%s%s %s\n", name, tail, type);
    if (open && unit != NULL)
        text_printf(out, "# UNIT waterturn_%s %s\n", name, unit);
    text_printf(out, "# HELP waterturn_%s%s %s\n", name, tail, help);
}

static void histogram_text(struct text *out, bool open, const char *name, const char *help,
                           struct histogram *histogram, const double *bounds, size_t count) {
    unsigned long long sum = 0;
    family(out, open, name, "histogram", "seconds", help);
    for (size_t i = 0; i < count; i++) {
        sum += atomic_load(&histogram->bucket[i]);
        text_printf(out, "waterturn_%s_bucket{le=\"%g\"} %llu\n", name, bounds[i], sum);
    }
    sum += atomic_load(&histogram->bucket[count]);
    text_printf(out, "waterturn_%s_bucket{le=\"+Inf\"} %llu\n", name, sum);
    text_printf(out, "waterturn_%s_count %llu\n", name, sum);
    text_printf(out, "waterturn_%s_sum %.6f\n", name, (double)atomic_load(&histogram->microseconds) / 1e6);
}

/* A label's value: a backslash, a quote and a line end are escaped. */
static void label(struct text *out, const char *value) {
    for (; *value != '\0'; value++) {
        if (*value == '\\' || *value == '"')
            text_printf(out, "\\%c", *value);
        else if (*value == '\n')
            text_puts(out, "\\n");
        else
            text_add(out, value, 1);
    }
}

static void gauge(struct text *out, bool open, const char *name, const char *unit, const char *help,
                  double value) {
    family(out, open, name, "gauge", unit, help);
    text_printf(out, "waterturn_%s %.15g\n", name, value);
}

static void sources_text(struct text *out, bool open, const struct metrics_facts *facts) {
    family(out, open, "source_age_seconds", "gauge", "seconds", "Time since a source was last read.");
    for (size_t i = 0; i < facts->source_count; i++) {
        if (facts->source[i].age_s < 0)
            continue;
        text_puts(out, "waterturn_source_age_seconds{source=\"");
        label(out, facts->source[i].name);
        text_printf(out, "\"} %lld\n", (long long)facts->source[i].age_s);
    }
    family(out, open, "source_failing", "gauge", NULL, "1 when the last try at a source failed.");
    for (size_t i = 0; i < facts->source_count; i++) {
        text_puts(out, "waterturn_source_failing{source=\"");
        label(out, facts->source[i].name);
        text_printf(out, "\"} %d\n", facts->source[i].failing ? 1 : 0);
    }
}

static void counters_text(struct metrics *metrics, struct text *out, bool open) {
    static const char *const classes[] = {"other", "1xx", "2xx", "3xx", "4xx", "5xx"};
    family(out, open, "http_answers", "counter", NULL, "Requests answered, by class of status.");
    for (size_t i = 0; i < COUNT(classes); i++)
        text_printf(out, "waterturn_http_answers_total{status=\"%s\"} %llu\n", classes[i],
                    atomic_load(&metrics->answers[i]));
    family(out, open, "mornings", "counter", NULL, "Mornings run, by how they ended.");
    text_printf(out, "waterturn_mornings_total{result=\"failed\"} %llu\n",
                atomic_load(&metrics->mornings[0]));
    text_printf(out, "waterturn_mornings_total{result=\"good\"} %llu\n", atomic_load(&metrics->mornings[1]));
    family(out, open, "errors", "counter", NULL, "Errors written to the log.");
    text_printf(out, "waterturn_errors_total %llu\n", atomic_load(&metrics->errors));
}

void metrics_render(struct metrics *metrics, const struct metrics_facts *facts, bool open, struct text *out) {
    family(out, open, "build_info", "gauge", NULL, "The version that runs.");
    text_puts(out, "waterturn_build_info{version=\"");
    label(out, facts->version);
    text_puts(out, "\"} 1\n");
    counters_text(metrics, out, open);
    histogram_text(out, open, "http_answer_seconds", "Time to make an answer.", &metrics->request,
                   request_bounds, COUNT(request_bounds));
    histogram_text(out, open, "morning_seconds", "Time that a morning's run took.", &metrics->morning,
                   morning_bounds, COUNT(morning_bounds));
    family(out, open, "calls", "gauge", NULL, "Fields by the kind of their newest call.");
    for (int kind = 0; kind < CALL_KIND_COUNT; kind++)
        text_printf(out, "waterturn_calls{call=\"%s\"} %g\n", call_kind_key((enum call_kind)kind),
                    facts->calls[kind]);
    sources_text(out, open, facts);
    if (facts->morning_at > 0)
        gauge(out, open, "morning_timestamp_seconds", "seconds", "When the newest morning was run.",
              (double)facts->morning_at);
    gauge(out, open, "http_connections", NULL, "Connections that are open.",
          (double)atomic_load(&metrics->connections));
    gauge(out, open, "devices", NULL, "Devices that may come in.", (double)facts->devices);
    gauge(out, open, "database_bytes", "bytes", "Size of the database file.", (double)facts->database_bytes);
    gauge(out, open, "resident_memory_bytes", "bytes", "Memory that the daemon holds.",
          (double)facts->resident_bytes);
    if (open)
        text_puts(out, "# EOF\n");
}

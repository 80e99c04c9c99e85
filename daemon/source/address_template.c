#include "daemon/source/address_template.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"

enum hole { HOLE_LAT, HOLE_LON, HOLE_DATE, HOLE_START, HOLE_END, HOLE_YEAR, HOLE_KEY, HOLE_COUNT };

static const struct {
    const char *word;
    bool date; /* may have a form behind it */
} holes[HOLE_COUNT] = {
    [HOLE_LAT] = {"lat", false},    [HOLE_LON] = {"lon", false}, [HOLE_DATE] = {"date", true},
    [HOLE_START] = {"start", true}, [HOLE_END] = {"end", true},  [HOLE_YEAR] = {"year", false},
    [HOLE_KEY] = {"key", false},
};

/* What stands between two braces. */
struct piece {
    enum hole hole;
    const char *form; /* of a date; size 0: the usual one */
    size_t form_size, size;
};

/* The hole that begins at `at` (a brace); HOLE_COUNT when it is none of ours. */
static struct piece piece_at(const char *at) {
    struct piece piece = {.hole = HOLE_COUNT, .size = strcspn(at, "}")};
    if (at[piece.size] != '}')
        return piece;
    piece.size++;
    size_t word = strcspn(at + 1, ":}");
    bool has_form = at[1 + word] == ':';
    for (int i = 0; i < HOLE_COUNT; i++) {
        if (strlen(holes[i].word) == word && strncmp(at + 1, holes[i].word, word) == 0 &&
            (!has_form || holes[i].date))
            piece.hole = (enum hole)i;
    }
    if (has_form) {
        piece.form = at + word + 2;
        piece.form_size = piece.size - word - 3;
    }
    return piece;
}

bool address_names_host(const char *address) {
    const char *host = strstr(address, "://") + 3;
    size_t login = strcspn(host, "@/?#");
    if (host[login] == '@')
        host += login + 1;
    return host[0] != '\0' && strchr("/?#:", host[0]) == NULL && address[strcspn(address, " \t\r\n")] == '\0';
}

bool address_template_check(const char *address, char wrong[ADDRESS_TEMPLATE_WORD_SIZE]) {
    for (const char *at = strchr(address, '{'); at != NULL; at = strchr(at, '{')) {
        struct piece piece = piece_at(at);
        if (piece.hole == HOLE_COUNT) {
            (void)snprintf(wrong, ADDRESS_TEMPLATE_WORD_SIZE, "%.*s", (int)piece.size, at);
            return false;
        }
        at += piece.size;
    }
    return true;
}

enum address_span address_template_span(const char *address) {
    enum address_span span = ADDRESS_WHOLE;
    for (const char *at = strchr(address, '{'); at != NULL; at = strchr(at + 1, '{')) {
        enum hole hole = piece_at(at).hole;
        if (hole == HOLE_YEAR)
            return ADDRESS_YEAR;
        if (hole == HOLE_START || hole == HOLE_END)
            span = ADDRESS_DAYS;
    }
    return span;
}

static void add_date(int32_t date, const struct piece *piece, struct text *out) {
    struct calendar_civil civil = calendar_to_civil(date);
    const char *form = piece->form_size > 0 ? piece->form : "YYYY-MM-DD";
    const char *end = form + (piece->form_size > 0 ? piece->form_size : strlen(form));
    while (form < end) {
        size_t left = (size_t)(end - form);
        if (left >= 4 && strncmp(form, "YYYY", 4) == 0) {
            text_printf(out, "%04d", civil.year);
            form += 4;
        } else if (left >= 3 && strncmp(form, "DDD", 3) == 0) {
            text_printf(out, "%03d", calendar_day_of_year(date));
            form += 3;
        } else if (left >= 2 && (strncmp(form, "MM", 2) == 0 || strncmp(form, "DD", 2) == 0)) {
            text_printf(out, "%02d", form[0] == 'M' ? civil.month : civil.day);
            form += 2;
        } else {
            text_add(out, form++, 1);
        }
    }
}

static void add_encoded(const char *key, struct text *out) {
    for (const unsigned char *c = (const unsigned char *)key; *c != '\0'; c++) {
        bool plain = (*c >= '0' && *c <= '9') || (*c >= 'A' && *c <= 'Z') || (*c >= 'a' && *c <= 'z') ||
                     strchr("-._~", *c) != NULL;
        text_printf(out, plain ? "%c" : "%%%02X", *c);
    }
}

static enum status add_piece(const struct piece *piece, const struct address_values *values,
                             struct text *out) {
    double degrees = piece->hole == HOLE_LAT ? values->latitude_deg : values->longitude_deg;
    switch (piece->hole) {
    case HOLE_LAT:
    case HOLE_LON:
        if (isnan(degrees))
            return STATUS_MISSING;
        text_printf(out, "%.4f", degrees);
        break;
    case HOLE_DATE:
        add_date(values->today, piece, out);
        break;
    case HOLE_START:
        add_date(values->start, piece, out);
        break;
    case HOLE_END:
        add_date(values->end, piece, out);
        break;
    case HOLE_YEAR:
        text_printf(out, "%d", calendar_to_civil(values->start).year);
        break;
    case HOLE_KEY:
        if (values->key != NULL)
            add_encoded(values->key, out);
        else
            text_puts(out, "{key}");
        break;
    case HOLE_COUNT:
        return STATUS_REFUSED;
    }
    return STATUS_OK;
}

enum status address_template_fill(const char *address, const struct address_values *values,
                                  struct text *out) {
    const char *rest = address;
    enum status status = STATUS_OK;
    for (const char *at = strchr(rest, '{'); status == STATUS_OK && at != NULL; at = strchr(rest, '{')) {
        struct piece piece = piece_at(at);
        text_add(out, rest, (size_t)(at - rest));
        status = add_piece(&piece, values, out);
        rest = at + piece.size;
    }
    text_puts(out, rest);
    return status == STATUS_OK && text_failed(out) ? STATUS_NO_MEMORY : status;
}

#include "daemon/http/request.h"

#include <stdint.h>
#include <string.h>

void reply_init(struct reply *reply) {
    *reply = (struct reply){.status = 200};
    text_init(&reply->body, 0);
    problems_init(&reply->problems);
}

void reply_free(struct reply *reply) {
    text_free(&reply->body);
    problems_free(&reply->problems);
}

static int hex_digit(char c) {
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* Length of the well-formed UTF-8 sequence at `at` (Unicode, table 3-7); 0 when it is none. */
static size_t sequence_length(const unsigned char *at) {
    if (at[0] < 0x80)
        return 1;
    size_t length = at[0] >= 0xC2 && at[0] <= 0xDF   ? 2
                    : at[0] >= 0xE0 && at[0] <= 0xEF ? 3
                    : at[0] >= 0xF0 && at[0] <= 0xF4 ? 4
                                                     : 0;
    unsigned char least = at[0] == 0xE0 ? 0xA0 : at[0] == 0xF0 ? 0x90 : 0x80;
    unsigned char most = at[0] == 0xED ? 0x9F : at[0] == 0xF4 ? 0x8F : 0xBF;
    for (size_t i = 1; i < length; i++) {
        if (at[i] < (i == 1 ? least : 0x80) || at[i] > (i == 1 ? most : 0xBF))
            return 0;
    }
    return length;
}

bool request_clean(const char *text, bool lines) {
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0';) {
        size_t length = sequence_length(at);
        bool line = lines && (*at == '\n' || *at == '\r' || *at == '\t');
        bool control = (*at < 0x20 && !line) || *at == 0x7F;
        /* U+0080 to U+009F too, which a terminal may take for orders. */
        if (length == 0 || control || (at[0] == 0xC2 && at[1] < 0xA0))
            return false;
        at += length;
    }
    return true;
}

bool request_decode(const char *from, size_t size, char *out, size_t room) {
    size_t count = 0;
    for (size_t i = 0; i < size; i++) {
        int byte = (unsigned char)from[i];
        if (from[i] == '%') {
            bool whole = i + 2 < size;
            int high = whole ? hex_digit(from[i + 1]) : -1;
            int low = whole ? hex_digit(from[i + 2]) : -1;
            if (high < 0 || low < 0)
                return false;
            byte = high * 16 + low;
            i += 2;
        }
        if (byte == 0 || count + 1 >= room)
            return false;
        out[count++] = (char)byte;
    }
    out[count] = '\0';
    return count > 0 && request_clean(out, false);
}

void request_encode(const char *text, struct text *out) {
    for (const unsigned char *c = (const unsigned char *)text; *c != '\0'; c++) {
        bool plain = (*c >= '0' && *c <= '9') || (*c >= 'A' && *c <= 'Z') || (*c >= 'a' && *c <= 'z') ||
                     strchr("-_~.", *c) != NULL;
        text_printf(out, plain ? "%c" : "%%%02X", *c);
    }
}

void request_add_query(struct fill *query, const char *name, const char *value) {
    char encoded[FARM_TEXT_SIZE], text[FARM_TEXT_SIZE];
    if (value == NULL || strlen(value) >= sizeof encoded)
        return;
    memcpy(encoded, value, strlen(value) + 1);
    for (char *plus = encoded; (plus = strchr(plus, '+')) != NULL;)
        *plus = ' ';
    if (request_decode(encoded, strlen(encoded), text, sizeof text))
        fill_set(query, name, text);
}

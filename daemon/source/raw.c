#include "daemon/source/raw.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static bool blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

struct raw raw_of(const char *string) {
    return (struct raw){string, strlen(string)};
}

struct raw raw_trim(struct raw raw) {
    while (raw.size > 0 && blank(raw.text[0]))
        raw.text++, raw.size--;
    while (raw.size > 0 && blank(raw.text[raw.size - 1]))
        raw.size--;
    return raw;
}

bool raw_equals(struct raw raw, const char *string) {
    return strlen(string) == raw.size && strncasecmp(raw.text, string, raw.size) == 0;
}

/* Is it the text of a weather file. */

static const struct {
    const char *start;
    size_t size;
    const char *what;
} foreign[] = {
    {"\x1f\x8b", 2, "a gzip file"},
    {"PK\x03\x04", 4, "a zip file or an Excel workbook"},
    {"\xd0\xcf\x11\xe0", 4, "an old Excel workbook"},
    {"%PDF", 4, "a PDF file"},
    {"BZh", 3, "a bzip2 file"},
    {"\xfd"
     "7zXZ",
     5, "an xz file"},
    {"\x89HDF", 4, "an HDF or NetCDF-4 file"},
    {"CDF\x01", 4, "a NetCDF file"},
    {"\xff\xfe", 2, "text in UTF-16"},
    {"\xfe\xff", 2, "text in UTF-16"},
};

static const char *foreign_kind(const unsigned char *bytes, size_t size) {
    for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++) {
        if (size >= foreign[i].size && memcmp(bytes, foreign[i].start, foreign[i].size) == 0)
            return foreign[i].what;
    }
    /* UTF-16 without its mark: every other byte of Western text is NUL. */
    if (size >= 4 && ((bytes[0] == 0 && bytes[2] == 0) || (bytes[1] == 0 && bytes[3] == 0)))
        return "text in UTF-16";
    return NULL;
}

/* Length of the UTF-8 sequence at the start of the bytes (RFC 3629); 0 when there is none. */
static size_t utf8_length(const unsigned char *b, size_t size) {
    if (b[0] < 0x80)
        return 1;
    size_t length = b[0] >= 0xf0 ? 4 : b[0] >= 0xe0 ? 3 : 2;
    if (b[0] < 0xc2 || b[0] > 0xf4 || size < length)
        return 0;
    for (size_t i = 1; i < length; i++) {
        if ((b[i] & 0xc0) != 0x80)
            return 0;
    }
    bool overlong = (b[0] == 0xe0 && b[1] < 0xa0) || (b[0] == 0xf0 && b[1] < 0x90);
    bool beyond = (b[0] == 0xed && b[1] > 0x9f) || (b[0] == 0xf4 && b[1] > 0x8f);
    return overlong || beyond ? 0 : length;
}

static enum status check_encoding(const char *where, const unsigned char *bytes, size_t size, bool latin1,
                                  struct problems *problems) {
    int line = 1;
    size_t start = 0;
    for (size_t i = 0; i < size;) {
        size_t length = bytes[i] == 0 ? 0 : latin1 ? 1 : utf8_length(bytes + i, size - i);
        if (length == 0) {
            const char *hint = bytes[i] == 0 ? "the file is damaged or no text file"
                                             : "it may be Latin-1 or Windows-1252: save the file as UTF-8";
            problem_add(problems, where, line, (int)(i - start) + 1, NULL,
                        "found the byte 0x%02X, expected UTF-8 text; %s", bytes[i], hint);
            return STATUS_REFUSED;
        }
        if (bytes[i] == '\n') {
            line++;
            start = i + 1;
        }
        i += length;
    }
    return STATUS_OK;
}

static bool is_markup(const unsigned char *bytes, size_t size) {
    size_t i = 0;
    while (i < size && blank((char)bytes[i]))
        i++;
    return i + 1 < size && bytes[i] == '<' &&
           (bytes[i + 1] == '!' || bytes[i + 1] == '?' || (bytes[i + 1] | 0x20) >= 'a');
}

enum status raw_check(const char *where, const unsigned char **bytes, size_t *size, bool latin1,
                      struct problems *problems) {
    const char *what = foreign_kind(*bytes, *size);
    if (what != NULL) {
        problem_add(problems, where, 0, 0, NULL, "found %s, expected plain text in UTF-8", what);
        return STATUS_REFUSED;
    }
    if (*size >= 3 && memcmp(*bytes, "\xef\xbb\xbf", 3) == 0) {
        *bytes += 3;
        *size -= 3;
    }
    if (raw_trim((struct raw){(const char *)*bytes, *size}).size == 0) {
        problem_add(problems, where, 0, 0, NULL, "found an empty file, expected weather data");
        return STATUS_REFUSED;
    }
    if (is_markup(*bytes, *size)) {
        problem_add(
            problems, where, 1, 0, NULL,
            "found a web page (HTML or XML), expected weather data: the service may want a login, may have "
            "moved, or may be down; open the address in a browser to see what it says");
        return STATUS_REFUSED;
    }
    return check_encoding(where, *bytes, *size, latin1, problems);
}

/* Numbers. */

bool raw_number(struct raw raw, char decimal, double *out) {
    char copy[64];
    size_t digits = 0;
    raw = raw_trim(raw);
    if (raw.size == 0 || raw.size >= sizeof copy)
        return false;
    for (size_t i = 0; i < raw.size; i++) {
        char c = raw.text[i];
        bool digit = c >= '0' && c <= '9';
        digits += digit;
        if (c == decimal)
            c = '.';
        else if (!digit && c != '+' && c != '-' && !(digits > 0 && (c == 'e' || c == 'E')))
            return false;
        copy[i] = c;
    }
    copy[raw.size] = '\0';
    char *end = NULL;
    double value = strtod(copy, &end);
    if (digits == 0 || *end != '\0' || !isfinite(value))
        return false;
    *out = value;
    return true;
}

bool raw_digits(struct raw raw, int *out) {
    int value = 0;
    if (raw.size == 0 || raw.size > 9)
        return false;
    for (size_t i = 0; i < raw.size; i++) {
        if (raw.text[i] < '0' || raw.text[i] > '9')
            return false;
        value = value * 10 + (raw.text[i] - '0');
    }
    *out = value;
    return true;
}

const char *raw_show(struct raw raw, char room[RAW_SHOWN_SIZE]) {
    size_t most = RAW_SHOWN_SIZE - 6, used = 0;
    room[used++] = '"';
    for (size_t i = 0; i < raw.size && used < most;) {
        const unsigned char *at = (const unsigned char *)raw.text + i;
        size_t length = utf8_length(at, raw.size - i);
        if (length == 0 || at[0] < ' ' || at[0] == 127) {
            room[used++] = '?';
            i++;
        } else if (used + length > most) {
            break;
        } else {
            memcpy(room + used, at, length);
            used += length;
            i += length;
        }
        if (used >= most - 4 && i < raw.size) {
            memcpy(room + used, "...", 3);
            used += 3;
            break;
        }
    }
    room[used++] = '"';
    room[used] = '\0';
    return room;
}

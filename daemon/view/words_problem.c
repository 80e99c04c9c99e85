#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/view/words.h"

/* The text of a key of two parts; NULL: none. */
static const char *find_behind(const struct words *words, const char *prefix, const char *rest) {
    char key[512];
    int size = snprintf(key, sizeof key, "%s%s", prefix, rest);
    return size > 0 && (size_t)size < sizeof key ? words_find(words, key) : NULL;
}

const char *words_phrase(const struct words *words, const char *phrase) {
    const char *word = find_behind(words, "problem.said.", phrase);
    return word != NULL ? word : phrase;
}

#define NUMBER_MOST 64 /* of a number with its unit */

/* The value of a hole, by the key behind the slash of its name where there is one. */
static const char *value_of(const struct words *words, const char *name, const char *value,
                            char number[NUMBER_MOST]) {
    const char *key = strchr(name, '/'), *point = strchr(value, '.');
    if (key == NULL)
        return value;
    key++;
    if (strcmp(key, "number.decimal") == 0) {
        if (point == NULL || strlen(value) >= NUMBER_MOST)
            return value;
        (void)snprintf(number, NUMBER_MOST, "%.*s%s%s", (int)(point - value), value, words_get(words, key),
                       point + 1);
        return number;
    }
    const char *word = find_behind(words, key, key[strlen(key) - 1] == '.' ? value : "");
    return word != NULL ? word : value;
}

/* ---- what was told with a code, or by the format of its sentence ---- */

struct told {
    struct words_hole hole[PROBLEM_HOLES_MAX];
    char name[PROBLEM_HOLES_MAX][80], number[PROBLEM_HOLES_MAX][NUMBER_MOST];
    size_t count;
    char *pieces; /* values cut out of the message; NULL: none were */
};

static void add_hole(const struct words *words, struct told *told, const char *name, const char *value) {
    if (told->count == PROBLEM_HOLES_MAX)
        return;
    size_t i = told->count++;
    (void)snprintf(told->name[i], sizeof told->name[i], "%.*s", (int)strcspn(name, "/"), name);
    told->hole[i] = (struct words_hole){told->name[i], value_of(words, name, value, told->number[i])};
}

static void told_holes(const struct words *words, const char *said, struct told *told) {
    for (const char *at = said + strlen(said) + 1; *at != '\0';) {
        const char *value = at + strlen(at) + 1;
        add_hole(words, told, at, value);
        at = value + strlen(value) + 1;
    }
}

/* Passes over the conversions at `format`, none of which is "%%"; the last one's letter, or '\0'. */
static char pass_conversions(const char **format) {
    char letter = '\0';
    while (**format == '%' && (*format)[1] != '%') {
        *format += 1 + strspn(*format + 1, "-+0 #*.123456789hlzjt");
        letter = **format;
        *format += letter != '\0';
    }
    return letter;
}

/* The text up to the next conversion, "%%" as "%". */
static void pass_text(const char **format, char *out, size_t size) {
    size_t count = 0;
    while (**format != '\0' && (**format != '%' || (*format)[1] == '%') && count + 1 < size) {
        out[count++] = **format;
        *format += **format == '%' ? 2 : 1;
    }
    out[count] = '\0';
}

/* Cuts a message into what stands for the conversions of its format. False: it is not of that format. */
static bool cut(const struct words *words, const char *format, const char *message, struct told *told) {
    char text[512];
    told->pieces = strdup(message);
    char *at = told->pieces;
    if (at == NULL)
        return false;
    pass_text(&format, text, sizeof text);
    if (strncmp(at, text, strlen(text)) != 0)
        return false;
    at += strlen(text);
    for (char letter; (letter = pass_conversions(&format)) != '\0';) {
        char name[32];
        pass_text(&format, text, sizeof text);
        size_t left = strlen(at), size = strlen(text);
        char *end = *format != '\0' ? strstr(at, text) : left >= size ? at + left - size : NULL;
        if (end == NULL || strncmp(end, text, size) != 0)
            return false;
        (void)snprintf(name, sizeof name, "%zu%s", told->count + 1,
                       letter == 's'                   ? "/problem.said."
                       : strchr("gfe", letter) != NULL ? "/number.decimal"
                                                       : "");
        char *value = at;
        at = end + size;
        *end = '\0';
        add_hole(words, told, name, value);
    }
    return true;
}

void words_problem(const struct words *words, const struct problem *problem, struct text *out) {
    struct told told = {.count = 0};
    const char *message = problem->message != NULL ? problem->message : "";
    const char *said = problem->said != NULL ? problem->said : "";
    const char *sentence = said[0] != '\0' ? find_behind(words, "problem.", said) : NULL;
    bool coded = said[0] != '\0' && said[strlen(said) + 1] != '\0';
    if (coded)
        told_holes(words, said, &told);
    else if (sentence != NULL && strchr(said, '%') != NULL && !cut(words, said, message, &told))
        sentence = NULL;
    if (sentence != NULL)
        text_fill(out, sentence, told.hole, told.count);
    else
        text_puts(out, message);
    free(told.pieces);
}

/* ---- what was kept ---- */

#define KEPT_PARTS 7

static void put_more(const struct words *words, const char *count, const char *first, const char *last,
                     struct text *out) {
    const struct words_hole holes[] = {{"n", count}, {"first", first}, {"last", last}};
    const char *key = strcmp(first, "0") == 0    ? "trouble.more"
                      : strcmp(first, last) == 0 ? "trouble.more.line"
                                                 : "trouble.more.lines";
    if (strcmp(count, "0") != 0)
        words_fill(words, key, holes, 3, out);
}

void words_kept(const struct words *words, const char *kept, struct text *out) {
    char room[PROBLEM_KEPT_SIZE + 2], *part[KEPT_PARTS];
    size_t size = strlen(kept), parts = 0;
    if (size >= PROBLEM_KEPT_SIZE)
        size = PROBLEM_KEPT_SIZE - 1;
    memcpy(room, kept, size);
    room[size] = room[size + 1] = '\0';
    for (size_t i = 0, begin = 0; i <= size; i++) {
        if (room[i] != PROBLEM_KEPT && room[i] != '\0')
            continue;
        room[i] = '\0';
        if (parts < KEPT_PARTS)
            part[parts++] = room + begin;
        begin = i + 1;
    }
    if (parts < KEPT_PARTS) {
        text_puts(out, room);
        return;
    }
    const struct problem problem = {.message = part[2], .said = part[6]};
    text_puts(out, part[1]);
    words_problem(words, &problem, out);
    put_more(words, part[3], part[4], part[5], out);
}

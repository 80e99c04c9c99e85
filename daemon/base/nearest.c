#include "daemon/base/nearest.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

static bool same(char a, char b) {
    return tolower((unsigned char)a) == tolower((unsigned char)b);
}

static size_t least(size_t a, size_t b) {
    return a < b ? a : b;
}

/* Optimal string alignment: three rows of the table are enough. */
size_t nearest_distance(const char *a, const char *b) {
    size_t length_a = strlen(a), length_b = strlen(b);
    if (length_a > NEAREST_LENGTH_MAX || length_b > NEAREST_LENGTH_MAX)
        return NEAREST_LENGTH_MAX + 1;
    size_t rows[3][NEAREST_LENGTH_MAX + 1];
    size_t *before = rows[0], *above = rows[1], *row = rows[2];
    for (size_t j = 0; j <= length_b; j++)
        above[j] = j;
    for (size_t i = 1; i <= length_a; i++) {
        row[0] = i;
        for (size_t j = 1; j <= length_b; j++) {
            row[j] = above[j - 1] + (same(a[i - 1], b[j - 1]) ? 0 : 1);
            row[j] = least(row[j], 1 + least(above[j], row[j - 1]));
            if (i > 1 && j > 1 && same(a[i - 1], b[j - 2]) && same(a[i - 2], b[j - 1]))
                row[j] = least(row[j], before[j - 2] + 1);
        }
        size_t *spare = before;
        before = above;
        above = row;
        row = spare;
    }
    return above[length_b];
}

void nearest_begin(struct nearest *nearest, const char *wanted) {
    nearest->wanted = wanted;
    nearest->name = NULL;
    /* One slip in four letters still reads as the same word. */
    nearest->distance = 2 + strlen(wanted) / 4;
}

void nearest_offer(struct nearest *nearest, const char *name) {
    size_t distance = nearest_distance(nearest->wanted, name);
    /* A name of which every letter was changed is no slip. */
    if (distance < nearest->distance && distance < strlen(name)) {
        nearest->distance = distance;
        nearest->name = name;
    }
}

#include "core/decide/outlook_lines.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "core/base/vectors.h"

/* Brings the values below `pivot` (with `equal`: up to it) of those from `low` to `high` to the front; the
 * place behind them. Without a branch that the processor would guess wrong half of the time. */
static int split(double *value, int low, int high, double pivot, bool equal) {
    int end = low;
    for (int i = low; i <= high; i++) {
        double moved = value[i];
        value[i] = value[end];
        value[end] = moved;
        end += (moved < pivot) | (equal & (moved == pivot));
    }
    return end;
}

static double middle_of(double a, double b, double c) {
    return a < b ? (b < c ? b : a < c ? c : a) : (a < c ? a : b < c ? c : b);
}

/* The k-th smallest (from 0) of `count` values, which it moves about: quickselect. */
static double select_kth(double *value, int count, int k) {
    int low = 0, high = count - 1;
    while (low < high) {
        double pivot = middle_of(value[low], value[low + (high - low) / 2], value[high]);
        int below = split(value, low, high, pivot, false);
        if (k < below) {
            high = below - 1;
            continue;
        }
        low = split(value, below, high, pivot, true);
        if (k < low)
            return pivot;
    }
    return value[k];
}

/* The values are put into classes of equal width between the least and the most: only those of the classes
 * that a line falls into are looked among. */
#define CLASSES 256 /* as many as a byte can say */
#define GROUP   16  /* classes that are passed over at once */
#define CHUNK   32  /* values that are put into classes at once */
#define COUNTS  4   /* side by side: to count in one class again and again is to wait each time */

struct classes {
    double least, per_mm;
    uint16_t count[CLASSES], group[CLASSES / GROUP];
    uint8_t wanted[CLASSES]; /* 1: a line falls into it */
};

VECTORS_WIDER static void find_ends(const double *value, int count, double *least, double *most) {
    double low[CHUNK], high[CHUNK];
    for (int k = 0; k < CHUNK; k++)
        low[k] = high[k] = value[k % count];
    for (int from = 0; from + CHUNK <= count; from += CHUNK)
        for (int k = 0; k < CHUNK; k++) {
            low[k] = value[from + k] < low[k] ? value[from + k] : low[k];
            high[k] = value[from + k] > high[k] ? value[from + k] : high[k];
        }
    for (int i = count - count % CHUNK; i < count; i++) {
        low[i % CHUNK] = value[i] < low[i % CHUNK] ? value[i] : low[i % CHUNK];
        high[i % CHUNK] = value[i] > high[i % CHUNK] ? value[i] : high[i % CHUNK];
    }
    *least = low[0];
    *most = high[0];
    for (int k = 1; k < CHUNK; k++) {
        *least = low[k] < *least ? low[k] : *least;
        *most = high[k] > *most ? high[k] : *most;
    }
}

/* The classes of CHUNK values, or of the `count` that are left. */
static VECTORS_INLINE void classify(const struct classes *classes, const double *value, int count,
                                    uint8_t class[CHUNK]) {
    const double least = classes->least, per_mm = classes->per_mm;
    double left[CHUNK];
    if (count < CHUNK) {
        for (int k = 0; k < CHUNK; k++)
            left[k] = k < count ? value[k] : least;
        value = left;
    }
    for (int k = 0; k < CHUNK; k++)
        class[k] = (uint8_t)(int)((value[k] - least) * per_mm);
}

VECTORS_WIDER static void count_classes(const double *value, int count, struct classes *classes) {
    uint8_t class[CHUNK];
    uint16_t counts[COUNTS][CLASSES] = {{0}};
    for (int from = 0; from < count; from += CHUNK) {
        classify(classes, value + from, count - from, class);
        for (int k = 0; k < CHUNK; k += COUNTS) {
            counts[0][class[k]]++;
            counts[1][class[k + 1]]++;
            counts[2][class[k + 2]]++;
            counts[3][class[k + 3]]++;
        }
    }
    counts[0][0] = (uint16_t)(counts[0][0] - (CHUNK - 1 - (count - 1) % CHUNK)); /* what filled the last */
    for (int c = 0; c < CLASSES; c++)
        classes->count[c] = (uint16_t)(counts[0][c] + counts[1][c] + counts[2][c] + counts[3][c]);
    for (int g = 0; g < CLASSES / GROUP; g++)
        for (int c = 0; c < GROUP; c++)
            classes->group[g] = (uint16_t)(classes->group[g] + classes->count[g * GROUP + c]);
}

/* The class of the k-th smallest value; *before: so many are in those below it. */
static int class_of(const struct classes *classes, int k, int *before) {
    int group = 0, sum = 0;
    while (sum + classes->group[group] <= k)
        sum += classes->group[group++];
    int found = group * GROUP;
    while (sum + classes->count[found] <= k)
        sum += classes->count[found++];
    *before = sum;
    return found;
}

/* The values of the classes that are wanted; how many. */
VECTORS_WIDER static int gather(const double *value, int count, const struct classes *classes, double *out) {
    uint8_t class[CHUNK];
    int found = 0;
    for (int from = 0; from < count; from += CHUNK) {
        int now = count - from < CHUNK ? count - from : CHUNK;
        classify(classes, value + from, now, class);
        for (int k = 0; k < now; k++) {
            out[found] = value[from + k];
            found += classes->wanted[class[k]];
        }
    }
    return found;
}

void outlook_lines(const double *value, int count, double *room, double out[OUTLOOK_LINES]) {
    static const double share[OUTLOOK_LINES] = {0.1, 0.5, 0.9};
    struct classes classes = {0};
    int place[OUTLOOK_LINES]; /* among what is gathered */
    double most;
    find_ends(value, count, &classes.least, &most);
    /* So narrow that the quotient would not be finite: one class. */
    if (most - classes.least > 1e-9)
        classes.per_mm = (CLASSES - 0.5) / (most - classes.least);
    count_classes(value, count, &classes);
    for (int line = 0, last = -1, lower = 0, own = 0; line < OUTLOOK_LINES; line++) {
        int before, k = (int)(share[line] * (count - 1) + 0.5), found = class_of(&classes, k, &before);
        lower += found != last ? own : 0;
        own = classes.count[found];
        classes.wanted[found] = 1;
        place[line] = lower + k - before;
        last = found;
    }
    int gathered = gather(value, count, &classes, room), middle = place[OUTLOOK_P50];
    /* It leaves the lesser ones below and the greater ones above. */
    out[OUTLOOK_P50] = select_kth(room, gathered, middle);
    out[OUTLOOK_P10] = select_kth(room, middle + 1, place[OUTLOOK_P10]);
    out[OUTLOOK_P90] = select_kth(room + middle, gathered - middle, place[OUTLOOK_P90] - middle);
}

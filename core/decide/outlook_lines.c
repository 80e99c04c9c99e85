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

/* The values are put into classes of equal width about their mean, those that are farther away into the first
 * and the last: only those of the classes that a line falls into are looked among. Which classes there are
 * has no part in what comes out, only in how soon. */
#define CLASSES 256 /* as many as a byte can say */
#define GROUP   16  /* classes that are passed over at once */
#define CHUNK   32  /* values that are taken at once */
#define WORD    8   /* of those, that are passed over at once */
#define REACH   1.6 /* standard deviations to either side; of normal values 10 and 90 % lie at 1.3 */

struct classes {
    double least, per_mm;
    uint16_t group[GROUP], count[CLASSES];
    uint8_t of[OUTLOOK_MEMBERS_MAX + CHUNK]; /* each value's; see put() */
};

/* Sums of so many differences from the first value, and of their squares. */
VECTORS_WIDER static void add_up(const double *value, int count, double *sum, double *squares) {
    double lane[CHUNK] = {0}, square[CHUNK] = {0};
    const double first = value[0];
    for (int from = 0; from + CHUNK <= count; from += CHUNK)
        for (int k = 0; k < CHUNK; k++) {
            double apart = value[from + k] - first;
            lane[k] += apart;
            square[k] += apart * apart;
        }
    for (int i = count - count % CHUNK; i < count; i++) {
        lane[i % CHUNK] += value[i] - first;
        square[i % CHUNK] += (value[i] - first) * (value[i] - first);
    }
    for (int k = 0; k < CHUNK / 2; k++) {
        lane[k] += lane[k + CHUNK / 2];
        square[k] += square[k + CHUNK / 2];
    }
    for (int k = 0; k < CHUNK / 4; k++) {
        lane[k] += lane[k + CHUNK / 4];
        square[k] += square[k + CHUNK / 4];
    }
    *sum = *squares = 0;
    for (int k = 0; k < CHUNK / 4; k++) {
        *sum += lane[k];
        *squares += square[k];
    }
}

static void open_classes(const double *value, int count, struct classes *classes) {
    double sum, squares;
    add_up(value, count, &sum, &squares);
    double mean = sum / count, variance = squares / count - mean * mean;
    double reach_mm = variance > 0 ? REACH * sqrt(variance) : 0;
    classes->least = value[0] + mean - reach_mm;
    /* So narrow that the quotient would not be finite: one class. */
    classes->per_mm = reach_mm > 1e-9 ? CLASSES / (2 * reach_mm) : 0;
}

/* Class c stands as the byte of c with its halves exchanged: so those of a group are GROUP apart, and all
 * groups are added up side by side. */
static int exchanged(int class) {
    return class % GROUP * GROUP + class / GROUP;
}

VECTORS_WIDER static void put(const struct classes *classes, const double *restrict value,
                              uint8_t *restrict out) {
    const double least = classes->least, per_mm = classes->per_mm;
    for (int k = 0; k < CHUNK; k++) {
        double place = (value[k] - least) * per_mm;
        place = place > 0 ? place : 0;
        int found = (int)(place < CLASSES - 1 ? place : CLASSES - 1);
        out[k] = (uint8_t)((found & (GROUP - 1)) * GROUP + found / GROUP);
    }
}

/* Puts all values into classes; what fills up the last chunk into none that is counted. */
static void classify(const double *value, int count, struct classes *classes) {
    int whole = count - count % CHUNK;
    double left[CHUNK];
    for (int from = 0; from < whole; from += CHUNK)
        put(classes, value + from, classes->of + from);
    for (int k = 0; k < CHUNK; k++)
        left[k] = whole + k < count ? value[whole + k] : value[0];
    put(classes, left, classes->of + whole);
}

VECTORS_WIDER static void count_groups(struct classes *classes) {
    for (int row = 0; row < CLASSES; row += GROUP)
        for (int g = 0; g < GROUP; g++)
            classes->group[g] = (uint16_t)(classes->group[g] + classes->count[row + g]);
}

static void count_classes(int count, struct classes *classes) {
    memset(classes->count, 0, sizeof classes->count);
    memset(classes->group, 0, sizeof classes->group);
    for (int i = 0; i < count; i++)
        classes->count[classes->of[i]]++;
    count_groups(classes);
}

/* The class of the k-th smallest value, as it stands; *before: so many are in those below it. */
static int class_of(const struct classes *classes, int k, int *before) {
    int group = 0, sum = 0;
    while (sum + classes->group[group] <= k)
        sum += classes->group[group++];
    int found = group * GROUP;
    while (sum + classes->count[exchanged(found)] <= k)
        sum += classes->count[exchanged(found++)];
    *before = sum;
    return exchanged(found);
}

/* Which of CHUNK values are of one of three classes. */
VECTORS_WIDER static void find(const uint8_t *restrict of, const int class[OUTLOOK_LINES],
                               uint8_t *restrict out) {
    const uint8_t a = (uint8_t) class[0], b = (uint8_t) class[1], c = (uint8_t) class[2];
    for (int k = 0; k < CHUNK; k++)
        out[k] = (uint8_t)((of[k] == a) | (of[k] == b) | (of[k] == c));
}

/* The values of the three classes; how many. */
static int gather(const double *value, int count, const struct classes *classes,
                  const int class[OUTLOOK_LINES], double *out) {
    uint8_t wanted[CHUNK];
    int found = 0;
    for (int from = 0; from < count; from += WORD) {
        uint64_t any;
        if (from % CHUNK == 0)
            find(classes->of + from, class, wanted);
        memcpy(&any, wanted + from % CHUNK, sizeof any);
        for (int i = from; any != 0 && i < from + WORD && i < count; i++) {
            out[found] = value[i];
            found += wanted[i % CHUNK];
        }
    }
    return found;
}

void outlook_lines(const double *value, int count, double *room, double out[OUTLOOK_LINES]) {
    static const double share[OUTLOOK_LINES] = {0.1, 0.5, 0.9};
    struct classes classes;
    int class[OUTLOOK_LINES], place[OUTLOOK_LINES]; /* among what is gathered */
    open_classes(value, count, &classes);
    classify(value, count, &classes);
    count_classes(count, &classes);
    for (int line = 0, lower = 0; line < OUTLOOK_LINES; line++) {
        int before, k = (int)(share[line] * (count - 1) + 0.5);
        class[line] = class_of(&classes, k, &before);
        if (line > 0 && class[line] != class[line - 1])
            lower += classes.count[class[line - 1]];
        place[line] = lower + k - before;
    }
    int gathered = gather(value, count, &classes, class, room), middle = place[OUTLOOK_P50];
    /* It leaves the lesser ones below and the greater ones above. */
    out[OUTLOOK_P50] = select_kth(room, gathered, middle);
    out[OUTLOOK_P10] = select_kth(room, middle + 1, place[OUTLOOK_P10]);
    out[OUTLOOK_P90] = select_kth(room + middle, gathered - middle, place[OUTLOOK_P90] - middle);
}

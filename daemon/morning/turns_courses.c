#include "daemon/morning/turns_courses.h"

#include <math.h>
#include <stdlib.h>

struct place {
    double wet_mm;
    int member;
};

static int compare_places(const void *left, const void *right) {
    const struct place *a = left, *b = right;
    if (a->wet_mm < b->wet_mm || a->wet_mm > b->wet_mm)
        return a->wet_mm < b->wet_mm ? -1 : 1;
    return a->member < b->member ? -1 : 1;
}

static double gained_mm(const struct outlook_weather *weather, int day, int member) {
    int at = day * weather->members + member;
    return weather->rain_mm[at] - weather->et0_mm[at];
}

/* The member of a part that is nearest to the part's mean. */
static int nearest(const struct outlook_weather *weather, const struct place *part, int count) {
    double mean_mm[OUTLOOK_DAYS_MAX] = {0}, least = HUGE_VAL;
    int best = part[0].member;
    for (int day = 0; day < weather->days; day++)
        for (int i = 0; i < count; i++)
            mean_mm[day] += gained_mm(weather, day, part[i].member) / count;
    for (int i = 0; i < count; i++) {
        double sum_mm = 0, far = 0;
        for (int day = 0; day < weather->days; day++) {
            sum_mm += gained_mm(weather, day, part[i].member) - mean_mm[day];
            far += sum_mm * sum_mm;
        }
        if (far < least) {
            least = far;
            best = part[i].member;
        }
    }
    return best;
}

enum status turns_courses_choose(const struct outlook_weather *weather, struct turns_courses *out) {
    *out = (struct turns_courses){.count = 0};
    if (weather->days < 1 || weather->members < 1)
        return STATUS_OK;
    int members = weather->members;
    struct place *place = calloc((size_t)members, sizeof *place);
    if (place == NULL)
        return STATUS_NO_MEMORY;
    for (int m = 0; m < members; m++) {
        place[m].member = m;
        for (int day = 0; day < weather->days; day++)
            place[m].wet_mm += gained_mm(weather, day, m);
    }
    qsort(place, (size_t)members, sizeof *place, compare_places);
    out->count = members < TURNS_COURSES_MAX ? members : TURNS_COURSES_MAX;
    for (int c = 0; c < out->count; c++) {
        int from = members * c / out->count, to = members * (c + 1) / out->count;
        out->member[c] = nearest(weather, place + from, to - from);
        out->weight[c] = (double)(to - from) / members;
    }
    free(place);
    return STATUS_OK;
}

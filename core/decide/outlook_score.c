#include "core/decide/outlook_score.h"

#include <math.h>

void outlook_score_add(struct outlook_score *score, int ahead, double chance, bool came) {
    if (!(chance >= 0 && chance <= 1) || ahead < 0 || ahead >= OUTLOOK_DAYS_MAX)
        return;
    int tenth = chance < 1 ? (int)(chance * OUTLOOK_TENTHS) : OUTLOOK_TENTHS - 1;
    double off = chance - (came ? 1 : 0);
    score->all++;
    score->count[tenth]++;
    score->came[tenth] += came;
    score->said[tenth] += chance;
    score->squares += off * off;
    score->seen[ahead]++;
    score->happened[ahead] += came;
}

double outlook_score_brier(const struct outlook_score *score) {
    return score->all > 0 ? score->squares / (double)score->all : NAN;
}

double outlook_score_climatology(const struct outlook_score *score) {
    double sum = 0;
    for (int day = 0; day < OUTLOOK_DAYS_MAX; day++) {
        if (score->seen[day] == 0)
            continue;
        double share = (double)score->happened[day] / (double)score->seen[day];
        sum += (double)score->seen[day] * share * (1 - share);
    }
    return score->all > 0 ? sum / (double)score->all : NAN;
}

/* A few courses of the weather that stand for an ensemble, where the turns cannot go through all of it. */
#ifndef WATERTURN_TURNS_COURSES_H
#define WATERTURN_TURNS_COURSES_H

#include "core/decide/outlook_weather.h"
#include "core/decide/turns.h"

struct turns_courses {
    int count;                     /* 0: there is no ensemble */
    int member[TURNS_COURSES_MAX]; /* the driest first */
    double weight[TURNS_COURSES_MAX];
};

/* The members are put in the order of rain less reference ET over all days and cut into as many parts as
 * there are courses; each part is stood for by its member that is nearest to the part's mean (the sum of
 * squares of the sums up to each day), and weighs as the part does. So the k-th course of one station goes
 * with the k-th of another: wet days at one are wet days at its neighbour. STATUS_NO_MEMORY. */
enum status turns_courses_choose(const struct outlook_weather *weather, struct turns_courses *out);

#endif

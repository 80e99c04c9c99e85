/* A trial's yields: by grade, with means, an analysis of variance by its layout, and what the balance says
 * beside what was measured. */
#ifndef WATERTURN_TRIAL_H
#define WATERTURN_TRIAL_H

#include "core/decide/scores.h"
#include "core/decide/variance.h"
#include "daemon/replay/replay.h"

#define TRIAL_GRADES_MAX 12 /* with the sum of all */
#define TRIAL_TERMS_MAX  5
#define TRIAL_GROUPS_MAX (3 * FARM_TREATMENTS_MAX)
#define TRIAL_PAIRS_MAX  600

/* What means are taken of. */
enum trial_group_kind { TRIAL_TREATMENT, TRIAL_WHOLE, TRIAL_SUB };

struct trial_group {
    enum trial_group_kind kind;
    char name[FARM_NAME_SIZE];
    struct variance_mean mean;
};

struct trial_pair {
    int a, b; /* groups of the same kind */
    struct variance_difference difference;
};

/* Yields of one grade, or of all together (grade ""). */
struct trial_grade {
    char grade[FARM_NAME_SIZE];
    int plots;                    /* with a harvest */
    double yield[FARM_PLOTS_MAX]; /* in the order of the trial's plots; NaN: no harvest */
    int terms;                    /* rows of the table less one; 0: too few plots to judge */
    const char *term[TRIAL_TERMS_MAX + 1];
    struct variance_row row[TRIAL_TERMS_MAX + 1];
    int groups, pairs;
    struct trial_group group[TRIAL_GROUPS_MAX];
    struct trial_pair pair[TRIAL_PAIRS_MAX];
};

/* What the balance says of a treatment. */
struct trial_model {
    bool grown; /* something is planted on its field */
    struct budget budget;
    double relative;      /* by the Ky of the season; NaN */
    double relative_most; /* the same as a share of the best treatment's */
    double measured_most; /* mean yield as a share of the best treatment's; NaN */
    struct scores
        reading; /* soil water of the balance, which did not see the readings, against them; count 0: none */
};

struct trial {
    const struct farm_trial *of;
    double confidence;
    int grades;
    struct trial_grade grade[TRIAL_GRADES_MAX]; /* the first one is all together */
    struct trial_model model[FARM_TREATMENTS_MAX];
    int strangers; /* harvests on its fields of plots that it does not have */
};

/* `replay` is opened and not run yet: it is run here. The trial is one of its farm's. `confidence`
 * 0.5..0.9999. A plot with a harvest and none of a grade has 0 of that grade. STATUS_REFUSED, with the
 * reason: yields too few, a split plot that is not complete, more grades than there is room for. */
enum status trial_run(struct replay *replay, const struct farm_trial *of, double confidence,
                      struct trial *out, struct problems *problems);

/* Reference to soil water of one treatment's readings: pairs of measured and modelled, m3/m3. Returns how
 * many were written; at most `room`. */
size_t trial_readings(const struct farm *farm, const struct replay_result *result, const struct soil *soil,
                      double *measured, double *modelled, size_t room);

#endif

/* Parameters of a model fitted to what was measured: least squares within bounds, with priors, by the method
 * of Levenberg and Marquardt; how sure each one is, and whether the data can tell them apart. */
#ifndef WATERTURN_FIT_H
#define WATERTURN_FIT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/base/status.h"

#define FIT_PARAMETERS_MAX 8
#define FIT_VALUES_MAX     4000
#define FIT_STARTS_MAX     64

/* Belsley, Kuh and Welsch, Regression diagnostics, 1980: from 30 on the data tell parameters apart poorly. */
#define FIT_CONDITION_POOR   30.0
#define FIT_CORRELATION_POOR 0.95

struct fit_parameter {
    double start, low, high; /* finite, low < high, start within */
    double prior, prior_sd;  /* what is thought of it beforehand; prior_sd NaN: nothing is, else above 0 */
};

/* Computes the `count` values that were measured. Anything but STATUS_OK: such parameters cannot be, the fit
 * keeps away from them. */
typedef enum status fit_model(void *context, const double *parameter, double *modelled);

struct fit_problem {
    int parameters; /* 1..FIT_PARAMETERS_MAX */
    const struct fit_parameter *parameter;
    int count;                   /* parameters + 1..FIT_VALUES_MAX */
    const double *measured, *sd; /* sd: of each, above 0 */
    fit_model *model;
    void *context;
    int starts; /* 1..FIT_STARTS_MAX: how many points the search begins from, `start` and then a Halton
                   sequence */
};

/* What can be said of a parameter. The first that holds. */
enum fit_verdict {
    FIT_TOLD,       /* the data tell it */
    FIT_NO_EFFECT,  /* what was measured does not depend on it */
    FIT_CONFOUNDED, /* the data do not tell it from `partner` */
    FIT_AT_BOUND    /* it lies at the bound that it was given */
};

struct fit_estimate {
    double value;
    double sd;      /* with the priors; NaN: cannot be known */
    double data_sd; /* by the data alone; NaN: they do not tell it */
    enum fit_verdict verdict;
    int partner;        /* -1: none */
    double correlation; /* with the partner, by the data alone; NaN */
};

struct fit_result {
    struct fit_estimate estimate[FIT_PARAMETERS_MAX];
    double condition;   /* largest over smallest singular value of the data's sensitivities, columns at length
                           one; 1 or   more; infinity: some parameter has no effect or follows from others */
    double misfit;      /* sum of squares over sd, priors included */
    double data_misfit; /* without them */
    double residual_sd; /* the data's scatter in units of their sd: 1 when sd are right */
    int runs;           /* of the model */
    bool settled;       /* the search ended because nothing was to be gained, not for want of steps */
};

/* Room for fit_search(), doubles. */
#define FIT_WORK(parameters, count) ((size_t)(count) * (size_t)((parameters) + 4))

/* Finds the parameters that are nearest to the data and the priors. The same problem gives the same bits.
 * Uncertainties come from the sensitivities at the end, scaled by the data's own scatter: they are rough
 * where the model bends. STATUS_OUT_OF_RANGE, STATUS_NOT_FINITE: a member outside its range. STATUS_MISSING:
 * no more values than parameters. The status of the model: it refuses the start. Reference: D.W. Marquardt,
 * J. Soc. Indust. Appl. Math. 11, 1963; bounds by projection. */
enum status fit_search(const struct fit_problem *problem, struct fit_result *result, double *work);

/* Whether every parameter is told (or lies at a bound) and the condition is below FIT_CONDITION_POOR. */
bool fit_trustworthy(const struct fit_problem *problem, const struct fit_result *result);

/* "told by the data", ...; NULL outside the enum. */
const char *fit_verdict_text(enum fit_verdict verdict);

#endif

#include "core/decide/fit.h"

#include <math.h>

#include "core/decide/fit_matrix.h"

#define STEPS_MAX     60
#define DAMPING_START 1e-2
#define DAMPING_MAX   1e8
#define GAIN_LEAST    1e-10 /* of the misfit; less is nothing to be gained */
#define NUDGE                                                                                                \
    1e-3 /* of the range, for sensitivities: the model has kinks that a smaller one would fall into */
#define AT_BOUND      1e-6  /* of the range */
#define RESIDUAL_MOST 1e100 /* in units of sd; squares of larger ones might not be numbers any more */
#define NO_EFFECT     1e-6  /* of the largest sensitivity, over the ranges */

const char *fit_verdict_text(enum fit_verdict verdict) {
    static const char *const text[] = {"told by the data", "without effect on the data",
                                       "not told from another", "at its bound"};
    return (unsigned)verdict < sizeof text / sizeof text[0] ? text[verdict] : NULL;
}

/* ---- what is asked ---- */

static enum status check_parameter(const struct fit_parameter *parameter) {
    if (!isfinite(parameter->start) || !isfinite(parameter->low) || !isfinite(parameter->high))
        return STATUS_NOT_FINITE;
    if (!(parameter->low < parameter->high) || parameter->start < parameter->low ||
        parameter->start > parameter->high)
        return STATUS_OUT_OF_RANGE;
    if (isnan(parameter->prior_sd))
        return STATUS_OK;
    if (!isfinite(parameter->prior) || !isfinite(parameter->prior_sd))
        return STATUS_NOT_FINITE;
    return parameter->prior_sd > 0 ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

static enum status check(const struct fit_problem *problem) {
    if (problem->parameters < 1 || problem->parameters > FIT_PARAMETERS_MAX || problem->count < 0 ||
        problem->count > FIT_VALUES_MAX || problem->starts < 1 || problem->starts > FIT_STARTS_MAX)
        return STATUS_OUT_OF_RANGE;
    if (problem->count <= problem->parameters)
        return STATUS_MISSING;
    for (int i = 0; i < problem->parameters; i++) {
        enum status status = check_parameter(&problem->parameter[i]);
        if (status != STATUS_OK)
            return status;
    }
    for (int i = 0; i < problem->count; i++) {
        if (!isfinite(problem->measured[i]) || !isfinite(problem->sd[i]))
            return STATUS_NOT_FINITE;
        if (!(problem->sd[i] > 0))
            return STATUS_OUT_OF_RANGE;
    }
    return STATUS_OK;
}

/* ---- one point ---- */

/* Parameters as shares of their ranges, 0..1. */
struct point {
    double share[FIT_N];
    double misfit, data_misfit;
};

struct work {
    const struct fit_problem *problem;
    int n, count, runs;
    double *slope;    /* of each value by each share, over sd: n columns of count */
    double *residual; /* (modelled - measured) / sd at the present point */
    double *modelled, *tried;
};

static double value_of(const struct fit_parameter *parameter, double share) {
    return parameter->low + share * (parameter->high - parameter->low);
}

/* Residuals of a set of shares to `residual`. */
static enum status evaluate(struct work *work, const double share[FIT_N], double *residual) {
    const struct fit_problem *problem = work->problem;
    double parameter[FIT_N];
    for (int i = 0; i < work->n; i++)
        parameter[i] = value_of(&problem->parameter[i], share[i]);
    work->runs++;
    enum status status = problem->model(problem->context, parameter, work->modelled);
    for (int k = 0; status == STATUS_OK && k < work->count; k++) {
        residual[k] = (work->modelled[k] - problem->measured[k]) / problem->sd[k];
        if (!(fabs(residual[k]) < RESIDUAL_MOST))
            status = STATUS_NOT_FINITE;
    }
    return status;
}

/* (x - prior) / sd; 0 without one. */
static double from_prior(const struct fit_parameter *parameter, double share) {
    return isnan(parameter->prior_sd) ? 0
                                      : (value_of(parameter, share) - parameter->prior) / parameter->prior_sd;
}

static void add_up(const struct work *work, const double *residual, struct point *point) {
    point->data_misfit = 0;
    for (int k = 0; k < work->count; k++)
        point->data_misfit += residual[k] * residual[k];
    point->misfit = point->data_misfit;
    for (int i = 0; i < work->n; i++) {
        double away = from_prior(&work->problem->parameter[i], point->share[i]);
        point->misfit += away * away;
    }
}

/* Sensitivities at a point, to the side on which there is room. Where the model refuses the nudged parameters
 * the sensitivity counts as none. */
static void differentiate(struct work *work, const struct point *point) {
    for (int i = 0; i < work->n; i++) {
        double share[FIT_N], step = point->share[i] > 0.5 ? -NUDGE : NUDGE;
        double *column = work->slope + (size_t)i * (size_t)work->count;
        for (int k = 0; k < work->n; k++)
            share[k] = point->share[k];
        share[i] += step;
        bool good = evaluate(work, share, work->tried) == STATUS_OK;
        for (int k = 0; k < work->count; k++)
            column[k] = good ? (work->tried[k] - work->residual[k]) / step : 0;
    }
}

/* ---- the search ---- */

static double dot(const double *a, const double *b, int count) {
    double sum = 0;
    for (int i = 0; i < count; i++)
        sum += a[i] * b[i];
    return sum;
}

static double prior_weight(const struct fit_parameter *parameter) {
    double weight = (parameter->high - parameter->low) / parameter->prior_sd;
    return isnan(weight) ? 0 : weight * weight;
}

/* Normal equations: the data's alone in `data`, those with priors in `all`, and the downhill direction. */
static void normal(const struct work *work, const struct point *point, double data[FIT_N][FIT_N],
                   double all[FIT_N][FIT_N], double down[FIT_N]) {
    for (int i = 0; i < work->n; i++) {
        const double *column = work->slope + (size_t)i * (size_t)work->count;
        const struct fit_parameter *parameter = &work->problem->parameter[i];
        for (int k = 0; k < work->n; k++)
            all[i][k] = data[i][k] = dot(column, work->slope + (size_t)k * (size_t)work->count, work->count);
        double weight = prior_weight(parameter);
        all[i][i] += weight;
        down[i] =
            -dot(column, work->residual, work->count) - sqrt(weight) * from_prior(parameter, point->share[i]);
    }
}

/* A parameter at a bound that would go beyond it stays where it is. */
static void hold(const struct point *point, int n, double a[FIT_N][FIT_N], double down[FIT_N]) {
    for (int i = 0; i < n; i++) {
        bool held = (point->share[i] <= 0 && down[i] < 0) || (point->share[i] >= 1 && down[i] > 0);
        for (int k = 0; held && k < n; k++)
            a[i][k] = a[k][i] = 0;
        if (held)
            down[i] = 0;
    }
}

/* One damped step from `point`; false when it leads nowhere better. */
static bool step(struct work *work, struct point *point, double all[FIT_N][FIT_N], const double down[FIT_N],
                 double damping) {
    double damped[FIT_N][FIT_N], move[FIT_N] = {0};
    struct point next = *point;
    for (int i = 0; i < work->n; i++) {
        for (int k = 0; k < work->n; k++)
            damped[i][k] = all[i][k];
        /* What has no effect gets a diagonal all the same. */
        damped[i][i] += damping * (all[i][i] + 1e-9);
    }
    (void)fit_solve(damped, down, work->n,
                    move); /* damped, it has a solution; without one nothing would move */
    for (int i = 0; i < work->n; i++)
        next.share[i] = fmin(fmax(point->share[i] + move[i], 0), 1);
    if (evaluate(work, next.share, work->tried) != STATUS_OK)
        return false;
    add_up(work, work->tried, &next);
    if (!(next.misfit < point->misfit))
        return false;
    *point = next;
    for (int k = 0; k < work->count; k++)
        work->residual[k] = work->tried[k];
    return true;
}

/* Downhill from a point whose residuals are in the work; true: until nothing was to be gained. */
static bool descend(struct work *work, struct point *point) {
    double damping = DAMPING_START;
    for (int steps = 0; steps < STEPS_MAX; steps++) {
        double data[FIT_N][FIT_N], all[FIT_N][FIT_N], down[FIT_N], before = point->misfit;
        differentiate(work, point);
        normal(work, point, data, all, down);
        hold(point, work->n, all, down);
        while (damping <= DAMPING_MAX && !step(work, point, all, down, damping))
            damping *= 8;
        if (before - point->misfit <= GAIN_LEAST * before)
            return true;
        damping = fmax(damping / 10, 1e-9);
    }
    return false;
}

/* The index-th term of the van der Corput sequence: its digits mirrored at the point. */
static double mirrored(int index, int base) {
    double share = 0, place = 1.0 / base;
    for (; index > 0; index /= base, place /= base)
        share += index % base * place;
    return share;
}

static void place_start(const struct fit_problem *problem, int start, struct point *point) {
    static const int prime[FIT_N] = {2, 3, 5, 7, 11, 13, 17, 19};
    for (int i = 0; i < problem->parameters; i++) {
        const struct fit_parameter *parameter = &problem->parameter[i];
        point->share[i] = start > 0
                              ? mirrored(start, prime[i])
                              : (parameter->start - parameter->low) / (parameter->high - parameter->low);
    }
}

/* ---- how sure it is ---- */

/* Columns at length one; false: one of them is nothing. */
static bool to_unit_length(double data[FIT_N][FIT_N], int n, double unit[FIT_N][FIT_N]) {
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < n; k++)
            unit[i][k] = data[i][k] / sqrt(data[i][i] * data[k][k]);
        if (!(data[i][i] > 0))
            return false;
    }
    return true;
}

static double condition_of(double data[FIT_N][FIT_N], int n) {
    double unit[FIT_N][FIT_N], value[FIT_N];
    if (!to_unit_length(data, n, unit))
        return INFINITY;
    fit_eigenvalues(unit, n, value);
    double low = value[0], high = value[0];
    for (int i = 1; i < n; i++) {
        low = fmin(low, value[i]);
        high = fmax(high, value[i]);
    }
    return low > 1e-12 * high ? sqrt(high / low) : INFINITY;
}

/* The other parameter that the data mix this one up with most. Where the inverse does not exist the
 * sensitivities themselves are compared. */
static void find_partner(double covariance[FIT_N][FIT_N], bool inverted, double data[FIT_N][FIT_N], int n,
                         int i, struct fit_estimate *estimate) {
    double(*matrix)[FIT_N] = inverted ? covariance : data;
    estimate->partner = -1;
    estimate->correlation = NAN;
    for (int k = 0; k < n; k++) {
        double both = matrix[i][i] * matrix[k][k];
        double correlation = k != i && both > 0 ? matrix[i][k] / sqrt(both) : 0;
        if (k != i && (estimate->partner < 0 || fabs(correlation) > fabs(estimate->correlation))) {
            estimate->partner = k;
            estimate->correlation = inverted ? correlation : -correlation;
        }
    }
}

static void judge(const struct point *point, double largest, double own, int i,
                  struct fit_estimate *estimate) {
    if (!(own > NO_EFFECT * NO_EFFECT * largest))
        estimate->verdict = FIT_NO_EFFECT;
    else if (fabs(estimate->correlation) > FIT_CORRELATION_POOR)
        estimate->verdict = FIT_CONFOUNDED;
    else if (point->share[i] < AT_BOUND || point->share[i] > 1 - AT_BOUND)
        estimate->verdict = FIT_AT_BOUND;
    else
        estimate->verdict = FIT_TOLD;
}

static void conclude(struct work *work, const struct point *point, struct fit_result *result) {
    double data[FIT_N][FIT_N], all[FIT_N][FIT_N], down[FIT_N], of_data[FIT_N][FIT_N], of_all[FIT_N][FIT_N];
    int n = work->n;
    double largest = 0;
    differentiate(work, point);
    normal(work, point, data, all, down);
    result->misfit = point->misfit;
    result->data_misfit = point->data_misfit;
    result->residual_sd = sqrt(point->data_misfit / (work->count - n));
    result->condition = condition_of(data, n);
    bool told = isfinite(result->condition), sure = fit_invert(all, n, of_all);
    if (told)
        (void)fit_invert(data, n, of_data); /* its condition says that it can be */
    for (int i = 0; i < n; i++)
        largest = fmax(largest, data[i][i]);
    for (int i = 0; i < n; i++) {
        const struct fit_parameter *parameter = &work->problem->parameter[i];
        struct fit_estimate *estimate = &result->estimate[i];
        double range = parameter->high - parameter->low, scatter = result->residual_sd * range;
        estimate->value = value_of(parameter, point->share[i]);
        estimate->sd = sure ? scatter * sqrt(of_all[i][i]) : NAN;
        estimate->data_sd = told ? scatter * sqrt(of_data[i][i]) : NAN;
        find_partner(of_data, told, data, n, i, estimate);
        judge(point, largest, data[i][i], i, estimate);
    }
}

enum status fit_search(const struct fit_problem *problem, struct fit_result *result, double *work) {
    enum status status = check(problem);
    if (status != STATUS_OK)
        return status;
    size_t count = (size_t)problem->count, n = (size_t)problem->parameters;
    struct work own = {.problem = problem,
                       .n = problem->parameters,
                       .count = problem->count,
                       .slope = work,
                       .residual = work + n * count,
                       .modelled = work + (n + 1) * count,
                       .tried = work + (n + 2) * count};
    double *kept = work + (n + 3) * count; /* residuals of the best point */
    struct point best = {.misfit = INFINITY};
    for (int start = 0; start < problem->starts; start++) {
        struct point point;
        place_start(problem, start, &point);
        status = evaluate(&own, point.share, own.residual);
        if (status != STATUS_OK && start == 0)
            return status;
        if (status != STATUS_OK)
            continue;
        add_up(&own, own.residual, &point);
        bool settled = descend(&own, &point);
        if (!(point.misfit < best.misfit))
            continue;
        best = point;
        result->settled = settled;
        for (size_t k = 0; k < count; k++)
            kept[k] = own.residual[k];
    }
    for (size_t k = 0; k < count; k++)
        own.residual[k] = kept[k];
    conclude(&own, &best, result);
    result->runs = own.runs;
    return STATUS_OK;
}

bool fit_trustworthy(const struct fit_problem *problem, const struct fit_result *result) {
    bool told = result->condition < FIT_CONDITION_POOR;
    for (int i = 0; i < problem->parameters; i++) {
        enum fit_verdict verdict = result->estimate[i].verdict;
        told = told && (verdict == FIT_TOLD || verdict == FIT_AT_BOUND);
    }
    return told;
}

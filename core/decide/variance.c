#include "core/decide/variance.h"

#include <math.h>
#include <stdbool.h>

#include "core/decide/distribution.h"

/* A column that shrinks below this share of its length by projection depends on those before it. */
#define DEPENDENT 1e-7

/* ---- what is asked ---- */

static bool within(int value, int low, int high) {
    return value >= low && value <= high;
}

static enum status check_factors(int plots, const struct variance_factor *factor, int factors) {
    if (!within(factors, 1, VARIANCE_FACTORS_MAX))
        return STATUS_OUT_OF_RANGE;
    for (int k = 0; k < factors; k++) {
        if (!within(factor[k].levels, 1, VARIANCE_LEVELS_MAX))
            return STATUS_OUT_OF_RANGE;
        for (int i = 0; i < plots; i++) {
            if (!within(factor[k].level[i], 0, factor[k].levels - 1))
                return STATUS_OUT_OF_RANGE;
        }
    }
    return STATUS_OK;
}

static enum status check_terms(int factors, const struct variance_term *term, int terms) {
    if (!within(terms, 1, VARIANCE_TERMS_MAX))
        return STATUS_OUT_OF_RANGE;
    for (int t = 0; t < terms; t++) {
        if (!within(term[t].factors, 1, 3) || !within(term[t].error, -1, terms - 1))
            return STATUS_OUT_OF_RANGE;
        for (int k = 0; k < term[t].factors; k++) {
            if (!within(term[t].factor[k], 0, factors - 1))
                return STATUS_OUT_OF_RANGE;
        }
    }
    return STATUS_OK;
}

static enum status check_values(const double *value, int plots) {
    for (int i = 0; i < plots; i++) {
        if (!isfinite(value[i]))
            return STATUS_NOT_FINITE;
    }
    return STATUS_OK;
}

/* ---- projections ---- */

struct work {
    int plots, rank;
    double *basis;  /* rank columns of `plots`, orthonormal */
    double *column; /* the one that is being added */
    double *left;   /* the values less their projection so far */
};

static double dot(const double *a, const double *b, int count) {
    double sum = 0;
    for (int i = 0; i < count; i++)
        sum += a[i] * b[i];
    return sum;
}

static void take_away(double *from, const double *direction, double length, int count) {
    for (int i = 0; i < count; i++)
        from[i] -= length * direction[i];
}

/* Adds work->column to the basis, and takes what lies along it out of the values; false when it depends on
 * the columns that are there. */
static bool add_column(struct work *work) {
    double *column = work->column, before = sqrt(dot(column, column, work->plots));
    for (int twice = 0; twice < 2; twice++) {
        for (int k = 0; k < work->rank; k++) {
            const double *direction = work->basis + (size_t)k * (size_t)work->plots;
            take_away(column, direction, dot(column, direction, work->plots), work->plots);
        }
    }
    double after = sqrt(dot(column, column, work->plots));
    if (!(after > DEPENDENT * before))
        return false;
    double *direction = work->basis + (size_t)work->rank * (size_t)work->plots;
    for (int i = 0; i < work->plots; i++)
        direction[i] = column[i] / after;
    take_away(work->left, direction, dot(work->left, direction, work->plots), work->plots);
    work->rank++;
    return true;
}

/* Which of the term's cells a plot is in. */
static int cell_of(const struct variance_factor *factor, const struct variance_term *term, int plot) {
    int cell = 0;
    for (int k = 0; k < term->factors; k++)
        cell = cell * factor[term->factor[k]].levels + factor[term->factor[k]].level[plot];
    return cell;
}

/* One column for each cell that has plots, in the order in which they come. */
static int add_term(struct work *work, const struct variance_factor *factor,
                    const struct variance_term *term) {
    int df = 0;
    for (int i = 0; i < work->plots && work->rank < work->plots; i++) {
        int cell = cell_of(factor, term, i);
        bool first = true;
        for (int k = 0; k < work->plots; k++) {
            work->column[k] = cell_of(factor, term, k) == cell;
            first = first && (k >= i || work->column[k] == 0);
        }
        df += first && add_column(work);
    }
    return df;
}

/* ---- the table ---- */

static void finish(struct variance_row *row, const struct variance_term *term, int terms) {
    for (int t = 0; t <= terms; t++)
        row[t].mean_square = row[t].df > 0 ? row[t].sum_square / row[t].df : NAN;
    for (int t = 0; t <= terms; t++) {
        row[t].f = row[t].p = NAN;
        if (t == terms || term[t].error == t)
            continue;
        const struct variance_row *error = &row[term[t].error < 0 ? terms : term[t].error];
        if (row[t].df == 0 || error->df == 0)
            continue;
        row[t].f = row[t].mean_square / error->mean_square;
        row[t].p = distribution_f_above(row[t].f, row[t].df, error->df);
    }
}

enum status variance_table(const double *value, int plots, const struct variance_factor *factor, int factors,
                           const struct variance_term *term, int terms, struct variance_row *row,
                           double *work) {
    if (!within(plots, 2, VARIANCE_PLOTS_MAX))
        return STATUS_OUT_OF_RANGE;
    enum status status = check_factors(plots, factor, factors);
    if (status == STATUS_OK)
        status = check_terms(factors, term, terms);
    if (status == STATUS_OK)
        status = check_values(value, plots);
    if (status != STATUS_OK)
        return status;
    size_t size = (size_t)plots;
    struct work own = {
        .plots = plots, .basis = work, .column = work + size * size, .left = work + size * (size + 1)};
    for (int i = 0; i < plots; i++) {
        own.left[i] = value[i];
        own.column[i] = 1;
    }
    (void)add_column(&own);
    double before = dot(own.left, own.left, plots);
    for (int t = 0; t < terms; t++) {
        row[t].df = add_term(&own, factor, &term[t]);
        double after = dot(own.left, own.left, plots);
        row[t].sum_square = row[t].df > 0 ? before - after : 0;
        before = after;
    }
    row[terms].df = plots - own.rank;
    row[terms].sum_square = row[terms].df > 0 ? before : 0;
    finish(row, term, terms);
    return STATUS_OK;
}

/* ---- means ---- */

static double reach(const struct variance_row *error, double confidence, double per_plot) {
    if (error->df == 0)
        return NAN;
    return distribution_t_of(1 - confidence, error->df) * sqrt(error->mean_square * per_plot);
}

static bool is_confidence(double confidence) {
    return confidence >= 0.5 && confidence <= 0.9999;
}

enum status variance_mean_of(const double *value, int plots, const struct variance_factor *factor, int level,
                             const struct variance_row *error, double confidence, struct variance_mean *out) {
    if (!within(plots, 2, VARIANCE_PLOTS_MAX) || !is_confidence(confidence) || error->df < 0)
        return STATUS_OUT_OF_RANGE;
    enum status status = check_factors(plots, factor, 1);
    if (status == STATUS_OK)
        status = check_values(value, plots);
    if (status != STATUS_OK)
        return status;
    double sum = 0, square = 0;
    int count = 0;
    for (int i = 0; i < plots; i++) {
        if (factor->level[i] == level) {
            sum += value[i];
            count++;
        }
    }
    double mean = count > 0 ? sum / count : NAN;
    for (int i = 0; i < plots; i++) {
        if (factor->level[i] == level)
            square += (value[i] - mean) * (value[i] - mean);
    }
    double half = count > 0 ? reach(error, confidence, 1.0 / count) : NAN;
    *out = (struct variance_mean){count, mean, count > 1 ? sqrt(square / (count - 1)) : NAN, mean - half,
                                  mean + half};
    return STATUS_OK;
}

enum status variance_difference_of(const struct variance_mean *a, const struct variance_mean *b,
                                   const struct variance_row *error, double confidence,
                                   struct variance_difference *out) {
    if (a->count < 1 || b->count < 1 || !is_confidence(confidence) || error->df < 0)
        return STATUS_OUT_OF_RANGE;
    if (!isfinite(a->mean) || !isfinite(b->mean))
        return STATUS_NOT_FINITE;
    double difference = a->mean - b->mean, per_plot = 1.0 / a->count + 1.0 / b->count;
    double half = reach(error, confidence, per_plot), p = NAN;
    if (error->df > 0)
        p = distribution_t_beyond(difference / sqrt(error->mean_square * per_plot), error->df);
    *out = (struct variance_difference){difference, difference - half, difference + half, p};
    return STATUS_OK;
}

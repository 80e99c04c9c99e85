#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "core/decide/fit.h"
#include "core/decide/fit_matrix.h"
#include "core/decide/watering.h"
#include "tests/support/near.h"
#include "tests/support/plain_season.h"

#define VALUES 60

static double work[FIT_WORK(FIT_PARAMETERS_MAX, 200)];
static double measured[200], sd[200];

/* Noise of mean 0 and standard deviation 1 or so, the same on each machine: the sum of twelve uniform
 * numbers. */
static double noise(unsigned *state) {
    double sum = -6;
    for (int i = 0; i < 12; i++) {
        *state = *state * 1664525U + 1013904223U;
        sum += *state / 4294967296.0;
    }
    return sum;
}

/* ---- a curve that is known: a exp(-b t) + c ---- */

static enum status decay(void *context, const double *parameter, double *modelled) {
    (void)context;
    for (int i = 0; i < VALUES; i++)
        modelled[i] = parameter[0] * exp(-parameter[1] * 0.1 * i) + parameter[2];
    return STATUS_OK;
}

static struct fit_problem decay_problem(struct fit_parameter parameter[3], double scatter) {
    const double truth[3] = {2, 0.7, 0.5};
    unsigned state = 5;
    parameter[0] = (struct fit_parameter){1, 0, 10, 0, NAN};
    parameter[1] = (struct fit_parameter){2, 0.01, 5, 0, NAN};
    parameter[2] = (struct fit_parameter){0, -3, 3, 0, NAN};
    (void)decay(NULL, truth, measured);
    for (int i = 0; i < VALUES; i++) {
        sd[i] = 0.01;
        measured[i] += scatter * noise(&state);
    }
    return (struct fit_problem){.parameters = 3,
                                .parameter = parameter,
                                .count = VALUES,
                                .measured = measured,
                                .sd = sd,
                                .model = decay,
                                .starts = 3};
}

static void a_curve_without_noise_is_found(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = decay_problem(parameter, 0);
    struct fit_result result;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_near(result.estimate[0].value, 2, 1e-3);
    assert_near(result.estimate[1].value, 0.7, 1e-3);
    assert_near(result.estimate[2].value, 0.5, 1e-3);
    assert_true(fit_trustworthy(&problem, &result));
    assert_true(result.condition >= 1 && result.runs > 10);
}

static void a_curve_with_noise_is_found_within_its_own_uncertainty(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = decay_problem(parameter, 0.01);
    struct fit_result result;
    const double truth[3] = {2, 0.7, 0.5};
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_near(result.residual_sd, 1, 0.3); /* the noise is what sd says */
    for (int i = 0; i < 3; i++) {
        const struct fit_estimate *estimate = &result.estimate[i];
        assert_true(estimate->sd > 0 && estimate->sd < 0.1);
        assert_near(estimate->value, truth[i], 4 * estimate->sd);
        assert_near(estimate->sd, estimate->data_sd, 1e-12); /* no priors */
    }
}

static void the_same_problem_gives_the_same_bits(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = decay_problem(parameter, 0.02);
    struct fit_result one, two;
    memset(&one, 0, sizeof one);
    memset(&two, 0, sizeof two);
    assert_int_equal(fit_search(&problem, &one, work), STATUS_OK);
    assert_int_equal(fit_search(&problem, &two, work), STATUS_OK);
    for (int i = 0; i < 3; i++)
        assert_memory_equal(&one.estimate[i].value, &two.estimate[i].value, sizeof(double));
}

static void a_bound_holds_what_would_go_beyond_it(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = decay_problem(parameter, 0);
    struct fit_result result;
    parameter[0].high = 1.5;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_near(result.estimate[0].value, 1.5, 1e-9);
    assert_int_equal(result.estimate[0].verdict, FIT_AT_BOUND);
    parameter[0] = (struct fit_parameter){3, 2.5, 10, 0, NAN};
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_near(result.estimate[0].value, 2.5, 1e-9);
    assert_int_equal(result.estimate[0].verdict, FIT_AT_BOUND);
    assert_true(fit_trustworthy(&problem, &result));
}

static void a_sure_prior_keeps_a_parameter_where_it_was(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = decay_problem(parameter, 0);
    struct fit_result result;
    parameter[0].prior = 1.2;
    parameter[0].prior_sd = 1e-5;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_near(result.estimate[0].value, 1.2, 1e-3);
    assert_true(result.misfit >= result.data_misfit);
    assert_true(result.estimate[0].sd < result.estimate[0].data_sd);
}

/* ---- what the data cannot tell ---- */

static enum status sum_of_two(void *context, const double *parameter, double *modelled) {
    (void)context;
    for (int i = 0; i < 20; i++)
        modelled[i] = (parameter[0] + parameter[1]) * i + 0 * parameter[2];
    return STATUS_OK;
}

static struct fit_problem two_problem(struct fit_parameter parameter[3], int parameters) {
    for (int i = 0; i < 20; i++) {
        measured[i] = 3 * i;
        sd[i] = 1;
    }
    for (int i = 0; i < 3; i++)
        parameter[i] = (struct fit_parameter){0.5, 0, 4, 1, NAN};
    return (struct fit_problem){.parameters = parameters,
                                .parameter = parameter,
                                .count = 20,
                                .measured = measured,
                                .sd = sd,
                                .model = sum_of_two,
                                .starts = 1};
}

static void parameters_that_only_count_together_are_named(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 2);
    struct fit_result result;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_near(result.estimate[0].value + result.estimate[1].value, 3, 1e-6);
    assert_int_equal(result.estimate[0].verdict, FIT_CONFOUNDED);
    assert_int_equal(result.estimate[0].partner, 1);
    assert_near(result.estimate[0].correlation, -1, 1e-9); /* more of one is less of the other */
    assert_true(isinf(result.condition));
    assert_true(isnan(result.estimate[0].data_sd));
    assert_false(fit_trustworthy(&problem, &result));
}

static void a_prior_does_not_hide_what_the_data_cannot_tell(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 2);
    struct fit_result result;
    parameter[0].prior_sd = parameter[1].prior_sd = 0.1;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_true(isfinite(result.estimate[0].sd));
    assert_false(fit_trustworthy(&problem, &result));
}

static void a_parameter_without_effect_is_named(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 3);
    struct fit_result result;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_int_equal(result.estimate[2].verdict, FIT_NO_EFFECT);
    assert_false(fit_trustworthy(&problem, &result));
}

static enum status nearly_the_same(void *context, const double *parameter, double *modelled) {
    (void)context;
    for (int i = 0; i < 20; i++)
        modelled[i] =
            parameter[0] * i + parameter[1] * (i + 0.2 * (i % 2)) + parameter[2] * (i + 0.2 * (i % 3));
    return STATUS_OK;
}

static void a_poor_condition_alone_is_not_trusted(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 3);
    struct fit_result result;
    problem.model = nearly_the_same;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_true(result.condition > FIT_CONDITION_POOR && isfinite(result.condition));
    assert_false(fit_trustworthy(&problem, &result));
    /* Each told, but the whole poorly: a condition of 30 and more is enough to doubt it. */
    for (int i = 0; i < 3; i++)
        result.estimate[i].verdict = FIT_TOLD;
    assert_false(fit_trustworthy(&problem, &result));
}

static enum status much_alike(void *context, const double *parameter, double *modelled) {
    (void)context;
    for (int i = 0; i < 20; i++)
        modelled[i] = parameter[0] * i + parameter[1] * (i + 5 * (i % 2));
    return STATUS_OK;
}

static void two_that_are_much_alike_are_not_trusted_for_all_their_condition(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 2);
    struct fit_result result;
    problem.model = much_alike;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_true(result.condition < FIT_CONDITION_POOR);
    assert_int_equal(result.estimate[0].verdict, FIT_CONFOUNDED);
    assert_true(result.estimate[0].correlation < -FIT_CORRELATION_POOR);
    assert_false(fit_trustworthy(&problem, &result));
}

/* ---- models that refuse ---- */

static enum status refuses(void *context, const double *parameter, double *modelled) {
    const double *limit = context;
    if (parameter[0] > limit[0])
        return STATUS_ORDER;
    for (int i = 0; i < 20; i++)
        modelled[i] = parameter[0] > limit[1] ? NAN : parameter[0] * i;
    return STATUS_OK;
}

static void the_search_keeps_away_from_what_cannot_be(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 1);
    double limit[2] = {2, 1.5};
    struct fit_result result;
    problem.model = refuses;
    problem.context = limit;
    problem.starts = 6; /* some begin where the model refuses */
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_true(result.estimate[0].value <= 1.5 && result.estimate[0].value > 1);
    parameter[0].start = 3;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_ORDER);
    parameter[0].start = 1.9;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_NOT_FINITE);
}

/* It falls away for ever: each step is as long as the one before, and each gains. */
static enum status falls_away(void *context, const double *parameter, double *modelled) {
    (void)context;
    for (int i = 0; i < 20; i++)
        modelled[i] = exp(-200 * parameter[0]);
    return STATUS_OK;
}

static void a_search_that_runs_out_of_steps_says_so(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_problem problem = two_problem(parameter, 1);
    struct fit_result result;
    memset(measured, 0, sizeof measured);
    parameter[0] = (struct fit_parameter){0, 0, 1, 0, NAN};
    problem.model = falls_away;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_false(result.settled);
    assert_true(result.estimate[0].value > 0.1 && result.estimate[0].value < 1);
}

/* ---- a season of the balance, as fits are really made ---- */

struct field {
    struct season_setup setup;
    struct season_input input[75];
};

/* field capacity, wilting point, greatest rooting depth, Kcb mid, p, depletion at the start */
static void put_parameters(struct season_setup *setup, const double *parameter) {
    setup->soil.layer[0].field_capacity_m3_m3 = parameter[0];
    setup->soil.layer[0].wilting_point_m3_m3 = parameter[1];
    setup->crop.root_max_m = parameter[2];
    setup->crop.kcb_mid = parameter[3];
    setup->crop.depletion_fraction = parameter[4];
    setup->start_depletion = parameter[5];
}

static enum status soil_water(void *context, const double *parameter, double *modelled) {
    const struct field *field = context;
    struct season_setup setup = field->setup;
    struct season_day day[75];
    struct budget budget;
    const struct watering_rule rule = watering_rule_default();
    int days;
    put_parameters(&setup, parameter);
    const struct watering_season season = {
        .setup = &setup, .input = field->input, .count = 75, .rule = &rule};
    enum status status = watering_run(&season, day, &days, &budget, NULL);
    for (int i = 0; status == STATUS_OK && i < 75; i++)
        modelled[i] = (soil_field_capacity_to_mm(&setup.soil, day[i].root_m) - day[i].depletion_mm) /
                      (1000 * day[i].root_m);
    return status;
}

static const double season_truth[6] = {0.27, 0.11, 0.8, 1.05, 0.5, 0.35};

static struct fit_problem season_problem(struct field *field, struct fit_parameter parameter[6],
                                         double scatter) {
    const struct fit_parameter usual[6] = {{0.24, 0.16, 0.36, 0.24, 0.04}, {0.10, 0.02, 0.15, 0.10, 0.04},
                                           {1.0, 0.5, 1.5, 1.0, 0.25},     {1.1, 0.8, 1.4, 1.1, 0.1},
                                           {0.5, 0.2, 0.8, 0.5, 0.1},      {0.1, 0, 1, 0.1, 0.3}};
    unsigned state = 11;
    field->setup = plain_setup();
    for (int i = 0; i < 75; i++) {
        field->input[i] = plain_day(FIRST + i);
        field->input[i].rain_mm = i == 25       ? 90
                                  : i % 11 == 3 ? 15
                                                : 0; /* filled once, else the soil dries out */
    }
    memcpy(parameter, usual, sizeof usual);
    assert_int_equal(soil_water(field, season_truth, measured), STATUS_OK);
    for (int i = 0; i < 75; i++) {
        sd[i] = 0.01;
        measured[i] += scatter * noise(&state);
    }
    return (struct fit_problem){.parameters = 6,
                                .parameter = parameter,
                                .count = 75,
                                .measured = measured,
                                .sd = sd,
                                .model = soil_water,
                                .context = field,
                                .starts = 8};
}

static void a_soil_and_a_crop_are_found_from_noisy_readings(void **state) {
    (void)state;
    struct field field;
    struct fit_parameter parameter[6];
    struct fit_problem problem = season_problem(&field, parameter, 0.01);
    struct fit_result result;
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    for (int i = 0; i < 6; i++)
        assert_near(result.estimate[i].value, season_truth[i], 4 * result.estimate[i].sd);
    /* Field capacity is what readings tell best. */
    assert_near(result.estimate[0].value, season_truth[0], 0.01);
    print_message("# measured fit of six parameters to 75 readings: field capacity %.4f (true %.2f), wilting "
                  "point %.4f "
                  "(%.2f), roots %.3f m (%.1f), Kcb mid %.3f (%.2f), p %.3f (%.1f), start %.3f (%.2f); %d "
                  "seasons run\n",
                  result.estimate[0].value, season_truth[0], result.estimate[1].value, season_truth[1],
                  result.estimate[2].value, season_truth[2], result.estimate[3].value, season_truth[3],
                  result.estimate[4].value, season_truth[4], result.estimate[5].value, season_truth[5],
                  result.runs);
}

static void readings_of_a_wet_season_do_not_tell_the_wilting_point(void **state) {
    (void)state;
    struct field field;
    struct fit_parameter parameter[6];
    struct fit_problem problem = season_problem(&field, parameter, 0.01);
    struct fit_result result;
    for (int i = 0; i < 75; i++)
        field.input[i].rain_mm = 12; /* the soil is never dry */
    unsigned seed = 3;
    assert_int_equal(soil_water(&field, season_truth, measured), STATUS_OK);
    for (int i = 0; i < 75; i++)
        measured[i] += 0.01 * noise(&seed);
    assert_int_equal(fit_search(&problem, &result, work), STATUS_OK);
    assert_false(fit_trustworthy(&problem, &result));
}

/* ---- hostile problems ---- */

static void hostile_problems_are_refused(void **state) {
    (void)state;
    struct fit_parameter parameter[3];
    struct fit_result result;
    struct fit_problem good = two_problem(parameter, 2), bad;
    const int wrong_counts[] = {0, FIT_PARAMETERS_MAX + 1};
    for (int i = 0; i < 2; i++) {
        bad = good;
        bad.parameters = wrong_counts[i];
        assert_int_equal(fit_search(&bad, &result, work), STATUS_OUT_OF_RANGE);
    }
    bad = good;
    bad.count = -1;
    assert_int_equal(fit_search(&bad, &result, work), STATUS_OUT_OF_RANGE);
    bad.count = FIT_VALUES_MAX + 1;
    assert_int_equal(fit_search(&bad, &result, work), STATUS_OUT_OF_RANGE);
    bad.count = 2;
    assert_int_equal(fit_search(&bad, &result, work), STATUS_MISSING);
    bad = good;
    bad.starts = 0;
    assert_int_equal(fit_search(&bad, &result, work), STATUS_OUT_OF_RANGE);
    bad.starts = FIT_STARTS_MAX + 1;
    assert_int_equal(fit_search(&bad, &result, work), STATUS_OUT_OF_RANGE);
    const struct {
        struct fit_parameter parameter;
        enum status status;
    } cases[] = {
        {{NAN, 0, 1, 0, NAN}, STATUS_NOT_FINITE},        {{0.5, -INFINITY, 1, 0, NAN}, STATUS_NOT_FINITE},
        {{0.5, 0, INFINITY, 0, NAN}, STATUS_NOT_FINITE}, {{0.5, 1, 0, 0, NAN}, STATUS_OUT_OF_RANGE},
        {{-1, 0, 1, 0, NAN}, STATUS_OUT_OF_RANGE},       {{2, 0, 1, 0, NAN}, STATUS_OUT_OF_RANGE},
        {{0.5, 0, 1, NAN, 1}, STATUS_NOT_FINITE},        {{0.5, 0, 1, 0, INFINITY}, STATUS_NOT_FINITE},
        {{0.5, 0, 1, 0, 0}, STATUS_OUT_OF_RANGE}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        parameter[1] = cases[i].parameter;
        assert_int_equal(fit_search(&good, &result, work), cases[i].status);
    }
    good = two_problem(parameter, 2);
    measured[3] = NAN;
    assert_int_equal(fit_search(&good, &result, work), STATUS_NOT_FINITE);
    good = two_problem(parameter, 2);
    sd[3] = INFINITY;
    assert_int_equal(fit_search(&good, &result, work), STATUS_NOT_FINITE);
    sd[3] = 0;
    assert_int_equal(fit_search(&good, &result, work), STATUS_OUT_OF_RANGE);
}

static void verdicts_have_words(void **state) {
    (void)state;
    assert_string_equal(fit_verdict_text(FIT_TOLD), "told by the data");
    assert_null(fit_verdict_text((enum fit_verdict)4));
}

/* ---- matrices ---- */

static void matrices_that_are_not_positive_definite_are_told(void **state) {
    (void)state;
    double a[FIT_N][FIT_N] = {{1, 2}, {2, 1}}, x[FIT_N], b[FIT_N] = {1, 1}, inverse[FIT_N][FIT_N];
    assert_false(fit_solve(a, b, 2, x));
    assert_false(fit_invert(a, 2, inverse));
    a[0][0] = a[1][1] = 3;
    assert_true(fit_solve(a, b, 2, x));
    assert_near(x[0], 0.2, 1e-15); /* 3 x + 2 y = 1 both ways */
    assert_near(x[1], 0.2, 1e-15);
    assert_true(fit_invert(a, 2, inverse));
    assert_near(inverse[0][0], 0.6, 1e-15); /* 3 / 5 and -2 / 5 */
    assert_near(inverse[0][1], -0.4, 1e-15);
}

/* The matrix with 2 in its diagonal and -1 beside it has eigenvalues 2 - 2 cos(k pi / (n + 1)) (well known,
 * no source). */
static void eigenvalues_are_those_of_a_known_matrix(void **state) {
    (void)state;
    double a[FIT_N][FIT_N] = {{0}}, value[FIT_N];
    for (int i = 0; i < FIT_N; i++) {
        a[i][i] = 2;
        if (i > 0)
            a[i][i - 1] = a[i - 1][i] = -1;
    }
    fit_eigenvalues(a, FIT_N, value);
    for (int k = 1; k <= FIT_N; k++) {
        double want = 2 - 2 * cos(k * 3.14159265358979 / (FIT_N + 1)), nearest = INFINITY;
        for (int i = 0; i < FIT_N; i++)
            nearest = fmin(nearest, fabs(value[i] - want));
        assert_near(nearest, 0, 1e-12);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_curve_without_noise_is_found),
        cmocka_unit_test(a_curve_with_noise_is_found_within_its_own_uncertainty),
        cmocka_unit_test(the_same_problem_gives_the_same_bits),
        cmocka_unit_test(a_bound_holds_what_would_go_beyond_it),
        cmocka_unit_test(a_sure_prior_keeps_a_parameter_where_it_was),
        cmocka_unit_test(parameters_that_only_count_together_are_named),
        cmocka_unit_test(a_prior_does_not_hide_what_the_data_cannot_tell),
        cmocka_unit_test(a_parameter_without_effect_is_named),
        cmocka_unit_test(a_poor_condition_alone_is_not_trusted),
        cmocka_unit_test(two_that_are_much_alike_are_not_trusted_for_all_their_condition),
        cmocka_unit_test(the_search_keeps_away_from_what_cannot_be),
        cmocka_unit_test(a_search_that_runs_out_of_steps_says_so),
        cmocka_unit_test(a_soil_and_a_crop_are_found_from_noisy_readings),
        cmocka_unit_test(readings_of_a_wet_season_do_not_tell_the_wilting_point),
        cmocka_unit_test(hostile_problems_are_refused),
        cmocka_unit_test(verdicts_have_words),
        cmocka_unit_test(matrices_that_are_not_positive_definite_are_told),
        cmocka_unit_test(eigenvalues_are_those_of_a_known_matrix),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

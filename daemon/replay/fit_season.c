#include "daemon/replay/fit_season.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- readings ---- */

enum status fit_readings_of_records(const struct farm *farm, const struct season_case *season,
                                    struct fit_reading **out, size_t *count) {
    const struct season_input *first = season->input;
    *count = 0;
    *out = calloc(farm->record_count + 1, sizeof **out);
    if (*out == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < farm->record_count && season->count > 0; i++) {
        const struct farm_record *record = &farm->record[i];
        if (record->kind != RECORD_READING || strcmp(record->field, season->planting->field) != 0 ||
            record->date < first->date || record->date > season->input[season->count - 1].date)
            continue;
        bool stated = !isnan(record->sd) && record->sd > 0;
        (*out)[(*count)++] =
            (struct fit_reading){record->date, record->amount, stated ? record->sd : FIT_READING_SD};
    }
    return STATUS_OK;
}

static int by_date(const void *a, const void *b) {
    const struct fit_reading *x = a, *y = b;
    return (x->date > y->date) - (x->date < y->date);
}

enum status fit_readings_of_probe(const struct probe *probe, const struct season_day *day, int days,
                                  struct fit_reading **out, size_t *count) {
    *count = 0;
    *out = calloc(probe->count + 1, sizeof **out);
    if (*out == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < probe->count; i++) {
        int64_t at = days > 0 ? (int64_t)probe->day[i].date - day[0].date : -1;
        if (at < 0 || at >= days)
            continue;
        double water = probe_mean(probe, &probe->day[i], day[at].root_m);
        if (!isnan(water))
            (*out)[(*count)++] = (struct fit_reading){probe->day[i].date, water, FIT_READING_SD};
    }
    qsort(*out, *count, sizeof **out, by_date);
    return STATUS_OK;
}

/* ---- the fit ---- */

enum status season_fit_begin(const struct season_case *season, const enum parameter *parameter,
                             int parameters, bool priors, struct season_fit *out, struct problems *problems) {
    const struct season_variant present = season_variant_of(season);
    out->parameters = parameters;
    out->priors = priors;
    for (int i = 0; i < parameters; i++) {
        const struct parameter_row *row = &parameter_rows[parameter[i]];
        double value = parameter_get(&present, parameter[i]);
        if (isnan(row->reach) || isnan(value)) {
            problem_add(problems, NULL, 0, 0, row->name, "%s",
                        isnan(value) ? "the farm file does not set it, expected a value to begin from"
                                     : "found a setting that no fit moves");
            return STATUS_REFUSED;
        }
        out->parameter[i] = parameter[i];
        out->range[i] = (struct fit_parameter){.start = value,
                                               .low = fmax(row->low, value - row->reach),
                                               .high = fmin(row->high, value + row->reach),
                                               .prior = value,
                                               .prior_sd = priors ? row->prior_sd : (double)NAN};
    }
    return STATUS_OK;
}

struct context {
    const struct season_case *season;
    struct season_fit *fit;
    struct season_day *day;
};

struct season_variant season_fit_variant(const struct season_case *season, const struct season_fit *fit) {
    struct season_variant variant = season_variant_of(season);
    for (int i = 0; i < fit->parameters; i++)
        parameter_set(&variant, fit->parameter[i], fit->result.estimate[i].value);
    return variant;
}

/* Water content of the root zone at each reading. */
static enum status model(void *context, const double *parameter, double *modelled) {
    struct context *own = context;
    const struct season_fit *fit = own->fit;
    struct season_variant variant = season_variant_of(own->season);
    struct budget budget;
    int days;
    for (int i = 0; i < fit->parameters; i++)
        parameter_set(&variant, fit->parameter[i], parameter[i]);
    enum status status = season_variant_run(own->season, &variant, own->day, &days, &budget, NULL);
    for (size_t i = 0; status == STATUS_OK && i < fit->readings; i++) {
        int at = (int)(fit->reading[i].date - own->season->input[0].date);
        if (at >= days)
            return STATUS_MISSING; /* the season is over before it */
        const struct season_day *day = &own->day[at];
        modelled[i] = (soil_field_capacity_to_mm(&variant.setup.soil, day->root_m) - day->depletion_mm +
                       day->excess_mm) /
                      (1000 * day->root_m);
    }
    return status;
}

/* The season may end before the last readings, which then tell nothing. */
static enum status drop_late(const struct context *context, struct problems *problems) {
    struct season_fit *fit = context->fit;
    struct season_variant variant = season_variant_of(context->season);
    struct budget budget;
    int days;
    enum status status = season_variant_run(context->season, &variant, context->day, &days, &budget, NULL);
    if (status != STATUS_OK) {
        problem_add(problems, NULL, 0, 0, context->season->planting->field, "the season cannot be kept: %s",
                    status_name(status));
        return STATUS_REFUSED;
    }
    while (fit->readings > 0 && fit->reading[fit->readings - 1].date - context->season->input[0].date >= days)
        fit->readings--;
    if (fit->readings > (size_t)fit->parameters && fit->readings <= FIT_VALUES_MAX)
        return STATUS_OK;
    problem_add(problems, NULL, 0, 0, context->season->planting->field,
                "found %zu readings of soil water within the season, expected more than the %d parameters, "
                "and at most %d",
                fit->readings, fit->parameters, FIT_VALUES_MAX);
    return STATUS_REFUSED;
}

static enum status search(struct context *context, double *pairs, double *work, struct problems *problems) {
    struct season_fit *fit = context->fit;
    double *measured = pairs, *sd = pairs + fit->readings;
    double start[FIT_PARAMETERS_MAX], found[FIT_PARAMETERS_MAX];
    for (size_t i = 0; i < fit->readings; i++) {
        measured[i] = fit->reading[i].water_m3_m3;
        sd[i] = fit->reading[i].sd_m3_m3;
    }
    const struct fit_problem problem = {.parameters = fit->parameters,
                                        .parameter = fit->range,
                                        .count = (int)fit->readings,
                                        .measured = measured,
                                        .sd = sd,
                                        .model = model,
                                        .context = context,
                                        .starts = 8};
    enum status status = fit_search(&problem, &fit->result, work);
    if (status != STATUS_OK) {
        problem_add(problems, NULL, 0, 0, context->season->planting->field, "the fit cannot begin: %s",
                    status_name(status));
        return STATUS_REFUSED;
    }
    fit->trustworthy = fit_trustworthy(&problem, &fit->result);
    for (int i = 0; i < fit->parameters; i++) {
        start[i] = fit->range[i].start;
        found[i] = fit->result.estimate[i].value;
    }
    status = model(context, start, fit->modelled_before);
    if (status == STATUS_OK)
        status = model(context, found, fit->modelled);
    if (status == STATUS_OK)
        status = scores_of(measured, fit->modelled_before, fit->readings, &fit->before);
    if (status == STATUS_OK)
        status = scores_of(measured, fit->modelled, fit->readings, &fit->after);
    return status;
}

enum status season_fit_run(const struct season_case *season, struct season_fit *out,
                           struct problems *problems) {
    struct context context = {season, out, calloc((size_t)season->count + 1, sizeof *context.day)};
    enum status status = context.day != NULL ? drop_late(&context, problems) : STATUS_NO_MEMORY;
    if (status == STATUS_OK) {
        double *pairs = calloc(2 * out->readings, sizeof *pairs);
        double *work = calloc(FIT_WORK(out->parameters, out->readings), sizeof *work);
        out->modelled_before = calloc(out->readings, sizeof *out->modelled_before);
        out->modelled = calloc(out->readings, sizeof *out->modelled);
        bool room = pairs != NULL && work != NULL && out->modelled_before != NULL && out->modelled != NULL;
        status = room ? search(&context, pairs, work, problems) : STATUS_NO_MEMORY;
        free(pairs);
        free(work);
    }
    free(context.day);
    return status;
}

void season_fit_free(struct season_fit *fit) {
    free(fit->reading);
    free(fit->modelled_before);
    free(fit->modelled);
    memset(fit, 0, sizeof *fit);
}

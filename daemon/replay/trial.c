#include "daemon/replay/trial.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- yields ---- */

static int plot_named(const struct farm_trial *of, const char *name) {
    int i = 0;
    while (i < of->plot_count && strcmp(of->plot[i].name, name) != 0)
        i++;
    return i;
}

static const struct farm_treatment *treatment_named(const struct farm_trial *of, const char *name) {
    int i = 0;
    while (strcmp(of->treatment[i].name, name) != 0)
        i++;
    return &of->treatment[i];
}

static bool field_of_trial(const struct farm_trial *of, const char *field) {
    for (int i = 0; i < of->treatment_count; i++) {
        if (strcmp(of->treatment[i].field, field) == 0)
            return true;
    }
    return false;
}

/* The grade's place in the list, put there when it is new; TRIAL_GRADES_MAX: no room. */
static int grade_named(struct trial *trial, const char *grade) {
    char name[FARM_NAME_SIZE];
    (void)snprintf(name, sizeof name, "%s", grade);
    for (int i = 0; i < trial->grades; i++) {
        if (strcmp(trial->grade[i].grade, name) == 0)
            return i;
    }
    if (trial->grades == TRIAL_GRADES_MAX)
        return TRIAL_GRADES_MAX;
    struct trial_grade *added = &trial->grade[trial->grades];
    memcpy(added->grade, name, sizeof added->grade);
    for (int i = 0; i < FARM_PLOTS_MAX; i++)
        added->yield[i] = (double)NAN;
    return trial->grades++;
}

static void add_yield(const struct farm_plot *plot, double amount, double *yield) {
    double hectares = isnan(plot->area_m2) ? 1 : plot->area_m2 / 1e4;
    *yield = (isnan(*yield) ? 0 : *yield) + amount / hectares;
}

/* The first day of the field's newest planting: harvests before it are another year's. */
static int32_t season_start(const struct farm *farm, const char *field, int32_t until) {
    const struct farm_planting *planting = farm_planting_on(farm, field, until - 1);
    return planting != NULL ? planting->start_date : CALENDAR_FIRST;
}

static enum status add_harvest(struct trial *trial, const struct farm_record *record,
                               struct problems *problems) {
    int plot = plot_named(trial->of, record->plot);
    bool known = plot < trial->of->plot_count;
    if (!known ||
        strcmp(treatment_named(trial->of, trial->of->plot[plot].treatment)->field, record->field) != 0) {
        trial->strangers++;
        return STATUS_OK;
    }
    add_yield(&trial->of->plot[plot], record->amount, &trial->grade[0].yield[plot]);
    if (record->text[0] == '\0')
        return STATUS_OK;
    int grade = grade_named(trial, record->text);
    if (grade == TRIAL_GRADES_MAX) {
        problem_add(problems, NULL, 0, 0, trial->of->name, "found more than %d grades of yield",
                    TRIAL_GRADES_MAX - 1);
        return STATUS_REFUSED;
    }
    add_yield(&trial->of->plot[plot], record->amount, &trial->grade[grade].yield[plot]);
    return STATUS_OK;
}

static enum status collect(const struct farm *farm, int32_t until, struct trial *trial,
                           struct problems *problems) {
    enum status status = STATUS_OK;
    (void)grade_named(trial, "");
    for (size_t i = 0; status == STATUS_OK && i < farm->record_count; i++) {
        const struct farm_record *record = &farm->record[i];
        if (record->kind == RECORD_HARVEST && record->plot[0] != '\0' && !isnan(record->amount) &&
            field_of_trial(trial->of, record->field) &&
            record->date >= season_start(farm, record->field, until))
            status = add_harvest(trial, record, problems);
    }
    for (int g = 0; g < trial->grades; g++) {
        struct trial_grade *grade = &trial->grade[g];
        for (int i = 0; i < trial->of->plot_count; i++) {
            if (isnan(grade->yield[i]) && !isnan(trial->grade[0].yield[i]))
                grade->yield[i] = 0;
            grade->plots += !isnan(grade->yield[i]);
        }
    }
    return status;
}

/* ---- the analysis ---- */

enum { BLOCK, TREATMENT, WHOLE, SUB, FACTORS };

/* The plots that were harvested, with their levels. */
struct plots {
    int count;
    double value[FARM_PLOTS_MAX];
    int level[FACTORS][FARM_PLOTS_MAX];
    struct variance_factor factor[FACTORS];
    const char *name[FACTORS][FARM_PLOTS_MAX]; /* of each level */
};

static int level_of(struct plots *plots, int factor, const char *name) {
    int *levels = &plots->factor[factor].levels;
    for (int i = 0; i < *levels; i++) {
        if (strcmp(plots->name[factor][i], name) == 0)
            return i;
    }
    plots->name[factor][*levels] = name;
    return (*levels)++;
}

static void lay_out(const struct farm_trial *of, const struct trial_grade *grade, struct plots *plots) {
    memset(plots, 0, sizeof *plots);
    for (int i = 0; i < of->treatment_count; i++)
        (void)level_of(plots, TREATMENT, of->treatment[i].name); /* in the order of the file */
    for (int i = 0; i < of->plot_count; i++) {
        if (isnan(grade->yield[i]))
            continue;
        const struct farm_plot *plot = &of->plot[i];
        const struct farm_treatment *treatment = treatment_named(of, plot->treatment);
        int at = plots->count++;
        plots->value[at] = grade->yield[i];
        plots->level[BLOCK][at] = level_of(plots, BLOCK, plot->block);
        plots->level[TREATMENT][at] = level_of(plots, TREATMENT, plot->treatment);
        plots->level[WHOLE][at] = level_of(plots, WHOLE, treatment->whole);
        plots->level[SUB][at] = level_of(plots, SUB, treatment->sub);
    }
    for (int f = 0; f < FACTORS; f++)
        plots->factor[f].level = plots->level[f];
}

/* The terms of each layout. */
struct model {
    int terms;
    struct variance_term term[TRIAL_TERMS_MAX];
    const char *name[TRIAL_TERMS_MAX + 1];
    int error_of[3]; /* row that judges groups of each kind */
};

static const struct model models[TRIAL_LAYOUT_COUNT] = {
    [TRIAL_COMPLETELY_RANDOMISED] = {1, {{1, {TREATMENT}, -1}}, {"treatment", "error"}, {1, 1, 1}},
    [TRIAL_RANDOMISED_BLOCKS] = {2,
                                 {{1, {BLOCK}, -1}, {1, {TREATMENT}, -1}},
                                 {"block", "treatment", "error"},
                                 {2, 2, 2}},
    [TRIAL_SPLIT_PLOT] =
        {5,
         {{1, {BLOCK}, 2}, {1, {WHOLE}, 2}, {2, {BLOCK, WHOLE}, 2}, {1, {SUB}, -1}, {2, {WHOLE, SUB}, -1}},
         {"block", "whole plot", "error of whole plots", "sub-plot", "whole plot x sub-plot", "error"},
         {5, 2, 5}},
};

/* Every whole plot of a split plot has every sub-plot once. */
static bool complete(const struct plots *plots) {
    int cells = plots->factor[BLOCK].levels * plots->factor[WHOLE].levels * plots->factor[SUB].levels;
    for (int i = 0; i < plots->count; i++) {
        for (int k = 0; k < i; k++) {
            if (plots->level[BLOCK][i] == plots->level[BLOCK][k] &&
                plots->level[WHOLE][i] == plots->level[WHOLE][k] &&
                plots->level[SUB][i] == plots->level[SUB][k])
                return false;
        }
    }
    return plots->count == cells;
}

static enum status add_groups(const struct plots *plots, enum trial_group_kind kind, int factor,
                              const struct variance_row *error, double confidence,
                              struct trial_grade *grade) {
    int first = grade->groups;
    enum status status = STATUS_OK;
    for (int level = 0; status == STATUS_OK && level < plots->factor[factor].levels; level++) {
        struct trial_group *group = &grade->group[grade->groups++];
        group->kind = kind;
        (void)snprintf(group->name, sizeof group->name, "%s", plots->name[factor][level]);
        status = variance_mean_of(plots->value, plots->count, &plots->factor[factor], level, error,
                                  confidence, &group->mean);
    }
    for (int a = first; a < grade->groups; a++) {
        for (int b = first; b < a; b++) {
            struct trial_pair *pair = &grade->pair[grade->pairs];
            if (grade->pairs == TRIAL_PAIRS_MAX ||
                variance_difference_of(&grade->group[a].mean, &grade->group[b].mean, error, confidence,
                                       &pair->difference) != STATUS_OK)
                continue;
            pair->a = a;
            pair->b = b;
            grade->pairs++;
        }
    }
    return status;
}

static enum status analyse(const struct farm_trial *of, double confidence, struct plots *plots, double *work,
                           struct trial_grade *grade) {
    const struct model *model = &models[of->layout];
    lay_out(of, grade, plots);
    enum status status = variance_table(plots->value, plots->count, plots->factor, FACTORS, model->term,
                                        model->terms, grade->row, work);
    if (status != STATUS_OK)
        return status;
    grade->terms = model->terms;
    memcpy(grade->term, model->name, sizeof grade->term);
    status = add_groups(plots, TRIAL_TREATMENT, TREATMENT, &grade->row[model->error_of[TRIAL_TREATMENT]],
                        confidence, grade);
    if (status == STATUS_OK && of->layout == TRIAL_SPLIT_PLOT)
        status = add_groups(plots, TRIAL_WHOLE, WHOLE, &grade->row[model->error_of[TRIAL_WHOLE]], confidence,
                            grade);
    if (status == STATUS_OK && of->layout == TRIAL_SPLIT_PLOT)
        status =
            add_groups(plots, TRIAL_SUB, SUB, &grade->row[model->error_of[TRIAL_SUB]], confidence, grade);
    return status;
}

static enum status analyse_all(struct trial *trial, struct problems *problems) {
    struct plots *plots = malloc(sizeof *plots);
    double *work = calloc(VARIANCE_WORK(FARM_PLOTS_MAX), sizeof *work);
    enum status status = plots != NULL && work != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK && trial->of->layout == TRIAL_SPLIT_PLOT && trial->grade[0].plots > 0) {
        lay_out(trial->of, &trial->grade[0], plots);
        if (!complete(plots)) {
            problem_add(problems, NULL, 0, 0, trial->of->name,
                        "found a split plot in which plots are missing or stand twice, expected every "
                        "sub-plot once in "
                        "every whole plot of every block");
            status = STATUS_REFUSED;
        }
    }
    for (int g = 0; status == STATUS_OK && g < trial->grades; g++) {
        if (trial->grade[g].plots >= 2)
            status = analyse(trial->of, trial->confidence, plots, work, &trial->grade[g]);
    }
    free(plots);
    free(work);
    return status;
}

/* ---- the balance beside it ---- */

size_t trial_readings(const struct farm *farm, const struct replay_result *result, const struct soil *soil,
                      double *measured, double *modelled, size_t room) {
    size_t count = 0;
    for (size_t i = 0; i < farm->record_count && count < room; i++) {
        const struct farm_record *record = &farm->record[i];
        int64_t at = result->days > 0 ? (int64_t)record->date - result->day[0].date : -1;
        if (record->kind != RECORD_READING || strcmp(record->field, result->field) != 0 || at < 0 ||
            at >= result->days)
            continue;
        const struct season_day *day = &result->day[at];
        measured[count] = record->amount;
        modelled[count++] =
            (soil_field_capacity_to_mm(soil, day->root_m) - day->depletion_mm + day->excess_mm) /
            (1000 * day->root_m);
    }
    return count;
}

/* The newest season of a field without its readings: the second scenario. */
static const struct replay_result *season_of(const struct replay *replay, const char *field) {
    const struct replay_result *found = NULL;
    for (size_t i = 1; i < replay->result_count; i += replay->scenario_count) {
        if (strcmp(replay->result[i].field, field) == 0 && replay->result[i].days > 0)
            found = &replay->result[i];
    }
    return found;
}

static enum status model_of(const struct replay *replay, const struct farm_treatment *treatment,
                            struct trial_model *model) {
    const struct replay_result *result = season_of(replay, treatment->field);
    const struct farm_field *field = farm_field_named(&replay->farm, treatment->field);
    const struct farm_soil *soil = field != NULL ? farm_soil_named(&replay->farm, field->soil) : NULL;
    model->relative = model->relative_most = model->measured_most = (double)NAN;
    if (result == NULL || soil == NULL)
        return STATUS_OK;
    size_t room = replay->farm.record_count;
    double *pairs = calloc(2 * room + 1, sizeof *pairs);
    if (pairs == NULL)
        return STATUS_NO_MEMORY;
    model->grown = true;
    model->budget = result->budget;
    model->relative = result->value.relative;
    size_t count = trial_readings(&replay->farm, result, &soil->soil, pairs, pairs + room, room);
    enum status status = count > 0 ? scores_of(pairs, pairs + room, count, &model->reading) : STATUS_OK;
    free(pairs);
    return status;
}

/* As shares of the best treatment. */
static void compare(struct trial *trial) {
    const struct trial_grade *all = &trial->grade[0];
    double most = 0, yield = 0;
    for (int i = 0; i < trial->of->treatment_count; i++) {
        most = fmax(most, trial->model[i].relative);
        if (i < all->groups)
            yield = fmax(yield, all->group[i].mean.mean);
    }
    for (int i = 0; i < trial->of->treatment_count; i++) {
        struct trial_model *model = &trial->model[i];
        model->relative_most = most > 0 ? model->relative / most : (double)NAN;
        model->measured_most = i < all->groups && yield > 0 ? all->group[i].mean.mean / yield : (double)NAN;
    }
}

static enum status run_balance(struct replay *replay, struct problems *problems) {
    cJSON *changes = cJSON_CreateObject();
    if (changes == NULL || cJSON_AddStringToObject(changes, "readings", "leave") == NULL) {
        cJSON_Delete(changes);
        return STATUS_NO_MEMORY;
    }
    enum status status = replay_add(replay, "without readings", changes, problems);
    return status == STATUS_OK ? replay_run(replay, NULL, problems) : status;
}

enum status trial_run(struct replay *replay, const struct farm_trial *of, double confidence,
                      struct trial *out, struct problems *problems) {
    memset(out, 0, sizeof *out);
    out->of = of;
    out->confidence = confidence;
    enum status status = collect(&replay->farm, replay->until, out, problems);
    if (status == STATUS_OK)
        status = analyse_all(out, problems);
    if (status == STATUS_OK)
        status = run_balance(replay, problems);
    for (int i = 0; status == STATUS_OK && i < of->treatment_count; i++)
        status = model_of(replay, &of->treatment[i], &out->model[i]);
    if (status == STATUS_OK)
        compare(out);
    return status;
}

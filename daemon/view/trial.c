#include "daemon/view/trial.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/units.h"
#include "daemon/replay/made.h"
#include "daemon/view/csv_cell.h"
#include "daemon/view/json_add.h"
#include "daemon/view/replay.h"

const char *trial_group_kind_name(enum trial_group_kind kind) {
    static const char *const name[] = {"treatment", "whole plot", "sub-plot"};
    return (unsigned)kind < 3 ? name[kind] : NULL;
}

/* ---- JSON ---- */

static void add_table(cJSON *out, const struct trial_grade *grade) {
    cJSON *list = cJSON_AddArrayToObject(out, "table");
    for (int i = 0; grade->terms > 0 && i <= grade->terms; i++) {
        cJSON *row = json_add_entry(list);
        cJSON_AddStringToObject(row, "term", grade->term[i]);
        json_add_number(row, "df", grade->row[i].df);
        json_add_number(row, "sum_square", grade->row[i].sum_square);
        json_add_number(row, "mean_square", grade->row[i].mean_square);
        json_add_number(row, "f", grade->row[i].f);
        json_add_number(row, "p", grade->row[i].p);
    }
}

static void add_means(cJSON *out, const struct trial_grade *grade) {
    cJSON *list = cJSON_AddArrayToObject(out, "means");
    for (int i = 0; i < grade->groups; i++) {
        const struct trial_group *group = &grade->group[i];
        cJSON *row = json_add_entry(list);
        cJSON_AddStringToObject(row, "of", trial_group_kind_name(group->kind));
        cJSON_AddStringToObject(row, "name", group->name);
        json_add_number(row, "plots", group->mean.count);
        json_add_number(row, "mean", group->mean.mean);
        json_add_number(row, "sd", group->mean.sd);
        json_add_number(row, "low", group->mean.low);
        json_add_number(row, "high", group->mean.high);
    }
    list = cJSON_AddArrayToObject(out, "differences");
    for (int i = 0; i < grade->pairs; i++) {
        const struct trial_pair *pair = &grade->pair[i];
        cJSON *row = json_add_entry(list);
        cJSON_AddStringToObject(row, "of", trial_group_kind_name(grade->group[pair->a].kind));
        cJSON_AddStringToObject(row, "a", grade->group[pair->a].name);
        cJSON_AddStringToObject(row, "b", grade->group[pair->b].name);
        json_add_number(row, "difference", pair->difference.difference);
        json_add_number(row, "low", pair->difference.low);
        json_add_number(row, "high", pair->difference.high);
        json_add_number(row, "p", pair->difference.p);
    }
}

static void add_scores(cJSON *out, const struct scores *scores) {
    cJSON *object = cJSON_AddObjectToObject(out, "readings");
    json_add_number(object, "count", (double)scores->count);
    if (scores->count == 0)
        return;
    json_add_number(object, "bias_m3_m3", scores->bias);
    json_add_number(object, "rmse_m3_m3", scores->rmse);
    json_add_number(object, "nash_sutcliffe", scores->efficiency);
    json_add_number(object, "willmott_d", scores->agreement);
    json_add_number(object, "r2", scores->r2);
}

static void add_model(cJSON *out, const struct trial *trial) {
    cJSON *list = cJSON_AddArrayToObject(out, "model");
    for (int i = 0; i < trial->of->treatment_count; i++) {
        const struct trial_model *model = &trial->model[i];
        cJSON *row = json_add_entry(list);
        cJSON_AddStringToObject(row, "treatment", trial->of->treatment[i].name);
        cJSON_AddStringToObject(row, "field", trial->of->treatment[i].field);
        if (!model->grown)
            continue;
        json_add_number(row, "rain_mm", model->budget.season.rain_mm);
        json_add_number(row, "irrigation_gross_mm", model->budget.season.irrigation_gross_mm);
        json_add_number(row, "eta_mm", model->budget.season.eta_mm);
        json_add_number(row, "stress_days", model->budget.season.stress_days);
        json_add_number(row, "relative", model->relative);
        json_add_number(row, "relative_most", model->relative_most);
        json_add_number(row, "measured_most", model->measured_most);
        add_scores(row, &model->reading);
    }
}

cJSON *view_trial_json(const struct trial *trial, const cJSON *made) {
    cJSON *out = cJSON_CreateObject();
    made_add_member(made, out);
    cJSON_AddStringToObject(out, "trial", trial->of->name);
    cJSON_AddStringToObject(out, "layout", trial_layout_name(trial->of->layout));
    json_add_number(out, "confidence", trial->confidence);
    json_add_number(out, "harvests_of_unknown_plots", trial->strangers);
    cJSON *grades = cJSON_AddArrayToObject(out, "grades");
    for (int g = 0; g < trial->grades; g++) {
        const struct trial_grade *grade = &trial->grade[g];
        cJSON *entry = json_add_entry(grades);
        cJSON_AddStringToObject(entry, "grade", grade->grade);
        json_add_number(entry, "plots", grade->plots);
        add_table(entry, grade);
        add_means(entry, grade);
    }
    add_model(out, trial);
    return out;
}

/* ---- CSV ---- */

void view_trial_csv(const struct trial *trial, const cJSON *made, struct text *out) {
    made_add(made, out);
    text_puts(out, "plot,treatment,block,grade,yield\r\n");
    for (int g = 0; g < trial->grades; g++) {
        const struct trial_grade *grade = &trial->grade[g];
        for (int i = 0; i < trial->of->plot_count; i++) {
            const struct farm_plot *plot = &trial->of->plot[i];
            csv_add_text(out, plot->name);
            text_puts(out, ",");
            csv_add_text(out, plot->treatment);
            text_puts(out, ",");
            csv_add_text(out, plot->block);
            text_puts(out, ",");
            csv_add_text(out, g == 0 ? "all" : grade->grade);
            csv_add_number(out, grade->yield[i]);
            text_puts(out, "\r\n");
        }
    }
}

/* ---- text ---- */

static void put(struct text *out, double value, int digits) {
    if (isfinite(value))
        text_printf(out, "%12.*g", digits, value);
    else
        text_printf(out, "%12s", "-");
}

static void put_fixed(struct text *out, double value, int decimals, const char *unit) {
    int width = 12 - (int)strlen(unit);
    if (isfinite(value))
        text_printf(out, "%*.*f%s", width, decimals, value, unit);
    else
        text_printf(out, "%12s", "-");
}

static void table(const struct trial_grade *grade, struct text *out) {
    text_printf(out, "  %-24s%6s%12s%12s%12s%12s\n", "", "df", "sum sq.", "mean sq.", "F", "p");
    for (int i = 0; i <= grade->terms; i++) {
        const struct variance_row *row = &grade->row[i];
        text_printf(out, "  %-24s%6d", grade->term[i], row->df);
        put(out, row->sum_square, 5);
        put(out, row->mean_square, 5);
        put(out, row->f, 4);
        put(out, row->p, 3);
        text_puts(out, "\n");
    }
}

static void means(const struct trial *trial, const struct trial_grade *grade, struct text *out) {
    text_printf(out, "  %-24s%6s%12s%12s   %g %% confidence interval\n", "mean yield", "plots", "mean", "sd",
                100 * trial->confidence);
    for (int i = 0; i < grade->groups; i++) {
        const struct trial_group *group = &grade->group[i];
        text_printf(out, "  %-24s%6d", group->name, group->mean.count);
        put(out, group->mean.mean, 5);
        put(out, group->mean.sd, 4);
        put(out, group->mean.low, 5);
        put(out, group->mean.high, 5);
        text_puts(out, "\n");
    }
    text_puts(out, "  difference, each pair by itself; of many pairs some differ by chance\n");
    for (int i = 0; i < grade->pairs; i++) {
        const struct trial_pair *pair = &grade->pair[i];
        char names[2 * FARM_NAME_SIZE + 4];
        (void)snprintf(names, sizeof names, "%s - %s", grade->group[pair->a].name,
                       grade->group[pair->b].name);
        text_printf(out, "  %-30s", names);
        put(out, pair->difference.difference, 5);
        put(out, pair->difference.low, 5);
        put(out, pair->difference.high, 5);
        text_puts(out, "  p");
        put(out, pair->difference.p, 3);
        text_puts(out, "\n");
    }
}

static void model(const struct trial *trial, bool us_units, struct text *out) {
    text_printf(out, "  what the balance says (%s)\n  %-24s%12s%12s%12s%12s%12s\n",
                us_units ? "inches" : "mm", "", "irrigated", "actual ET", "stress days", "rel. yield",
                "measured");
    for (int i = 0; i < trial->of->treatment_count; i++) {
        const struct trial_model *row = &trial->model[i];
        text_printf(out, "  %-24s", trial->of->treatment[i].name);
        if (!row->grown) {
            text_puts(out, "  nothing planted\n");
            continue;
        }
        double to = us_units ? units_from_si(1, units_find("in")) : 1;
        put_fixed(out, row->budget.season.irrigation_gross_mm * to, us_units ? 2 : 1, "");
        put_fixed(out, row->budget.season.eta_mm * to, us_units ? 2 : 1, "");
        put_fixed(out, row->budget.season.stress_days, 0, "");
        put_fixed(out, 100 * row->relative_most, 1, " %");
        put_fixed(out, 100 * row->measured_most, 1, " %");
        text_puts(out, "\n");
        if (row->reading.count > 0)
            text_printf(out, "  %-24s%zu reading%s of soil water: bias %.3f, RMSE %.3f m3/m3\n", "",
                        row->reading.count, row->reading.count == 1 ? "" : "s", row->reading.bias,
                        row->reading.rmse);
    }
    text_puts(out, "  yields as shares of the best treatment's; the balance saw none of the readings\n");
}

static bool on_a_hectare(const struct farm_trial *of) {
    bool all = of->plot_count > 0;
    for (int i = 0; i < of->plot_count; i++)
        all = all && !isnan(of->plot[i].area_m2);
    return all;
}

void view_trial_text(const struct trial *trial, bool us_units, struct text *out) {
    text_printf(out, "%s, %s, %d treatments, %d plots\n", trial->of->name,
                trial_layout_name(trial->of->layout), trial->of->treatment_count, trial->of->plot_count);
    if (trial->strangers > 0)
        text_printf(out, "  %d harvests name plots that the trial does not have, and were left\n",
                    trial->strangers);
    for (int g = 0; g < trial->grades; g++) {
        const struct trial_grade *grade = &trial->grade[g];
        if (grade->terms == 0)
            continue;
        text_printf(out, "\n%s%s: %d plots\n", g == 0 ? "yield, all grades" : grade->grade,
                    on_a_hectare(trial->of) ? ", per ha" : "", grade->plots);
        table(grade, out);
        means(trial, grade, out);
    }
    if (trial->grade[0].terms == 0)
        text_puts(out, "\n  no harvests of plots to compare yet\n");
    text_puts(out, "\n");
    model(trial, us_units, out);
}

/* ---- the picture ---- */

enum status view_trial_svg(const struct replay *replay, const struct trial *trial, const cJSON *made,
                           bool us_units, const struct words *words, struct text *out) {
    const struct replay_result *result[FARM_TREATMENTS_MAX];
    const char *name[FARM_TREATMENTS_MAX];
    double of_best[FARM_TREATMENTS_MAX], measured[FARM_TREATMENTS_MAX];
    size_t count = 0;
    bool any = false;
    for (int i = 0; i < trial->of->treatment_count; i++) {
        const struct replay_result *newest = NULL;
        for (size_t k = 1; k < replay->result_count; k += replay->scenario_count) {
            if (strcmp(replay->result[k].field, trial->of->treatment[i].field) == 0 &&
                replay->result[k].days > 0)
                newest = &replay->result[k];
        }
        if (newest == NULL)
            continue;
        result[count] = newest;
        of_best[count] = trial->model[i].relative_most;
        measured[count] = trial->model[i].measured_most;
        any = any || isfinite(measured[count]);
        name[count++] = trial->of->treatment[i].name;
    }
    const struct results_shown shown = {trial->of->name,      result, name, count, any ? of_best : NULL,
                                        any ? measured : NULL};
    return view_results_svg(replay, &shown, made, us_units, words, out);
}

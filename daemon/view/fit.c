#include "daemon/view/fit.h"

#include <math.h>
#include <stdio.h>

#include "daemon/replay/made.h"
#include "daemon/view/csv_cell.h"
#include "daemon/view/json_add.h"
#include "daemon/view/number.h"

/* ---- what is proposed, as settings of a scenario ---- */

static void add_share(cJSON *object, const char *name, double value) {
    char words[40];
    (void)snprintf(words, sizeof words, "%.4g", value);
    cJSON_AddRawToObject(object, name, words);
}

static void add_text(cJSON *object, const char *kind, const char *name, const char *path, const char *format,
                     double value) {
    char key[2 * FARM_NAME_SIZE + 40], words[40];
    (void)snprintf(key, sizeof key, "%s:%s.%s", kind, name, path);
    (void)snprintf(words, sizeof words, "%.4g%s", value, format);
    if (format[0] == '\0')
        cJSON_AddRawToObject(object, key, words);
    else
        cJSON_AddStringToObject(object, key, words);
}

/* All layers, since the deeper ones moved along, and the surface that goes with them. */
static void add_soil(cJSON *out, const char *name, const struct soil *soil) {
    char key[FARM_NAME_SIZE + 40];
    (void)snprintf(key, sizeof key, "soil:%s.layers", name);
    cJSON *layers = cJSON_AddArrayToObject(out, key);
    for (int i = 0; i < soil->layer_count; i++) {
        const struct soil_layer *layer = &soil->layer[i];
        char words[40];
        cJSON *entry = json_add_entry(layers);
        (void)snprintf(words, sizeof words, "%.4g m", layer->bottom_m);
        cJSON_AddStringToObject(entry, "bottom", words);
        add_share(entry, "field_capacity", layer->field_capacity_m3_m3);
        add_share(entry, "wilting_point", layer->wilting_point_m3_m3);
    }
    add_text(out, "soil", name, "tew", " mm", soil->tew_mm);
    add_text(out, "soil", name, "rew", " mm", soil->rew_mm);
}

static cJSON *proposal(const struct season_case *season, const struct season_fit *fit, const char *soil) {
    const struct season_variant found = season_fit_variant(season, fit);
    const char *field = season->planting->field;
    cJSON *out = cJSON_CreateObject();
    bool soil_told = false;
    for (int i = 0; i < fit->parameters; i++) {
        double value = fit->result.estimate[i].value;
        switch (fit->parameter[i]) {
        case PARAMETER_FIELD_CAPACITY:
        case PARAMETER_WILTING_POINT:
            if (!soil_told)
                add_soil(out, soil, &found.setup.soil);
            soil_told = true;
            break;
        case PARAMETER_ROOT_DEPTH:
            add_text(out, "planting", field, "root_depth.max", " m", value);
            break;
        case PARAMETER_KCB_MID:
            add_text(out, "planting", field, "kcb.mid", "", value);
            break;
        case PARAMETER_DEPLETION_FRACTION:
            add_text(out, "planting", field, "depletion_fraction", "", value);
            break;
        case PARAMETER_START_DEPLETION:
            add_text(out, "planting", field, "start_depletion", "", value);
            break;
        default:
            add_text(out, "soil", soil, "curve_number", "", value);
        }
    }
    return out;
}

/* ---- JSON and CSV ---- */

static void add_scores(cJSON *out, const char *name, const struct scores *scores) {
    cJSON *object = cJSON_AddObjectToObject(out, name);
    json_add_number(object, "bias_m3_m3", scores->bias);
    json_add_number(object, "rmse_m3_m3", scores->rmse);
    json_add_number(object, "mae_m3_m3", scores->mae);
    json_add_number(object, "nash_sutcliffe", scores->efficiency);
    json_add_number(object, "willmott_d", scores->agreement);
    json_add_number(object, "r2", scores->r2);
}

static void add_parameters(cJSON *out, const struct season_fit *fit) {
    cJSON *list = cJSON_AddArrayToObject(out, "parameters");
    for (int i = 0; i < fit->parameters; i++) {
        const struct fit_estimate *estimate = &fit->result.estimate[i];
        const struct fit_parameter *range = &fit->range[i];
        cJSON *entry = json_add_entry(list);
        cJSON_AddStringToObject(entry, "name", parameter_rows[fit->parameter[i]].name);
        json_add_number(entry, "present", range->start);
        json_add_number(entry, "value", estimate->value);
        json_add_number(entry, "sd", estimate->sd);
        json_add_number(entry, "data_sd", estimate->data_sd);
        json_add_number(entry, "low", range->low);
        json_add_number(entry, "high", range->high);
        json_add_number(entry, "prior_sd", range->prior_sd);
        cJSON_AddStringToObject(entry, "verdict", fit_verdict_text(estimate->verdict));
        if (estimate->partner >= 0) {
            cJSON_AddStringToObject(entry, "partner", parameter_rows[fit->parameter[estimate->partner]].name);
            json_add_number(entry, "correlation", estimate->correlation);
        }
    }
}

cJSON *view_fit_json(const struct season_case *season, const struct season_fit *fit, const char *soil,
                     const cJSON *made) {
    cJSON *out = cJSON_CreateObject();
    made_add_member(made, out);
    cJSON_AddStringToObject(out, "field", season->planting->field);
    cJSON_AddStringToObject(out, "crop", season->planting->crop_name);
    json_add_number(out, "readings", (double)fit->readings);
    cJSON_AddBoolToObject(out, "trustworthy", fit->trustworthy);
    cJSON_AddBoolToObject(out, "settled", fit->result.settled);
    json_add_number(out, "condition", fit->result.condition);
    json_add_number(out, "residual_sd", fit->result.residual_sd);
    add_parameters(out, fit);
    add_scores(out, "before", &fit->before);
    add_scores(out, "after", &fit->after);
    cJSON_AddItemToObject(out, "proposal",
                          fit->trustworthy ? proposal(season, fit, soil) : cJSON_CreateNull());
    return out;
}

void view_fit_csv(const struct season_fit *fit, const cJSON *made, struct text *out) {
    char iso[CALENDAR_ISO_SIZE];
    made_add(made, out);
    text_puts(out, "date,measured_m3_m3,sd_m3_m3,modelled_before_m3_m3,modelled_m3_m3\r\n");
    for (size_t i = 0; i < fit->readings; i++) {
        text_puts(out, calendar_format_iso(fit->reading[i].date, iso));
        csv_add_number(out, fit->reading[i].water_m3_m3);
        csv_add_number(out, fit->reading[i].sd_m3_m3);
        csv_add_number(out, fit->modelled_before[i]);
        csv_add_number(out, fit->modelled[i]);
        text_puts(out, "\r\n");
    }
}

/* ---- text ---- */

static void put(struct text *out, double value) {
    if (isfinite(value))
        text_printf(out, "%11.4g", value);
    else
        text_printf(out, "%11s", "-");
}

static void scores(struct text *out, const char *name, const struct scores *scores) {
    text_printf(out, "  %-20s", name);
    put(out, scores->bias);
    put(out, scores->rmse);
    put(out, scores->efficiency);
    put(out, scores->agreement);
    put(out, scores->r2);
    text_puts(out, "\n");
}

static void warn(const struct season_fit *fit, struct text *out) {
    text_puts(out, "\nThe readings do not tell all of these parameters, and nothing is proposed:\n");
    for (int i = 0; i < fit->parameters; i++) {
        const struct fit_estimate *estimate = &fit->result.estimate[i];
        const char *name = parameter_rows[fit->parameter[i]].name;
        if (estimate->verdict == FIT_CONFOUNDED)
            text_printf(out,
                        "  %s and %s cannot be told apart (correlation %.2f): fit one, and set the other\n",
                        name, parameter_rows[fit->parameter[estimate->partner]].name, estimate->correlation);
        else if (estimate->verdict == FIT_NO_EFFECT)
            text_printf(out, "  %s has no effect on the soil water that was read\n", name);
    }
    if (!(fit->result.condition < FIT_CONDITION_POOR))
        text_printf(out, "  the condition number is %.3g; from %.0f on parameters follow from each other\n",
                    fit->result.condition, FIT_CONDITION_POOR);
    text_puts(out, "  Fewer parameters, or readings from drier and wetter days, would help.\n");
}

void view_fit_text(const struct season_case *season, const struct season_fit *fit, const char *soil,
                   struct text *out) {
    text_printf(out, "%s, %s: %zu readings of soil water%s\n  %-20s%11s%11s%11s%11s%11s\n",
                season->planting->field, season->planting->crop_name, fit->readings,
                fit->priors ? ", with priors" : ", without priors", "parameter", "present", "fitted", "sd",
                "lowest", "highest");
    for (int i = 0; i < fit->parameters; i++) {
        const struct fit_estimate *estimate = &fit->result.estimate[i];
        text_printf(out, "  %-20s", parameter_rows[fit->parameter[i]].name);
        put(out, fit->range[i].start);
        put(out, estimate->value);
        put(out, estimate->sd);
        put(out, fit->range[i].low);
        put(out, fit->range[i].high);
        text_printf(out, "  %s\n", fit_verdict_text(estimate->verdict));
    }
    text_printf(out, "  %-20s%11s%11s%11s%11s%11s\n", "", "bias", "RMSE", "Nash-S.", "Willmott d", "R2");
    scores(out, "as it is", &fit->before);
    scores(out, "fitted", &fit->after);
    if (!fit->trustworthy) {
        warn(fit, out);
        return;
    }
    cJSON *settings = proposal(season, fit, soil);
    char *words = cJSON_Print(settings);
    text_printf(
        out,
        "\nProposed, and not used: these settings make a scenario of `waterturn replay --scenarios`\n%s\n",
        words != NULL ? words : "");
    cJSON_free(words);
    cJSON_Delete(settings);
}

#include "daemon/farm/check.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/nearest.h"
#include "daemon/farm/check_inside.h"

const char *check_list_name(enum check_list list) {
    static const char *const name[LIST_COUNT] = {
        [LIST_STATIONS] = "stations", [LIST_SOURCES] = "sources", [LIST_SOILS] = "soils",
        [LIST_SUPPLIES] = "supplies", [LIST_FIELDS] = "fields",   [LIST_PLANTINGS] = "plantings",
        [LIST_TURNS] = "turns",       [LIST_RECORDS] = "records", [LIST_TRIALS] = "trials",
    };
    return (unsigned)list < LIST_COUNT ? name[list] : NULL;
}

#define PATH_SIZE 80

static struct problem_place place_of(const struct check *check, enum check_list list, size_t index,
                                     const char *key, char path[PATH_SIZE]) {
    struct check_place place = {NULL, 0, 0};
    if (check->where != NULL)
        place = check->where(check->context, list, index, key);
    (void)snprintf(path, PATH_SIZE, "%s[%zu].%s", check_list_name(list), index, key);
    return (struct problem_place){place.file, place.line, place.column, path, NULL};
}

void check_tell(const struct check *check, enum check_list list, size_t index, const char *key,
                const char *code, const char *sentence, ...) {
    char path[PATH_SIZE];
    const struct problem_place place = place_of(check, list, index, key, path);
    va_list holes;
    va_start(holes, sentence);
    problem_tell_list(check->problems, &place, code, sentence, holes);
    va_end(holes);
}

void check_problem(const struct check *check, enum check_list list, size_t index, const char *key,
                   const char *format, ...) {
    char path[PATH_SIZE];
    const struct problem_place place = place_of(check, list, index, key, path);
    va_list arguments;
    va_start(arguments, format);
    problem_add_list(check->problems, &place, format, arguments);
    va_end(arguments);
}

/* ---- names ---- */

/* Equal names in the order of their array. */
static int by_name(const void *a, const void *b) {
    const char *x = *(const char *const *)a, *y = *(const char *const *)b;
    int order = strcmp(x, y);
    return order != 0 ? order : (x > y) - (x < y);
}

enum status check_names_make(struct check_names *names, const void *array, size_t count, size_t stride) {
    *names = (struct check_names){0};
    names->name = calloc(count + 1, sizeof *names->name);
    if (names->name == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const char *name = (const char *)array + i * stride;
        if (name[0] != '\0')
            names->name[names->count++] = name;
        else
            names->partial = true;
    }
    qsort(names->name, names->count, sizeof *names->name, by_name);
    return STATUS_OK;
}

void check_names_free(struct check_names *names) {
    free(names->name);
    memset(names, 0, sizeof *names);
}

static int find_name(const void *key, const void *entry) {
    return strcmp(key, *(const char *const *)entry);
}

const char *check_names_find(const struct check_names *names, const char *name) {
    if (names->count == 0)
        return NULL;
    const char **found = bsearch(name, names->name, names->count, sizeof *names->name, find_name);
    return found != NULL ? *found : NULL;
}

const char *check_names_nearest(const struct check_names *names, const char *name) {
    struct nearest nearest;
    nearest_begin(&nearest, name);
    for (size_t i = 0; i < names->count; i++)
        nearest_offer(&nearest, names->name[i]);
    return nearest.name;
}

/* A list whose names must differ; `names` stays for references. */
static enum status index_list(const struct check *check, enum check_list list, const void *array,
                              size_t count, size_t stride, struct check_names *names) {
    enum status status = check_names_make(names, array, count, stride);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 1; i < names->count; i++) {
        if (strcmp(names->name[i - 1], names->name[i]) != 0)
            continue;
        size_t index = (size_t)(names->name[i] - (const char *)array) / stride;
        size_t before = (size_t)(names->name[i - 1] - (const char *)array) / stride;
        char other[40];
        (void)snprintf(other, sizeof other, "%s[%zu]", check_list_name(list), before);
        check_tell(check, list, index, "name", "name_again",
                   "found \"{found}\" again, expected another name: {other} has this one", "found",
                   names->name[i], "other", other, PROBLEM_END);
    }
    return STATUS_OK;
}

/* The same for a list that nothing refers to. */
static enum status names_differ(const struct check *check, enum check_list list, const void *array,
                                size_t count, size_t stride) {
    struct check_names names = {0};
    enum status status = index_list(check, list, array, count, stride, &names);
    check_names_free(&names);
    return status;
}

/* ---- references ---- */

static void refer(const struct check *check, enum check_list list, size_t index, const char *key,
                  const char *name, const struct check_names *names, const char *what) {
    /* An entry without its name was told already, and may be the one that is meant. */
    if (name[0] == '\0' || names->partial || check_names_find(names, name) != NULL)
        return;
    /* Past the last message that is kept there is no use in looking for a better name. */
    const char *near = check->problems->kept < PROBLEMS_MAX ? check_names_nearest(names, name) : NULL;
    if (near != NULL)
        check_tell(check, list, index, key, "no_such_near", "found \"{found}\", expected \"{expected}\"",
                   "found", name, "expected", near, PROBLEM_END);
    else if (names->count == 0)
        check_tell(check, list, index, key, "no_such_none",
                   "found \"{found}\", expected a {what}: the farm has none", "found", name,
                   "what/problem.what.", what, PROBLEM_END);
    else
        check_tell(check, list, index, key, "no_such",
                   "found \"{found}\", expected a {what} of the farm, as \"{other}\"", "found", name,
                   "what/problem.what.", what, "other", names->name[0], PROBLEM_END);
}

static void check_treatments(const struct check *check, size_t index) {
    const struct farm_trial *trial = &check->farm->trial[index];
    char key[40];
    for (int i = 0; i < trial->treatment_count; i++) {
        const struct farm_treatment *one = &trial->treatment[i];
        (void)snprintf(key, sizeof key, "treatments[%d].field", i);
        refer(check, LIST_TRIALS, index, key, one->field, &check->fields, "field");
        for (int k = 0; k < i; k++) {
            if (one->name[0] != '\0' && strcmp(trial->treatment[k].name, one->name) == 0) {
                (void)snprintf(key, sizeof key, "treatments[%d].name", i);
                check_problem(check, LIST_TRIALS, index, key, "found \"%s\" again, expected another name",
                              one->name);
                break;
            }
        }
    }
}

static int treatment_named(const struct farm_trial *trial, const char *name) {
    int i = 0;
    while (i < trial->treatment_count && strcmp(trial->treatment[i].name, name) != 0)
        i++;
    return i;
}

/* A plot's treatment and block, and that no other one has its name. */
static void check_plot(const struct check *check, size_t index, int plot) {
    const struct farm_trial *trial = &check->farm->trial[index];
    const struct farm_plot *own = &trial->plot[plot];
    char key[40];
    (void)snprintf(key, sizeof key, "plots[%d].treatment", plot);
    if (own->treatment[0] != '\0' && treatment_named(trial, own->treatment) == trial->treatment_count)
        check_problem(check, LIST_TRIALS, index, key, "found \"%s\", expected a treatment of the trial",
                      own->treatment);
    (void)snprintf(key, sizeof key, "plots[%d].block", plot);
    bool blocks = trial->layout != TRIAL_COMPLETELY_RANDOMISED;
    if (blocks != (own->block[0] != '\0'))
        check_problem(check, LIST_TRIALS, index, key, "found %s, expected %s: the layout is %s",
                      blocks ? "none" : own->block, blocks ? "the plot's block" : "none",
                      trial_layout_name(trial->layout));
    for (int k = 0; own->name[0] != '\0' && k < plot; k++) {
        if (strcmp(trial->plot[k].name, own->name) == 0) {
            (void)snprintf(key, sizeof key, "plots[%d].name", plot);
            check_problem(check, LIST_TRIALS, index, key, "found \"%s\" again, expected another name",
                          own->name);
            break;
        }
    }
}

/* Whole plots and sub-plots, where the layout has them. */
static void check_split(const struct check *check, size_t index) {
    const struct farm_trial *trial = &check->farm->trial[index];
    bool split = trial->layout == TRIAL_SPLIT_PLOT;
    for (int i = 0; i < trial->treatment_count; i++) {
        const struct farm_treatment *one = &trial->treatment[i];
        char key[40];
        (void)snprintf(key, sizeof key, "treatments[%d].%s", i, one->whole[0] != '\0' ? "sub" : "whole");
        if (split != (one->whole[0] != '\0') || split != (one->sub[0] != '\0'))
            check_problem(check, LIST_TRIALS, index, key, "found %s, expected %s: the layout is %s",
                          split ? "none" : "a level of a split plot", split ? "a level of it" : "none",
                          trial_layout_name(trial->layout));
    }
    for (int i = 0; i < trial->plot_count; i++)
        check_plot(check, index, i);
}

static void check_neighbours(const struct check *check, size_t index) {
    const struct farm_station *station = &check->farm->station[index];
    char key[40];
    for (int i = 0; i < station->neighbour_count; i++) {
        const char *name = station->neighbour[i];
        (void)snprintf(key, sizeof key, "neighbours[%d]", i);
        refer(check, LIST_STATIONS, index, key, name, &check->stations, "station");
        bool again = name[0] != '\0' && strcmp(name, station->name) == 0;
        for (int k = 0; k < i; k++)
            again = again || (name[0] != '\0' && strcmp(station->neighbour[k], name) == 0);
        if (again)
            check_problem(check, LIST_STATIONS, index, key, "found \"%s\" %s, expected another station", name,
                          strcmp(name, station->name) == 0 ? "itself" : "again");
    }
}

static void check_references(const struct check *check) {
    const struct farm *farm = check->farm;
    for (size_t i = 0; i < farm->station_count; i++)
        check_neighbours(check, i);
    for (size_t i = 0; i < farm->source_count; i++)
        refer(check, LIST_SOURCES, i, "station", farm->source[i].station, &check->stations, "station");
    for (size_t i = 0; i < farm->field_count; i++) {
        const struct farm_field *field = &farm->field[i];
        refer(check, LIST_FIELDS, i, "station", field->station, &check->stations, "station");
        refer(check, LIST_FIELDS, i, "soil", field->soil, &check->soils, "soil");
        refer(check, LIST_FIELDS, i, "supply", field->supply, &check->supplies, "supply");
    }
    for (size_t i = 0; i < farm->planting_count; i++)
        refer(check, LIST_PLANTINGS, i, "field", farm->planting[i].field, &check->fields, "field");
    for (size_t i = 0; i < farm->turn_mark_count; i++)
        refer(check, LIST_TURNS, i, "field", farm->turn_mark[i].field, &check->fields, "field");
    for (size_t i = 0; i < farm->record_count; i++)
        refer(check, LIST_RECORDS, i, "field", farm->record[i].field, &check->fields, "field");
    for (size_t i = 0; i < farm->trial_count; i++)
        check_treatments(check, i);
    for (size_t i = 0; i < farm->trial_count; i++)
        check_split(check, i);
}

/* A field's name is a segment of its page's address; browsers take these two for steps between folders. */
static void check_field_names(const struct check *check) {
    for (size_t i = 0; i < check->farm->field_count; i++) {
        const char *name = check->farm->field[i].name;
        if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
            check_tell(check, LIST_FIELDS, i, "name", "name_dots",
                       "found \"{found}\", expected a name that is not only dots", "found", name,
                       PROBLEM_END);
    }
}

static enum status index_all(struct check *check) {
    const struct farm *f = check->farm;
    enum status status =
        index_list(check, LIST_STATIONS, f->station, f->station_count, sizeof *f->station, &check->stations);
    if (status == STATUS_OK)
        status = names_differ(check, LIST_SOURCES, f->source, f->source_count, sizeof *f->source);
    if (status == STATUS_OK)
        status = index_list(check, LIST_SOILS, f->soil, f->soil_count, sizeof *f->soil, &check->soils);
    if (status == STATUS_OK)
        status =
            index_list(check, LIST_SUPPLIES, f->supply, f->supply_count, sizeof *f->supply, &check->supplies);
    if (status == STATUS_OK)
        status = index_list(check, LIST_FIELDS, f->field, f->field_count, sizeof *f->field, &check->fields);
    if (status == STATUS_OK)
        status = names_differ(check, LIST_TRIALS, f->trial, f->trial_count, sizeof *f->trial);
    return status;
}

enum status check_relations(const struct farm *farm, check_where *where, const void *context,
                            struct problems *problems) {
    struct check check = {.farm = farm, .where = where, .context = context, .problems = problems};
    size_t before = problems->count;
    enum status status = index_all(&check);
    if (status == STATUS_OK) {
        check_field_names(&check);
        check_references(&check);
        status = check_times(&check);
    }
    check_names_free(&check.stations);
    check_names_free(&check.soils);
    check_names_free(&check.supplies);
    check_names_free(&check.fields);
    return status == STATUS_OK && problems->count > before ? STATUS_REFUSED : status;
}

enum status check_farm(const struct farm *farm, check_where *where, const void *context,
                       struct problems *problems) {
    enum status status = check_relations(farm, where, context, problems);
    return status == STATUS_OK ? check_values(farm, where, context, problems) : status;
}

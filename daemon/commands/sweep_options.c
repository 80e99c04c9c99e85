#include "daemon/commands/sweep_options.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/cores.h"

static enum status refuse(const char *option, const char *words, const char *expected,
                          struct problems *problems) {
    problem_add(problems, NULL, 0, 0, NULL, "%s: found %s, expected %s", option, words, expected);
    return STATUS_USAGE;
}

/* "NAME = REST": the parameter, and where the rest begins. */
static enum status read_name(const char *option, const char *words, enum parameter *parameter,
                             const char **rest, struct problems *problems) {
    char name[FARM_NAME_SIZE], expected[400] = "one of";
    size_t size = strcspn(words, " =");
    (void)snprintf(name, sizeof name, "%.*s", (int)(size < sizeof name ? size : sizeof name - 1), words);
    *parameter = parameter_named(name);
    const char *equals = strchr(words, '=');
    if (*parameter < PARAMETER_COUNT && equals != NULL) {
        *rest = equals + 1;
        return STATUS_OK;
    }
    for (int i = 0; i < PARAMETER_COUNT; i++) {
        size_t used = strlen(expected);
        (void)snprintf(expected + used, sizeof expected - used, " %s,", parameter_rows[i].name);
    }
    size_t used = strlen(expected);
    (void)snprintf(expected + used, sizeof expected - used, " then = and its values");
    return refuse(option, words, expected, problems);
}

/* A quantity of so many bytes of `words`, within what the parameter may be. */
static enum status read_value(const char *option, enum parameter parameter, const char *words, size_t size,
                              double *out, struct problems *problems) {
    const struct parameter_row *row = &parameter_rows[parameter];
    const struct quantity_limits limits = {row->low, row->high, false};
    char text[80], expected[QUANTITY_WORDS_SIZE];
    struct quantity quantity;
    while (size > 0 && isspace((unsigned char)*words))
        words++, size--;
    (void)snprintf(text, sizeof text, "%.*s", (int)(size < sizeof text ? size : sizeof text - 1), words);
    char *end;
    double number = strtod(text, &end);
    bool bare = end != text && end[strspn(end, " ")] == '\0';
    enum status status = bare ? quantity_of_number(number, row->quantity, &quantity, expected)
                              : quantity_read(text, row->quantity, &quantity, expected);
    /* A length without a unit is of the farm file's; here it is metres, as in every output. */
    if (bare && row->quantity == QUANTITY_LENGTH) {
        quantity = (struct quantity){number, NULL};
        status = STATUS_OK;
    }
    if (status == STATUS_OK)
        status = quantity_within(&quantity, row->quantity, &limits, expected);
    if (status != STATUS_OK)
        return refuse(option, text, expected, problems);
    *out = quantity.value;
    return STATUS_OK;
}

/* "30 % .. 70 % / 9": from, to, how many. */
static enum status read_range(enum parameter parameter, const char *words, struct sweep_axis *axis,
                              struct problems *problems) {
    const char *dots = strstr(words, ".."), *slash = strrchr(words, '/');
    double from = 0, to = 0;
    char *end = NULL;
    long count = slash != NULL ? strtol(slash + 1, &end, 10) : 0;
    if (slash == NULL || slash < dots || end == slash + 1 || end[strspn(end, " ")] != '\0' || count < 2 ||
        count > SWEEP_VALUES_MAX)
        return refuse("--vary", words, "a range as 30 % .. 70 % / 9, with how many values", problems);
    enum status status = read_value("--vary", parameter, words, (size_t)(dots - words), &from, problems);
    if (status == STATUS_OK)
        status = read_value("--vary", parameter, dots + 2, (size_t)(slash - dots - 2), &to, problems);
    axis->count = (int)count;
    for (long i = 0; i < count; i++)
        axis->value[i] = from + (to - from) * (double)i / (double)(count - 1);
    return status;
}

static enum status read_list(enum parameter parameter, const char *words, struct sweep_axis *axis,
                             struct problems *problems) {
    enum status status = STATUS_OK;
    while (status == STATUS_OK && *words != '\0') {
        size_t size = strcspn(words, ",");
        if (axis->count == SWEEP_VALUES_MAX)
            return refuse("--vary", words, "at most 1000 values", problems);
        status = read_value("--vary", parameter, words, size, &axis->value[axis->count++], problems);
        words += size + (words[size] == ',');
    }
    return status == STATUS_OK && axis->count == 0 ? refuse("--vary", "nothing", "a value", problems)
                                                   : status;
}

static enum status read_vary(const char *words, struct sweep_axis *axis, struct problems *problems) {
    const char *rest = NULL;
    enum status status = read_name("--vary", words, &axis->parameter, &rest, problems);
    if (status != STATUS_OK)
        return status;
    axis->kind = SWEEP_VALUES;
    return strstr(rest, "..") != NULL ? read_range(axis->parameter, rest, axis, problems)
                                      : read_list(axis->parameter, rest, axis, problems);
}

/* "normal MEAN, SD" or "uniform LOW, HIGH". */
static enum status read_draw(const char *words, struct sweep_axis *axis, struct problems *problems) {
    const char *rest = NULL;
    enum status status = read_name("--draw", words, &axis->parameter, &rest, problems);
    if (status != STATUS_OK)
        return status;
    rest += strspn(rest, " ");
    bool normal = strncmp(rest, "normal ", 7) == 0;
    const char *comma = strchr(rest, ',');
    if ((!normal && strncmp(rest, "uniform ", 8) != 0) || comma == NULL)
        return refuse("--draw", words, "a distribution, as kcb_mid = normal 1.1, 0.05 or uniform 1.0, 1.2",
                      problems);
    const char *first = rest + (normal ? 7 : 8);
    axis->kind = normal ? SWEEP_NORMAL : SWEEP_UNIFORM;
    status = read_value("--draw", axis->parameter, first, (size_t)(comma - first), &axis->a, problems);
    if (status != STATUS_OK)
        return status;
    if (!normal)
        return read_value("--draw", axis->parameter, comma + 1, strlen(comma + 1), &axis->b, problems);
    /* A standard deviation need not be a value that the parameter may have. */
    char *end;
    axis->b = strtod(comma + 1, &end);
    if (strspn(end, " ") < strlen(end) && end[strspn(end, " ")] == '%') {
        axis->b /= 100;
        end += strspn(end, " ") + 1;
    }
    if (end == comma + 1 || end[strspn(end, " ")] != '\0' || !(axis->b > 0) || !isfinite(axis->b))
        return refuse("--draw", words, "a standard deviation above 0", problems);
    return STATUS_OK;
}

static enum status read_axes(const struct options *options, struct sweep_wish *wish,
                             struct problems *problems) {
    static const struct {
        const char *option;
        enum status (*read)(const char *words, struct sweep_axis *axis, struct problems *problems);
    } sorts[] = {{"--vary", read_vary}, {"--draw", read_draw}};
    enum status status = STATUS_OK;
    for (size_t s = 0; s < 2; s++) {
        for (int i = 0; status == STATUS_OK; i++) {
            const char *words = option_values(options, sorts[s].option, i);
            if (words == NULL)
                break;
            if (wish->axes == SWEEP_AXES_MAX)
                return refuse(sorts[s].option, words, "at most 8 parameters", problems);
            status = sorts[s].read(words, &wish->axis[wish->axes], problems);
            for (int k = 0; status == STATUS_OK && k < wish->axes; k++) {
                if (wish->axis[k].parameter == wish->axis[wish->axes].parameter)
                    status = refuse(sorts[s].option, words, "each parameter once", problems);
            }
            wish->axes++;
        }
    }
    return status;
}

/* "all", "1991..2020", or nothing. */
static enum status read_years(const struct options *options, struct sweep_wish *wish,
                              struct problems *problems) {
    const char *words = option_value(options, "--years");
    char *end = NULL;
    if (words == NULL)
        return STATUS_OK;
    wish->all_years = strcmp(words, "all") == 0;
    if (wish->all_years)
        return STATUS_OK;
    wish->first_year = (int)strtol(words, &end, 10);
    wish->last_year = strncmp(end, "..", 2) == 0 ? (int)strtol(end + 2, &end, 10) : wish->first_year;
    if (*end != '\0' || wish->first_year < 1600 || wish->last_year > 2999 ||
        wish->first_year > wish->last_year)
        return refuse("--years", words, "all, or years as 1991..2020", problems);
    return STATUS_OK;
}

enum status sweep_options(const struct options *options, struct sweep_wish *wish, struct problems *problems) {
    double draws = 1, seed = 1, threads = 1;
    memset(wish, 0, sizeof *wish);
    enum status status = read_axes(options, wish, problems);
    if (status == STATUS_OK)
        status = read_years(options, wish, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--draws", 1, SWEEP_RUNS_MAX, 1, &draws, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--seed", 0, 9007199254740992.0, 1, &seed, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--threads", 1, 64, cores_count(), &threads, problems);
    wish->draws = (long)draws;
    wish->seed = (uint64_t)seed;
    wish->threads = (int)threads;
    return status;
}

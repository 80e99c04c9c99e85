#include "daemon/replay/probe.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/base/asset.h"
#include "daemon/base/file.h"
#include "daemon/base/text.h"
#include "daemon/source/raw.h"

#define PROBE_FILE_MAX ((size_t)64 << 20)
#define FIELDS_MAX     64
#define MISSING_MAX    8

/* A shipped layout; it is our own and taken as it is. */
struct layout {
    char separator;
    int skip_lines, date_column;
    bool compact; /* yyyymmdd */
    int depths, column[PROBE_DEPTHS_MAX];
    double depth_m[PROBE_DEPTHS_MAX];
    int missing_count;
    double missing[MISSING_MAX];
};

static double number(const cJSON *object, const char *key) {
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    return cJSON_IsNumber(item) ? item->valuedouble : (double)NAN;
}

static void take_layout(const cJSON *root, struct layout *out) {
    const cJSON *date = cJSON_GetObjectItemCaseSensitive(root, "date"), *item;
    const char *format = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(date, "format"));
    const char *separator = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(root, "separator"));
    memset(out, 0, sizeof *out);
    out->separator = separator != NULL ? separator[0] : ',';
    out->skip_lines = (int)number(root, "skip_lines");
    out->date_column = (int)number(date, "column");
    out->compact = format != NULL && strcmp(format, "yyyymmdd") == 0;
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(root, "missing")) {
        if (out->missing_count < MISSING_MAX)
            out->missing[out->missing_count++] = item->valuedouble;
    }
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(root, "water")) {
        if (out->depths == PROBE_DEPTHS_MAX)
            break;
        out->column[out->depths] = (int)number(item, "column");
        out->depth_m[out->depths++] = number(item, "depth_m");
    }
}

#define FOLDER "config/probes/"
#define SUFFIX ".json"

/* The layouts that ship, as "a, b". */
static void list_layouts(struct text *out) {
    for (const struct asset *asset = asset_table; asset->path != NULL; asset++) {
        if (strncmp(asset->path, FOLDER, strlen(FOLDER)) == 0)
            text_printf(out, "%s%.*s", out->size > 0 ? ", " : "",
                        (int)(strlen(asset->path) - strlen(FOLDER) - strlen(SUFFIX)),
                        asset->path + strlen(FOLDER));
    }
}

static enum status find_layout(const char *name, struct layout *out, struct problems *problems) {
    char path[FILENAME_MAX];
    (void)snprintf(path, sizeof path, FOLDER "%s" SUFFIX, name);
    const struct asset *asset = asset_find(path);
    cJSON *root = asset != NULL ? cJSON_ParseWithLength((const char *)asset->bytes, asset->size) : NULL;
    if (root == NULL) {
        struct text names;
        text_init(&names, 0);
        list_layouts(&names);
        problem_add(problems, NULL, 0, 0, "--probe-layout", "found %s, expected one of %s", name,
                    text_string(&names));
        text_free(&names);
        return STATUS_REFUSED;
    }
    take_layout(root, out);
    cJSON_Delete(root);
    return STATUS_OK;
}

/* ---- lines ---- */

/* Splits a line in place; blanks may come several at once. */
static int split(char *line, char separator, char *field[FIELDS_MAX]) {
    int count = 0;
    while (*line != '\0' && count < FIELDS_MAX) {
        while (*line == ' ')
            line++;
        if (*line == '\0')
            break;
        field[count++] = line;
        line += strcspn(line, separator == ' ' ? " \t" : ",");
        if (*line != '\0')
            *line++ = '\0';
    }
    return count;
}

static bool read_date(const char *text, bool compact, int32_t *date) {
    char iso[CALENDAR_ISO_SIZE];
    if (!compact)
        return calendar_parse_iso(text, date) == STATUS_OK;
    if (strlen(text) != 8)
        return false;
    (void)snprintf(iso, sizeof iso, "%.4s-%.2s-%.2s", text, text + 4, text + 6);
    return calendar_parse_iso(iso, date) == STATUS_OK;
}

static bool read_water(const struct layout *layout, const char *text, double *out) {
    char *end;
    double value = strtod(text, &end);
    bool missing = false;
    for (int i = 0; i < layout->missing_count; i++)
        missing = missing || value == layout->missing[i];
    *out = missing ? (double)NAN : value;
    return end != text && end[strspn(end, " \r")] == '\0' && (missing || (value >= 0 && value <= 1));
}

static enum status read_line(const struct layout *layout, const char *path, int number, char *line,
                             struct probe *out, struct problems *problems) {
    char *field[FIELDS_MAX];
    int count = split(line, layout->separator, field);
    struct probe_day *day = &out->day[out->count];
    if (count == 0)
        return STATUS_OK;
    if (count < layout->date_column ||
        !read_date(field[layout->date_column - 1], layout->compact, &day->date)) {
        const char *text = count < layout->date_column ? "" : field[layout->date_column - 1];
        char shown[RAW_SHOWN_SIZE];
        problem_add(problems, path, number, 0, NULL, "found %s in column %d, expected a date as %s",
                    raw_show((struct raw){text, strlen(text)}, shown), layout->date_column,
                    layout->compact ? "20260714" : "2026-07-14");
        return STATUS_REFUSED;
    }
    for (int i = 0; i < layout->depths; i++) {
        if (count < layout->column[i] || !read_water(layout, field[layout->column[i] - 1], &day->water[i])) {
            problem_add(problems, path, number, 0, NULL,
                        "found %s in column %d, expected a water content from 0 to 1",
                        count < layout->column[i] ? "nothing" : field[layout->column[i] - 1],
                        layout->column[i]);
            return STATUS_REFUSED;
        }
    }
    day->line = number;
    out->count++;
    return STATUS_OK;
}

/* Whether a line that should be the header is a reading already, which would be lost. */
static enum status pass_header(const struct layout *layout, const char *path, int number, char *line,
                               struct problems *problems) {
    char *field[FIELDS_MAX];
    int32_t date;
    int count = split(line, layout->separator, field);
    if (count < layout->date_column || !read_date(field[layout->date_column - 1], layout->compact, &date))
        return STATUS_OK;
    problem_add(problems, path, number, 0, NULL,
                "found a reading, expected the header line: it would be passed over as that");
    return STATUS_REFUSED;
}

static enum status read_lines(const struct layout *layout, const char *path, char *text, struct probe *out,
                              struct problems *problems) {
    enum status status = STATUS_OK;
    int at = 1;
    for (char *line = text, *next; status == STATUS_OK && *line != '\0'; line = next, at++) {
        next = strchr(line, '\n');
        bool ends = next != NULL;
        next = ends ? next + 1 : line + strlen(line);
        line[strcspn(line, "\r\n")] = '\0';
        status = at > layout->skip_lines ? read_line(layout, path, at, line, out, problems)
                                         : pass_header(layout, path, at, line, problems);
        if (status == STATUS_OK && !ends) {
            problem_add(
                problems, path, at, 0, NULL,
                "found a last line without a line end, expected one: the file may be cut short; if it is "
                "whole, add a line end");
            status = STATUS_REFUSED;
        }
    }
    return status;
}

static int by_date(const void *left, const void *right) {
    const struct probe_day *a = left, *b = right;
    return a->date != b->date ? (a->date > b->date) - (a->date < b->date)
                              : (a->line > b->line) - (a->line < b->line);
}

static enum status check_days(const char *path, struct probe *probe, struct problems *problems) {
    char iso[CALENDAR_ISO_SIZE];
    if (probe->count == 0) {
        problem_add(problems, path, 0, 0, NULL, "found no reading, expected a line for each day");
        return STATUS_REFUSED;
    }
    qsort(probe->day, probe->count, sizeof *probe->day, by_date);
    for (size_t i = 1; i < probe->count; i++)
        if (probe->day[i].date == probe->day[i - 1].date) {
            problem_add(problems, path, probe->day[i].line, 0, NULL,
                        "found %s again, expected each date once: it stands in line %d too",
                        calendar_format_iso(probe->day[i].date, iso), probe->day[i - 1].line);
            return STATUS_REFUSED;
        }
    return STATUS_OK;
}

/* No NUL may end the text before the file does. */
static enum status check_text(const char *path, const char *text, size_t size, struct problems *problems) {
    const char *nul = memchr(text, '\0', size);
    int line = 1;
    if (nul == NULL)
        return STATUS_OK;
    for (const char *c = text; c < nul; c++)
        line += *c == '\n';
    problem_add(problems, path, line, 0, NULL,
                "found the byte 0x00, expected text; the file is damaged or no text file");
    return STATUS_REFUSED;
}

enum status probe_read(const char *name, const char *path, struct probe *out, struct problems *problems) {
    struct layout layout;
    char *text = NULL;
    size_t size = 0, lines = 1;
    memset(out, 0, sizeof *out);
    enum status status = find_layout(name, &layout, problems);
    if (status == STATUS_OK)
        status = file_read(path, PROBE_FILE_MAX, &text, &size, problems);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < size; i++)
        lines += text[i] == '\n';
    out->depths = layout.depths;
    memcpy(out->depth_m, layout.depth_m, sizeof out->depth_m);
    out->day = calloc(lines, sizeof *out->day);
    status = out->day != NULL ? check_text(path, text, size, problems) : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = read_lines(&layout, path, text, out, problems);
    if (status == STATUS_OK)
        status = check_days(path, out, problems);
    free(text);
    if (status != STATUS_OK)
        probe_free(out);
    return status;
}

void probe_free(struct probe *probe) {
    free(probe->day);
    memset(probe, 0, sizeof *probe);
}

double probe_mean(const struct probe *probe, const struct probe_day *day, double depth_m) {
    double water_m = 0, top_m = 0;
    if (isnan(probe->depth_m[0]))
        return day->water[0];
    for (int i = 0; i < probe->depths && top_m < depth_m; i++) {
        bool last = i + 1 == probe->depths;
        double bottom_m = last ? depth_m : fmin(depth_m, (probe->depth_m[i] + probe->depth_m[i + 1]) / 2);
        water_m += day->water[i] * (bottom_m - top_m); /* a missing one makes all of it missing */
        top_m = bottom_m;
    }
    return water_m / depth_m;
}

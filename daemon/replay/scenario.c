#include "daemon/replay/scenario.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/expected.h"
#include "daemon/replay/farm_change.h"

/* What the settings are read into. */
struct reader {
    const char *name; /* of the scenario, for messages */
    struct scenario *scenario;
    struct problems *problems;
};

static struct problem_place place_of(const struct reader *reader, const char *key) {
    return (struct problem_place){reader->name, 0, 0, key, NULL};
}

static const char *found_of(const cJSON *setting) {
    const char *found = change_text(setting);
    return found != NULL ? found : "a list or an object";
}

static enum status expected(const struct reader *reader, const cJSON *setting, const char *words) {
    const struct problem_place place = place_of(reader, setting->string);
    expected_tell(reader->problems, &place, found_of(setting), words);
    return STATUS_REFUSED;
}

static enum status read_quantity(const struct reader *reader, const cJSON *setting, enum quantity_kind kind,
                                 double low, double high, double *out) {
    const struct quantity_limits limits = {low, high, false};
    const struct problem_place place = place_of(reader, setting->string);
    char words[QUANTITY_WORDS_SIZE];
    struct quantity quantity;
    enum status status = STATUS_REFUSED;
    if (cJSON_IsRaw(setting))
        status = quantity_of_number(strtod(setting->valuestring, NULL), kind, &quantity, words);
    else if (cJSON_IsString(setting))
        status = quantity_read(setting->valuestring, kind, &quantity, words);
    else
        quantity_expected(kind, words);
    if (status != STATUS_OK)
        return expected(reader, setting, words);
    if (quantity_within(&quantity, kind, &limits, words) != STATUS_OK) {
        expected_tell_limits(reader->problems, &place, found_of(setting), &quantity, kind, &limits);
        return STATUS_REFUSED;
    }
    *out = quantity.value;
    return STATUS_OK;
}

static enum status read_whole(const struct reader *reader, const cJSON *setting, int low, int high,
                              int *out) {
    const struct problem_place place = place_of(reader, setting->string);
    const char *text = change_text(setting);
    char *end = NULL;
    long value = text != NULL ? strtol(text, &end, 10) : 0;
    if (text == NULL || end == text || *end != '\0' || value < low || value > high) {
        expected_tell_whole(reader->problems, &place, found_of(setting), false, low, high);
        return STATUS_REFUSED;
    }
    *out = (int)value;
    return STATUS_OK;
}

static enum status read_date(const struct reader *reader, const cJSON *setting, int32_t *out) {
    const char *text = change_text(setting);
    if (text == NULL || calendar_parse_iso(text, out) != STATUS_OK)
        return expected(reader, setting, "a date, as 2026-06-20");
    return STATUS_OK;
}

/* ---- irrigation ---- */

static enum status read_kind(const struct reader *reader, const cJSON *setting,
                             struct scenario_water *water) {
    const char *text = change_text(setting);
    for (int kind = 0; text != NULL && kind < WATERING_KIND_COUNT; kind++) {
        if (strcmp(text, watering_kind_name((enum watering_kind)kind)) == 0) {
            water->rule.kind = (enum watering_kind)kind;
            return STATUS_OK;
        }
    }
    return expected(reader, setting, "\"recorded\", \"none\" or \"automatic\"");
}

static enum status read_stop(const struct reader *reader, const cJSON *setting,
                             struct scenario_water *water) {
    static const struct {
        const char *word;
        enum crop_stage stage;
    } stages[] = {{"development", STAGE_DEVELOPMENT}, {"mid", STAGE_MID}, {"late", STAGE_LATE}};
    const char *text = change_text(setting);
    for (size_t i = 0; text != NULL && i < sizeof stages / sizeof stages[0]; i++) {
        if (strcmp(text, stages[i].word) == 0) {
            water->rule.stop_stage = stages[i].stage;
            return STATUS_OK;
        }
    }
    if (text == NULL || calendar_parse_iso(text, &water->rule.stop_date) != STATUS_OK)
        return expected(reader, setting, "\"development\", \"mid\", \"late\" or a date, as 2026-06-20");
    return STATUS_OK;
}

static enum status read_days(const struct reader *reader, const cJSON *setting,
                             struct scenario_water *water) {
    const cJSON *day;
    water->date_count = 0;
    if (!cJSON_IsArray(setting) || cJSON_GetArraySize(setting) > SCENARIO_DATES_MAX)
        return expected(reader, setting, "a list of at most 200 dates, as [\"2026-06-20\"]");
    cJSON_ArrayForEach(day, setting) {
        if (!cJSON_IsString(day) ||
            calendar_parse_iso(day->valuestring, &water->date[water->date_count++]) != STATUS_OK)
            return expected(reader, setting, "a list of dates, as [\"2026-06-20\"]");
    }
    return STATUS_OK;
}

static enum status read_part(const struct reader *reader, const char *part, const cJSON *setting,
                             struct scenario_water *water) {
    struct watering_rule *rule = &water->rule;
    if (part[0] == '\0')
        return read_kind(reader, setting, water);
    if (strcmp(part, ".share") == 0)
        return read_quantity(reader, setting, QUANTITY_SHARE, 0, 5, &rule->share);
    if (strcmp(part, ".trigger") == 0)
        return read_quantity(reader, setting, QUANTITY_SHARE, 0.01, 5, &rule->trigger);
    if (strcmp(part, ".refill") == 0)
        return read_quantity(reader, setting, QUANTITY_SHARE, 0.01, 1, &rule->refill);
    if (strcmp(part, ".limit") == 0)
        return read_quantity(reader, setting, QUANTITY_DEPTH, 0, 20000, &rule->limit_gross_mm);
    if (strcmp(part, ".depth") == 0)
        return read_quantity(reader, setting, QUANTITY_DEPTH, 0, APPLICATION_DEPTH_MAX_MM, &water->depth_mm);
    if (strcmp(part, ".stop") == 0)
        return read_stop(reader, setting, water);
    if (strcmp(part, ".days") == 0)
        return read_days(reader, setting, water);
    if (strcmp(part, ".every") == 0)
        return read_whole(reader, setting, 1, 365, &water->every_d);
    if (strcmp(part, ".from") == 0)
        return read_date(reader, setting, &water->from);
    if (strcmp(part, ".to") == 0)
        return read_date(reader, setting, &water->to);
    const struct problem_place place = place_of(reader, setting->string);
    problem_tell_at(reader->problems, &place, "setting_irrigation",
                    "found the unknown setting \"irrigation{found}\", expected one of irrigation, "
                    "irrigation.share, .trigger, .refill, .limit, .depth, .stop, .days, .every, .from, .to",
                    "found", part, PROBLEM_END);
    return STATUS_REFUSED;
}

static struct scenario_water water_usual(void) {
    return (struct scenario_water){
        .rule = watering_rule_default(), .depth_mm = (double)NAN, .from = CALENDAR_NONE, .to = CALENDAR_NONE};
}

/* The rule of a field, made from the one for all when it has none of its own yet; NULL: too many. */
static struct scenario_water *water_for(struct scenario *scenario, const char *field) {
    for (int i = 0; i < scenario->water_count; i++) {
        if (strcmp(scenario->water[i].field, field) == 0)
            return &scenario->water[i];
    }
    if (scenario->water_count == SCENARIO_WATER_MAX)
        return NULL;
    struct scenario_water *water = &scenario->water[scenario->water_count++];
    *water = scenario->water[0];
    (void)snprintf(water->field, sizeof water->field, "%s", field);
    return water;
}

/* "irrigation:FIELD.refill": the longest name of a field that fits. */
static enum status read_irrigation_of(const struct reader *reader, const cJSON *setting) {
    const char *words = setting->string + strlen("irrigation:");
    const struct farm *farm = &reader->scenario->farm;
    size_t longest = 0;
    const char *field = NULL;
    for (size_t i = 0; i < farm->field_count; i++) {
        const char *name = farm->field[i].name;
        size_t size = strlen(name);
        if (size > longest && strncmp(words, name, size) == 0 &&
            (words[size] == '.' || words[size] == '\0')) {
            longest = size;
            field = name;
        }
    }
    if (field == NULL) {
        const struct problem_place place = place_of(reader, setting->string);
        problem_tell_at(reader->problems, &place, "setting_field",
                        "found no field of that name, expected \"irrigation:FIELD\" with a field of the farm",
                        PROBLEM_END);
        return STATUS_REFUSED;
    }
    struct scenario_water *water = water_for(reader->scenario, field);
    if (water == NULL)
        return expected(reader, setting, "rules for at most 31 fields");
    return read_part(reader, words + longest, setting, water);
}

/* ---- the rest ---- */

static enum status read_use(const struct reader *reader, const cJSON *setting, bool *out) {
    const char *text = change_text(setting);
    if (text == NULL || (strcmp(text, "use") != 0 && strcmp(text, "leave") != 0))
        return expected(reader, setting, "\"use\" or \"leave\"");
    *out = strcmp(text, "use") == 0;
    return STATUS_OK;
}

static enum status read_setting(const struct reader *reader, const cJSON *setting) {
    const char *key = setting->string;
    struct scenario *scenario = reader->scenario;
    if (change_of_farm(key))
        return STATUS_OK;
    if (strncmp(key, "irrigation:", strlen("irrigation:")) == 0)
        return read_irrigation_of(reader, setting);
    if (strncmp(key, "irrigation", strlen("irrigation")) == 0)
        return read_part(reader, key + strlen("irrigation"), setting, &scenario->water[0]);
    if (strcmp(key, "weather.years") == 0)
        return read_whole(reader, setting, -SCENARIO_YEARS_MOST, SCENARIO_YEARS_MOST,
                          &scenario->weather_years);
    if (strcmp(key, "readings") == 0)
        return read_use(reader, setting, &scenario->use_readings);
    if (strcmp(key, "stages") == 0)
        return read_use(reader, setting, &scenario->use_stages);
    const struct problem_place place = place_of(reader, key);
    problem_tell_at(reader->problems, &place, "setting_unknown",
                    "found an unknown setting, expected planting:, field:, soil:, station: or supply: with a "
                    "name and a key of the farm file, irrigation, weather.years, readings or stages",
                    PROBLEM_END);
    return STATUS_REFUSED;
}

static bool ends_with(const char *text, const char *end) {
    size_t size = strlen(text), tail = strlen(end);
    return size >= tail && strcmp(text + size - tail, end) == 0;
}

/* Whether recorded stages would belong to another season than the one that is computed. */
static bool another_season(const cJSON *changes) {
    const cJSON *change;
    cJSON_ArrayForEach(change, changes) {
        const char *key = change->string;
        if (strcmp(key, "weather.years") == 0 ||
            (strncmp(key, "planting:", strlen("planting:")) == 0 &&
             (ends_with(key, ".planted") || ends_with(key, ".crop") || ends_with(key, ".region"))))
            return true;
    }
    return false;
}

/* Rules for all fields come before those for one, which begin as a copy of them. */
static enum status read_settings(struct reader *reader, const cJSON *changes) {
    enum status status = STATUS_OK;
    for (int of_field = 0; of_field < 2; of_field++) {
        const cJSON *change;
        cJSON_ArrayForEach(change, changes) {
            bool one = strncmp(change->string, "irrigation:", strlen("irrigation:")) == 0;
            if (status == STATUS_OK && one == (of_field != 0))
                status = read_setting(reader, change);
        }
    }
    return status;
}

static enum status check_days(const struct reader *reader) {
    for (int i = 0; i < reader->scenario->water_count; i++) {
        const struct scenario_water *water = &reader->scenario->water[i];
        bool days = water->date_count > 0 || water->every_d > 0;
        if (days == isnan(water->depth_mm)) {
            const struct problem_place place =
                place_of(reader, days ? "irrigation.depth" : "irrigation.days");
            problem_tell_at(reader->problems, &place, days ? "setting_depth" : "setting_days",
                            days
                                ? "found none, expected the depth of the given days, as 25 mm"
                                : "found none, expected irrigation.days or irrigation.every beside the depth",
                            PROBLEM_END);
            return STATUS_REFUSED;
        }
    }
    return STATUS_OK;
}

enum status scenario_make(const char *name, const cJSON *file, cJSON *changes, struct scenario *out,
                          struct problems *problems) {
    memset(out, 0, sizeof *out);
    (void)snprintf(out->name, sizeof out->name, "%s", name);
    out->changes = changes;
    out->water[0] = water_usual();
    out->water_count = 1;
    out->use_readings = changes->child == NULL;
    out->use_stages = !another_season(changes);
    struct reader reader = {.name = out->name, .scenario = out, .problems = problems};
    enum status status = change_farm(out->name, file, changes, &out->farm, problems);
    if (status == STATUS_OK)
        status = read_settings(&reader, changes);
    if (status == STATUS_OK)
        status = check_days(&reader);
    if (status != STATUS_OK)
        scenario_free(out);
    return status;
}

void scenario_free(struct scenario *scenario) {
    cJSON_Delete(scenario->changes);
    farm_free(&scenario->farm);
    memset(scenario, 0, sizeof *scenario);
}

const struct scenario_water *scenario_water_of(const struct scenario *scenario, const char *field) {
    for (int i = 1; i < scenario->water_count; i++) {
        if (strcmp(scenario->water[i].field, field) == 0)
            return &scenario->water[i];
    }
    return &scenario->water[0];
}

/* ---- money ---- */

struct money money_unknown(void) {
    double unknown = (double)NAN;
    return (struct money){.max_yield = unknown,
                          .price = unknown,
                          .water_cost = unknown,
                          .pass_cost = unknown,
                          .season_cost = unknown};
}

static enum status read_name(const struct reader *reader, const cJSON *setting, char *out) {
    const char *text = change_text(setting);
    if (text == NULL || text[0] == '\0' || strlen(text) >= FARM_NAME_SIZE)
        return expected(reader, setting, "a name of 1 to 63 bytes");
    memcpy(out, text, strlen(text) + 1);
    return STATUS_OK;
}

enum status money_read(const char *name, const cJSON *settings, struct money *out,
                       struct problems *problems) {
    const struct {
        const char *key;
        enum quantity_kind kind;
        double *value;
    } amounts[] = {{"max_yield", QUANTITY_PER_AREA, &out->max_yield},
                   {"price", QUANTITY_NUMBER, &out->price},
                   {"water_cost", QUANTITY_PER_VOLUME, &out->water_cost},
                   {"pass_cost", QUANTITY_PER_AREA, &out->pass_cost},
                   {"season_cost", QUANTITY_PER_AREA, &out->season_cost}};
    const struct reader reader = {.name = name, .problems = problems};
    enum status status = STATUS_OK;
    const cJSON *setting;
    cJSON_ArrayForEach(setting, settings) {
        size_t i = 0, count = sizeof amounts / sizeof amounts[0];
        while (i < count && strcmp(setting->string, amounts[i].key) != 0)
            i++;
        if (status != STATUS_OK)
            break;
        if (i < count)
            status = read_quantity(&reader, setting, amounts[i].kind, 0, INFINITY, amounts[i].value);
        else if (strcmp(setting->string, "currency") == 0)
            status = read_name(&reader, setting, out->currency);
        else if (strcmp(setting->string, "yield_unit") == 0)
            status = read_name(&reader, setting, out->yield_unit);
        else
            status = expected(
                &reader, setting,
                "only currency, yield_unit, max_yield, price, water_cost, pass_cost and season_cost");
    }
    return status;
}

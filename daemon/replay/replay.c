#include "daemon/replay/replay.h"

#include <math.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/base/wall_clock.h"
#include "daemon/farm/farm_file.h"
#include "daemon/farm/json_text.h"
#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/planting_run.h"
#include "daemon/replay/farm_change.h"
#include "daemon/replay/season_case.h"

#define SCENARIOS_FILE_MAX ((size_t)4 << 20)

void replay_hash(const void *bytes, size_t size, char out[WEATHER_HASH_SIZE]) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, bytes, size);
    sodium_bin2hex(out, WEATHER_HASH_SIZE, hash, sizeof hash);
}

/* ---- opening ---- */

static enum status open_text(struct replay *replay, const char *name, const char *text, size_t size,
                             struct problems *problems) {
    (void)snprintf(replay->name, sizeof replay->name, "%s", name);
    replay->money = money_unknown();
    replay->scenario = calloc(SCENARIOS_MAX, sizeof *replay->scenario);
    enum status status = replay->scenario != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = farm_file_read(name, text, size, &replay->farm, problems);
    if (status == STATUS_OK)
        status = change_parse(name, text, size, &replay->file, problems);
    if (status == STATUS_OK)
        wall_clock_zone(replay->farm.time_zone);
    return status;
}

/* Once the weather is there: how far it goes, and the scenario that changes nothing. */
static enum status open_end(struct replay *replay, int32_t today, struct problems *problems) {
    replay->until = today != CALENDAR_NONE ? today : replay_weather_end(&replay->weather);
    if (replay->until == CALENDAR_NONE) {
        problem_add(problems, NULL, 0, 0, NULL, "the sources of %s hold no observed day", replay->name);
        return STATUS_REFUSED;
    }
    cJSON *nothing = cJSON_CreateObject();
    return nothing != NULL ? replay_add(replay, "as it was", nothing, problems) : STATUS_NO_MEMORY;
}

enum status replay_open_file(struct replay *replay, const char *path, int32_t today,
                             struct problems *problems) {
    char *text = NULL, *base_dir = file_directory(path);
    size_t size = 0;
    enum status status = base_dir != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = file_read(path, JSON_TEXT_SIZE_MAX, &text, &size, problems);
    if (status == STATUS_OK) {
        replay_hash(text, size, replay->file_sha256);
        status = open_text(replay, path, text, size, problems);
    }
    if (status == STATUS_OK)
        status = replay_weather_of_files(&replay->farm, base_dir, &replay->weather, problems);
    if (status == STATUS_OK)
        status = open_end(replay, today, problems);
    free(text);
    free(base_dir);
    return status;
}

/* A written farm file is sorted by name; the ids have the order of the database. */
static enum status weather_of_db(struct replay *replay, struct db *db, const struct farm *stored,
                                 int32_t today, struct problems *problems) {
    struct farm_ids ids = {0}, sorted = {0};
    size_t count = replay->farm.station_count;
    sorted.station = calloc(count + 1, sizeof *sorted.station);
    enum status status = sorted.station != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = farm_store_ids(db, stored, &ids, problems);
    for (size_t i = 0; status == STATUS_OK && i < count; i++)
        sorted.station[i] = ids.station[replay_station_index(stored, replay->farm.station[i].name)];
    if (status == STATUS_OK)
        status = replay_weather_of_db(db, &replay->farm, &sorted, today, &replay->weather, problems);
    farm_ids_free(&ids);
    farm_ids_free(&sorted);
    return status;
}

static void keep_field(struct farm *farm, const char *field) {
    size_t plantings = 0, records = 0;
    for (size_t i = 0; i < farm->planting_count; i++)
        if (strcmp(farm->planting[i].field, field) == 0)
            farm->planting[plantings++] = farm->planting[i];
    for (size_t i = 0; i < farm->record_count; i++)
        if (strcmp(farm->record[i].field, field) == 0)
            farm->record[records++] = farm->record[i];
    farm->planting_count = plantings;
    farm->record_count = records;
}

/* The farm as a text, of which `field` (NULL: all) is left; the hash is that of the whole book. */
static enum status text_of_book(struct replay *replay, struct farm *farm, const char *field, char **out) {
    char *text = farm_file_write(farm);
    if (text == NULL)
        return STATUS_NO_MEMORY;
    replay_hash(text, strlen(text), replay->file_sha256);
    if (field != NULL) {
        free(text);
        keep_field(farm, field);
        text = farm_file_write(farm);
    }
    *out = text;
    return text != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

enum status replay_open_db(struct replay *replay, struct db *db, const char *field, int32_t today,
                           struct problems *problems) {
    struct farm farm;
    char *text = NULL;
    farm_init(&farm);
    enum status status = farm_store_load(db, &farm, problems);
    if (status == STATUS_OK)
        status = text_of_book(replay, &farm, field, &text);
    if (status == STATUS_OK)
        status = open_text(replay, "the database", text, strlen(text), problems);
    if (status == STATUS_OK)
        status = weather_of_db(replay, db, &farm, today, problems);
    if (status == STATUS_OK)
        status = open_end(replay, today, problems);
    free(text);
    farm_free(&farm);
    return status;
}

void replay_free(struct replay *replay) {
    for (size_t i = 0; i < replay->scenario_count; i++)
        scenario_free(&replay->scenario[i]);
    for (size_t i = 0; i < replay->result_count; i++)
        free(replay->result[i].day);
    free(replay->scenario);
    free(replay->result);
    cJSON_Delete(replay->file);
    farm_free(&replay->farm);
    replay_weather_free(&replay->weather);
    memset(replay, 0, sizeof *replay);
}

/* ---- scenarios ---- */

enum status replay_add(struct replay *replay, const char *name, cJSON *changes, struct problems *problems) {
    if (replay->scenario_count == SCENARIOS_MAX) {
        cJSON_Delete(changes);
        problem_add(problems, NULL, 0, 0, name, "found more than %d scenarios", SCENARIOS_MAX - 1);
        return STATUS_REFUSED;
    }
    enum status status =
        scenario_make(name, replay->file, changes, &replay->scenario[replay->scenario_count], problems);
    replay->scenario_count += status == STATUS_OK;
    return status;
}

static enum status add_entry(struct replay *replay, const char *path, const cJSON *entry,
                             struct problems *problems) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(entry, "name"));
    const cJSON *set = cJSON_GetObjectItemCaseSensitive(entry, "set"), *key;
    bool good = name != NULL && cJSON_IsObject(set);
    cJSON_ArrayForEach(key, entry) {
        good = good && (strcmp(key->string, "name") == 0 || strcmp(key->string, "set") == 0);
    }
    if (!good) {
        problem_add(problems, path, 0, 0, name,
                    "expected each scenario as {\"name\": \"rainfed\", \"set\": {\"irrigation\": \"none\"}}");
        return STATUS_REFUSED;
    }
    cJSON *changes = cJSON_Duplicate(set, true);
    return changes != NULL ? replay_add(replay, name, changes, problems) : STATUS_NO_MEMORY;
}

enum status replay_add_file(struct replay *replay, const char *path, struct problems *problems) {
    char *text = NULL;
    size_t size = 0;
    cJSON *root = NULL;
    enum status status = file_read(path, SCENARIOS_FILE_MAX, &text, &size, problems);
    if (status == STATUS_OK)
        status = change_parse(path, text, size, &root, problems);
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(root, "scenarios"), *entry;
    if (status == STATUS_OK && !cJSON_IsArray(list)) {
        problem_add(problems, path, 0, 0, NULL,
                    "found no list \"scenarios\", expected {\"scenarios\": [...]}");
        status = STATUS_REFUSED;
    }
    cJSON_ArrayForEach(entry, list) {
        if (status == STATUS_OK)
            status = add_entry(replay, path, entry, problems);
    }
    const cJSON *money = cJSON_GetObjectItemCaseSensitive(root, "money");
    if (status == STATUS_OK && money != NULL)
        status = money_read(path, money, &replay->money, problems);
    cJSON_Delete(root);
    free(text);
    return status;
}

/* ---- running ---- */

/* Days of weather for a scenario. */
struct weather_made {
    struct station_days *days;
    const struct scenario *of;
    int32_t first;
};

static int32_t first_wanted(const struct scenario *scenario, int32_t until) {
    int32_t first = until;
    for (size_t i = 0; i < scenario->farm.planting_count; i++) {
        int32_t start = season_case_shift(scenario->farm.planting[i].start_date, scenario->weather_years);
        if (start != CALENDAR_NONE && start < first)
            first = start;
    }
    return first - WEATHER_BEFORE_D;
}

static bool same_stations(const struct farm *a, const struct farm *b) {
    return a->station_count == b->station_count &&
           memcmp(a->station, b->station, a->station_count * sizeof *a->station) == 0;
}

static void drop_weather(const struct replay *replay, struct weather_made *made) {
    for (size_t i = 0; made->days != NULL && i < replay->weather.count; i++)
        station_days_free(&made->days[i]);
    made->of = NULL;
}

/* Makes the days of a scenario, or keeps those that are there when they would be the same. */
static enum status make_weather(const struct replay *replay, const struct scenario *scenario,
                                struct weather_made *made) {
    int32_t first = first_wanted(scenario, replay->until);
    if (made->of != NULL && made->first == first && same_stations(&made->of->farm, &scenario->farm))
        return STATUS_OK;
    drop_weather(replay, made);
    made->of = scenario;
    made->first = first;
    return replay_weather_build(&replay->weather, &scenario->farm, first, replay->until, made->days);
}

/* What was harvested of plots of a trial is a sample of the field. */
static double harvest_of(const struct farm *farm, const char *field, int32_t from, int32_t until) {
    double sum = (double)NAN;
    for (size_t i = 0; i < farm->record_count; i++) {
        const struct farm_record *record = &farm->record[i];
        if (record->kind == RECORD_HARVEST && record->plot[0] == '\0' && record->date >= from &&
            record->date < until && strcmp(record->field, field) == 0 && !isnan(record->amount))
            sum = isnan(sum) ? record->amount : sum + record->amount;
    }
    return sum;
}

/* The same season without irrigation. What was read under the water that was given says nothing of it. */
static enum status run_rainfed(const struct season_case *season, const char *name, bool watered,
                               struct budget *budget, struct problems *problems) {
    struct season_case rainfed = *season;
    int days;
    rainfed.rule.kind = WATERING_NONE;
    rainfed.input = calloc((size_t)season->count + 1, sizeof *rainfed.input);
    if (rainfed.input == NULL)
        return STATUS_NO_MEMORY;
    memcpy(rainfed.input, season->input, (size_t)season->count * sizeof *rainfed.input);
    for (int i = 0; watered && i < season->count; i++)
        rainfed.input[i].reading_m3_m3 = rainfed.input[i].reading_sd_m3_m3 = (double)NAN;
    enum status status = season_case_run(&rainfed, name, NULL, &days, budget, NULL, problems);
    free(rainfed.input);
    return status;
}

static enum status run_case(const struct replay *replay, const struct season_case *season,
                            const struct scenario *scenario, struct replay_result *result,
                            struct problems *problems) {
    struct watering_denied denied;
    result->day = calloc((size_t)season->count + 1, sizeof *result->day);
    if (result->day == NULL)
        return STATUS_NO_MEMORY;
    enum status status = season_case_run(season, scenario->name, result->day, &result->days, &result->budget,
                                         &denied, problems);
    if (status == STATUS_OK)
        status = run_rainfed(season, scenario->name, result->budget.season.irrigation_gross_mm > 0,
                             &result->rainfed, problems);
    if (status != STATUS_OK)
        return status;
    bool draws = season_case_draws(season);
    result->value = season_value_of(&season->setup.crop, &result->budget, &result->rainfed, &replay->money,
                                    draws ? &denied : NULL);
    result->spent_date = draws ? denied.spent_date : CALENDAR_NONE;
    result->harvest_count =
        season_harvest_window(&season->setup.crop, result->day, result->days, result->harvest);
    result->finished = result->days < season->count || !season->open;
    return STATUS_OK;
}

static void describe(const struct replay *replay, size_t scenario, size_t planting,
                     const struct season_case *season, struct replay_result *result) {
    const struct scenario *of = &replay->scenario[scenario];
    const struct farm_planting *grown = season->planting;
    int32_t next = planting_until(&of->farm, planting);
    result->scenario = scenario;
    memcpy(result->field, grown->field, sizeof result->field);
    memcpy(result->crop_name, grown->crop_name, sizeof result->crop_name);
    result->crop = season->setup.crop;
    memcpy(result->supply, season->field->supply, sizeof result->supply);
    result->area_m2 = season->field->system.area_m2;
    result->planting_date = grown->planting_date;
    result->weather_missing = season->weather_missing;
    result->readings = season->readings;
    result->readings_used = of->use_readings;
    result->measured =
        harvest_of(&of->farm, grown->field, grown->start_date, next != CALENDAR_NONE ? next : CALENDAR_LAST);
}

static bool same_days(const struct replay_result *a, const struct replay_result *b) {
    bool same = a->days == b->days;
    for (int i = 0; same && i < a->days; i++) {
        const struct season_day *x = &a->day[i], *y = &b->day[i];
        same = x->date == y->date && x->stage == y->stage &&
               memcmp(&x->depletion_mm, &y->depletion_mm, sizeof x->depletion_mm) == 0 &&
               memcmp(&x->eta_mm, &y->eta_mm, sizeof x->eta_mm) == 0 &&
               memcmp(&x->allowed_mm, &y->allowed_mm, sizeof x->allowed_mm) == 0 &&
               memcmp(&x->irrigation_gross_mm, &y->irrigation_gross_mm, sizeof x->irrigation_gross_mm) == 0;
    }
    return same;
}

static enum status run_planting(struct replay *replay, size_t scenario, size_t planting, bool whole_farm,
                                const struct weather_made *made, struct replay_result *result,
                                struct problems *problems) {
    const struct scenario *of = &replay->scenario[scenario];
    const struct farm_field *field = farm_field_named(&of->farm, of->farm.planting[planting].field);
    size_t station = field != NULL ? replay_station_index(&of->farm, field->station) : SIZE_MAX;
    struct season_case season = {0};
    if (station >= replay->weather.count)
        return STATUS_NOT_FOUND;
    enum status status =
        season_case_make(of, planting, &made->days[station], replay->until, whole_farm, &season, problems);
    if (status == STATUS_OK) {
        describe(replay, scenario, planting, &season, result);
        status = run_case(replay, &season, of, result, problems);
    }
    season_case_free(&season);
    return status;
}

/* Scenario by scenario, so that the weather is made once for each; the results lie planting by planting. */
static enum status run_scenario(struct replay *replay, size_t scenario, const size_t *planting, size_t count,
                                bool whole_farm, struct weather_made *made, struct problems *problems) {
    enum status status = make_weather(replay, &replay->scenario[scenario], made);
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        struct replay_result *first = &replay->result[i * replay->scenario_count], *result = first + scenario;
        status = run_planting(replay, scenario, planting[i], whole_farm, made, result, problems);
        result->as_it_was = status == STATUS_OK && same_days(first, result);
    }
    return status;
}

enum status replay_run(struct replay *replay, const char *field, struct problems *problems) {
    const struct farm *farm = &replay->farm;
    size_t *planting = calloc(farm->planting_count + 1, sizeof *planting), count = 0;
    struct weather_made made = {.days = calloc(replay->weather.count + 1, sizeof *made.days)};
    for (size_t i = 0; planting != NULL && i < farm->planting_count; i++) {
        if ((field == NULL || strcmp(field, farm->planting[i].field) == 0) &&
            farm->planting[i].start_date < replay->until)
            planting[count++] = i;
    }
    replay->result = calloc(count * replay->scenario_count + 1, sizeof *replay->result);
    bool room = planting != NULL && made.days != NULL && replay->result != NULL;
    enum status status = room ? STATUS_OK : STATUS_NO_MEMORY;
    if (room && count == 0) {
        if (field != NULL)
            problem_tell(problems, "replay_not_planted", "found nothing planted on the field {field}",
                         "field", field, PROBLEM_END);
        else
            problem_add(problems, NULL, 0, 0, NULL, "found nothing planted");
        status = STATUS_NOT_FOUND;
    }
    if (room)
        replay->result_count = count * replay->scenario_count;
    for (size_t i = 0; status == STATUS_OK && i < replay->scenario_count; i++)
        status = run_scenario(replay, i, planting, count, field == NULL, &made, problems);
    drop_weather(replay, &made);
    free(made.days);
    free(planting);
    return status;
}

#include "daemon/replay/farm_change.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/farm_file.h"
#include "daemon/farm/json_text.h"

#define CHANGE_PATH_MAX 200

/* ---- values as they were written ---- */

/* A number printed by cJSON may differ in its last bit from the one that was read; its own digits do not. */
static bool keep_digits(const struct json_text *json) {
    for (size_t i = 0; i < json->count; i++) {
        const struct json_place *place = &json->place[i];
        /* The tree is ours until it is handed out. */
        cJSON *item = (cJSON *)(uintptr_t)place->item;
        if (!cJSON_IsNumber(item))
            continue;
        item->valuestring = cJSON_malloc(place->size + 1);
        if (item->valuestring == NULL)
            return false;
        memcpy(item->valuestring, json->text + place->offset, place->size);
        item->valuestring[place->size] = '\0';
        item->type = cJSON_Raw;
    }
    return true;
}

enum status change_parse(const char *name, const char *text, size_t size, cJSON **out,
                         struct problems *problems) {
    struct json_text json;
    enum status status = json_text_parse(name, text, size, &json, problems);
    if (status != STATUS_OK)
        return status;
    *out = keep_digits(&json) ? cJSON_Duplicate(json.root, true) : NULL;
    json_text_free(&json);
    return *out != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

const char *change_text(const cJSON *value) {
    return cJSON_IsString(value) || cJSON_IsRaw(value) ? value->valuestring : NULL;
}

/* ---- words of a command line ---- */

/* A piece of `words` without the blanks around it; free() it. */
static char *trimmed(const char *words, size_t size) {
    while (size > 0 && isspace((unsigned char)*words))
        words++, size--;
    while (size > 0 && isspace((unsigned char)words[size - 1]))
        size--;
    return strndup(words, size);
}

static cJSON *value_of_word(const char *word) {
    cJSON *value = NULL;
    struct problems ignored;
    problems_init(&ignored);
    if (change_parse("", word, strlen(word), &value, &ignored) != STATUS_OK)
        value = cJSON_CreateString(word);
    problems_free(&ignored);
    return value;
}

static enum status add_words(const char *name, const char *words, size_t size, cJSON *out,
                             struct problems *problems) {
    const char *equals = memchr(words, '=', size);
    char *key = trimmed(words, equals != NULL ? (size_t)(equals - words) : size);
    char *word = equals != NULL ? trimmed(equals + 1, size - (size_t)(equals + 1 - words)) : NULL;
    enum status status = STATUS_OK;
    if (key == NULL || (equals != NULL && word == NULL)) {
        status = STATUS_NO_MEMORY;
    } else if (equals == NULL || key[0] == '\0' || word[0] == '\0') {
        char found[101];
        (void)snprintf(found, sizeof found, "%.*s", (int)(size < 100 ? size : 100), words);
        const struct problem_place place = {name, 0, 0, NULL, NULL};
        problem_tell_at(problems, &place, "setting",
                        "found \"{found}\", expected a setting and its value, as \"{expected}\"", "found",
                        found, "expected", "planting:East pivot.allowed_depletion = 60 %", PROBLEM_END);
        status = STATUS_USAGE;
    } else if (!cJSON_AddItemToObject(out, key, value_of_word(word))) {
        status = STATUS_NO_MEMORY;
    }
    free(key);
    free(word);
    return status;
}

enum status change_of_words(const char *words, cJSON **out, struct problems *problems) {
    cJSON *changes = cJSON_CreateObject();
    enum status status = changes != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    for (const char *at = words; status == STATUS_OK && *at != '\0';) {
        size_t size = strcspn(at, ";");
        if (strspn(at, " \t\n") < size)
            status = add_words(words, at, size, changes, problems);
        at += size + (at[size] == ';');
    }
    if (status == STATUS_OK)
        *out = changes;
    else
        cJSON_Delete(changes);
    return status;
}

/* ---- the entry that a setting names ---- */

static const struct {
    const char *kind, *list, *name;
} lists[] = {{"planting:", "plantings", "field"},
             {"field:", "fields", "name"},
             {"soil:", "soils", "name"},
             {"station:", "stations", "name"},
             {"supply:", "supplies", "name"}};

#define LISTS (sizeof lists / sizeof lists[0])

static size_t list_of(const char *key) {
    size_t i = 0;
    while (i < LISTS && strncmp(key, lists[i].kind, strlen(lists[i].kind)) != 0)
        i++;
    return i;
}

bool change_of_farm(const char *key) {
    return list_of(key) < LISTS;
}

/* How much of `words` an entry's name takes, with "@DATE" behind a planting's field; 0: another entry. */
static size_t name_size(const cJSON *entry, size_t list, const char *words) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(entry, lists[list].name));
    const char *date = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(entry, "planted"));
    if (name == NULL || name[0] == '\0' || strncmp(words, name, strlen(name)) != 0)
        return 0;
    size_t size = strlen(name);
    if (words[size] == '@' && date != NULL && strncmp(words + size + 1, date, strlen(date)) == 0)
        size += 1 + strlen(date);
    return words[size] == '.' ? size : 0;
}

/* The entry, and where the path behind its name begins. Names may have dots in them: the longest one wins. */
static cJSON *find_entry(const cJSON *file, const char *key, const char **path, int *matches) {
    size_t list = list_of(key), longest = 0;
    const char *words = key + strlen(lists[list].kind);
    const cJSON *array = cJSON_GetObjectItemCaseSensitive(file, lists[list].list);
    cJSON *found = NULL, *entry;
    *matches = 0;
    cJSON_ArrayForEach(entry, array) {
        size_t size = name_size(entry, list, words);
        if (size == 0 || size < longest)
            continue;
        *matches = size > longest ? 1 : *matches + 1;
        longest = size;
        found = entry;
    }
    *path = words + longest + 1;
    return found;
}

/* ---- one change ---- */

/* What another crop, region or texture brings itself. */
static void drop_own_values(cJSON *entry, const char *path) {
    static const char *const of_crop[] = {"reference",
                                          "clock",
                                          "stage_days",
                                          "stage_degree_days",
                                          "base_temperature",
                                          "ceiling_temperature",
                                          "kc",
                                          "kcb",
                                          "height",
                                          "root_depth",
                                          "depletion_fraction",
                                          "depletion_fixed",
                                          "ky",
                                          "ky_stage",
                                          "salt_threshold",
                                          "salt_slope",
                                          "forage",
                                          "cut_stage_days",
                                          "cut_height",
                                          NULL};
    static const char *const of_region[] = {"stage_days", "stage_degree_days", NULL};
    static const char *const of_texture[] = {"layers", "sand", "clay", "organic_matter", "rew", "tew", NULL};
    const char *const *dropped = strcmp(path, "crop") == 0      ? of_crop
                                 : strcmp(path, "region") == 0  ? of_region
                                 : strcmp(path, "texture") == 0 ? of_texture
                                                                : NULL;
    for (; dropped != NULL && *dropped != NULL; dropped++)
        cJSON_DeleteItemFromObjectCaseSensitive(entry, *dropped);
    if (strcmp(path, "crop") == 0)
        cJSON_DeleteItemFromObjectCaseSensitive(entry, "region");
}

/* Puts a value at "kcb.mid" or "layers[0].bottom"; objects on the way are made where there are none. False:
 * an index that is not there, or something other than an object on the way. */
static bool put(cJSON *at, const char *path, const cJSON *value) {
    char part[CHANGE_PATH_MAX];
    size_t size = strcspn(path, ".[");
    if (size == 0 || size >= sizeof part || !cJSON_IsObject(at))
        return false;
    memcpy(part, path, size);
    part[size] = '\0';
    cJSON *member = cJSON_GetObjectItemCaseSensitive(at, part);
    if (path[size] == '\0') {
        cJSON_DeleteItemFromObjectCaseSensitive(at, part);
        return cJSON_IsNull(value) || cJSON_AddItemToObject(at, part, cJSON_Duplicate(value, true));
    }
    if (path[size] == '.') {
        if (member == NULL)
            member = cJSON_AddObjectToObject(at, part);
        return put(member, path + size + 1, value);
    }
    char *end;
    long index = strtol(path + size + 1, &end, 10);
    if (*end != ']' || index < 0 || index > 100 || !cJSON_IsArray(member) ||
        index >= cJSON_GetArraySize(member))
        return false;
    if (end[1] == '\0')
        return cJSON_ReplaceItemInArray(member, (int)index, cJSON_Duplicate(value, true));
    return end[1] == '.' && put(cJSON_GetArrayItem(member, (int)index), end + 2, value);
}

static enum status apply(const char *name, cJSON *file, const cJSON *change, struct problems *problems) {
    const char *path;
    int matches;
    cJSON *entry = find_entry(file, change->string, &path, &matches);
    const struct problem_place place = {name, 0, 0, change->string, NULL};
    if (matches > 1) {
        char found[16];
        (void)snprintf(found, sizeof found, "%d", matches);
        problem_tell_at(problems, &place, "setting_plantings",
                        "found {found} plantings of that field, expected one with its date, as "
                        "\"planting:FIELD@2026-05-20.KEY\"",
                        "found", found, PROBLEM_END);
        return STATUS_REFUSED;
    }
    if (entry == NULL) {
        problem_tell_at(problems, &place, "setting_named",
                        "found nothing of that name in the farm, expected \"{expected}NAME.KEY\" with a name "
                        "and a key of the farm file",
                        "expected", lists[list_of(change->string)].kind, PROBLEM_END);
        return STATUS_REFUSED;
    }
    drop_own_values(entry, path);
    if (put(entry, path, change))
        return STATUS_OK;
    problem_tell_at(problems, &place, "setting_key",
                    "found no place for \"{found}\", expected a key of the farm file", "found", path,
                    PROBLEM_END);
    return STATUS_REFUSED;
}

/* What is wrong with the changed text has no line that anyone could look at. */
static enum status read_changed(const char *name, const cJSON *file, struct farm *farm,
                                struct problems *problems) {
    struct problems *found = calloc(1, sizeof *found);
    char *text = cJSON_PrintUnformatted(file);
    enum status status = STATUS_NO_MEMORY;
    if (found != NULL && text != NULL) {
        problems_init(found);
        status = farm_file_read(name, text, strlen(text), farm, found);
        for (size_t i = 0; i < found->kept; i++) {
            struct problem *copy = problem_copy(problems, &found->problem[i]);
            if (copy != NULL)
                copy->line = copy->column = copy->more_first = copy->more_last = 0;
        }
        problems_free(found);
    }
    cJSON_free(text);
    free(found);
    return status;
}

enum status change_farm(const char *name, const cJSON *file, const cJSON *changes, struct farm *farm,
                        struct problems *problems) {
    farm_init(farm);
    cJSON *copy = cJSON_Duplicate(file, true);
    enum status status = copy != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    const cJSON *change;
    cJSON_ArrayForEach(change, changes) {
        if (status == STATUS_OK && change_of_farm(change->string))
            status = apply(name, copy, change, problems);
    }
    if (status == STATUS_OK)
        status = read_changed(name, copy, farm, problems);
    cJSON_Delete(copy);
    return status;
}

/* config/farm.schema.json says the same as the tables that the reader of farm files works by: the same keys,
 * the same required ones, the same words, the same limits of plain numbers. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <cjson/cJSON.h>

#include "daemon/farm/farm_file_inside.h"
#include "support/farms.h"

static cJSON *schema;

static int open_schema(void **state) {
    (void)state;
    size_t size = 0;
    char *text = farms_text("config/farm.schema.json", &size);
    schema = text != NULL ? cJSON_ParseWithLength(text, size) : NULL;
    free(text);
    return schema != NULL ? 0 : -1;
}

static int close_schema(void **state) {
    (void)state;
    cJSON_Delete(schema);
    return 0;
}

static const cJSON *member(const cJSON *object, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

static const cJSON *definition(const char *name) {
    const cJSON *found = member(member(schema, "$defs"), name);
    if (found == NULL)
        fail_msg("the schema defines no \"%s\"", name);
    return found;
}

/* What a "$ref" stands for. */
static const cJSON *resolved(const cJSON *node) {
    const char *target = cJSON_GetStringValue(member(node, "$ref"));
    return target != NULL ? definition(strrchr(target, '/') + 1) : node;
}

static bool list_has(const cJSON *list, const char *word) {
    const cJSON *item;
    cJSON_ArrayForEach(item, list) {
        if (cJSON_IsString(item) && strcmp(item->valuestring, word) == 0)
            return true;
    }
    return false;
}

/* The object that a node describes: itself, or one of its alternatives. */
static const cJSON *object_in(const cJSON *node) {
    const cJSON *alternative;
    cJSON_ArrayForEach(alternative, member(node, "anyOf")) {
        if (member(alternative, "properties") != NULL)
            return alternative;
    }
    return node;
}

static void expect_words(const cJSON *node, const struct key *key, const char *where) {
    const cJSON *only = member(node, "const");
    const cJSON *words = member(node, "enum");
    int count = 0;
    while (key->choice(count) != NULL) {
        if (only == NULL && !list_has(words, key->choice(count)))
            fail_msg("%s.%s: the schema lacks \"%s\"", where, key->name, key->choice(count));
        count++;
    }
    if (only == NULL && cJSON_GetArraySize(words) != count)
        fail_msg("%s.%s: the schema has more words than the reader", where, key->name);
}

static void expect_limits(const cJSON *node, const struct key *key, const char *where) {
    double low = cJSON_GetNumberValue(member(node, "minimum"));
    double high = cJSON_GetNumberValue(member(node, "maximum"));
    bool same_high = isinf(key->limits.max) ? isnan(high) : high == key->limits.max;
    if (low != key->limits.min || !same_high)
        fail_msg("%s.%s: the schema says %g to %g, the reader %g to %g", where, key->name, low, high,
                 key->limits.min, key->limits.max);
}

static void expect_nullable(const cJSON *node, const struct key *key, const char *where) {
    bool nullable = list_has(member(node, "type"), "null");
    const cJSON *alternative;
    cJSON_ArrayForEach(alternative, member(node, "anyOf")) {
        const char *type = cJSON_GetStringValue(member(alternative, "type"));
        nullable = nullable || (type != NULL && strcmp(type, "null") == 0);
    }
    if (nullable != key->nullable)
        fail_msg("%s.%s: null is %s by the schema", where, key->name, nullable ? "accepted" : "refused");
}

static void expect_same(const cJSON *object, const struct key *keys, const char *where);

static void expect_key(const cJSON *object, const struct key *key, const char *where) {
    const cJSON *node = member(member(object, "properties"), key->name);
    if (node == NULL)
        fail_msg("%s: the schema does not know \"%s\"", where, key->name);
    if (list_has(member(object, "required"), key->name) != key->required)
        fail_msg("%s: \"%s\" is%s required by the reader", where, key->name, key->required ? "" : " not");
    node = resolved(node);
    char inner[128];
    (void)snprintf(inner, sizeof inner, "%s.%s", where, key->name);
    if (key->choice != NULL)
        expect_words(node, key, where);
    if (key->kind == KEY_QUANTITY)
        expect_nullable(node, key, where);
    if (key->kind == KEY_QUANTITY && key->quantity == QUANTITY_NUMBER)
        expect_limits(key->count > 0 ? member(node, "items") : node, key, where);
    /* Whole hours may be written with their unit, so that the schema leaves their limits to the reader. */
    if (key->kind == KEY_WHOLE && key->quantity == QUANTITY_NUMBER)
        expect_limits(node, key, where);
    if (key->kind == KEY_LIST)
        expect_same(resolved(member(node, "items")), key->keys, inner);
    else if (key->keys != NULL)
        expect_same(object_in(node), key->keys, inner);
}

static void expect_same(const cJSON *object, const struct key *keys, const char *where) {
    int count = 0;
    for (; keys[count].name != NULL; count++)
        expect_key(object, &keys[count], where);
    if (cJSON_GetArraySize(member(object, "properties")) != count)
        fail_msg("%s: the schema knows keys that the reader does not", where);
    if (!cJSON_IsFalse(member(object, "additionalProperties")))
        fail_msg("%s: the schema accepts unknown keys", where);
}

static void the_farm_and_its_lists_have_the_keys_of_the_reader(void **state) {
    (void)state;
    expect_same(schema, farm_file_root_keys, "the file");
    expect_same(member(member(schema, "properties"), "farm"), farm_file_farm_keys, "farm");
    expect_same(definition("station"), farm_file_station_keys, "station");
    expect_same(definition("source"), farm_file_source_keys, "source");
    expect_same(definition("soil"), farm_file_soil_keys, "soil");
    expect_same(definition("supply"), farm_file_supply_keys, "supply");
    expect_same(definition("field"), farm_file_field_keys, "field");
    expect_same(definition("planting"), farm_file_planting_keys, "planting");
    expect_same(definition("turn"), farm_file_turn_keys, "turn");
    expect_same(definition("trial"), farm_file_trial_keys, "trial");
}

static void each_kind_of_record_has_the_keys_of_the_reader(void **state) {
    (void)state;
    const cJSON *kinds = member(member(member(definition("record"), "properties"), "kind"), "enum");
    assert_int_equal(cJSON_GetArraySize(kinds), RECORD_KIND_COUNT);
    for (int kind = 0; kind < RECORD_KIND_COUNT; kind++) {
        const char *name = record_kind_name((enum record_kind)kind);
        char where[64];
        (void)snprintf(where, sizeof where, "record_%s", name);
        assert_true(list_has(kinds, name));
        expect_same(definition(where), farm_file_record_keys((enum record_kind)kind), where);
        assert_string_equal(
            cJSON_GetStringValue(member(member(member(definition(where), "properties"), "kind"), "const")),
            name);
    }
}

/* The schema names the textures in words, for people. */
static void the_textures_that_it_names_are_those_of_the_library(void **state) {
    (void)state;
    const cJSON *texture = member(member(definition("soil"), "properties"), "texture");
    const char *words = cJSON_GetStringValue(member(texture, "description"));
    for (int i = 0; i < TEXTURE_COUNT; i++)
        assert_non_null(strstr(words, soil_texture_name((enum soil_texture)i)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_farm_and_its_lists_have_the_keys_of_the_reader),
        cmocka_unit_test(each_kind_of_record_has_the_keys_of_the_reader),
        cmocka_unit_test(the_textures_that_it_names_are_those_of_the_library),
    };
    return cmocka_run_group_tests(tests, open_schema, close_schema);
}

/* template.c where tests/web/template.test.mjs does not reach: limits, failures, the shipped templates. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/asset.h"
#include "daemon/http/template.h"

static enum status render(const char *source, const char *json, size_t limit, struct text *out) {
    struct problems problems;
    problems_init(&problems);
    cJSON *view = cJSON_Parse(json);
    text_init(out, limit);
    enum status status = template_render("test", source, view, NULL, out, &problems);
    cJSON_Delete(view);
    problems_free(&problems);
    return status;
}

static void a_name_from_outside_cannot_become_markup(void **state) {
    (void)state;
    struct text out;
    assert_int_equal(render("<b title='{{n}}'>{{n}}</b>", "{\"n\":\"<i>'&\\\"\"}", 0, &out), STATUS_OK);
    assert_string_equal(text_string(&out),
                        "<b title='&lt;i&gt;&#39;&amp;&quot;'>&lt;i&gt;&#39;&amp;&quot;</b>");
    text_free(&out);
}

static void a_value_is_never_read_as_a_template(void **state) {
    (void)state;
    struct text out;
    assert_int_equal(render("{{{n}}}", "{\"n\":\"{{secret}}\",\"secret\":\"x\"}", 0, &out), STATUS_OK);
    assert_string_equal(text_string(&out), "{{secret}}");
    text_free(&out);
}

static void text_past_its_limit_is_a_status(void **state) {
    (void)state;
    struct text out;
    assert_int_equal(render("{{#l}}0123456789{{/l}}", "{\"l\":[1,2,3,4]}", 25, &out), STATUS_NO_ROOM);
    text_free(&out);
}

static void a_view_that_is_missing_prints_the_text_alone(void **state) {
    (void)state;
    struct text out;
    assert_int_equal(render("a{{b}}{{#c}}d{{/c}}{{^c}}e{{/c}}{{.}}", "not json", 0, &out), STATUS_OK);
    assert_string_equal(text_string(&out), "ae");
    text_free(&out);
}

static void a_missing_template_is_not_found(void **state) {
    (void)state;
    struct text out;
    text_init(&out, 0);
    struct problems problems;
    problems_init(&problems);
    assert_int_equal(template_render_asset("no such page", NULL, &out, &problems), STATUS_NOT_FOUND);
    assert_int_equal(text_string(&out)[0], '\0');
}

static void every_shipped_template_is_well_formed(void **state) {
    (void)state;
    int count = 0;
    for (const struct asset *asset = asset_table; asset->path != NULL; asset++) {
        if (strstr(asset->path, ".mustache") == NULL)
            continue;
        struct text out;
        assert_int_equal(render((const char *)asset->bytes, "{}", 0, &out), STATUS_OK);
        text_free(&out);
        count++;
    }
    assert_true(count >= 5);
}

/* Cut anywhere, a template renders or is refused; it does not read past its end (run under a sanitizer too).
 */
static void a_template_cut_at_any_byte_does_not_crash(void **state) {
    (void)state;
    const char whole[] =
        "{{=<% %>=}} <%#a%> <%{b}%> <%> p %> <%={{ }}=%> {{^c}}{{! x }}{{&d.e}}{{/c}}\n<%/a%>";
    for (size_t size = 0; size < sizeof whole; size++) {
        char *cut = strndup(whole, size);
        struct text out;
        enum status status = render(cut, "{\"a\":[{\"b\":1},2],\"d\":{\"e\":\"f\"}}", 0, &out);
        assert_true(status == STATUS_OK || status == STATUS_REFUSED);
        text_free(&out);
        free(cut);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_name_from_outside_cannot_become_markup),
        cmocka_unit_test(a_value_is_never_read_as_a_template),
        cmocka_unit_test(text_past_its_limit_is_a_status),
        cmocka_unit_test(a_view_that_is_missing_prints_the_text_alone),
        cmocka_unit_test(a_missing_template_is_not_found),
        cmocka_unit_test(every_shipped_template_is_well_formed),
        cmocka_unit_test(a_template_cut_at_any_byte_does_not_crash),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

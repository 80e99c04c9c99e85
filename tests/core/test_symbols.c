/* core/ is pure computation: its archives ask for mathematics, memory and string functions and nothing else,
 * and keep nothing that can be written to. Both are read from the symbol tables that nm(1) prints. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SYMBOLS_MAX 20000
#define CORE        "lib/core_base.a lib/core_weather.a lib/core_balance.a lib/core_decide.a"

struct symbol {
    char name[128], member[64], section[64];
    bool is_object; /* data, as opposed to code */
};

struct symbols {
    int count;
    struct symbol symbol[SYMBOLS_MAX];
};

static struct symbols core, outside;

static const char *const allowed[] = {
    /* <math.h>: what takes numbers and gives numbers */
    "acos", "asin", "atan", "atan2", "cbrt", "ceil", "cos", "cosh", "erf", "exp", "exp2", "expm1", "fabs",
    "floor", "fma", "fmax", "fmin", "fmod", "frexp", "hypot", "ldexp", "llround", "log", "log10", "log1p",
    "log2", "lround", "modf", "nextafter", "pow", "remainder", "rint", "round", "scalbn", "sin", "sincos",
    "sinh", "sqrt", "tan", "tanh", "trunc",
    /* <string.h>: what does not depend on the locale */
    "memchr", "memcmp", "memcpy", "memmove", "memset", "strchr", "strcmp", "strcspn", "strlen", "strncmp",
    "strrchr", "strspn", "strstr",
    /* what the compiler puts in by itself */
    "_GLOBAL_OFFSET_TABLE_", "__stack_chk_fail", "__memcpy_chk", "__memmove_chk", "__memset_chk",
    /* how it asks the processor for its vectors (core/base/vectors.h) */
    "__cpu_indicator_init", "__cpu_model"};

/* ---- reading nm's table
 * ------------------------------------------------------------------------------------- */

static void copy_trimmed(char *out, size_t room, const char *from, size_t length) {
    while (length > 0 && from[0] == ' ')
        from++, length--;
    while (length > 0 && strchr(" \n", from[length - 1]) != NULL)
        length--;
    assert_true(length < room);
    memcpy(out, from, length);
    out[length] = '\0';
}

/* The n-th of the columns that '|' separates. */
static void copy_column(char *out, size_t room, const char *line, int n) {
    for (; n > 0; n--) {
        line = strchr(line, '|');
        assert_non_null(line);
        line++;
    }
    copy_trimmed(out, room, line, strcspn(line, "|"));
}

static void read_line(struct symbols *symbols, const char *line, char member[64]) {
    if (strncmp(line, "Symbols from ", 13) == 0) {
        const char *open = strchr(line, '[');
        const char *name = open != NULL ? open + 1 : line + 13;
        copy_trimmed(member, 64, name, strcspn(name, "]:"));
        return;
    }
    if (strchr(line, '|') == NULL)
        return;
    assert_true(symbols->count < SYMBOLS_MAX);
    struct symbol *symbol = &symbols->symbol[symbols->count++];
    char type[32];
    copy_column(symbol->name, sizeof symbol->name, line, 0);
    copy_column(type, sizeof type, line, 3);
    copy_column(symbol->section, sizeof symbol->section, line, 6);
    memcpy(symbol->member, member, 64);
    symbol->is_object =
        strcmp(type, "OBJECT") == 0 || strcmp(type, "TLS") == 0 || strcmp(type, "COMMON") == 0;
}

/* `files`: below the build folder, blank between them. */
static void read_symbols(const char *files, struct symbols *symbols) {
    const char *build = getenv("BUILD");
    char command[1024], line[1024], member[64] = "";
    snprintf(command, sizeof command, "cd '%s' && nm --format=sysv %s", build != NULL ? build : "build",
             files);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    symbols->count = 0;
    while (fgets(line, sizeof line, pipe) != NULL)
        read_line(symbols, line, member);
    assert_int_equal(pclose(pipe), 0);
    assert_true(symbols->count > 0);
}

/* ---- judging
 * ------------------------------------------------------------------------------------------------ */

static bool is_wanted(const struct symbol *symbol) {
    return strcmp(symbol->section, "*UND*") == 0;
}

static bool is_defined_in(const struct symbols *symbols, const char *name) {
    for (int i = 0; i < symbols->count; i++)
        if (!is_wanted(&symbols->symbol[i]) && strcmp(symbols->symbol[i].name, name) == 0)
            return true;
    return false;
}

static bool is_allowed(const struct symbol *symbol) {
    for (size_t i = 0; i < sizeof allowed / sizeof allowed[0]; i++)
        if (strcmp(symbol->name, allowed[i]) == 0)
            return true;
    return strncmp(symbol->member, "turns", 5) == 0 && strncmp(symbol->name, "glp_", 4) == 0;
}

/* What a checker or profiler of the compiler adds when it is asked for (-fsanitize, --coverage). */
static bool is_of_instrumentation(const struct symbol *symbol) {
    static const char *const prefix[] = {"__asan_", "__ubsan_",     "__tsan_",
                                         "__gcov_", "__sanitizer_", "__llvm_"};
    for (size_t i = 0; i < sizeof prefix / sizeof prefix[0]; i++)
        if (strncmp(symbol->name, prefix[i], strlen(prefix[i])) == 0)
            return true;
    return false;
}

/* How many symbols the files ask for that they may not; the first of them in *first. */
static int forbidden(const struct symbols *symbols, const struct symbol **first) {
    int count = 0;
    for (int i = 0; i < symbols->count; i++) {
        const struct symbol *symbol = &symbols->symbol[i];
        if (!is_wanted(symbol) || is_allowed(symbol) || is_of_instrumentation(symbol) ||
            is_defined_in(symbols, symbol->name))
            continue;
        if (count++ == 0)
            *first = symbol;
    }
    return count;
}

/* Constants stand in .rodata, or in .data.rel.ro when they hold addresses (read-only once loaded). */
static bool is_writable(const struct symbol *symbol) {
    static const char *const constant[] = {".rodata", ".data.rel.ro"};
    if (!symbol->is_object || is_wanted(symbol) || is_of_instrumentation(symbol))
        return false;
    for (size_t i = 0; i < sizeof constant / sizeof constant[0]; i++)
        if (strncmp(symbol->section, constant[i], strlen(constant[i])) == 0)
            return false;
    return true;
}

static int writable(const struct symbols *symbols, const struct symbol **first) {
    int count = 0;
    for (int i = 0; i < symbols->count; i++)
        if (is_writable(&symbols->symbol[i]) && count++ == 0)
            *first = &symbols->symbol[i];
    return count;
}

/* ---- tests
 * -------------------------------------------------------------------------------------------------- */

static void the_core_asks_only_for_mathematics_memory_and_strings(void **state) {
    (void)state;
    const struct symbol *first = NULL;
    int count = forbidden(&core, &first);
    if (count > 0)
        fail_msg("%d symbols that core/ may not ask for; %s asks for %s", count, first->member, first->name);
}

static void the_core_keeps_nothing_that_can_be_written_to(void **state) {
    (void)state;
    const struct symbol *first = NULL;
    int count = writable(&core, &first);
    if (count > 0)
        fail_msg("%d writable objects in core/; %s has %s in %s", count, first->member, first->name,
                 first->section);
}

static void every_layer_of_the_core_is_looked_at(void **state) {
    (void)state;
    static const char *const one_of_each[] = {"status_name", "reference_et_day", "season_step", "call_make"};
    for (size_t i = 0; i < sizeof one_of_each / sizeof one_of_each[0]; i++)
        assert_true(is_defined_in(&core, one_of_each[i]));
}

static void a_layer_that_allocates_is_found_out(void **state) {
    (void)state;
    const struct symbol *first = NULL;
    read_symbols("lib/daemon_base.a", &outside);
    assert_true(forbidden(&outside, &first) > 0);
}

static void a_static_that_changes_is_found_out(void **state) {
    (void)state;
    /* This program itself keeps its tables in statics. */
    const struct symbol *first = NULL;
    read_symbols("tests/core/test_symbols.o", &outside);
    assert_true(writable(&outside, &first) >= 2);
}

static int read_core(void **state) {
    (void)state;
    read_symbols(CORE, &core);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_core_asks_only_for_mathematics_memory_and_strings),
        cmocka_unit_test(the_core_keeps_nothing_that_can_be_written_to),
        cmocka_unit_test(every_layer_of_the_core_is_looked_at),
        cmocka_unit_test(a_layer_that_allocates_is_found_out),
        cmocka_unit_test(a_static_that_changes_is_found_out),
    };
    return cmocka_run_group_tests(tests, read_core, NULL);
}

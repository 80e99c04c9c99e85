#include "daemon/farm/quantity.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Longest number that is read; none needs more digits. */
#define NUMBER_SIZE 64

static const struct {
    const char *noun, *example;
    const char *core; /* symbol of the unit of core/; "": none */
    bool bare;        /* a bare number is understood */
} kinds[QUANTITY_KIND_COUNT] = {
    [QUANTITY_NUMBER] = {"a number", "0.65", "", true},
    [QUANTITY_DEPTH] = {"a depth of water with its unit", "25 mm", "mm", false},
    [QUANTITY_LENGTH] = {"a length with its unit", "1.2 m", "m", false},
    [QUANTITY_AREA] = {"an area with its unit", "52 ha", "m2", false},
    [QUANTITY_VOLUME] = {"a volume with its unit", "1200 m3", "m3", false},
    [QUANTITY_FLOW] = {"a flow with its unit", "180 m3/h", "m3/h", false},
    [QUANTITY_RATE] = {"a rate with its unit", "12 mm/h", "mm/h", false},
    [QUANTITY_HOURS] = {"a time", "20 h", "h", true},
    [QUANTITY_TEMPERATURE] = {"a temperature with its unit", "10 C", "C", false},
    [QUANTITY_DIFFERENCE] = {"a difference of temperature with its unit", "2 C", "C", false},
    [QUANTITY_CONDUCTIVITY] = {"a conductivity with its unit", "2 dS/m", "dS/m", false},
    [QUANTITY_SPEED] = {"a speed with its unit", "2 m/s", "m/s", false},
    [QUANTITY_SHARE] = {"a share", "85 %", "1", true},
    [QUANTITY_PERCENT] = {"a share", "62 %", "%", true},
    [QUANTITY_PER_AREA] = {"an amount per hectare, or with its area", "40 /ac", "ha", true},
    [QUANTITY_PER_VOLUME] = {"an amount per m3, or with its volume", "12 /ac-in", "m3", true},
};

void quantity_expected(enum quantity_kind kind, char *expected) {
    const char *quote = kind == QUANTITY_NUMBER ? "" : "\"";
    (void)snprintf(expected, QUANTITY_WORDS_SIZE, "%s, as %s%s%s", kinds[kind].noun, quote,
                   kinds[kind].example, quote);
}

static const struct unit *core_unit(enum quantity_kind kind) {
    return units_find(kinds[kind].core);
}

static bool is_per(enum quantity_kind kind) {
    return kind == QUANTITY_PER_AREA || kind == QUANTITY_PER_VOLUME;
}

const char *quantity_sign(enum quantity_kind kind) {
    return is_per(kind) ? "/" : "";
}

/* From a written unit to the unit of core/, or back. What is for each of a unit is the less, the smaller that
 * is. */
static double convert(double value, enum quantity_kind kind, const struct unit *from, const struct unit *to) {
    if (kind == QUANTITY_DIFFERENCE)
        return from == to ? value : units_difference_from_si(units_difference_to_si(value, from), to);
    return is_per(kind) ? units_convert(value, to, from) : units_convert(value, from, to);
}

double quantity_in(double value, enum quantity_kind kind, const struct unit *unit) {
    return convert(value, kind, core_unit(kind), unit);
}

static size_t digits(const char *text) {
    return strspn(text, "0123456789");
}

/* Bytes of the number at `text`: sign, digits with a point among them, exponent; 0 when there is none. */
static size_t number_size(const char *text) {
    size_t at = *text == '-' || *text == '+' ? 1 : 0;
    size_t whole = digits(text + at), part = 0;
    at += whole;
    if (text[at] == '.') {
        part = digits(text + at + 1);
        at += 1 + part;
    }
    if (whole + part == 0)
        return 0;
    if (text[at] == 'e' || text[at] == 'E') {
        size_t sign = text[at + 1] == '-' || text[at + 1] == '+' ? 1 : 0;
        size_t exponent = digits(text + at + 1 + sign);
        if (exponent > 0)
            at += 1 + sign + exponent;
    }
    return at;
}

/* Moves over blanks, the no-break spaces of word processors among them. */
static const char *pass_blanks(const char *text) {
    static const char *const blank[] = {" ", "\t", "\xC2\xA0", "\xE2\x80\xAF"};
    for (size_t i = 0; i < sizeof blank / sizeof blank[0];) {
        size_t size = strlen(blank[i]);
        if (strncmp(text, blank[i], size) == 0) {
            text += size;
            i = 0;
        } else {
            i++;
        }
    }
    return text;
}

static enum status refuse(const char *words, char *expected) {
    (void)snprintf(expected, QUANTITY_WORDS_SIZE, "%s", words);
    return STATUS_REFUSED;
}

static enum status give(double number, enum quantity_kind kind, const struct unit *unit, struct quantity *out,
                        char *expected) {
    double value = unit != NULL ? convert(number, kind, unit, core_unit(kind)) : number;
    if (unit == NULL && kind == QUANTITY_PERCENT)
        value = units_convert(number, units_find("1"), core_unit(kind));
    if (!isfinite(value))
        return refuse("a number below 1.8e308", expected);
    *out = (struct quantity){value, unit};
    return STATUS_OK;
}

enum status quantity_of_number(double number, enum quantity_kind kind, struct quantity *out, char *expected) {
    if (!kinds[kind].bare) {
        quantity_expected(kind, expected);
        return STATUS_REFUSED;
    }
    return give(number, kind, NULL, out, expected);
}

enum status quantity_read(const char *text, enum quantity_kind kind, struct quantity *out, char *expected) {
    char number[NUMBER_SIZE];
    text = pass_blanks(text);
    size_t size = number_size(text);
    quantity_expected(kind, expected);
    if (size == 0 || size >= sizeof number)
        return STATUS_REFUSED;
    if (text[size] == ',')
        return refuse("a number without a comma: 1.5 for one and a half, 1500 for fifteen hundred", expected);
    memcpy(number, text, size);
    number[size] = '\0';
    double value = strtod(number, NULL);
    const char *symbol = pass_blanks(text + size);
    if (*symbol == '\0')
        return quantity_of_number(value, kind, out, expected);
    const char *sign = quantity_sign(kind);
    if (strncmp(symbol, sign, strlen(sign)) != 0)
        return STATUS_REFUSED;
    const struct unit *unit = units_find(symbol + strlen(sign)), *core = core_unit(kind);
    if (unit == NULL || core == NULL || unit->kind != core->kind)
        return STATUS_REFUSED;
    return give(value, kind, unit, out, expected);
}

/* A limit in the unit that was written: "0.5 ha", "20 %", "0.2". */
static void say_limit(double limit, const struct quantity *quantity, enum quantity_kind kind, char *out,
                      size_t size) {
    const struct unit *unit = quantity->unit;
    if (unit != NULL)
        (void)snprintf(out, size, "%.6g %s%s", quantity_in(limit, kind, unit), quantity_sign(kind),
                       unit->symbol);
    else if (kind == QUANTITY_PERCENT)
        (void)snprintf(out, size, "%.6g", units_convert(limit, core_unit(kind), units_find("1")));
    else
        (void)snprintf(out, size, "%.6g", limit);
}

enum quantity_bound quantity_say_bounds(const struct quantity *quantity, enum quantity_kind kind,
                                        const struct quantity_limits *limits, struct quantity_bounds *out) {
    bool bare = quantity->unit == NULL && (kind == QUANTITY_SHARE || kind == QUANTITY_PERCENT);
    out->hint = bare ? ", or per cent as \"85 %\"" : "";
    say_limit(limits->min, quantity, kind, out->low, sizeof out->low);
    say_limit(limits->max, quantity, kind, out->high, sizeof out->high);
    if (isinf(limits->max))
        return limits->above ? QUANTITY_MORE : QUANTITY_LEAST;
    return limits->above ? QUANTITY_ABOVE : QUANTITY_RANGE;
}

enum status quantity_within(const struct quantity *quantity, enum quantity_kind kind,
                            const struct quantity_limits *limits, char *expected) {
    double value = quantity->value;
    bool enough = limits->above ? value > limits->min : value >= limits->min;
    struct quantity_bounds said;
    if (enough && value <= limits->max)
        return STATUS_OK;
    enum quantity_bound bound = quantity_say_bounds(quantity, kind, limits, &said);
    if (bound == QUANTITY_LEAST || bound == QUANTITY_MORE)
        (void)snprintf(expected, QUANTITY_WORDS_SIZE, bound == QUANTITY_MORE ? "more than %s" : "%s or more",
                       said.low);
    else
        (void)snprintf(expected, QUANTITY_WORDS_SIZE,
                       bound == QUANTITY_ABOVE ? "more than %s and at most %s%s" : "%s to %s%s", said.low,
                       said.high, said.hint);
    return STATUS_REFUSED;
}

/* The fewest digits, from 15 to 17, that give the same bits again. */
static void shortest(double value, char *out, size_t size) {
    for (int precision = 15; precision <= 17; precision++) {
        (void)snprintf(out, size, "%.*g", precision, value);
        if (strtod(out, NULL) == value)
            return;
    }
}

/* A share in per cent where that gives the same bits in no more digits than a bare number. */
static bool write_percent(double value, const char *plain, char *out) {
    const struct unit *percent = units_find("%");
    char digits_of[32];
    (void)snprintf(digits_of, sizeof digits_of, "%.6g", units_from_si(value, percent));
    if (units_to_si(strtod(digits_of, NULL), percent) != value || strchr(digits_of, 'e') != NULL ||
        strlen(digits_of) > strlen(plain))
        return false;
    (void)snprintf(out, QUANTITY_WORDS_SIZE, "%s %%", digits_of);
    return true;
}

void quantity_write(double value, enum quantity_kind kind, char *out, bool *bare) {
    char number[32];
    shortest(value, number, sizeof number);
    *bare = kind == QUANTITY_NUMBER || (kind == QUANTITY_SHARE && !write_percent(value, number, out));
    if (*bare)
        (void)snprintf(out, QUANTITY_WORDS_SIZE, "%s", number);
    else if (kind != QUANTITY_SHARE)
        (void)snprintf(out, QUANTITY_WORDS_SIZE, "%s %s", number, kinds[kind].core);
}

#include "core/base/units.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

static const char *const kind_name[UNIT_KIND_COUNT] = {
    "temperature", "length",    "area",     "volume", "flow", "speed",
    "pressure",    "radiation", "fraction", "time",   "rate", "electrical conductivity"};

#define INCH_MM        25.4
#define FOOT_M         0.3048
#define ACRE_M2        (43560.0 * FOOT_M * FOOT_M)
#define CUBIC_FOOT_M3  (FOOT_M * FOOT_M * FOOT_M)
#define GALLON_M3      (231.0 * 0.0254 * 0.0254 * 0.0254)
#define MERCURY_MM_KPA 0.133322387415

/* Per kind, the unit of core/ first. `spelling` holds all that is understood besides the symbol. */
static const struct {
    struct unit unit;
    const char *spelling; /* parted by '|' */
} table[] = {
    {{"°C", UNIT_TEMPERATURE, 1.0, 0.0}, "degc|c|celsius|deg_c|deg c"},
    {{"°F", UNIT_TEMPERATURE, 5.0 / 9.0, 32.0}, "degf|f|fahrenheit|deg_f|deg f"},
    {{"K", UNIT_TEMPERATURE, 1.0, 273.15}, "kelvin"},

    {{"mm", UNIT_LENGTH, 1.0, 0.0}, "millimetre|millimetres|millimeter|millimeters|kg/m2|kg m-2|l/m2"},
    {{"cm", UNIT_LENGTH, 10.0, 0.0}, "centimetre|centimetres|centimeter|centimeters"},
    {{"m", UNIT_LENGTH, 1000.0, 0.0}, "metre|metres|meter|meters"},
    {{"km", UNIT_LENGTH, 1e6, 0.0}, "kilometre|kilometres|kilometer|kilometers"},
    {{"in", UNIT_LENGTH, INCH_MM, 0.0}, "inch|inches|\""},
    {{"ft", UNIT_LENGTH, 304.8, 0.0}, "foot|feet|'"},
    {{"yd", UNIT_LENGTH, 914.4, 0.0}, "yard|yards"},
    {{"mi", UNIT_LENGTH, 1609344.0, 0.0}, "mile|miles"},

    {{"m2", UNIT_AREA, 1.0, 0.0}, "sq m|square metre|square metres|square meter|square meters"},
    {{"ha", UNIT_AREA, 1e4, 0.0}, "hectare|hectares"},
    {{"km2", UNIT_AREA, 1e6, 0.0}, "sq km"},
    {{"ac", UNIT_AREA, ACRE_M2, 0.0}, "acre|acres"},
    {{"ft2", UNIT_AREA, FOOT_M *FOOT_M, 0.0}, "sq ft|square foot|square feet"},

    {{"m3", UNIT_VOLUME, 1.0, 0.0}, "cubic metre|cubic metres|cubic meter|cubic meters|kl"},
    {{"L", UNIT_VOLUME, 0.001, 0.0}, "litre|litres|liter|liters"},
    {{"ML", UNIT_VOLUME, 1000.0, 0.0}, "megalitre|megalitres|megaliter|megaliters"},
    {{"ha-mm", UNIT_VOLUME, 10.0, 0.0}, "ha mm|hectare-millimetre"},
    {{"gal", UNIT_VOLUME, GALLON_M3, 0.0}, "gallon|gallons|us gal"},
    {{"Mgal", UNIT_VOLUME, 1e6 * GALLON_M3, 0.0}, "MG|million gallons"},
    {{"ft3", UNIT_VOLUME, CUBIC_FOOT_M3, 0.0}, "cf|cubic foot|cubic feet"},
    {{"ac-in", UNIT_VOLUME, ACRE_M2 * 0.0254, 0.0},
     "acre-in|ac in|acre in|acre-inch|acre-inches|acre inches|acin"},
    {{"ac-ft", UNIT_VOLUME, ACRE_M2 *FOOT_M, 0.0},
     "acre-ft|ac ft|acre ft|af|acft|acre-foot|acre-feet|acre feet|acre foot"},

    {{"m3/h", UNIT_FLOW, 1.0, 0.0}, "m3 h-1|m3/hr|m3/hour|cmh"},
    {{"m3/s", UNIT_FLOW, 3600.0, 0.0}, "m3 s-1|cumec|cumecs"},
    {{"m3/day", UNIT_FLOW, 1.0 / 24.0, 0.0}, "m3/d|m3 d-1"},
    {{"L/s", UNIT_FLOW, 3.6, 0.0}, "l s-1|lps|l/sec|litres per second|liters per second"},
    {{"L/min", UNIT_FLOW, 0.06, 0.0}, "l min-1|lpm"},
    {{"L/h", UNIT_FLOW, 0.001, 0.0}, "l h-1|lph|l/hr"},
    {{"ML/day", UNIT_FLOW, 1000.0 / 24.0, 0.0}, "ML/d"},
    {{"gal/min", UNIT_FLOW, 60.0 * GALLON_M3, 0.0}, "gpm|us gpm|gallons per minute"},
    {{"gal/h", UNIT_FLOW, GALLON_M3, 0.0}, "gph|gal/hr|gallons per hour"},
    {{"ft3/s", UNIT_FLOW, 3600.0 * CUBIC_FOOT_M3, 0.0}, "cfs|cusec|cusecs|second-feet|cubic feet per second"},
    {{"ac-in/h", UNIT_FLOW, ACRE_M2 * 0.0254, 0.0}, "ac-in/hr|acre-in/h|acre-in/hr|acre-inch/hour"},
    {{"ac-ft/day", UNIT_FLOW, ACRE_M2 *FOOT_M / 24.0, 0.0}, "ac-ft/d|acre-ft/day|acre-ft/d|af/day|af/d"},

    {{"m/s", UNIT_SPEED, 1.0, 0.0}, "m s-1|mps|m/sec|meter/second|metres per second|meters per second"},
    {{"km/h", UNIT_SPEED, 1.0 / 3.6, 0.0}, "km h-1|kmh|kph|kmph|km/hr"},
    {{"mi/h", UNIT_SPEED, 0.44704, 0.0}, "mph|mp/h|miles per hour"},
    {{"kn", UNIT_SPEED, 1852.0 / 3600.0, 0.0}, "kt|kts|knot|knots"},
    {{"ft/s", UNIT_SPEED, FOOT_M, 0.0}, "fps|ft s-1"},
    {{"km/day", UNIT_SPEED, 1.0 / 86.4, 0.0}, "km/d|km d-1"},
    {{"mi/day", UNIT_SPEED, 0.44704 / 24.0, 0.0}, "mi/d|miles per day"},

    {{"kPa", UNIT_PRESSURE, 1.0, 0.0}, "kilopascal|kilopascals"},
    {{"Pa", UNIT_PRESSURE, 0.001, 0.0}, "pascal|pascals"},
    {{"hPa", UNIT_PRESSURE, 0.1, 0.0}, "mbar|mb|mbars|millibar|millibars"},
    {{"MPa", UNIT_PRESSURE, 1000.0, 0.0}, "megapascal"},
    {{"bar", UNIT_PRESSURE, 100.0, 0.0}, "bars"},
    {{"inHg", UNIT_PRESSURE, INCH_MM *MERCURY_MM_KPA, 0.0}, "in hg|in_hg|inches of mercury"},
    {{"mmHg", UNIT_PRESSURE, MERCURY_MM_KPA, 0.0}, "mm hg|mm_hg|torr"},
    {{"psi", UNIT_PRESSURE, 6.894757293168, 0.0}, "lbf/in2"},
    {{"atm", UNIT_PRESSURE, 101.325, 0.0}, "atmosphere|atmospheres"},

    {{"MJ/m2/day", UNIT_RADIATION, 1.0, 0.0}, "MJ/m2/d|MJ/m2|MJ m-2|MJ m-2 day-1|MJ m-2 d-1|mj/m2|mj/m2/day"},
    {{"kJ/m2/day", UNIT_RADIATION, 0.001, 0.0}, "kj/m2|kj/m2/d|kj m-2|kj m-2 day-1"},
    {{"J/m2/day", UNIT_RADIATION, 1e-6, 0.0}, "j/m2|j m-2"},
    {{"J/cm2/day", UNIT_RADIATION, 0.01, 0.0}, "j/cm2|j cm-2"},
    {{"W/m2", UNIT_RADIATION, 0.0864, 0.0}, "w m-2|w/m**2|watt/m2|watts/m2"},
    {{"kWh/m2/day", UNIT_RADIATION, 3.6, 0.0}, "kwh/m2|kwh/m2/d|kw-hr/m2/day|kwh m-2|kw-hr/m2"},
    {{"Wh/m2/day", UNIT_RADIATION, 0.0036, 0.0}, "wh/m2|wh m-2"},
    {{"Ly/day", UNIT_RADIATION, 0.04184, 0.0},
     "ly|ly/d|langley|langleys|langley/day|cal/cm2|cal/cm2/day|cal/cm2/d|cal cm-2|cal cm-2 day-1"},

    {{"1", UNIT_FRACTION, 1.0, 0.0}, "fraction|m3/m3|m3 m-3|cm3/cm3|in/in|mm/mm"},
    {{"%", UNIT_FRACTION, 0.01, 0.0}, "percent|per cent|pct"},
    {{"mm/m", UNIT_FRACTION, 0.001, 0.0}, "mm per m|mm m-1"},
    {{"mm/cm", UNIT_FRACTION, 0.1, 0.0}, "mm per cm"},
    {{"in/ft", UNIT_FRACTION, 1.0 / 12.0, 0.0}, "inches per foot|inch/foot"},

    {{"h", UNIT_TIME, 1.0, 0.0}, "hr|hrs|hour|hours"},
    {{"min", UNIT_TIME, 1.0 / 60.0, 0.0}, "mins|minute|minutes"},
    {{"s", UNIT_TIME, 1.0 / 3600.0, 0.0}, "sec|second|seconds"},
    {{"d", UNIT_TIME, 24.0, 0.0}, "day|days"},

    {{"mm/h", UNIT_RATE, 1.0, 0.0}, "mm h-1|mm/hr|mm/hour"},
    {{"cm/h", UNIT_RATE, 10.0, 0.0}, "cm h-1|cm/hr"},
    {{"mm/day", UNIT_RATE, 1.0 / 24.0, 0.0}, "mm/d|mm d-1|mm day-1"},
    {{"in/h", UNIT_RATE, INCH_MM, 0.0}, "in/hr|iph|inches per hour|inch/hour"},
    {{"in/day", UNIT_RATE, INCH_MM / 24.0, 0.0}, "in/d|inches per day|inch/day"},

    {{"dS/m", UNIT_CONDUCTIVITY, 1.0, 0.0}, "ds m-1|ms/cm|ms cm-1|mmho/cm|mmhos/cm"},
    {{"uS/cm", UNIT_CONDUCTIVITY, 0.001, 0.0}, "µs/cm|μs/cm|us cm-1|umho/cm|umhos/cm"},
    {{"S/m", UNIT_CONDUCTIVITY, 10.0, 0.0}, "s m-1"},
};

#define TABLE_COUNT ((int)(sizeof table / sizeof table[0]))

/* Longer than any spelling: what does not fit is not a unit. */
#define SYMBOL_SIZE 40

static const struct {
    const char *typed, *plain;
} replacement[] = {{"°", ""},    {"²", "2"}, {"³", "3"}, {"⁻¹", "-1"}, {"⁻²", "-2"},
                   {"⁻³", "-3"}, {"·", " "}, {"−", "-"}, {"^", ""},    {"º", ""}};

static bool blank(char c) {
    return c == ' ' || c == '\t';
}

/* Copies a symbol without the blanks around it and in plain signs; false when it is empty or too long. */
static bool plain_symbol(const char *typed, char out[SYMBOL_SIZE]) {
    size_t used = 0;
    while (*typed != '\0') {
        if (used == 0 && blank(*typed)) {
            typed++;
            continue;
        }
        const char *put = typed;
        size_t taken = 1, put_size = 1;
        for (size_t i = 0; i < sizeof replacement / sizeof replacement[0]; i++) {
            size_t size = strlen(replacement[i].typed);
            if (strncmp(typed, replacement[i].typed, size) == 0) {
                put = replacement[i].plain;
                put_size = strlen(put);
                taken = size;
            }
        }
        if (used + put_size >= SYMBOL_SIZE)
            return false;
        memcpy(out + used, put, put_size);
        used += put_size;
        typed += taken;
    }
    while (used > 0 && blank(out[used - 1]))
        used--;
    out[used] = '\0';
    return used > 0;
}

static char lower(char c) {
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* Whether a symbol is the spelling of `size` bytes. A capital M in the spelling stands for mega and must be
 * typed as one: a farm's ML is not a laboratory's mL. */
static bool spelled(const char *symbol, const char *spelling, size_t size) {
    for (size_t i = 0; i < size; i++)
        if (spelling[i] == 'M' ? symbol[i] != 'M' : lower(symbol[i]) != lower(spelling[i]))
            return false;
    return symbol[size] == '\0';
}

static bool one_of(const char *symbol, const char *spellings) {
    for (const char *at = spellings;;) {
        size_t size = strcspn(at, "|");
        if (spelled(symbol, at, size))
            return true;
        if (at[size] == '\0')
            return false;
        at += size + 1;
    }
}

const struct unit *units_find(const char *symbol) {
    char plain[SYMBOL_SIZE], own[SYMBOL_SIZE];
    if (symbol == NULL)
        return NULL;
    /* Written as the table has it: most of a farm file is. */
    for (int i = 0; i < TABLE_COUNT; i++)
        if (table[i].unit.symbol[0] == symbol[0] && strcmp(table[i].unit.symbol, symbol) == 0)
            return &table[i].unit;
    if (!plain_symbol(symbol, plain))
        return NULL;
    for (int i = 0; i < TABLE_COUNT; i++) {
        (void)plain_symbol(table[i].unit.symbol, own);
        if (spelled(plain, own, strlen(own)) || one_of(plain, table[i].spelling))
            return &table[i].unit;
    }
    return NULL;
}

const struct unit *units_of_core(enum unit_kind kind) {
    for (int i = 0; i < TABLE_COUNT; i++)
        if (table[i].unit.kind == kind)
            return &table[i].unit;
    return NULL;
}

const char *units_kind_name(enum unit_kind kind) {
    return (unsigned)kind < UNIT_KIND_COUNT ? kind_name[kind] : NULL;
}

const struct unit *units_at(int index) {
    return index >= 0 && index < TABLE_COUNT ? &table[index].unit : NULL;
}

double units_to_si(double value, const struct unit *unit) {
    return unit == NULL ? (double)NAN : (value - unit->zero) * unit->factor;
}

double units_from_si(double si, const struct unit *unit) {
    return unit == NULL ? (double)NAN : si / unit->factor + unit->zero;
}

double units_difference_to_si(double value, const struct unit *unit) {
    return unit == NULL ? (double)NAN : value * unit->factor;
}

double units_difference_from_si(double si, const struct unit *unit) {
    return unit == NULL ? (double)NAN : si / unit->factor;
}

double units_convert(double value, const struct unit *from, const struct unit *to) {
    if (from == NULL || to == NULL || from->kind != to->kind)
        return (double)NAN;
    if (from == to)
        return value;
    return (value - from->zero) * (from->factor / to->factor) + to->zero;
}

double units_to_m(double value, const struct unit *unit) {
    return units_convert(value, unit, units_find("m"));
}

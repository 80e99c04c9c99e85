/* Units that people and files use, and the one that core/ uses for each kind of quantity. The only place
 * where units are converted.
 *
 * Factors are exact where the unit is defined exactly:
 *   international foot 0.3048 m, inch 25.4 mm, mile 1609.344 m, US gallon 231 in3 (NIST SP 811, Appendix B);
 *   acre = 43560 ft2 of the international foot; nautical mile 1852 m (the knot is one of them an hour);
 *   conventional millimetre of mercury 133.322387415 Pa (NIST SP 811);
 *   langley = thermochemical cal/cm2 = 41840 J/m2 (NIST SP 811; FAO-56 Table 3 takes 41868, 0.07 % more);
 *   pound-force per square inch 6894.757293168 Pa. */
#ifndef WATERTURN_UNITS_H
#define WATERTURN_UNITS_H

enum unit_kind {
    UNIT_TEMPERATURE,  /* degC */
    UNIT_LENGTH,       /* mm: depths of water. Heights and soil depths in m: units_to_m() */
    UNIT_AREA,         /* m2 */
    UNIT_VOLUME,       /* m3 */
    UNIT_FLOW,         /* m3/h */
    UNIT_SPEED,        /* m/s */
    UNIT_PRESSURE,     /* kPa */
    UNIT_RADIATION,    /* MJ m-2 day-1: sums are the sum of a day, W/m2 the mean of a day */
    UNIT_FRACTION,     /* 1: shares, and water contents in m3/m3 */
    UNIT_TIME,         /* h */
    UNIT_RATE,         /* mm/h: intake, application and rain rates */
    UNIT_CONDUCTIVITY, /* dS/m */
    UNIT_KIND_COUNT
};

struct unit {
    const char *symbol; /* the usual way to write it */
    enum unit_kind kind;
    double factor; /* size of one unit in the unit of core/ */
    double zero;   /* what this unit reads where the unit of core/ reads 0: 32 for degF, else 0 */
};

/* The unit of a symbol or of another common spelling of it ("gal/min", "gpm"). Blanks around it, degree
 * signs,
 * '^' and upper or lower case do not matter, except that a capital M for mega is needed ("ML"). Superscripts
 * may be written as such. NULL when it is unknown (or `symbol` is). */
const struct unit *units_find(const char *symbol);

/* The unit of core/ of a kind; NULL outside the enum. */
const struct unit *units_of_core(enum unit_kind kind);

/* "temperature", "area", ...; NULL outside the enum. */
const char *units_kind_name(enum unit_kind kind);

/* Every unit once, for lists that people choose from: the i-th from 0; NULL past the last. */
const struct unit *units_at(int index);

/* Any value, any unit from the functions above; NaN in gives NaN, and so does a NULL unit. */
double units_to_si(double value, const struct unit *unit);
double units_from_si(double si, const struct unit *unit);

/* A difference or an interval ("2 degF warmer"): the factor alone, without the zero. */
double units_difference_to_si(double value, const struct unit *unit);
double units_difference_from_si(double si, const struct unit *unit);

/* From one unit to another of its kind; NaN when the kinds differ. The same unit gives the same bits. */
double units_convert(double value, const struct unit *from, const struct unit *to);

/* A length in metres; NaN when the unit is not one of length. */
double units_to_m(double value, const struct unit *unit);

#endif

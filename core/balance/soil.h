/* The soil of a field: water held in layers, and the properties of its surface. */
#ifndef WATERTURN_SOIL_H
#define WATERTURN_SOIL_H

#include "core/base/inlined.h"
#include "core/base/status.h"

#define SOIL_LAYERS_MAX 8

/* Limits of what soil_check() takes. */
#define SOIL_DEPTH_MAX_M       20.0 /* deepest layer edge, and depth asked for */
#define SOIL_WATER_MAX         0.75 /* field capacity lies below it, m3/m3 */
#define SOIL_EVAPORATION_MIN_M 0.10 /* Ze: FAO-56 chapter 7 gives 0.10 to 0.15 m */
#define SOIL_EVAPORATION_MAX_M 0.15
#define SOIL_TEW_MAX_MM        112.5 /* eq. 73 with the limits above */

struct soil_layer {
    double bottom_m;             /* depth of the lower edge below the surface; layers are in order */
    double field_capacity_m3_m3; /* water content at field capacity, above wilting point, below 0.75 */
    double wilting_point_m3_m3;  /* water content at wilting point, 0 or more */
};

struct soil {
    int layer_count; /* 1..SOIL_LAYERS_MAX; the last one is taken to go on below its bottom */
    struct soil_layer layer[SOIL_LAYERS_MAX];
    double rew_mm;              /* readily evaporable water, eq. 74 and Table 19; 0 or more, below tew_mm */
    double tew_mm;              /* totally evaporable water, eq. 73; at most SOIL_TEW_MAX_MM */
    double evaporation_depth_m; /* Ze, 0.10..0.15 m */
    double curve_number;        /* CN II for runoff, 1..100; NaN: runoff is not computed */
    double intake_mm_h;         /* rate the surface takes in, above 0; NaN: not known */
};

/* The twelve texture classes of the USDA. */
enum soil_texture {
    TEXTURE_SAND,
    TEXTURE_LOAMY_SAND,
    TEXTURE_SANDY_LOAM,
    TEXTURE_LOAM,
    TEXTURE_SILT_LOAM,
    TEXTURE_SILT,
    TEXTURE_SANDY_CLAY_LOAM,
    TEXTURE_CLAY_LOAM,
    TEXTURE_SILTY_CLAY_LOAM,
    TEXTURE_SANDY_CLAY,
    TEXTURE_SILTY_CLAY,
    TEXTURE_CLAY,
    TEXTURE_COUNT
};

/* "sandy loam", ...; NULL outside the enum. */
const char *soil_texture_name(enum soil_texture texture);
/* The texture of a name (lower case, not NULL), or TEXTURE_COUNT. */
enum soil_texture soil_texture_of(const char *name);

/* USDA texture class of sand (2 .. 0.05 mm) and clay (below 0.002 mm), per cent by weight of the mineral
 * soil, each 0 or more, sum at most 100; silt is the rest. STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. Reference:
 * USDA Soil Survey Manual, the boundaries of the twelve texture classes. */
enum status soil_texture_class(double sand_pct, double clay_pct, enum soil_texture *texture);

/* What Saxton and Rawls (2006) give for sand, clay and organic matter (per cent by weight). */
struct soil_hydraulic {
    double wilting_point_m3_m3;  /* at 1500 kPa */
    double field_capacity_m3_m3; /* at 33 kPa */
    double saturation_m3_m3;
    double conductivity_mm_h; /* saturated */
};

/* Ranges: sand and clay 0 or more with sum at most 100, clay at most 60, organic matter 0..8, the range of
 * the samples behind the equations. STATUS_NOT_FINITE; STATUS_OUT_OF_RANGE also where the equations leave
 * what is possible (wilting point above 0, saturation above field capacity), as they do for pure sand and for
 * some mixtures at the edge of their range. Reference: K.E. Saxton and W.J. Rawls, Soil water characteristic
 * estimates by texture and organic matter for hydrologic solutions, Soil Sci. Soc. Am. J. 70, 2006, Table 1:
 * eqs 1, 2, 3, 5, 15, 16, 18 (numbers from memory). */
enum status soil_saxton_rawls(double sand_pct, double clay_pct, double organic_pct,
                              struct soil_hydraulic *out);

/* Totally evaporable water, mm: eq. 73, 1000 (FC - 0.5 WP) Ze. Arguments as soil_check() wants them; a NaN
 * comes back as NaN. */
double soil_tew_mm(double field_capacity_m3_m3, double wilting_point_m3_m3, double evaporation_depth_m);

/* Readily evaporable water, mm, when it was not measured. Our own rule: with TEW of 0.10 m as Table 19 has
 * it, half of TEW up to 16 mm, then a third of what exceeds 16 mm, and 10 mm from 22 mm on. For every row of
 * Table 19 that lies in the row's REW range over the row's whole TEW range. A NaN comes back as NaN. */
double soil_rew_mm(double field_capacity_m3_m3, double wilting_point_m3_m3);

/* One layer, with soil_tew_mm() and soil_rew_mm(); runoff and intake unset (NaN). Ranges and statuses are
 * those of soil_check(); on failure `soil` is unchanged. */
enum status soil_from_water(double field_capacity_m3_m3, double wilting_point_m3_m3,
                            double evaporation_depth_m, struct soil *soil);

/* STATUS_OK when the members are finite where they must be, ordered and inside their ranges (see the
 * members). STATUS_ORDER: layers out of order, field capacity not above wilting point, REW not below TEW. */
enum status soil_check(const struct soil *soil);

/* Total available water between two depths, mm: eq. 82 layer by layer. Depths in m, 0 <= top <= bottom <=
 * SOIL_DEPTH_MAX_M, and a soil that passed soil_check(); NaN outside. A root zone that grows from z1
 * to z2 gains soil_available_between_mm(soil, z1, z2). */
double soil_available_between_mm(const struct soil *soil, double top_m, double bottom_m);

/* soil_available_between_mm() of what is known to lie inside. */
INLINED double soil_available_inside_mm(const struct soil *soil, double top_m, double bottom_m) {
    const struct soil_layer *first = &soil->layer[0];
    if (soil->layer_count == 1)
        return 1000 * (first->field_capacity_m3_m3 - first->wilting_point_m3_m3) * (bottom_m - top_m);
    return soil_available_between_mm(soil, top_m, bottom_m);
}

/* Water content at field capacity (or wilting point) from the surface to a depth, mm; NaN outside
 * 0..SOIL_DEPTH_MAX_M. */
double soil_field_capacity_to_mm(const struct soil *soil, double bottom_m);
double soil_wilting_point_to_mm(const struct soil *soil, double bottom_m);

#endif

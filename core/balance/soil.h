/* The soil of a field: water held in layers, and the properties of its surface. */
#ifndef WATERTURN_SOIL_H
#define WATERTURN_SOIL_H

#include "core/base/status.h"

#define SOIL_LAYERS_MAX 8

struct soil_layer {
    double bottom_m;               /* depth of the lower edge below the surface; layers are in order */
    double field_capacity_m3_m3;   /* water content at field capacity, above wilting point, below 0.75 */
    double wilting_point_m3_m3;    /* water content at wilting point, 0 or more */
};

struct soil {
    int layer_count; /* 1..SOIL_LAYERS_MAX; the last one is taken to go on below its bottom */
    struct soil_layer layer[SOIL_LAYERS_MAX];
    double rew_mm;              /* readily evaporable water, eq. 74 and Table 19 */
    double tew_mm;              /* totally evaporable water, eq. 73 */
    double evaporation_depth_m; /* Ze, 0.10..0.15 m */
    double curve_number;        /* CN II for runoff, 1..100; NaN: runoff is not computed */
    double intake_mm_h;         /* rate the surface takes in; NaN: not known */
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
/* The texture of a name (lower case), or TEXTURE_COUNT. */
enum soil_texture soil_texture_of(const char *name);
/* USDA texture class of sand and clay, per cent by weight, sum at most 100. */
enum status soil_texture_class(double sand_pct, double clay_pct, enum soil_texture *texture);

/* What Saxton and Rawls (2006) give for sand, clay and organic matter (per cent by weight). Ranges: sand and
 * clay 0..100 with sum at most 100, clay at most 60, organic matter 0..8. */
struct soil_hydraulic {
    double wilting_point_m3_m3;  /* at 1500 kPa */
    double field_capacity_m3_m3; /* at 33 kPa */
    double saturation_m3_m3;
    double conductivity_mm_h;    /* saturated */
};
enum status soil_saxton_rawls(double sand_pct, double clay_pct, double organic_pct, struct soil_hydraulic *out);

/* One layer, soil evaporation from eq. 73 with `evaporation_depth_m`, and REW estimated within Table 19's range.
 * runoff and intake unset (NaN). */
enum status soil_from_water(double field_capacity_m3_m3, double wilting_point_m3_m3, double evaporation_depth_m,
                            struct soil *soil);

/* STATUS_OK when the members are finite where they must be, ordered and inside their ranges. */
enum status soil_check(const struct soil *soil);

/* Total available water between two depths, mm; depths in m, 0 <= top <= bottom. Eq. 82 in layers. */
double soil_available_between_mm(const struct soil *soil, double top_m, double bottom_m);

/* Water content in mm at field capacity (or wilting point) from the surface to a depth. */
double soil_field_capacity_to_mm(const struct soil *soil, double bottom_m);
double soil_wilting_point_to_mm(const struct soil *soil, double bottom_m);

#endif

#include "core/balance/soil.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "core/base/extreme.h"

static const char *const texture_name[TEXTURE_COUNT] = {
    [TEXTURE_SAND] = "sand",
    [TEXTURE_LOAMY_SAND] = "loamy sand",
    [TEXTURE_SANDY_LOAM] = "sandy loam",
    [TEXTURE_LOAM] = "loam",
    [TEXTURE_SILT_LOAM] = "silt loam",
    [TEXTURE_SILT] = "silt",
    [TEXTURE_SANDY_CLAY_LOAM] = "sandy clay loam",
    [TEXTURE_CLAY_LOAM] = "clay loam",
    [TEXTURE_SILTY_CLAY_LOAM] = "silty clay loam",
    [TEXTURE_SANDY_CLAY] = "sandy clay",
    [TEXTURE_SILTY_CLAY] = "silty clay",
    [TEXTURE_CLAY] = "clay",
};

const char *soil_texture_name(enum soil_texture texture) {
    /* An enum may be signed or not: one comparison catches both sides. */
    return (unsigned)texture < TEXTURE_COUNT ? texture_name[texture] : NULL;
}

enum soil_texture soil_texture_of(const char *name) {
    int texture = 0;
    while (texture < TEXTURE_COUNT && strcmp(name, texture_name[texture]) != 0)
        texture++;
    return (enum soil_texture)texture;
}

/* Sand and clay, per cent, as fractions of one whole. */
static enum status check_fractions(double sand_pct, double clay_pct) {
    if (!isfinite(sand_pct) || !isfinite(clay_pct))
        return STATUS_NOT_FINITE;
    if (sand_pct < 0 || clay_pct < 0 || sand_pct + clay_pct > 100)
        return STATUS_OUT_OF_RANGE;
    return STATUS_OK;
}

/* Classes with 27 % clay or more. */
static enum soil_texture heavy_class(double sand, double silt, double clay) {
    if (sand > 45)
        return clay >= 35 ? TEXTURE_SANDY_CLAY : TEXTURE_SANDY_CLAY_LOAM;
    if (clay >= 40)
        return silt >= 40 ? TEXTURE_SILTY_CLAY : TEXTURE_CLAY;
    return sand > 20 ? TEXTURE_CLAY_LOAM : TEXTURE_SILTY_CLAY_LOAM;
}

/* Classes with less than 27 % clay. */
static enum soil_texture light_class(double sand, double silt, double clay) {
    if (silt + 1.5 * clay < 15)
        return TEXTURE_SAND;
    if (silt + 2 * clay < 30)
        return TEXTURE_LOAMY_SAND;
    if (silt >= 50)
        return silt >= 80 && clay < 12 ? TEXTURE_SILT : TEXTURE_SILT_LOAM;
    if (clay >= 20)
        return silt < 28 ? TEXTURE_SANDY_CLAY_LOAM : TEXTURE_LOAM;
    return clay < 7 || sand > 52 ? TEXTURE_SANDY_LOAM : TEXTURE_LOAM;
}

enum status soil_texture_class(double sand_pct, double clay_pct, enum soil_texture *texture) {
    enum status status = check_fractions(sand_pct, clay_pct);
    if (status != STATUS_OK)
        return status;
    double silt_pct = 100 - sand_pct - clay_pct;
    *texture = clay_pct >= 27 ? heavy_class(sand_pct, silt_pct, clay_pct)
                              : light_class(sand_pct, silt_pct, clay_pct);
    return STATUS_OK;
}

enum status soil_saxton_rawls(double sand_pct, double clay_pct, double organic_pct,
                              struct soil_hydraulic *out) {
    enum status status = check_fractions(sand_pct, clay_pct);
    if (status != STATUS_OK)
        return status;
    if (!isfinite(organic_pct))
        return STATUS_NOT_FINITE;
    if (clay_pct > 60 || organic_pct < 0 || organic_pct > 8)
        return STATUS_OUT_OF_RANGE;
    double s = sand_pct / 100, c = clay_pct / 100, om = organic_pct;

    /* Eq. 1: 1500 kPa */
    double t = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031;
    double wilting = t + (0.14 * t - 0.02);
    /* Eq. 2: 33 kPa */
    t = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299;
    double capacity = t + (1.283 * t * t - 0.374 * t - 0.015);
    /* Eq. 3: between saturation and 33 kPa; eq. 5: saturation */
    t = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078;
    double above_capacity = t + (0.636 * t - 0.107);
    double saturation = capacity + above_capacity - 0.097 * s + 0.043;
    /* Over the whole range field capacity is at least 0.03 above wilting point. */
    if (wilting <= 0 || capacity >= saturation)
        return STATUS_OUT_OF_RANGE;

    /* Eqs 15, 16 and 18 */
    double b = (log(1500) - log(33)) / (log(capacity) - log(wilting));
    out->wilting_point_m3_m3 = wilting;
    out->field_capacity_m3_m3 = capacity;
    out->saturation_m3_m3 = saturation;
    out->conductivity_mm_h = 1930 * pow(saturation - capacity, 3 - 1 / b);
    return STATUS_OK;
}

/* Water contents of one layer, and the depth of its lower edge. */
static enum status check_layer(const struct soil_layer *layer) {
    double fc = layer->field_capacity_m3_m3, wp = layer->wilting_point_m3_m3;
    if (!isfinite(layer->bottom_m) || !isfinite(fc) || !isfinite(wp))
        return STATUS_NOT_FINITE;
    if (layer->bottom_m <= 0 || layer->bottom_m > SOIL_DEPTH_MAX_M || wp < 0 || fc >= SOIL_WATER_MAX)
        return STATUS_OUT_OF_RANGE;
    return fc > wp ? STATUS_OK : STATUS_ORDER;
}

static enum status check_surface(const struct soil *soil) {
    if (!isfinite(soil->rew_mm) || !isfinite(soil->tew_mm) || !isfinite(soil->evaporation_depth_m) ||
        isinf(soil->curve_number) || isinf(soil->intake_mm_h))
        return STATUS_NOT_FINITE;
    if (soil->evaporation_depth_m < SOIL_EVAPORATION_MIN_M ||
        soil->evaporation_depth_m > SOIL_EVAPORATION_MAX_M || soil->rew_mm < 0 ||
        soil->tew_mm > SOIL_TEW_MAX_MM)
        return STATUS_OUT_OF_RANGE;
    if (soil->curve_number < 1 || soil->curve_number > 100 || soil->intake_mm_h <= 0)
        return STATUS_OUT_OF_RANGE;
    return soil->rew_mm < soil->tew_mm ? STATUS_OK : STATUS_ORDER;
}

enum status soil_check(const struct soil *soil) {
    if (soil->layer_count < 1 || soil->layer_count > SOIL_LAYERS_MAX)
        return STATUS_OUT_OF_RANGE;
    double top_m = 0;
    for (int i = 0; i < soil->layer_count; i++) {
        enum status status = check_layer(&soil->layer[i]);
        if (status != STATUS_OK)
            return status;
        if (soil->layer[i].bottom_m <= top_m)
            return STATUS_ORDER;
        top_m = soil->layer[i].bottom_m;
    }
    return check_surface(soil);
}

double soil_tew_mm(double field_capacity_m3_m3, double wilting_point_m3_m3, double evaporation_depth_m) {
    return 1000 * (field_capacity_m3_m3 - 0.5 * wilting_point_m3_m3) * evaporation_depth_m;
}

double soil_rew_mm(double field_capacity_m3_m3, double wilting_point_m3_m3) {
    double tew_mm = soil_tew_mm(field_capacity_m3_m3, wilting_point_m3_m3, SOIL_EVAPORATION_MIN_M);
    if (tew_mm >= 22)
        return 10;
    return tew_mm > 16 ? 8 + (tew_mm - 16) / 3 : tew_mm / 2;
}

enum status soil_from_water(double field_capacity_m3_m3, double wilting_point_m3_m3,
                            double evaporation_depth_m, struct soil *soil) {
    struct soil made = {
        .layer_count = 1,
        .layer[0] = {1, field_capacity_m3_m3, wilting_point_m3_m3},
        .rew_mm = soil_rew_mm(field_capacity_m3_m3, wilting_point_m3_m3),
        .tew_mm = soil_tew_mm(field_capacity_m3_m3, wilting_point_m3_m3, evaporation_depth_m),
        .evaporation_depth_m = evaporation_depth_m,
        .curve_number = NAN,
        .intake_mm_h = NAN,
    };
    enum status status = soil_check(&made);
    if (status == STATUS_OK)
        *soil = made;
    return status;
}

/* What the layers hold between two depths, mm, where a layer's content is fc_share x field capacity +
 * wp_share x wilting point. */
static inline double between_mm(const struct soil *soil, double top_m, double bottom_m, double fc_share,
                                double wp_share) {
    if (soil->layer_count < 1 || soil->layer_count > SOIL_LAYERS_MAX)
        return NAN;
    if (!(top_m >= 0 && top_m <= bottom_m && bottom_m <= SOIL_DEPTH_MAX_M))
        return NAN;
    double held_mm = 0, from_m = top_m;
    const struct soil_layer *last = &soil->layer[soil->layer_count - 1];
    for (const struct soil_layer *layer = soil->layer; layer <= last; layer++) {
        double to_m = layer == last ? bottom_m : lesser_of(bottom_m, layer->bottom_m);
        if (to_m <= from_m)
            continue;
        double content = fc_share * layer->field_capacity_m3_m3 + wp_share * layer->wilting_point_m3_m3;
        held_mm += 1000 * content * (to_m - from_m);
        from_m = to_m;
    }
    return held_mm;
}

double soil_available_between_mm(const struct soil *soil, double top_m, double bottom_m) {
    return between_mm(soil, top_m, bottom_m, 1, -1);
}

double soil_field_capacity_to_mm(const struct soil *soil, double bottom_m) {
    return between_mm(soil, 0, bottom_m, 1, 0);
}

double soil_wilting_point_to_mm(const struct soil *soil, double bottom_m) {
    return between_mm(soil, 0, bottom_m, 0, 1);
}

#include "daemon/http/form_units.h"

static const struct form_option area_metric[] = {{"ha", NULL}, {"m2", "m²"}};
static const struct form_option area_us[] = {{"ac", NULL}, {"ft2", "ft²"}};
static const struct form_option flow_metric[] = {{"m3/h", "m³/h"}, {"L/s", NULL}, {"L/min", NULL}};
static const struct form_option flow_us[] = {{"gal/min", NULL}, {"ft3/s", "ft³/s"}, {"ac-in/h", NULL}};
static const struct form_option depth_metric[] = {{"mm", NULL}};
static const struct form_option depth_us[] = {{"in", NULL}};
static const struct form_option volume_metric[] = {{"m3", "m³"}, {"ML", NULL}};
static const struct form_option volume_us[] = {{"ac-ft", NULL}, {"ac-in", NULL}, {"gal", NULL}};
static const struct form_option meter_metric[] = {{"m3", "m³"}, {"ML", NULL}, {"L", NULL}};
static const struct form_option meter_us[] = {
    {"gal", NULL}, {"ac-in", NULL}, {"ac-ft", NULL}, {"ft3", "ft³"}};
static const struct form_option water_metric[] = {{"mm", NULL}, {"m3", "m³"}, {"h", NULL}};
static const struct form_option water_us[] = {{"in", NULL}, {"ac-in", NULL}, {"gal", NULL}, {"h", NULL}};
static const struct form_option hours[] = {{"h", NULL}};
static const struct form_option percent[] = {{"%", NULL}};
static const struct form_option per_area_metric[] = {{"/ha", NULL}};
static const struct form_option per_area_us[] = {{"/ac", NULL}};
static const struct form_option per_volume_metric[] = {{"/m3", "/m³"}};
static const struct form_option per_volume_us[] = {{"/ac-in", NULL}};

#define LIST(name) name, sizeof name / sizeof *name

void form_add_amount(struct form_page *page, const char *name, enum form_amount amount, bool us,
                     bool optional) {
    static const struct {
        const struct form_option *option;
        size_t count;
    } units[AMOUNT_COUNT][2] = {
        [AMOUNT_AREA] = {{LIST(area_metric)}, {LIST(area_us)}},
        [AMOUNT_FLOW] = {{LIST(flow_metric)}, {LIST(flow_us)}},
        [AMOUNT_DEPTH] = {{LIST(depth_metric)}, {LIST(depth_us)}},
        [AMOUNT_VOLUME] = {{LIST(volume_metric)}, {LIST(volume_us)}},
        [AMOUNT_METER] = {{LIST(meter_metric)}, {LIST(meter_us)}},
        [AMOUNT_WATER] = {{LIST(water_metric)}, {LIST(water_us)}},
        [AMOUNT_HOURS] = {{LIST(hours)}, {LIST(hours)}},
        [AMOUNT_PERCENT] = {{LIST(percent)}, {LIST(percent)}},
        [AMOUNT_PER_AREA] = {{LIST(per_area_metric)}, {LIST(per_area_us)}},
        [AMOUNT_PER_VOLUME] = {{LIST(per_volume_metric)}, {LIST(per_volume_us)}},
    };
    form_add(page, name, INPUT_NUMBER, units[amount][us].option, units[amount][us].count, optional);
}

/* From the net depth that the root zone needs to what is run in the field: gross depth, hours, passes. */
#ifndef WATERTURN_APPLICATION_H
#define WATERTURN_APPLICATION_H

#include <stdbool.h>

#include "core/base/status.h"

enum system_kind {
    SYSTEM_CENTRE_PIVOT,
    SYSTEM_LINEAR_MOVE,
    SYSTEM_DRIP,
    SYSTEM_MICRO_SPRINKLER,
    SYSTEM_SOLID_SET,
    SYSTEM_HAND_MOVED,
    SYSTEM_FURROW,
    SYSTEM_BORDER,
    SYSTEM_NONE, /* rainfed */
    SYSTEM_COUNT
};

struct system {
    enum system_kind kind;
    double efficiency;       /* net / gross, 0.2..1 */
    double area_m2;          /* irrigated area */
    double flow_m3_h;        /* delivered to the field; NaN: not known, hours cannot be given */
    double hours_per_day;    /* hours that it can run on a day, 0..24 */
    double net_min_mm, net_max_mm; /* smallest and largest net depth of one application; NaN: none */
    double wetted_fraction;  /* fw, Table 20 */
    bool under_canopy;
};

/* An application of a net depth. */
struct application {
    double net_mm, gross_mm;
    double volume_m3;
    double hours;    /* NaN when the flow is not known */
    double days;     /* hours over hours_per_day; NaN as above */
    bool limited;    /* net_mm was cut to net_max_mm: the rest needs another pass */
};

/* "centre pivot", ...; NULL outside the enum. */
const char *system_kind_name(enum system_kind kind);
enum system_kind system_kind_of(const char *name);

/* The usual efficiency and wetted fraction of a kind (efficiency: FAO Training Manual 4 / common practice as the
 * source block in the .c file says; fw: FAO-56 Table 20). area, flow unset (NaN). */
struct system system_default(enum system_kind kind);
enum status system_check(const struct system *system, const char **member);

/* net_mm >= 0. Below net_min_mm it is raised to net_min_mm; above net_max_mm it is cut and `limited` set. */
enum status application_plan(const struct system *system, double net_mm, struct application *out);

/* Gross depth, mm, of hours run at the system's flow; and of a volume. */
double application_gross_of_hours_mm(const struct system *system, double hours);
double application_gross_of_volume_mm(const struct system *system, double volume_m3);

#endif

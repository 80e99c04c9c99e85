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

/* The largest depth, net or gross, that any function here takes in one application, mm. */
#define APPLICATION_DEPTH_MAX_MM 2000.0

struct system {
    enum system_kind kind;
    double efficiency;    /* net / gross, 0.2..1 */
    double area_m2;       /* irrigated area, 1..1e10 */
    double flow_m3_h;     /* delivered to the field, 0.001..1e6; NaN: not known, hours cannot be given */
    double hours_per_day; /* hours that it can run on a day, 0..24 */
    double net_min_mm, net_max_mm; /* smallest (0..1000) and largest (0.1..1000) net depth of one application;
                                      NaN: none */
    double wetted_fraction;        /* fw, Table 20, 0.05..1 */
    bool under_canopy;
};

/* An application of a net depth. */
struct application {
    double net_mm, gross_mm;
    double volume_m3;
    double hours; /* NaN when the flow is not known */
    double days;  /* hours over hours_per_day; NaN as above, or when hours_per_day is 0 */
    bool limited; /* net_mm was cut to net_max_mm: the rest needs another pass */
};

/* "centre pivot", ...; NULL outside the enum. */
const char *system_kind_name(enum system_kind kind);
/* The kind of a name (lower case, not NULL), or SYSTEM_COUNT. */
enum system_kind system_kind_of(const char *name);

/* The usual efficiency and wetted fraction of a kind (efficiency: FAO Training Manual 4 / common practice as
 * the source block in the .c file says; fw: FAO-56 Table 20). area, flow and depth limits unset (NaN). A kind
 * outside the enum gives a system that system_check() refuses. */
struct system system_default(enum system_kind kind);

/* STATUS_OK when every member is inside its range; of SYSTEM_NONE only the kind is looked at. STATUS_MISSING:
 * a NaN in a member that may not be unset. STATUS_NOT_FINITE. STATUS_OUT_OF_RANGE. STATUS_ORDER: net_min_mm
 * above net_max_mm. The name of the member at fault (a static string) is written to `*member` when not NULL;
 * on success it is left alone. */
enum status system_check(const struct system *system, const char **member);

/* What to run for a net depth, 0..APPLICATION_DEPTH_MAX_MM. Below net_min_mm it is raised to net_min_mm (0
 * stays 0: there is nothing to run); above net_max_mm it is cut and `limited` set. Gross = net / efficiency.
 * STATUS_MISSING for SYSTEM_NONE, and all that system_check() returns. */
enum status application_plan(const struct system *system, double net_mm, struct application *out);

/* Gross depth, mm, of hours (0..10000) run at the system's flow; and of a volume (0..1e13 m3). NaN outside,
 * for a system that fails system_check(), for SYSTEM_NONE, and when the flow is needed and not known. */
double application_gross_of_hours_mm(const struct system *system, double hours);
double application_gross_of_volume_mm(const struct system *system, double volume_m3);

/* Net depth, mm, of a gross depth 0..APPLICATION_DEPTH_MAX_MM: gross x efficiency; NaN as above. */
double application_net_of_gross_mm(const struct system *system, double gross_mm);

/* One pass of a moving system. */
struct application_pass {
    double hours;     /* of the pass */
    double timer_pct; /* share of the time that the outer tower moves, the setting of the percent timer */
};

/* The pass that leaves a gross depth, mm, when a pass at the full speed takes `full_speed_hours` (0.1..1000):
 * the timer stands at 100 x depth at full speed / gross depth. STATUS_OUT_OF_RANGE for a depth that would
 * need more than 100 % (thinner than the full-speed pass) or less than 1 %. STATUS_MISSING: the flow is not
 * known, or there is no system. Common practice, no source: depth is inversely proportional to speed. */
enum status application_pivot_pass(const struct system *system, double full_speed_hours, double gross_mm,
                                   struct application_pass *out);

/* Mean rate, mm/h, at which a centre pivot waters a spot below it: 2 r Q / (R^2 w). Flow 0.001..1e6 m3/h,
 * length of the pivot R and width w wetted along the path 0.1..5000 m, distance r of the spot from the centre
 * 0..R. It follows from depth = Q T / (pi R^2) and contact time = w T / (2 pi r). STATUS_NOT_FINITE,
 * STATUS_OUT_OF_RANGE, STATUS_ORDER for r above R. */
enum status application_pivot_rate_mm_h(double flow_m3_h, double length_m, double distance_m,
                                        double wetted_width_m, double *rate_mm_h);

/* Hours that drip lines run for a gross depth over the whole field, 0..APPLICATION_DEPTH_MAX_MM: depth over
 * rate, rate mm/h = emitter flow / (emitter spacing x line spacing). Emitter flow 0.1..1000 l/h, spacings
 * 0.01..20 m. STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. Common practice: 1 l on 1 m2 is 1 mm. */
enum status application_drip_hours(double gross_mm, double emitter_l_h, double emitter_spacing_m,
                                   double line_spacing_m, double *hours);

/* The largest depth, mm, that goes on before water runs off: what the soil takes in while the surface storage
 * fills, storage x rate / (rate - intake). Intake and application rate above 0 to 10000 mm/h, surface storage
 * 0..1000 mm. `depth_mm` is NaN, no limit, when the soil takes in all that falls. The intake is taken as
 * steady, which is on the safe side: dry soil takes in more at first. Common practice, no source.
 * STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. */
enum status application_depth_before_runoff_mm(double intake_mm_h, double rate_mm_h, double storage_mm,
                                               double *depth_mm);

/* Net depth with the water that leaches salts: net / (1 - LR). Net 0..APPLICATION_DEPTH_MAX_MM, leaching
 * requirement LR 0 or more and below 1 (salinity_leaching_requirement()); a result above
 * APPLICATION_DEPTH_MAX_MM is STATUS_OUT_OF_RANGE. Reference: R.S. Ayers and D.W. Westcot, FAO-29, 1985, eq.
 * 7 (number from memory). */
enum status application_with_leaching_mm(double net_mm, double leaching_requirement, double *out_mm);

#endif

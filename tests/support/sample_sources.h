/* Invented states of weather sources for the tests of what people see: one of each kind, with hostile names.
 */
#ifndef WATERTURN_SAMPLE_SOURCES_H
#define WATERTURN_SAMPLE_SOURCES_H

#include "daemon/morning/source_report.h"

#define SAMPLE_SOURCES 5

/* Source `index`, 0..SAMPLE_SOURCES-1, as it stands on sample_today(). */
struct source_report sample_source(int index);

#endif

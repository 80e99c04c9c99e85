/* What several commands begin with. */
#ifndef WATERTURN_READ_FARM_H
#define WATERTURN_READ_FARM_H

#include "daemon/base/problem.h"
#include "daemon/farm/farm.h"

/* Reads and checks a farm file ("-": standard input), and puts the process into the farm's time zone. */
enum status read_farm(const char *path, struct farm *farm, struct problems *problems);

/* One line on standard output: what the farm holds. */
void print_farm_counts(const struct farm *farm);

#endif

/* The version that every output names. It changes with anything that may change a result. */
#ifndef WATERTURN_VERSION_H
#define WATERTURN_VERSION_H

#define WATERTURN_VERSION "0.1.0"

#endif

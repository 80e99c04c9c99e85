#include "core/base/status.h"

const char *status_name(enum status status) {
    switch (status) {
    case STATUS_OK:
        return "ok";
    case STATUS_NOT_FINITE:
        return "not a finite number";
    case STATUS_OUT_OF_RANGE:
        return "out of range";
    case STATUS_MISSING:
        return "missing";
    case STATUS_ORDER:
        return "contradiction";
    case STATUS_NO_ROOM:
        return "too large";
    case STATUS_USAGE:
        return "usage";
    case STATUS_REFUSED:
        return "refused";
    case STATUS_NOT_FOUND:
        return "not found";
    case STATUS_IO:
        return "input or output error";
    case STATUS_STORE:
        return "database error";
    case STATUS_BUSY:
        return "busy";
    case STATUS_NO_MEMORY:
        return "out of memory";
    }
    return "unknown status";
}

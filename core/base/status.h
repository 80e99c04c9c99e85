/* The one status type. A function that can fail returns one of these and writes its outputs last; the
 * reason in words (place, found, expected) travels beside it where the caller can use it. */
#ifndef WATERTURN_STATUS_H
#define WATERTURN_STATUS_H

enum status {
    STATUS_OK = 0,
    /* what core/ returns */
    STATUS_NOT_FINITE,   /* an argument is NaN or infinite where a number is needed */
    STATUS_OUT_OF_RANGE, /* an argument lies outside the range that its header block states */
    STATUS_MISSING,      /* a value that cannot be done without, or estimated, is absent */
    STATUS_ORDER,        /* two values contradict each other: tmin above tmax, dates reversed */
    STATUS_NO_ROOM,      /* the caller's storage is too small, or a stated limit is passed */
    /* what daemon/ adds */
    STATUS_USAGE,     /* the command line is wrong */
    STATUS_REFUSED,   /* outside input was judged and refused; nothing was changed */
    STATUS_NOT_FOUND, /* no such field, file, layout, ... */
    STATUS_IO,        /* the system refused a read, a write or a connection */
    STATUS_STORE,     /* the database refused */
    STATUS_BUSY,      /* another process holds what is needed */
    STATUS_NO_MEMORY
};

/* The name of a status, lower case words, e.g. "out of range". Never NULL. */
const char *status_name(enum status status);

#endif

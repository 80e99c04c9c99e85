/* Bodies of HTTP answers that are made while they are sent: slow, endless, cut short, packed. The readers
 * have the shape of libmicrohttpd's content readers. */
#ifndef WATERTURN_TEST_BODIES_H
#define WATERTURN_TEST_BODIES_H

#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

struct body {
    size_t size;
    size_t end; /* body_cut_short() stops here */
    unsigned char bytes[];
};

struct body *body_new(size_t size);
void body_free(void *body);
/* Lets the readers that wait come back at once: the server ends. */
void body_give_up(void);

ssize_t body_plainly(void *context, uint64_t at, char *out, size_t room);
/* A kilobyte every 20 ms. */
ssize_t body_slowly(void *context, uint64_t at, char *out, size_t room);
/* A few bytes, then nothing for a minute. */
ssize_t body_then_silence(void *context, uint64_t at, char *out, size_t room);
ssize_t body_without_end(void *context, uint64_t at, char *out, size_t room);
ssize_t body_cut_short(void *context, uint64_t at, char *out, size_t room);
/* gzip that unpacks to ten gigabytes of NUL bytes. */
ssize_t body_gzip_bomb(void *context, uint64_t at, char *out, size_t room);

/* The body as gzip with stored blocks (RFC 1951, 3.2.4; RFC 1952). NULL without memory. */
struct body *body_gzip_stored(const struct body *body);

#endif

#include "support/bodies.h"

#include <microhttpd.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static atomic_bool given_up;

struct body *body_new(size_t size) {
    struct body *body = calloc(1, sizeof *body + size);
    if (body != NULL)
        body->size = size;
    return body;
}

void body_free(void *body) {
    free(body);
}

void body_give_up(void) {
    atomic_store(&given_up, true);
}

static void pause_ms(long ms) {
    const struct timespec step = {0, 10 * 1000 * 1000};
    for (long waited = 0; waited < ms && !atomic_load(&given_up); waited += 10)
        (void)nanosleep(&step, NULL);
}

static ssize_t copy_part(const struct body *body, uint64_t at, char *out, size_t room) {
    if (at >= body->size)
        return MHD_CONTENT_READER_END_OF_STREAM;
    size_t left = body->size - (size_t)at;
    size_t count = left < room ? left : room;
    memcpy(out, body->bytes + at, count);
    return (ssize_t)count;
}

ssize_t body_plainly(void *context, uint64_t at, char *out, size_t room) {
    return copy_part(context, at, out, room);
}

ssize_t body_slowly(void *context, uint64_t at, char *out, size_t room) {
    pause_ms(20);
    return copy_part(context, at, out, room < 1024 ? room : 1024);
}

ssize_t body_then_silence(void *context, uint64_t at, char *out, size_t room) {
    (void)context;
    static const char start[] = "date,tmax_c,tmin_c\n";
    if (at == 0 && room >= sizeof start - 1) {
        memcpy(out, start, sizeof start - 1);
        return (ssize_t)(sizeof start - 1);
    }
    pause_ms(60000);
    return MHD_CONTENT_READER_END_WITH_ERROR;
}

ssize_t body_without_end(void *context, uint64_t at, char *out, size_t room) {
    (void)context;
    static const char row[] = "2021-06-01,28.0,14.0\n";
    size_t length = sizeof row - 1;
    for (size_t i = 0; i < room; i++)
        out[i] = row[(at + i) % length];
    return atomic_load(&given_up) ? MHD_CONTENT_READER_END_WITH_ERROR : (ssize_t)room;
}

ssize_t body_cut_short(void *context, uint64_t at, char *out, size_t room) {
    const struct body *body = context;
    if (at >= body->end)
        return MHD_CONTENT_READER_END_WITH_ERROR;
    size_t left = body->end - (size_t)at;
    return copy_part(body, at, out, left < room ? left : room);
}

/* Gzip. */

static const unsigned char gzip_head[10] = {0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255};

/* Bit `index` of one block of fixed Huffman codes (RFC 1951, 3.2.6): final block, type 1, the literal 0, then
 * the pair "length 258, distance 1" over and over. Huffman codes go first bit first: 285 is 11000101,
 * distance 1 is 00000, the literal 0 is 00110000. */
static int bomb_bit(uint64_t index) {
    static const char start[] = "11000110000";
    static const char pair[] = "1100010100000";
    uint64_t prefix = sizeof start - 1;
    char bit = index < prefix ? start[index] : pair[(index - prefix) % (sizeof pair - 1)];
    return bit == '1';
}

ssize_t body_gzip_bomb(void *context, uint64_t at, char *out, size_t room) {
    (void)context;
    if (at > (uint64_t)65 << 20 || atomic_load(&given_up))
        return MHD_CONTENT_READER_END_WITH_ERROR;
    for (size_t i = 0; i < room; i++) {
        uint64_t place = at + i;
        unsigned value = 0;
        if (place < sizeof gzip_head) {
            out[i] = (char)gzip_head[place];
            continue;
        }
        for (unsigned bit = 0; bit < 8; bit++)
            value |= (unsigned)bomb_bit((place - sizeof gzip_head) * 8 + bit) << bit;
        out[i] = (char)value;
    }
    return (ssize_t)room;
}

/* CRC-32 of RFC 1952, section 8, a bit at a time. */
static uint32_t crc32_of(const unsigned char *bytes, size_t size) {
    uint32_t crc = 0xffffffffU;
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ (0xedb88320U & (0U - (crc & 1U)));
    }
    return ~crc;
}

static unsigned char *put_low_first(unsigned char *out, uint32_t value, int count) {
    for (int i = 0; i < count; i++)
        *out++ = (unsigned char)(value >> (8 * i));
    return out;
}

struct body *body_gzip_stored(const struct body *body) {
    const size_t block = 65535;
    size_t blocks = body->size / block + 1;
    struct body *packed = body_new(sizeof gzip_head + blocks * 5 + body->size + 8);
    if (packed == NULL)
        return NULL;
    unsigned char *out = packed->bytes;
    memcpy(out, gzip_head, sizeof gzip_head);
    out += sizeof gzip_head;
    for (size_t i = 0; i < blocks; i++) {
        size_t left = body->size - i * block;
        size_t count = left < block ? left : block;
        *out++ = i + 1 == blocks;
        out = put_low_first(out, (uint32_t)count, 2);
        out = put_low_first(out, (uint32_t)~count & 0xffffU, 2);
        memcpy(out, body->bytes + i * block, count);
        out += count;
    }
    out = put_low_first(out, crc32_of(body->bytes, body->size), 4);
    (void)put_low_first(out, (uint32_t)body->size, 4);
    return packed;
}

/* The local web page. Knows no SQL. GET and HEAD, and POST for its forms.
 *
 *   /                        Today             /api/today
 *   /field/NAME              a field           /api/field/NAME
 *   /field/NAME/ledger       its ledger        /api/field/NAME/ledger   /field/NAME/ledger.csv
 *   /field/NAME/workings/DAY its workings      /api/field/NAME/workings/DAY
 *   /replay?field=...        seasons and what might have been   /api/replay   /replay.svg   .csv   .json
 *   /sources                 weather sources   /api/sources
 *   /hindsight               past calls        /api/hindsight
 *   /turns                   the board of turns   /api/turns   /turns.csv
 *   /turns/sheet             the crew's sheet
 *   /turns/supply/NAME.ics   calendars, of a field too; their addresses stand on /turns/feeds
 *   /style.css /icon.svg ... what pages need
 *
 * ?units=us|metric and ?lang=en|es are remembered in cookies. */
#ifndef WATERTURN_SERVER_H
#define WATERTURN_SERVER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"
#include "daemon/base/wall_clock.h"
#include "daemon/morning/hindsight.h"
#include "daemon/store/ledger_store.h"
#include "daemon/view/replay_page.h"
#include "daemon/view/view.h"

/* Where the data comes from. The functions are called from the server's own thread, one at a time. What they
 * hand out belongs to the server until it is released; on anything but STATUS_OK nothing is handed out. */
struct page_data;
struct turns_data;

struct server_data {
    void *context;
    /* The mornings of all fields, in the farm's order. `*mornings` may be NULL when `*count` is 0. */
    enum status (*mornings)(void *context, struct field_morning **mornings, size_t *count,
                            struct farm_facts *facts);
    /* What is left to know of one of them: its days past and ahead. NULL: mornings() tells all. */
    enum status (*fill)(void *context, struct field_morning *morning);
    /* The ledger of the planting that stands on a field, oldest row first; none when no day was reckoned yet.
     * STATUS_NOT_FOUND: no such field. */
    enum status (*ledger)(void *context, const char *field, struct ledger_row **rows, size_t *count);
    /* Takes back either list (NULL for the other). */
    void (*release)(void *context, struct field_morning *mornings, struct ledger_row *rows);
    /* What else is known of a field; STATUS_NOT_FOUND: no such field. What was handed out is taken back by
     * the second, which also takes zeroed facts. */
    enum status (*field)(void *context, const char *field, struct field_facts *facts);
    void (*field_release)(void *context, struct field_facts *facts);
    /* A day of a field, reckoned anew; STATUS_NOT_FOUND: there is no such day. NULL: there is no such page.
     */
    enum status (*workings)(void *context, const char *field, int32_t date, struct workings_facts *facts);
    /* The weather sources, a malloc'd array that the server frees; NULL: there is no such page. */
    enum status (*sources)(void *context, struct source_report **reports, size_t *count);
    /* Seasons beside what might have been; the settings of `wish` are put together, `replay` is zeroed, and
     * the server frees it with replay_free() whatever is returned. NULL: there is no such page. */
    enum status (*replay)(void *context, struct replay_wish *wish, struct replay *replay,
                          struct problems *problems);
    /* Past calls beside what came, freed with hindsight_free(); NULL: there is no such page. */
    enum status (*hindsight)(void *context, struct hindsight *out);
    /* What pages that only show are made from: a number that is another whenever another connection changed
     * the book, and the hour, with which turns begin and end. False: it cannot be told now. NULL: every page
     * is made anew. */
    bool (*state)(void *context, int64_t *book, int32_t *hour);
    /* The turns, and the moment at which they are looked at; `out` is freed with turns_data_free() whatever
     * is returned. NULL: there is no such page. */
    enum status (*turns)(void *context, struct turns_data *out, struct morning_time *now);
    /* What the forms read and write (page_data.h); NULL: the page has no forms. */
    struct page_data *book;
};

struct access;
struct metrics;

struct server_options {
    const char *listen; /* "127.0.0.1:8080", "[::1]:0"; port 0: any free one. NULL: SERVER_LISTEN_DEFAULT */
    const char *const *hosts; /* more names that the Host header may have, NULL after the last; may be NULL.
                                Must last as long as the server. */
    struct server_data data;
    struct access *access;         /* who may (access.h); NULL: everybody. Must last as long as the server. */
    struct metrics *metrics;       /* NULL: nothing is counted. As above. */
    const char *certificate, *key; /* of TLS, in PEM; NULL: plain HTTP. As above. */
    bool secure;                   /* people reach it by https: by that certificate, or through a proxy's */
    /* What `waterturn page` gets to make a page that computes much ("--db", FILE), NULL after the last. NULL:
     * such pages are made here. As above. */
    const char *const *apart;
    /* Told, with data.context, why a page could not be made; from the server's thread. May be NULL. */
    void (*report)(void *context, const char *message);
};

/* What the links to style sheet, scripts and pictures carry, so that browsers may keep them. */
#define SERVER_VERSION_SIZE 9
enum status server_assets_version(char out[SERVER_VERSION_SIZE]);

#define SERVER_LISTEN_DEFAULT "127.0.0.1:8080"

struct server;

/* STATUS_REFUSED: an option is wrong; STATUS_IO: the address cannot be had. Both say why in `problems`. */
enum status server_start(const struct server_options *options, struct server **out,
                         struct problems *problems);

/* The port that was taken. */
int server_port(const struct server *server);

/* Ends connections that take too long; every few seconds. */
void server_sweep(struct server *server);

/* For how long its thread has been standing at one request, milliseconds. */
int64_t server_standing_ms(const struct server *server);

/* Whether an address (as in server_options) is of this machine only. STATUS_REFUSED: it is none. */
enum status server_on_loopback(const char *listen, bool *on_loopback, struct problems *problems);

/* Waits for requests that are being answered. NULL is allowed. */
void server_stop(struct server *server);

#endif

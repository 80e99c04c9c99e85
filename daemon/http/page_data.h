/* From the database to what pages and `call` show. */
#ifndef WATERTURN_PAGE_DATA_H
#define WATERTURN_PAGE_DATA_H

#include "daemon/base/wall_clock.h"
#include "daemon/http/server.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/store/db.h"
#include "daemon/store/record_store.h"
#include "daemon/view/view.h"

/* Puts the process into the farm's time zone; before other threads start. STATUS_NOT_FOUND: the book is
 * empty. */
enum status use_farm_zone(struct db *db, struct problems *problems);

/* The farm as a whole: its name and habits, the newest morning, the sources that fail. `today` is the day on
 * which it is read, and is believed. */
enum status farm_facts_load(struct db *db, int32_t today, struct farm_facts *facts,
                            struct problems *problems);

/* How long a form waits while a morning is written, before it is handed back. */
#define PAGE_FORM_PATIENCE_MS 4000

/* What the server's functions work on: connections of their own, used by one thread at a time. */
struct page_data {
    struct db *db;
    int32_t today;                  /* a date given for now; CALENDAR_NONE: the wall clock's */
    struct db *writer;              /* for the forms; NULL: the book cannot be written */
    unsigned char key[SECRET_SIZE]; /* what the forms' tokens are made with */
    /* Asks for a morning's run at once, since a source or a planting is new; any thread may call it. May be
     * NULL. */
    void (*wake)(void);
    int64_t woken_ms; /* when somebody asked for one by its button, as wall_clock_running_ms(); 0: never */
    struct metrics *metrics; /* NULL: there is no /metrics */
    /* The sources that have a login or a key, NULL after the last: a page may not send those elsewhere by
     * another address. NULL: there are none. */
    char **with_login;
    const char *address; /* what links begin with, "https://farm.example"; NULL: as the page was asked for */
};

/* Reads the database's own key, or makes it. */
enum status page_data_key(struct page_data *data, struct problems *problems);

/* Now, as the pages count it. */
struct morning_time page_data_now(const struct page_data *data);

/* Whether that clock can be believed. A date that was given is meant. */
enum clock_judgement page_data_clock(const struct page_data *data, int32_t newest);

/* farm_facts_load() as of that clock. */
enum status page_data_facts(const struct page_data *data, struct farm_facts *facts,
                            struct problems *problems);

/* How many fields the farm has; 0 also when it cannot be told. `data` may be NULL. */
int page_data_fields(const struct page_data *data);

struct server_data page_data_functions(struct page_data *data);

#endif

/* One page, made as the daemon makes it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/command.h"
#include "daemon/commands/logins.h"
#include "daemon/commands/print_view.h"
#include "daemon/http/access.h"
#include "daemon/http/page_data.h"
#include "daemon/http/request.h"

#define FORM_BYTES_MAX ((size_t)256 << 10) /* percent-encoded */

/* "/replay?field=North" in its parts. */
static bool split_address(const char *address, char path[FARM_TEXT_SIZE], struct fill *query) {
    size_t size = strcspn(address, "?");
    if (address[0] != '/' || size >= FARM_TEXT_SIZE)
        return false;
    memcpy(path, address, size);
    path[size] = '\0';
    char *rest = strdup(address[size] == '?' ? address + size + 1 : "");
    bool whole = rest != NULL && request_read_fill(rest, query);
    free(rest);
    return whole;
}

/* A form as a browser sends it, from standard input. */
static enum status read_form(struct fill *form, struct problems *problems) {
    struct text body;
    char bytes[4096];
    size_t got;
    text_init(&body, FORM_BYTES_MAX);
    while ((got = fread(bytes, 1, sizeof bytes, stdin)) > 0)
        text_add(&body, bytes, got);
    bool whole = !text_failed(&body) && (body.size == 0 || request_read_fill(body.data, form));
    text_free(&body);
    if (whole)
        return STATUS_OK;
    problem_add(problems, NULL, 0, 0, "--form", "found a form that cannot be read, expected NAME=VALUE&...");
    return STATUS_REFUSED;
}

/* A morning is wanted at once: whoever started this run is told in the head. */
static bool wakes;

static void note_wake(void) {
    wakes = true;
}

static void print_reply(const struct reply *reply, bool head) {
    const struct asset *asset = reply->asset;
    if (head)
        printf("%u\n%s\n%s\n%s\n%s\n", reply->status, reply->type,
               reply->disposition != NULL ? reply->disposition : "", reply->location, wakes ? "wake" : "");
    (void)fwrite(asset != NULL ? (const char *)asset->bytes : text_string(&reply->body), 1,
                 asset != NULL ? asset->size : reply->body.size, stdout);
}

/* What the page wants to know of the one who asks. */
static enum status read_visitor(const struct options *options, struct request *request,
                                struct visitor *visitor, struct problems *problems) {
    bool us_units = false;
    const char *role = option_value(options, "--role"), *who = option_value(options, "--who");
    enum status status = option_units(options, false, &us_units, problems);
    if (option_value(options, "--units") != NULL)
        request->units = us_units ? UNITS_US : UNITS_METRIC;
    if (status == STATUS_OK && role != NULL) {
        visitor->role = access_role_named(role);
        (void)snprintf(visitor->name, sizeof visitor->name, "%s", who != NULL ? who : "");
        request->visitor = visitor;
        if (visitor->role == ACCESS_NOBODY) {
            problem_add(problems, NULL, 0, 0, "--role", "found %s, expected reader, operator or manager",
                        role);
            status = STATUS_USAGE;
        }
    }
    return status;
}

/* `refused`: why no page can be made, as in routes_refuse(); NULL: it can. */
static enum status answer(struct request *request, bool head, const char *refused,
                          struct problems *problems) {
    struct reply reply;
    reply_init(&reply);
    if (refused != NULL)
        routes_refuse(request, 500, refused, &reply);
    else
        routes_answer(request, &reply);
    for (size_t i = 0; i < reply.problems.kept; i++)
        (void)problem_copy(problems, &reply.problems.problem[i]);
    enum status status = reply.status == 200 || head ? STATUS_OK
                         : reply.status == 404       ? STATUS_NOT_FOUND
                                                     : STATUS_IO;
    if (status == STATUS_OK)
        print_reply(&reply, head);
    else
        problem_add(problems, NULL, 0, 0, request->path, "%s (HTTP status %u)",
                    reply.status == 404 ? "found no such page" : "the page could not be made", reply.status);
    reply_free(&reply);
    return status;
}

static enum status show(const struct options *options, struct page_data *data, struct fill *query,
                        struct fill *form, const char *refused, struct problems *problems) {
    struct visitor visitor = {.role = ACCESS_NOBODY};
    char path[FARM_TEXT_SIZE], version[SERVER_VERSION_SIZE];
    const char *language = option_value(options, "--language");
    const struct server_data functions = page_data_functions(data);
    struct words *words = language != NULL ? words_open(words_choose(language)) : view_words();
    struct request request = {
        .data = &functions, .path = path, .words = words, .version = version, .query = query, .form = form};
    enum status status = words != NULL ? server_assets_version(version) : STATUS_NO_MEMORY;
    if (status == STATUS_OK && !split_address(options->argument[0], path, query)) {
        problem_add(problems, NULL, 0, 0, NULL, "found %s, expected a page such as /api/today",
                    options->argument[0]);
        status = STATUS_USAGE;
    }
    if (status == STATUS_OK)
        status = read_visitor(options, &request, &visitor, problems);
    if (status == STATUS_OK)
        status = answer(&request, option_value(options, "--head") != NULL, refused, problems);
    words_close(words);
    return status;
}

/* What a form writes with: as the daemon has it. */
static enum status open_writer(const struct options *options, struct page_data *data,
                               struct problems *problems) {
    enum status status = option_open_db(options, DB_WRITE, &data->writer, problems);
    if (status != STATUS_OK)
        return status;
    db_patience(data->writer, PAGE_FORM_PATIENCE_MS);
    data->wake = note_wake;
    status = page_data_key(data, problems);
    if (status == STATUS_OK)
        status = logins_take(options, &data->with_login, problems);
    return status;
}

static enum status open_books(const struct options *options, struct page_data *data,
                              struct problems *problems) {
    enum status status = option_open_db(options, DB_READ, &data->db, problems);
    if (status == STATUS_OK) {
        /* An empty book has no zone yet. */
        static struct problems unheard;
        problems_init(&unheard);
        (void)use_farm_zone(data->db, &unheard);
        problems_free(&unheard);
    }
    if (status == STATUS_OK &&
        (option_value(options, "--form") != NULL || option_value(options, "--writable") != NULL))
        status = open_writer(options, data, problems);
    return status;
}

/* Of a book that cannot be opened the daemon still wants a page. NULL: there is none to show. */
static const char *refusal(const struct options *options, enum status opened) {
    if (option_value(options, "--head") == NULL)
        return NULL;
    return opened == STATUS_STORE || opened == STATUS_REFUSED ? "store" : opened == STATUS_IO ? "disk" : NULL;
}

static enum status run_page(const struct options *options, struct problems *problems) {
    struct page_data data = {.today = CALENDAR_NONE};
    struct morning_time morning = {.today = CALENDAR_NONE};
    struct fill query, form;
    bool posted = option_value(options, "--form") != NULL;
    fill_init(&query);
    fill_init(&form);
    enum status status = open_books(options, &data, problems);
    const char *refused = refusal(options, status);
    if (status == STATUS_OK || refused != NULL)
        status = option_today(options, &morning, problems);
    if (status == STATUS_OK && option_value(options, "--today") != NULL)
        data.today = morning.today;
    if (status == STATUS_OK && posted)
        status = read_form(&form, problems);
    if (status == STATUS_OK)
        status = show(options, &data, &query, posted ? &form : NULL, refused, problems);
    logins_free(data.with_login);
    db_close(data.writer);
    db_close(data.db);
    fill_free(&query);
    fill_free(&form);
    return status;
}

static const struct option_spec page_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    OPTION_CREDENTIALS,
    {"--language", "CODE", "en or es; else that of the environment"},
    {"--role", "ROLE", "as this visitor sees it: reader, operator, manager"},
    {"--who", "NAME", "whose device it is, for the notes of a form"},
    {"--form", NULL, "send the form on standard input (NAME=VALUE&...) to it"},
    {"--writable", NULL, "with the buttons and forms that change the book"},
    {"--head", NULL, "HTTP status, type, disposition, location, and whether a morning is wanted, before it"},
    OPTION_END};

const struct command command_page = {
    "page",
    "PATH",
    1,
    1,
    "print one page, or its JSON, as the daemon makes it",
    "PATH is what stands behind the address of the daemon: '/api/today', '/replay?field=North'. The daemon "
    "itself\nmakes pages that compute much by such a run beside it.",
    page_options,
    run_page};

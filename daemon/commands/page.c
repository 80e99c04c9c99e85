/* One page, made as the daemon makes it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/command.h"
#include "daemon/commands/on_db.h"
#include "daemon/http/access.h"
#include "daemon/http/page_data.h"
#include "daemon/http/request.h"

/* "/replay?field=North" in its parts. */
static bool split_address(const char *address, char path[FARM_TEXT_SIZE], struct fill *query) {
    size_t size = strcspn(address, "?");
    if (address[0] != '/' || size >= FARM_TEXT_SIZE)
        return false;
    memcpy(path, address, size);
    path[size] = '\0';
    char *rest = strdup(address[size] == '?' ? address + size + 1 : ""), *place = NULL;
    if (rest == NULL)
        return false;
    for (char *item = strtok_r(rest, "&", &place); item != NULL; item = strtok_r(NULL, "&", &place)) {
        char *equals = strchr(item, '=');
        if (equals == NULL)
            continue;
        *equals = '\0';
        request_add_query(query, item, equals + 1);
    }
    free(rest);
    return true;
}

static void print_reply(const struct reply *reply, bool head) {
    const struct asset *asset = reply->asset;
    if (head)
        printf("%u\n%s\n%s\n", reply->status, reply->type,
               reply->disposition != NULL ? reply->disposition : "");
    (void)fwrite(asset != NULL ? (const char *)asset->bytes : text_string(&reply->body), 1,
                 asset != NULL ? asset->size : reply->body.size, stdout);
}

/* What the page wants to know of the one who asks. */
static enum status read_visitor(const struct options *options, struct request *request,
                                struct visitor *visitor, struct problems *problems) {
    bool us_units = false;
    const char *role = option_value(options, "--role");
    enum status status = option_units(options, false, &us_units, problems);
    if (option_value(options, "--units") != NULL)
        request->units = us_units ? UNITS_US : UNITS_METRIC;
    if (status == STATUS_OK && role != NULL) {
        visitor->role = access_role_named(role);
        request->visitor = visitor;
        if (visitor->role == ACCESS_NOBODY) {
            problem_add(problems, NULL, 0, 0, "--role", "found %s, expected reader, operator or manager",
                        role);
            status = STATUS_USAGE;
        }
    }
    return status;
}

static enum status answer(struct request *request, bool head, struct problems *problems) {
    struct reply reply;
    reply_init(&reply);
    routes_answer(request, &reply);
    for (size_t i = 0; i < reply.problems.kept; i++)
        problem_add(problems, reply.problems.problem[i].file, 0, 0, reply.problems.problem[i].path, "%s",
                    reply.problems.problem[i].message);
    enum status status = reply.status == 200 || head ? STATUS_OK
                         : reply.status == 404       ? STATUS_NOT_FOUND
                                                     : STATUS_IO;
    if (status == STATUS_OK)
        print_reply(&reply, head);
    else
        problem_add(problems, NULL, 0, 0, request->path, "found no such page (HTTP status %u)", reply.status);
    reply_free(&reply);
    return status;
}

static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct morning_time morning;
    struct visitor visitor = {.role = ACCESS_NOBODY};
    struct page_data data = {.db = db, .today = CALENDAR_NONE};
    struct fill query;
    char path[FARM_TEXT_SIZE], version[SERVER_VERSION_SIZE];
    const char *language = option_value(options, "--language");
    enum status status = option_today(options, &morning, problems);
    if (status == STATUS_OK && option_value(options, "--today") != NULL)
        data.today = morning.today;
    const struct server_data functions = page_data_functions(&data);
    struct words *words = words_open(words_choose(language != NULL ? language : getenv("LANG")));
    struct request request = {
        .data = &functions, .path = path, .words = words, .version = version, .query = &query};
    fill_init(&query);
    if (status == STATUS_OK && !split_address(options->argument[0], path, &query)) {
        problem_add(problems, NULL, 0, 0, NULL, "found %s, expected a page such as /api/today",
                    options->argument[0]);
        status = STATUS_USAGE;
    }
    if (status == STATUS_OK)
        status = words != NULL ? server_assets_version(version) : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = read_visitor(options, &request, &visitor, problems);
    if (status == STATUS_OK)
        status = answer(&request, option_value(options, "--head") != NULL, problems);
    words_close(words);
    fill_free(&query);
    return status;
}

static enum status run_page(const struct options *options, struct problems *problems) {
    return on_db(options, DB_READ, show, problems);
}

static const struct option_spec page_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    {"--language", "CODE", "en or es; else that of $LANG"},
    {"--role", "ROLE", "as this visitor sees it: reader, operator, manager"},
    {"--head", NULL, "the HTTP status, the type and the disposition before it, a line each"},
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

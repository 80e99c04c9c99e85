/* Lets somebody in: a one-time link for a phone, or a token for a program. */
#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>

#include <sodium.h>

#include "daemon/commands/command.h"
#include "daemon/http/access.h"
#include "daemon/http/server.h"
#include "daemon/view/qr.h"

/* The address of this machine in its network, where the page listens on all of them. */
static bool machine_address(char *out, size_t size) {
    struct ifaddrs *list = NULL;
    bool found = false;
    if (getifaddrs(&list) != 0)
        return false;
    for (const struct ifaddrs *entry = list; entry != NULL && !found; entry = entry->ifa_next) {
        if (entry->ifa_addr == NULL || entry->ifa_addr->sa_family != AF_INET ||
            (entry->ifa_flags & IFF_LOOPBACK) != 0 || (entry->ifa_flags & IFF_UP) == 0)
            continue;
        const struct sockaddr_in *address = (const struct sockaddr_in *)(const void *)entry->ifa_addr;
        found = inet_ntop(AF_INET, &address->sin_addr, out, (socklen_t)size) != NULL;
    }
    freeifaddrs(list);
    return found;
}

/* What the link begins with: as told, as set, else where the page listens. */
static void link_address(const struct options *options, const struct settings *settings, struct text *out) {
    char machine[INET_ADDRSTRLEN];
    const char *told = option_value(options, "--address");
    const char *listen = settings->listen[0] != '\0' ? settings->listen : SERVER_LISTEN_DEFAULT;
    bool everywhere = strncmp(listen, "0.0.0.0:", 8) == 0 || strncmp(listen, "[::]:", 5) == 0;
    if (told != NULL)
        text_printf(out, "%.*s", (int)(strlen(told) - (told[strlen(told) - 1] == '/')), told);
    else if (settings->address[0] != '\0')
        text_puts(out, settings->address);
    else if (everywhere && machine_address(machine, sizeof machine))
        text_printf(out, "%s://%s%s", settings->certificate[0] != '\0' ? "https" : "http", machine,
                    strrchr(listen, ':'));
    else
        text_printf(out, "%s://%s", settings->certificate[0] != '\0' ? "https" : "http", listen);
}

static enum status give_link(const struct options *options, struct db *db, enum access_role role,
                             struct problems *problems) {
    struct settings settings;
    char code[ACCESS_CODE_SIZE];
    unsigned char hash[ACCESS_HASH_SIZE];
    double minutes = 0;
    int64_t now = wall_clock_now().at;
    enum status status = option_settings(options, &settings, problems);
    if (status == STATUS_OK)
        status =
            option_number(options, "--minutes", 1, 24 * 60, ACCESS_LINK_SECONDS / 60.0, &minutes, problems);
    if (status != STATUS_OK)
        return status;
    access_make_code(code, hash);
    status = access_store_invite(db, options->argument[0], role, hash, now, now + (int64_t)(minutes * 60),
                                 problems);
    if (status != STATUS_OK)
        return status;
    struct text link, picture;
    text_init(&link, 0);
    text_init(&picture, 0);
    link_address(options, &settings, &link);
    text_printf(&link, "/pair/%s", code);
    if (option_value(options, "--no-picture") == NULL && qr_add_lines(text_string(&link), &picture))
        fputs(text_string(&picture), stdout);
    printf("%s\nfor %s, as %s; it works once, for %g minutes\n", text_string(&link), options->argument[0],
           access_role_name(role), minutes);
    text_free(&picture);
    text_free(&link);
    return STATUS_OK;
}

static enum status give_token(const struct options *options, struct db *db, enum access_role role,
                              struct problems *problems) {
    char token[ACCESS_TOKEN_SIZE];
    unsigned char hash[ACCESS_HASH_SIZE];
    long long id = 0;
    access_make_token(token, hash);
    enum status status =
        access_store_add(db, options->argument[0], role, hash, wall_clock_now().at, &id, problems);
    if (status == STATUS_OK)
        printf("%s\n", token);
    sodium_memzero(token, sizeof token);
    return status;
}

static enum status run_pair(const struct options *options, struct problems *problems) {
    struct db *db = NULL;
    const char *name = options->argument[0], *word = option_value(options, "--role");
    enum access_role role = word != NULL ? access_role_named(word) : ACCESS_OPERATOR;
    if (role == ACCESS_NOBODY || name[0] == '\0' || strlen(name) >= FARM_NAME_SIZE || sodium_init() < 0) {
        problem_add(
            problems, NULL, 0, 0, NULL,
            "found %s for %s, expected --role reader, operator or manager, and a name of at most %d letters",
            word, name, FARM_NAME_SIZE - 1);
        return STATUS_USAGE;
    }
    enum status status = option_open_db(options, DB_WRITE, &db, problems);
    if (status == STATUS_OK)
        status = option_value(options, "--token") != NULL ? give_token(options, db, role, problems)
                                                          : give_link(options, db, role, problems);
    db_close(db);
    return status;
}

static const struct option_spec pair_options[] = {
    OPTION_DB,
    OPTION_CONFIG,
    {"--role", "ROLE", "reader: sees; operator: records too; manager: changes everything; else operator"},
    {"--address", "URL", "what the link begins with, as http://192.168.1.20:8080; else as the page listens"},
    {"--minutes", "N", "how long the link works; else 15"},
    {"--no-picture", NULL, "print the link only, without its QR code"},
    {"--token", NULL, "for a program: print a token for its header \"Authorization: Bearer TOKEN\""},
    OPTION_END};

const struct command command_pair = {"pair",
                                     "NAME",
                                     1,
                                     1,
                                     "let somebody in: a one-time link for a phone",
                                     "The phone that opens the link and taps the button holds a key from "
                                     "then on. From the first link on, everybody "
                                     "needs one.",
                                     pair_options,
                                     run_pair};

/* libcurl, loaded when something is to be downloaded or sent. It brings a third of the memory of the program
 * with it (its own libraries of TLS, Kerberos, LDAP, SSH), and the pages, which run for months, need none of
 * it: what needs it runs beside them and ends. */
#ifndef WATERTURN_LIBCURL_H
#define WATERTURN_LIBCURL_H

#include <curl/curl.h>

#include "daemon/base/problem.h"

/* Its functions without their "curl_". */
#define LIBCURL_FUNCTIONS(X)                                                                                 \
    X(easy_cleanup)                                                                                          \
    X(easy_getinfo)                                                                                          \
    X(easy_header)                                                                                           \
    X(easy_init)                                                                                             \
    X(easy_perform)                                                                                          \
    X(easy_setopt)                                                                                           \
    X(easy_strerror)                                                                                         \
    X(free)                                                                                                  \
    X(global_cleanup)                                                                                        \
    X(global_init)                                                                                           \
    X(mime_addpart)                                                                                          \
    X(mime_data)                                                                                             \
    X(mime_encoder)                                                                                          \
    X(mime_free)                                                                                             \
    X(mime_init)                                                                                             \
    X(mime_type)                                                                                             \
    X(multi_add_handle)                                                                                      \
    X(multi_cleanup)                                                                                         \
    X(multi_info_read)                                                                                       \
    X(multi_init)                                                                                            \
    X(multi_perform)                                                                                         \
    X(multi_poll)                                                                                            \
    X(multi_remove_handle)                                                                                   \
    X(multi_setopt)                                                                                          \
    X(slist_append)                                                                                          \
    X(slist_free_all)                                                                                        \
    X(url)                                                                                                   \
    X(url_cleanup)                                                                                           \
    X(url_get)                                                                                               \
    X(url_set)

#define LIBCURL_MEMBER(name) __typeof__(curl_##name) *name;
struct libcurl {
    LIBCURL_FUNCTIONS(LIBCURL_MEMBER)
};
#undef LIBCURL_MEMBER

/* Filled by libcurl_load(). */
extern struct libcurl libcurl;

/* Loads it once; it stays. STATUS_IO: it is not here, or too old. */
enum status libcurl_load(struct problems *problems);

#endif

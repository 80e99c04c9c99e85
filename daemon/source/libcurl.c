#include "daemon/source/libcurl.h"

#include <dlfcn.h>
#include <string.h>

/* Debian builds it with either library of TLS; both have the same interface. */
static const char *const names[] = {"libcurl.so.4", "libcurl-gnutls.so.4"};

struct libcurl libcurl;

static const struct {
    const char *name;
    size_t offset;
} functions[] = {
#define LIBCURL_ENTRY(name) {"curl_" #name, offsetof(struct libcurl, name)},
    LIBCURL_FUNCTIONS(LIBCURL_ENTRY)
#undef LIBCURL_ENTRY
};

enum status libcurl_load(struct problems *problems) {
    static void *library;
    for (size_t i = 0; library == NULL && i < sizeof names / sizeof *names; i++)
        library = dlopen(names[i], RTLD_NOW | RTLD_LOCAL);
    if (library == NULL) {
        problem_add(problems, NULL, 0, 0, "libcurl",
                    "found none (%s), expected %s: Debian's package libcurl4", dlerror(), names[0]);
        return STATUS_IO;
    }
    for (size_t i = 0; i < sizeof functions / sizeof *functions; i++) {
        void *function = dlsym(library, functions[i].name);
        if (function == NULL) {
            problem_add(problems, NULL, 0, 0, "libcurl", "found one without %s, expected 7.84 or newer",
                        functions[i].name);
            return STATUS_IO;
        }
        /* POSIX lets dlsym() give functions; ISO C has no cast for it. */
        memcpy((char *)&libcurl + functions[i].offset, &function, sizeof function);
    }
    return STATUS_OK;
}

/* Which of the layouts that ship fits a file: each is tried on the whole of it. */
#include <string.h>

#include "daemon/source/layout_rules.h"

/* A layout that reads the file comes before one that does not; then the one that understands more of it. */
static bool better(const struct layout_fit *fit, const struct layout_fit *than) {
    bool reads = fit->status == STATUS_OK, than_reads = than->status == STATUS_OK;
    if (reads != than_reads)
        return reads;
    return fit->values > than->values;
}

static enum status try_layout(const char *name, const char *where, const unsigned char *bytes, size_t size,
                              struct layout_fit *fit) {
    struct layout *layout = NULL;
    struct weather_days days;
    struct layout_counts counts = {0, 0};
    struct problems problems;
    problems_init(&problems);
    weather_days_init(&days);
    enum status status = layout_builtin(name, &layout, &problems);
    if (status == STATUS_OK)
        status = layout_read_counted(layout, where, bytes, size, &days, &counts, &problems);
    memset(fit, 0, sizeof *fit);
    memcpy(fit->name, name, strlen(name) + 1);
    fit->status = status;
    fit->days = counts.days;
    fit->values = counts.values;
    weather_days_free(&days);
    layout_free(layout);
    problems_free(&problems);
    return status == STATUS_NO_MEMORY ? status : STATUS_OK;
}

enum status layout_guess(const char *where, const unsigned char *bytes, size_t size, struct layout_fit *fit) {
    char name[LAYOUT_NAME_SIZE];
    struct layout_fit best = {.status = STATUS_NOT_FOUND};
    for (size_t i = 0; layout_builtin_name(i, name) != NULL; i++) {
        struct layout_fit one;
        if (try_layout(name, where, bytes, size, &one) != STATUS_OK)
            return STATUS_NO_MEMORY;
        if (one.values > 0 && better(&one, &best))
            best = one;
    }
    *fit = best;
    return best.values > 0 ? STATUS_OK : STATUS_NOT_FOUND;
}

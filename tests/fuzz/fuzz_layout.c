/* A layout file of any bytes; where it is one, a weather file is read by it. The weather follows a line
 * "====". */
#include <stdint.h>
#include <string.h>

#include "support/reader_check.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size) {
    static const char between[] = "\n====\n";
    const uint8_t *split = size > 0 ? memmem(bytes, size, between, sizeof between - 1) : NULL;
    size_t json_size = split != NULL ? (size_t)(split - bytes) : size;
    struct layout *layout = NULL;
    struct problems problems;
    problems_init(&problems);
    if (layout_parse("fuzz.json", (const char *)bytes, json_size, &layout, &problems) == STATUS_OK) {
        if (split != NULL)
            reader_check(layout, split + sizeof between - 1, size - json_size - (sizeof between - 1));
        layout_free(layout);
    }
    problems_free(&problems);
    return 0;
}

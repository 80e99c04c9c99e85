/* The reader of rows of columns under any bytes: the first byte chooses among the layouts of that kind that
 * ship. */
#include <stdint.h>

#include "support/reader_check.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size) {
    size_t count = 0;
    struct layout *const *layouts = reader_check_layouts(LAYOUT_COLUMNS, &count);
    if (size > 0 && count > 0)
        reader_check(layouts[bytes[0] % count], bytes + 1, size - 1);
    return 0;
}

#include "daemon/view/qr.h"

#include <qrencode.h>

#include "daemon/view/svg.h"

#define QUIET 4 /* modules around the code: ISO/IEC 18004, 6.3.8 */

static QRcode *encode(const char *content) {
    return QRcode_encodeString8bit(content, 0, QR_ECLEVEL_M);
}

static bool dark(const QRcode *code, int x, int y) {
    return x >= 0 && y >= 0 && x < code->width && y < code->width &&
           (code->data[y * code->width + x] & 1) != 0;
}

bool qr_add_lines(const char *content, struct text *out) {
    QRcode *code = encode(content);
    if (code == NULL)
        return false;
    for (int y = -QUIET; y < code->width + QUIET; y += 2) {
        text_puts(out, "\033[30;107m"); /* black on white */
        for (int x = -QUIET; x < code->width + QUIET; x++) {
            static const char *const blocks[] = {" ", "\xE2\x96\x80", "\xE2\x96\x84", "\xE2\x96\x88"};
            text_puts(out, blocks[(dark(code, x, y) ? 1 : 0) + (dark(code, x, y + 1) ? 2 : 0)]);
        }
        text_puts(out, "\033[0m\n");
    }
    QRcode_free(code);
    return !text_failed(out);
}

bool qr_add_svg(const char *content, const char *label, struct text *out) {
    QRcode *code = encode(content);
    if (code == NULL)
        return false;
    int size = code->width + 2 * QUIET;
    text_printf(out, "<svg class=\"qr\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"", size, size);
    svg_add_escaped(out, label);
    text_printf(out, "\"><path fill=\"#fff\" d=\"M0 0h%dv%dh-%dz\"/><path fill=\"#000\" d=\"", size, size,
                size);
    for (int y = 0; y < code->width; y++) {
        for (int x = 0; x < code->width; x++) {
            int run = 0;
            while (dark(code, x + run, y))
                run++;
            if (run > 0)
                text_printf(out, "M%d %dh%dv1h-%dz", x + QUIET, y + QUIET, run, run);
            x += run;
        }
    }
    text_puts(out, "\"/></svg>");
    QRcode_free(code);
    return !text_failed(out);
}

/* A text as a QR code, for the camera of a phone. */
#ifndef WATERTURN_QR_H
#define WATERTURN_QR_H

#include <stdbool.h>

#include "daemon/base/text.h"

/* Two rows of modules in each line, in half blocks (UTF-8), with the quiet zone; dark on light whatever the
 * colours of the terminal. False: the text is too long, or no memory. */
bool qr_add_lines(const char *content, struct text *out);

/* An <svg> element with the label as its name. */
bool qr_add_svg(const char *content, const char *label, struct text *out);

#endif

/* Inputs of amounts with the units that people choose among. */
#ifndef WATERTURN_FORM_UNITS_H
#define WATERTURN_FORM_UNITS_H

#include "daemon/view/book_form.h"

enum form_amount {
    AMOUNT_AREA,
    AMOUNT_FLOW,
    AMOUNT_DEPTH,
    AMOUNT_VOLUME, /* of an allotment */
    AMOUNT_METER,  /* of a water meter */
    AMOUNT_WATER,  /* a depth, a volume or hours */
    AMOUNT_HOURS,
    AMOUNT_PERCENT,
    AMOUNT_PER_AREA,   /* money or a yield, for each hectare or acre */
    AMOUNT_PER_VOLUME, /* the price of water */
    AMOUNT_COUNT
};

/* Adds an INPUT_NUMBER; `us`: with the units of the United States. */
void form_add_amount(struct form_page *page, const char *name, enum form_amount amount, bool us,
                     bool optional);

#endif

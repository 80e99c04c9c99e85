#include "daemon/http/form_turning.h"
#include "daemon/http/form_units.h"

#include <stdio.h>
#include <string.h>

static const char *const days[7][2] = {{"mon", "mon "}, {"tue", "tue "}, {"wed", "wed "}, {"thu", "thu "},
                                       {"fri", "fri "}, {"sat", "sat "}, {"sun", "sun "}};

const char *turning_day(int day) {
    return days[day][0];
}

const struct form_option *turning_week(struct edit *edit) {
    struct form_option *list = edit_options(edit, 7);
    for (int day = 0; list != NULL && day < 7; day++) {
        char key[32];
        (void)snprintf(key, sizeof key, "weekday_short.%d", day);
        list[day] = (struct form_option){days[day][1], words_get(edit->request->words, key)};
    }
    return list;
}

#define HOUR(n)                                                                                              \
    { #n, #n ":00" }

const struct form_option *turning_hours(void) {
    static const struct form_option hours[24] = {HOUR(0),  HOUR(1),  HOUR(2),  HOUR(3),  HOUR(4),  HOUR(5),
                                                 HOUR(6),  HOUR(7),  HOUR(8),  HOUR(9),  HOUR(10), HOUR(11),
                                                 HOUR(12), HOUR(13), HOUR(14), HOUR(15), HOUR(16), HOUR(17),
                                                 HOUR(18), HOUR(19), HOUR(20), HOUR(21), HOUR(22), HOUR(23)};
    return hours;
}

/* ---- of a field ---- */

void turning_show(struct edit *edit) {
    const struct farm_turning *turning = &edit->field.turning;
    edit_number(edit, "setup", turning->setup_hours, "h");
    if (turning->shortest_hours > 0)
        edit_number(edit, "shortest", turning->shortest_hours, "h");
    if (turning->longest_hours > 0)
        edit_number(edit, "longest", turning->longest_hours, "h");
    fill_default(edit->fill, "may_pause", turning->may_pause ? "yes" : "no");
}

void turning_inputs(struct edit *edit) {
    struct form_option *pause = edit_options(edit, 2);
    if (pause == NULL)
        return;
    pause[0] = (struct form_option){"no", words_get(edit->request->words, "form.may_pause.no")};
    pause[1] = (struct form_option){"yes", words_get(edit->request->words, "form.may_pause.yes")};
    form_add(&edit->page, "part_turns", INPUT_PART, NULL, 0, true);
    form_add_amount(&edit->page, "setup", AMOUNT_HOURS, false, true);
    form_add_amount(&edit->page, "shortest", AMOUNT_HOURS, false, true);
    form_add_amount(&edit->page, "longest", AMOUNT_HOURS, false, true);
    form_add(&edit->page, "may_pause", INPUT_CHOOSE, pause, 2, true);
}

void turning_read(struct edit *edit) {
    const struct request *request = edit->request;
    struct farm_turning *turning = &edit->field.turning;
    *turning = (struct farm_turning){.may_pause = strcmp(fill_value(edit->fill, "may_pause"), "yes") == 0};
    if (input_given(request, "setup"))
        (void)input_whole(request, "setup", QUANTITY_HOURS, 0, 24, &turning->setup_hours);
    if (input_given(request, "shortest"))
        (void)input_whole(request, "shortest", QUANTITY_HOURS, 1, FARM_TURN_HOURS_MAX,
                          &turning->shortest_hours);
    if (input_given(request, "longest"))
        (void)input_whole(request, "longest", QUANTITY_HOURS, 1, FARM_TURN_HOURS_MAX,
                          &turning->longest_hours);
    if (turning->longest_hours > 0 && turning->longest_hours < turning->shortest_hours)
        input_refuse(request, "longest", "input.longest", NULL, NULL);
}

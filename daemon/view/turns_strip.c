#include "daemon/view/turns_strip.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/view/json_read.h"
#include "daemon/view/svg.h"
#include "daemon/view/turns_say.h"

#define HOLES(list) list, sizeof list / sizeof *list

/* Heights in pixels; lengths of time are per cent of the strip, so that it is as wide as its place. */
enum {
    STRIP_HEIGHT = 56,
    BLOCK_TOP = 5,
    BLOCK_HEIGHT = 46,
    TEXT_LEFT = 6,
    LINE_1 = 19,
    LINE_2 = 37,
    WIDE_HOURS = 14, /* blocks this long hold their words upright on any screen that shows the board */
    WORDS_HOURS = 3, /* shorter ones have none */
    THIN_HOURS = 6,  /* shorter ones have room for their start alone */
    TONES = 8,
    KEPT_DRY_INSET = 14,
};

bool turns_is_state(const cJSON *turn, const char *state) {
    return strcmp(json_string(turn, "state"), state) == 0;
}

bool turns_is_to_come(const cJSON *turn) {
    return turns_is_state(turn, "planned") || turns_is_state(turn, "late");
}

static double percent(const struct turns_strip *strip, int hour) {
    int within = hour < 0 ? 0 : hour > strip->hours ? strip->hours : hour;
    return 100.0 * within / strip->hours;
}

static void add_span(const struct turns_strip *strip, int from, int to, struct text *out) {
    text_printf(out, "x=\"%.4g%%\" width=\"%.4g%%\"", percent(strip, from),
                percent(strip, to) - percent(strip, from));
}

/* The evenings: toned by the share of the allowed depletion that is used, hatched where past it. */
static void add_days(const struct turns_strip *strip, const cJSON *field, struct text *out) {
    const cJSON *day;
    int index = 0;
    cJSON_ArrayForEach(day, json_member(field, "depletion")) {
        const cJSON *mm = json_member(day, "mm"), *allowed = json_member(day, "allowed_mm");
        double share = cJSON_IsNumber(mm) && cJSON_IsNumber(allowed)
                           ? say_share_of(mm->valuedouble, allowed->valuedouble)
                           : (double)NAN;
        int from = 24 * index++, tone = (int)floor(fmin(fmax(share, 0), 1) * TONES);
        if (!isfinite(share))
            continue;
        for (int layer = 0; layer <= cJSON_IsTrue(json_member(day, "past")); layer++) {
            if (layer == 0)
                text_printf(out, "<rect class=\"t%d\" ", tone);
            else
                text_puts(out, "<rect fill=\"url(#past)\" ");
            add_span(strip, from, from + 24, out);
            text_printf(out, " height=\"%d\"/>", STRIP_HEIGHT);
        }
    }
}

static void add_escaped_label(const struct turns_strip *strip, const char *key, const cJSON *turn,
                              struct text *out) {
    char label[TURNS_SAY_SIZE];
    const struct words_hole holes[] = {{"field", json_string(turn, "field")},
                                       {"turn", json_string(turn, "text")},
                                       {"state", json_string(turn, "state_text")}};
    svg_add_escaped(out, turns_say(strip->context, key, HOLES(holes), label));
}

/* A block's words: its start, and below it its hours; on their side where it is narrow. */
static void add_block_words(const cJSON *turn, const char *start, const char *hours, struct text *out) {
    static const char side[] = "<text class=\"side%s\" transform=\"rotate(-90)\" x=\"%d\" y=\"%d\">%s</text>";
    int span = json_int(turn, "end_hour") - json_int(turn, "start_hour");
    if (span < WORDS_HOURS)
        return;
    if (span >= WIDE_HOURS) {
        text_printf(out, "<text x=\"%d\" y=\"%d\">%s</text><text x=\"%d\" y=\"%d\">%s</text>", TEXT_LEFT,
                    LINE_1, start, TEXT_LEFT, LINE_2, hours);
    } else if (span >= THIN_HOURS) {
        text_printf(out, side, "", 5 - BLOCK_HEIGHT, 13, start);
        text_printf(out, side, "", 5 - BLOCK_HEIGHT, 26, hours);
    } else {
        text_printf(out, side, " thin", 5 - BLOCK_HEIGHT, 9, start);
    }
}

static void add_turn(const struct turns_strip *strip, const cJSON *turn, struct text *out) {
    int32_t date = CALENDAR_NONE;
    int hour = 0;
    char start[16], hours[SAY_SIZE];
    (void)turns_board_time(turn, "start", &date, &hour);
    (void)snprintf(start, sizeof start, "%d:00", hour);
    bool pinned = cJSON_IsTrue(json_member(turn, "pinned"));
    text_printf(out, "<a class=\"turn %s%s\" href=\"/turn/%d\"", json_string(turn, "state"),
                pinned ? " pinned" : "", json_int(turn, "number"));
    if (strip->rights->plans && turns_is_state(turn, "planned"))
        text_printf(out, " data-start=\"%d\" data-hours=\"%d\"", json_int(turn, "start_hour"),
                    json_int(turn, "hours"));
    text_puts(out, "><title>");
    add_escaped_label(strip, pinned ? "turns.block.pinned" : "turns.block", turn, out);
    text_puts(out, "</title><svg ");
    add_span(strip, json_int(turn, "start_hour"), json_int(turn, "end_hour"), out);
    text_printf(out, " y=\"%d\" height=\"%d\"><rect width=\"100%%\" height=\"100%%\"/>", BLOCK_TOP,
                BLOCK_HEIGHT);
    add_block_words(turn, start, turns_say_hours(strip->context, json_int(turn, "hours"), hours), out);
    text_puts(out, pinned ? "<path class=\"pin\" d=\"M0 0h10l-10 10z\"/></svg></a>" : "</svg></a>");
}

static void add_kept_dry(const struct turns_strip *strip, const cJSON *mark, struct text *out) {
    const char *why = json_string(mark, "why");
    text_puts(out, "<svg ");
    add_span(strip, json_int(mark, "start_hour"), json_int(mark, "end_hour"), out);
    text_printf(out,
                " y=\"%d\" height=\"%d\"><rect class=\"dry\" width=\"100%%\" height=\"100%%\"/>"
                "<text class=\"dry\" x=\"%d\" y=\"18\">",
                KEPT_DRY_INSET, STRIP_HEIGHT - 2 * KEPT_DRY_INSET, TEXT_LEFT);
    svg_add_escaped(out, why[0] != '\0' ? why : words_get(strip->context->words, "turns.dry"));
    text_puts(out, "</text></svg>");
}

void turns_strip_add(const struct turns_strip *strip, cJSON *field) {
    struct text out;
    const cJSON *item;
    text_init(&out, 0);
    text_printf(&out,
                "<svg class=\"strip\" width=\"100%%\" height=\"%d\" data-hours=\"%d\" data-first=\"%s\" "
                "data-first-hour=\"%d\" role=\"group\" aria-label=\"",
                STRIP_HEIGHT, strip->hours, strip->first_day, strip->first_hour);
    svg_add_escaped(&out, json_string(field, "name"));
    text_puts(&out, "\">");
    add_days(strip, field, &out);
    for (int hour = 0; hour <= strip->hours; hour += 24)
        text_printf(&out, "<line class=\"edge\" x1=\"%.4g%%\" x2=\"%.4g%%\" y2=\"%d\"/>",
                    percent(strip, hour), percent(strip, hour), STRIP_HEIGHT);
    text_printf(&out, "<line class=\"now\" x1=\"%.4g%%\" x2=\"%.4g%%\" y2=\"%d\"/>",
                percent(strip, strip->first_hour), percent(strip, strip->first_hour), STRIP_HEIGHT);
    cJSON_ArrayForEach(item, json_member(field, "kept_dry")) {
        add_kept_dry(strip, item, &out);
    }
    cJSON_ArrayForEach(item, json_member(field, "turns")) {
        add_turn(strip, item, &out);
    }
    text_puts(&out, "</svg>");
    cJSON_AddStringToObject(field, "strip", text_string(&out));
    text_free(&out);
}

/* The turns as they leave the program: CSV (RFC 4180) and iCalendar (RFC 5545). */
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/csv_cell.h"
#include "daemon/view/turns.h"
#include "daemon/view/turns_say.h"

#define HOLES(list) list, sizeof list / sizeof *list

/* ---- CSV */

static void add_csv_time(struct text *out, int32_t date, int hour) {
    csv_add_date(out, date + hour / 24);
    text_printf(out, "T%02d:00", hour % 24);
}

void view_turns_csv(const struct turns_facts *facts, struct text *out) {
    text_puts(out, "supply,field,start,end,hours,net_mm,gross_mm,volume_m3,pinned,state,uid\r\n");
    for (size_t i = 0; i < facts->turns->turn_count; i++) {
        const struct stored_turn *turn = &facts->turns->turn[i];
        csv_add_text(out, turn->supply);
        text_puts(out, ",");
        csv_add_text(out, turn->field);
        add_csv_time(out, turn->date, turn->hour);
        add_csv_time(out, turn->date, turn->hour + turn->span);
        text_printf(out, ",%d", turn->hours);
        csv_add_number(out, turn->net_mm);
        csv_add_number(out, turn->gross_mm);
        csv_add_number(out, turn->volume_m3);
        text_printf(out, ",%s,%s,", turn->pinned ? "yes" : "no", view_turn_state(turn, &facts->now));
        csv_add_text(out, turn->uid);
        text_puts(out, "\r\n");
    }
}

/* ---- iCalendar */

#define LINE_OCTETS 75 /* section 3.1, without the line's end */

/* One content line, folded: a line goes on behind a line's end and a blank, never within a character. */
static void add_line(struct text *out, const char *line) {
    size_t on_line = 0;
    for (const char *at = line; *at != '\0';) {
        size_t size = 1;
        while (((unsigned char)at[size] & 0xC0) == 0x80)
            size++;
        if (on_line + size > LINE_OCTETS) {
            text_puts(out, "\r\n ");
            on_line = 1;
        }
        text_add(out, at, size);
        on_line += size;
        at += size;
    }
    text_puts(out, "\r\n");
}

/* "NAME:text" with what has a meaning in it escaped (section 3.3.11). */
static void add_text(struct text *out, const char *name, const char *value) {
    struct text line;
    text_init(&line, 0);
    text_printf(&line, "%s:", name);
    for (const char *at = value; *at != '\0'; at++) {
        if (*at == '\n')
            text_puts(&line, "\\n");
        else if (strchr("\\;,", *at) != NULL)
            text_printf(&line, "\\%c", *at);
        else if ((unsigned char)*at >= 0x20 && *at != 0x7F)
            text_add(&line, at, 1);
    }
    add_line(out, text_string(&line));
    out->failed = out->failed || text_failed(&line);
    text_free(&line);
}

/* "NAME:20260714T100000Z" */
static void add_instant(struct text *out, const char *name, int64_t at) {
    int64_t day = at / 86400, second = at % 86400;
    if (second < 0) {
        second += 86400;
        day--;
    }
    struct calendar_civil civil = calendar_to_civil((int32_t)day);
    text_printf(out, "%s:%04d%02d%02dT%02d%02d%02dZ\r\n", name, civil.year, civil.month, civil.day,
                (int)(second / 3600), (int)(second / 60 % 60), (int)(second % 60));
}

static void add_event(const struct view_context *context, const struct turns_facts *facts,
                      const struct turns_feed *feed, const struct stored_turn *turn, struct text *out) {
    char hours[SAY_SIZE], net[SAY_SIZE], volume[SAY_SIZE], state_key[64], summary[TURNS_SAY_SIZE];
    char description[TURNS_SAY_SIZE];
    const char *state = view_turn_state(turn, &facts->now);
    (void)snprintf(state_key, sizeof state_key, "turns.state.%s", state);
    const struct words_hole holes[] = {{"field", turn->field},
                                       {"supply", turn->supply},
                                       {"hours", turns_say_hours(context, turn->hours, hours)},
                                       {"net", say_depth(context, turn->net_mm, net)},
                                       {"volume", say_volume(context, turn->volume_m3, volume)},
                                       {"state", words_get(context->words, state_key)}};
    text_puts(out, "BEGIN:VEVENT\r\n");
    add_text(out, "UID", turn->uid);
    add_instant(out, "DTSTAMP", turn->changed_at);
    add_instant(out, "DTSTART", feed->instant(turn->date + turn->hour / 24, turn->hour % 24));
    int end = turn->hour + turn->span;
    add_instant(out, "DTEND", feed->instant(turn->date + end / 24, end % 24));
    text_printf(out, "SEQUENCE:%d\r\n", turn->sequence);
    text_printf(out, "STATUS:%s\r\n",
                turn->state == TURN_SKIPPED                    ? "CANCELLED"
                : turn->state == TURN_PLANNED && !turn->pinned ? "TENTATIVE"
                                                               : "CONFIRMED");
    add_text(out, "SUMMARY", turns_say(context, "turns.ics.summary", HOLES(holes), summary));
    add_text(out, "DESCRIPTION", turns_say(context, "turns.ics.description", HOLES(holes), description));
    text_puts(out, "TRANSP:TRANSPARENT\r\nEND:VEVENT\r\n");
}

void view_turns_ics(const struct view_context *context, const struct turns_facts *facts,
                    const struct turns_feed *feed, struct text *out) {
    char name[TURNS_SAY_SIZE];
    const char *of = feed->supply != NULL  ? feed->supply
                     : feed->field != NULL ? feed->field
                                           : facts->farm->name;
    const struct words_hole hole = {"name", of};
    text_puts(out, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//waterturn//turns//EN\r\n"
                   "CALSCALE:GREGORIAN\r\n");
    /* Programs that know RFC 7986 read the first, the others the second. */
    turns_say(context, "turns.ics.name", &hole, 1, name);
    add_text(out, "NAME", name);
    add_text(out, "X-WR-CALNAME", name);
    text_puts(out, "REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n");
    for (size_t i = 0; i < facts->turns->turn_count; i++) {
        const struct stored_turn *turn = &facts->turns->turn[i];
        if ((feed->supply == NULL || strcmp(turn->supply, feed->supply) == 0) &&
            (feed->field == NULL || strcmp(turn->field, feed->field) == 0))
            add_event(context, facts, feed, turn, out);
    }
    text_puts(out, "END:VCALENDAR\r\n");
}

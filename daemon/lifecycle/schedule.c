#include "daemon/lifecycle/schedule.h"

#include <stddef.h>

#include "core/base/calendar.h"

/* 2026-01-01: no clock that is right says an earlier day to this program. */
#define WRITTEN_ON 20454

enum clock_judgement schedule_judge(const struct morning_time *now, int32_t newest) {
    if (now->today == CALENDAR_NONE || now->today < WRITTEN_ON)
        return CLOCK_BEHIND;
    if (newest == CALENDAR_NONE)
        return now->today - WRITTEN_ON > SCHEDULE_AGE_MOST ? CLOCK_AHEAD : CLOCK_GOOD;
    if (now->today < newest)
        return CLOCK_BEHIND;
    return now->today - newest > SCHEDULE_GAP_MOST ? CLOCK_AHEAD : CLOCK_GOOD;
}

const char *schedule_advice(enum clock_judgement judgement) {
    switch (judgement) {
    case CLOCK_BEHIND:
        return "the clock of this machine is behind the last morning that was computed; nothing is computed "
               "until "
               "it is right (`waterturn morning --today DATE` goes back on purpose)";
    case CLOCK_AHEAD:
        return "the clock of this machine is more than a year after the last morning; nothing is computed "
               "until it "
               "is right (`waterturn morning --today DATE` goes on from there on purpose)";
    case CLOCK_GOOD:
        break;
    }
    return NULL;
}

bool schedule_due(const struct morning_time *now, int32_t newest, int morning_minute) {
    if (schedule_judge(now, newest) != CLOCK_GOOD)
        return false;
    return newest == CALENDAR_NONE || (newest < now->today && now->minute >= morning_minute);
}

int64_t schedule_again_s(int failures) {
    return failures <= 1 ? 15 * 60 : failures == 2 ? 30 * 60 : 60 * 60;
}

bool schedule_quiet(int minute, int from, int until) {
    if (from < 0 || until < 0 || from == until)
        return false;
    return from < until ? minute >= from && minute < until : minute >= from || minute < until;
}

int64_t schedule_after_quiet(int64_t at, int from, int until) {
    /* Minute by minute: a day on which the clock is changed has quiet hours of another length. */
    for (int i = 0; i < 26 * 60 && schedule_quiet(wall_clock_of(at).minute, from, until); i++)
        at += 60 - at % 60;
    return at;
}

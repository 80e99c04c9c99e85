#include "daemon/source/stamp.h"

#include <math.h>
#include <string.h>

#include "core/base/calendar.h"

#define DAY_S INT64_C(86400)

/* A clock and an offset found in the text itself. */
struct clock {
    int64_t seconds;  /* since midnight */
    int64_t duration; /* of an interval; 0: none given */
    bool has_offset;
    int64_t offset;
};

/* Takes `count` digits off the front; false when they are not there. */
static bool take_digits(struct raw *raw, size_t count, int *out) {
    if (raw->size < count || !raw_digits((struct raw){raw->text, count}, out))
        return false;
    raw->text += count;
    raw->size -= count;
    return true;
}

static bool take_sign(struct raw *raw, char sign) {
    if (raw->size == 0 || raw->text[0] != sign)
        return false;
    raw->text++;
    raw->size--;
    return true;
}

/* As many digits as there are, 1 to 9. */
static bool take_integer(struct raw *raw, int *out) {
    size_t count = 0;
    while (count < raw->size && raw->text[count] >= '0' && raw->text[count] <= '9')
        count++;
    return take_digits(raw, count, out);
}

/* HH:MM, HH:MM:SS, HHMM or HMM; 24:00 is the end of the day. */
static bool take_clock(struct raw *raw, struct clock *clock) {
    int hour = 0, minute = 0, second = 0;
    size_t digits = 0;
    while (digits < raw->size && raw->text[digits] >= '0' && raw->text[digits] <= '9')
        digits++;
    if (digits != 3 && digits != 4 && digits != 2 && digits != 1)
        return false;
    if (!take_digits(raw, digits > 2 ? digits - 2 : digits, &hour))
        return false;
    if (digits > 2 ? !take_digits(raw, 2, &minute) : !(take_sign(raw, ':') && take_digits(raw, 2, &minute)))
        return false;
    if (take_sign(raw, ':')) {
        if (!take_digits(raw, 2, &second))
            return false;
        int fraction = 0;
        if (take_sign(raw, '.') && !take_integer(raw, &fraction))
            return false;
    }
    clock->seconds = hour * 3600 + minute * 60 + second;
    return hour <= 24 && minute <= 59 && second <= 60 && clock->seconds <= DAY_S;
}

/* "Z", "+02:00", "-0530" or nothing. */
static bool take_offset(struct raw *raw, struct clock *clock) {
    int hours = 0, minutes = 0;
    if (take_sign(raw, 'Z')) {
        clock->has_offset = true;
        return true;
    }
    bool west = raw->size > 0 && raw->text[0] == '-';
    if (!take_sign(raw, '+') && !take_sign(raw, '-'))
        return true;
    if (!take_digits(raw, 2, &hours))
        return false;
    (void)take_sign(raw, ':');
    if (raw->size > 0 && raw->text[0] != '/' && !take_digits(raw, 2, &minutes))
        return false;
    clock->has_offset = true;
    clock->offset = (west ? -1 : 1) * (hours * 3600 + minutes * 60);
    return hours <= 14 && minutes <= 59;
}

/* ISO 8601 duration as far as weather services use it: P7DT14H, PT6H, P1D, PT30M. */
static bool take_duration(struct raw *raw, struct clock *clock) {
    int64_t total = 0;
    bool in_time = false;
    if (!take_sign(raw, '/'))
        return true;
    if (!take_sign(raw, 'P') || raw->size == 0)
        return false;
    while (raw->size > 0) {
        int number = 0;
        if (!in_time && take_sign(raw, 'T')) {
            in_time = true;
            continue;
        }
        if (!take_integer(raw, &number) || number > 100000)
            return false;
        if (!in_time && take_sign(raw, 'D'))
            total += number * DAY_S;
        else if (in_time && take_sign(raw, 'H'))
            total += number * INT64_C(3600);
        else if (in_time && take_sign(raw, 'M'))
            total += number * INT64_C(60);
        else if (!in_time || !take_sign(raw, 'S'))
            return false;
    }
    clock->duration = total;
    return total > 0 && total <= 32 * DAY_S;
}

static bool read_iso(struct raw raw, int32_t *date, struct clock *clock) {
    int year = 0, month = 0, day = 0;
    if (!take_digits(&raw, 4, &year) || !take_sign(&raw, '-') || !take_digits(&raw, 2, &month) ||
        !take_sign(&raw, '-') || !take_digits(&raw, 2, &day) ||
        calendar_from_civil(year, month, day, date) != STATUS_OK)
        return false;
    if (take_sign(&raw, 'T') || take_sign(&raw, ' ')) {
        if (!take_clock(&raw, clock) || !take_offset(&raw, clock) || !take_duration(&raw, clock))
            return false;
    }
    return raw.size == 0;
}

static bool read_yyyymmdd(struct raw raw, int32_t *date) {
    int year = 0, month = 0, day = 0;
    return raw.size == 8 && take_digits(&raw, 4, &year) && take_digits(&raw, 2, &month) &&
           take_digits(&raw, 2, &day) && calendar_from_civil(year, month, day, date) == STATUS_OK;
}

/* 6/1/2021 or 06.01.2021; the order of the first two as told. A clock may follow. */
static bool read_slashed(struct raw raw, bool day_first, int32_t *date, struct clock *clock) {
    int first = 0, second = 0, year = 0;
    if (!take_integer(&raw, &first) || raw.size == 0)
        return false;
    char sign = raw.text[0];
    if ((sign != '/' && sign != '.' && sign != '-') || !take_sign(&raw, sign) ||
        !take_integer(&raw, &second) || !take_sign(&raw, sign) || !take_digits(&raw, 4, &year) ||
        calendar_from_civil(year, day_first ? second : first, day_first ? first : second, date) != STATUS_OK)
        return false;
    if (take_sign(&raw, ' ') && !take_clock(&raw, clock))
        return false;
    return raw.size == 0;
}

static bool read_numbers(const struct layout_time *time, const struct stamp_parts *parts, int32_t *date) {
    int number[3] = {0, 0, 0};
    for (int i = 0; i < time->column_count; i++) {
        if (!raw_digits(raw_trim(parts->part[i]), &number[i]))
            return false;
    }
    if (time->format == TIME_YEAR_MONTH_DAY)
        return calendar_from_civil(number[0], number[1], number[2], date) == STATUS_OK;
    if (time->format == TIME_YEAR_MONTH)
        return calendar_from_civil(number[0], number[1], parts->day_of_month, date) == STATUS_OK;
    int32_t first = 0, next = 0;
    if (calendar_from_civil(number[0], 1, 1, &first) != STATUS_OK ||
        calendar_from_civil(number[0], 12, 31, &next) != STATUS_OK || number[1] < 1 ||
        number[1] > next - first + 1)
        return false;
    *date = first + number[1] - 1;
    return true;
}

static bool read_epoch(struct raw raw, int32_t *date, struct clock *clock) {
    double seconds = 0.0;
    if (!raw_number(raw, '.', &seconds) || fabs(seconds) > 3.3e10)
        return false;
    int64_t whole = (int64_t)floor(seconds);
    int64_t day = whole / DAY_S - (whole % DAY_S < 0);
    *date = (int32_t)day;
    clock->seconds = whole - day * DAY_S;
    clock->has_offset = true;
    return calendar_valid(*date);
}

bool stamp_read(const struct layout_time *time, const struct stamp_parts *parts, struct stamp *out) {
    struct clock clock = {0, 0, false, 0};
    struct raw text = raw_trim(parts->part[0]);
    int32_t date = CALENDAR_NONE;
    bool good = false;
    switch (time->format) {
    case TIME_ISO:
        good = read_iso(text, &date, &clock);
        break;
    case TIME_YYYYMMDD:
        good = read_yyyymmdd(text, &date);
        break;
    case TIME_YEAR_DAY:
    case TIME_YEAR_MONTH_DAY:
    case TIME_YEAR_MONTH:
        good = read_numbers(time, parts, &date);
        break;
    case TIME_MONTH_DAY_YEAR:
    case TIME_DAY_MONTH_YEAR:
        good = read_slashed(text, time->format == TIME_DAY_MONTH_YEAR, &date, &clock);
        break;
    case TIME_EPOCH:
        good = read_epoch(text, &date, &clock);
        break;
    }
    bool other_hours = time->zone == ZONE_AS_WRITTEN && time->step_s > 0 && time->format == TIME_ISO;
    struct raw beside = raw_trim(parts->clock);
    if (!good || (other_hours && clock.has_offset) ||
        (beside.text != NULL && (!take_clock(&beside, &clock) || beside.size > 0)))
        return false;
    int64_t offset = time->zone == ZONE_AS_WRITTEN ? 0
                     : clock.has_offset            ? clock.offset
                                                   : time->zone_offset_s;
    int64_t written = date * DAY_S + clock.seconds - offset;
    int64_t span = clock.duration > 0 ? clock.duration : time->until_next ? 0 : time->step_s;
    out->date = date;
    out->start = time->marks_end ? written - span : written;
    out->end = out->start + span;
    return true;
}

const char *stamp_example(const struct layout_time *time) {
    switch (time->format) {
    case TIME_ISO:
        if (time->step_s == 0 || time->clock.name != NULL || time->clock.number > 0)
            return "a date as 2021-06-30";
        return time->zone == ZONE_AS_WRITTEN
                   ? "a time as 2021-06-30T14:00, on the place's own clock and without an offset"
                   : "a time as 2021-06-30T14:00";
    case TIME_YYYYMMDD:
        return "a date as 20210630";
    case TIME_YEAR_DAY:
        return "a year and a day of that year";
    case TIME_YEAR_MONTH_DAY:
        return "a year, a month and a day";
    case TIME_YEAR_MONTH:
        return "a year and a month";
    case TIME_MONTH_DAY_YEAR:
        return "a date as 6/30/2021";
    case TIME_DAY_MONTH_YEAR:
        return "a date as 30/6/2021";
    case TIME_EPOCH:
        break;
    }
    return "seconds since 1970";
}

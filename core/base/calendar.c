#include "core/base/calendar.h"

#include <string.h>

static bool leap(int year) {
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int month_length(int year, int month) {
    static const int length[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && leap(year) ? 29 : length[month - 1];
}

enum status calendar_from_civil(int year, int month, int day, int32_t *date) {
    if (year < 1600 || year > 2999 || month < 1 || month > 12 || day < 1 || day > month_length(year, month))
        return STATUS_OUT_OF_RANGE;
    /* Years are counted from March, so that the leap day comes last. */
    int y = month <= 2 ? year - 1 : year;
    int era = y / 400;
    int year_of_era = y - era * 400;
    int month_from_march = month > 2 ? month - 3 : month + 9;
    int day_of_year = (153 * month_from_march + 2) / 5 + day - 1;
    int day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    *date = (int32_t)(era * 146097 + day_of_era - 719468);
    return STATUS_OK;
}

struct calendar_civil calendar_to_civil(int32_t date) {
    struct calendar_civil civil = {0, 0, 0};
    if (!calendar_valid(date))
        return civil;
    int shifted = date + 719468;
    int era = shifted / 146097;
    int day_of_era = shifted - era * 146097;
    int year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int month_from_march = (5 * day_of_year + 2) / 153;
    civil.day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    civil.month = month_from_march < 10 ? month_from_march + 3 : month_from_march - 9;
    civil.year = year_of_era + era * 400 + (civil.month <= 2);
    return civil;
}

int calendar_day_of_year(int32_t date) {
    if (!calendar_valid(date))
        return 0;
    static const int before_month[12] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334};
    struct calendar_civil civil = calendar_to_civil(date);
    return before_month[civil.month - 1] + civil.day + (civil.month > 2 && leap(civil.year));
}

int calendar_weekday(int32_t date) {
    /* 1970-01-01 was a Thursday. */
    int weekday = (int)((date + 3) % 7);
    return weekday < 0 ? weekday + 7 : weekday;
}

static int digits(const char *text, int count) {
    int value = 0;
    for (int i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return -1;
        value = value * 10 + (text[i] - '0');
    }
    return value;
}

enum status calendar_parse_iso(const char *text, int32_t *date) {
    if (strlen(text) != 10 || text[4] != '-' || text[7] != '-')
        return STATUS_OUT_OF_RANGE;
    return calendar_from_civil(digits(text, 4), digits(text + 5, 2), digits(text + 8, 2), date);
}

static void put_digits(char *out, int value, int count) {
    for (int i = count - 1; i >= 0; i--) {
        out[i] = (char)('0' + value % 10);
        value /= 10;
    }
}

char *calendar_format_iso(int32_t date, char out[CALENDAR_ISO_SIZE]) {
    memcpy(out, "----------", CALENDAR_ISO_SIZE);
    struct calendar_civil civil = calendar_to_civil(date);
    if (civil.year == 0)
        return out;
    put_digits(out, civil.year, 4);
    put_digits(out + 5, civil.month, 2);
    put_digits(out + 8, civil.day, 2);
    return out;
}

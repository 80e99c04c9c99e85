/* The hours of a day as one value of the database: 97 numbers of 8 bytes (IEEE 754, the lowest byte first),
 * the beginning of the first hour and then temperature, vapour pressure, wind and radiation of each. */
#include <string.h>

#include "daemon/store/weather_inside.h"

#define HOUR_NUMBERS 4
#define NUMBERS      (1 + HOUR_NUMBERS * REFERENCE_HOURS)
#define NUMBER_SIZE  8

static void put_number(double number, unsigned char *at) {
    uint64_t bits;
    memcpy(&bits, &number, sizeof bits);
    for (int i = 0; i < NUMBER_SIZE; i++)
        at[i] = (unsigned char)(bits >> (8 * i));
}

static double get_number(const unsigned char *at) {
    uint64_t bits = 0;
    double number;
    for (int i = 0; i < NUMBER_SIZE; i++)
        bits |= (uint64_t)at[i] << (8 * i);
    memcpy(&number, &bits, sizeof number);
    return number;
}

void weather_hours_bind(sqlite3_stmt *statement, int index, const struct weather_hours *hours) {
    unsigned char bytes[NUMBERS * NUMBER_SIZE], *at = bytes;
    if (hours == NULL) {
        sqlite3_bind_null(statement, index);
        return;
    }
    put_number(hours->start_utc_h, at);
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        const struct weather_hour *hour = &hours->hour[h];
        const double numbers[HOUR_NUMBERS] = {hour->t_c, hour->ea_kpa, hour->wind_m_s, hour->rs_mj_m2};
        for (int i = 0; i < HOUR_NUMBERS; i++)
            put_number(numbers[i], at += NUMBER_SIZE);
    }
    sqlite3_bind_blob(statement, index, bytes, sizeof bytes, SQLITE_TRANSIENT);
}

bool weather_hours_read(sqlite3_stmt *statement, int column, int32_t date, struct weather_hours *hours) {
    const unsigned char *at = sqlite3_column_blob(statement, column);
    if (at == NULL || sqlite3_column_bytes(statement, column) != NUMBERS * NUMBER_SIZE)
        return false;
    hours->date = date;
    hours->start_utc_h = get_number(at);
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        double numbers[HOUR_NUMBERS];
        for (int i = 0; i < HOUR_NUMBERS; i++)
            numbers[i] = get_number(at += NUMBER_SIZE);
        hours->hour[h] = (struct weather_hour){numbers[0], numbers[1], numbers[2], numbers[3]};
    }
    return true;
}

// SPDX-License-Identifier: MIT
#pragma once
/*
 * Date Time (0x2A08) and Current Time (0x2A2B), as a scale's clock tells them: local time, no zone.
 * Above: decoders; the radio writes Current Time. Below: bytes.
 * Source: GATT characteristics date_time and current_time (Bluetooth SIG); facts, 5.1 and 5.2.
 */
#include <stdbool.h>
#include <stdint.h>

struct bytes;

#define DATE_TIME_LENGTH 7
#define CURRENT_TIME_LENGTH 10

struct date_time {
	uint16_t year; /* 1582..9999, 0 unknown */
	uint8_t month; /* 1..12, 0 unknown */
	uint8_t day;   /* 1..31, 0 unknown */
	uint8_t hour;
	uint8_t minute;
	uint8_t second;
};

/* Takes 7 octets as they are, valid or not; false when fewer are left. */
bool date_time_read(struct bytes *b, struct date_time *ret);
/* True when every part is known and the date exists in the Gregorian calendar, h < 24, m < 60, s < 60. */
bool date_time_valid(const struct date_time *t);
/* Seconds since 1970-01-01T00:00:00 of the same (zoneless) clock. t must be valid. */
int64_t date_time_seconds(const struct date_time *t);
/* The inverse, for years 1582..9999; false outside. */
bool date_time_from_seconds(int64_t seconds, struct date_time *ret);
/* Current Time for writing: day of week from the date, fractions 0, adjust reason "external reference". */
void current_time_write(const struct date_time *t, uint8_t ret[CURRENT_TIME_LENGTH]);

// SPDX-License-Identifier: MIT
#include "protocols/date_time.h"
#include "protocols/bytes.h"

#define FIRST_YEAR 1582
#define LAST_YEAR 9999
#define SECONDS_PER_DAY INT64_C(86400)
#define DAYS_PER_400_YEARS INT64_C(146097)
#define DAYS_BEFORE_1970 INT64_C(719162) /* since 0001-01-01, a Monday in the Gregorian rule */
#define ADJUST_EXTERNAL_REFERENCE 0x02   /* Current Time, Adjust Reason, bit 1; facts, 5.2 */

bool date_time_read(struct bytes *b, struct date_time *ret)
{
	if (b->left < DATE_TIME_LENGTH)
		return false;
	return bytes_u16(b, &ret->year) && bytes_u8(b, &ret->month) && bytes_u8(b, &ret->day) &&
	       bytes_u8(b, &ret->hour) && bytes_u8(b, &ret->minute) && bytes_u8(b, &ret->second);
}

static bool is_leap(int64_t year)
{
	return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static int days_in_month(int64_t year, int month)
{
	static const uint8_t days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };

	return days[month - 1] + (month == 2 && is_leap(year));
}

bool date_time_valid(const struct date_time *t)
{
	return t->year >= FIRST_YEAR && t->year <= LAST_YEAR && t->month >= 1 && t->month <= 12 &&
	       t->day >= 1 && t->day <= days_in_month(t->year, t->month) && t->hour < 24 &&
	       t->minute < 60 && t->second < 60;
}

/* Days from 0001-01-01 to the first of January of a year. */
static int64_t days_before_year(int64_t year)
{
	int64_t past = year - 1;

	return 365 * past + past / 4 - past / 100 + past / 400;
}

static int64_t days_since_year_one(const struct date_time *t)
{
	int64_t days = days_before_year(t->year);

	for (int month = 1; month < t->month; month++)
		days += days_in_month(t->year, month);
	return days + t->day - 1;
}

int64_t date_time_seconds(const struct date_time *t)
{
	return (days_since_year_one(t) - DAYS_BEFORE_1970) * SECONDS_PER_DAY + t->hour * 3600 +
	       t->minute * 60 + t->second;
}

static void set_date(int64_t days, struct date_time *t)
{
	/* By the mean length of a year it may be the one before, and never one after: leap days come late in their four
	 * years, and what a century lacks later still. */
	int64_t year = days * 400 / DAYS_PER_400_YEARS + 1;
	int month = 1;

	while (days_before_year(year + 1) <= days)
		year++;
	days -= days_before_year(year);
	for (; days >= days_in_month(year, month); month++)
		days -= days_in_month(year, month);
	t->year = (uint16_t)year;
	t->month = (uint8_t)month;
	t->day = (uint8_t)(days + 1);
}

bool date_time_from_seconds(int64_t seconds, struct date_time *ret)
{
	int64_t days = seconds / SECONDS_PER_DAY;
	int64_t rest = seconds % SECONDS_PER_DAY;

	if (rest < 0) {
		rest += SECONDS_PER_DAY;
		days--;
	}
	days += DAYS_BEFORE_1970;
	if (days < days_before_year(FIRST_YEAR) || days >= days_before_year(LAST_YEAR + 1))
		return false;
	set_date(days, ret);
	ret->hour = (uint8_t)(rest / 3600);
	ret->minute = (uint8_t)(rest / 60 % 60);
	ret->second = (uint8_t)(rest % 60);
	return true;
}

/* 1 Monday .. 7 Sunday; 0 not known. */
static uint8_t day_of_week(const struct date_time *t)
{
	if (!date_time_valid(t))
		return 0;
	return (uint8_t)(days_since_year_one(t) % 7 + 1);
}

void current_time_write(const struct date_time *t, uint8_t ret[CURRENT_TIME_LENGTH])
{
	ret[0] = (uint8_t)(t->year & 0xFF);
	ret[1] = (uint8_t)(t->year >> 8);
	ret[2] = t->month;
	ret[3] = t->day;
	ret[4] = t->hour;
	ret[5] = t->minute;
	ret[6] = t->second;
	ret[7] = day_of_week(t);
	ret[8] = 0; /* 1/256 s */
	ret[9] = ADJUST_EXTERNAL_REFERENCE;
}

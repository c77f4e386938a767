// SPDX-License-Identifier: MIT
/*
 * Date Time and Current Time (GATT characteristics date_time and current_time, Bluetooth SIG; fact
 * sheet, 5.1 and 5.2). The calendar is checked against the C library's timegm(), day by day.
 */
#include "protocols/date_time.h"
#include "tests/unit/protocols/octets.h"
#include <time.h>

#define FIRST_S (-INT64_C(12244089600)) /* 1582-01-01T00:00:00, proleptic */
#define LAST_S INT64_C(253402300799)    /* 9999-12-31T23:59:59 */

static void check_against_libc(int64_t seconds)
{
	struct date_time t;
	time_t at = (time_t)seconds;
	struct tm tm;
	uint8_t current[CURRENT_TIME_LENGTH];

	assert_non_null(gmtime_r(&at, &tm));
	assert_true(date_time_from_seconds(seconds, &t));
	assert_true(date_time_valid(&t));
	assert_int_equal(t.year, tm.tm_year + 1900);
	assert_int_equal(t.month, tm.tm_mon + 1);
	assert_int_equal(t.day, tm.tm_mday);
	assert_int_equal(t.hour, tm.tm_hour);
	assert_int_equal(t.minute, tm.tm_min);
	assert_int_equal(t.second, tm.tm_sec);
	assert_int_equal(date_time_seconds(&t), seconds);
	assert_int_equal(timegm(&tm), date_time_seconds(&t));
	current_time_write(&t, current);
	assert_int_equal(current[0] | current[1] << 8, t.year);
	assert_int_equal(current[7], tm.tm_wday == 0 ? 7 : tm.tm_wday);
}

static void test_each_day_of_our_centuries(void **state)
{
	(void)state;
	/* 1970-01-01 to 2200-01-01, at a different time each day */
	for (int64_t s = 0; s <= INT64_C(7258118400); s += 86400 + 7)
		check_against_libc(s);
}

static void test_whole_range(void **state)
{
	(void)state;
	for (int64_t s = FIRST_S; s <= LAST_S; s += INT64_C(86400) * 29 + 3607)
		check_against_libc(s);
	check_against_libc(FIRST_S);
	check_against_libc(LAST_S);
	check_against_libc(-1);
	check_against_libc(-86400);
	check_against_libc(-86401);
}

/* The first and the last second of every year. */
static void test_ends_of_years(void **state)
{
	(void)state;
	for (int year = 1582; year <= 9999; year++) {
		struct tm tm = { .tm_year = year - 1900, .tm_mon = 0, .tm_mday = 1 };
		int64_t first = timegm(&tm);

		check_against_libc(first);
		if (year > 1582)
			check_against_libc(first - 1);
	}
}

static void test_out_of_range(void **state)
{
	static const int64_t outside[] = { FIRST_S - 1, LAST_S + 1, INT64_MIN, INT64_MAX };
	struct date_time before, t;

	(void)state;
	memset(&before, 0xA5, sizeof before);
	memset(&t, 0xA5, sizeof t);
	for (size_t i = 0; i < N_OF(outside); i++) {
		assert_false(date_time_from_seconds(outside[i], &t));
		assert_memory_equal(&before, &t, sizeof t);
	}
}

static void test_read(void **state)
{
	/* stamp of W10, fact sheet 8.1: 2026-11-25 13:45:30 */
	const char *hex = "EA 07 0B 19 0D 2D 1E";
	struct octets o = octets_of(hex);
	struct date_time before, t;

	(void)state;
	assert_true(date_time_read(&o.value, &t));
	assert_int_equal(o.value.left, 0);
	octets_free(&o);
	assert_int_equal(t.year, 2026);
	assert_int_equal(t.month, 11);
	assert_int_equal(t.day, 25);
	assert_int_equal(t.hour, 13);
	assert_int_equal(t.minute, 45);
	assert_int_equal(t.second, 30);

	memset(&before, 0xA5, sizeof before);
	memset(&t, 0xA5, sizeof t);
	for (size_t n = 0; n < DATE_TIME_LENGTH; n++) {
		o = octets_first(hex, n);
		assert_false(date_time_read(&o.value, &t));
		assert_int_equal(o.value.left, n);
		assert_memory_equal(&before, &t, sizeof t);
		octets_free(&o);
	}
}

static void test_valid(void **state)
{
	static const struct date_time good[] = {
		{ 2026, 2, 28, 23, 59, 59 }, { 2024, 2, 29, 0, 0, 0 },     { 2000, 2, 29, 0, 0, 0 },
		{ 1582, 1, 1, 0, 0, 0 },     { 9999, 12, 31, 23, 59, 59 },
	};
	static const struct date_time bad[] = {
		{ 0, 0, 0, 0, 0, 0 },     { 2026, 13, 32, 24, 60, 60 }, /* W17, W18 */
		{ 0, 1, 1, 0, 0, 0 },     { 2026, 0, 1, 0, 0, 0 },
		{ 2026, 1, 0, 0, 0, 0 }, /* unknown */
		{ 2026, 2, 29, 0, 0, 0 }, { 1900, 2, 29, 0, 0, 0 },
		{ 2024, 2, 30, 0, 0, 0 }, { 2026, 4, 31, 0, 0, 0 },
		{ 2026, 1, 32, 0, 0, 0 }, { 2026, 13, 1, 0, 0, 0 },
		{ 2026, 1, 1, 24, 0, 0 }, { 2026, 1, 1, 0, 60, 0 },
		{ 2026, 1, 1, 0, 0, 60 }, { 1581, 12, 31, 0, 0, 0 },
		{ 10000, 1, 1, 0, 0, 0 }, { 65535, 255, 255, 255, 255, 255 },
	};

	(void)state;
	for (size_t i = 0; i < N_OF(good); i++)
		assert_true(date_time_valid(&good[i]));
	for (size_t i = 0; i < N_OF(bad); i++)
		assert_false(date_time_valid(&bad[i]));
}

/* Each month ends on the day on which the C library's does. */
static void test_ends_of_months(void **state)
{
	static const int years[] = { 1900, 2000, 2023, 2024, 2100 };

	(void)state;
	for (size_t i = 0; i < N_OF(years); i++)
		for (int month = 1; month <= 12; month++) {
			struct tm last = { .tm_year = years[i] - 1900, .tm_mon = month, .tm_mday = 0 };
			struct date_time t = { .year = (uint16_t)years[i], .month = (uint8_t)month };

			(void)timegm(&last); /* day 0 is the last of the month before */
			t.day = (uint8_t)last.tm_mday;
			assert_true(date_time_valid(&t));
			t.day++;
			assert_false(date_time_valid(&t));
		}
}

/* The example of the fact sheet, 5.2: Wednesday, "external reference". */
static void test_current_time(void **state)
{
	static const uint8_t expected[] = { 0xEA, 0x07, 0x0B, 0x19, 0x0D,
					    0x2D, 0x1E, 0x03, 0x00, 0x02 };
	struct date_time t = { 2026, 11, 25, 13, 45, 30 };
	uint8_t octets[CURRENT_TIME_LENGTH];

	(void)state;
	memset(octets, 0xA5, sizeof octets); /* each of them is written */
	current_time_write(&t, octets);
	assert_int_equal(sizeof octets, sizeof expected);
	assert_memory_equal(octets, expected, sizeof expected);
	t.day = 0; /* not known: then no day of the week either */
	current_time_write(&t, octets);
	assert_int_equal(octets[7], 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_each_day_of_our_centuries),
		cmocka_unit_test(test_whole_range),
		cmocka_unit_test(test_ends_of_years),
		cmocka_unit_test(test_out_of_range),
		cmocka_unit_test(test_read),
		cmocka_unit_test(test_valid),
		cmocka_unit_test(test_ends_of_months),
		cmocka_unit_test(test_current_time),
	};

	return cmocka_run_group_tests_name("protocols/date_time", tests, NULL, NULL);
}

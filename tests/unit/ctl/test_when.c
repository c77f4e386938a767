// SPDX-License-Identifier: MIT
/*
 * Instants were computed with another implementation (Python's zoneinfo over the tz database, zone Europe/Berlin), not
 * with this code. Summer time: last Sundays of March and October, 01:00 UTC (Directive 2000/84/EC).
 */
#include "daemon/ctl/when.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <unistd.h>
#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof *(array))
#define BERLIN_POSIX "CET-1CEST,M3.5.0,M10.5.0/3"

#define NOV25_1345 INT64_C(1795610700000)
#define NOV25_0000 INT64_C(1795561200000)
#define NOV24_2350 INT64_C(1795560600000)
#define MAR29_0159 INT64_C(1774745999000) /* 01:59:59, a second before summer time */
#define MAR29_0300 INT64_C(1774746000000)
#define MAR29_1200 INT64_C(1774778400000)
#define OCT25_0000 INT64_C(1792879200000)
#define OCT25_0230_FIRST INT64_C(1792888200000)  /* summer time */
#define OCT25_0230_SECOND INT64_C(1792891800000) /* an hour later */
#define OCT25_1200 INT64_C(1792926000000)
#define MIN INT64_C(60000)
#define H (60 * MIN)

struct parsing {
	const char *text;
	int64_t now_ms;
	enum when_outcome outcome;
	int64_t ms;
};

static const struct parsing table[] = {
	/* today */
	{ "13:45", NOV25_1345, WHEN_OK, NOV25_1345 },
	{ "13:45", NOV25_1345 + 8 * H, WHEN_OK, NOV25_1345 },
	{ "00:00", NOV25_1345, WHEN_OK, NOV25_0000 },
	{ "0:00", NOV25_1345, WHEN_OK, NOV25_0000 },
	{ "13:44:30", NOV25_1345, WHEN_OK, NOV25_1345 - 30000 },
	{ "13:46", NOV25_1345, WHEN_OK, NOV25_1345 + MIN }, /* clocks differ by a minute */
	{ "13:47", NOV25_1345, WHEN_NOT_YET, 0 },
	/* at midnight: ten to twelve was yesterday, and isn't guessed */
	{ "23:50", NOV25_0000 + 10 * MIN, WHEN_NOT_YET, 0 },
	{ "2026-11-24 23:50", NOV25_0000 + 10 * MIN, WHEN_OK, NOV24_2350 },
	{ "00:00", NOV25_0000, WHEN_OK, NOV25_0000 },
	{ "24:00", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "13:60", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "13:4", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "13:45 ", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "13:45:60", NOV25_1345, WHEN_MALFORMED, 0 },
	/* before now */
	{ "-20min", NOV25_1345, WHEN_OK, NOV25_1345 - 20 * MIN },
	{ "-2h", NOV25_1345, WHEN_OK, NOV25_1345 - 2 * H },
	{ "-1d", NOV25_1345, WHEN_OK, NOV25_1345 - 24 * H },
	{ "-1h30min", NOV25_1345, WHEN_OK, NOV25_1345 - 90 * MIN },
	{ "-1 h 30 min", NOV25_1345, WHEN_OK, NOV25_1345 - 90 * MIN },
	{ "-90s", NOV25_1345, WHEN_OK, NOV25_1345 - 90000 },
	{ "-0min", NOV25_1345, WHEN_OK, NOV25_1345 },
	{ "-1d", MAR29_1200, WHEN_OK, MAR29_1200 - 24 * H }, /* 11:00 the day before */
	{ "-", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "-20", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "-20m", NOV25_1345, WHEN_MALFORMED, 0 }, /* metre, month, minute? */
	{ "-min", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "--1h", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "-12345678min", NOV25_1345, WHEN_OUT_OF_RANGE, 0 },
	{ "-9999999d", NOV25_1345, WHEN_OUT_OF_RANGE, 0 },
	{ "-9999d", NOV25_1345, WHEN_OUT_OF_RANGE, 0 }, /* 1999 */
	/* the night summer time begins */
	{ "01:59:59", MAR29_1200, WHEN_OK, MAR29_0159 },
	{ "03:00", MAR29_1200, WHEN_OK, MAR29_0300 },
	{ "02:30", MAR29_1200, WHEN_NO_SUCH_TIME, 0 },
	{ "2026-03-29 02:00", NOV25_1345, WHEN_NO_SUCH_TIME, 0 },
	/* the night it ends: the later one, unless that lies ahead */
	{ "02:30", OCT25_1200, WHEN_OK, OCT25_0230_SECOND },
	{ "02:30", OCT25_0230_SECOND, WHEN_OK, OCT25_0230_SECOND },
	{ "02:30", OCT25_0230_SECOND - 10 * MIN, WHEN_OK, OCT25_0230_FIRST },
	{ "2026-10-25T02:30", NOV25_1345, WHEN_OK, OCT25_0230_SECOND },
	{ "02:30", OCT25_0000 + H, WHEN_NOT_YET, 0 },
	/* dates */
	{ "2026-11-25", NOV25_1345, WHEN_OK, NOV25_0000 },
	{ "2026-11-25 13:45", NOV25_1345, WHEN_OK, NOV25_1345 },
	{ "2026-11-25t13:45:00", NOV25_1345, WHEN_OK, NOV25_1345 },
	{ "2026-10-25", NOV25_1345, WHEN_OK, OCT25_0000 },
	{ "2026-11-26", NOV25_1345, WHEN_NOT_YET, 0 },
	{ "2026-02-29", NOV25_1345, WHEN_NO_SUCH_TIME, 0 },
	{ "2026-13-01", NOV25_1345, WHEN_NO_SUCH_TIME, 0 },
	{ "2026-00-10", NOV25_1345, WHEN_NO_SUCH_TIME, 0 },
	{ "1999-12-31", NOV25_1345, WHEN_OUT_OF_RANGE, 0 },
	/* RFC 3339 */
	{ "2026-11-25T13:45:00+01:00", NOV25_1345, WHEN_OK, NOV25_1345 },
	{ "2026-11-25T12:45:00Z", NOV25_1345, WHEN_OK, NOV25_1345 },
	{ "2026-11-25T12:45:00.250Z", NOV25_1345, WHEN_OK, NOV25_1345 + 250 },
	{ "2026-11-25T13:45:00Z", NOV25_1345, WHEN_NOT_YET, 0 },
	{ "2026-02-30T13:45:00Z", NOV25_1345, WHEN_MALFORMED, 0 },
	/* nothing of all that */
	{ "", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "noon", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "1345", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "25.11.2026", NOV25_1345, WHEN_MALFORMED, 0 },
	{ "2026-11-25 1345", NOV25_1345, WHEN_MALFORMED, 0 },
};

static void zone(const char *name)
{
	assert_int_equal(setenv("TZ", name, 1), 0);
	tzset();
}

static void check_table(void)
{
	for (size_t i = 0; i < N_OF(table); i++) {
		int64_t ms = -7;
		enum when_outcome outcome = when_parse(table[i].text, table[i].now_ms, &ms);
		if (outcome != table[i].outcome || ms != (outcome == WHEN_OK ? table[i].ms : -7))
			fail_msg("row %zu, \"%s\": outcome %d, %lld ms", i, table[i].text, (int)outcome, (long long)ms);
		if (outcome != WHEN_OK)
			assert_true(strlen(when_hint(outcome)) > 10);
	}
}

static void test_parse(void **state)
{
	(void)state;
	zone(BERLIN_POSIX);
	check_table();
}

static void test_parse_zone_file(void **state)
{
	(void)state;
	if (access("/usr/share/zoneinfo/Europe/Berlin", R_OK) != 0)
		skip(); /* the same rules are tried above without the file */
	zone("Europe/Berlin");
	check_table();
}

static void test_parse_utc(void **state)
{
	int64_t ms = 0;

	(void)state;
	zone("UTC0");
	assert_int_equal(when_parse("02:30", INT64_C(1774782000000), &ms), WHEN_OK); /* no summer time here */
	assert_int_equal(ms, INT64_C(1774751400000));
}

static void check_show(int64_t ms, int64_t now_ms, const char *near)
{
	char buffer[WHEN_SIZE];

	when_show_near(buffer, ms, now_ms);
	assert_string_equal(buffer, near);
}

static void test_show(void **state)
{
	char buffer[WHEN_SIZE];

	(void)state;
	zone(BERLIN_POSIX);
	when_show(buffer, NOV25_1345);
	assert_string_equal(buffer, "2026-11-25 13:45");
	check_show(NOV25_1345, NOV25_1345 + H, "13:45");
	check_show(NOV25_1345, NOV25_1345 - 24 * H, "tomorrow 13:45");
	check_show(NOV25_1345, NOV25_1345 - 48 * H, "Wed 13:45"); /* 25 November 2026 is a Wednesday: cal(1) */
	check_show(NOV25_1345, NOV25_1345 - 6 * 24 * H, "Wed 13:45");
	check_show(NOV25_1345, NOV25_1345 - 7 * 24 * H, "2026-11-25 13:45"); /* never that of another week */
	check_show(NOV25_1345, NOV25_1345 + 6 * 24 * H, "Wed 13:45");
	check_show(NOV25_1345, NOV25_1345 + 7 * 24 * H, "2026-11-25 13:45");
	check_show(NOV25_0000, NOV25_1345, "00:00");
	check_show(NOV24_2350, NOV25_0000 + 10 * MIN, "yesterday 23:50");
	check_show(NOV24_2350, NOV25_1345 + 48 * H, "Tue 23:50");
	/* days of 23 and 25 hours */
	check_show(MAR29_0159, MAR29_1200 + 24 * H, "yesterday 01:59");
	check_show(OCT25_0000, OCT25_0000 + 24 * H + 30 * MIN, "00:00"); /* 23:30 of that day */
	check_show(OCT25_0000, OCT25_0000 + 25 * H, "yesterday 00:00");
	/* the new year */
	check_show(INT64_C(1798757400000), INT64_C(1798759800000),
		   "yesterday 23:50"); /* 2026-12-31, 2027-01-01 00:30 */
}

static void test_rfc3339(void **state)
{
	char buffer[WHEN_SIZE];

	(void)state;
	zone(BERLIN_POSIX);
	when_rfc3339(buffer, NOV25_1345 + 30500);
	assert_string_equal(buffer, "2026-11-25T13:45:30.500+01:00");
	when_rfc3339(buffer, OCT25_0230_FIRST);
	assert_string_equal(buffer, "2026-10-25T02:30:00.000+02:00");
	when_rfc3339(buffer, OCT25_0230_SECOND);
	assert_string_equal(buffer, "2026-10-25T02:30:00.000+01:00");
	zone("NST3:30");
	when_rfc3339(buffer, NOV25_1345);
	assert_string_equal(buffer, "2026-11-25T09:15:00.000-03:30");
	zone("IST-5:30");
	when_rfc3339(buffer, NOV25_1345);
	assert_string_equal(buffer, "2026-11-25T18:15:00.000+05:30");
}

/* What is written is read back as the same instant, every seven minutes through the night the clocks change. */
static void test_round_trip(void **state)
{
	char buffer[WHEN_SIZE];
	int64_t ms, back;

	(void)state;
	zone(BERLIN_POSIX);
	for (ms = OCT25_0000; ms < OCT25_0000 + 6 * H; ms += 7 * MIN) {
		when_rfc3339(buffer, ms);
		assert_int_equal(when_parse(buffer, NOV25_1345, &back), WHEN_OK);
		assert_int_equal(back, ms);
	}
}

static void test_ahead(void **state)
{
	int64_t ms;

	(void)state;
	(void)setenv("TZ", BERLIN_POSIX, 1);
	tzset();
	assert_int_equal(when_parse_ahead("+2d", NOV25_1345, &ms), WHEN_OK);
	assert_int_equal(ms, NOV25_1345 + 48 * H);
	assert_int_equal(when_parse_ahead("+1h30min", NOV25_1345, &ms), WHEN_OK);
	assert_int_equal(ms, NOV25_1345 + 90 * MIN);
	assert_int_equal(when_parse_ahead("2026-11-25 13:45", NOV25_0000, &ms), WHEN_OK);
	assert_int_equal(ms, NOV25_1345);
	assert_int_equal(when_parse_ahead("-1h", NOV25_1345, &ms), WHEN_OK);
	assert_int_equal(ms, NOV25_1345 - H);
	/* across the hour that is there twice: 24 hours, whatever the clock shows */
	assert_int_equal(when_parse_ahead("+1d", OCT25_0000, &ms), WHEN_OK);
	assert_int_equal(ms, OCT25_0000 + 24 * H);
	assert_int_equal(when_parse_ahead("2027-12-31 00:00", NOV25_1345, &ms), WHEN_OUT_OF_RANGE);
	assert_int_equal(when_parse_ahead("+2", NOV25_1345, &ms), WHEN_MALFORMED);
	assert_int_equal(when_parse_ahead("+", NOV25_1345, &ms), WHEN_MALFORMED);
	assert_int_equal(when_parse_ahead("+-2d", NOV25_1345, &ms), WHEN_MALFORMED);
	assert_int_equal(when_parse("+2d", NOV25_1345, &ms), WHEN_MALFORMED);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_ahead),
		cmocka_unit_test(test_parse), cmocka_unit_test(test_parse_zone_file), cmocka_unit_test(test_parse_utc),
		cmocka_unit_test(test_show),  cmocka_unit_test(test_rfc3339),         cmocka_unit_test(test_round_trip),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

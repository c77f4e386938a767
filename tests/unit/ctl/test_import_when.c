// SPDX-License-Identifier: MIT
/*
 * People's dates. The instants are those of `date -d ... +%s` (GNU coreutils 9.1, tzdata) for the zone named; when
 * clocks were set in Berlin is in Directive 2000/84/EC: the last Sundays of March and October, at 01:00 UTC.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ctl/import_when.h"

static struct import_when when;

static void is(const char *text, enum import_first first, const char *wanted)
{
	char got[64] = "", *to = got;

	assert_int_equal(import_when_read(text, first, &when), IMPORT_WHEN_READ);
	if (when.has_date)
		to += snprintf(to, 20, "%04d-%02d-%02d", when.year, when.month, when.day);
	if (when.has_time)
		to += snprintf(to, 12, "T%02d:%02d:%02d", when.hour, when.minute, when.second);
	if (when.has_offset)
		(void)snprintf(to, 8, "%+d", when.offset_min);
	assert_string_equal(got, wanted);
}

static void isnt(const char *text, enum import_first first, enum import_when_outcome wanted)
{
	if (import_when_read(text, first, &when) != wanted)
		fail_msg("\"%s\"", text);
}

static void test_dates(void **state)
{
	(void)state;
	is("2026-01-03", 0, "2026-01-03");
	is("2026/1/3", 0, "2026-01-03");
	is("2026.01.03", 0, "2026-01-03");
	is("3 Jan 2026", 0, "2026-01-03");
	is("3. january 2026", 0, "2026-01-03");
	is("03-JAN-2026", 0, "2026-01-03");
	is("Jan 3, 2026", 0, "2026-01-03");
	is("Sept. 30 2026", 0, "2026-09-30");
	is("3/4/2026", IMPORT_FIRST_DAY, "2026-04-03");
	is("3/4/2026", IMPORT_FIRST_MONTH, "2026-03-04");
	is("3.4.2026", IMPORT_FIRST_DAY, "2026-04-03");
	is("25/12/2026", 0, "2026-12-25"); /* can't be a month */
	is("12-25-2026", 0, "2026-12-25");
	is("3/3/2026", 0, "2026-03-03"); /* either way */
	is("2028-02-29", 0, "2028-02-29");
}

static void test_no_dates(void **state)
{
	(void)state;
	isnt("03/04/2026", 0, IMPORT_WHEN_WHICH_FIRST);
	isnt("03/04/26", 0, IMPORT_WHEN_SHORT_YEAR);
	isnt("3 Jan 26", 0, IMPORT_WHEN_SHORT_YEAR);
	isnt("25/12/2026", IMPORT_FIRST_MONTH, IMPORT_WHEN_NO_SUCH_DATE);
	isnt("2026-02-29", 0, IMPORT_WHEN_NO_SUCH_DATE);
	isnt("2100-02-29", 0, IMPORT_WHEN_NO_SUCH_DATE); /* no leap year: ISO 8601, 3.1.1.22 */
	isnt("2026-13-01", 0, IMPORT_WHEN_NO_SUCH_DATE);
	isnt("1999-12-31", 0, IMPORT_WHEN_NO_SUCH_DATE);
	isnt("2026-00-10", 0, IMPORT_WHEN_NO_SUCH_DATE);
	isnt("", 0, IMPORT_WHEN_NO_DATE);
	isnt("   ", 0, IMPORT_WHEN_NO_DATE);
	isnt("yesterday", 0, IMPORT_WHEN_MALFORMED);
	isnt("20260103", 0, IMPORT_WHEN_MALFORMED);
	isnt("2026-01/03", 0, IMPORT_WHEN_MALFORMED);
	isnt("3 Ja 2026", 0, IMPORT_WHEN_MALFORMED);
	isnt("3 Januaryx 2026", 0, IMPORT_WHEN_MALFORMED);
	isnt("2026-01-03x", 0, IMPORT_WHEN_MALFORMED);
	isnt("46025", 0, IMPORT_WHEN_MALFORMED); /* a spreadsheet's own number of a day */
	isnt("-1", 0, IMPORT_WHEN_MALFORMED);
}

static void test_times(void **state)
{
	(void)state;
	is("7:30", 0, "T07:30:00");
	is("07:30:15", 0, "T07:30:15");
	is("7:30 pm", 0, "T19:30:00");
	is("7:30PM", 0, "T19:30:00");
	is("7 p.m.", 0, "T19:00:00");
	is("12:05 am", 0, "T00:05:00"); /* common practice, as in date(1) */
	is("12:05 pm", 0, "T12:05:00");
	is("02:30 +01:00", 0, "T02:30:00+60");
	is("02:30-05:30", 0, "T02:30:00-330");
	is("2026-01-03 7:30", 0, "2026-01-03T07:30:00");
	is("3 Jan 2026, 7:30 pm", 0, "2026-01-03T19:30:00");
	is("2026-01-03T07:30:00.250Z", 0, "2026-01-03T07:30:00+0");
	isnt("24:00", 0, IMPORT_WHEN_NO_SUCH_TIME);
	isnt("7:60", 0, IMPORT_WHEN_NO_SUCH_TIME);
	isnt("13:00 pm", 0, IMPORT_WHEN_NO_SUCH_TIME);
	isnt("0:30 am", 0, IMPORT_WHEN_NO_SUCH_TIME);
	isnt("7:3", 0, IMPORT_WHEN_MALFORMED);
	isnt("730", 0, IMPORT_WHEN_MALFORMED);
	isnt("7:30 x", 0, IMPORT_WHEN_MALFORMED);
	isnt("2026-01-03 7", 0, IMPORT_WHEN_MALFORMED);
	isnt("2026-01-03T", 0, IMPORT_WHEN_MALFORMED);
	isnt("7:30 +1", 0, IMPORT_WHEN_MALFORMED);
}

static void at(const char *text, int64_t s, int offset)
{
	int64_t ms = 0;
	int offset_min = 0;

	assert_int_equal(import_when_read(text, 0, &when), IMPORT_WHEN_READ);
	assert_int_equal(import_when_instant(&when, &ms, &offset_min), IMPORT_WHEN_READ);
	assert_true(ms == s * 1000);
	assert_int_equal(offset_min, offset);
}

static void never_at(const char *text, enum import_when_outcome outcome)
{
	int64_t ms;
	int offset_min;

	assert_int_equal(import_when_read(text, 0, &when), IMPORT_WHEN_READ);
	assert_int_equal(import_when_instant(&when, &ms, &offset_min), outcome);
}

static void test_instants(void **state)
{
	(void)state;
	assert_int_equal(setenv("TZ", "Europe/Berlin", 1), 0);
	tzset();
	at("2026-01-03 7:30", 1767421800, 60);
	at("2026-07-03 7:30", 1783056600, 120);
	at("2026-01-03 7:30Z", 1767425400, 0);
	at("2026-10-25 01:59", 1792886340, 120);
	never_at("2026-10-25 02:30", IMPORT_WHEN_TWICE);
	at("2026-10-25 02:30 +02:00", 1792888200, 120);
	at("2026-10-25 02:30 +01:00", 1792891800, 60);
	at("2026-10-25 03:00", 1792893600, 60);
	never_at("2026-03-29 02:30", IMPORT_WHEN_SKIPPED);
	at("2026-03-29 03:00", 1774746000, 120);
	assert_int_equal(setenv("TZ", "Asia/Kolkata", 1), 0);
	tzset();
	at("2026-01-03 7:30", 1767405600, 330);
	never_at("7:30", IMPORT_WHEN_NO_DATE);
	never_at("2026-01-03", IMPORT_WHEN_NO_TIME);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_dates),
		cmocka_unit_test(test_no_dates),
		cmocka_unit_test(test_times),
		cmocka_unit_test(test_instants),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

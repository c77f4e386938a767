// SPDX-License-Identifier: MIT
/*
 * Masses: 1 lb = 453.592 37 g exactly (NIST SP 811, appendix B), 1 oz = 28.349 523 125 g. Times:
 * RFC 3339; its examples (section 5.8) lie before 2000 and are out of range here, so each also
 * comes back in a year of ours.
 */
#include "daemon/weigh/quantity.h"
#include "protocols/mass.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof((array)[0]))

static void test_masses(void **state)
{
	static const struct {
		const char *text;
		int64_t mass_mg, step_mg;
	} good[] = {
		{ "304g", 304000, 1000 },
		{ "304 g", 304000, 1000 },
		{ " 304 g ", 304000, 1000 },
		{ "\t304\tG\t", 304000, 1000 },
		{ "0.304kg", 304000, 1000 },
		{ "0,304kg", 304000, 1000 },
		{ "0,304 KG", 304000, 1000 },
		{ "304.5g", 304500, 100 },
		{ "304,5g", 304500, 100 },
		{ "304.50g", 304500, 10 },
		{ "1,304kg", 1304000, 1000 }, /* a thousand kilograms would be out of range */
		{ "1.304g", 1304, 1 },
		{ "0,304g", 304, 1 },        /* groups of thousands don't start with 0 */
		{ "1304,250g", 1304250, 1 }, /* nor do they start with four digits */
		{ "1,30g", 1300, 10 },
		{ "0.001g", 1, 1 },
		{ "0.0005g", 1, 1 }, /* halves away from zero */
		{ "0.0000005kg", 1, 1 },
		{ "007g", 7000, 1000 },
		{ "00000000000000000304g", 304000, 1000 },
		{ "1000kg", 1000000000, 1000000 },
		{ "1000000g", 1000000000, 1000 },
		{ "999.999999kg", 999999999, 1 },
		/* ounces: 1 oz = 28349.523125 mg */
		{ "1oz", 28350, 28350 },
		{ "1 OZ", 28350, 28350 },
		{ "16oz", 453592, 28350 },
		{ "10.7oz", 303340, 2835 }, /* 303339.8974375 */
		{ "10,7oz", 303340, 2835 },
		{ "35273oz", 999972729, 28350 }, /* 999972729.188125 */
		/* pounds: 1 lb = 453592.37 mg */
		{ "1lb", 453592, 453592 },
		{ "1Lb", 453592, 453592 },
		{ "0.67lb", 303907, 4536 }, /* 303906.8879 */
		{ "100lb", 45359237, 453592 },
		{ "2204lb", 999717583, 453592 }, /* 999717583.48 */
		/* both */
		{ "0lb10.7oz", 303340, 2835 },
		{ "0 lb 10.7 oz", 303340, 2835 },
		{ "0lb 0.1oz", 2835, 2835 },
		{ "1lb2oz", 510291, 28350 },  /* 18 oz = 510291.41625 */
		{ "1lb0.30oz", 462097, 283 }, /* 16.3 oz = 462097.2269375; 0.01 oz = 283.49523125 */
		{ "1lb0.3oz", 462097, 2835 },
		{ "3lb15.999999999oz", 1814369, 1 }, /* a hair below 4 lb = 1814369.48 */
		{ "2204lb0oz", 999717583, 28350 },
	};

	(void)state;
	for (size_t i = 0; i < N_OF(good); i++) {
		int64_t mass_mg = 77, step_mg = 77, again_mg = 77;

		print_message("  \"%s\"\n", good[i].text);
		assert_int_equal(quantity_mass(good[i].text, &mass_mg, &step_mg), QUANTITY_OK);
		assert_int_equal(mass_mg, good[i].mass_mg);
		assert_int_equal(step_mg, good[i].step_mg);
		assert_int_equal(quantity_mass(good[i].text, &again_mg, NULL), QUANTITY_OK);
		assert_int_equal(again_mg, mass_mg);
	}
}

static void test_refused_masses(void **state)
{
	static const struct {
		const char *text;
		enum quantity_outcome outcome;
	} refused[] = {
		{ "304", QUANTITY_NO_UNIT },
		{ "304 ", QUANTITY_NO_UNIT },
		{ "0.304", QUANTITY_NO_UNIT },
		{ "-5", QUANTITY_NO_UNIT },
		{ "1lb2", QUANTITY_NO_UNIT },
		{ "", QUANTITY_MALFORMED },
		{ " ", QUANTITY_MALFORMED },
		{ "g", QUANTITY_MALFORMED },
		{ "1e3g", QUANTITY_MALFORMED },
		{ "3o4g", QUANTITY_MALFORMED },
		{ "304gg", QUANTITY_MALFORMED },
		{ "304gram", QUANTITY_MALFORMED },
		{ "304mg", QUANTITY_MALFORMED },
		{ "304k", QUANTITY_MALFORMED },
		{ "304k g", QUANTITY_MALFORMED },
		{ "3 04g", QUANTITY_MALFORMED },
		{ "304g 2g", QUANTITY_MALFORMED },
		{ "1kg2oz", QUANTITY_MALFORMED },
		{ "0x10g", QUANTITY_MALFORMED },
		{ "nan g", QUANTITY_MALFORMED },
		{ "inf g", QUANTITY_MALFORMED },
		{ "+304g", QUANTITY_MALFORMED },
		{ "--5g", QUANTITY_MALFORMED },
		{ "- 5g", QUANTITY_MALFORMED },
		{ "304.g", QUANTITY_MALFORMED },
		{ ".304kg", QUANTITY_MALFORMED },
		{ "3.0.4g", QUANTITY_MALFORMED },
		{ "1,234,567g", QUANTITY_MALFORMED },
		{ "1,304g", QUANTITY_MALFORMED }, /* 1.304 g or 1304 g? */
		{ "304,500g", QUANTITY_MALFORMED },
		{ "1,304oz", QUANTITY_MALFORMED },
		{ "12,345lb", QUANTITY_MALFORMED },
		{ "0.3040000000g", QUANTITY_MALFORMED }, /* ten decimals */
		{ "304g\n", QUANTITY_MALFORMED },
		{ "304\xC2\xB5g", QUANTITY_MALFORMED },
		{ "1lb16oz", QUANTITY_MALFORMED },
		{ "0lb107oz", QUANTITY_MALFORMED },
		{ "0lb99999999999999999999oz", QUANTITY_MALFORMED },
		{ "1.5lb2oz", QUANTITY_MALFORMED },
		{ "1lb-2oz", QUANTITY_MALFORMED },
		{ "1lb2g", QUANTITY_MALFORMED },
		{ "1lb2oz3oz", QUANTITY_MALFORMED },
		{ "2oz1lb", QUANTITY_MALFORMED },
		{ "-5g", QUANTITY_OUT_OF_RANGE },
		{ "-1lb2oz", QUANTITY_OUT_OF_RANGE },
		{ "0g", QUANTITY_OUT_OF_RANGE },
		{ "-0g", QUANTITY_OUT_OF_RANGE },
		{ "0lb0oz", QUANTITY_OUT_OF_RANGE },
		{ "0.0004g", QUANTITY_OUT_OF_RANGE }, /* nearest is zero */
		{ "99999999kg", QUANTITY_OUT_OF_RANGE },
		{ "1000.000001kg", QUANTITY_OUT_OF_RANGE },
		{ "1000000.001g", QUANTITY_OUT_OF_RANGE },
		{ "2205lb", QUANTITY_OUT_OF_RANGE },
		{ "2205lb0oz", QUANTITY_OUT_OF_RANGE },
		{ "2204lb15oz", QUANTITY_OUT_OF_RANGE }, /* 1000142826.3... mg */
		{ "35274oz", QUANTITY_OUT_OF_RANGE },
		{ "99999999999999999999999999999999999g", QUANTITY_OUT_OF_RANGE },
		{ "99999999999999999999999999999999999.999999999oz", QUANTITY_OUT_OF_RANGE },
		{ "99999999999999999999999999999999999lb2oz", QUANTITY_OUT_OF_RANGE },
		{ "99999999999999999999999999999999999lb2.000000000oz", QUANTITY_OUT_OF_RANGE },
	};

	(void)state;
	for (size_t i = 0; i < N_OF(refused); i++) {
		int64_t mass_mg = 77, step_mg = 77;

		print_message("  \"%s\"\n", refused[i].text);
		assert_int_equal(quantity_mass(refused[i].text, &mass_mg, &step_mg),
				 refused[i].outcome);
		assert_int_equal(mass_mg, 77);
		assert_int_equal(step_mg, 77);
	}
}

static void test_hints(void **state)
{
	(void)state;
	for (enum quantity_outcome a = QUANTITY_OK; a <= QUANTITY_OUT_OF_RANGE; a++)
		for (enum quantity_outcome b = QUANTITY_OK; b < a; b++)
			assert_string_not_equal(quantity_mass_hint(a), quantity_mass_hint(b));
	/* What to write instead is really accepted. */
	assert_non_null(
		strstr(quantity_mass_hint(QUANTITY_NO_UNIT), "304g, 0.304kg, 10.7oz or 0lb10.7oz"));
	assert_non_null(strstr(quantity_mass_hint(QUANTITY_MALFORMED),
			       "304g, 0.304kg, 10.7oz or 0lb10.7oz"));
	assert_non_null(strstr(quantity_mass_hint(QUANTITY_OUT_OF_RANGE), "304g"));
}

static void test_format(void **state)
{
	static const struct {
		int64_t mass_mg, step_mg;
		enum quantity_unit unit;
		const char *text;
	} written[] = {
		{ 304000, 1000, QUANTITY_GRAMS, "304 g" },
		{ 304000, 1, QUANTITY_GRAMS, "304 g" },
		{ 304500, 0, QUANTITY_GRAMS, "304.5 g" },
		{ 304500, 1000, QUANTITY_GRAMS, "304.5 g" },
		{ 4535924, 4536, QUANTITY_GRAMS, "4535.9 g" },
		{ 4535950, 4536, QUANTITY_GRAMS, "4536 g" },
		{ 304049, 0, QUANTITY_GRAMS, "304 g" },
		{ 304050, 0, QUANTITY_GRAMS, "304.1 g" },
		{ 304123, 999, QUANTITY_GRAMS, "304.123 g" },
		{ 304120, 10, QUANTITY_GRAMS, "304.12 g" },
		{ 304007, 1, QUANTITY_GRAMS, "304.007 g" },
		{ 300000, 5000, QUANTITY_GRAMS, "300 g" },
		{ 7, 1, QUANTITY_GRAMS, "0.007 g" },
		{ 0, 0, QUANTITY_GRAMS, "0 g" },
		{ -5000, 1000, QUANTITY_GRAMS, "-5 g" },
		{ -5050, 1000, QUANTITY_GRAMS, "-5.1 g" },
		{ -40, 1000, QUANTITY_GRAMS, "0 g" },
		{ -40, 1, QUANTITY_GRAMS, "-0.04 g" },
		{ MASS_MAX_MG, 0, QUANTITY_GRAMS, "1000000 g" },
		{ INT64_MIN, 1, QUANTITY_GRAMS, "-9223372036854775.808 g" },
		{ 303340, 2835, QUANTITY_OUNCES, "10.70 oz" },
		{ 28350, 0, QUANTITY_OUNCES, "1.00 oz" },
		{ 0, 0, QUANTITY_OUNCES, "0.00 oz" },
		{ 453450, 0, QUANTITY_OUNCES, "15.99 oz" },     /* 15.99498... */
		{ 453451, 0, QUANTITY_OUNCES, "1 lb 0.00 oz" }, /* 15.99501..., nearest is 16.00 */
		{ 453592, 0, QUANTITY_OUNCES, "1 lb 0.00 oz" },
		{ 462097, 0, QUANTITY_OUNCES, "1 lb 0.30 oz" },
		{ -462097, 0, QUANTITY_OUNCES, "-1 lb 0.30 oz" },
		{ -28350, 0, QUANTITY_OUNCES, "-1.00 oz" },
		{ -141, 0, QUANTITY_OUNCES, "0.00 oz" }, /* 0.00497 oz */
		{ 142, 0, QUANTITY_OUNCES, "0.01 oz" },  /* 0.00501 oz */
		{ INT64_MAX, 0, QUANTITY_OUNCES, "20334054642177 lb 7.35 oz" },
	};

	(void)state;
	for (size_t i = 0; i < N_OF(written); i++) {
		char text[64], cut[4] = "abc";
		int n = quantity_format(text, sizeof text, written[i].mass_mg, written[i].step_mg,
					written[i].unit);

		assert_int_equal(n, strlen(text));
		assert_string_equal(text, written[i].text);
		/* as snprintf does when there is no room */
		assert_int_equal(quantity_format(cut, sizeof cut, written[i].mass_mg,
						 written[i].step_mg, written[i].unit),
				 n);
		assert_memory_equal(cut, text, sizeof cut - 1);
		assert_int_equal(quantity_format(NULL, 0, written[i].mass_mg, written[i].step_mg,
						 written[i].unit),
				 n);
	}
}

/* What we write, we can read: exactly with all decimals, else to half of the last one. */
static void test_format_round_trip(void **state)
{
	(void)state;
	for (int64_t mass_mg = 200; mass_mg <= MASS_MAX_MG - 200; mass_mg += 1 + mass_mg / 1000) {
		char text[64];
		int64_t back_mg;

		(void)quantity_format(text, sizeof text, mass_mg, 1, QUANTITY_GRAMS);
		assert_int_equal(quantity_mass(text, &back_mg, NULL), QUANTITY_OK);
		assert_int_equal(back_mg, mass_mg);
		(void)quantity_format(text, sizeof text, mass_mg, 0, QUANTITY_GRAMS);
		assert_int_equal(quantity_mass(text, &back_mg, NULL), QUANTITY_OK);
		assert_in_range(back_mg - mass_mg + 50, 0, 100);
		(void)quantity_format(text, sizeof text, mass_mg, 0, QUANTITY_OUNCES);
		assert_int_equal(quantity_mass(text, &back_mg, NULL), QUANTITY_OK);
		assert_in_range(back_mg - mass_mg + 142, 0, 284);
	}
}

/* UTC by the C library. */
static int64_t utc_ms(int year, int month, int day, int hour, int minute, int second, int ms)
{
	struct tm tm = { .tm_year = year - 1900,
			 .tm_mon = month - 1,
			 .tm_mday = day,
			 .tm_hour = hour,
			 .tm_min = minute,
			 .tm_sec = second };

	return (int64_t)timegm(&tm) * 1000 + ms;
}

static void check_time(const char *text, int64_t expected_ms, int expected_offset_min)
{
	int64_t ms = 77;
	int offset_min = 77;

	print_message("  \"%s\"\n", text);
	assert_int_equal(quantity_rfc3339(text, &ms, &offset_min), QUANTITY_OK);
	assert_int_equal(ms, expected_ms);
	assert_int_equal(offset_min, expected_offset_min);
}

static void check_no_time(const char *text, enum quantity_outcome outcome)
{
	int64_t ms = 77;
	int offset_min = 77;

	print_message("  \"%s\"\n", text);
	assert_int_equal(quantity_rfc3339(text, &ms, &offset_min), outcome);
	assert_int_equal(ms, 77);
	assert_int_equal(offset_min, 77);
}

static void test_times(void **state)
{
	(void)state;
	check_time("2026-11-25T13:45:30.5+01:00", utc_ms(2026, 11, 25, 12, 45, 30, 500), 60);
	/* RFC 3339, section 5.8, in other years */
	check_time("2025-04-12T23:20:50.52Z", utc_ms(2025, 4, 12, 23, 20, 50, 520), 0);
	check_time("2026-12-19T16:39:57-08:00", utc_ms(2026, 12, 20, 0, 39, 57, 0), -480);
	check_time("2027-01-01T12:00:27.87+00:20", utc_ms(2027, 1, 1, 11, 40, 27, 870), 20);
	/* A leap second that was (IERS Bulletin C 52), written for two zones. */
	check_time("2016-12-31T23:59:60Z", utc_ms(2016, 12, 31, 23, 59, 59, 0), 0);
	check_time("2016-12-31T15:59:60-08:00", utc_ms(2016, 12, 31, 23, 59, 59, 0), -480);
	check_time("2017-01-01T08:59:60.25+09:00", utc_ms(2016, 12, 31, 23, 59, 59, 250), 540);
	/* 5.6: T and Z may be lower case; any number of decimals */
	check_time("2026-11-25t13:45:30z", utc_ms(2026, 11, 25, 13, 45, 30, 0), 0);
	check_time("2026-11-25T13:45:30.123999999999999999999Z",
		   utc_ms(2026, 11, 25, 13, 45, 30, 123), 0);
	check_time("2026-11-25T13:45:30.09Z", utc_ms(2026, 11, 25, 13, 45, 30, 90), 0);
	/* 4.3: the local offset is not known */
	check_time("2026-11-25T13:45:30-00:00", utc_ms(2026, 11, 25, 13, 45, 30, 0), 0);
	check_time("2024-02-29T00:00:00+14:00", utc_ms(2024, 2, 28, 10, 0, 0, 0), 840);
	check_time("2026-11-25T13:45:30+05:45", utc_ms(2026, 11, 25, 8, 0, 30, 0), 345);
	check_time("2026-11-25T13:45:30+23:59", utc_ms(2026, 11, 24, 13, 46, 30, 0), 1439);
	check_time("2026-11-25T13:45:30-23:59", utc_ms(2026, 11, 26, 13, 44, 30, 0), -1439);
	/* our range, in UTC */
	check_time("2000-01-01T00:00:00Z", utc_ms(2000, 1, 1, 0, 0, 0, 0), 0);
	check_time("1999-12-31T23:30:00-00:30", utc_ms(2000, 1, 1, 0, 0, 0, 0), -30);
	check_time("2199-12-31T23:59:59.999Z", utc_ms(2199, 12, 31, 23, 59, 59, 999), 0);
	check_time("2200-01-01T00:59:59+01:00", utc_ms(2199, 12, 31, 23, 59, 59, 0), 60);
}

static void test_times_out_of_range(void **state)
{
	(void)state;
	/* RFC 3339, section 5.8: well formed, long before any pup of ours */
	check_no_time("1985-04-12T23:20:50.52Z", QUANTITY_OUT_OF_RANGE);
	check_no_time("1996-12-19T16:39:57-08:00", QUANTITY_OUT_OF_RANGE);
	check_no_time("1990-12-31T23:59:60Z", QUANTITY_OUT_OF_RANGE);
	check_no_time("1990-12-31T15:59:60-08:00", QUANTITY_OUT_OF_RANGE);
	check_no_time("1937-01-01T12:00:27.87+00:20", QUANTITY_OUT_OF_RANGE);
	check_no_time("1999-12-31T23:59:59.999Z", QUANTITY_OUT_OF_RANGE);
	check_no_time("2000-01-01T00:29:59+00:30", QUANTITY_OUT_OF_RANGE);
	check_no_time("2200-01-01T00:00:00Z", QUANTITY_OUT_OF_RANGE);
	check_no_time("2199-12-31T23:30:00-00:30", QUANTITY_OUT_OF_RANGE);
	check_no_time("0000-02-29T00:00:00Z", QUANTITY_OUT_OF_RANGE); /* year 0 is a leap year */
	check_no_time("0400-02-29T00:00:00Z", QUANTITY_OUT_OF_RANGE);
	check_no_time("1599-12-31T23:59:59Z", QUANTITY_OUT_OF_RANGE);
	check_no_time("9999-12-31T23:59:59Z", QUANTITY_OUT_OF_RANGE);
}

static void test_malformed_times(void **state)
{
	static const char *const malformed[] = {
		"",
		"Z",
		"2026",
		"2026-11-25",
		"13:45",
		"2026-11-25T13:45Z",
		"2026-11-25T13:45:30",
		"2026-11-25 13:45:30Z",
		"2026-11-25T13:45:30 Z",
		" 2026-11-25T13:45:30Z",
		"2026-11-25T13:45:30Z ",
		"2026-11-25T13:45:30Zulu",
		"2026-11-25T13:45:30ZZ",
		"2026-11-25T13:45:30.Z",
		"2026-11-25T13:45:30,5Z",
		"2026-11-25T13:45:30.5.5Z",
		"2026-11-25T13:45:30+0100",
		"2026-11-25T13:45:30+01",
		"2026-11-25T13:45:30+1:00",
		"2026-11-25T13:45:30+01:0",
		"2026-11-25T13:45:30+24:00",
		"2026-11-25T13:45:30+01:60",
		"2026-11-25T13:45:30+-1:00",
		"26-11-25T13:45:30Z",
		"02026-11-25T13:45:30Z",
		"2026-1-25T13:45:30Z",
		"2026-11-5T13:45:30Z",
		"2026-11-25T3:45:30Z",
		"20261125T134530Z",
		"-026-11-25T13:45:30Z",
		"2026-W48-3T13:45:30Z",
		"2026-11-25T13:4x:30Z",
		"2026-00-25T13:45:30Z",
		"2026-13-25T13:45:30Z",
		"2026-11-00T13:45:30Z",
		"2026-11-31T13:45:30Z",
		"2026-02-29T13:45:30Z",
		"2100-02-29T13:45:30Z",
		"0100-02-29T00:00:00Z",
		"2026-11-25T24:00:00Z",
		"2026-11-25T13:60:30Z",
		"2026-11-25T13:45:61Z",
		"2026-11-25T13:45:99Z",
		/* 5.7: a leap second ends a month, in UTC */
		"2026-11-25T13:45:60Z",
		"2016-12-31T23:59:60-08:00",
		"2026-11-25T23:59:60Z",
		"2016-12-31T22:59:60Z",
		"2017-01-01T00:59:60Z",
		"2017-01-01T00:00:60Z",
	};

	(void)state;
	for (size_t i = 0; i < N_OF(malformed); i++)
		check_no_time(malformed[i], QUANTITY_MALFORMED);
}

/* Each beginning of a good text is malformed, but the good text. Memory ends where the text does.
 */
static void test_cut_times(void **state)
{
	const char *good = "2026-11-25T13:45:30.5+01:00";

	(void)state;
	for (size_t n = 0; n < strlen(good); n++) {
		char *text = strndup(good, n);

		assert_non_null(text);
		check_no_time(text, QUANTITY_MALFORMED);
		free(text);
	}
}

static void test_utc(void **state)
{
	char text[QUANTITY_RFC3339_SIZE];

	(void)state;
	quantity_rfc3339_utc(text, utc_ms(2026, 11, 25, 12, 45, 30, 500));
	assert_string_equal(text, "2026-11-25T12:45:30.500Z");
	quantity_rfc3339_utc(text, 0);
	assert_string_equal(text, "1970-01-01T00:00:00.000Z");
	quantity_rfc3339_utc(text, -1);
	assert_string_equal(text, "1969-12-31T23:59:59.999Z");
	quantity_rfc3339_utc(text, INT64_MAX);
	assert_string_equal(text, "");
	quantity_rfc3339_utc(text, INT64_MIN);
	assert_string_equal(text, "");
}

static void test_utc_round_trip(void **state)
{
	(void)state;
	for (int64_t ms = utc_ms(2000, 1, 1, 0, 0, 0, 0); ms < utc_ms(2200, 1, 1, 0, 0, 0, 0);
	     ms += INT64_C(86400000) + 3661007) {
		char text[QUANTITY_RFC3339_SIZE];
		int64_t back_ms;
		int offset_min;

		quantity_rfc3339_utc(text, ms);
		assert_int_equal(quantity_rfc3339(text, &back_ms, &offset_min), QUANTITY_OK);
		assert_int_equal(back_ms, ms);
		assert_int_equal(offset_min, 0);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_masses),
		cmocka_unit_test(test_refused_masses),
		cmocka_unit_test(test_hints),
		cmocka_unit_test(test_format),
		cmocka_unit_test(test_format_round_trip),
		cmocka_unit_test(test_times),
		cmocka_unit_test(test_times_out_of_range),
		cmocka_unit_test(test_malformed_times),
		cmocka_unit_test(test_cut_times),
		cmocka_unit_test(test_utc),
		cmocka_unit_test(test_utc_round_trip),
	};

	return cmocka_run_group_tests_name("weigh/quantity", tests, NULL, NULL);
}

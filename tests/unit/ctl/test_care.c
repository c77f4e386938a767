// SPDX-License-Identifier: MIT
/* Volumes, times and sentences as the commands at the bedside show them. */
#include "daemon/ctl/care.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <time.h>
#include <cmocka.h>

static void expect_ml(double ml, const char *text)
{
	json_t *object = json_pack("{s:f}", "ml", ml);
	char buffer[CARE_SIZE];

	assert_string_equal(care_ml(buffer, object, "ml"), text);
	json_decref(object);
}

static void test_ml(void **state)
{
	json_t *object = json_pack("{s:n, s:s}", "give_ml", "word", "3 mL");
	char buffer[CARE_SIZE];

	(void)state;
	expect_ml(3, "3 mL");
	expect_ml(0.1, "0.1 mL");
	expect_ml(0.3, "0.3 mL"); /* 0.29999999999999998 as a double */
	expect_ml(3.45, "3.45 mL");
	expect_ml(9.129, "9.12 mL"); /* down, never up; a third decimal is misread */
	expect_ml(12.5, "12.5 mL");
	expect_ml(0, "0 mL");
	expect_ml(-1, "-");
	assert_string_equal(care_ml(buffer, object, "give_ml"), "-");
	assert_string_equal(care_ml(buffer, object, "word"), "-");
	assert_string_equal(care_ml(buffer, object, "missing"), "-");
	json_decref(object);
}

static void test_words(void **state)
{
	struct ctl ctl = { .now_ms = INT64_C(1795610700000) }; /* 2026-11-25 12:45 UTC */
	json_t *object =
		json_pack("{s:s, s:s, s:s}", "at", "2026-11-25T12:40:00Z", "range", "Plain to 20.", "none", "");
	char buffer[CARE_SIZE], small[8];

	(void)state;
	(void)setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3", 1);
	tzset();
	assert_string_equal(care_when(buffer, &ctl, object, "at"), "13:40");
	assert_string_equal(care_when(buffer, &ctl, object, "range"), "-");
	assert_string_equal(care_clause(buffer, sizeof buffer, object, "range"), "Plain to 20");
	assert_string_equal(care_clause(small, sizeof small, object, "range"), "Plain t");
	assert_string_equal(care_clause(buffer, sizeof buffer, object, "none"), "");
	care_join(buffer, "4", "mL");
	assert_string_equal(buffer, "4 mL");
	care_join(buffer, "4mL", NULL);
	assert_string_equal(buffer, "4mL");
	json_decref(object);
}

static void test_volume(void **state)
{
	const struct command command = { "dose", "give", "WHO VOLUME", "", NULL };
	struct ctl ctl = { .command = &command };

	(void)state;
	assert_true(care_volume(&ctl, "VOLUME", NULL));
	assert_true(care_volume(&ctl, "VOLUME", "0.4 mL"));
	assert_true(care_volume(&ctl, "VOLUME", "0,4mL"));
	assert_false(care_volume(&ctl, "VOLUME", "4"));
	assert_false(care_volume(&ctl, "VOLUME", "4 l"));
	assert_false(care_volume(&ctl, "VOLUME", ".4mL"));
	assert_false(care_volume(&ctl, "VOLUME", "1,000 mL"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_ml),
		cmocka_unit_test(test_words),
		cmocka_unit_test(test_volume),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

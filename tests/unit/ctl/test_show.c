// SPDX-License-Identifier: MIT
/* Masses and gains for people, and the levels of concerns. */
#include "daemon/ctl/level.h"
#include "daemon/ctl/show.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <cmocka.h>

static void check_gain(int64_t mg, int64_t u_mg, enum quantity_unit unit, const char *plus_minus, const char *text)
{
	char buffer[SHOW_SIZE];

	assert_string_equal(show_gain(buffer, mg, u_mg, unit, plus_minus), text);
}

/* JCGM 100:2008, 7.2.6: at most two significant digits of an uncertainty, and the estimate to the same place. */
static void test_gain(void **state)
{
	(void)state;
	check_gain(27700, 8900, QUANTITY_GRAMS, "+-", "+28 +- 9 g");
	check_gain(27700, 8900, QUANTITY_GRAMS, NULL, "+28 g");
	check_gain(34040, 11520, QUANTITY_GRAMS, "+-", "+34 +- 12 g");
	check_gain(5240, 830, QUANTITY_GRAMS, "+-", "+5.2 +- 0.8 g");
	check_gain(-5240, 1999, QUANTITY_GRAMS, "+-", "-5.2 +- 2.0 g");
	check_gain(-5240, 2000, QUANTITY_GRAMS, "+-", "-5 +- 2 g");
	/* what rounds to nothing has no sign */
	check_gain(-300, 5200, QUANTITY_GRAMS, "+-", "0 +- 5 g");
	check_gain(300, 5200, QUANTITY_GRAMS, "+-", "0 +- 5 g");
	check_gain(-40, 1000, QUANTITY_GRAMS, NULL, "0.0 g");
	check_gain(0, 0, QUANTITY_GRAMS, NULL, "0.0 g");
	/* NIST SP 811, appendix B.8: 1 oz is 28.349 523 125 g */
	check_gain(28350, 8505, QUANTITY_OUNCES, "+-", "+1.0 +- 0.3 oz");
	check_gain(-14175, 567, QUANTITY_OUNCES, "+-", "-0.50 +- 0.02 oz");
	check_gain(-300, 5200, QUANTITY_OUNCES, "+-", "0.0 +- 0.2 oz");
}

static void test_ends(void **state)
{
	char buffer[SHOW_SIZE];

	(void)state;
	(void)show_gain(buffer, INT64_MAX, INT64_MAX, QUANTITY_GRAMS, "+-");
	(void)show_gain(buffer, INT64_MIN, INT64_MAX, QUANTITY_OUNCES, "+-");
	assert_non_null(memchr(buffer, '\0', sizeof buffer));
	assert_string_equal(show_plus_minus(false), "+-");
	assert_string_equal(show_plus_minus(true), "\xc2\xb1");
}

static void test_heavy(void **state)
{
	char buffer[SHOW_SIZE];

	(void)state;
	assert_string_equal(show_heavy(buffer, 30000000, QUANTITY_GRAMS), "30 kg");
	assert_string_equal(show_heavy(buffer, 2250000, QUANTITY_GRAMS), "2.25 kg");
	assert_string_equal(show_heavy(buffer, 30000000, QUANTITY_OUNCES), "66.1 lb"); /* 66.14; SP 811: 453.592 37 g */
}

static void test_level(void **state)
{
	(void)state;
	assert_true(level_rank("vet") < level_rank("act"));
	assert_true(level_rank("act") < level_rank("look"));
	assert_true(level_rank("look") < LEVEL_RANKS);
	assert_string_equal(level_words("vet"), "CALL YOUR VET NOW");
	assert_string_equal(level_words("look"), "LOOK");
	/* of a newer daemon: never passed over */
	assert_int_equal(level_rank("alarm"), level_rank("vet"));
	assert_string_equal(level_words("alarm"), "alarm");
	assert_string_equal(level_words(""), "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_gain),
		cmocka_unit_test(test_ends),
		cmocka_unit_test(test_heavy),
		cmocka_unit_test(test_level),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

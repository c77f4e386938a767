// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/ctl/scale_fit.h"

static void test_words(void **state)
{
	char buffer[SCALE_FIT_SIZE];

	(void)state;
	assert_string_equal(
		scale_fit_words(buffer, 5000, QUANTITY_GRAMS),
		"steps of 5 g: enough for pups from 600 g on; a 300 g pup must be weighed 16 hours apart for a "
		"stall to show.");
	assert_string_equal(scale_fit_words(buffer, 1000, QUANTITY_GRAMS),
			    "steps of 1 g: enough for pups from 120 g on.");
	assert_string_equal(scale_fit_words(buffer, 2500, QUANTITY_GRAMS),
			    "steps of 2.5 g: enough for pups from 300 g on.");
	assert_non_null(strstr(scale_fit_words(buffer, 4536, QUANTITY_OUNCES), "0.16 oz")); /* 0.01 lb */
	assert_non_null(strstr(scale_fit_words(buffer, 0, QUANTITY_GRAMS), "weigh once"));
	(void)scale_fit_words(buffer, INT64_MAX, QUANTITY_GRAMS); /* absurd, but no harm */
}

static void test_offers(void **state)
{
	json_t *words = json_pack("[s, s, s, i]", "weight-scale", "body-composition", "something-new", 7);
	char buffer[64], small[24];

	(void)state;
	assert_string_equal(scale_fit_offer("weight-scale"), "Weight Scale Service");
	assert_string_equal(scale_fit_offer("bthome"), "broadcasts (BTHome)");
	scale_fit_offers(words, buffer, sizeof buffer);
	assert_string_equal(buffer, "Weight Scale Service, Body Composition Service, something-new");
	scale_fit_offers(words, small, sizeof small);
	assert_int_equal(strlen(small), sizeof small - 1);
	scale_fit_offers(NULL, buffer, sizeof buffer);
	assert_string_equal(buffer, "-");
	json_decref(words);
}

int main(void)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(test_words), cmocka_unit_test(test_offers) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/*
 * README.md, "Choosing a scale": each figure is reckoned anew with litter/fit, so that the text can't part from the
 * program. argv[1] is README.md.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "daemon/litter/fit.h"

static char section[16384];

static void read_section(const char *path)
{
	static char text[131072];
	FILE *file = fopen(path, "re");
	char *begin, *end;

	assert_non_null(file);
	text[fread(text, 1, sizeof text - 1, file)] = '\0';
	(void)fclose(file);
	begin = strstr(text, "\n## Choosing a scale\n");
	assert_non_null(begin);
	end = strstr(begin + 4, "\n## ");
	assert_non_null(end);
	assert_true((size_t)(end - begin) < sizeof section);
	memcpy(section, begin, (size_t)(end - begin));
	for (char *at = section; *at; at++) /* sentences go on across lines */
		if (*at == '\n' && at[1] != '|' && at[1] != '\n')
			*at = ' ';
}

static int64_t mg(double grams)
{
	return llround(grams * 1000);
}

/* Tenths of a gram, rounded down: a step that is named as enough must be. */
static int64_t down_to_tenth(int64_t milligrams)
{
	return milligrams / 100 * 100;
}

static void test_table(void **state)
{
	unsigned rows = 0;

	(void)state;
	for (const char *at = section; (at = strstr(at, "\n| ")); at++) {
		double pup, gain, step, bears;
		unsigned at_1, at_5, at_10;
		if (sscanf(at, "\n| %lf g | %lf g | %lf g | %u h | %u h | %u h | %lf kg |", &pup, &gain, &step, &at_1,
			   &at_5, &at_10, &bears) != 7)
			continue;
		rows++;
		assert_int_equal(mg(gain), mg(pup) / FIT_GAIN_DIVISOR);
		assert_int_equal(mg(step), down_to_tenth(fit_largest_step_mg(mg(pup))));
		assert_int_equal(at_1, fit_stall_hours(1000, mg(pup)));
		assert_int_equal(at_5, fit_stall_hours(5000, mg(pup)));
		assert_int_equal(at_10, fit_stall_hours(10000, mg(pup)));
		/* kilograms to a tenth, rounded up: it must bear that */
		assert_int_equal(llround(bears * 10), (fit_capacity_mg(mg(pup), 0) + 99999) / 100000);
	}
	assert_int_equal(rows, 6);
}

__attribute__((format(printf, 1, 2))) static void expect(const char *format, ...)
{
	char words[256];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(words, sizeof words, format, list);
	va_end(list);
	if (!strstr(section, words))
		fail_msg("README.md doesn't say \"%s\"", words);
}

static double tenths(int64_t milligrams)
{
	return (double)((milligrams + 50) / 100) / 10;
}

static void test_text(void **state)
{
	(void)state;
	expect("Reckoned with %d %%", 100 / FIT_GAIN_DIVISOR);
	expect("this takes %d hours at most", FIT_HOURS);
	expect("%d steps on", (int)fit_smallest_pup_mg(1));
	assert_int_equal(FIT_STEPS, 2);
	expect("should have gained two steps");
	expect("steps of 5 g (or 0.01 lb, 4.5 g): enough from %d g on", (int)(fit_smallest_pup_mg(5000) / 1000));
	expect("%.1f g is rounding at steps of 1 g, %.1f g at 5 g, and %.1f g at 10 g", tenths(fit_tell_mg(1000)),
	       tenths(fit_tell_mg(5000)), tenths(fit_tell_mg(10000)));
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(test_table), cmocka_unit_test(test_text) };

	if (argc != 2)
		return 2;
	read_section(argv[1]);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

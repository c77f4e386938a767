// SPDX-License-Identifier: MIT
/* What a step can tell, against sums that were made elsewhere. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdlib.h>
#include <stdbool.h>
#include "daemon/litter/fit.h"

/*
 * Expanded uncertainty (k = 2) of a difference of two readings, 2d/sqrt(6), in hundredths of a gram, and as part of the
 * 6 g that a 120 g pup gains in a day at 5 %, in whole per cent. Reckoned by hand from JCGM 100:2008, 4.3.7, when the
 * facts for this project were gathered, not by fit.c.
 */
static void test_table(void **state)
{
	static const struct {
		int64_t step_mg, u_cg, percent;
	} rows[] = {
		{ 100, 8, 1 },     { 500, 41, 7 },    { 1000, 82, 14 },
		{ 2000, 163, 27 }, { 5000, 408, 68 }, { 10000, 816, 136 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		int64_t tell_mg = fit_tell_mg(rows[i].step_mg);
		assert_true(llabs(tell_mg - 10 * rows[i].u_cg) <= 5);
		assert_int_equal((tell_mg * 100 + 3000) / 6000, rows[i].percent);
	}
}

/* 1 g is fine for a pup of 120 g, among the least birth weights that textbooks give for a breed, and 5 g isn't: as the
 * table above has it, a seventh of a day's gain and two thirds of it. The rest is proportion. */
static void test_smallest(void **state)
{
	(void)state;
	assert_int_equal(fit_smallest_pup_mg(1000), 120000);
	assert_int_equal(fit_smallest_pup_mg(5000), 600000);
	assert_int_equal(fit_smallest_pup_mg(10000), 1200000); /* kilograms of BTHome, 0.01 kg */
	assert_int_equal(fit_smallest_pup_mg(4536), 544320);   /* 0.01 lb */
	assert_int_equal(fit_largest_step_mg(120000), 1000);
	assert_int_equal(fit_largest_step_mg(119999), 999);
	assert_int_equal(fit_largest_step_mg(600000), 5000);
}

static void test_hours(void **state)
{
	(void)state;
	/* 300 g at 5 % a day: 0.625 g an hour; two steps of 5 g take 16 h */
	assert_int_equal(fit_stall_hours(5000, 300000), 16);
	assert_int_equal(fit_stall_hours(5000, 600000), FIT_HOURS);
	assert_int_equal(fit_stall_hours(5000, 599999), FIT_HOURS + 1); /* rounded up, never down */
	assert_int_equal(fit_stall_hours(1000, 300000), 4);             /* 3.2 h */
	assert_int_equal(fit_stall_hours(1000, 120000), 8);
	assert_int_equal(fit_stall_hours(10000, 120000), 80);
	assert_int_equal(fit_stall_hours(1, 1000000), 1);
}

/* Constant-rate growth and the fastest growth on record, as printed with the formula's source. */
static void test_capacity(void **state)
{
	(void)state;
	assert_int_equal(fit_capacity_mg(1000000, 0), 7653000); /* 7.6521 kg, up to whole grams */
	assert_int_equal(fit_capacity_mg(500000, 400000), 4227000);
	assert_int_equal(fit_capacity_mg(500000, -400000), 3827000);
}

static void test_edges(void **state)
{
	(void)state;
	assert_int_equal(fit_tell_mg(0), 0);
	assert_int_equal(fit_tell_mg(-5), 0);
	assert_int_equal(fit_smallest_pup_mg(0), 0);
	assert_int_equal(fit_largest_step_mg(0), 0);
	assert_int_equal(fit_largest_step_mg(119), 0);
	assert_int_equal(fit_stall_hours(0, 1), 0);
	assert_int_equal(fit_stall_hours(1, 0), 0);
	assert_int_equal(fit_stall_hours(INT64_MAX, 1), FIT_HOURS_MAX);
	assert_int_equal(fit_stall_hours(1000000000, 1), FIT_HOURS_MAX);
	assert_int_equal(fit_tell_mg(INT64_MAX), INT64_MAX);
	assert_int_equal(fit_smallest_pup_mg(INT64_MAX), INT64_MAX);
	assert_int_equal(fit_capacity_mg(0, 5), 0);
	assert_int_equal(fit_capacity_mg(INT64_MAX, 5), INT64_MAX);
	assert_int_equal(fit_capacity_mg(5, INT64_MAX), INT64_MAX);
}

/* As a scale shows it: to the nearest step, from any place within it. */
static int64_t shown(int64_t mass_mg, int64_t step_mg, int64_t phase_mg)
{
	return (mass_mg + phase_mg + step_mg / 2) / step_mg;
}

/*
 * The promise itself: at the hours given, a pup that gains 5 % a day always shows at least one step more than one that
 * stands still does wherever its mass lies within the step, and the readings of the latter don't differ at all; jitter
 * of half a step on one reading makes one step of difference at most.
 */
static void test_promise(void **state)
{
	static const int64_t steps_mg[] = { 100, 1000, 2000, 4536, 5000, 10000 };

	(void)state;
	for (size_t i = 0; i < sizeof steps_mg / sizeof *steps_mg; i++)
		for (int64_t pup_mg = 100000; pup_mg <= 1000000; pup_mg += 37001) {
			int64_t d = steps_mg[i], hours = fit_stall_hours(d, pup_mg);
			int64_t gain_mg = pup_mg * hours / (24 * FIT_GAIN_DIVISOR);
			assert_true(gain_mg + 1 >= 2 * d); /* whole milligrams: one may be lost */
			for (int64_t phase = 0; phase < d; phase += d / 50 + 1) {
				int64_t first = shown(pup_mg, d, phase);
				assert_true(shown(pup_mg + gain_mg + 1, d, phase) - first >= 2);
				for (int64_t jitter = -d / 2 + 1; jitter < d / 2; jitter += d / 9 + 1) {
					assert_true(llabs(shown(pup_mg + jitter, d, phase) - first) <= 1);
					assert_true(shown(pup_mg + gain_mg + 1 + jitter, d, phase) - first >= 1);
				}
			}
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_table),    cmocka_unit_test(test_smallest), cmocka_unit_test(test_hours),
		cmocka_unit_test(test_capacity), cmocka_unit_test(test_edges),    cmocka_unit_test(test_promise),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/*
 * Axes: what stands at their ticks. Steps of 1, 2 or 5 times a power of ten are common practice of scientific plots;
 * that a value lies where the ticks say is geometry.
 */
#include "daemon/ctl/plot.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static void expect(double lo, double hi, int most, double first, double step, int n, int decimals)
{
	struct plot_axis axis;

	plot_axis(&axis, PLOT_DECIMAL, lo, hi, most, 280, 0);
	assert_true(fabs(axis.first - first) < 1e-9);
	assert_true(fabs(axis.step - step) < 1e-9);
	assert_int_equal(axis.n, n);
	assert_int_equal(axis.decimals, decimals);
	assert_true(axis.lo <= lo && axis.hi >= hi);
}

static void test_decimal(void **state)
{
	(void)state;
	expect(271, 846, 9, 200, 100, 8, 0);
	expect(0.97, 2.31, 9, 0.8, 0.2, 9, 1);
	expect(0, 10, 6, 0, 2, 6, 0);
	expect(-3.2, 11, 6, -5, 5, 5, 0);
	expect(0.001, 0.0049, 6, 0.001, 0.001, 5, 3);
}

/* Whatever comes, ticks lie within, their values are evenly spread, and lo..hi fits in. */
static void test_any(void **state)
{
	static const double ends[] = { -1e6, -12.7, -0.3, 0, 1e-7, 0.3, 1, 99.5, 1234, 9e5 };
	const int n = sizeof ends / sizeof *ends;

	(void)state;
	for (int i = 0; i < n; i++) {
		for (int j = i; j < n; j++) {
			for (int kind = PLOT_DECIMAL; kind <= PLOT_DAYS; kind++) {
				struct plot_axis axis;
				double slack;
				plot_axis(&axis, (enum plot_kind)kind, ends[i], ends[j], 8, 50, 700);
				slack = 1e-9 * (axis.hi - axis.lo); /* roundings of a sum */
				assert_true(axis.lo < axis.hi && axis.lo <= ends[i] + slack &&
					    axis.hi >= ends[j] - slack);
				assert_true(axis.n >= (kind == PLOT_DECIMAL ? 2 : 1) && axis.n <= 9);
				for (int k = 0; k < axis.n; k++) {
					double at = plot_at(&axis, plot_tick(&axis, k));
					assert_true(at >= 50 - 1e-6 && at <= 700 + 1e-6);
				}
			}
		}
	}
}

static void test_unusable(void **state)
{
	struct plot_axis axis;

	(void)state;
	plot_axis(&axis, PLOT_DECIMAL, NAN, INFINITY, 6, 0, 100);
	assert_true(axis.lo == 0 && axis.hi == 1);
	plot_axis(&axis, PLOT_DECIMAL, 304, 304, 6, 0, 100); /* one weighing */
	assert_true(axis.lo < 304 && axis.hi > 304);
	plot_axis(&axis, PLOT_DAYS, 0, 0, 8, 0, 100);
	assert_true(axis.hi - axis.lo >= 1);
	assert_false(signbit(plot_tick(&axis, 0)));
}

static void test_spread(void **state)
{
	double at[] = { 50, 10, 12, 11, 49 }, tight[] = { 5, 5, 5 };
	int order[5];

	(void)state;
	plot_spread(at, order, 5, 0, 60, 10);
	for (int i = 1; i < 5; i++)
		assert_true(at[order[i]] - at[order[i - 1]] >= 10 - 1e-9);
	assert_int_equal(order[0], 1);
	assert_int_equal(order[1], 3);
	assert_int_equal(order[2], 2);
	assert_true(at[order[4]] <= 60 && at[order[0]] >= 0);
	plot_spread(tight, order, 3, 0, 10, 20); /* no room: as far apart as there is */
	assert_true(fabs(tight[order[1]] - tight[order[0]] - 5) < 1e-9 && fabs(tight[order[2]] - 10) < 1e-9);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_decimal),
		cmocka_unit_test(test_any),
		cmocka_unit_test(test_unusable),
		cmocka_unit_test(test_spread),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

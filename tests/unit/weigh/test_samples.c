// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/weigh/samples.h"

static void test_keep_and_cut(void **state)
{
	struct samples s;

	(void)state;
	samples_begin(&s, 500000);
	for (int i = 0; i < 10; i++)
		samples_keep(&s, 500000 + 100 * i, 1000 * (uint64_t)i);
	assert_int_equal(s.n, 10);
	assert_true(s.off_mg[3] == 300);
	assert_true(samples_range(&s, 2) == 700);
	samples_cut(&s, 2, 9);
	assert_int_equal(s.n, 7);
	assert_true(s.off_mg[0] == 200 && s.off_mg[6] == 800);
	assert_int_equal(s.at_us[0], 2000);
	assert_int_equal(samples_mg(&s, s.off_mg[6]), 500800);
	samples_cut(&s, 7, 7);
	assert_int_equal(s.n, 0);
}

static void test_since(void **state)
{
	static const struct {
		uint64_t now_us, us;
		size_t first;
	} cases[] = { { 9000, 0, 9 },     { 9000, 2000, 7 },   { 9000, 2500, 7 },     { 9000, 9000, 0 },
		      { 9000, 99999, 0 }, { 12000, 1000, 10 }, { UINT64_MAX, 5, 10 }, { UINT64_MAX, UINT64_MAX, 0 } };
	struct samples s;

	(void)state;
	samples_begin(&s, 0);
	for (uint64_t i = 0; i < 10; i++)
		samples_keep(&s, 0, 1000 * i);
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		assert_int_equal(samples_since(&s, cases[i].now_us, cases[i].us), cases[i].first);
}

/* At the cap every other one goes; what stays is in order, from the whole time, evenly spread. */
static void test_full(void **state)
{
	struct samples s;

	(void)state;
	samples_begin(&s, 0);
	for (uint64_t i = 1; i <= 100000; i++) {
		samples_keep(&s, (int64_t)i, i);
		assert_in_range(s.n, 1, SAMPLES_MAX);
		if (i == SAMPLES_MAX)
			assert_int_equal(s.n, SAMPLES_MAX);
	}
	assert_in_range(s.n, SAMPLES_MAX / 2, SAMPLES_MAX);
	for (size_t i = 1; i < s.n; i++)
		assert_int_equal(s.at_us[i] - s.at_us[i - 1], s.every);
	for (size_t i = 0; i < s.n; i++)
		assert_true(s.off_mg[i] == (double)s.at_us[i]); /* each with its own time */
	assert_true(s.at_us[0] <= s.every);
	assert_true(s.at_us[s.n - 1] + s.every > 100000);
}

static void test_extremes(void **state)
{
	struct samples s;

	(void)state;
	assert_int_equal(samples_apart_mg(INT64_MAX, INT64_MIN), INT64_MAX);
	assert_int_equal(samples_apart_mg(INT64_MIN, INT64_MAX), INT64_MIN);
	assert_int_equal(samples_apart_mg(-3, 4), -7);
	samples_begin(&s, INT64_MAX);
	assert_int_equal(samples_mg(&s, 1e300), INT64_MAX);
	assert_int_equal(samples_mg(&s, -7.5), INT64_MAX - 7); /* halves go up */
	samples_keep(&s, INT64_MIN, 0);
	assert_true(s.off_mg[0] == -9e15);
	samples_begin(&s, INT64_MIN);
	assert_int_equal(samples_mg(&s, -1), INT64_MIN);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_keep_and_cut),
		cmocka_unit_test(test_since),
		cmocka_unit_test(test_full),
		cmocka_unit_test(test_extremes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* The filter and smoother by what must hold of any; tests/external/check_trend.R compares them with R's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/trend.h"
#include "tests/unit/litter/near.h"
#include <stdint.h>

static uint64_t seed = 1;

static double chance(void)
{
	seed = seed * 6364136223846793005U + 1442695040888963407U;
	return (double)(seed >> 11) / 9007199254740992.0;
}

static void assert_positive(const struct trend *t)
{
	assert_true(isfinite(t->level) && isfinite(t->rate));
	assert_true(t->ll >= 0 && t->rr >= 0);
	assert_true(t->ll * t->rr - t->lr * t->lr >= -1e-9 * (t->ll * t->rr));
}

static void test_predict(void **state)
{
	const struct trend_noise none = { 0 }, some = { .q_level = 0.5, .q_rate = 0.3 };
	struct trend t = { .day = 1, .level = 2, .rate = 3, .ll = 4, .lr = 0.5, .rr = 1 };

	(void)state;
	trend_predict(&t, 3, &none);
	assert_near(t.level, 8, 1e-12);
	assert_near(t.ll, 4 + 2 * 2 * 0.5 + 4 * 1, 1e-12);
	assert_near(t.lr, 0.5 + 2, 1e-12);
	assert_near(t.rr, 1, 1e-12);
	trend_predict(&t, 2, &some); /* back: nothing */
	assert_near(t.day, 3, 0);
	assert_near(t.level, 8, 0);
	trend_predict(&t, NAN, &some);
	assert_near(t.level, 8, 0);
}

/* Two steps are one: gaps of days, however they are cut, make no difference. */
static void test_gaps(void **state)
{
	const struct trend_noise noise = { .q_level = 4e-6, .q_rate = 1e-5 };

	(void)state;
	for (int i = 0; i < 200; i++) {
		struct trend one = { .level = 5, .rate = 0.07, .ll = 1e-4, .lr = 1e-6, .rr = 4e-4 }, many = one;
		double day = 30 * chance();

		trend_predict(&one, day, &noise);
		for (int k = 1; k <= 10; k++)
			trend_predict(&many, day * k / 10, &noise);
		assert_near(one.level, many.level, 1e-12);
		assert_near(one.ll, many.ll, 1e-12);
		assert_near(one.lr, many.lr, 1e-12);
		assert_near(one.rr, many.rr, 1e-12);
	}
}

/* By hand: prior N(0, 4), measured 3 with variance 4: mean 1.5, variance 2. */
static void test_update(void **state)
{
	struct trend t = { .ll = 4, .rr = 1 }, before = t;
	struct trend_innovation test = trend_test(&t, 3, 4), done = trend_update(&t, 3, 4);

	(void)state;
	assert_near(t.level, 1.5, 1e-12);
	assert_near(t.ll, 2, 1e-12);
	assert_near(t.rr, before.rr, 1e-12);
	assert_near(test.nu, 3, 0);
	assert_near(test.s, 8, 0);
	assert_near(test.ln_density, done.ln_density, 0);
	/* dnorm(3, 0, sqrt(8), log = TRUE) of R 4.2.2 */
	assert_near(done.ln_density, -2.521159304044591, 1e-14);
}

/* The order of two measurements of one time doesn't matter, and neither makes anything less certain. */
static void test_invariants(void **state)
{
	const struct trend_noise noise = { .q_level = 1e-5, .q_rate = 1e-5 };
	struct trend t = { .level = 5, .rate = 0.07, .ll = 1, .rr = 1 };

	(void)state;
	for (int i = 0; i < 5000; i++) {
		double z = 5 + 10 * chance(), r = pow(10, -12 + 14 * chance()), other = 5 * chance();
		struct trend ab, ba;

		trend_predict(&t, t.day + 3 * chance(), &noise);
		ab = ba = t;
		(void)trend_update(&ab, z, r);
		assert_true(ab.ll <= t.ll * (1 + 1e-12) && ab.ll <= r * (1 + 1e-9) && ab.rr <= t.rr * (1 + 1e-9));
		(void)trend_update(&ab, other, 0.01);
		(void)trend_update(&ba, other, 0.01);
		(void)trend_update(&ba, z, r);
		assert_near(ab.level, ba.level, 1e-7 * (1 + fabs(ab.level)));
		assert_near(ab.ll, ba.ll, 1e-9);
		t = ab;
		assert_positive(&t);
	}
}

/* The smoothed knows at least as much as the filtered; without noise all days lie on one line. */
static void test_smooth(void **state)
{
	enum { N = 40 };
	const struct trend_noise noises[] = { { 0 }, { .q_level = 1e-3, .q_rate = 1e-3 } };

	(void)state;
	for (int kind = 0; kind < 2; kind++) {
		struct trend filtered[N], predicted[N], smoothed[N], t = { .ll = 100, .rr = 100 };

		for (int i = 0; i < N; i++) {
			trend_predict(&t, i == 0 ? 0 : t.day + 0.1 + chance(), &noises[kind]);
			predicted[i] = t;
			(void)trend_update(&t, 3 + 0.2 * t.day + chance(), 0.1);
			filtered[i] = smoothed[i] = t;
		}
		for (int i = N - 2; i >= 0; i--) {
			smoothed[i] = trend_smooth(&filtered[i], &predicted[i + 1], &smoothed[i + 1]);
			assert_positive(&smoothed[i]);
			assert_true(smoothed[i].ll <= filtered[i].ll * (1 + 1e-9));
			if (kind == 0) {
				assert_near(smoothed[i].rate, smoothed[N - 1].rate, 1e-6);
				assert_near(smoothed[i].level +
						    smoothed[i].rate * (smoothed[N - 1].day - smoothed[i].day),
					    smoothed[N - 1].level, 1e-5);
			}
		}
	}
}

/* Nothing known and no time between: what was filtered stays. */
static void test_smooth_nothing(void **state)
{
	struct trend nothing = { 0 }, got = trend_smooth(&nothing, &nothing, &nothing);

	(void)state;
	assert_near(got.level, 0, 0);
	assert_near(got.ll, 0, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_predict),    cmocka_unit_test(test_gaps),   cmocka_unit_test(test_update),
		cmocka_unit_test(test_invariants), cmocka_unit_test(test_smooth), cmocka_unit_test(test_smooth_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

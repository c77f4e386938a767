// SPDX-License-Identifier: MIT
/* How a litter begins: one reading of each, and what they say of its level. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/growth.h"
#include "daemon/litter/growth_priors.h"
#include "tests/unit/litter/near.h"

#define BORN_MS INT64_C(1700000000000)
#define PUPS 4

static const int64_t masses_mg[PUPS] = { 300000, 320000, 350000, 410000 };

static struct growth begun(size_t n, bool birth, int64_t born_ms, int64_t first_ms)
{
	struct growth growth;

	growth_init(&growth, PUPS, born_ms);
	for (size_t i = 0; i < n; i++) {
		struct growth_reading reading = { first_ms + (int64_t)(n - i) * 60000, masses_mg[i], 289, birth };
		assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
	}
	return growth;
}

/*
 * The level is the mean. Its variance is that of a mean of independent ones, their sum over n squared (JCGM 100:2008,
 * 5.1.2), and what all share isn't averaged out: growth_priors.h has its size, at birth, and fed. An animal's is what
 * the scale and its own stomach leave of it.
 */
static void test_level(void **state)
{
	(void)state;
	for (size_t n = 1; n <= PUPS; n++)
		for (int birth = 0; birth <= 1; birth++) {
			struct growth growth = begun(n, birth, BORN_MS, BORN_MS);
			double shared = birth ? GROWTH_BIRTH_SD : GROWTH_SHARED_SD, level = 0, variance = 0;
			for (size_t i = 0; i < n; i++) {
				double scale = 289.0 / (double)masses_mg[i];
				level += log((double)masses_mg[i] / 1000) / (double)n;
				variance += growth.animals[i].r / (double)(n * n);
				assert_true(growth.animals[i].r >= scale * scale);
				assert_true(growth.animals[i].r <=
					    scale * scale + 1e-12 + GROWTH_OWN_SD * GROWTH_OWN_SD);
			}
			assert_near(growth.now.level, level, 1e-3); /* some minutes of growth */
			assert_near(growth.now.ll, variance + shared * shared, 1e-15);
			assert_near(growth.now.day, 60000 / 86400e3, 1e-9); /* the first of them, who came last */
		}
}

/* One that was fed is enough for the round to share it. */
static void test_one_fed(void **state)
{
	struct growth growth;
	double variance = 0;

	(void)state;
	growth_init(&growth, PUPS, BORN_MS);
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_reading reading = { BORN_MS + (int64_t)i, masses_mg[i], 289, i != 1 };
		assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
		variance += growth.animals[i].r / (PUPS * PUPS);
	}
	assert_near(growth.now.ll, variance + GROWTH_SHARED_SD * GROWTH_SHARED_SD, 1e-15);
}

/* Where the age isn't known the curve can't be placed, and its rate is known less well. */
static void test_rate(void **state)
{
	struct growth known = begun(PUPS, true, BORN_MS, BORN_MS), unknown = begun(1, false, INT64_MIN, BORN_MS);

	(void)state;
	assert_near(known.now.rr, GROWTH_LITTER_RATE_SD * GROWTH_LITTER_RATE_SD, 1e-15);
	assert_near(unknown.now.rr, GROWTH_AGE_UNKNOWN_RATE_SD * GROWTH_AGE_UNKNOWN_RATE_SD, 1e-15);
}

/* A round's readings come in any order: the first one's time is no earlier than the round. */
static void test_same_time(void **state)
{
	struct growth growth = begun(PUPS, true, BORN_MS, BORN_MS);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_reading reading = { BORN_MS + INT64_C(43200000), masses_mg[i] + 12000, 289, false };
		assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_level),
		cmocka_unit_test(test_one_fed),
		cmocka_unit_test(test_rate),
		cmocka_unit_test(test_same_time),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/weigh/root.h"
#include "daemon/weigh/tare.h"

#define HOUR_MS INT64_C(3600000)
#define NOW_MS INT64_C(1795610730000)

/* Fixed seed: a failure comes again. xorshift64. */
static uint64_t random_state = UINT64_C(0x9e3779b97f4a7c15);

static uint64_t random_u64(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return random_state;
}

static void test_root_small(void **state)
{
	(void)state;
	/* Counted up by hand: the next root begins just after each perfect square. */
	for (uint64_t x = 0, root = 0; x < 100000; x++) {
		if (x > root * root)
			root++;
		assert_int_equal(root_up(x), root);
	}
}

static void test_root_large(void **state)
{
	(void)state;
	assert_int_equal(root_up(UINT64_MAX), INT64_C(1) << 32);
	for (int i = 0; i < 100000; i++) {
		uint64_t k = random_u64() % ROOT_PART_MAX + 2;

		assert_int_equal(root_up(k * k - 1), k);
		assert_int_equal(root_up(k * k), k);
		assert_int_equal(root_up(k * k + 1), k + 1);
	}
}

static void test_root_square(void **state)
{
	(void)state;
	assert_int_equal(root_square(3), 9);
	assert_int_equal(root_square(0), 0);
	assert_int_equal(root_square(-3), 0);
	assert_int_equal(root_square(INT64_MIN), 0);
	assert_int_equal(root_square(INT64_MAX), root_square(ROOT_PART_MAX));
	assert_true(root_square(ROOT_PART_MAX) <= UINT64_MAX / 4);
}

static void test_fresh(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 1444, .checked_ms = NOW_MS };

	(void)state;
	assert_int_equal(tare_u_mg(&tare, NOW_MS), 1444);
	assert_int_equal(tare_u_mg(&tare, NOW_MS - 1), 1444);
	assert_int_equal(tare_u_mg(&tare, NOW_MS - 100 * HOUR_MS), 1444);
	/* A millisecond adds 0.07 mg^2: more than nothing, so the next milligram. */
	assert_int_equal(tare_u_mg(&tare, NOW_MS + 1), 1445);
}

/* Pythagorean triples, so that the expected value owes nothing to a square root. */
static void test_creep(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 0, .checked_ms = NOW_MS };

	(void)state;
	assert_int_equal(tare_u_mg(&tare, NOW_MS + HOUR_MS), 500);
	assert_int_equal(tare_u_mg(&tare, NOW_MS + 4 * HOUR_MS), 1000);
	assert_int_equal(tare_u_mg(&tare, NOW_MS + 9 * HOUR_MS), 1500);
	assert_int_equal(tare_u_mg(&tare, NOW_MS + HOUR_MS / 4), 250);
	tare.u_mg = 1200; /* 5-12-13 */
	assert_int_equal(tare_u_mg(&tare, NOW_MS + HOUR_MS), 1300);
	tare.u_mg = 2000; /* 3-4-5 */
	assert_int_equal(tare_u_mg(&tare, NOW_MS + 9 * HOUR_MS), 2500);
}

static void test_creep_ends(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 0, .checked_ms = NOW_MS };
	int64_t end_ms = NOW_MS + TARE_CREEP_MAX_H * HOUR_MS;

	(void)state;
	/* 500 * sqrt(72) = 4242.64 */
	assert_int_equal(tare_u_mg(&tare, end_ms), 4243);
	assert_int_equal(tare_u_mg(&tare, end_ms + 1), 4243);
	assert_int_equal(tare_u_mg(&tare, end_ms + 10000 * HOUR_MS), 4243);
	/* 500 * sqrt(71) = 4213.07 */
	assert_int_equal(tare_u_mg(&tare, end_ms - HOUR_MS), 4214);
}

static void test_extremes(void **state)
{
	struct tare tare = { .mass_mg = 0, .u_mg = -5, .checked_ms = INT64_MIN };

	(void)state;
	assert_int_equal(tare_u_mg(&tare, INT64_MAX), 4243);
	tare.checked_ms = INT64_MAX;
	assert_int_equal(tare_u_mg(&tare, INT64_MIN), 0);
	tare.u_mg = INT64_MAX;
	assert_int_equal(tare_u_mg(&tare, 0), ROOT_PART_MAX);
}

static void test_never_falls(void **state)
{
	(void)state;
	for (int i = 0; i < 20000; i++) {
		struct tare tare = {
			.u_mg = (int64_t)(random_u64() % 20000),
			.checked_ms = NOW_MS,
		};
		int64_t early_ms = NOW_MS + (int64_t)(random_u64() % (100 * (uint64_t)HOUR_MS));
		int64_t late_ms = early_ms + (int64_t)(random_u64() % (uint64_t)HOUR_MS);

		assert_true(tare_u_mg(&tare, early_ms) >= tare.u_mg);
		assert_true(tare_u_mg(&tare, late_ms) >= tare_u_mg(&tare, early_ms));
		assert_true(tare_u_mg(&tare, late_ms) <= tare.u_mg + 4243);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_root_small),
		cmocka_unit_test(test_root_large),
		cmocka_unit_test(test_root_square),
		cmocka_unit_test(test_fresh),
		cmocka_unit_test(test_creep),
		cmocka_unit_test(test_creep_ends),
		cmocka_unit_test(test_extremes),
		cmocka_unit_test(test_never_falls),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* The limits of drop.h, which has their sources, at their ends. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/drop.h"
#include "tests/unit/litter/near.h"

#define HOUR_MS INT64_C(3600000)
#define DAY_MS (24 * HOUR_MS)

/* 5 and 10 %, by one 7 and 10; from day 21 on 8 and 13, by one 9 and 13; an unknown age as the youngest. */
static void test_limits(void **state)
{
	static const struct {
		int64_t age_ms;
		double act, vet, step, big_step;
	} rows[] = {
		{ -1, 5, 10, 7, 10 },          { 0, 5, 10, 7, 10 },         { 21 * DAY_MS - 1, 5, 10, 7, 10 },
		{ 21 * DAY_MS, 8, 13, 9, 13 }, { INT64_MAX, 8, 13, 9, 13 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		const struct drop_limits *limits = drop_limits(rows[i].age_ms);
		assert_near(limits->act, rows[i].act, 0);
		assert_near(limits->vet, rows[i].vet, 0);
		assert_near(limits->step, rows[i].step, 0);
		assert_near(limits->big_step, rows[i].big_step, 0);
		assert_true(limits->from_ms <= (rows[i].age_ms < 0 ? 0 : rows[i].age_ms));
	}
}

/* From an hour to sixty, ends included; not what is later, nor what no clock gives. */
static void test_comparable(void **state)
{
	const int64_t now = INT64_C(1700000000000);

	(void)state;
	assert_false(drop_is_comparable(now - HOUR_MS + 1, now));
	assert_true(drop_is_comparable(now - HOUR_MS, now));
	assert_true(drop_is_comparable(now - 60 * HOUR_MS, now));
	assert_false(drop_is_comparable(now - 60 * HOUR_MS - 1, now));
	assert_false(drop_is_comparable(now + HOUR_MS, now));
	assert_false(drop_is_comparable(INT64_MIN, now));
	assert_false(drop_is_comparable(INT64_MAX, -now));
}

/* By hand: 400 to 380 g is 5 %; each known to 3 and 4 g, the difference is to 5 (JCGM 100, 5.1.2), and twice that is
 * left out: 10 of 400 g, 2.5 %. */
static void test_surely(void **state)
{
	(void)state;
	assert_near(drop_surely_pct(400000, 0, 380000, 0), 5, 1e-12);
	assert_near(drop_surely_pct(400000, 3000, 380000, 4000), 2.5, 1e-12);
	assert_near(drop_surely_pct(400000, 3000, 400000, 4000), -2.5, 1e-12);
	assert_near(drop_surely_pct(400000, 0, 440000, 0), -10, 1e-12);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_limits),
		cmocka_unit_test(test_comparable),
		cmocka_unit_test(test_surely),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

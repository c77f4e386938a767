// SPDX-License-Identifier: MIT
/* Which weighings of a litter are one round, whatever their order, and what opens and ends one. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <string.h>
#include "daemon/litter/curve.h"
#include "daemon/litter/growth.h"
#include "daemon/litter/growth_priors.h"
#include "tests/unit/litter/near.h"

#define BORN_MS INT64_C(1700000000000)
#define MIN_MS INT64_C(60000)
#define HOUR_MS (60 * MIN_MS)
#define DAY_MS (24 * HOUR_MS)
#define PUPS 4

static double grams(size_t pup, int64_t age_ms)
{
	return (300 + 20 * (double)pup) * exp(curve_gain(0, (double)age_ms / (double)DAY_MS));
}

static enum growth_outcome weigh(struct growth *growth, size_t pup, int64_t age_ms, double g)
{
	const struct growth_reading reading = { BORN_MS + age_ms, (int64_t)(1000 * g), 289, false };

	return growth_take(growth, pup, &reading);
}

static void take(struct growth *growth, size_t pup, int64_t age_ms)
{
	assert_int_equal(weigh(growth, pup, age_ms, grams(pup, age_ms)), GROWTH_TAKEN);
}

static struct growth born(size_t n)
{
	struct growth growth;

	growth_init(&growth, PUPS, BORN_MS);
	for (size_t i = 0; i < n; i++)
		take(&growth, i, 0);
	return growth;
}

/* GROWTH_ROUND_MS from one weighing to the next, forwards and backwards. */
static void test_chain(void **state)
{
	static const int64_t forwards[PUPS] = { 0, 80, 160, 249 }, backwards[PUPS] = { 249, 160, 80, 0 };

	(void)state;
	for (int back = 0; back <= 1; back++) {
		struct growth growth = born(PUPS);
		for (size_t i = 0; i < PUPS; i++)
			take(&growth, i, 3 * DAY_MS + MIN_MS * (back ? backwards : forwards)[i]);
		assert_int_equal(growth.round_first_ms, BORN_MS + 3 * DAY_MS);
		assert_int_equal(growth.round_ms, BORN_MS + 3 * DAY_MS + 249 * MIN_MS);
		for (size_t i = 0; i < PUPS; i++)
			assert_true(growth.animals[i].weighed);
	}
	/* 90 minutes before the first of them was another round */
	struct growth growth = born(PUPS);
	take(&growth, 0, 3 * DAY_MS + 100 * MIN_MS);
	take(&growth, 1, 3 * DAY_MS + 20 * MIN_MS);
	assert_int_equal(weigh(&growth, 2, 3 * DAY_MS - 70 * MIN_MS, 400), GROWTH_LATE);
	take(&growth, 2, 3 * DAY_MS - 70 * MIN_MS + 1);
}

/* One reading of each is the beginning, for 36 hours. */
static void test_beginning(void **state)
{
	struct growth growth = born(1);

	(void)state;
	take(&growth, 1, 36 * HOUR_MS - 1);
	assert_false(growth.following);
	take(&growth, 2, 36 * HOUR_MS);
	assert_true(growth.following && growth.animals[2].joined);
}

/* Twice at one time is twice: the second opens a round. */
static void test_twice_at_once(void **state)
{
	struct growth growth = born(PUPS);

	(void)state;
	take(&growth, 0, 3 * DAY_MS);
	take(&growth, 1, 3 * DAY_MS);
	take(&growth, 1, 3 * DAY_MS);
	assert_true(growth.animals[1].weighed && !growth.animals[0].weighed);
	assert_int_equal(growth.animals[1].readings, 3);
}

/* One that comes when the others have begun opens a round as well: the litter is looked at on that day. */
static void test_newcomer_opens(void **state)
{
	struct growth growth = born(2);

	(void)state;
	take(&growth, 2, 3 * DAY_MS);
	assert_near(growth.round_day, 3, 1e-9);
	assert_near(growth.now.day, 3, 1e-9);
}

/* Alone it was the litter. With a littermate it deviates from it: by nothing so far, at a rate as unknown as anybody's.
 */
static void test_no_longer_alone(void **state)
{
	struct growth growth = born(1);

	(void)state;
	for (int64_t day = 2; day <= 4; day++)
		take(&growth, 0, day * DAY_MS);
	assert_true(growth.animals[0].before.day < 1); /* as at birth */
	take(&growth, 1, 4 * DAY_MS + MIN_MS);
	assert_near(growth.animals[0].before.rr, GROWTH_ANIMAL_RATE_SD * GROWTH_ANIMAL_RATE_SD, 1e-15);
	assert_near(growth.animals[0].before.ll, 0, 0);
	assert_near(growth.animals[0].before.day, growth.before.day, 0);
	assert_true(growth.before.day > 2);
}

/* Who isn't of the litter has no part in its rounds. */
static void test_beside_another(void **state)
{
	struct growth other = born(PUPS);

	(void)state;
	take(&other, 0, 3 * DAY_MS);
	for (size_t n = 1; n < PUPS; n++) {
		struct growth litter, beside;
		growth_init(&litter, n, BORN_MS);
		beside = litter;
		for (int64_t day = 0; day <= 4; day++)
			for (size_t i = 0; i < n; i++) {
				beside.animals[n] = other.animals[0]; /* weighed, in the present round */
				take(&litter, i, day * DAY_MS);
				take(&beside, i, day * DAY_MS);
			}
		for (size_t i = 0; i < n; i++) {
			struct growth_state a, b;
			assert_true(growth_at(&litter, i, BORN_MS + 4 * DAY_MS, &a));
			assert_true(growth_at(&beside, i, BORN_MS + 4 * DAY_MS, &b));
			assert_near(a.ln_g, b.ln_g, 0);
			assert_near(a.rate, b.rate, 0);
			assert_near(a.u_ln_g, b.u_ln_g, 0);
			assert_near(a.u_rate, b.u_rate, 0);
		}
	}
}

/* Days later far below, as a pup that dries out may be: it isn't marked, and pulls no farther than the limit lets it.
 */
static void test_alone_far_below(void **state)
{
	struct growth growth = born(1), before;

	(void)state;
	for (int64_t day = 1; day <= 6; day++)
		take(&growth, 0, day * DAY_MS);
	before = growth;
	assert_int_equal(weigh(&growth, 0, 10 * DAY_MS, 0.62 * grams(0, 6 * DAY_MS)), GROWTH_TAKEN);
	assert_true(growth.now.level < before.now.level);
	assert_true(before.now.level - growth.now.level < 0.25);
}

#define ALL PUPS

/* Weighed twice a day up to a day; all gain so much a day more than the curve, and one of them (ALL: all) nothing from
 * a day on. */
static struct growth raised(int64_t days, double faster, size_t who, int64_t stops_day)
{
	struct growth growth = born(PUPS);

	for (int64_t hours = 12; hours <= 24 * days; hours += 12)
		for (size_t i = 0; i < PUPS; i++) {
			bool stopped = (who == ALL || who == i) && hours > 24 * stops_day;
			int64_t age_ms = hours * HOUR_MS, grown_ms = stopped ? stops_day * DAY_MS : age_ms;
			(void)weigh(&growth, i, age_ms,
				    grams(i, grown_ms) * exp(faster * (double)grown_ms / (double)DAY_MS));
		}
	return growth;
}

static struct growth_state state_of(const struct growth *growth, size_t pup, int64_t day)
{
	struct growth_state ret;

	assert_true(growth_at(growth, pup, BORN_MS + day * DAY_MS, &ret));
	return ret;
}

/* A litter that gains five points a day more than the curve, and one of it that stopped: two days on it still weighs
 * what it weighed, whatever its littermates gained meanwhile. */
static void test_stopped_stays(void **state)
{
	struct growth growth = raised(9, 0.05, 2, 5);

	(void)state;
	for (int64_t day = 9; day <= 11; day++) {
		struct growth_state stopped = state_of(&growth, 2, day), other = state_of(&growth, 1, day);
		assert_true(stopped.p_stall > 0.9);
		assert_near(stopped.rate, 0, 0.01);
		assert_near(stopped.ln_g, log(grams(2, 5 * DAY_MS)) + 0.25, 0.03);
		assert_near(other.ln_g, log(grams(1, day * DAY_MS)) + 0.05 * (double)day, 0.03);
	}
}

/* p_before: either of both had stopped before the newest weighings, so neither hadn't. */
static void test_stopped_before(void **state)
{
	(void)state;
	for (size_t who = 2; who <= ALL; who += ALL - 2)
		for (int64_t days = 1; days <= 12; days++) {
			struct growth growth = raised(days, 0, who, 5);
			for (size_t i = 0; i < PUPS; i++) {
				double p = state_of(&growth, i, days).p_before;
				assert_true(p >= 0 && p <= 1);
				assert_true(days < 12 || (who == ALL || who == i ? p > 0.9 : p < 0.1));
			}
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_chain),           cmocka_unit_test(test_beginning),
		cmocka_unit_test(test_twice_at_once),   cmocka_unit_test(test_newcomer_opens),
		cmocka_unit_test(test_no_longer_alone), cmocka_unit_test(test_beside_another),
		cmocka_unit_test(test_alone_far_below), cmocka_unit_test(test_stopped_before),
		cmocka_unit_test(test_stopped_stays),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

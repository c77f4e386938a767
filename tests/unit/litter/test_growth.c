// SPDX-License-Identifier: MIT
/* The growth of litters that were made up: what the model must hold to, whatever its priors. How well it does is
 * tests/bench/growth's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/curve.h"
#include "daemon/litter/growth.h"
#include "tests/unit/litter/near.h"
#include <stdlib.h>
#include <string.h>

#define PUPS 6
#define HOUR_MS INT64_C(3600000)
#define DAY_MS (24 * HOUR_MS)
#define BORN_MS INT64_C(1700000000000)
#define LIST_MAX 512

static uint64_t seed;

static double chance(void)
{
	seed = seed * 6364136223846793005U + 1442695040888963407U;
	return (double)(seed >> 11) / 9007199254740992.0;
}

/* About normal, by twelve of chance. */
static double scatter(double sd)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += chance();
	return sd * sum;
}

struct entry {
	size_t animal;
	struct growth_reading reading;
};

struct list {
	size_t n;
	struct entry of[LIST_MAX];
};

static void add(struct list *list, size_t animal, double day, double g, bool birth)
{
	list->of[list->n++] =
		(struct entry){ animal,
				{ .at_ms = BORN_MS + (int64_t)(day * (double)DAY_MS) + (int64_t)animal * 60000,
				  .mass_mg = (int64_t)(g * 1000),
				  .u_mg = 289,
				  .birth = birth } };
}

/* Of 300 to 400 g, on the curve, twice a day; 1 % of gut fill of each, 2 % shared. */
static double grams(size_t pup, double day)
{
	return (300 + 20 * (double)pup) * exp(curve_gain(0, day));
}

static struct list littered(size_t pups, double days)
{
	struct list list = { 0 };

	seed = 7;
	for (size_t i = 0; i < pups; i++)
		add(&list, i, 0, grams(i, 0), true);
	for (double day = 0.5; day <= days; day += 0.5) {
		double shared = scatter(0.02);
		for (size_t i = 0; i < pups; i++)
			add(&list, i, day, grams(i, day) * exp(shared + scatter(0.01)), false);
	}
	return list;
}

static struct growth built(const struct list *list, size_t pups)
{
	struct growth growth;

	growth_init(&growth, pups, BORN_MS);
	for (size_t i = 0; i < list->n; i++)
		assert_int_equal(growth_take(&growth, list->of[i].animal, &list->of[i].reading), GROWTH_TAKEN);
	return growth;
}

static int64_t at(double day)
{
	return BORN_MS + (int64_t)(day * (double)DAY_MS);
}

static struct growth_reading reading_of(size_t pup, double day, double g)
{
	struct list one = { 0 };

	add(&one, pup, day, g, false);
	return one.of[0].reading;
}

static struct growth_state state_of(const struct growth *growth, size_t pup, double day)
{
	struct growth_state state;

	assert_true(growth_at(growth, pup, at(day), &state));
	return state;
}

/* All that is handed out is the same but for rounding. */
static void assert_same(const struct growth *a, const struct growth *b, double day, double within)
{
	for (size_t i = 0; i < a->n; i++) {
		struct growth_state x = state_of(a, i, day), y = state_of(b, i, day);
		struct growth_prediction p, q;
		assert_near(x.ln_g, y.ln_g, within);
		assert_near(x.u_ln_g, y.u_ln_g, within);
		assert_near(x.rate, y.rate, within);
		assert_near(x.p_stall, y.p_stall, within);
		assert_near(x.p_loss, y.p_loss, within);
		assert_true(growth_predict(a, i, at(day + 0.5), &p) && growth_predict(b, i, at(day + 0.5), &q));
		assert_near(p.ln_g, q.ln_g, within);
		assert_near(p.sd, q.sd, within);
	}
}

static void test_empty(void **state)
{
	struct growth growth;
	struct growth_state got;
	struct growth_prediction expected;

	(void)state;
	growth_init(&growth, PUPS, BORN_MS);
	assert_false(growth_at(&growth, 0, at(1), &got));
	assert_false(growth_predict(&growth, 0, at(1), &expected));
	assert_false(growth_litter(&growth, at(1), &got));
	growth_init(&growth, 1000, BORN_MS);
	assert_int_equal(growth.n, GROWTH_ANIMALS);
}

/* Units: grams, days, shares. */
static void test_follows(void **state)
{
	struct list list = littered(PUPS, 10);
	struct growth growth = built(&list, PUPS);
	struct growth_state litter;

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_state s = state_of(&growth, i, 10);
		assert_near(s.ln_g, log(grams(i, 10)), 0.03);
		assert_true(fabs(s.ln_g - log(grams(i, 10))) < 3 * s.u_ln_g);
		assert_near(s.rate, curve_rate(10), 0.02);
		assert_true(s.p_stall + s.p_loss < 0.5);
		assert_int_equal(s.readings, 21);
		assert_int_equal(s.newest_ms, at(10) + (int64_t)i * 60000);
	}
	assert_true(growth_litter(&growth, at(10), &litter));
	assert_near(litter.rate, curve_rate(10), 0.02);
}

/* What is known gets vaguer with time. */
static void test_vaguer(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth growth = built(&list, PUPS);
	double u = 0, sd = 0;

	(void)state;
	for (double day = 6; day < 30; day += 1.7) {
		struct growth_prediction expected;
		struct growth_state s = state_of(&growth, 2, day);
		assert_true(growth_predict(&growth, 2, at(day), &expected));
		assert_true(s.u_ln_g > u && (day == 6 || expected.sd > sd)); /* on day 6 its round is still on */
		u = s.u_ln_g;
		sd = expected.sd;
	}
}

static void test_rebuilt(void **state)
{
	struct list list = littered(PUPS, 9);
	struct growth all = built(&list, PUPS), some;

	(void)state;
	for (size_t n = 1; n <= list.n; n += 7) { /* as it was at any time */
		struct list first = list;
		struct growth again;
		first.n = n;
		some = built(&first, PUPS);
		for (size_t i = n; i < list.n; i++)
			assert_int_equal(growth_take(&some, list.of[i].animal, &list.of[i].reading), GROWTH_TAKEN);
		again = some;
		assert_same(&all, &again, 9, 0);
	}
}

/* Birth weights, and each round, the other way round and shuffled. */
static void test_order(void **state)
{
	struct list list = littered(PUPS, 9), turned = list;
	struct growth a = built(&list, PUPS), b;

	(void)state;
	for (size_t from = 0; from + PUPS <= turned.n; from += PUPS)
		for (size_t i = 0; i + 1 < PUPS; i++) {
			size_t j = i + (size_t)(chance() * (double)(PUPS - i));
			struct entry keep = turned.of[from + i];
			turned.of[from + i] = turned.of[from + j];
			turned.of[from + j] = keep;
		}
	b = built(&turned, PUPS);
	assert_same(&a, &b, 9, 1e-9);
}

static void test_late(void **state)
{
	struct list list = littered(PUPS, 5);
	struct growth growth = built(&list, PUPS), before = growth;
	struct growth_reading old = reading_of(1, 4.2, 400), earlier = reading_of(1, -1, 300), newer;

	(void)state;
	assert_int_equal(growth_take(&growth, 1, &old), GROWTH_LATE);
	assert_int_equal(growth_take(&growth, 1, &earlier), GROWTH_LATE);
	assert_memory_equal(&growth, &before, sizeof growth); /* nothing has changed */
	newer = reading_of(1, 5.5, grams(1, 5.5));
	assert_int_equal(growth_take(&growth, 1, &newer), GROWTH_TAKEN);
	old = reading_of(2, 5.2, grams(2, 5.2)); /* would have been a round of its own */
	assert_int_equal(growth_take(&growth, 2, &old), GROWTH_LATE);
	newer = reading_of(2, 5.48, grams(2, 5.48)); /* the same round, half an hour before */
	assert_int_equal(growth_take(&growth, 2, &newer), GROWTH_TAKEN);
}

/* Whatever isn't late could have come in order: taken in any order, a list gives what it gives sorted. */
static int by_time(const void *a, const void *b)
{
	const struct entry *x = a, *y = b;

	return (x->reading.at_ms > y->reading.at_ms) - (x->reading.at_ms < y->reading.at_ms);
}

static void test_late_or_same(void **state)
{
	(void)state;
	seed = 99;
	for (int run = 0; run < 300; run++) {
		struct list taken = { 0 };
		struct growth growth, sorted;
		double day = 0;
		growth_init(&growth, PUPS, BORN_MS);
		for (int k = 0; k < 60; k++) {
			size_t pup = (size_t)(chance() * PUPS);
			double when = day + (chance() - 0.5) * 0.15; /* within two hours, either way */
			struct list one = { 0 };
			add(&one, pup, fmax(0, when), grams(pup, fmax(0, when)), false);
			if (growth_take(&growth, pup, &one.of[0].reading) != GROWTH_LATE)
				taken.of[taken.n++] = one.of[0];
			day += 0.1 * chance();
		}
		qsort(taken.of, taken.n, sizeof *taken.of, by_time);
		growth_init(&sorted, PUPS, BORN_MS);
		for (size_t i = 0; i < taken.n; i++)
			assert_int_not_equal(growth_take(&sorted, taken.of[i].animal, &taken.of[i].reading),
					     GROWTH_LATE);
		for (size_t i = 0; i < PUPS; i++) {
			struct growth_state x, y;
			assert_int_equal(growth.animals[i].known, sorted.animals[i].known);
			if (!growth_at(&growth, i, at(day + 1), &x) || !growth_at(&sorted, i, at(day + 1), &y))
				continue;
			assert_near(x.ln_g, y.ln_g, 1e-9);
			assert_near(x.rate, y.rate, 1e-9);
		}
	}
}

/* Far off once: marked, and as if it hadn't been. Twice: it weighs that. */
static void test_wild(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth growth = built(&list, PUPS);
	struct growth_state before = state_of(&growth, 3, 6.51), after;
	struct growth_reading off = reading_of(3, 6.5, 1.5 * grams(3, 6.5)), again;

	(void)state;
	assert_int_equal(growth_take(&growth, 3, &off), GROWTH_WILD);
	after = state_of(&growth, 3, 6.51);
	assert_true(after.wild);
	assert_near(after.ln_g, before.ln_g, 1e-9);
	assert_near(after.rate, before.rate, 1e-9);
	again = reading_of(3, 7, 1.5 * grams(3, 7));
	assert_int_equal(growth_take(&growth, 3, &again), GROWTH_TAKEN);
	after = state_of(&growth, 3, 7);
	assert_false(after.wild);
	assert_near(after.ln_g, log(1.5 * grams(3, 7)), 0.06);
	assert_true(after.p_stall + after.p_loss < 0.5);
}

/* Far off on one side, then on the other: both are marked. */
static void test_wild_twice(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth growth = built(&list, PUPS);
	struct growth_reading above = reading_of(3, 6.5, 1.5 * grams(3, 6.5)),
			      below = reading_of(3, 7, 0.5 * grams(3, 7)), right = reading_of(3, 7.5, grams(3, 7.5));

	(void)state;
	assert_int_equal(growth_take(&growth, 3, &above), GROWTH_WILD);
	assert_int_equal(growth_take(&growth, 3, &below), GROWTH_WILD);
	assert_int_equal(growth_take(&growth, 3, &right), GROWTH_TAKEN);
	assert_near(state_of(&growth, 3, 7.5).ln_g, log(grams(3, 7.5)), 0.06);
}

/* A wild one doesn't pull its littermates. */
static void test_wild_in_round(void **state)
{
	struct list list = littered(PUPS, 6.5);
	struct growth clean, hit;

	(void)state;
	list.n -= PUPS;
	clean = hit = built(&list, PUPS);
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_reading reading = reading_of(i, 6.5, (i == 0 ? 1.6 : 1) * grams(i, 6.5));
		assert_int_equal(growth_take(&hit, i, &reading), i == 0 ? GROWTH_WILD : GROWTH_TAKEN);
		if (i > 0)
			assert_int_equal(growth_take(&clean, i, &reading), GROWTH_TAKEN);
	}
	for (size_t i = 1; i < PUPS; i++)
		assert_near(state_of(&hit, i, 6.51).ln_g, state_of(&clean, i, 6.51).ln_g, 1e-9);
}

/* 300 and 400 g, mixed up in a full round: the one that gained too much is marked; the other may have dried out that
 * fast, or is marked too. The rest isn't. */
static void test_exchanged(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth growth = built(&list, PUPS);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		size_t whose = i == 0 ? PUPS - 1 : (i == PUPS - 1 ? 0 : i);
		struct growth_reading reading = reading_of(i, 6.5, grams(whose, 6.5));
		(void)growth_take(&growth, i, &reading);
	}
	assert_true(growth.animals[0].wild);
	assert_true(growth.animals[PUPS - 1].wild);
	for (size_t i = 1; i + 1 < PUPS; i++)
		assert_false(growth.animals[i].wild);
}

/* A pup that loses as fast as one can is believed, not marked. */
static void test_fast_loss(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth growth = built(&list, PUPS);

	(void)state;
	for (double day = 6.5; day <= 8; day += 0.5)
		for (size_t i = 0; i < PUPS; i++) {
			struct growth_reading reading =
				reading_of(i, day, i == 4 ? grams(4, 6) * exp(-0.06 * (day - 6)) : grams(i, day));
			assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
		}
	assert_true(state_of(&growth, 4, 8).p_loss > 0.9);
	assert_true(state_of(&growth, 4, 8).p_litter < 0.1);
	assert_true(state_of(&growth, 4, 8).rate < 0);
	assert_true(state_of(&growth, 4, 8).since_day >= 5 && state_of(&growth, 4, 8).since_day <= 7);
	for (size_t i = 0; i < PUPS; i++)
		assert_true(i == 4 || state_of(&growth, i, 8).p_loss + state_of(&growth, i, 8).p_stall < 0.5);
}

/* The dam's milk fails: what all share is an error once, and none when it lasts. */
static void test_whole_litter(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth growth = built(&list, PUPS);

	(void)state;
	for (double day = 6.5; day <= 8; day += 0.5)
		for (size_t i = 0; i < PUPS; i++) {
			struct growth_reading reading = reading_of(i, day, grams(i, 6) * exp(scatter(0.01)));
			(void)growth_take(&growth, i, &reading);
		}
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_state s = state_of(&growth, i, 8);
		assert_true(s.p_stall + s.p_loss > 0.5);
		assert_true(s.p_litter > 0.5 * (s.p_stall + s.p_loss));
	}
}

/* All of a round 5 % up, one of its own 5 %: the first is taken off, the second is the pup's. */
static void test_shared(void **state)
{
	struct list list = littered(PUPS, 6);
	struct growth all = built(&list, PUPS), one = all, none = all;

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_reading up = reading_of(i, 6.5, 1.05 * grams(i, 6.5)),
				      as_expected = reading_of(i, 6.5, grams(i, 6.5));
		assert_int_equal(growth_take(&all, i, &up), GROWTH_TAKEN);
		assert_int_equal(growth_take(&one, i, i == 2 ? &up : &as_expected), GROWTH_TAKEN);
		assert_int_equal(growth_take(&none, i, &as_expected), GROWTH_TAKEN);
	}
	assert_true(fabs(all.animals[2].now.level - none.animals[2].now.level) < 0.001);
	assert_true(one.animals[2].now.level - none.animals[2].now.level > 0.004);
}

static void test_single(void **state)
{
	struct list list = littered(1, 8);
	struct growth growth = built(&list, 1);
	struct growth_reading off = reading_of(0, 8.5, 2 * grams(0, 8.5)), again = reading_of(0, 9, 2 * grams(0, 9));

	(void)state;
	assert_near(state_of(&growth, 0, 8).ln_g, log(grams(0, 8)), 0.04);
	assert_near(state_of(&growth, 0, 8).rate, curve_rate(8), 0.02);
	assert_true(state_of(&growth, 0, 30).u_ln_g < 0.5);
	assert_int_equal(growth_take(&growth, 0, &off), GROWTH_WILD);
	assert_near(state_of(&growth, 0, 8.5).ln_g, log(grams(0, 8.5)), 0.04);
	assert_int_equal(growth_take(&growth, 0, &again), GROWTH_TAKEN);
	assert_near(state_of(&growth, 0, 9).ln_g, log(2 * grams(0, 9)), 0.06);
}

static void test_single_stalls(void **state)
{
	struct list list = littered(1, 6);
	struct growth growth = built(&list, 1);

	(void)state;
	for (double day = 6.5; day <= 9; day += 0.5) {
		struct growth_reading reading = reading_of(0, day, grams(0, 6));
		assert_int_equal(growth_take(&growth, 0, &reading), GROWTH_TAKEN);
	}
	assert_true(state_of(&growth, 0, 9).p_stall > 0.5);
}

/* One that comes a week later, to several and to one. */
static void test_joiner(void **state)
{
	(void)state;
	for (size_t pups = 1; pups < PUPS; pups += PUPS - 2) {
		struct list list = littered(pups, 7);
		struct growth growth = built(&list, PUPS);
		struct growth_prediction expected;
		for (double day = 7.5; day <= 11; day += 0.5)
			for (size_t i = 0; i <= pups; i++) {
				struct growth_reading reading = reading_of(i, day, grams(i, day) * exp(scatter(0.01)));
				assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
			}
		for (size_t i = 0; i <= pups; i++) {
			assert_near(state_of(&growth, i, 11).ln_g, log(grams(i, 11)), 0.04);
			assert_near(state_of(&growth, i, 11).rate, curve_rate(11), 0.025);
			assert_true(state_of(&growth, i, 11).u_ln_g < 0.05);
			assert_true(growth_predict(&growth, i, at(11.5), &expected) && expected.sd < 0.1);
		}
	}
}

/* No weighing for nine days: the next one is taken, and trusted. */
static void test_gap(void **state)
{
	struct list list = littered(PUPS, 4);
	struct growth growth = built(&list, PUPS);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_reading reading = reading_of(i, 13, grams(i, 13) * 1.1);
		assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
		assert_near(state_of(&growth, i, 13).ln_g, log(grams(i, 13) * 1.1), 0.06);
	}
}

static void test_no_birthday(void **state)
{
	struct list list = littered(PUPS, 10);
	struct growth growth;

	(void)state;
	growth_init(&growth, PUPS, INT64_MIN);
	for (size_t i = 6 * PUPS; i < list.n; i++) /* found on day 3 */
		assert_int_equal(growth_take(&growth, list.of[i].animal, &list.of[i].reading), GROWTH_TAKEN);
	for (size_t i = 0; i < PUPS; i++) {
		assert_near(state_of(&growth, i, 10).ln_g, log(grams(i, 10)), 0.04);
		assert_near(state_of(&growth, i, 10).rate, curve_rate(10), 0.03);
	}
}

/* Typed in whole ounces: 28.349523125 g (NIST SP 811, app. B.8, from memory), so known to 8.2 g. The first scale
 * reading moves what is believed nearly to it. */
static void test_ounces(void **state)
{
	struct growth growth;
	const double ounce_g = 28.349523125;

	(void)state;
	growth_init(&growth, PUPS, BORN_MS);
	for (size_t i = 0; i < PUPS; i++) {
		struct growth_reading birth = reading_of(i, 0, round(grams(i, 0) / ounce_g) * ounce_g);
		birth.birth = true;
		birth.u_mg = 8184;
		assert_int_equal(growth_take(&growth, i, &birth), GROWTH_TAKEN);
		assert_true(state_of(&growth, i, 0).u_ln_g > 8.184 / 450);
	}
	for (double day = 0.5; day <= 2; day += 0.5)
		for (size_t i = 0; i < PUPS; i++) {
			struct growth_reading reading = reading_of(i, day, grams(i, day));
			assert_int_equal(growth_take(&growth, i, &reading), GROWTH_TAKEN);
			assert_near(state_of(&growth, i, day).ln_g, log(grams(i, day)), 0.025);
		}
}

/* Gut fill is learned: from a litter that hardly has any, and from one that has much. */
static void test_gut(void **state)
{
	double learned[2];

	(void)state;
	for (int much = 0; much < 2; much++) {
		struct growth growth;
		growth_init(&growth, PUPS, BORN_MS);
		seed = 5;
		for (double day = 0; day <= 20; day += 0.5)
			for (size_t i = 0; i < PUPS; i++) {
				struct growth_reading reading =
					reading_of(i, day, grams(i, day) * exp(scatter(much ? 0.03 : 0.005)));
				(void)growth_take(&growth, i, &reading);
			}
		learned[much] = sqrt(growth.own_var);
	}
	assert_true(learned[0] < 0.011);
	assert_true(learned[1] > 0.024 && learned[1] < 0.036);
}

static void assert_sane(const struct growth *growth, size_t pup, int64_t at_ms)
{
	struct growth_state s;
	struct growth_prediction expected;

	if (!growth_at(growth, pup, at_ms, &s))
		return;
	assert_true(isfinite(s.ln_g) && isfinite(s.u_ln_g) && s.u_ln_g >= 0);
	assert_true(isfinite(s.rate) && isfinite(s.u_rate) && s.u_rate >= 0);
	assert_true(s.p_stall >= 0 && s.p_loss >= 0 && s.p_stall + s.p_loss <= 1 + 1e-12);
	assert_true(s.p_litter >= 0 && s.p_litter <= s.p_stall + s.p_loss + 1e-12);
	assert_true(growth_predict(growth, pup, at_ms, &expected));
	assert_true(isfinite(expected.ln_g) && isfinite(expected.sd) && expected.sd > 0);
	assert_true(growth_litter(growth, at_ms, &s) && isfinite(s.rate));
}

/* Any masses, uncertainties and times, the utmost included. */
static void test_absurd(void **state)
{
	static const int64_t extremes[] = { INT64_MIN, INT64_MIN + 1, -1, 0, 1, 1000, INT64_MAX - 1, INT64_MAX };

	(void)state;
	seed = 3;
	for (int run = 0; run < 400; run++) {
		struct growth growth;
		int64_t at_ms = BORN_MS;
		growth_init(&growth, 1 + (size_t)(chance() * PUPS),
			    chance() < 0.3 ? extremes[(int)(chance() * 8)] : BORN_MS);
		for (int k = 0; k < 80; k++) {
			size_t pup = (size_t)(chance() * (double)growth.n);
			double wide = chance() < 0.5 ? 0.3 : 12;
			struct growth_reading reading = { .at_ms = at_ms,
							  .mass_mg = (int64_t)(3e5 * exp(scatter(wide))),
							  .u_mg = (int64_t)(chance() * 1e4),
							  .birth = chance() < 0.2 };
			if (chance() < 0.05)
				reading.at_ms = extremes[(int)(chance() * 8)];
			if (chance() < 0.05)
				reading.mass_mg = extremes[(int)(chance() * 8)];
			if (chance() < 0.05)
				reading.u_mg = llabs(extremes[2 + (int)(chance() * 6)]);
			(void)growth_take(&growth, pup, &reading);
			for (size_t i = 0; i < growth.n; i++) {
				assert_sane(&growth, i, reading.at_ms);
				assert_sane(&growth, i, at_ms);
			}
			at_ms += (int64_t)(chance() * (double)(chance() < 0.1 ? 400 * DAY_MS : DAY_MS));
		}
	}
}

static void test_no_mass(void **state)
{
	struct list list = littered(PUPS, 3);
	struct growth growth = built(&list, PUPS), before = growth;
	struct growth_reading nothing = reading_of(0, 3.5, 0);

	(void)state;
	assert_int_equal(growth_take(&growth, 0, &nothing), GROWTH_WILD);
	assert_memory_equal(&growth, &before, sizeof growth);
}

/* The same work at any time: nothing in the model grows. */
static void test_constant(void **state)
{
	struct list list = littered(PUPS, 30);
	struct growth growth = built(&list, PUPS);

	(void)state;
	for (size_t i = 0; i < PUPS; i++)
		assert_int_equal(growth.animals[i].stop.n, STOP_KEPT);
	assert_int_equal(growth.stop.n, STOP_KEPT);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_empty),        cmocka_unit_test(test_follows),
		cmocka_unit_test(test_vaguer),       cmocka_unit_test(test_rebuilt),
		cmocka_unit_test(test_order),        cmocka_unit_test(test_late),
		cmocka_unit_test(test_late_or_same), cmocka_unit_test(test_wild),
		cmocka_unit_test(test_wild_twice),   cmocka_unit_test(test_wild_in_round),
		cmocka_unit_test(test_exchanged),    cmocka_unit_test(test_fast_loss),
		cmocka_unit_test(test_whole_litter), cmocka_unit_test(test_shared),
		cmocka_unit_test(test_single),       cmocka_unit_test(test_single_stalls),
		cmocka_unit_test(test_joiner),       cmocka_unit_test(test_gap),
		cmocka_unit_test(test_no_birthday),  cmocka_unit_test(test_ounces),
		cmocka_unit_test(test_gut),          cmocka_unit_test(test_absurd),
		cmocka_unit_test(test_no_mass),      cmocka_unit_test(test_constant),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

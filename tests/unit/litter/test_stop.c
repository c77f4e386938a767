// SPDX-License-Identifier: MIT
/* Hypotheses of a stop, one trend at a time. Measured without luck: each lies where the truth does. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/stop.h"
#include "tests/unit/litter/near.h"

#define RATE 0.07
#define R 0.0004
#define WILD 0.01
static const struct trend_noise noise = { .q_level = 4e-6, .q_rate = 4e-6 };
static const struct stop_rates rates = { .rate = { [STOP_STALL] = 0, [STOP_LOSS] = -0.03 }, .variance = 1e-4 };

struct pup {
	struct trend now;
	struct stop stop;
};

static void weigh(struct pup *pup, double day, double z)
{
	struct trend_innovation innovation;

	trend_predict(&pup->now, day, &noise);
	innovation = trend_test(&pup->now, z, R);
	stop_take(&pup->stop, day, z, R, &rates, &noise, &innovation, WILD);
	(void)trend_update(&pup->now, z, R);
	stop_begin(&pup->stop, &pup->now);
}

/* Twice a day: gains to day 4, then goes on at a rate. */
static struct pup grown(double rate, double days)
{
	struct pup pup = { .now = { .level = 5, .rate = RATE, .ll = 1e-4, .rr = 1e-4 } };

	for (double day = 0.5; day <= 4 + days; day += 0.5)
		weigh(&pup, day, 5 + RATE * fmin(day, 4) + rate * fmax(0, day - 4));
	return pup;
}

static void test_none(void **state)
{
	struct stop stop = { 0 };

	(void)state;
	assert_true(isinf(stop_ln_odds(&stop, STOP_KINDS, 0.03)) && stop_ln_odds(&stop, STOP_KINDS, 0.03) < 0);
	assert_null(stop_likeliest(&stop, STOP_STALL));
}

static void test_gains(void **state)
{
	struct pup pup = grown(RATE, 6);

	(void)state;
	assert_int_equal(pup.stop.n, STOP_KEPT);
	assert_true(stop_ln_odds(&pup.stop, STOP_KINDS, 0.03) < 0);
}

static void test_tells(void **state)
{
	struct pup stall = grown(0, 2.5), loss = grown(-0.03, 2.5);

	(void)state;
	assert_true(stop_ln_odds(&stall.stop, STOP_KINDS, 0.03) > 0);
	assert_true(stop_ln_odds(&stall.stop, STOP_STALL, 0.03) > stop_ln_odds(&stall.stop, STOP_LOSS, 0.03));
	assert_true(fabs(stop_likeliest(&stall.stop, STOP_STALL)->since_day - 4) <= 0.5);
	assert_true(stop_ln_odds(&loss.stop, STOP_LOSS, 0.03) > stop_ln_odds(&loss.stop, STOP_STALL, 0.03));
	stall = grown(0, 1);
	loss = grown(-0.03, 1);
	assert_true(stop_ln_odds(&loss.stop, STOP_KINDS, 0.03) > stop_ln_odds(&stall.stop, STOP_KINDS, 0.03));
}

/* The odds of both kinds are those of each together, and go with the prior. */
static void test_odds(void **state)
{
	struct pup pup = grown(0, 1.5);
	double both = exp(stop_ln_odds(&pup.stop, STOP_KINDS, 0.03));

	(void)state;
	assert_near(both,
		    exp(stop_ln_odds(&pup.stop, STOP_STALL, 0.03)) + exp(stop_ln_odds(&pup.stop, STOP_LOSS, 0.03)),
		    1e-9 * both);
	assert_near(stop_ln_odds(&pup.stop, STOP_KINDS, 0.03) - stop_ln_odds(&pup.stop, STOP_KINDS, 0.01), log(3),
		    1e-9);
}

/* One wild weighing decides nothing, on whichever side, however far. */
static void test_one_wild(void **state)
{
	const double off[] = { -8, -1, -0.3, 0.3, 1, 8 };

	(void)state;
	for (size_t i = 0; i < sizeof off / sizeof *off; i++) {
		struct pup pup = grown(RATE, 0), hit = pup;

		weigh(&pup, 4.5, 5 + RATE * 4.5);
		weigh(&hit, 4.5, 5 + RATE * 4.5 + off[i]);
		assert_true(stop_ln_odds(&hit.stop, STOP_KINDS, 0.03) < 0);
		assert_true(fabs(stop_ln_odds(&hit.stop, STOP_KINDS, 0.03) -
				 stop_ln_odds(&pup.stop, STOP_KINDS, 0.03)) < 5);
	}
}

/* Certainty has a bound, so that going on again is seen. */
static void test_bound(void **state)
{
	struct pup pup = grown(0, 20);
	int weighings = 0;

	(void)state;
	for (size_t i = 0; i < pup.stop.n; i++)
		for (int kind = 0; kind < STOP_KINDS; kind++)
			assert_true(pup.stop.at[i].ln_ratio[kind] <= STOP_LN_MAX);
	for (double day = 24.5; stop_ln_odds(&pup.stop, STOP_KINDS, 0.03) > 0 && weighings < 20;
	     day += 0.5, weighings++)
		weigh(&pup, day, 5 + RATE * 4 + RATE * (day - 24));
	assert_true(weighings < 20);
}

/* Full, the older half gives way and the newest stay, in order. */
static void test_full(void **state)
{
	struct pup pup = grown(RATE, 30);

	(void)state;
	assert_int_equal(pup.stop.n, STOP_KEPT);
	for (size_t i = 1; i < STOP_KEPT; i++)
		assert_true(pup.stop.at[i].since_day > pup.stop.at[i - 1].since_day);
	for (size_t i = 0; i < STOP_KEPT / 2; i++)
		assert_near(pup.stop.at[STOP_KEPT - 1 - i].since_day, 34 - 0.5 * (double)i, 1e-9);
}

/* Up to a day: all of them by the newest, none before the first, and more the later. */
static void test_by(void **state)
{
	struct pup pup = grown(0, 2);
	double before = -INFINITY;

	(void)state;
	assert_near(stop_ln_odds_by(&pup.stop, 6, 0.03), stop_ln_odds(&pup.stop, STOP_KINDS, 0.03), 0);
	assert_true(isinf(stop_ln_odds_by(&pup.stop, pup.stop.at[0].since_day - 0.1, 0.03)));
	for (size_t i = 0; i < pup.stop.n; i++) {
		double odds = stop_ln_odds_by(&pup.stop, pup.stop.at[i].since_day, 0.03);
		assert_true(odds > before);
		before = odds;
	}
	/* the newest has a ratio of 1 for both kinds: it adds its prior odds and no more */
	assert_near(exp(before) - exp(stop_ln_odds_by(&pup.stop, 5.9, 0.03)), 0.03, 1e-9 * exp(before));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_none),     cmocka_unit_test(test_gains), cmocka_unit_test(test_tells),
		cmocka_unit_test(test_odds),     cmocka_unit_test(test_bound), cmocka_unit_test(test_full),
		cmocka_unit_test(test_one_wild), cmocka_unit_test(test_by),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

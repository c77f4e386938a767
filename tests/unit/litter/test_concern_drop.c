// SPDX-License-Identifier: MIT
/*
 * A pup that dries out: a loss of 5 % and more between weighings, told whatever the growth model takes its readings
 * for. The limits are ours (concern_drop.c); that a stomach holds about 4 % is Chastant & Mila 2019 (Anim Reprod Sci
 * 207:162, fig. 4), that 10 % are to be told at once the Dog Owner's Home Veterinary Handbook's, p. 493.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "daemon/litter/concern_drop.h"
#include "tests/unit/litter/test_concern.h"

#define U_MG 289 /* of a 1 g step */

/* One pup, 300 g at birth, weighed at these hours of age as so many grams. */
static void alone(struct made *made, const double (*weighings)[2], size_t n)
{
	one(made, 300000);
	for (size_t i = 0; i < n; i++)
		weigh(made, 0, weighings[i][0], (int64_t)llround(weighings[i][1] * 1000), U_MG);
}

/* What the log says by itself. */
static int drop_at(const struct made *made, double hours)
{
	struct concern_peers peers;
	struct concern_view view;
	struct concern_drop drop;

	concern_rules_peers(&made->litter, hour(hours), &peers);
	concern_rules_view(&made->litter, &peers, 0, hour(hours), &view);
	return concern_drop_of(&view, &drop) ? (int)drop.level : NEVER;
}

static int drop_of(const double (*weighings)[2], size_t n)
{
	struct made made;

	alone(&made, weighings, n);
	return drop_at(&made, weighings[n - 1][0] + 0.5);
}
#define DROP(...)                                                                                                      \
	drop_of((const double[][2]){ __VA_ARGS__ }, sizeof((const double[][2]){ __VA_ARGS__ }) / sizeof(double[2]))

/* From the third day on, weighed every 12 hours; the last figure is what it is about. */
static void test_limits(void **state)
{
	(void)state;
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 132, 385 }), NEVER); /* 3.75 % below 400 */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 132, 380.9 }),
			 NEVER); /* less than the scale leaves open */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 132, 379 }), CONCERN_ACT); /* 5.05 % surely */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 132, 350 }), CONCERN_ACT); /* 12.5 %, once */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 126, 352 }, { 132, 350 }), CONCERN_VET);
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 131.9, 352 }, { 132, 350 }),
			 CONCERN_VET); /* weighed again */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 126, 398 }, { 132, 350 }), CONCERN_ACT);
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 126, 352 }, { 132, 365 }),
			 CONCERN_ACT); /* mends */
	/* a reading without a mass says nothing, before and between */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 114, 0 }, { 120, 410 }, { 132, 379 }), CONCERN_ACT);
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 126, 0 }, { 132, 350 }), CONCERN_ACT);
	/* the one before is itself what is compared with: no second opinion */
	assert_int_equal(DROP({ 96, 390 }, { 108, 410 }, { 120, 400 }, { 132, 350 }), CONCERN_ACT);
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 410 }, { 126, 352 }, { 132, 405 }), NEVER);
}

/* Each of 5, 8, 10, 15 and 20 % in 12 hours from day 5 on, among littermates: told at the first or the second weighing,
 * a call by the third. The model alone was silent for those of 5 % and more. */
static void test_dries_out(void **state)
{
	static const double rates[] = { -0.1, -0.16, -0.2, -0.3, -0.4 };
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	for (size_t k = 0; k < LENGTH(rates); k++) {
		int level[3];
		five(pups, 350, 1);
		pups[2].stops_day = 5;
		pups[2].stopped_rate = rates[k];
		bear(&made, pups, 5, 0);
		raise_to(&made, SIM_BAND, pups, 5, 0.5, 5);
		assert_int_equal(level_of(&made, 24 * 5 + 1, CONCERN_LOSING, 2), NEVER);
		for (int i = 0; i < 3; i++) {
			double day = 5.5 + 0.5 * i;
			raise_to(&made, SIM_BAND, pups, 5, day, day);
			level[i] = level_of(&made, 24 * day + 1, CONCERN_LOSING, 2);
			for (size_t other = 0; other < 5; other++)
				assert_true(other == 2 ||
					    level_of(&made, 24 * day + 1, CONCERN_LOSING, other) == NEVER);
		}
		assert_true(level[0] >= CONCERN_LOOK || level[1] >= CONCERN_ACT);
		assert_true(k == 0 || level[1] >= CONCERN_ACT);
		assert_int_equal(level[2], CONCERN_VET);
	}
}

/* Weighed once a day, or for the second time: there is one to compare with. */
static void test_one_before(void **state)
{
	(void)state;
	assert_int_equal(DROP({ 96, 400 }, { 120, 375 }), NEVER); /* 6.25 % */
	assert_int_equal(DROP({ 96, 400 }, { 120, 371 }), CONCERN_LOOK);
	assert_int_equal(DROP({ 96, 400 }, { 120, 359 }), CONCERN_ACT);
	assert_int_equal(DROP({ 96, 400 }, { 156.5, 359 }), NEVER); /* over 60 h apart: the model's */
	assert_int_equal(DROP({ 96, 400 }, { 96.5, 359 }), NEVER);  /* the same weighing, done again */
}

/* One that was too high was another pup's. */
static void test_one_too_high(void **state)
{
	(void)state;
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 470 }, { 132, 420 }),
			 CONCERN_ACT); /* a look at it: 10.6 % below the one before */
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 470 }, { 132, 420 }, { 144, 430 }), NEVER);
	assert_int_equal(DROP({ 96, 390 }, { 108, 400 }, { 120, 440 }, { 132, 420 }), NEVER);
}

/* What newborns lose isn't held against them: not before hour 48, and of the first day not before hour 72. */
static void test_newborn(void **state)
{
	(void)state;
	assert_int_equal(DROP({ 6, 300 }, { 12, 300 }, { 24.5, 298 }, { 47, 274 }), NEVER);
	assert_int_equal(DROP({ 6, 300 }, { 12, 299 }, { 23, 298 }, { 50, 276 }), NEVER);
	assert_int_equal(DROP({ 6, 300 }, { 25, 300 }, { 36, 300 }, { 50, 276 }), CONCERN_ACT);
	assert_int_equal(DROP({ 20, 300 }, { 23, 300 }, { 48, 310 }, { 73, 280 }), CONCERN_ACT);
}

/* From day 21 on more is needed. */
static void test_older(void **state)
{
	const double h = 24 * 30;

	(void)state;
	assert_int_equal(DROP({ h, 2000 }, { h + 12, 2030 }, { h + 24, 2040 }, { h + 36, 1890 }), NEVER); /* 6.9 % */
	assert_int_equal(DROP({ h, 2000 }, { h + 12, 2030 }, { h + 24, 2040 }, { h + 36, 1860 }), CONCERN_ACT);
	assert_int_equal(DROP({ h, 2000 }, { h + 12, 2030 }, { h + 24, 2040 }, { h + 30, 1800 }, { h + 36, 1750 }),
			 CONCERN_VET);
	assert_int_equal(DROP({ h, 2000 }, { h + 24, 1830 }), NEVER);
	assert_int_equal(DROP({ h, 2000 }, { h + 24, 1810 }), CONCERN_LOOK);
	assert_int_equal(DROP({ h, 2000 }, { h + 24, 1730 }), CONCERN_ACT);
}

/* A coarse scale leaves more open: 5 g steps, 300 g. */
static void test_coarse(void **state)
{
	struct made made;

	(void)state;
	one(&made, 250000);
	weigh(&made, 0, 96, 295000, 1443); /* 5 g / sqrt(12), JCGM 100, 4.3.7 */
	weigh(&made, 0, 108, 300000, 1443);
	weigh(&made, 0, 120, 305000, 1443);
	weigh(&made, 0, 132, 285000, 1443); /* 15 g below 300 g, 4.1 g of them open: 3.6 % */
	assert_int_equal(drop_at(&made, 133), NEVER);
	weigh(&made, 0, 144, 280000, 1443);
	assert_int_equal(drop_at(&made, 145), CONCERN_ACT);
}

/* The limits and ages themselves, by a scale that leaves nothing open: of 500 and 1000 g a share is a whole number. */
static void test_at_the_ends(void **state)
{
	static const struct {
		double newest_h, before_h[3], before_g[3], grams;
		int level;
	} rows[] = {
		/* one before: 7 % are a look, 10 % worth doing something; from day 21 on 9 and 13 % */
		{ 120, { 108 }, { 500 }, 465, CONCERN_LOOK },
		{ 120, { 108 }, { 500 }, 465.001, NEVER },
		{ 120, { 108 }, { 500 }, 450, CONCERN_ACT },
		{ 120, { 108 }, { 500 }, 450.001, CONCERN_LOOK },
		/* two: 5 % */
		{ 120, { 96, 108 }, { 500, 500 }, 475, CONCERN_ACT },
		{ 120, { 96, 108 }, { 500, 500 }, 475.001, NEVER },
		/* and 10, the one just before being 5 below as well: a call */
		{ 120, { 96, 100, 110 }, { 500, 500, 475 }, 450, CONCERN_VET },
		{ 120, { 96, 100, 110 }, { 500, 500, 475 }, 450.001, CONCERN_ACT },
		{ 120, { 96, 100, 110 }, { 500, 500, 475.001 }, 450, CONCERN_ACT },
		/* twelve weeks, the end included */
		{ 24 * 84, { 24 * 84 - 12 }, { 1000 }, 800, CONCERN_ACT },
		{ 24 * 84 + 0.001, { 24 * 84 - 12 }, { 1000 }, 800, NEVER },
		/* hour 48, and of the first day hour 72 */
		{ 47.999, { 30 }, { 500 }, 400, NEVER },
		{ 48, { 30 }, { 500 }, 400, CONCERN_ACT },
		{ 71.999, { 23.999 }, { 500 }, 400, NEVER },
		{ 71.999, { 24 }, { 500 }, 400, CONCERN_ACT },
		{ 72, { 23.999 }, { 500 }, 400, CONCERN_ACT },
		/* at birth, when there is no age yet to speak of, and before it */
		{ 0, { -12 }, { 500 }, 400, NEVER },
	};
	struct made made;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		one(&made, 300000);
		for (size_t k = 0; k < 3 && rows[i].before_g[k] > 0; k++)
			weigh(&made, 0, rows[i].before_h[k], llround(1000 * rows[i].before_g[k]), 0);
		weigh(&made, 0, rows[i].newest_h, llround(1000 * rows[i].grams), 0);
		assert_int_equal(drop_at(&made, rows[i].newest_h), rows[i].level);
	}
	/* nothing weighed: what lies before in memory isn't asked */
	struct concern_reading held[] = { { hour(84), 500000, 0 }, { hour(96), 500000, 0 }, { hour(108), 400000, 0 } };
	one(&made, 300000);
	made.animals[0].readings = held + LENGTH(held);
	assert_int_equal(drop_at(&made, 109), NEVER);
}

/* The sentence has the numbers that the log has. */
static void test_text(void **state)
{
	struct concern found[FOUND];
	struct made made;
	size_t n;

	(void)state;
	alone(&made, (const double[][2]){ { 96, 390 }, { 108, 400 }, { 120, 410 }, { 126, 352 }, { 132, 350 } }, 5);
	n = concern_look(&made.litter, hour(132.5), found, FOUND);
	assert_true(n > 0);
	assert_int_equal(found[0].rule, CONCERN_LOSING);
	assert_non_null(strstr(found[0].text, "drops: 350 g, -50 g (-12.5 %) in 24 h; published growth +"));
	assert_null(strstr(found[0].text, "weigh it again"));
	for (size_t i = 0; i < n; i++) /* told once */
		assert_true(found[i].rule != CONCERN_NO_GAIN_24H);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_limits),      cmocka_unit_test(test_dries_out),
		cmocka_unit_test(test_one_before),  cmocka_unit_test(test_one_too_high),
		cmocka_unit_test(test_newborn),     cmocka_unit_test(test_older),
		cmocka_unit_test(test_coarse),      cmocka_unit_test(test_text),
		cmocka_unit_test(test_at_the_ends),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

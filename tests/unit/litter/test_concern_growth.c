// SPDX-License-Identifier: MIT
/*
 * The figures of concern_growth.c at their ends, which its head states: how sure, how often weighed, for how long, at
 * which ages. What the model believes is given here, not learned from a litter: that is test_concern.c's.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include "daemon/litter/concern_change.h"
#include "daemon/litter/concern_growth.h"
#include "tests/unit/litter/seen.h"

static int no_gain(struct seen *seen)
{
	return concern_growth_no_gain_24h(&seen->view, &seen->told) ? (int)seen->told.level : NEVER;
}

static int losing(struct seen *seen)
{
	return concern_growth_losing(&seen->view, &seen->told) ? (int)seen->told.level : NEVER;
}

/* Likelier than not: a look; 0.8: worth doing something; 0.95: a call. */
static void test_how_sure(void **state)
{
	static const struct {
		double p;
		int level;
	} rows[] = {
		{ 0.499, NEVER },        { 0.5, CONCERN_LOOK }, { 0.54, CONCERN_LOOK },
		{ 0.799, CONCERN_LOOK }, { 0.8, CONCERN_ACT },  { 0.87, CONCERN_ACT },
		{ 0.949, CONCERN_ACT },  { 0.95, CONCERN_VET }, { 0.999, CONCERN_VET },
	};
	struct seen seen;

	(void)state;
	WEIGHED(&seen, { 192, 500 }, { 204, 500 }, { 216, 500 });
	for (size_t i = 0; i < LENGTH(rows); i++) {
		look(&seen, 217, 192, rows[i].p, 0);
		assert_int_equal(no_gain(&seen), rows[i].level);
	}
}

/* A call wants two weighings since it stopped: the one at which it stopped is none, whatever the model's days round to;
 * and the newest half a day after it. */
static void test_confirmed(void **state)
{
	static const double fractions[] = { 0, 0.1, 0.3, 0.7, 1.1, 2.3, 5.9 };
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(fractions); i++) {
		double since = 192 + fractions[i];
		WEIGHED(&seen, { since - 24, 500 }, { since, 500 }, { since + 12.01, 500 });
		look(&seen, 217, since, 0.99, 0);
		assert_int_equal(no_gain(&seen), CONCERN_ACT);
		WEIGHED(&seen, { since - 24, 500 }, { since, 500 }, { since + 0.01, 500 }, { since + 12.01, 500 });
		look(&seen, 217, since, 0.99, 0);
		assert_int_equal(no_gain(&seen), CONCERN_VET);
	}
	WEIGHED(&seen, { 192, 500 }, { 198, 500 }, { 204, 500 });
	look(&seen, 217, 192, 0.99, 0);
	assert_int_equal(no_gain(&seen), CONCERN_VET);
	WEIGHED(&seen, { 192, 500 }, { 198, 500 }, { 203.99, 500 });
	look(&seen, 217, 192, 0.99, 0);
	assert_int_equal(no_gain(&seen), CONCERN_ACT);
	/* one that the model marked isn't one of those that fit */
	WEIGHED(&seen, { 192, 500 }, { 198, 500 }, { 204, 500 });
	look(&seen, 217, 192, 0.99, 0);
	seen.view.state.wild = true;
	assert_int_equal(no_gain(&seen), CONCERN_ACT);
	WEIGHED(&seen, { 192, 500 }, { 194, 500 }, { 198, 500 }, { 204, 500 });
	look(&seen, 217, 192, 0.99, 0);
	seen.view.state.wild = true;
	assert_int_equal(no_gain(&seen), CONCERN_VET);
	/* two, of which one is marked, are one that fits: what lies before them in memory isn't asked */
	struct concern_reading held[] = { { INT64_MAX, 500000, U_MG },
					  { hour(212), 500000, U_MG },
					  { hour(216), 500000, U_MG } };
	WEIGHED(&seen, { 212, 500 }, { 216, 500 });
	seen.made.animals[0].readings = held + 1;
	look(&seen, 217, 192, 0.99, 0);
	seen.view.state.wild = true;
	assert_int_equal(no_gain(&seen), CONCERN_ACT);
	/* a stop before the only two there are */
	WEIGHED(&seen, { 200, 500 }, { 212, 500 });
	look(&seen, 217, 192, 0.99, 0);
	assert_int_equal(no_gain(&seen), CONCERN_VET);
	WEIGHED(&seen, { 212, 500 });
	look(&seen, 217, 192, 0.99, 0);
	assert_int_equal(no_gain(&seen), CONCERN_ACT);
	/* without a time since when there is nothing to tell */
	look(&seen, 217, NAN, 0.99, 0);
	assert_int_equal(no_gain(&seen), NEVER);
	look(&seen, 217, 192, NAN, 0);
	assert_int_equal(no_gain(&seen), NEVER);
}

/* Hours 48 and 72 (Dog Owner's Home Veterinary Handbook, p. 493) to twelve weeks, both ends included; a loss that began
 * in the first day isn't held against a newborn before hour 72. An unknown age holds nothing back. */
static void test_ages(void **state)
{
	static const struct {
		double since, now;
		bool loses, stalls;
	} rows[] = {
		{ 30, 47.99, false, false },
		{ 30, 48, true, false },
		{ 24, 60, true, false },
		{ 23.99, 60, false, false },
		{ 23.99, 71.99, false, false },
		{ 30, 71.99, true, false },
		{ 23.99, 72, true, true },
		{ 24 * 83, 24 * 84, true, true },
		{ 24 * 83, 24 * 84 + 0.01, false, false },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++)
		for (int loses = 0; loses <= 1; loses++) {
			bool told = loses ? rows[i].loses : rows[i].stalls;
			double since = rows[i].since;
			WEIGHED(&seen, { since, 300 }, { since + 1, loses ? 298 : 300 },
				{ since + 13, loses ? 297 : 300 });
			look(&seen, rows[i].now, since, loses ? 0 : 0.99, loses ? 0.99 : 0);
			assert_int_equal(losing(&seen) != NEVER, told && loses);
			assert_int_equal(no_gain(&seen) != NEVER, told && !loses);
			seen.view.born_ms = INT64_MIN;
			assert_int_equal(losing(&seen) != NEVER, loses);
			assert_int_equal(no_gain(&seen) != NEVER, !loses);
			seen.view.born_ms = seen.view.now_ms; /* at this very moment: an age, and too young */
			assert_int_equal(losing(&seen), NEVER);
			assert_int_equal(no_gain(&seen), NEVER);
		}
}

/* What is told as a loss: the model's, three to one (VERDICT_LOSS_ODDS), if the log shows one or nothing; or 4 %,
 * and 1.5 % a day, whatever the model calls it. The 300 g are so that a drop isn't told: at most a gram in a step. */
static void test_loss_or_stall(void **state)
{
	static const struct {
		double p_stall, p_loss, days, to_g;
		bool loses;
	} rows[] = {
		{ 0.23, 0.75, 1, 499, true },  { 0.25, 0.75, 1, 499, false }, { 0.23, 0.75, 1, 500, false },
		{ 0.23, 0.75, 1, 501, false }, { 0.99, 0, 1, 480, true },     { 0.99, 0, 1, 480.5, false },
		{ 0.99, 0, 2.5, 480, true },   { 0.99, 0, 4, 470.5, false },  { 0.99, 0, 4, 469.5, true },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		double since = 240 - 24 * rows[i].days;
		WEIGHED(&seen, { since, 500 }, { 239.5, rows[i].to_g }, { 240, rows[i].to_g });
		look(&seen, 241, since, rows[i].p_stall, rows[i].p_loss);
		assert_int_equal(losing(&seen) != NEVER, rows[i].loses);
		assert_int_equal(no_gain(&seen) != NEVER, !rows[i].loses);
	}
	/* a stop that the log doesn't show: the nearest weighing before lies more than a day off */
	WEIGHED(&seen, { 190, 500 }, { 240, 500 }, { 252, 500 });
	look(&seen, 253, 215, 0.23, 0.75);
	assert_int_equal(losing(&seen), CONCERN_VET);
	assert_true(says(&seen, "loses: by all its weighings together; "));
	look(&seen, 253, 215, 0.75, 0.23);
	assert_int_equal(losing(&seen), NEVER);
	assert_int_equal(no_gain(&seen), CONCERN_VET);
	assert_true(says(&seen, "doesn't gain: by all its weighings together; "));
}

/* One of five that gained 8 % meanwhile: a quarter of that, 2 %, is "doesn't gain" still. */
static void test_verbs(void **state)
{
	static const struct {
		double to_g;
		const char *says;
	} rows[] = {
		{ 500, "doesn't gain: " },
		{ 503, "doesn't gain: 503 g, +3 g (+0.6 %) in 24 h; its littermates +8.0 %" },
		{ 510, "doesn't gain: " },
		{ 510.5, "gains too little: 510.5 g, +10.5 g (+2.1 %) in 24 h; its littermates +8.0 %" },
		{ 539, "gains too little: " },
		{ 541, "seems to have stopped gaining: " },
	};
	const int64_t births[] = { 300000, 300000, 300000, 300000, 300000 };
	struct seen seen;

	(void)state;
	for (size_t k = 0; k < LENGTH(rows); k++) {
		memset(&seen, 0, sizeof seen);
		born(&seen.made, births, 5, 0);
		for (size_t i = 0; i < 5; i++) {
			weigh(&seen.made, i, 192, 500000, U_MG);
			weigh(&seen.made, i, 216, i ? 540000 : (int64_t)llround(1000 * rows[k].to_g), U_MG);
		}
		for (size_t i = 0; i < 5; i++)
			seen.made.growth.animals[i].wild = false;
		look(&seen, 217, 192, 0.9, 0);
		assert_int_equal(no_gain(&seen), CONCERN_ACT);
		assert_true(says(&seen, rows[k].says));
		assert_int_equal(says(&seen, " that it has stopped gaining"), rows[k].to_g > 500);
		look(&seen, 217, 192, 0.6, 0);
		assert_int_equal(no_gain(&seen), CONCERN_LOOK);
		assert_true(says(&seen, "may have stopped gaining: ") && says(&seen, ": weigh it again"));
		assert_false(says(&seen, " that it has stopped gaining"));
	}
}

/* One littermate is compared with too. */
static void test_one_littermate(void **state)
{
	const int64_t births[] = { 300000, 300000 };
	struct seen seen;

	(void)state;
	memset(&seen, 0, sizeof seen);
	born(&seen.made, births, LENGTH(births), 0);
	for (size_t i = 0; i < LENGTH(births); i++) {
		weigh(&seen.made, i, 192, 500000, U_MG);
		weigh(&seen.made, i, 216, i ? 540000 : 500000, U_MG);
	}
	look(&seen, 217, 192, 0.9, 0);
	seen.view.state.wild = false;
	assert_int_equal(no_gain(&seen), CONCERN_ACT);
	assert_true(says(&seen, "in 24 h; its littermates +8.0 %"));
}

/* Told of the litter when it is at least as likely the litter's; one alone is the litter. */
static void test_own(void **state)
{
	struct seen seen;

	(void)state;
	WEIGHED(&seen, { 192, 500 }, { 204, 500 }, { 216, 500 });
	for (size_t twice = 1; twice <= 2; twice++) {
		look(&seen, 217, 192, 0.98, 0);
		seen.peers.twice = twice;
		seen.view.state.p_litter = 0.49;
		assert_int_equal(no_gain(&seen), twice < 2 ? CONCERN_VET : NEVER);
		seen.view.state.p_litter = 0.489;
		assert_int_equal(no_gain(&seen), CONCERN_VET);
	}
	seen.view.known = false;
	assert_int_equal(no_gain(&seen), NEVER);
}

/* The gravest of the three is told, and of one level the model's. A drop: 6 % in 12 h, test_concern_drop.c. */
static void test_one_of_three(void **state)
{
	struct seen seen;

	(void)state;
	WEIGHED(&seen, { 192, 500 }, { 204, 502 }, { 216, 466 }); /* 7 % below two: act */
	look(&seen, 217, 204, 0, 0.9);
	assert_int_equal(losing(&seen), CONCERN_ACT);
	assert_true(says(&seen, "loses: "));
	look(&seen, 217, 204, 0, 0.7);
	assert_int_equal(losing(&seen), CONCERN_ACT);
	assert_true(says(&seen, "drops: ") && says(&seen, ": weigh it again now"));
	assert_int_equal(no_gain(&seen), NEVER);
	look(&seen, 217, 204, 0, 0);
	assert_int_equal(losing(&seen), CONCERN_ACT);
	assert_true(says(&seen, "drops: "));
	/* the model takes it for a stall that began where the log shows no loss */
	WEIGHED(&seen, { 165, 475 }, { 180, 500 }, { 192, 502 }, { 216, 466 });
	for (double p = 0.7; p < 0.95; p += 0.2) {
		look(&seen, 217, 165, p, 0);
		assert_int_equal(no_gain(&seen), p > 0.8 ? CONCERN_ACT : NEVER);
		assert_int_equal(losing(&seen), p > 0.8 ? NEVER : CONCERN_ACT);
	}
}

/* ---- gains ---- */

/* Surely below, at 95 % one-sided (the normal quantile 1.645, any table): 5 % a day in week 1, 3.5 % after it (Small
 * Animal Clinical Nutrition, 5th ed., p. 292); below half a per cent it hardly gains. */
static void test_below_band(void **state)
{
	static const struct {
		double hours, pct, u;
		int level;
	} rows[] = {
		{ 100, 4.99, 0, CONCERN_LOOK },   { 100, 5.01, 0, NEVER },        { 167.9, 4.99, 0, CONCERN_LOOK },
		{ 168, 4.99, 0, NEVER },          { 168, 3.49, 0, CONCERN_LOOK }, { 168, 3.51, 0, NEVER },
		{ 100, 3, 0.0116, CONCERN_LOOK }, { 100, 3, 0.0118, NEVER },      { 100, 0.51, 0, CONCERN_LOOK },
		{ 100, 0.49, 0, CONCERN_ACT },    { 71.9, 0, 0, NEVER },          { 72, 0, 0, CONCERN_ACT },
		{ 24 * 28, 0, 0, NEVER },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		WEIGHED(&seen, { 60, 500 }, { 70, 500 });
		look(&seen, rows[i].hours, 60, 0.4999, 0);
		seen.view.state.rate = log(1 + rows[i].pct / 100);
		seen.view.state.u_rate = rows[i].u;
		assert_int_equal(concern_growth_below_band(&seen.view, &seen.told) ? (int)seen.told.level : NEVER,
				 rows[i].level);
		if (rows[i].level != NEVER)
			assert_true(
				says(&seen, rows[i].level == CONCERN_ACT ? "hardly gains, if at all: 0." : "gains "));
		if (rows[i].level == CONCERN_LOOK)
			assert_false(says(&seen, "hardly"));
		if (rows[i].u > 0 && rows[i].level == CONCERN_LOOK)
			assert_true(says(&seen, "gains 3.0 %/day, give or take 1.2; published "));
	}
	/* of three readings at least, of one that goes on, and not of one among a litter that is slow as a whole */
	look(&seen, 100, 60, 0, 0);
	assert_true(concern_growth_below_band(&seen.view, &seen.told));
	seen.view.state.readings = 2;
	assert_false(concern_growth_below_band(&seen.view, &seen.told));
	look(&seen, 100, 60, 0.5, 0);
	assert_false(concern_growth_below_band(&seen.view, &seen.told));
	look(&seen, 100, 60, 0, 0);
	seen.view.slow = true;
	assert_false(concern_growth_below_band(&seen.view, &seen.told));
}

/* 2 g a day for each kg of adult mass (facts, 2), to week 10: 40 g for 20 kg. */
static void test_adult_rate(void **state)
{
	static const struct {
		double day, gain_g, u_g;
		bool told;
	} rows[] = {
		{ 40, 39.9, 0, true }, { 40, 40, 0, false },      { 40, 36, 2.43, true },   { 40, 36, 2.44, false },
		{ 40, 0.2, 1, true },  { 40, 0.52, 1, true },     { 69.99, 39.9, 0, true }, { 70, 39.9, 0, false },
		{ 21, 39.9, 0, true }, { 20.99, 39.9, 0, false },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		WEIGHED(&seen, { 600, 2500 }, { 620, 2500 });
		seen.made.litter.adult_mg = 20000000;
		look(&seen, 24 * rows[i].day, 600, 0, 0);
		seen.view.verdict.gain_g_per_day = rows[i].gain_g;
		seen.view.verdict.u_gain_g_per_day = rows[i].u_g;
		assert_int_equal(concern_growth_adult_rate(&seen.view, &seen.told), rows[i].told);
		if (!rows[i].told)
			continue;
		assert_int_equal(seen.told.level, CONCERN_LOOK);
		assert_int_equal(says(&seen, "hardly gains, if at all: 0 g a day"), rows[i].gain_g < 0.5);
		assert_int_equal(says(&seen, "gains 1 g a day, give or take 1; "), rows[i].gain_g == 0.52);
		assert_true(says(&seen, "at least 40 g (2 g for each kg of an adult mass of 20 kg)"));
	}
	look(&seen, 24 * 40, 600, 0, 0);
	seen.view.verdict.gain_g_per_day = -5;
	seen.view.verdict.u_gain_g_per_day = 0;
	assert_true(concern_growth_adult_rate(&seen.view, &seen.told));
	seen.view.state.p_stall = 0.5; /* told as that */
	assert_false(concern_growth_adult_rate(&seen.view, &seen.told));
	seen.view.state.p_stall = 0;
	seen.made.litter.adult_mg = 0; /* not known */
	assert_false(concern_growth_adult_rate(&seen.view, &seen.told));
}

/* 25 % below the mean of three or more (Dog Owner's Home Veterinary Handbook, p. 493); fallen behind by 15 more than at
 * birth, in the first two weeks: worth doing something. */
static void test_behind(void **state)
{
	static const struct {
		double day, mass_g; /* beside three of 400 g: 276.92 g are 25 % below the mean of the four */
		int64_t birth_mg;   /* beside three of 300 g */
		int level;
		const char *says;
	} rows[] = {
		{ 10, 276.9, 300000, CONCERN_ACT, "; at birth it wasn't" },
		{ 10, 277.0, 300000, NEVER, "" },
		{ 13.99, 276.9, 300000, CONCERN_ACT, "; at birth it wasn't" },
		{ 14, 276.9, 300000, CONCERN_LOOK, "; at birth it wasn't" },
		{ 84, 276.9, 300000, CONCERN_LOOK, "; at birth it wasn't" },
		{ 84.01, 276.9, 300000, NEVER, "" },
		{ 10, 276.9, 263000, CONCERN_ACT, "; at birth it was 10 % below" },  /* 25.0 - 9.5 */
		{ 10, 276.9, 260000, CONCERN_LOOK, "; at birth it was 10 % below" }, /* 25.0 - 10.3 */
		{ 10, 276.9, 297920, CONCERN_ACT, "; at birth it was 1 % below" },   /* 0.52 */
		{ 10, 276.9, 297200, CONCERN_ACT, "; at birth it was 1 % below" },   /* 0.7 */
		{ 10, 276.9, 302800, CONCERN_ACT, "; at birth it was 1 % above" },
		{ 10, 276.9, 330000, CONCERN_ACT, "; at birth it was 7 % above" },
		{ 10, 276.9, 0, CONCERN_LOOK, "" },
	};
	struct seen seen;

	(void)state;
	for (size_t k = 0; k < LENGTH(rows); k++) {
		const int64_t births[] = { rows[k].birth_mg, 300000, 300000, 300000 };
		memset(&seen, 0, sizeof seen);
		born(&seen.made, births, 4, 0);
		for (size_t i = 0; i < 4; i++)
			weigh(&seen.made, i, 100, 300000, U_MG);
		look(&seen, 24 * rows[k].day, 0, 0, 0);
		for (size_t i = 0; i < 4; i++)
			seen.peers.mass_g[i] = i ? 400 : rows[k].mass_g;
		seen.view.verdict.mass_g = rows[k].mass_g;
		assert_int_equal(concern_growth_behind(&seen.view, &seen.told) ? (int)seen.told.level : NEVER,
				 rows[k].level);
		assert_true(rows[k].level == NEVER || says(&seen, rows[k].says));
		if (!*rows[k].says)
			assert_false(says(&seen, "at birth"));
		if (rows[k].level == NEVER)
			continue;
		seen.peers.mass_g[1] = 0;       /* three are a litter, two aren't */
		seen.view.verdict.mass_g = 268; /* of 359, the mean of those that weigh something */
		assert_true(concern_growth_behind(&seen.view, &seen.told));
		seen.view.known = false;
		assert_false(concern_growth_behind(&seen.view, &seen.told));
		seen.view.known = true;
		seen.view.n = 0; /* nothing was weighed yet */
		assert_false(concern_growth_behind(&seen.view, &seen.told));
		seen.view.n = 1;
		seen.view.verdict.mass_g = 100;
		assert_true(concern_growth_behind(&seen.view, &seen.told));
		seen.peers.mass_g[2] = 0;
		assert_false(concern_growth_behind(&seen.view, &seen.told));
	}
	/* a quarter to the last bit; and who isn't of the litter has no part in its mean */
	for (size_t i = 0; i < 5; i++)
		seen.peers.mass_g[i] = i < 4 ? 400 : 4000;
	seen.view.verdict.mass_g = 300;
	seen.view.born_ms = seen.view.now_ms - 10 * 24 * SIM_HOUR_MS;
	assert_true(concern_growth_behind(&seen.view, &seen.told));
	assert_true(says(&seen, "25 % below the litter's mean of 400 g"));
}

/* ---- the litter as a whole ---- */

/* A litter that was weighed thrice, of which the model believes with this probability that it stopped at an hour: by
 * the one hypothesis that it is left, as likely as that takes. */
static void litter_stopped(struct seen *seen, double since, double p, double g_per_h)
{
	const int64_t births[] = { 300000, 300000, 300000 };
	double low = -30, high = 30;
	struct growth *growth = &seen->made.growth;
	struct growth_state state;

	memset(seen, 0, sizeof *seen);
	born(&seen->made, births, 3, 0);
	for (double hours = 192; hours <= 216; hours += 12)
		for (size_t i = 0; i < 3; i++)
			weigh(&seen->made, i, hours, llround(500000 + 1000 * g_per_h * (hours - 192)), U_MG);
	stop_begin(&growth->stop, &growth->now);
	growth->stop.at[0] = growth->stop.at[growth->stop.n - 1];
	growth->stop.n = 1;
	growth->stop.at[0].since_day = since / 24;
	growth->stop.at[0].ln_ratio[STOP_LOSS] = -30;
	while (high - low > 1e-12) {
		double *ratio = &growth->stop.at[0].ln_ratio[STOP_STALL];
		*ratio = (low + high) / 2;
		assert_true(growth_litter(growth, hour(217), &state));
		if (state.p_stall + state.p_loss < p)
			low = *ratio;
		else
			high = *ratio;
	}
	growth->stop.at[0].ln_ratio[STOP_STALL] = high;
	concern_rules_peers(&seen->made.litter, hour(217), &seen->peers);
	concern_rules_view(&seen->made.litter, &seen->peers, SIZE_MAX, hour(217), &seen->view);
}

/* Where many pups speak 0.6 is worth doing something and 0.9 a call, if it lasts for half a day. */
static void test_litter(void **state)
{
	static const struct {
		double since, p;
		int level;
	} rows[] = {
		{ 192, 0.501, CONCERN_LOOK }, { 192, 0.599, CONCERN_LOOK },  { 192, 0.601, CONCERN_ACT },
		{ 192, 0.899, CONCERN_ACT },  { 192, 0.901, CONCERN_VET },   { 204, 0.99, CONCERN_VET },
		{ 204.1, 0.99, CONCERN_ACT }, { 204.1, 0.55, CONCERN_LOOK },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		litter_stopped(&seen, rows[i].since, rows[i].p, 0);
		assert_true(concern_growth_litter_slow(&seen.view, &seen.told));
		assert_int_equal(seen.told.level, rows[i].level);
		assert_true(says(&seen, rows[i].level == CONCERN_LOOK
						? "the whole litter may have stopped gaining: 0.0 % in"
						: "the whole litter doesn't gain: 0.0 % in"));
		assert_true(says(&seen, "(3 weighed); published growth +"));
	}
	/* less than likely: not that it stopped */
	litter_stopped(&seen, 192, 0.499, 0);
	assert_false(concern_growth_litter_slow(&seen.view, &seen.told) && says(&seen, "stopped"));
	/* two that were weighed twice are a litter, one isn't; nor before hour 72, nor after twelve weeks */
	/* 4 % and more are a loss, whatever the model calls it */
	litter_stopped(&seen, 192, 0.95, -1);
	assert_true(concern_growth_litter_slow(&seen.view, &seen.told));
	assert_true(says(&seen, "the whole litter loses: -4.8 % in 24 h (3 weighed); "));
	litter_stopped(&seen, 192, 0.95, 0);
	seen.peers.twice = 2;
	assert_true(concern_growth_litter_slow(&seen.view, &seen.told));
	seen.peers.twice = 1;
	assert_false(concern_growth_litter_slow(&seen.view, &seen.told));
	seen.peers.twice = 3;
	for (int k = 0; k < 5; k++) {
		static const double ages_h[] = { 0, 71.99, 72, 24 * 84, 24 * 84 + 0.01 };
		seen.view.born_ms = seen.view.now_ms - (int64_t)llround(ages_h[k] * (double)SIM_HOUR_MS);
		assert_int_equal(concern_growth_litter_slow(&seen.view, &seen.told), k == 2 || k == 3);
	}
}

/* A litter that goes on and gains too little is told with the model's own figures, whenever one asks. */
static void test_slow_litter(void **state)
{
	const int64_t births[] = { 300000, 300000, 300000 };
	struct growth_state now;
	struct seen seen;
	char figures[80];

	(void)state;
	memset(&seen, 0, sizeof seen);
	born(&seen.made, births, LENGTH(births), 0);
	for (int h = 6; h <= 240; h += 6) /* 2 % a day */
		for (size_t i = 0; i < LENGTH(births); i++)
			weigh(&seen.made, i, h, llround(300000 * exp(log(1.02) * h / 24)), U_MG);
	for (int h = 241; h <= 264; h++) {
		look(&seen, h, 192, 0, 0);
		assert_true(growth_litter(&seen.made.growth, hour(h), &now));
		assert_true(concern_growth_litter_slow(&seen.view, &seen.told));
		assert_int_equal(seen.told.level, CONCERN_ACT);
		(void)snprintf(figures, sizeof figures,
			       "the whole litter gains %.1f %%/day, give or take %.1f; published ",
			       100 * expm1(now.rate), 100 * now.u_rate);
		assert_true(says(&seen, figures));
	}
}

/* More animals than the model holds: those it has are compared, and no more. */
static void test_more_than_the_model_holds(void **state)
{
	struct concern_animal many[GROWTH_ANIMALS + 6];
	struct concern_change change;
	struct seen seen;

	(void)state;
	WEIGHED(&seen, { 192, 500 }, { 204, 500 }, { 216, 500 });
	for (size_t i = 0; i < LENGTH(many); i++)
		many[i] = seen.made.animals[0];
	seen.made.litter.animals = many;
	seen.made.litter.n = LENGTH(many);
	look(&seen, 217, 192, 0.9, 0);
	assert_int_equal(seen.peers.twice, GROWTH_ANIMALS);
	assert_true(concern_change_of(&seen.view, hour(192), &change));
	assert_int_equal(change.others, GROWTH_ANIMALS - 1);
	for (size_t i = 0; i < GROWTH_ANIMALS; i++)
		seen.peers.mass_g[i] = 400;
	seen.view.verdict.mass_g = 100;
	assert_true(concern_growth_behind(&seen.view, &seen.told));
	assert_true(says(&seen, ": 75 % below the litter's mean of 400 g"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_how_sure),    cmocka_unit_test(test_confirmed),
		cmocka_unit_test(test_ages),        cmocka_unit_test(test_loss_or_stall),
		cmocka_unit_test(test_verbs),       cmocka_unit_test(test_one_littermate),
		cmocka_unit_test(test_own),         cmocka_unit_test(test_one_of_three),
		cmocka_unit_test(test_below_band),  cmocka_unit_test(test_adult_rate),
		cmocka_unit_test(test_behind),      cmocka_unit_test(test_litter),
		cmocka_unit_test(test_slow_litter), cmocka_unit_test(test_more_than_the_model_holds),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

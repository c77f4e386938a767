// SPDX-License-Identifier: MIT
/*
 * The figures of settle.h at their ends: what is just enough is told, what is just short of it isn't. What a plateau is
 * and how well it is known is plateau.h's, tried in test_plateau.c, and here the layer below.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "tests/unit/weigh/settle_edges.h"

/* ---- lying still ---- */

/* SETTLE_STILL_US and SETTLE_STILL_SAMPLES: of what lies still, and not of the sample before it. The mass is then known
 * to the step, and to no more, and its time is that of the stretch. */
static void test_still(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof intervals_ms / sizeof *intervals_ms; i++) {
		uint64_t ms = intervals_ms[i], last = told_after(ms, SETTLE_STILL_US, SETTLE_STILL_SAMPLES);
		struct rig rig;

		begin_stream(&rig, 5000);
		assert_int_equal(at(&rig, 1, 280 * G), SETTLE_ONSET);
		for (uint64_t k = 0; k < last; k++)
			assert_int_equal(at(&rig, ms * (k + 1), 300 * G), SETTLE_NOTHING);
		assert_int_equal(at(&rig, ms * (last + 1), 300 * G), SETTLE_LOADED);
		assert_int_equal(rig.result.gross_mg, 300 * G);
		assert_int_equal(rig.result.u_mg, step_u_mg(5000));
		assert_false(rig.result.restless);
		assert_int_equal(rig.result.n, last + 1);
		assert_int_equal(ms_of(rig.result.from_us), ms);
		assert_int_equal(ms_of(rig.result.to_us), ms * (last + 1));
	}
}

/* As many samples as that and none before them are enough. */
static void test_still_from_the_first(void **state)
{
	struct rig rig;

	(void)state;
	begin_stream(&rig, 5000);
	assert_int_equal(at(&rig, 0, 300 * G), SETTLE_ONSET);
	for (uint64_t k = 1; k < SETTLE_STILL_SAMPLES - 1; k++)
		assert_int_equal(at(&rig, 1000 * k, 300 * G), SETTLE_NOTHING);
	assert_int_equal(at(&rig, 1000 * (SETTLE_STILL_SAMPLES - 1), 300 * G), SETTLE_LOADED);
}

/* A hundredth of an avoirdupois ounce is 283.495 mg: its neighbouring multiples lie 283 or 284 mg apart, each rounded
 * to a milligram, and that is one step. More is another. */
static void test_one_step_in_ounces(void **state)
{
	static const struct {
		int64_t apart_mg;
		enum settle_event told;
	} cases[] = {
		{ 283, SETTLE_LOADED }, { 284, SETTLE_LOADED }, { 285, SETTLE_NOTHING }, { 567, SETTLE_NOTHING }
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct rig rig;
		begin_stream(&rig, 283);
		for (uint64_t k = 0; k < 5; k++)
			assert_int_equal(at(&rig, 1000 * k, 30 * G + (k % 2 ? cases[i].apart_mg : 0)),
					 k == 0  ? SETTLE_ONSET
					 : k < 4 ? SETTLE_NOTHING
						 : cases[i].told);
	}
}

/* It is known to the step, not better, when it turns from one value to the next and back; and less well when it creeps
 * over, as plateau.h finds. */
static void test_still_within_a_step(void **state)
{
	double off_mg[15];

	(void)state;
	for (int creeps = 0; creeps <= 1; creeps++) {
		enum settle_event event = SETTLE_NOTHING;
		struct plateau plateau;
		struct rig rig;
		begin_stream(&rig, 5000);
		for (uint64_t k = 0; k < 15; k++) {
			off_mg[k] = (creeps ? k > 7 : k % 2) ? 5000 : 0;
			event = at(&rig, 110 * k, 300 * G + (int64_t)off_mg[k]);
		}
		assert_int_equal(event, SETTLE_LOADED);
		plateau = plateau_of(off_mg, 15, 5000);
		assert_true(creeps ? plateau.u > step_u_mg(5000) : plateau.u < step_u_mg(5000) - 100);
		assert_int_equal(rig.result.u_mg, creeps ? (int64_t)ceil(plateau.u) : step_u_mg(5000));
	}
}

/* "Moving" holds for SETTLE_STILL_US after it was last said, and then no longer. */
static void test_still_after_moving(void **state)
{
	struct rig rig;

	(void)state;
	begin_stream(&rig, 5000);
	for (uint64_t k = 0; k <= 20; k++) {
		rig.mark = k <= 5 ? SETTLE_MOVING : SETTLE_UNSAID;
		assert_int_equal(at(&rig, 100 * k, 300 * G), k == 0   ? SETTLE_ONSET
							     : k < 20 ? SETTLE_NOTHING
								      : SETTLE_LOADED);
	}
	assert_false(rig.result.restless);
}

/* ---- good enough ---- */

/* Two masses in turn are none: not at an odd count either, when more than half of the samples are one of them. */
static void test_two_in_turn(void **state)
{
	struct rig rig;
	uint64_t k = 0;

	(void)state;
	begin_stream(&rig, 1000);
	assert_int_equal(at(&rig, 0, 250 * G), SETTLE_ONSET);
	while (++k * 100 * MS_US < SETTLE_RESTLESS_US)
		assert_int_equal(at(&rig, 100 * k, (k % 2 ? 350 : 250) * G), SETTLE_NOTHING);
	assert_int_equal(at(&rig, 100 * k, 350 * G), SETTLE_LOADED);
	assert_true(rig.result.restless);
	assert_in_range(rig.result.gross_mg, 290 * G, 310 * G);
	assert_true(rig.result.u_mg > 5 * G);
}

/* A mass that swings as well, over four values. */
static int64_t wanders(int64_t g, uint64_t k, int64_t by_mg)
{
	static const int64_t tenths[] = { -10, 4, 10, -4 };

	return g * G + tenths[k % 4] * by_mg / 10;
}

/* The swing of n samples that is known to exactly u_mg. */
static int64_t swing_of(size_t n, int64_t u_mg, int64_t step_mg)
{
	int64_t by_mg = 8 * u_mg; /* so large that the step is nothing beside it */

	while (swing_u_mg(n, by_mg, step_mg) > u_mg)
		by_mg--;
	assert_int_equal(swing_u_mg(n, by_mg, step_mg), u_mg);
	return by_mg;
}

/* SETTLE_GOOD_MG, SETTLE_GOOD_STEPS of a step or SETTLE_GOOD_SHARE of the load, whichever is the most: known as well as
 * that is told after SETTLE_MIN_US, a milligram less isn't. */
static void test_good(void **state)
{
	static const struct {
		int64_t step_mg, g, good_mg;
	} cases[] = { { 100, 50, 300 }, { 100, 900, 2700 }, { 3000, 100, 600 }, { 1, 30, 300 } };

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		for (int64_t more = 0; more <= 1; more++) {
			int64_t step_mg = cases[i].step_mg, by_mg = swing_of(16, cases[i].good_mg + more, step_mg);
			struct rig rig;
			begin_stream(&rig, step_mg);
			assert_int_equal(at(&rig, 0, swings(cases[i].g, 0, by_mg)), SETTLE_ONSET);
			for (uint64_t k = 1; k < 15; k++)
				assert_int_equal(at(&rig, 100 * k, swings(cases[i].g, k, by_mg)), SETTLE_NOTHING);
			assert_int_equal(at(&rig, 1500, swings(cases[i].g, 15, by_mg)),
					 more ? SETTLE_NOTHING : SETTLE_LOADED);
			if (more)
				continue;
			assert_int_equal(rig.result.gross_mg, cases[i].g * G);
			assert_int_equal(rig.result.u_mg, cases[i].good_mg);
			assert_int_equal(rig.result.n, 16);
			assert_int_equal(ms_of(rig.result.from_us), 0);
			assert_int_equal(ms_of(rig.result.to_us), 1500);
			assert_false(rig.result.restless);
		}
}

/* SETTLE_MIN_US are those of the plateau, without the putting on; and a plateau lasts until now: what lay still before
 * and doesn't any more isn't told. */
static void test_good_for_long_enough(void **state)
{
	struct rig rig;

	(void)state;
	begin_stream(&rig, 100);
	for (uint64_t k = 0; k < 10; k++)
		(void)at(&rig, 100 * k, 200 * G);
	for (uint64_t k = 10; k < 25; k++)
		assert_int_equal(at(&rig, 100 * k, swings(300, k, 200)), SETTLE_NOTHING);
	assert_int_equal(at(&rig, 2500, swings(300, 25, 200)), SETTLE_LOADED);
	assert_int_equal(rig.result.gross_mg, 300 * G);
	assert_int_equal(ms_of(rig.result.from_us), 1000);
	assert_int_equal(rig.result.n, 16);
}

/* SETTLE_MIN_SAMPLES are. */
static void test_good_with_enough_samples(void **state)
{
	struct rig rig;

	(void)state;
	begin_stream(&rig, 100);
	assert_int_equal(at(&rig, 0, swings(300, 0, 60)), SETTLE_ONSET);
	for (uint64_t k = 1; k < SETTLE_MIN_SAMPLES - 1; k++)
		assert_int_equal(at(&rig, 400 * k, swings(300, k, 60)), SETTLE_NOTHING);
	assert_int_equal(at(&rig, 400 * (SETTLE_MIN_SAMPLES - 1), swings(300, 5, 60)), SETTLE_LOADED);
	assert_int_equal(rig.result.n, SETTLE_MIN_SAMPLES);
}

/* ---- restless ---- */

/* SETTLE_RESTLESS_US have gone by, not a millisecond less, and SETTLE_FEW samples are told. */
static void test_restless(void **state)
{
	struct rig rig;

	(void)state;
	begin_stream(&rig, 1000);
	assert_int_equal(at(&rig, 0, 250 * G), SETTLE_ONSET);
	for (uint64_t k = 1; k < 13; k++)
		assert_int_equal(at(&rig, 500 * k, wanders(300, k, 50 * G)), SETTLE_NOTHING);
	assert_int_equal(at(&rig, 6500, wanders(300, 13, 50 * G)), SETTLE_LOADED);
	assert_true(rig.result.restless);

	begin_stream(&rig, 1000);
	assert_int_equal(at(&rig, 0, 250 * G), SETTLE_ONSET);
	assert_int_equal(at(&rig, 6600, 350 * G), SETTLE_NOTHING); /* two are few */
	assert_int_equal(at(&rig, 6700, 300 * G), SETTLE_LOADED);
	assert_true(rig.result.restless);
}

/* ---- taken off before it was told ---- */

/* Streams `n` samples at 10 Hz of a swing, then the empty scale until it is told or forgotten. */
static enum settle_event taken_off(struct rig *rig, uint64_t n, int64_t g, int64_t by_mg, uint64_t every_ms)
{
	enum settle_event event = SETTLE_NOTHING;

	for (uint64_t k = 0; k < n; k++)
		assert_int_equal(at(rig, every_ms * k, swings(g, k, by_mg)), k ? SETTLE_NOTHING : SETTLE_ONSET);
	for (uint64_t k = 1; k <= 5 && event == SETTLE_NOTHING; k++)
		event = at(rig, every_ms * (n - 1) + 100 * k, 0);
	return event;
}

/* There for SETTLE_MIN_US, and known to SETTLE_REMOVED_SHARE of what was put on. */
static void test_taken_off(void **state)
{
	struct rig rig;

	(void)state;
	for (int64_t more = 0; more <= 1; more++) {
		begin_stream(&rig, 1000);
		assert_int_equal(taken_off(&rig, 16, 300, swing_of(16, 15 * G + more, 1000), 100),
				 more ? SETTLE_NOTHING : SETTLE_LOADED);
		if (more)
			continue;
		assert_int_equal(rig.result.gross_mg, 300 * G);
		assert_int_equal(rig.result.u_mg, 15 * G);
		assert_true(rig.result.restless);
		assert_int_equal(rig.result.n, 16);
		assert_int_equal(ms_of(rig.result.from_us), 0);
		assert_int_equal(ms_of(rig.result.to_us), 1500);
	}
	begin_stream(&rig, 1000);
	assert_int_equal(taken_off(&rig, 15, 300, 5 * G, 100), SETTLE_NOTHING); /* 1.4 s */
	/* SETTLE_FEW are enough, and as good as any */
	begin_stream(&rig, 5000);
	assert_int_equal(taken_off(&rig, SETTLE_FEW, 900, 0, 750), SETTLE_LOADED);
	assert_int_equal(rig.result.gross_mg, 900 * G);
	assert_false(rig.result.restless);
}

/* What was seen of it, without the lifting: nor does that count for SETTLE_MIN_US. */
static void test_lifting_left_out(void **state)
{
	static const uint64_t samples[] = { 14, 16 }; /* 1.43 s, and with the lifting long enough; 1.65 s */

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		enum settle_event event = SETTLE_NOTHING;
		uint64_t k;
		struct rig rig;
		begin_stream(&rig, 1000);
		if (i)
			(void)at(&rig, 1, 200 * G); /* being put on */
		for (k = 1; k <= samples[i]; k++)
			assert_int_equal(at(&rig, 110 * k, wanders(300, k, 10 * G)),
					 i || k > 1 ? SETTLE_NOTHING : SETTLE_ONSET);
		for (int64_t g = 200; g > 50; g -= 100, k++)
			assert_int_equal(at(&rig, 110 * k, g * G), SETTLE_NOTHING);
		for (; k < 25 && event == SETTLE_NOTHING; k++)
			event = at(&rig, 110 * k, 0);
		assert_int_equal(event, i ? SETTLE_LOADED : SETTLE_NOTHING);
		if (!i)
			continue;
		assert_int_equal(rig.result.gross_mg, 300 * G);
		assert_true(rig.result.restless);
		assert_int_equal(ms_of(rig.result.from_us), 110);
		assert_int_equal(ms_of(rig.result.to_us), 1760);
		assert_int_equal(rig.result.n, 16);
	}
}

/* SETTLE_LIFTED_SPREADS off are lifting, a little less isn't; the spread is plateau.h's, of all. */
static void test_lifting_ends(void **state)
{
	static const double spreads[] = { 2.9, 3.1 };

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		enum settle_event event = SETTLE_NOTHING;
		double off_mg[17];
		struct plateau plateau;
		struct rig rig;
		begin_stream(&rig, 1000);
		for (uint64_t k = 0; k < 16; k++) {
			off_mg[k] = (double)wanders(0, k, 10 * G);
			(void)at(&rig, 110 * k, wanders(300, k, 10 * G));
		}
		off_mg[16] = -1e6; /* how far, the spread doesn't tell */
		plateau = plateau_of(off_mg, 17, 1000);
		assert_int_equal(plateau.first, 0);
		(void)at(&rig, 110 * 16, 300 * G + (int64_t)(plateau.median - spreads[i] * plateau.spread));
		for (uint64_t k = 17; k < 23 && event == SETTLE_NOTHING; k++)
			event = at(&rig, 110 * k, 0);
		assert_int_equal(event, SETTLE_LOADED);
		assert_int_equal(ms_of(rig.result.to_us), i ? 110 * 15 : 110 * 16);
		assert_int_equal(rig.result.n, i ? 16 : 17);
	}
}

/* A scale that sends results: its last word, when SETTLE_ALONE_US went by after it, and no sample said otherwise. */
static void test_result_taken_off(void **state)
{
	static const struct {
		uint64_t second_ms; /* 0: none */
		int64_t second_mg;
		uint64_t off_ms;
		bool told;
	} cases[] = {
		{ 0, 0, 1000, true },
		{ 0, 0, 999, false },
		{ 400, 705 * G, 1400, true },      /* a step further */
		{ 400, 705 * G, 1399, false },     /* a second after the first is none after the second */
		{ 400, 705 * G + 2, 1400, false }, /* still on its way */
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		enum settle_event event = SETTLE_NOTHING;
		struct rig rig;
		begin(&rig, 5000);
		assert_int_equal(at(&rig, 0, 700 * G), SETTLE_ONSET);
		if (cases[i].second_ms)
			assert_int_equal(at(&rig, cases[i].second_ms, cases[i].second_mg), SETTLE_NOTHING);
		assert_int_equal(at(&rig, cases[i].off_ms, 0), SETTLE_NOTHING);
		event = at(&rig, cases[i].off_ms + SETTLE_PASSING_US / MS_US, 0);
		assert_int_equal(event, cases[i].told ? SETTLE_LOADED : SETTLE_NOTHING);
		if (!cases[i].told)
			continue;
		assert_int_equal(rig.result.gross_mg, cases[i].second_ms ? cases[i].second_mg : 700 * G);
		assert_int_equal(rig.result.u_mg, step_u_mg(5000));
		assert_false(rig.result.restless);
		assert_int_equal(rig.result.n, 1);
		assert_int_equal(ms_of(rig.result.from_us), cases[i].second_ms);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_still),
		cmocka_unit_test(test_still_from_the_first),
		cmocka_unit_test(test_one_step_in_ounces),
		cmocka_unit_test(test_still_within_a_step),
		cmocka_unit_test(test_still_after_moving),
		cmocka_unit_test(test_two_in_turn),
		cmocka_unit_test(test_good),
		cmocka_unit_test(test_good_for_long_enough),
		cmocka_unit_test(test_good_with_enough_samples),
		cmocka_unit_test(test_restless),
		cmocka_unit_test(test_taken_off),
		cmocka_unit_test(test_lifting_left_out),
		cmocka_unit_test(test_lifting_ends),
		cmocka_unit_test(test_result_taken_off),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

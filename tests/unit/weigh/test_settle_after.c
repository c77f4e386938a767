// SPDX-License-Identifier: MIT
/* settle.h's figures at their ends, as in test_settle_judge.c: after a load was told, by the scale's own word, in
 * silence. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "tests/unit/weigh/settle_edges.h"
#include <stdlib.h>

/* ---- emptied ---- */

/* A load that is told, and then taken off so that the first sample of the empty scale is at 10 s. */
static void emptied_at_10_s(struct rig *rig, int64_t step_mg, int64_t first_mg)
{
	begin(rig, step_mg);
	rig->mark = SETTLE_STEADY;
	assert_int_equal(at(rig, 0, 700 * G), SETTLE_LOADED);
	rig->mark = SETTLE_UNSAID;
	assert_int_equal(at(rig, 9000, first_mg), SETTLE_NOTHING);
	assert_int_equal(at(rig, 10000, first_mg), SETTLE_NOTHING);
}

/* SETTLE_IDLE_US, and SETTLE_FEW samples of it. */
static void test_emptied(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof intervals_ms / sizeof *intervals_ms; i++) {
		uint64_t ms = intervals_ms[i], last = told_after(ms, SETTLE_IDLE_US, SETTLE_FEW);
		struct rig rig;

		emptied_at_10_s(&rig, 1000, 20 * G);
		for (uint64_t k = 0; k < last; k++)
			assert_int_equal(at(&rig, 10000 + ms * (k + 1), 2 * G), SETTLE_NOTHING);
		assert_int_equal(at(&rig, 10000 + ms * (last + 1), 2 * G), SETTLE_IDLE);
		assert_int_equal(rig.result.gross_mg, 2 * G);
		assert_int_equal(rig.result.u_mg, step_u_mg(1000));
		assert_int_equal(ms_of(rig.result.from_us), 10000 + ms);
		assert_int_equal(rig.result.n, last + 1);
	}
}

/* Within a step or SETTLE_IDLE_RANGE_MG, whichever is more; known to the step when it turns, less well when it creeps.
 */
static void test_emptied_within(void **state)
{
	static const struct {
		int64_t step_mg, apart_mg;
		bool told;
	} cases[] = { { 100, 1000, true }, { 100, 1001, false }, { 5000, 5000, true }, { 5000, 5002, false } };

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		for (int creeps = 0; creeps <= 1; creeps++) {
			enum settle_event event = SETTLE_NOTHING;
			struct plateau plateau;
			double off_mg[11];
			struct rig rig;
			emptied_at_10_s(&rig, cases[i].step_mg, 0);
			off_mg[0] = 0;
			for (uint64_t k = 1; k < 11; k++) {
				off_mg[k] = (creeps ? k > 5 : k % 2) ? (double)cases[i].apart_mg : 0;
				event = at(&rig, 10000 + 110 * k, (int64_t)off_mg[k]);
			}
			assert_int_equal(event, cases[i].told ? SETTLE_IDLE : SETTLE_NOTHING);
			plateau = plateau_of(off_mg, 11, (double)cases[i].step_mg);
			if (cases[i].told)
				assert_int_equal(rig.result.u_mg,
						 fmax(ceil(plateau.u), (double)step_u_mg(cases[i].step_mg)));
		}
}

/* ---- exchanged ---- */

/* SETTLE_CHANGE_US of another mass, of SETTLE_FEW samples; the new load began with the first of them. */
static void test_exchanged(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof intervals_ms / sizeof *intervals_ms; i++)
		for (int64_t off = -40; off <= 40; off += 80) {
			uint64_t ms = intervals_ms[i], last = told_after(ms, SETTLE_CHANGE_US, SETTLE_FEW);
			struct rig rig;
			told_700_g(&rig, 1000);
			/* as it was, and on no side of itself */
			assert_int_equal(at(&rig, 1000, 700 * G), SETTLE_NOTHING);
			for (uint64_t k = 0; k < last; k++)
				assert_int_equal(at(&rig, 1000 + ms * (k + 1), (700 + off) * G), SETTLE_NOTHING);
			assert_int_equal(at(&rig, 1000 + ms * (last + 1), (700 + off) * G), SETTLE_ONSET);
			assert_int_equal(ms_of(rig.settle.began_us), 1000 + ms);
			assert_int_equal(rig.settle.samples.n, last + 1);
		}
}

/* A sample at what was told, in the midst of them: not all on one side. */
static void test_exchanged_side(void **state)
{
	(void)state;
	for (int64_t off = -40; off <= 40; off += 80)
		for (int64_t other = -1; other <= 1; other++) {
			struct rig rig;
			told_700_g(&rig, 1000);
			for (uint64_t k = 0; k < (other == 1 ? 20 : 24); k++)
				assert_int_equal(
					at(&rig, 1000 + 110 * k, (700 + (k == 5 ? other * llabs(off) / off : off)) * G),
					other == 1 && k == 19 ? SETTLE_ONSET : SETTLE_NOTHING);
		}
}

/* SETTLE_CHANGE_MG is still the same load, a milligram more isn't. */
static void test_exchanged_by(void **state)
{
	(void)state;
	for (int64_t side = -1; side <= 1; side += 2)
		for (int64_t more = 0; more <= 1; more++) {
			struct rig rig;
			told_700_g(&rig, 1000);
			for (uint64_t k = 0; k < 20; k++)
				assert_int_equal(at(&rig, 1000 + 110 * k, 700 * G + side * (15000 + more)),
						 more && k == 19 ? SETTLE_ONSET : SETTLE_NOTHING);
		}
}

/* ... and SETTLE_CHANGE_U standard uncertainties of the difference, where that is more. */
static void test_exchanged_while_moving(void **state)
{
	int64_t by_mg = 60 * G, u_mg = swing_u_mg(20, by_mg, 1000);
	double told_u_mg = (double)step_u_mg(1000);
	int64_t least_mg = (int64_t)(5 * sqrt((double)(u_mg * u_mg) + told_u_mg * told_u_mg));

	(void)state;
	assert_true(least_mg > by_mg);
	for (int more = 0; more <= 1; more++) {
		struct rig rig;
		told_700_g(&rig, 1000);
		for (uint64_t k = 0; k < 20; k++)
			assert_int_equal(at(&rig, 1000 + 110 * k, swings(700, k, by_mg) + least_mg + (more ? 10 : -10)),
					 more && k == 19 ? SETTLE_ONSET : SETTLE_NOTHING);
	}
}

/* Pressed, and then the old load again: within SETTLE_CHANGE_MG it isn't told twice. */
static void test_back(void **state)
{
	(void)state;
	for (int64_t more = 0; more <= 1; more++) {
		enum settle_event event = SETTLE_NOTHING;
		struct rig rig;
		told_700_g(&rig, 1000);
		for (uint64_t k = 0; k < 20; k++)
			event = at(&rig, 1000 + 110 * k, 900 * G - (int64_t)k * 3 * G);
		assert_int_equal(event, SETTLE_ONSET);
		for (uint64_t k = 20; event != SETTLE_LOADED && rig.settle.state != SETTLE_IS_TOLD; k++)
			event = at(&rig, 1000 + 110 * k, 715 * G + more);
		assert_int_equal(event, more ? SETTLE_LOADED : SETTLE_NOTHING);
		assert_int_equal(rig.settle.told_mg, more ? 715 * G + 1 : 700 * G);
	}
}

/* ... and what comes then is held against what was told, not against what it came back as. */
static void test_back_and_exchanged(void **state)
{
	(void)state;
	for (int64_t more = 0; more <= 1; more++) {
		enum settle_event event = SETTLE_NOTHING;
		uint64_t k;
		struct rig rig;
		told_700_g(&rig, 1000);
		for (k = 0; k < 20; k++)
			event = at(&rig, 1000 + 110 * k, 900 * G - (int64_t)k * 3 * G);
		assert_int_equal(event, SETTLE_ONSET);
		for (; rig.settle.state != SETTLE_IS_TOLD; k++)
			assert_int_equal(at(&rig, 1000 + 110 * k, 714 * G), SETTLE_NOTHING);
		for (uint64_t to = k + 19; k <= to; k++)
			event = at(&rig, 1000 + 110 * k, 685 * G - more);
		assert_int_equal(event, more ? SETTLE_ONSET : SETTLE_NOTHING);
	}
}

/* ---- the scale's word, and silence ---- */

/* SETTLE_AGREE_STEPS or SETTLE_AGREE_SHARE of the load, whichever is more. */
static void test_agrees(void **state)
{
	static const struct {
		int64_t step_mg, g, apart_mg;
	} cases[] = { { 5000, 300, 10000 }, { 1000, 300, 6000 }, { 5000, 900, 18000 } };

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		for (int64_t more = 0; more <= 1; more++) {
			struct rig rig;
			begin_stream(&rig, cases[i].step_mg);
			rig.mark = SETTLE_MOVING;
			assert_int_equal(at(&rig, 0, cases[i].g * G - cases[i].apart_mg - more), SETTLE_ONSET);
			rig.mark = SETTLE_STEADY;
			assert_int_equal(at(&rig, 100, cases[i].g * G), more ? SETTLE_NOTHING : SETTLE_LOADED);
			if (more)
				continue;
			/* its last value, known to the step: of two samples we have no mean of our own */
			assert_int_equal(rig.result.gross_mg, cases[i].g * G);
			assert_int_equal(rig.result.u_mg, step_u_mg(cases[i].step_mg));
			assert_int_equal(rig.result.n, 1);
			assert_int_equal(ms_of(rig.result.from_us), 100);
			assert_int_equal(ms_of(rig.result.to_us), 100);
		}
}

/* With SETTLE_MIN_SAMPLES there is a mean of our own, of all of them, and how far the scale's word is off counts. */
static void test_word_against_mean(void **state)
{
	static const double off_mg[] = { 7000, -2000, 5000, -4000, 6000, 9000 };

	(void)state;
	for (size_t n = SETTLE_MIN_SAMPLES - 1; n <= SETTLE_MIN_SAMPLES; n++) {
		const double *from = off_mg + SETTLE_MIN_SAMPLES - n;
		double mean = plateau_of(from, n, 1000).mean;
		struct rig rig;
		begin_stream(&rig, 1000);
		for (uint64_t k = 0; k < n; k++) {
			rig.mark = k + 1 < n ? SETTLE_MOVING : SETTLE_STEADY;
			assert_int_equal(at(&rig, 100 * k, 700 * G + (int64_t)from[k]), k + 1 == n ? SETTLE_LOADED
											: k        ? SETTLE_NOTHING
												   : SETTLE_ONSET);
		}
		assert_int_equal(rig.result.gross_mg, 709 * G);
		assert_int_equal(rig.result.u_mg,
				 n < SETTLE_MIN_SAMPLES ? step_u_mg(1000) : (int64_t)ceil(9000 - mean));
	}
}

/* Another mass than the one told, by more than SETTLE_CHANGE_MG: to be waited for. */
static void test_waits(void **state)
{
	(void)state;
	for (int64_t more = 0; more <= 1; more++) {
		struct rig rig;
		told_700_g(&rig, 1000);
		assert_int_equal(at(&rig, 5000, 715 * G + more), SETTLE_NOTHING);
		assert_int_equal(settle_wake_us(&rig.settle) != UINT64_MAX, more);
	}
}

static enum settle_event silence(struct rig *rig)
{
	uint64_t wake_us = settle_wake_us(&rig->settle);

	assert_true(wake_us != UINT64_MAX);
	return settle_wake(&rig->settle, wake_us, &rig->result);
}

/* One sample in a stream that broke off, or one that moves: the step, and SETTLE_AGREE_SHARE of what it might still
 * have gone up by. */
static void test_silent_after_one(void **state)
{
	struct rig rig;

	(void)state;
	begin_stream(&rig, 5000);
	assert_int_equal(at(&rig, 0, 300 * G), SETTLE_ONSET);
	assert_int_equal(silence(&rig), SETTLE_LOADED);
	assert_true(rig.result.restless);
	assert_int_equal(rig.result.u_mg, step_u_mg(5000) + 6000);
}

/* The last of two that agree is the scale's result; of two that don't, both are what there is, and it was restless. */
static void test_silent_after_two(void **state)
{
	for (int agree = 0; agree <= 1; agree++) {
		struct rig rig;
		(void)state;
		begin(&rig, 1000);
		(void)at(&rig, 0, 280 * G);
		(void)at(&rig, 100, agree ? 284 * G : 300 * G);
		assert_int_equal(silence(&rig), SETTLE_LOADED);
		assert_int_equal(rig.result.restless, !agree);
		assert_int_equal(rig.result.gross_mg, agree ? 284 * G : 290 * G);
		assert_int_equal(rig.result.n, agree ? 1 : 2);
		assert_int_equal(ms_of(rig.result.from_us), agree ? 100 : 0);
	}
}

/* Its last word is told as lying still when our own mean is known to agree: to the step, or well enough. */
static void test_silent_after_many(void **state)
{
	static const struct {
		int64_t step_mg, last_mg; /* after five at 300 g */
		bool restless;
	} cases[] = {
		{ 5000, 300 * G, false }, /* the step says more than "good" does, and there is no better */
		{ 1000, 302 * G, true },  /* more than 0.9 g, which are 0.003 of it */
		{ 100, 300 * G + 900, false },
		{ 100, 300 * G + 910, true },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct rig rig;
		begin_stream(&rig, cases[i].step_mg);
		for (uint64_t k = 0; k < 5; k++)
			assert_int_equal(at(&rig, 100 * k, 300 * G), k ? SETTLE_NOTHING : SETTLE_ONSET);
		assert_int_equal(at(&rig, 500, cases[i].last_mg), SETTLE_NOTHING);
		assert_int_equal(silence(&rig), SETTLE_LOADED);
		assert_int_equal(rig.result.gross_mg, cases[i].last_mg);
		assert_int_equal(rig.result.restless, cases[i].restless);
	}
}

/* The link ends after a sample or two of a scale that sends results: the last one is its word, but not when it was
 * moving, nor when the scale was seen empty since. */
static void test_ends_after_few(void **state)
{
	static const struct {
		int64_t second_g;      /* 0: the empty scale; -1: none */
		enum settle_mark mark; /* of the last */
		int64_t told_g;        /* 0: nothing */
	} cases[] = {
		{ -1, SETTLE_UNSAID, 700 }, { -1, SETTLE_MOVING, 0 }, { 704, SETTLE_UNSAID, 704 },
		{ 740, SETTLE_UNSAID, 0 },  { 0, SETTLE_UNSAID, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct rig rig;
		begin(&rig, 1000);
		rig.mark = cases[i].second_g < 0 ? cases[i].mark : SETTLE_UNSAID;
		assert_int_equal(at(&rig, 0, 700 * G), SETTLE_ONSET);
		rig.mark = cases[i].mark;
		if (cases[i].second_g >= 0)
			assert_int_equal(at(&rig, 300, cases[i].second_g * G), SETTLE_NOTHING);
		assert_int_equal(settle_end(&rig.settle, &rig.result),
				 cases[i].told_g ? SETTLE_LOADED : SETTLE_NOTHING);
		if (cases[i].told_g)
			assert_int_equal(rig.result.gross_mg, cases[i].told_g * G);
	}
}

/* A step of a milligram is known. */
static void test_smallest_step(void **state)
{
	struct rig rig;

	(void)state;
	told_700_g(&rig, 1);
	assert_int_equal(rig.result.u_mg, 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_emptied),
		cmocka_unit_test(test_emptied_within),
		cmocka_unit_test(test_exchanged),
		cmocka_unit_test(test_exchanged_side),
		cmocka_unit_test(test_exchanged_by),
		cmocka_unit_test(test_exchanged_while_moving),
		cmocka_unit_test(test_back),
		cmocka_unit_test(test_back_and_exchanged),
		cmocka_unit_test(test_agrees),
		cmocka_unit_test(test_word_against_mean),
		cmocka_unit_test(test_waits),
		cmocka_unit_test(test_silent_after_one),
		cmocka_unit_test(test_silent_after_two),
		cmocka_unit_test(test_silent_after_many),
		cmocka_unit_test(test_ends_after_few),
		cmocka_unit_test(test_smallest_step),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/weigh/settle.h"
#include "daemon/weigh/settle_judge.h"
#include "daemon/weigh/weigh.h"
#include <math.h>

#define S_US UINT64_C(1000000)
#define IDLE_MG 400000
#define G INT64_C(1000)

static uint64_t random_state;

static uint64_t random_u64(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return random_state;
}

static double uniform(void)
{
	return ((double)(random_u64() >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(void)
{
	double radius = sqrt(-2 * log(uniform())); /* first, whatever the compiler */

	return radius * cos(2 * M_PI * uniform());
}

/* ---- a scale that is driven through time, and what was told of it ---- */

struct rig {
	struct settle settle;
	int64_t step_mg;
	uint64_t now_us, every_us;
	enum settle_mark mark;
	int onsets, loads, idles;
	struct settle_result load, idle; /* the last ones told */
	uint64_t load_us, idle_us;       /* when */
};

static void rig_begin(struct rig *rig, int64_t step_mg, double rate)
{
	*rig = (struct rig){ .step_mg = step_mg, .now_us = 100 * S_US, .every_us = (uint64_t)(1e6 / rate) };
	random_state = UINT64_C(0x2545f4914f6cdd1d);
	settle_init(&rig->settle, step_mg, IDLE_MG);
}

static void note(struct rig *rig, enum settle_event event, const struct settle_result *result)
{
	switch (event) {
	case SETTLE_NOTHING:
		return;
	case SETTLE_ONSET:
		rig->onsets++;
		return;
	case SETTLE_LOADED:
		rig->loads++;
		rig->load = *result;
		rig->load_us = rig->now_us;
		break;
	case SETTLE_IDLE:
		rig->idles++;
		assert_false(result->restless); /* it was still for a while, or it isn't told */
		rig->idle = *result;
		rig->idle_us = rig->now_us;
		break;
	}
	assert_true(result->u_mg > 0 && result->n > 0 && result->from_us <= result->to_us);
	assert_true(result->to_us <= rig->now_us);
}

static void one(struct rig *rig, int64_t mg)
{
	struct settle_sample sample = { mg, rig->now_us, rig->mark };
	struct settle_result result;

	note(rig, settle_take(&rig->settle, &sample, &result), &result);
}

/* Samples for so long, of a mass that moves by this, as the step rounds them. */
static void shows(struct rig *rig, double seconds, double g, double motion_g)
{
	uint64_t end_us = rig->now_us + (uint64_t)(seconds * 1e6);

	for (; rig->now_us < end_us; rig->now_us += rig->every_us) {
		double mg = 1000 * (g + motion_g * normal());
		one(rig, (int64_t)(floor(mg / (double)rig->step_mg + 0.5)) * rig->step_mg);
	}
}

/* No sample for so long; the caller wakes when it is asked to. */
static void silent(struct rig *rig, double seconds)
{
	uint64_t end_us = rig->now_us + (uint64_t)(seconds * 1e6), wake_us;
	struct settle_result result;

	for (int i = 0; i < 4; i++) {
		wake_us = settle_wake_us(&rig->settle);
		if (wake_us > end_us)
			break;
		if (wake_us > rig->now_us) {
			assert_int_equal(settle_wake(&rig->settle, wake_us - 1, &result), SETTLE_NOTHING);
			rig->now_us = wake_us;
		}
		note(rig, settle_wake(&rig->settle, rig->now_us, &result), &result);
	}
	assert_true(settle_wake_us(&rig->settle) > end_us); /* it doesn't ask for ever */
	rig->now_us = end_us;
}

#define assert_told(rig, n, mg, tolerance_mg)                                                        \
	do {                                                                                         \
		assert_int_equal((rig)->loads, n);                                                   \
		assert_in_range((rig)->load.gross_mg, (mg) - (tolerance_mg), (mg) + (tolerance_mg)); \
	} while (0)

/* ---- a still load ---- */

/* Each rate and step that scales have: told once, at its value, known to the step, in time. */
static void test_still(void **state)
{
	static const double rates[] = { 1, 2, 5, 10, 20, 50 };
	static const int64_t steps_mg[] = { 100, 1000, 2000, 4536, 5000, 10000 };

	(void)state;
	for (size_t r = 0; r < 6; r++)
		for (size_t s = 0; s < 6; s++) {
			struct rig rig;
			uint64_t on_us;
			rig_begin(&rig, steps_mg[s], rates[r]);
			shows(&rig, 3, 400, 0);
			assert_int_equal(rig.onsets + rig.loads + rig.idles, 0);
			on_us = rig.now_us;
			shows(&rig, 60, 704, 0);
			assert_int_equal(rig.onsets, 1);
			assert_told(&rig, 1, 704 * G, steps_mg[s] / 2 + 1);
			assert_false(rig.load.restless);
			assert_int_equal(rig.load.u_mg, weigh_step_u_mg(steps_mg[s]));
			assert_true(rig.load_us - on_us <= (rates[r] > 1 ? 2 * S_US + S_US / 2 : 5 * S_US));
			assert_int_equal(rig.idles, 0);
			shows(&rig, 5, 400, 0);
			assert_int_equal(rig.idles, 1);
			assert_in_range(rig.idle.gross_mg, 400 * G - steps_mg[s] / 2, 400 * G + steps_mg[s] / 2);
			/* all that came in its time, and its time is that of those */
			assert_int_equal(rig.idle.n, (rig.idle.to_us - rig.idle.from_us) / rig.every_us + 1);
			shows(&rig, 20, 400, 0);
			assert_int_equal(rig.idles, 1);
		}
}

/* A pad that got wet while the pup lay there. */
static void test_idle_drifted(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 4, 700, 0);
	shows(&rig, 4, 412, 0.3);
	assert_told(&rig, 1, 700 * G, 0);
	assert_int_equal(rig.idles, 1);
	assert_in_range(rig.idle.gross_mg, 411500, 412500);
	assert_in_range(rig.idle.u_mg, 289, 600);
}

/* The filter's tail isn't the container's mass yet. */
static void test_idle_tail(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 100, 20);
	shows(&rig, 3, 700, 0);
	for (double t = 0; t < 5; t += 0.05, rig.now_us += rig.every_us)
		one(&rig, (int64_t)(1000 * round(400 + 300 * exp(-t / 0.5))));
	assert_int_equal(rig.idles, 1);
	assert_in_range(rig.idle.gross_mg, 399500, 401500);
}

/* ---- a moving load ---- */

/* Told all the same, with what it is worth, once. */
static void test_restless(void **state)
{
	static const double rates[] = { 1, 2, 5, 10, 20, 50 };

	(void)state;
	for (size_t r = 0; r < 6; r++) {
		struct rig rig;
		uint64_t on_us;
		rig_begin(&rig, 5000, rates[r]);
		shows(&rig, 2, 400, 0);
		on_us = rig.now_us;
		shows(&rig, 120, 700, 60);
		assert_int_equal(rig.loads, 1);
		assert_true(rig.load.restless || rates[r] >= 50);
		assert_in_range(rig.load_us - on_us, SETTLE_MIN_US, SETTLE_RESTLESS_US + 2 * rig.every_us);
		assert_true(llabs(rig.load.gross_mg - 700 * G) <= 3 * rig.load.u_mg);
		assert_true(rig.load.u_mg > 1000);
	}
}

/*
 * Coarse steps and a lively pup: far better than the last value, and two standard uncertainties hold. The motion here
 * is an autoregression; tests/bench/settle has others.
 */
static void test_error(void **state)
{
	double error = 0, last_error = 0;
	int within = 0;
	enum { LOADS = 400 };
	struct rig rig;

	(void)state;
	rig_begin(&rig, 5000, 10);
	for (int i = 0; i < LOADS; i++) {
		double pup_g = 150 + 750 * uniform(), move_g = 0, off_g, last_g = 0;
		rig.loads = 0;
		for (int k = 0; k < 100 && !rig.loads; k++, rig.now_us += rig.every_us) {
			move_g = 0.7 * move_g + 0.7 * 0.02 * pup_g * normal();
			last_g = 5 * round((400 + pup_g * fmin(1, k / 4.0) + move_g) / 5);
			one(&rig, (int64_t)(1000 * last_g));
		}
		assert_int_equal(rig.loads, 1);
		off_g = (double)rig.load.gross_mg / 1000 - 400 - pup_g;
		error += off_g * off_g / LOADS;
		last_error += (last_g - 400 - pup_g) * (last_g - 400 - pup_g) / LOADS;
		within += fabs(off_g) <= 2e-3 * (double)rig.load.u_mg;
		shows(&rig, 3, 400, 0);
	}
	assert_int_equal(rig.idles, LOADS);
	assert_true(sqrt(error) < 0.4 * sqrt(last_error));
	assert_true(within >= LOADS * 92 / 100);
}

/* Removed before it was told: what was seen, without the lifting; a touch isn't a load. */
static void test_removed_early(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 2, 400, 0);
	shows(&rig, 2.2, 700, 8);
	assert_int_equal(rig.loads, 0);
	shows(&rig, 0.2, 590, 0);
	shows(&rig, 0.2, 480, 0);
	shows(&rig, 4, 400, 0);
	assert_told(&rig, 1, 700 * G, 8 * G);
	assert_true(rig.load.restless);
	assert_int_equal(rig.idles, 1);

	for (int i = 0; i < 10; i++) {
		shows(&rig, 0.1 * i, 460 + 20 * i, 10); /* a hand */
		shows(&rig, 3, 400, 0);
	}
	assert_int_equal(rig.loads, 1);
	shows(&rig, 3, 480, 30); /* and one that rests there */
	shows(&rig, 3, 400, 0);
	assert_int_equal(rig.loads, 1);
}

/* ---- what passes ---- */

static void test_hand_in_passing(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 2, 400, 0);
	/* lifted for an instant before it was told */
	shows(&rig, 1.2, 700, 3);
	shows(&rig, 0.3, 405, 3);
	shows(&rig, 8, 700, 3);
	assert_told(&rig, 1, 700 * G, 2 * G);
	/* and after */
	shows(&rig, 0.3, 400, 0);
	shows(&rig, 5, 700, 3);
	shows(&rig, 1, 900, 20); /* pressed */
	shows(&rig, 5, 700, 3);
	shows(&rig, 1, 550, 5); /* half lifted */
	shows(&rig, 5, 700, 3);
	shows(&rig, 0.5, 0, 5); /* the container with all that is in it */
	shows(&rig, 5, 700, 3);
	assert_int_equal(rig.loads, 1);
	assert_int_equal(rig.idles, 0);
	/* pressed for so long that it might have been another load; but then it is the old one */
	shows(&rig, 2.8, 900, 60);
	assert_int_equal(rig.onsets, 2);
	shows(&rig, 10, 700, 3);
	assert_int_equal(rig.loads, 1);
	shows(&rig, 4, 400, 0);
	assert_int_equal(rig.idles, 1);
}

/* Two pups are exchanged and the scale never shows the container alone. */
static void test_exchanged(void **state)
{
	static const double rates[] = { 1, 2, 10, 50 };

	(void)state;
	for (size_t r = 0; r < 4; r++) {
		struct rig rig;
		rig_begin(&rig, 1000, rates[r]);
		shows(&rig, 2, 400, 0);
		shows(&rig, 10, 700, 2);
		assert_told(&rig, 1, 700 * G, 4 * G);
		shows(&rig, 0.4, 560, 40);
		shows(&rig, 12, 740, 2);
		assert_told(&rig, 2, 740 * G, 4 * G);
		assert_int_equal(rig.onsets, 2);
		/* 600 more seconds: the same load still */
		shows(&rig, 600, 740, 2);
		assert_int_equal(rig.loads, 2);
		shows(&rig, 12, 700, 2);
		assert_told(&rig, 3, 700 * G, 4 * G);
	}
}

/* One container reading between two pups is enough where samples are rare. */
static void test_exchanged_in_a_second(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 1);
	shows(&rig, 2, 400, 0);
	shows(&rig, 8, 700, 0);
	shows(&rig, 1, 400, 0);
	shows(&rig, 8, 702, 0);
	assert_told(&rig, 2, 702 * G, 0);
	/* and a load that couldn't be told yet isn't lost by it */
	shows(&rig, 5, 400, 0);
	shows(&rig, 4, 700, 1);
	shows(&rig, 1, 400, 0);
	shows(&rig, 8, 760, 0);
	assert_told(&rig, 4, 760 * G, 0);
}

/* The container is off: the scale reads about nothing. Then it is back. */
static void test_container_off(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 2, 400, 0);
	shows(&rig, 6, 0, 0);
	assert_told(&rig, 1, 0, 0);
	shows(&rig, 4, 403, 0);
	assert_int_equal(rig.idles, 1);
	assert_int_equal(rig.idle.gross_mg, 403 * G);
}

/* ---- scales that fall silent, and that say what they think ---- */

static void test_silent(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 5000, 10);
	assert_true(settle_wake_us(&rig.settle) == UINT64_MAX);
	one(&rig, 705 * G); /* the first ever, alone */
	assert_true(settle_wake_us(&rig.settle) == rig.now_us + SETTLE_QUIET_US);
	silent(&rig, 30);
	assert_told(&rig, 1, 705 * G, 0);
	assert_int_equal(rig.load.u_mg, weigh_step_u_mg(5000));
	assert_false(rig.load.restless);
	assert_true(settle_wake_us(&rig.settle) == UINT64_MAX);
	one(&rig, 710 * G); /* it turned round */
	silent(&rig, 30);
	assert_int_equal(rig.loads, 1);
	one(&rig, 400 * G);
	silent(&rig, 30);
	assert_int_equal(rig.idles, 1);
	assert_int_equal(rig.idle.gross_mg, 400 * G);
	/* some on the way, then the result */
	one(&rig, 520 * G);
	rig.now_us += S_US / 10;
	one(&rig, 655 * G);
	rig.now_us += S_US / 10;
	one(&rig, 660 * G);
	silent(&rig, 30);
	assert_told(&rig, 2, 660 * G, 0);
	/* another pup, and the container was never shown */
	one(&rig, 800 * G);
	silent(&rig, 30);
	assert_told(&rig, 3, 800 * G, 0);
	/* taken off before the quiet time is over, but a second later */
	one(&rig, 400 * G);
	silent(&rig, 30);
	one(&rig, 745 * G);
	rig.now_us += S_US + S_US / 4;
	one(&rig, 400 * G);
	silent(&rig, 30);
	assert_told(&rig, 4, 745 * G, 0);
	assert_int_equal(rig.idles, 3);
}

/* A stream that breaks off in full motion isn't a scale's last word, nor is one sample on the way up. */
static void test_stalled(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 2, 400, 0);
	shows(&rig, 2, 700, 40);
	one(&rig, 700 * G);
	rig.now_us += S_US / 10;
	one(&rig, 800 * G);
	assert_int_equal(rig.loads, 0);
	silent(&rig, 30);
	assert_int_equal(rig.loads, 1);
	assert_true(rig.load.restless);
	assert_true(llabs(rig.load.gross_mg - 700 * G) <= 2 * rig.load.u_mg);
	assert_true(rig.load.u_mg > 3000);

	shows(&rig, 3, 400, 0);
	one(&rig, 600 * G);
	silent(&rig, 30);
	assert_told(&rig, 2, 600 * G, 0);
	assert_true(rig.load.restless);
	assert_true(rig.load.u_mg >= 4000);

	/* alone, but the scale itself says that it moves */
	rig_begin(&rig, 1000, 10);
	rig.mark = SETTLE_MOVING;
	one(&rig, 700 * G);
	silent(&rig, 30);
	assert_told(&rig, 1, 700 * G, 0);
	assert_true(rig.load.restless);
	assert_true(rig.load.u_mg >= 6000);
	/* some on the way up, and it still says so */
	shows(&rig, 3, 400, 0);
	shows(&rig, 1, 700, 0);
	silent(&rig, 30);
	assert_told(&rig, 2, 700 * G, 0);
	assert_true(rig.load.restless);
}

/* Told; then it breaks off while something moves: nothing more is known, and nobody need wake it. */
static void test_stalled_after(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 5, 700, 0);
	assert_told(&rig, 1, 700 * G, 0);
	one(&rig, 800 * G);
	rig.now_us += S_US / 10;
	one(&rig, 900 * G);
	silent(&rig, 30);
	assert_int_equal(rig.loads, 1);
	assert_true(settle_wake_us(&rig.settle) == UINT64_MAX);
}

/* A touch that a slow stream shows in one sample isn't a result. */
static void test_touch_in_slow_stream(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 1);
	shows(&rig, 5, 400, 0);
	for (int i = 0; i < 5; i++) {
		shows(&rig, 1, 520, 0);
		shows(&rig, 6, 400, 0);
	}
	assert_int_equal(rig.onsets, 5);
	assert_int_equal(rig.loads, 0);
}

static void test_marks(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	/* a result alone is believed at once */
	rig.mark = SETTLE_STEADY;
	one(&rig, 700 * G);
	assert_told(&rig, 1, 700 * G, 0);
	assert_int_equal(rig.load.u_mg, weigh_step_u_mg(1000));
	rig.now_us += S_US / 10;
	shows(&rig, 3, 400, 0);
	/* the mark of the container, still there on the way up, isn't */
	one(&rig, 470 * G);
	rig.now_us += S_US / 10;
	one(&rig, 600 * G);
	rig.now_us += S_US / 10;
	assert_int_equal(rig.loads, 1);
	rig.mark = SETTLE_MOVING;
	shows(&rig, 1, 711, 0);
	assert_int_equal(rig.loads, 1);
	rig.mark = SETTLE_STEADY;
	shows(&rig, 0.1, 710, 0);
	assert_told(&rig, 2, 710 * G, 0);
	assert_in_range(rig.load.u_mg, weigh_step_u_mg(1000), 1500);
	assert_false(rig.load.restless);
	shows(&rig, 5, 710, 0);
	assert_int_equal(rig.loads, 2);
	/* the first of a load has nothing of the load to agree with */
	shows(&rig, 3, 424, 0);
	shows(&rig, 0.1, 426, 0);
	assert_int_equal(rig.loads, 2);
	shows(&rig, 0.1, 426, 0);
	assert_told(&rig, 3, 426 * G, 0);
}

/* A scale that holds a mean and marks it: how far our own is off counts. */
static void test_mark_off(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 2, 400, 0);
	rig.mark = SETTLE_MOVING;
	shows(&rig, 3, 700, 20);
	assert_int_equal(rig.loads, 0);
	rig.mark = SETTLE_STEADY;
	shows(&rig, 0.2, 730, 0);
	assert_told(&rig, 1, 730 * G, 0);
	assert_in_range(rig.load.u_mg, 20000, 40000);
}

/* It says "moving" although the mass stands still: not told as lying still, but told. */
static void test_mark_moving(void **state)
{
	struct rig rig;
	uint64_t on_us;

	(void)state;
	rig_begin(&rig, 5000, 10);
	on_us = rig.now_us;
	rig.mark = SETTLE_MOVING;
	shows(&rig, 20, 700, 0);
	assert_told(&rig, 1, 700 * G, 0);
	assert_true(rig.load.restless);
	assert_true(rig.load_us - on_us >= SETTLE_RESTLESS_US);
}

/* ---- time ---- */

/* A radio hands over what came in one go. */
static void test_equal_times(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	for (int burst = 0; burst < 6; burst++, rig.now_us += S_US)
		for (int i = 0; i < 10; i++) {
			one(&rig, 700 * G);
			assert_true(burst > 0 || rig.loads == 0);
		}
	assert_told(&rig, 1, 700 * G, 0);
}

static void test_time_goes_back(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 1, 700, 0);
	rig.now_us -= S_US / 2;
	shows(&rig, 0.4, 700, 0);
	assert_int_equal(rig.loads, 0);
	rig.now_us += S_US / 10;
	shows(&rig, 6, 700, 0);
	assert_told(&rig, 1, 700 * G, 0);
}

static void test_long_gap(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 0.3, 700, 0);
	rig.now_us += 3600 * S_US; /* nobody woke it */
	shows(&rig, 5, 700, 0);
	assert_told(&rig, 1, 700 * G, 0);
	rig.now_us += 3600 * S_US;
	shows(&rig, 5, 400, 0);
	rig.now_us += 3600 * S_US;
	shows(&rig, 5, 650, 0);
	assert_told(&rig, 2, 650 * G, 0);
	assert_int_equal(rig.idles, 1);
}

/* 20 minutes at 50 a second: what is held has a cap, and it still sees what happens. */
static void test_long_load(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 50);
	shows(&rig, 1200, 700, 30);
	assert_int_equal(rig.loads, 1);
	assert_true(rig.settle.samples.n <= SAMPLES_MAX);
	shows(&rig, 12, 900, 30);
	assert_told(&rig, 2, 900 * G, 12 * G);
	shows(&rig, 1200, 405, 3); /* swings */
	shows(&rig, 3, 401, 0);
	assert_int_equal(rig.idles, 1);
}

/* Slower than a second apart, and never quite in time: all is told as of a fast one, and nothing waits for ever. */
static void test_slow(void **state)
{
	static const double rates[] = { 0.4, 0.7, 0.9, 0.97, 1.3 };

	(void)state;
	for (size_t r = 0; r < sizeof rates / sizeof *rates; r++) {
		struct rig rig;
		rig_begin(&rig, 5000, rates[r]);
		shows(&rig, 8, 400, 0);
		shows(&rig, 30, 700, 0);
		assert_told(&rig, 1, 700 * G, 0);
		assert_false(rig.load.restless);
		assert_int_equal(rig.load.u_mg, weigh_step_u_mg(5000));
		shows(&rig, 30, 750, 0);
		assert_told(&rig, 2, 750 * G, 0);
		shows(&rig, 20, 400, 0);
		assert_int_equal(rig.idles, 1);
		assert_int_equal(rig.idle.gross_mg, 400 * G);
		shows(&rig, 30, 700, 40);
		assert_int_equal(rig.loads, 3);
		assert_true(rig.load.restless);
	}
}

/* ---- the end, and the container ---- */

static void test_end(void **state)
{
	static const struct {
		double before_s, seconds, motion_g;
		bool told;
	} cases[] = {
		{ 0, 0.05, 0, true },   /* one alone: a scale that sends its result and goes */
		{ 2, 0.05, 0, false },  /* one on the way up */
		{ 2, 0.15, 0, false },
		{ 2, 1.0, 5, false },   /* too short */
		{ 2, 2.4, 20, true },
		{ 2, 30, 5, false },    /* told already */
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct settle_result result;
		struct rig rig;
		enum settle_event event;
		rig_begin(&rig, 1000, 10);
		shows(&rig, cases[i].before_s, 400, 0);
		shows(&rig, cases[i].seconds, 700, cases[i].motion_g);
		event = settle_end(&rig.settle, &result);
		assert_int_equal(event, cases[i].told ? SETTLE_LOADED : SETTLE_NOTHING);
		if (cases[i].told)
			assert_in_range(result.gross_mg, 685 * G, 715 * G);
		assert_true(settle_wake_us(&rig.settle) == UINT64_MAX);
		assert_int_equal(settle_end(&rig.settle, &result), SETTLE_NOTHING);
		shows(&rig, 4, 800, 0); /* the container stays known */
		shows(&rig, 4, 400, 0);
		assert_int_equal(rig.load.gross_mg, 800 * G);
		assert_int_equal(rig.idles, 1);
	}
}

/* A scale that sends results, two pups without the container between them, and the link ends after the second one. */
static void test_end_of_exchanged(void **state)
{
	static const struct {
		double later_s, g;
		enum settle_mark mark;
		bool told;
	} cases[] = {
		{ 20, 800, SETTLE_UNSAID, true },
		{ 20, 800, SETTLE_STEADY, true },
		{ 20, 800, SETTLE_MOVING, false },
		{ 20, 705, SETTLE_UNSAID, false }, /* it turned round */
		{ 0.1, 800, SETTLE_UNSAID, false }, /* a hand, when the stream ended */
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct settle_result result;
		struct rig rig;
		rig_begin(&rig, 5000, 10);
		if (cases[i].later_s < 1) {
			while (rig.loads == 0)
				shows(&rig, 0.1, 700, 0);
		} else {
			one(&rig, 700 * G);
			silent(&rig, 3);
			rig.now_us += (uint64_t)(1e6 * cases[i].later_s);
		}
		rig.mark = cases[i].mark;
		one(&rig, (int64_t)(1000 * cases[i].g));
		assert_int_equal(rig.loads, 1);
		assert_int_equal(settle_end(&rig.settle, &result), cases[i].told ? SETTLE_LOADED : SETTLE_NOTHING);
		if (cases[i].told)
			assert_int_equal(result.gross_mg, (int64_t)(1000 * cases[i].g));
	}
}

static void test_set_idle(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	settle_set_idle(&rig.settle, 0);
	shows(&rig, 5, 400, 0); /* now that is a load */
	assert_told(&rig, 1, 400 * G, 0);
	settle_set_idle(&rig.settle, 400 * G);
	shows(&rig, 3, 400, 0);
	assert_int_equal(rig.idles, 1);
	shows(&rig, 5, 700, 0);
	assert_told(&rig, 2, 700 * G, 0);
}

/* Another unit is chosen at the scale while something lies there: it is known to the step that it was shown in. */
static void test_set_step(void **state)
{
	struct rig rig;

	(void)state;
	rig_begin(&rig, 1000, 10);
	shows(&rig, 2, 400, 0);
	shows(&rig, 0.5, 703, 0);
	rig.step_mg = 4536;
	settle_set_step(&rig.settle, rig.step_mg);
	shows(&rig, 4, 703, 0);
	assert_told(&rig, 1, 703 * G, 4536);
	assert_true(rig.load.u_mg >= weigh_step_u_mg(4536));
	assert_false(rig.load.restless);
	shows(&rig, 4, 400, 0);
	assert_int_equal(rig.idles, 1);
	assert_int_equal(rig.idle.u_mg, weigh_step_u_mg(4536));
}

/* A step that isn't known counts as the coarsest usual one. */
static void test_step_unknown(void **state)
{
	struct settle_result result;
	struct settle_sample sample = { 700 * G, 0, SETTLE_STEADY };
	struct settle settle;

	(void)state;
	settle_init(&settle, 0, IDLE_MG);
	assert_int_equal(settle_take(&settle, &sample, &result), SETTLE_LOADED);
	assert_int_equal(result.u_mg, weigh_step_u_mg(0));
}

/* ---- whatever comes ---- */

/* What must hold of each answer, whatever was asked. */
struct watch {
	const struct settle *settle;
	bool told;               /* the load on the scale */
	int64_t low_mg, high_mg; /* of the samples since something was told, with the one before */
	int loads, idles, onsets;
};

static void watch_sample(struct watch *watch, int64_t mg)
{
	watch->low_mg = mg < watch->low_mg ? mg : watch->low_mg;
	watch->high_mg = mg > watch->high_mg ? mg : watch->high_mg;
}

/*
 * At most one SETTLE_LOADED a load: between two lie SETTLE_IDLE or SETTLE_ONSET, or the scale was seen idle (lifted),
 * or, at a scale that fell silent, another mass. Masses lie within what came.
 */
static void watch_event(struct watch *watch, enum settle_event event, const struct settle_result *result, bool lifted,
			bool replaced)
{
	switch (event) {
	case SETTLE_NOTHING:
		break;
	case SETTLE_ONSET:
		watch->told = false;
		watch->onsets++;
		break;
	case SETTLE_LOADED:
		assert_true(!watch->told || lifted || replaced);
		/* when the sample that shows that it went is the next load's first, that one is untold */
		watch->told = watch->settle->state == SETTLE_IS_TOLD;
		watch->loads++;
		break;
	case SETTLE_IDLE:
		watch->told = false;
		watch->idles++;
		break;
	}
	if (watch->settle->state == SETTLE_IS_EMPTIED || watch->settle->state == SETTLE_IS_IDLE)
		watch->told = false;
	assert_true(watch->settle->samples.n <= SAMPLES_MAX);
	if (event != SETTLE_LOADED && event != SETTLE_IDLE)
		return;
	assert_true(result->u_mg > 0 && result->n > 0 && result->from_us <= result->to_us);
	assert_true(result->to_us <= watch->settle->last.at_us);
	assert_true(result->gross_mg >= watch->low_mg && result->gross_mg <= watch->high_mg);
	watch->low_mg = watch->high_mg = watch->settle->last.gross_mg;
}

/* A mass that wanders between pups, hands, the container and nothing, with pauses, marks and times that stand still. */
static void watch_stream(uint64_t seed, struct watch *watch)
{
	struct settle_result result = { 0 };
	double g = 400, motion_g = 0, rate;
	struct settle settle;
	struct settle_sample sample = { .at_us = 1 };
	int64_t step_mg;
	bool lifted, replaced;

	random_state = seed;
	rate = 1 + 49 * uniform() * uniform();
	step_mg = (int64_t)(100 * pow(100, uniform()));
	settle_init(&settle, uniform() < 0.2 ? 0 : step_mg, IDLE_MG);
	watch->settle = &settle;
	watch->told = false;
	watch->low_mg = INT64_MAX;
	watch->high_mg = INT64_MIN;
	for (int i = 0; i < 2000; i++) {
		if (uniform() < 0.15 / rate) {
			g = uniform() < 0.4 ? 400 + 5 * normal() : uniform() < 0.1 ? 0 : 400 + 900 * uniform();
			motion_g = uniform() < 0.3 ? 0 : g * 0.1 * uniform();
		}
		sample.gross_mg = (int64_t)floor(1000 * (g + motion_g * normal()) / (double)step_mg + 0.5) * step_mg;
		sample.mark = uniform() < 0.97 ? SETTLE_UNSAID : uniform() < 0.5 ? SETTLE_STEADY : SETTLE_MOVING;
		if (uniform() < 0.95)
			sample.at_us += (uint64_t)(1e6 / rate * (uniform() < 0.01 ? 400 * uniform() : 0.5 + uniform()));
		for (int woken = 0; settle_wake_us(&settle) <= sample.at_us && woken < 3; woken++) {
			lifted = settle.lifted;
			replaced = settle_judge_differs(&settle);
			watch_event(watch, settle_wake(&settle, settle_wake_us(&settle), &result), &result, lifted,
				    replaced);
			assert_true(woken < 2);
		}
		lifted = settle.lifted;
		watch_sample(watch, sample.gross_mg);
		watch_event(watch, settle_take(&settle, &sample, &result), &result, lifted, false);
	}
}

static void test_random_streams(void **state)
{
	struct watch watch = { 0 };

	(void)state;
	for (uint64_t seed = 1; seed <= 300; seed++)
		watch_stream(seed * UINT64_C(0x9e3779b97f4a7c15), &watch);
	assert_true(watch.loads > 3000 && watch.idles > 1000 && watch.onsets > 3000);
}

/* No undefined step, and what is told is sane, of values that no scale sends. */
static void test_random(void **state)
{
	static const int64_t far_mg[] = { INT64_MIN, INT64_MIN + 1, -1, 0, 1, INT64_MAX - 1, INT64_MAX };
	struct settle_result result = { 0 };
	struct settle settle;
	enum settle_event event;
	uint64_t now_us = 0;

	(void)state;
	random_state = UINT64_C(0x9e3779b97f4a7c15);
	settle_init(&settle, 1000, IDLE_MG);
	for (int i = 0; i < 300000; i++) {
		uint64_t chance = random_u64();
		unsigned mark = chance >> 32 & 63;
		struct settle_sample sample = {
			.gross_mg = IDLE_MG + (int64_t)(chance % 4) * 50000 + (int64_t)(chance >> 8 & 8191),
			.mark = mark == 1 ? SETTLE_STEADY : mark == 2 ? SETTLE_MOVING : SETTLE_UNSAID,
		};
		now_us += chance >> 40 & 1023 ? chance >> 50 : chance >> 20;
		if ((chance >> 24 & 255) == 0)
			sample.gross_mg = far_mg[chance >> 48 & 3 ? chance % 7 : 0];
		sample.at_us = chance >> 60 ? now_us : now_us / 2;
		if ((chance >> 16 & 4095) == 0)
			settle_init(&settle, chance >> 63 ? INT64_MAX : 5000, far_mg[chance % 7]);
		if ((chance >> 16 & 4095) == 1)
			settle_set_idle(&settle, chance >> 63 ? IDLE_MG : far_mg[chance % 7]);
		if ((chance >> 16 & 511) == 2)
			event = settle_end(&settle, &result);
		else if ((chance >> 16 & 127) == 3)
			event = settle_wake(&settle, settle_wake_us(&settle), &result);
		else
			event = settle_take(&settle, &sample, &result);
		assert_in_range(event, SETTLE_NOTHING, SETTLE_IDLE);
		if (event == SETTLE_LOADED || event == SETTLE_IDLE)
			assert_true(result.u_mg > 0 && result.n > 0 && result.from_us <= result.to_us);
		assert_true(settle.samples.n <= SAMPLES_MAX);
		assert_true(settle_wake_us(&settle) >= settle.last.at_us);
	}
	struct settle_sample last = { INT64_MAX, UINT64_MAX, SETTLE_UNSAID };
	for (int i = 0; i < 300; i++)
		(void)settle_take(&settle, &last, &result);
	assert_true(settle_wake_us(&settle) == UINT64_MAX);
	(void)settle_wake(&settle, UINT64_MAX, &result);
	(void)settle_end(&settle, &result);
}

/* Empty is what is within WEIGH_EMPTY_MG of the idle mass (weigh.h), to either side, the ends included. */
static void test_empty_to_either_side(void **state)
{
	static const int64_t idle_mg[] = { 0, 850000, -120000 };

	(void)state;
	for (size_t i = 0; i < sizeof idle_mg / sizeof *idle_mg; i++)
		for (int side = -1; side <= 1; side += 2) {
			struct settle_sample sample = { .gross_mg = idle_mg[i] + side * WEIGH_EMPTY_MG, .at_us = 1000000 };
			struct settle_result result;
			struct settle settle;

			settle_init(&settle, 1000, idle_mg[i]);
			assert_int_equal(settle_take(&settle, &sample, &result), SETTLE_NOTHING);
			sample.gross_mg += side;
			sample.at_us += 100000;
			assert_int_equal(settle_take(&settle, &sample, &result), SETTLE_ONSET);
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_empty_to_either_side),
		cmocka_unit_test(test_still),
		cmocka_unit_test(test_idle_drifted),
		cmocka_unit_test(test_idle_tail),
		cmocka_unit_test(test_restless),
		cmocka_unit_test(test_error),
		cmocka_unit_test(test_removed_early),
		cmocka_unit_test(test_hand_in_passing),
		cmocka_unit_test(test_exchanged),
		cmocka_unit_test(test_exchanged_in_a_second),
		cmocka_unit_test(test_container_off),
		cmocka_unit_test(test_silent),
		cmocka_unit_test(test_stalled),
		cmocka_unit_test(test_stalled_after),
		cmocka_unit_test(test_touch_in_slow_stream),
		cmocka_unit_test(test_marks),
		cmocka_unit_test(test_mark_off),
		cmocka_unit_test(test_mark_moving),
		cmocka_unit_test(test_equal_times),
		cmocka_unit_test(test_time_goes_back),
		cmocka_unit_test(test_long_gap),
		cmocka_unit_test(test_long_load),
		cmocka_unit_test(test_slow),
		cmocka_unit_test(test_end),
		cmocka_unit_test(test_end_of_exchanged),
		cmocka_unit_test(test_set_idle),
		cmocka_unit_test(test_set_step),
		cmocka_unit_test(test_step_unknown),
		cmocka_unit_test(test_random_streams),
		cmocka_unit_test(test_random),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/weigh/weigh.h"

#define NOW_MS INT64_C(1795610730000)
#define DAY_MS INT64_C(86400000)

/* Fixed seed: a failure comes again. xorshift64. */
static uint64_t random_state = UINT64_C(0x2545f4914f6cdd1d);

static uint64_t random_u64(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return random_state;
}

/* Within [low, high]. */
static int64_t random_between(int64_t low, int64_t high)
{
	return low + (int64_t)(random_u64() % (uint64_t)(high - low + 1));
}

static struct weigh_result plain(int64_t gross_mg, int64_t received_ms, uint32_t link)
{
	return (struct weigh_result){
		.gross_mg = gross_mg,
		.step_mg = 5000,
		.received_ms = received_ms,
		.link = link,
	};
}

static struct weigh_result stamped(int64_t gross_mg, int64_t received_ms, uint32_t link,
				   int64_t stamp_ms)
{
	struct weigh_result result = plain(gross_mg, received_ms, link);

	result.has_stamp = true;
	result.stamp_ms = stamp_ms;
	return result;
}

/* Without container. */
static enum weigh_outcome take(struct weigh_memory *memory, struct weigh_result result)
{
	struct weighing weighing;

	return weigh_take(memory, &result, NULL, &weighing);
}

/* One result and nothing before it. */
static enum weigh_outcome take_alone(struct weigh_result result, const struct tare *tare,
				     struct weighing *ret)
{
	struct weigh_memory memory = { 0 };

	return weigh_take(&memory, &result, tare, ret);
}

/* Uncertainty */

/* JCGM 100:2008, 4.3.7: half-width a gives u^2 = a^2/3, so 5 g, a = 2.5 g: u = 1.4434 g. */
static void test_step_published(void **state)
{
	(void)state;
	assert_int_equal(weigh_step_u_mg(5000), 1444);
	assert_int_equal(weigh_step_u_mg(0), weigh_step_u_mg(WEIGH_UNKNOWN_STEP_MG));
	assert_int_equal(weigh_step_u_mg(-1), weigh_step_u_mg(WEIGH_UNKNOWN_STEP_MG));
	/* 0.29 of a step (JCGM 100:2008, F.2.2.1, from memory). */
	assert_int_equal(weigh_step_u_mg(1000), 289);
	assert_int_equal(weigh_step_u_mg(100), 29);
	/* 0.01 lb: 4.535 923 7 g, NIST SP 811; 4536 / 3.464 102 = 1309.4 */
	assert_int_equal(weigh_step_u_mg(4536), 1310);
	assert_int_equal(weigh_step_u_mg(1), 1);
	assert_true(weigh_step_u_mg(INT64_MAX) > 0);
}

/* u is the smallest integer with 12 u^2 >= d^2. */
static void test_step_rounded_up(void **state)
{
	(void)state;
	for (int64_t d = 1; d < 100000; d++) {
		int64_t u = weigh_step_u_mg(d);

		assert_true(12 * u * u >= d * d);
		assert_true(12 * (u - 1) * (u - 1) < d * d);
	}
}

/*
 * Two readings with one step: d/sqrt(6) (EURAMET cg-18, from memory). Twice that, in hundredths of
 * a gram, was worked out from it for d of 0.1 to 10 g apart from this code, and is rounded to the
 * hundredth.
 */
static void test_net_published(void **state)
{
	static const struct {
		int64_t step_mg;
		int64_t expanded_cg;
	} rows[] = { { 100, 8 }, { 500, 41 }, { 1000, 82 }, { 2000, 163 }, { 5000, 408 },
		     { 10000, 816 } };

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct tare tare = {
			.mass_mg = 850000,
			.u_mg = weigh_step_u_mg(rows[i].step_mg),
			.checked_ms = NOW_MS,
		};
		struct weigh_result result = plain(1150000, NOW_MS, 1);
		struct weighing weighing;

		result.step_mg = rows[i].step_mg;
		assert_int_equal(take_alone(result, &tare, &weighing), WEIGH_DONE);
		/* 5 mg for the table's rounding; each of our three rounds up by less than 1 mg. */
		assert_in_range(2 * weighing.u_mg, rows[i].expanded_cg * 10 - 5,
				rows[i].expanded_cg * 10 + 5 + 5);
	}
}

static void test_net(void **state)
{
	struct tare tare = { .mass_mg = 851234, .u_mg = 1444, .checked_ms = NOW_MS };
	struct weighing weighing;

	(void)state;
	assert_int_equal(take_alone(plain(1155000, NOW_MS, 1), &tare, &weighing), WEIGH_DONE);
	assert_int_equal(weighing.gross_mg, 1155000);
	assert_int_equal(weighing.tare_mg, 851234);
	assert_int_equal(weighing.net_mg, 303766);
	/* 1444 * sqrt(2) = 2042.12 */
	assert_int_equal(weighing.u_mg, 2043);
	assert_int_equal(weighing.drift_mg, 0);
	assert_false(weighing.drifted);

	assert_int_equal(take_alone(plain(305000, NOW_MS, 1), NULL, &weighing), WEIGH_DONE);
	assert_int_equal(weighing.tare_mg, 0);
	assert_int_equal(weighing.net_mg, 305000);
	assert_int_equal(weighing.u_mg, 1444);
}

/* The tare ages until the mass was on the scale, not until the result arrived. */
static void test_tare_age(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 0, .checked_ms = NOW_MS - DAY_MS };
	struct weighing weighing;

	(void)state;
	take_alone(stamped(1150000, NOW_MS, 1, NOW_MS - DAY_MS), &tare, &weighing);
	assert_int_equal(weighing.u_mg, 1444);
	take_alone(plain(1150000, NOW_MS, 1), &tare, &weighing);
	/* sqrt(1444^2 + 24 * 500^2) = 2843.5 */
	assert_int_equal(weighing.u_mg, 2844);
}

/* Time */

static void assert_dated(int64_t stamp_ms, int64_t at_ms, enum weigh_origin origin, bool refused)
{
	struct weighing weighing;

	assert_int_equal(take_alone(stamped(305000, NOW_MS, 1, stamp_ms), NULL, &weighing),
			 WEIGH_DONE);
	assert_int_equal(weighing.at_ms, at_ms);
	assert_int_equal(weighing.origin, origin);
	assert_int_equal(weighing.stamp_refused, refused);
}

static void test_time(void **state)
{
	int64_t oldest_ms = NOW_MS - WEIGH_STAMP_MAX_AGE_MS;
	struct weighing weighing;

	(void)state;
	take_alone(plain(305000, NOW_MS, 1), NULL, &weighing);
	assert_int_equal(weighing.at_ms, NOW_MS);
	assert_int_equal(weighing.origin, WEIGH_RADIO);
	assert_false(weighing.stamp_refused);

	assert_dated(NOW_MS, NOW_MS, WEIGH_RADIO, false);
	assert_dated(NOW_MS - WEIGH_LIVE_MS, NOW_MS, WEIGH_RADIO, false);
	assert_dated(NOW_MS + WEIGH_LIVE_MS, NOW_MS, WEIGH_RADIO, false);
	assert_dated(NOW_MS - WEIGH_LIVE_MS - 1, NOW_MS - WEIGH_LIVE_MS - 1, WEIGH_STORED, false);
	assert_dated(NOW_MS + WEIGH_LIVE_MS + 1, NOW_MS, WEIGH_RADIO, true);
	assert_dated(oldest_ms, oldest_ms, WEIGH_STORED, false);
	assert_dated(oldest_ms - 1, NOW_MS, WEIGH_RADIO, true);
	/* 2000-01-01, where many clocks start. */
	assert_dated(INT64_C(946684800000), NOW_MS, WEIGH_RADIO, true);
	assert_dated(INT64_MIN, NOW_MS, WEIGH_RADIO, true);
	assert_dated(INT64_MAX, NOW_MS, WEIGH_RADIO, true);
}

/* Empty, below, or a pup */

static void test_empty_container(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 1444, .checked_ms = NOW_MS };
	struct weighing weighing;

	(void)state;
	assert_int_equal(take_alone(plain(850000, NOW_MS, 1), &tare, &weighing), WEIGH_EMPTY);
	assert_int_equal(weighing.drift_mg, 0);
	assert_false(weighing.drifted);

	assert_int_equal(take_alone(plain(850000 + WEIGH_EMPTY_MG, NOW_MS, 1), &tare, &weighing),
			 WEIGH_EMPTY);
	assert_int_equal(weighing.drift_mg, WEIGH_EMPTY_MG);
	assert_true(weighing.drifted);
	assert_int_equal(take_alone(plain(850001 + WEIGH_EMPTY_MG, NOW_MS, 1), &tare, &weighing),
			 WEIGH_DONE);
	assert_int_equal(weighing.drift_mg, 0);
	assert_false(weighing.drifted);

	assert_int_equal(take_alone(plain(850000 - WEIGH_EMPTY_MG, NOW_MS, 1), &tare, &weighing),
			 WEIGH_EMPTY);
	assert_int_equal(weighing.drift_mg, -WEIGH_EMPTY_MG);
	assert_true(weighing.drifted);
	assert_int_equal(take_alone(plain(849999 - WEIGH_EMPTY_MG, NOW_MS, 1), &tare, &weighing),
			 WEIGH_BELOW);
	assert_int_equal(weighing.drift_mg, -WEIGH_EMPTY_MG - 1);
	assert_true(weighing.drifted);

	/* Zeroed with the container on it, then the container taken off. */
	assert_int_equal(take_alone(plain(-850000, NOW_MS, 1), &tare, &weighing), WEIGH_BELOW);
	assert_int_equal(weighing.drift_mg, -1700000);
}

/* Drift is told when more than the step, and more than twice the uncertainty. */
static void test_drift(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 1444, .checked_ms = NOW_MS };
	struct weighing weighing;

	(void)state;
	/* u 2043, so the step of 5000 is the larger. */
	take_alone(plain(855000, NOW_MS, 1), &tare, &weighing);
	assert_false(weighing.drifted);
	take_alone(plain(845000, NOW_MS, 1), &tare, &weighing);
	assert_false(weighing.drifted);
	take_alone(plain(855001, NOW_MS, 1), &tare, &weighing);
	assert_true(weighing.drifted);
	assert_int_equal(weighing.drift_mg, 5001);
	take_alone(plain(844999, NOW_MS, 1), &tare, &weighing);
	assert_true(weighing.drifted);
	assert_int_equal(weighing.drift_mg, -5001);

	/* After three days u is sqrt(2 * 1444^2 + 72 * 500^2) = 4708.5, and 2 * 4709 the larger. */
	tare.checked_ms = NOW_MS - 3 * DAY_MS;
	take_alone(plain(850000 + 9418, NOW_MS, 1), &tare, &weighing);
	assert_int_equal(weighing.u_mg, 4709);
	assert_false(weighing.drifted);
	take_alone(plain(850000 + 9419, NOW_MS, 1), &tare, &weighing);
	assert_true(weighing.drifted);
}

static void test_empty_scale(void **state)
{
	struct weigh_result newborn = plain(60000, NOW_MS, 1);
	struct weighing weighing;

	(void)state;
	assert_int_equal(take_alone(plain(0, NOW_MS, 1), NULL, &weighing), WEIGH_EMPTY);
	assert_int_equal(take_alone(plain(25000, NOW_MS, 1), NULL, &weighing), WEIGH_EMPTY);
	assert_int_equal(weighing.drift_mg, 0);
	assert_false(weighing.drifted);
	assert_int_equal(take_alone(plain(-25000, NOW_MS, 1), NULL, &weighing), WEIGH_EMPTY);
	assert_int_equal(weighing.drift_mg, 0);
	assert_int_equal(take_alone(plain(25001, NOW_MS, 1), NULL, &weighing), WEIGH_DONE);
	assert_int_equal(take_alone(plain(-25001, NOW_MS, 1), NULL, &weighing), WEIGH_BELOW);
	assert_int_equal(weighing.drift_mg, -25001);
	assert_int_equal(take_alone(newborn, NULL, &weighing), WEIGH_DONE);
	newborn.step_mg = 0;
	assert_int_equal(take_alone(newborn, NULL, &weighing), WEIGH_DONE);
	/* a decimal number without its trailing zeros, 2 * 10^-1 kg, claims steps of 100 g: still a pup */
	newborn = plain(200000, NOW_MS, 1);
	newborn.step_mg = 100000;
	assert_int_equal(take_alone(newborn, NULL, &weighing), WEIGH_DONE);
}

/* A scale zeroed with the container, which the record has on it: the keeper corrects the record at once, and the result
 * that the scale goes on sending counts then, once. */
static void test_below_then_weighing(void **state)
{
	struct tare tare = { .mass_mg = 400000, .u_mg = 1444, .checked_ms = NOW_MS };
	struct weigh_memory memory = { 0 };
	struct weigh_result result = plain(305000, NOW_MS, 1);
	struct weighing weighing;

	(void)state;
	assert_int_equal(weigh_take(&memory, &result, &tare, &weighing), WEIGH_BELOW);
	result.received_ms += 1000;
	assert_int_equal(weigh_take(&memory, &result, &tare, &weighing), WEIGH_REPEAT);
	result.received_ms += 1000;
	assert_int_equal(weigh_take(&memory, &result, NULL, &weighing), WEIGH_DONE);
	result.received_ms += 1000;
	assert_int_equal(weigh_take(&memory, &result, NULL, &weighing), WEIGH_REPEAT);
}

static void test_empty_stored(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 1444, .checked_ms = NOW_MS - DAY_MS };
	int64_t stamp_ms = NOW_MS - DAY_MS / 2;
	struct weighing weighing;

	(void)state;
	assert_int_equal(take_alone(stamped(860000, NOW_MS, 1, stamp_ms), &tare, &weighing),
			 WEIGH_EMPTY);
	assert_int_equal(weighing.origin, WEIGH_STORED);
	assert_int_equal(weighing.at_ms, stamp_ms);
	assert_int_equal(weighing.drift_mg, 10000);
	assert_int_equal(take_alone(stamped(500000, NOW_MS, 1, stamp_ms), &tare, &weighing),
			 WEIGH_BELOW);
	assert_int_equal(take_alone(stamped(5000, NOW_MS, 1, stamp_ms), NULL, &weighing),
			 WEIGH_EMPTY);
}

/* Repeats */

static enum weigh_outcome second_after(int64_t apart_ms)
{
	struct weigh_memory memory = { 0 };

	assert_int_equal(take(&memory, plain(305000, NOW_MS, 1)), WEIGH_DONE);
	return take(&memory, plain(305000, NOW_MS + apart_ms, 1));
}

static void test_repeat_by_time(void **state)
{
	(void)state;
	assert_int_equal(second_after(0), WEIGH_REPEAT);
	assert_int_equal(second_after(WEIGH_REPEAT_MS), WEIGH_REPEAT);
	assert_int_equal(second_after(WEIGH_REPEAT_MS + 1), WEIGH_DONE);
	/* The wall clock was set back a little, or a lot. */
	assert_int_equal(second_after(-WEIGH_REPEAT_MS), WEIGH_REPEAT);
	assert_int_equal(second_after(-WEIGH_REPEAT_MS - 1), WEIGH_DONE);
}

static void test_repeat_fills_ret(void **state)
{
	struct tare tare = { .mass_mg = 850000, .u_mg = 1444, .checked_ms = NOW_MS };
	struct weigh_result result = plain(1155000, NOW_MS, 1);
	struct weigh_memory memory = { 0 };
	struct weighing weighing;

	(void)state;
	assert_int_equal(weigh_take(&memory, &result, &tare, &weighing), WEIGH_DONE);
	memset(&weighing, 0xa5, sizeof(weighing));
	result.received_ms += 1000;
	assert_int_equal(weigh_take(&memory, &result, &tare, &weighing), WEIGH_REPEAT);
	assert_int_equal(weighing.at_ms, NOW_MS + 1000);
	assert_int_equal(weighing.origin, WEIGH_RADIO);
	assert_int_equal(weighing.gross_mg, 1155000);
	assert_int_equal(weighing.tare_mg, 850000);
	assert_int_equal(weighing.net_mg, 305000);
	assert_true(weighing.u_mg >= 2043);
	assert_int_equal(weighing.drift_mg, 0);
	assert_false(weighing.drifted);
	assert_false(weighing.stamp_refused);
}

static void test_other_mass_between(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(take(&memory, plain(305000, NOW_MS, 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(310000, NOW_MS + 1000, 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 2000, 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(0, NOW_MS + 3000, 1)), WEIGH_EMPTY);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 4000, 1)), WEIGH_DONE);
	assert_int_equal(memory.n, 5);
}

/* The final value each second for 20 s is one weighing; the cap makes it two after a minute. */
static void test_stream(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(take(&memory, plain(305000, NOW_MS, 1)), WEIGH_DONE);
	for (int64_t ms = 1000; ms < WEIGH_REPEAT_MAX_MS; ms += 1000)
		assert_int_equal(take(&memory, plain(305000, NOW_MS + ms, 1)), WEIGH_REPEAT);
	assert_int_equal(memory.n, 1);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + WEIGH_REPEAT_MAX_MS, 1)),
			 WEIGH_REPEAT);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + WEIGH_REPEAT_MAX_MS + 1, 1)),
			 WEIGH_DONE);
	/* A stream that pauses. */
	assert_int_equal(take(&memory, plain(305000, NOW_MS + WEIGH_REPEAT_MAX_MS + 5001, 1)),
			 WEIGH_REPEAT);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + WEIGH_REPEAT_MAX_MS + 10002, 1)),
			 WEIGH_DONE);
}

static enum weigh_outcome resend_after(int64_t apart_ms)
{
	struct weigh_memory memory = { 0 };

	assert_int_equal(take(&memory, plain(305000, NOW_MS, 1)), WEIGH_DONE);
	return take(&memory, plain(305000, NOW_MS + apart_ms, 2));
}

static void test_repeat_on_new_link(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(resend_after(WEIGH_RESEND_MS), WEIGH_REPEAT);
	assert_int_equal(resend_after(WEIGH_RESEND_MS + 1), WEIGH_DONE);
	assert_int_equal(resend_after(-WEIGH_RESEND_MS), WEIGH_REPEAT);
	assert_int_equal(resend_after(-WEIGH_RESEND_MS - 1), WEIGH_DONE);

	/* Only the first result of a link: from the second on the shorter window holds. */
	assert_int_equal(take(&memory, plain(305000, NOW_MS, 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 6000, 2)), WEIGH_REPEAT);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 11001, 2)), WEIGH_DONE);

	/* Another mass came first. */
	assert_int_equal(take(&memory, plain(310000, NOW_MS + 12000, 3)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 13000, 3)), WEIGH_DONE);
	/* A link that is known already isn't new. */
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 14000, 2)), WEIGH_DONE);
}

static void test_repeat_by_stamp(void **state)
{
	struct weigh_memory memory = { 0 };
	int64_t last_ms = NOW_MS + WEIGH_STAMP_MAX_AGE_MS;

	(void)state;
	assert_int_equal(take(&memory, stamped(305000, NOW_MS, 1, NOW_MS)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(310000, NOW_MS + 60000, 1, NOW_MS + 60000)),
			 WEIGH_DONE);
	/* Sent again from the scale's store, behind another, hours and weeks later. */
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + DAY_MS / 8, 2, NOW_MS)),
			 WEIGH_REPEAT);
	assert_int_equal(take(&memory, stamped(305000, last_ms, 3, NOW_MS)), WEIGH_REPEAT);
	/* One stamp and two masses: not the same. */
	assert_int_equal(take(&memory, stamped(300000, NOW_MS + DAY_MS, 4, NOW_MS)), WEIGH_DONE);

	/* Past 30 days the stamp isn't believed any more. */
	memset(&memory, 0, sizeof(memory));
	assert_int_equal(take(&memory, stamped(305000, NOW_MS, 1, NOW_MS)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, last_ms + 1, 2, NOW_MS)), WEIGH_DONE);
}

static void test_stamps_contradict(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(take(&memory, stamped(305000, NOW_MS, 1, NOW_MS)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + 1000, 1, NOW_MS + 1000)),
			 WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + 2000, 2, NOW_MS + 2000)),
			 WEIGH_DONE);
}

/* Weight Measurement (0x2A9D) and Body Composition Measurement (0x2A9C) tell of one weighing. */
static void test_two_characteristics(void **state)
{
	struct weigh_memory memory = { 0 };
	int64_t later_ms = NOW_MS + DAY_MS / 4;

	(void)state;
	assert_int_equal(take(&memory, plain(305000, NOW_MS, 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + 40, 1, NOW_MS)), WEIGH_REPEAT);
	/* The stamp was learned: it names the weighing, and it contradicts another. */
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + 80, 1, NOW_MS + 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, later_ms, 2, NOW_MS)), WEIGH_REPEAT);
	/* The other half of what the stamp has just named. */
	assert_int_equal(take(&memory, plain(305000, later_ms + 40, 2)), WEIGH_REPEAT);
	assert_int_equal(take(&memory, plain(305000, later_ms + 40 + WEIGH_REPEAT_MS, 2)),
			 WEIGH_REPEAT);
	assert_int_equal(take(&memory, plain(305000, later_ms + 41 + 2 * WEIGH_REPEAT_MS, 2)),
			 WEIGH_DONE);
	assert_int_equal(memory.n, 3);
}

/* A clock that was never set starts from the same date at each power-up. */
static void test_refused_stamp(void **state)
{
	const int64_t never_set_ms = INT64_C(946684812000);
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(take(&memory, stamped(305000, NOW_MS, 1, never_set_ms)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(310000, NOW_MS + 1000, 1)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + WEIGH_RESEND_MS, 1, never_set_ms)),
			 WEIGH_REPEAT);

	memset(&memory, 0, sizeof(memory));
	assert_int_equal(take(&memory, stamped(305000, NOW_MS, 1, never_set_ms)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + WEIGH_RESEND_MS + 1, 2,
					       never_set_ms)),
			 WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + DAY_MS, 3, never_set_ms)),
			 WEIGH_DONE);
	/* Frozen, it contradicts nothing within the short window; running, it does. */
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + DAY_MS + 5000, 3, never_set_ms)),
			 WEIGH_REPEAT);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + DAY_MS + 6000, 3,
					       never_set_ms + 1000)),
			 WEIGH_DONE);
}

/* After a restart the ledger's results count as seen. */
static void test_remember(void **state)
{
	struct weigh_result result = stamped(305000, NOW_MS, 0, NOW_MS);
	struct weigh_memory memory = { 0 };

	(void)state;
	weigh_remember(&memory, &result);
	result = plain(310000, NOW_MS + 60000, 0);
	weigh_remember(&memory, &result);
	assert_int_equal(memory.n, 2);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + DAY_MS, 1, NOW_MS)), WEIGH_REPEAT);

	memset(&memory, 0, sizeof(memory));
	weigh_remember(&memory, &result);
	assert_int_equal(take(&memory, plain(310000, NOW_MS + 60000 + WEIGH_RESEND_MS, 1)),
			 WEIGH_REPEAT);
}

/* Sixteen are remembered; the seventeenth pushes the oldest out. */
static void test_memory_full(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	for (int64_t i = 0; i < WEIGH_REMEMBERED; i++)
		assert_int_equal(take(&memory, stamped(300000 + i * 5000, NOW_MS + i * 60000, 1,
						       NOW_MS + i * 60000)),
				 WEIGH_DONE);
	assert_int_equal(memory.n, WEIGH_REMEMBERED);
	for (int64_t i = 0; i < WEIGH_REMEMBERED; i++)
		assert_int_equal(take(&memory, stamped(300000 + i * 5000, NOW_MS + DAY_MS, 2,
						       NOW_MS + i * 60000)),
				 WEIGH_REPEAT);
	assert_int_equal(take(&memory, plain(500000, NOW_MS + DAY_MS, 2)), WEIGH_DONE);
	assert_int_equal(memory.n, WEIGH_REMEMBERED);
	assert_int_equal(take(&memory, stamped(305000, NOW_MS + DAY_MS, 2, NOW_MS + 60000)),
			 WEIGH_REPEAT);
	assert_int_equal(take(&memory, stamped(300000, NOW_MS + DAY_MS, 2, NOW_MS)), WEIGH_DONE);
}

/* Whatever comes: exact arithmetic, a time that was offered, and a memory within its bounds. */
static void test_random(void **state)
{
	struct weigh_memory memory = { 0 };
	int64_t now_ms = NOW_MS;
	int64_t gross_mg = 0;
	int counts[4] = { 0 };

	(void)state;
	for (int i = 0; i < 200000; i++) {
		struct tare tare = {
			.mass_mg = random_between(0, 60) * 5000,
			.u_mg = random_between(0, 3000),
			.checked_ms = NOW_MS + random_between(-DAY_MS, DAY_MS),
		};
		const struct tare *container = random_u64() % 2 ? &tare : NULL;
		uint32_t link = (uint32_t)random_between(1, 3);
		struct weigh_result result = plain(gross_mg, now_ms, link);
		struct weighing weighing;
		enum weigh_outcome outcome;

		result.has_stamp = random_u64() % 2;
		result.stamp_ms = random_u64() % 50 ? now_ms - random_between(-3, 60) * 60000
						    : (int64_t)random_u64();
		result.step_mg = random_between(0, 10000);
		outcome = weigh_take(&memory, &result, container, &weighing);
		counts[outcome]++;

		assert_int_equal(weighing.net_mg + weighing.tare_mg, result.gross_mg);
		assert_int_equal(weighing.gross_mg, result.gross_mg);
		assert_int_equal(weighing.tare_mg, container ? tare.mass_mg : 0);
		assert_true(weighing.u_mg >= weigh_step_u_mg(result.step_mg));
		assert_true(!container || weighing.u_mg >= tare.u_mg);
		assert_true(weighing.at_ms == now_ms ||
			    (result.has_stamp && weighing.at_ms == result.stamp_ms &&
			     weighing.origin == WEIGH_STORED));
		assert_true(weighing.at_ms <= now_ms);
		assert_true(!weighing.stamp_refused || weighing.at_ms == now_ms);
		assert_true(outcome != WEIGH_DONE || weighing.net_mg > 0);
		assert_true(outcome != WEIGH_BELOW || weighing.net_mg < 0);
		assert_true(!weighing.drifted || weighing.drift_mg == weighing.net_mg);
		assert_true(memory.n <= WEIGH_REMEMBERED && memory.next < WEIGH_REMEMBERED &&
			    memory.latest < memory.n);
		/* At once and on the same link, it has been heard before. */
		assert_int_equal(weigh_take(&memory, &result, container, &weighing), WEIGH_REPEAT);
		now_ms += random_between(0, 8000);
		if (random_u64() % 4)
			gross_mg = random_between(-5, 65) * 5000;
	}
	for (size_t i = 0; i < sizeof(counts) / sizeof(counts[0]); i++)
		assert_true(counts[i] > 1000);
}

static void test_extremes(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(take(&memory, stamped(305000, INT64_MAX, 1, INT64_MIN)), WEIGH_DONE);
	assert_int_equal(take(&memory, stamped(305000, INT64_MIN, 1, INT64_MAX)), WEIGH_DONE);
	assert_int_equal(take(&memory, plain(305000, INT64_MAX, 1)), WEIGH_DONE);
}

static void test_origin_text(void **state)
{
	(void)state;
	assert_string_equal(weigh_origin_text(WEIGH_RADIO), "radio");
	assert_string_equal(weigh_origin_text(WEIGH_STORED), "stored");
	assert_string_equal(weigh_origin_text(WEIGH_TYPED), "typed");
}

/* What a settled plateau is known to counts instead of the step; parts add in squares, rounded up. */
static void test_own_uncertainty(void **state)
{
	static const struct {
		int64_t u_mg, tare_u_mg, net_u_mg;
	} cases[] = {
		{ 0, 0, 1444 },             /* the step's */
		{ -5, 0, 1444 },
		{ 300, 0, 300 },            /* motion dithers a coarse step */
		{ 9000, 0, 9000 },          /* a restless pup */
		{ 300, 400, 500 },          /* 3-4-5 */
		{ 1, 1, 2 },                /* 1.41 */
		{ INT64_MAX, 0, 2000000000 }, /* as large as is told apart, never the step's */
	};
	struct weighing weighing;

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct tare tare = { .mass_mg = 400000, .u_mg = cases[i].tare_u_mg, .checked_ms = NOW_MS };
		struct weigh_result result = plain(705000, NOW_MS, 1);

		result.u_mg = cases[i].u_mg;
		assert_int_equal(take_alone(result, &tare, &weighing), WEIGH_DONE);
		assert_int_equal(weighing.net_mg, 305000);
		assert_int_equal(weighing.u_mg, cases[i].net_u_mg);
	}
}

/* A container that is 3 g heavier: within a coarse step; more than a settled reading of it explains. */
static void test_drift_by_own_uncertainty(void **state)
{
	struct tare tare = { .mass_mg = 400000, .u_mg = 300, .checked_ms = NOW_MS };
	struct weigh_result result = plain(403000, NOW_MS, 1);
	struct weighing weighing;

	(void)state;
	assert_int_equal(take_alone(result, &tare, &weighing), WEIGH_EMPTY);
	assert_false(weighing.drifted);
	result.step_mg = 1000;
	result.u_mg = 300;
	assert_int_equal(take_alone(result, &tare, &weighing), WEIGH_EMPTY);
	assert_int_equal(weighing.drift_mg, 3000);
	assert_true(weighing.drifted);
}

static struct weigh_result fresh(struct weigh_result result)
{
	result.fresh = true;
	return result;
}

/* Known to be new: the time makes no repeat of it, only an equal stamp does. */
static void test_fresh(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	assert_int_equal(take(&memory, fresh(plain(305000, NOW_MS, 1))), WEIGH_DONE);
	assert_int_equal(take(&memory, fresh(plain(305000, NOW_MS + 1, 1))), WEIGH_DONE);
	assert_int_equal(take(&memory, fresh(plain(305000, NOW_MS + 2, 2))), WEIGH_DONE); /* on a new link */
	assert_int_equal(take(&memory, plain(305000, NOW_MS + 3, 2)), WEIGH_REPEAT);
	assert_int_equal(take(&memory, fresh(stamped(305000, NOW_MS + 4, 2, NOW_MS))), WEIGH_DONE);
	assert_int_equal(take(&memory, fresh(stamped(305000, NOW_MS + 5, 2, NOW_MS))), WEIGH_REPEAT);
	assert_int_equal(take(&memory, fresh(stamped(305000, NOW_MS + 6, 3, NOW_MS))), WEIGH_REPEAT);
	assert_int_equal(take(&memory, fresh(stamped(305000, NOW_MS + 7, 3, NOW_MS + 1000))), WEIGH_DONE);
	assert_int_equal(take(&memory, fresh(stamped(310000, NOW_MS + 8, 3, NOW_MS + 1000))), WEIGH_DONE);
}

/* The scale's clock is off by this much, as weigh/stamp found: what the weighing is dated by. */
static void test_clock_ahead(void **state)
{
	static const struct {
		int64_t stamp_ms, ahead_ms;
		bool live;
		int64_t at_ms;
		enum weigh_origin origin;
		bool refused;
	} cases[] = {
		{ NOW_MS - DAY_MS, 0, false, NOW_MS - DAY_MS, WEIGH_STORED, false },
		{ NOW_MS + 365 * DAY_MS, 0, false, NOW_MS, WEIGH_RADIO, true },
		{ NOW_MS + 365 * DAY_MS, 366 * DAY_MS, false, NOW_MS - DAY_MS, WEIGH_STORED, false },
		{ NOW_MS - 3650 * DAY_MS, -3649 * DAY_MS, false, NOW_MS - DAY_MS, WEIGH_STORED, false },
		{ NOW_MS - 3650 * DAY_MS, -3650 * DAY_MS, false, NOW_MS, WEIGH_RADIO, false },
		{ NOW_MS - 3650 * DAY_MS, 0, true, NOW_MS, WEIGH_RADIO, false },
		{ NOW_MS - DAY_MS, 0, true, NOW_MS, WEIGH_RADIO, false },
		{ INT64_MIN, INT64_MAX, false, NOW_MS, WEIGH_RADIO, true },
		{ INT64_MAX, INT64_MIN, false, NOW_MS, WEIGH_RADIO, true },
	};
	struct weighing weighing;

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct weigh_result result = stamped(305000, NOW_MS, 1, cases[i].stamp_ms);

		result.ahead_ms = cases[i].ahead_ms;
		result.live = cases[i].live;
		assert_int_equal(take_alone(result, NULL, &weighing), WEIGH_DONE);
		assert_int_equal(weighing.at_ms, cases[i].at_ms);
		assert_int_equal(weighing.origin, cases[i].origin);
		assert_int_equal(weighing.stamp_refused, cases[i].refused);
	}
}

/* A clock that starts from 2000-01-01 at each power-up, and is known to: each day's first pup has the same stamp. */
static void test_same_stamp_another_day(void **state)
{
	const int64_t never_set_ms = INT64_C(946684812000);
	struct weigh_memory memory = { 0 };
	struct weigh_result result = stamped(305000, NOW_MS, 1, never_set_ms);

	(void)state;
	result.ahead_ms = never_set_ms - NOW_MS;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
	result.received_ms += DAY_MS;
	result.link = 2;
	result.ahead_ms -= DAY_MS;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
	/* and sent again, an hour after, by a clock that went on: known a little differently */
	result.received_ms += DAY_MS / 24;
	result.link = 3;
	result.ahead_ms += 900;
	assert_int_equal(take(&memory, result), WEIGH_REPEAT);
	/* as far apart as still counts as one time, and farther */
	result.ahead_ms += WEIGH_LIVE_MS - 900;
	assert_int_equal(take(&memory, result), WEIGH_REPEAT);
	result.received_ms += DAY_MS / 24;
	result.ahead_ms += 1;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
}

/* Our own clock was off by a month and is set in between: what was known of the scale's goes by the new time. */
static void test_same_stamp_clock_set(void **state)
{
	const int64_t never_set_ms = INT64_C(946684812000);
	struct weigh_memory memory = { 0 };
	struct weigh_result result = stamped(305000, NOW_MS, 1, never_set_ms);

	(void)state;
	result.ahead_ms = never_set_ms - NOW_MS + DAY_MS / 2;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
	weigh_clock_set(&memory, 30 * DAY_MS);
	result.received_ms += 30 * DAY_MS + DAY_MS / 24;
	result.link = 2;
	result.ahead_ms -= 30 * DAY_MS;
	assert_int_equal(take(&memory, result), WEIGH_REPEAT);
	weigh_clock_set(&memory, INT64_MIN); /* as far as can be */
	weigh_clock_set(&memory, INT64_MAX);
}

/* First it was dated by its arrival, and then the clock's offset became known: still the same. */
static void test_same_stamp_offset_known_later(void **state)
{
	const int64_t never_set_ms = INT64_C(946684812000);
	struct weigh_memory memory = { 0 };
	struct weigh_result result = stamped(305000, NOW_MS, 1, never_set_ms);

	(void)state;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
	result.received_ms += DAY_MS / 24;
	result.link = 2;
	result.ahead_ms = never_set_ms - NOW_MS + 3000;
	assert_int_equal(take(&memory, result), WEIGH_REPEAT);

	/* weighed as it came, whatever was thought of the clock then */
	memset(&memory, 0, sizeof(memory));
	result = stamped(305000, NOW_MS, 1, never_set_ms);
	result.live = true;
	result.ahead_ms = never_set_ms - NOW_MS + DAY_MS / 24;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
	result.live = false;
	result.received_ms += DAY_MS / 24;
	result.link = 2;
	result.ahead_ms = never_set_ms - NOW_MS;
	assert_int_equal(take(&memory, result), WEIGH_REPEAT);

	/* a stamp that can be true names it without that, whatever was known of the clock then and now */
	memset(&memory, 0, sizeof(memory));
	result = stamped(305000, NOW_MS, 1, NOW_MS - DAY_MS);
	result.ahead_ms = -DAY_MS / 2;
	assert_int_equal(take(&memory, result), WEIGH_DONE);
	result.received_ms += DAY_MS / 24;
	result.link = 2;
	result.ahead_ms = 0;
	assert_int_equal(take(&memory, result), WEIGH_REPEAT);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_step_published),
		cmocka_unit_test(test_step_rounded_up),
		cmocka_unit_test(test_net_published),
		cmocka_unit_test(test_net),
		cmocka_unit_test(test_tare_age),
		cmocka_unit_test(test_time),
		cmocka_unit_test(test_empty_container),
		cmocka_unit_test(test_drift),
		cmocka_unit_test(test_empty_scale),
		cmocka_unit_test(test_below_then_weighing),
		cmocka_unit_test(test_empty_stored),
		cmocka_unit_test(test_repeat_by_time),
		cmocka_unit_test(test_repeat_fills_ret),
		cmocka_unit_test(test_other_mass_between),
		cmocka_unit_test(test_stream),
		cmocka_unit_test(test_repeat_on_new_link),
		cmocka_unit_test(test_repeat_by_stamp),
		cmocka_unit_test(test_stamps_contradict),
		cmocka_unit_test(test_two_characteristics),
		cmocka_unit_test(test_refused_stamp),
		cmocka_unit_test(test_remember),
		cmocka_unit_test(test_memory_full),
		cmocka_unit_test(test_random),
		cmocka_unit_test(test_extremes),
		cmocka_unit_test(test_own_uncertainty),
		cmocka_unit_test(test_drift_by_own_uncertainty),
		cmocka_unit_test(test_fresh),
		cmocka_unit_test(test_clock_ahead),
		cmocka_unit_test(test_same_stamp_another_day),
		cmocka_unit_test(test_same_stamp_clock_set),
		cmocka_unit_test(test_same_stamp_offset_known_later),
		cmocka_unit_test(test_origin_text),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

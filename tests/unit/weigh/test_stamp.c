// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/weigh/stamp.h"
#include "daemon/weigh/weigh.h"

#define NOW_MS INT64_C(1795610730000)
#define S_MS INT64_C(1000)
#define DAY_MS INT64_C(86400000)
#define YEAR_MS (365 * DAY_MS)

enum what { END, LINK, READ, READ_SET, RESULT };

/* One link's life; times are seconds after NOW_MS. */
struct step {
	enum what what;
	int64_t at_s;
	int64_t stamp_ms;  /* RESULT, or READ: the scale's clock */
	int64_t ahead_ms;  /* RESULT: expected */
	bool live;
};

static const struct {
	const char *name;
	struct step steps[8];
} lives[] = {
	{ "nothing known: the first burst's stamps are taken as they are",
	  { { LINK, 0, 0, 0, false },
	    { RESULT, 1, NOW_MS - DAY_MS, 0, false },
	    { RESULT, 2, NOW_MS - DAY_MS / 2, 0, false },
	    { RESULT, 10, NOW_MS - 5 * YEAR_MS, 0, false } } },
	{ "nothing told of the link: its first result begins it",
	  { { RESULT, 100, NOW_MS - DAY_MS, 0, false }, { RESULT, 105, NOW_MS, 0, false } } },
	{ "after the burst a result is of just now, whatever its stamp, and teaches the offset",
	  { { LINK, 0, 0, 0, false },
	    { RESULT, 30, NOW_MS - YEAR_MS + 30 * S_MS, -YEAR_MS, true },
	    { RESULT, 31, NOW_MS - YEAR_MS - DAY_MS, -YEAR_MS, false },
	    { RESULT, 60, NOW_MS - YEAR_MS + 62 * S_MS, 2 * S_MS - YEAR_MS, true } } },
	{ "a burst that lasts: the next within the time isn't live",
	  { { LINK, 0, 0, 0, false },
	    { RESULT, 5, NOW_MS - DAY_MS, 0, false },
	    { RESULT, 15, NOW_MS - DAY_MS, 0, false }, /* STAMP_BURST_MS after, not later than it */
	    { RESULT, 20, NOW_MS - DAY_MS, 0, false },
	    { RESULT, 31, NOW_MS - DAY_MS, -DAY_MS - 31 * S_MS, true } } },
	{ "the same result again, long after the burst: no lesson about the clock",
	  { { LINK, 0, 0, 0, false },
	    { RESULT, 1, NOW_MS - DAY_MS, 0, false },
	    { RESULT, 30, NOW_MS - DAY_MS, -DAY_MS - 30 * S_MS, true },
	    { RESULT, 31, NOW_MS - DAY_MS / 2, 0, false },
	    { RESULT, 60, NOW_MS + 62 * S_MS, 2 * S_MS, true },
	    { RESULT, 90, NOW_MS + 62 * S_MS, -28 * S_MS, true },
	    { RESULT, 91, NOW_MS - DAY_MS / 4, 2 * S_MS, false } } },
	{ "Current Time read, not set: all stamps are off by that",
	  { { LINK, 0, 0, 0, false },
	    { READ, 1, NOW_MS + S_MS - YEAR_MS, 0, false },
	    { RESULT, 2, NOW_MS - YEAR_MS - DAY_MS, -YEAR_MS, false },
	    { RESULT, 50, NOW_MS + 50 * S_MS - YEAR_MS, -YEAR_MS, false },
	    { RESULT, 99, NOW_MS + 99 * S_MS, -YEAR_MS, false } } },
	{ "Current Time read and set: kept ones by the old clock, new ones by ours",
	  { { LINK, 0, 0, 0, false },
	    { READ_SET, 1, NOW_MS + S_MS + 3 * DAY_MS, 0, false },
	    { RESULT, 2, NOW_MS + 2 * DAY_MS, 3 * DAY_MS, false },
	    { RESULT, 40, NOW_MS + 40 * S_MS, 0, true },
	    { RESULT, 41, NOW_MS + 41 * S_MS - WEIGH_LIVE_MS, 0, true },
	    { RESULT, 42, NOW_MS + 42 * S_MS + WEIGH_LIVE_MS, 0, true },
	    { RESULT, 43, NOW_MS + 43 * S_MS - WEIGH_LIVE_MS - 1, 3 * DAY_MS, false } } },
	{ "a clock that is right has no offset",
	  { { LINK, 0, 0, 0, false },
	    { READ, 1, NOW_MS + S_MS, 0, false },
	    { RESULT, 2, NOW_MS - DAY_MS, 0, false },
	    { RESULT, 60, NOW_MS + 60 * S_MS, 0, false } } },
	{ "our own clock is put back: not after the burst",
	  { { LINK, 100, 0, 0, false }, { RESULT, -5000, NOW_MS, 0, false }, { RESULT, -4000, NOW_MS, 0, false } } },
};

static void live_through(struct stamp_clock *clock, uint32_t link, const char *name, const struct step *step)
{
	for (; step->what != END; step++) {
		int64_t at_ms = NOW_MS + step->at_s * S_MS, ahead_ms;
		bool live;

		switch (step->what) {
		case END:
			break;
		case LINK:
			stamp_link(clock, link, at_ms);
			break;
		case READ:
		case READ_SET:
			stamp_read(clock, link, step->stamp_ms, at_ms, step->what == READ_SET);
			break;
		case RESULT:
			ahead_ms = stamp_ahead_ms(clock, link, step->stamp_ms, at_ms, &live);
			if (ahead_ms != step->ahead_ms || live != step->live)
				fail_msg("%s: at %lld s: %lld ahead, %d", name, (long long)step->at_s,
					 (long long)ahead_ms, live);
			break;
		}
	}
}

static void test_lives(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof lives / sizeof *lives; i++) {
		for (uint32_t link = 0; link < 2; link++) {
			struct stamp_clock clock = { 0 };
			live_through(&clock, link, lives[i].name, lives[i].steps);
		}
	}
}

/* Each link knows nothing of the one before, whatever its number is; link 0 too. */
static void test_links_apart(void **state)
{
	struct stamp_clock clock = { 0 };

	(void)state;
	for (uint32_t link = 0; link < 50; link++)
		for (size_t i = 0; i < sizeof lives / sizeof *lives; i++)
			live_through(&clock, link * 100 + (uint32_t)i, lives[i].name, lives[i].steps);
}

static void test_extremes(void **state)
{
	static const int64_t times[] = { INT64_MIN, INT64_MIN + 1, -1, 0, NOW_MS, INT64_MAX - 1, INT64_MAX };
	const size_t n = sizeof times / sizeof *times;

	(void)state;
	for (size_t i = 0; i < n * n * n * n; i++) {
		struct stamp_clock clock = { 0 };
		int64_t a = times[i % n], b = times[i / n % n], c = times[i / n / n % n], d = times[i / n / n / n];
		bool live;

		stamp_link(&clock, 1, a);
		if (i % 3)
			stamp_read(&clock, 1, b, a, i % 2);
		(void)stamp_ahead_ms(&clock, 1, c, d, &live);
		(void)stamp_ahead_ms(&clock, 1, d, c, &live);
	}
	/* as far ahead as can be */
	struct stamp_clock clock = { 0 };
	bool live;
	stamp_read(&clock, 1, INT64_MAX, -1, false);
	assert_int_equal(stamp_ahead_ms(&clock, 1, 0, 0, &live), INT64_MAX);
}

/* Together with weigh: what becomes of the time of a weighing. */
static void test_dated(void **state)
{
	struct stamp_clock clock = { 0 };
	struct weigh_memory memory = { 0 };
	struct weighing weighing;
	struct weigh_result result = { .gross_mg = 400000, .received_ms = NOW_MS, .link = 1, .has_stamp = true };

	(void)state;
	/* its clock is a year late: weighed an hour ago */
	stamp_read(&clock, 1, NOW_MS - YEAR_MS, NOW_MS, true);
	result.stamp_ms = NOW_MS - YEAR_MS - 3600 * S_MS;
	result.ahead_ms = stamp_ahead_ms(&clock, 1, result.stamp_ms, NOW_MS, &result.live);
	assert_int_equal(weigh_take(&memory, &result, NULL, &weighing), WEIGH_DONE);
	assert_int_equal(weighing.at_ms, NOW_MS - 3600 * S_MS);
	assert_int_equal(weighing.origin, WEIGH_STORED);
	assert_false(weighing.stamp_refused);
	/* now it is right */
	result.received_ms = result.stamp_ms = NOW_MS + 60 * S_MS;
	result.ahead_ms = stamp_ahead_ms(&clock, 1, result.stamp_ms, result.received_ms, &result.live);
	assert_int_equal(weigh_take(&memory, &result, NULL, &weighing), WEIGH_DONE);
	assert_int_equal(weighing.at_ms, NOW_MS + 60 * S_MS);
	assert_int_equal(weighing.origin, WEIGH_RADIO);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_lives),
		cmocka_unit_test(test_links_apart),
		cmocka_unit_test(test_extremes),
		cmocka_unit_test(test_dated),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

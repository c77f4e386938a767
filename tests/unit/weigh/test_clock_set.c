// SPDX-License-Identifier: MIT
/* Our wall clock is set between two results: what is remembered moves along. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/weigh/stamp.h"
#include "daemon/weigh/weigh.h"

#define NOW_MS INT64_C(1795610730000)
#define HOUR_MS INT64_C(3600000)

static const int64_t moves_ms[] = { 13 * HOUR_MS, -13 * HOUR_MS, 5000, -5000, 0 };
#define MOVES (sizeof moves_ms / sizeof *moves_ms)

static enum weigh_outcome take(struct weigh_memory *memory, int64_t gross_mg, int64_t at_ms, uint32_t link)
{
	const struct weigh_result result = {
		.gross_mg = gross_mg, .step_mg = 5000, .received_ms = at_ms, .link = link
	};
	struct weighing weighing;

	return weigh_take(memory, &result, NULL, &weighing);
}

static void test_repeat(void **state)
{
	(void)state;
	for (size_t i = 0; i < MOVES; i++) {
		struct weigh_memory memory = { 0 };
		int64_t ahead_ms = moves_ms[i];

		assert_int_equal(take(&memory, 305000, NOW_MS, 1), WEIGH_DONE);
		weigh_clock_set(&memory, ahead_ms);
		assert_int_equal(take(&memory, 305000, NOW_MS + ahead_ms + WEIGH_REPEAT_MS, 1), WEIGH_REPEAT);
		weigh_clock_set(&memory, -ahead_ms);
		/* over a new link, and then no more */
		assert_int_equal(take(&memory, 305000, NOW_MS + WEIGH_REPEAT_MS + WEIGH_RESEND_MS, 2), WEIGH_REPEAT);
	}
}

static void test_another(void **state)
{
	(void)state;
	for (size_t i = 0; i < MOVES; i++) {
		struct weigh_memory memory = { 0 };
		int64_t ahead_ms = moves_ms[i];

		assert_int_equal(take(&memory, 305000, NOW_MS, 1), WEIGH_DONE);
		weigh_clock_set(&memory, ahead_ms);
		assert_int_equal(take(&memory, 305000, NOW_MS + ahead_ms + WEIGH_REPEAT_MS + 1, 1), WEIGH_DONE);
	}
}

static void test_times_at_the_end(void **state)
{
	struct weigh_memory memory = { 0 };

	(void)state;
	weigh_remember(&memory, &(struct weigh_result){ .gross_mg = 305000, .received_ms = INT64_MAX - 1 });
	weigh_remember(&memory, &(struct weigh_result){ .gross_mg = 305000, .received_ms = INT64_MIN + 1 });
	weigh_clock_set(&memory, HOUR_MS);
	weigh_clock_set(&memory, -2 * HOUR_MS);
	assert_int_equal(memory.seen[0].received_ms, INT64_MAX - 2 * HOUR_MS);
	assert_int_equal(memory.seen[1].received_ms, INT64_MIN);
}

/* How far a scale's clock is ahead of ours stays within its type, on the side on which it was. */
static void test_ahead_at_the_end(void **state)
{
	struct weigh_memory memory = { 0 };
	struct stamp_clock clock = { 0 };
	bool live;

	(void)state;
	weigh_remember(&memory, &(struct weigh_result){ .received_ms = NOW_MS, .ahead_ms = INT64_MAX - 1 });
	weigh_remember(&memory, &(struct weigh_result){ .received_ms = NOW_MS, .ahead_ms = INT64_MIN + 1 });
	weigh_clock_set(&memory, -HOUR_MS);
	assert_true(memory.seen[0].ahead_ms == INT64_MAX);
	assert_true(memory.seen[1].ahead_ms == INT64_MIN + 1 + HOUR_MS);
	weigh_clock_set(&memory, 2 * HOUR_MS);
	assert_true(memory.seen[0].ahead_ms == INT64_MAX - 2 * HOUR_MS);
	assert_true(memory.seen[1].ahead_ms == INT64_MIN);

	stamp_link(&clock, 1, INT64_MAX - 1);
	stamp_clock_set(&clock, HOUR_MS);
	assert_true(clock.linked_ms == INT64_MAX);
	stamp_link(&clock, 2, INT64_MIN + 1);
	stamp_clock_set(&clock, -HOUR_MS);
	assert_true(clock.linked_ms == INT64_MIN);
	(void)stamp_ahead_ms(&clock, 2, NOW_MS, INT64_MIN, &live);
	assert_false(live);
}

/* What a scale had kept, in one go; a clock that was read stays as far ahead as it was. */
static void test_stamps(void **state)
{
	(void)state;
	for (size_t i = 0; i < MOVES; i++) {
		int64_t ahead_ms = moves_ms[i], kept_ms = NOW_MS - 30 * HOUR_MS;
		struct stamp_clock clock = { 0 }, read = { 0 };
		bool live = true;

		stamp_clock_set(&clock, ahead_ms); /* of nothing known, nothing follows */
		stamp_link(&clock, 1, NOW_MS);
		assert_int_equal(stamp_ahead_ms(&clock, 1, kept_ms, NOW_MS + 1000, &live), 0);
		stamp_clock_set(&clock, ahead_ms);
		assert_int_equal(stamp_ahead_ms(&clock, 1, kept_ms + HOUR_MS, NOW_MS + ahead_ms + 2000, &live), 0);
		assert_false(live);

		stamp_link(&read, 1, NOW_MS);
		stamp_read(&read, 1, NOW_MS + 10 * HOUR_MS, NOW_MS, false);
		stamp_clock_set(&read, ahead_ms);
		assert_int_equal(stamp_ahead_ms(&read, 1, kept_ms, NOW_MS + ahead_ms + 2000, &live),
				 10 * HOUR_MS - ahead_ms);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_repeat),           cmocka_unit_test(test_another),
		cmocka_unit_test(test_times_at_the_end), cmocka_unit_test(test_ahead_at_the_end),
		cmocka_unit_test(test_stamps),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* When less is said, and what is said first. */
#include "contrib/speak/quiet.h"
#include "contrib/speak/said.h"
#include "contrib/speak/turn.h"
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

static void test_quiet_hours(void **state)
{
	static const char *const wrong[] = {
		"",           "22:00",       "22:00-",      "24:00-07:00",    "22:60-07:00", "22:00-07:00 ",
		"22-7",       "-1:00-07:00", "22:00-07:0x", "22:00:00-07:00", "22:00--1:00", " 22:00-07:00",
		"22:+1-07:00"
	};
	struct quiet quiet;

	(void)state;
	assert_int_equal(quiet_parse("22:00-07:30", &quiet), 0);
	assert_true(quiet_at(&quiet, 22 * 60));
	assert_true(quiet_at(&quiet, 0));
	assert_true(quiet_at(&quiet, 7 * 60 + 29));
	assert_false(quiet_at(&quiet, 7 * 60 + 30)); /* without its end */
	assert_false(quiet_at(&quiet, 22 * 60 - 1));
	assert_int_equal(quiet_left_min(&quiet, 22 * 60), 9 * 60 + 30);
	assert_int_equal(quiet_left_min(&quiet, 7 * 60 + 29), 1);
	assert_int_equal(quiet_left_min(&quiet, 7 * 60 + 30), 0);
	assert_int_equal(quiet_left_min(&quiet, 12 * 60), 0);
	assert_int_equal(quiet_parse("13:00-14:00", &quiet), 0);
	assert_int_equal(quiet_left_min(&quiet, 13 * 60), 60);
	assert_true(quiet_at(&quiet, 13 * 60 + 59));
	assert_false(quiet_at(&quiet, 14 * 60));
	assert_false(quiet_at(&quiet, 12 * 60 + 59));
	assert_int_equal(quiet_parse("00:00-00:00", &quiet), 0);
	for (int minute = 0; minute < 24 * 60; minute++)
		assert_false(quiet_at(&quiet, minute));
	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
		assert_int_equal(quiet_parse(wrong[i], &quiet), -EINVAL);
	assert_false(quiet_at(&quiet, 60)); /* unchanged by all these */
}

static void expect(struct turn *turn, enum turn_kind kind, const char *text)
{
	struct turn_line line;

	assert_true(turn_next(turn, TURN_KINDS, &line));
	assert_int_equal(line.kind, kind);
	assert_string_equal(line.text, text);
}

static void test_order(void **state)
{
	struct turn turn = { .n = 0 };
	struct turn_line line;

	(void)state;
	assert_false(turn_next(&turn, TURN_KINDS, &line));
	assert_false(turn_add(&turn, TURN_CONCERN, "", "c1"));
	assert_false(turn_add(&turn, TURN_QUESTION, "", "q1"));
	assert_false(turn_add(&turn, TURN_RECORDED, "", "r1"));
	assert_false(turn_add(&turn, TURN_CONCERN, "", "c2"));
	assert_false(turn_add(&turn, TURN_VET, "", "v"));
	assert_false(turn_add(&turn, TURN_WORD, "", "w"));
	assert_false(turn_add(&turn, TURN_QUESTION, "", "q2")); /* the newest of these two kinds */
	assert_false(turn_add(&turn, TURN_RECORDED, "", "r2"));
	assert_false(turn_add(&turn, TURN_CONCERN, "", "c1")); /* is waiting */
	expect(&turn, TURN_VET, "v");
	expect(&turn, TURN_WORD, "w");
	expect(&turn, TURN_RECORDED, "r2");
	expect(&turn, TURN_QUESTION, "q2");
	expect(&turn, TURN_CONCERN, "c1");
	expect(&turn, TURN_CONCERN, "c2");
	assert_false(turn_next(&turn, TURN_KINDS, &line));
}

/* Full, it keeps what is urgent and newest. */
static void test_full(void **state)
{
	struct turn turn = { .n = 0 };
	char text[16];

	(void)state;
	for (int i = 0; i < TURN_WAITING; i++) {
		(void)snprintf(text, sizeof text, "c%d", i);
		assert_false(turn_add(&turn, TURN_CONCERN, "", text));
	}
	assert_true(turn_add(&turn, TURN_CONCERN, "", "newest"));
	assert_true(turn_add(&turn, TURN_VET, "", "v"));
	assert_int_equal(turn.n, TURN_WAITING);
	expect(&turn, TURN_VET, "v");
	expect(&turn, TURN_CONCERN, "c2"); /* c0, c1 went */
	turn_drop(&turn, TURN_CONCERN);
	assert_int_equal(turn.n, 0);
	for (int i = 0; i < TURN_WAITING; i++) {
		(void)snprintf(text, sizeof text, "v%d", i);
		assert_false(turn_add(&turn, TURN_VET, "", text));
	}
	assert_true(turn_add(&turn, TURN_CONCERN, "", "less urgent than all"));
	expect(&turn, TURN_VET, "v0");
}

/* Quiet hours hold concerns back; each is said as it is by then, once, or not at all. */
static void test_hold(void **state)
{
	struct turn turn = { .n = 0 };
	struct turn_line line;

	(void)state;
	assert_false(turn_add(&turn, TURN_CONCERN, "a", "Moss gains too little."));
	assert_false(turn_add(&turn, TURN_CONCERN, "b", "Fern gains too little."));
	assert_false(turn_add(&turn, TURN_RECORDED, "", "r"));
	assert_true(turn_next(&turn, TURN_CONCERN, &line));
	assert_string_equal(line.text, "r");
	assert_false(turn_next(&turn, TURN_CONCERN, &line));
	assert_string_equal(line.text, "r"); /* written on success only */
	assert_true(turn_forget(&turn, "a"));
	assert_false(turn_forget(&turn, "a"));
	assert_false(turn_add(&turn, TURN_CONCERN, "a", "Moss gains less than its littermates."));
	assert_true(turn_forget(&turn, "b"));
	assert_false(turn_add(&turn, TURN_WORD, "", "w"));
	assert_false(turn_forget(&turn, "")); /* no concern's */
	expect(&turn, TURN_WORD, "w");
	expect(&turn, TURN_CONCERN, "Moss gains less than its littermates.");
	assert_int_equal(turn.n, 0);
}

static void test_said(void **state)
{
	struct said said = { .n = 0 };
	char id[16];

	(void)state;
	assert_true(said_is_news(&said, "a", 1));
	assert_false(said_is_news(&said, "a", 1));
	assert_true(said_is_news(&said, "a", 0));
	assert_false(said_is_news(&said, "a", 0));
	assert_false(said_is_news(&said, "a", 2)); /* better */
	assert_true(said_is_news(&said, "a", 0));  /* and worse again */
	assert_true(said_is_news(&said, "b", 0));
	for (int i = 0; i < SAID_MAX - 1; i++) {
		(void)snprintf(id, sizeof id, "%d", i);
		assert_true(said_is_news(&said, id, 0));
	}
	assert_false(said_is_news(&said, "b", 0));
	assert_true(said_is_news(&said, "a", 0)); /* said longest ago: forgotten */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_quiet_hours), cmocka_unit_test(test_order), cmocka_unit_test(test_full),
		cmocka_unit_test(test_hold),        cmocka_unit_test(test_said),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

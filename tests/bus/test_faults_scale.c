// SPDX-License-Identifier: MIT
/*
 * What scales, their batteries, their likes and the air do: each fault once. After each: nothing that was received is
 * lost, nothing is invented, and the log tells of changes alone (books.h).
 */
#include "books.h"
#include "stranger.h"

#define OTHER "02:00:00:00:0A:66" /* locally administered addresses: nobody's */
#define YARD "02:00:00:00:0C:01"

static void begin(struct books *books, void **state)
{
	books_open(books, *state);
	books_scale(books, BENCH, "bench", "");
	books_weigh(books, BENCH, 305);
	books_check(books, BOOKS_NEWS);
}

/* ---- a battery that dies in mid result ---- */

static void indicate_and_drop(struct books *books, const char *uuid, const char *hex, bool new)
{
	rig_sim_send(books->rig, "indicate " BENCH " %s %s\ndrop " BENCH, uuid, hex);
	(void)rig_sim_answer(books->rig);
	(void)rig_sim_answer(books->rig);
	books->sent++;
	books->weighings += new;
}

static void await_body(struct books *books)
{
	(void)rig_event(books->rig, "subscribed " BENCH " 2a9c");
	books_await_link(books, "bench");
}

/* A Body Composition Measurement too long for one indication comes in two halves, and the weight may stand in either
 * (facts, 2.2): what came of it counts, and once, though the scale sends it all again. */
static void test_dies_between_halves(void **state)
{
	int64_t now_s = nursery_now_s();
	struct books books;

	books_open(&books, *state);
	books_scale(&books, BENCH, "bench", "body");
	(void)rig_event(books.rig, "subscribed " BENCH " 2a9c");
	/* the weight is in the half that came */
	indicate_and_drop(&books, "2a9c", nursery_body_half_at(305, now_s), true);
	await_body(&books);
	books_indicate(&books, BENCH, "2a9c", nursery_body_half_at(305, now_s), false);
	books_indicate(&books, BENCH, "2a9c", nursery_body_half_at(0, now_s), false);
	rig_await_row(books.rig, "used|repeat|refused", "SELECT group_concat(fate, '|') FROM frame_log");
	/* it is in the one that didn't */
	indicate_and_drop(&books, "2a9c", nursery_body_half_at(0, now_s + 2), false);
	await_body(&books);
	books_indicate(&books, BENCH, "2a9c", nursery_body_half_at(0, now_s + 2), false);
	books_indicate(&books, BENCH, "2a9c", nursery_body_half_at(310, now_s + 2), true);
	books_check(&books, 2 * BOOKS_NEWS);
	rig_expect_row(books.rig, "305.0|310.0", "SELECT min(net_g), max(net_g) FROM unanswered");
	books_close(&books);
}

/* That a half holds no mass is no news, however often. */
static void test_halves_in_the_log(void **state)
{
	int64_t now_s = nursery_now_s();
	struct books books;

	books_open(&books, *state);
	books_scale(&books, BENCH, "bench", "body");
	(void)rig_event(books.rig, "subscribed " BENCH " 2a9c");
	(void)rig_news(books.rig);
	for (int i = 0; i < 10; i++) {
		books_indicate(&books, BENCH, "2a9c", nursery_body_half_at(300 + 5 * i, now_s + i), true);
		books_indicate(&books, BENCH, "2a9c", nursery_body_half_at(0, now_s + i), false);
	}
	books_check(&books, 1);
	books_close(&books);
}

/* It dies between a result and its repeat, and is back with the repeat: one weighing, with a stamp or without. */
static void test_dies_before_repeat(void **state)
{
	int64_t now_s = nursery_now_s();
	struct books books;

	begin(&books, state);
	indicate_and_drop(&books, "2a9d", nursery_weight(310), true);
	books_await_link(&books, "bench");
	books_indicate(&books, BENCH, "2a9d", nursery_weight(310), false);
	indicate_and_drop(&books, "2a9d", nursery_weight_at(315, now_s, 0), true);
	books_await_link(&books, "bench");
	books_indicate(&books, BENCH, "2a9d", nursery_weight_at(315, now_s, 0), false);
	books_weigh(&books, BENCH, 320);
	books_check(&books, 2 * BOOKS_NEWS);
	books_close(&books);
}

/* It dies again and again, at whatever it is doing. */
static void test_battery_nearly_empty(void **state)
{
	static const char *const steps[] = { "connect", "resolve", "subscribe" };
	struct books books;

	begin(&books, state);
	for (int i = 0; i < 9; i++) {
		(void)rig_sim(books.rig, "hold " BENCH " %s", steps[i % 3]);
		if (i % 3 == 0)
			(void)rig_sim(books.rig, "drop " BENCH);
		(void)rig_event(books.rig, "holding " BENCH);
		(void)rig_sim(books.rig, "drop " BENCH);
		(void)rig_sim(books.rig, "release " BENCH);
		if (i % 3 != 2)
			continue;
		(void)rig_sim(books.rig, "wait-client " BENCH);
		books_weigh(&books, BENCH, 310 + 5 * i);
	}
	books_check(&books, 3 * BOOKS_NEWS);
	books_close(&books);
}

/* ---- who is who ---- */

/* Under another address it is a stranger, and stays one until somebody adopts it; scale.find shows it. */
static void test_address_changes(void **state)
{
	const json_t *found;
	struct books books;

	begin(&books, state);
	(void)rig_sim(books.rig, "advertise " BENCH " off");
	(void)rig_sim(books.rig, "drop " BENCH);
	(void)rig_sim(books.rig, "scale " OTHER " bench random");
	(void)rig_sim(books.rig, "advertise " OTHER " on");
	(void)client_call(books.client, "scale.find", "{s:i}", "seconds", 1);
	found = client_notice_of(books.client, "found", "address", OTHER);
	assert_string_equal(client_text(books.client, found, "name"), "bench");
	assert_true(json_is_null(json_object_get(found, "adopted")));
	do
		found = client_notice(books.client, "found");
	while (!json_is_true(json_object_get(found, "done")));
	assert_int_equal(rig_events(books.rig, "connect " OTHER), 0);
	books_check(&books, BOOKS_NEWS);
	books_scale(&books, PORCH, "porch", ""); /* others aren't hindered by one that is gone */
	books_weigh(&books, PORCH, 310);
	(void)client_call(books.client, "scale.adopt", "{s:s, s:s}", "address", OTHER, "name", "bench two");
	books_await_link(&books, "bench two");
	books_weigh(&books, OTHER, 315);
	assert_int_equal(rig_events(books.rig, "auto-connect " OTHER), 0);
	books_check(&books, 2 * BOOKS_NEWS);
	books_close(&books);
}

/* Two of a make tell the same name: only addresses count. */
static void test_two_of_one_name(void **state)
{
	struct books books;

	books_open(&books, *state);
	(void)rig_sim(books.rig, "scale " OTHER " bench");
	(void)rig_sim(books.rig, "advertise " OTHER " on");
	books_scale(&books, BENCH, "bench", "");
	books_weigh(&books, BENCH, 305);
	assert_int_equal(rig_events(books.rig, "connect " OTHER), 0);
	(void)client_refused(books.client, "exists", "scale.adopt", "{s:s, s:s}", "address", OTHER, "name", "bench");
	(void)client_call(books.client, "scale.adopt", "{s:s, s:s}", "address", OTHER, "name", "other");
	books_await_link(&books, "other");
	for (int i = 0; i < 3; i++) {
		books_weigh(&books, OTHER, 310 + 10 * i);
		books_weigh(&books, BENCH, 315 + 10 * i);
	}
	rig_expect_row(books.rig, "4|3", "SELECT sum(scale = 'bench'), sum(scale = 'other') FROM unanswered");
	books_check(&books, 2 * BOOKS_NEWS);
	books_close(&books);
}

/* One that is forgotten takes nothing along. dbus-daemon, asked to end what was listened to of it, ended what was
 * listened to of the one adopted last. */
static void test_forgotten_beside_others(void **state)
{
	struct books books;

	begin(&books, state);
	books_scale(&books, PORCH, "porch", "");
	books_scale(&books, OTHER, "other", "");
	(void)client_call(books.client, "scale.forget", "{s:s}", "name", "bench");
	(void)rig_event(books.rig, "disconnected " BENCH);
	books_weigh(&books, PORCH, 310);
	books_weigh(&books, OTHER, 315);
	(void)rig_sim(books.rig, "drop " OTHER);
	(void)rig_sim(books.rig, "drop " PORCH);
	books_weigh(&books, OTHER, 320);
	books_weigh(&books, PORCH, 325);
	books_check(&books, 3 * BOOKS_NEWS);
	books_close(&books);
}

/* A stranger with the name, the services and the values of an adopted scale that is away; another program even listens
 * to it, so that its values are signalled on the bus. */
static void test_imitated(void **state)
{
	struct stranger *stranger;
	struct books books;

	begin(&books, state);
	(void)rig_sim(books.rig, "advertise " BENCH " off");
	(void)rig_sim(books.rig, "drop " BENCH);
	(void)rig_sim(books.rig, "scale " OTHER " bench battery 80 body");
	(void)rig_sim(books.rig, "advertise " OTHER " on -20");
	(void)rig_sim(books.rig, "scan hci0 on");
	stranger = stranger_subscribe(books.rig, OTHER);
	for (int i = 0; i < 5; i++) {
		(void)rig_sim(books.rig, "wait-client " OTHER);
		(void)rig_sim(books.rig, "indicate " OTHER " 2a9d %s", nursery_weight(400 + 5 * i));
	}
	(void)rig_sim(books.rig, "broadcast " OTHER " fcd2 4400090623a8"); /* and a mass in the air */
	(void)rig_sim(books.rig, "advertise " BENCH " on");
	books_weigh(&books, BENCH, 310);
	stranger_free(stranger);
	books_check(&books, BOOKS_NEWS);
	rig_expect_row(books.rig, "bench", "SELECT group_concat(DISTINCT scale) FROM frame_log");
	books_close(&books);
}

/* ---- storms ---- */

#define STORM 300

/* An adopted scale broadcasts as fast as it can: what is taken is capped, each of it counts once, and the others are
 * heard. */
static void test_broadcast_storm(void **state)
{
	struct rig *rig = *state;
	struct books books;

	begin(&books, state);
	(void)rig_sim(rig, "scale " YARD " yard beacon");
	(void)rig_sim(rig, "broadcast " YARD " fcd2 4400000000");
	(void)rig_sim(rig, "advertise " YARD " on");
	(void)client_call(books.client, "scale.adopt", "{s:s, s:s}", "address", YARD, "name", "yard");
	client_await_scale(books.client, "yard", "listening");
	(void)rig_news(rig);
	for (int i = 0; i < STORM; i++) /* packet i, and as many decagrams */
		rig_sim_send(rig, "broadcast " YARD " fcd2 4400%02x06%02x%02x", i % 256, (i + 5) & 0xff, (i + 5) >> 8);
	for (int i = 0; i < STORM; i++)
		(void)rig_sim_answer(rig);
	for (int i = 0; i < 3; i++)
		books_weigh(&books, BENCH, 310 + 5 * i);
	(void)rig_log(rig, "the rest is dropped");
	(void)rig_sim(rig, "pause 2500"); /* then it is calm again, and its next word counts */
	(void)rig_sim(rig, "broadcast " YARD " fcd2 4400fe06e803");
	rig_await_row(rig, "1", "SELECT count(*) FROM unanswered WHERE scale = 'yard' AND net_g = 10000");
	rig_expect_row(rig, "1|1",
		       "SELECT count(*) BETWEEN 20 AND 250, count(*) = count(DISTINCT net_g) FROM unanswered WHERE "
		       "scale = 'yard'");
	rig_expect_row(rig, "4", "SELECT count(*) FROM unanswered WHERE scale = 'bench'");
	assert_in_range(rig_news(rig), 1, 4);
	books_close(&books);
}

/* A street full of other people's devices, while a litter is weighed. */
static void test_storm_of_strangers(void **state)
{
	struct books books;

	begin(&books, state);
	(void)rig_sim(books.rig, "strangers 200 20000");
	for (int i = 0; i < 10; i++) {
		books_weigh(&books, BENCH, 310 + 5 * i);
		if (i % 3 == 2)
			(void)rig_sim(books.rig, "drop " BENCH);
	}
	(void)rig_event(books.rig, "strangers-done");
	(void)rig_sim(books.rig, "strangers 0 0");
	books_weigh(&books, BENCH, 400);
	books_check(&books, 2 * BOOKS_NEWS);
	rig_expect_row(books.rig, "bench", "SELECT group_concat(DISTINCT scale) FROM frame_log");
	books_close(&books);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_dies_between_halves),     CASE(test_halves_in_the_log), CASE(test_dies_before_repeat),
		CASE(test_battery_nearly_empty),    CASE(test_address_changes),   CASE(test_two_of_one_name),
		CASE(test_forgotten_beside_others), CASE(test_imitated),          CASE(test_broadcast_storm),
		CASE(test_storm_of_strangers),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

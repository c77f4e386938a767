// SPDX-License-Identifier: MIT
/*
 * What adapters, bluetoothd, the bus and other programs do: each fault once, while a result is on its way where that
 * can be, and bismard goes on by itself. After each: nothing that was received is lost, nothing is invented, and the
 * log tells of changes alone (books.h).
 */
#include "books.h"
#include "stranger.h"
#include <signal.h>

#define HEART_RATE "0000180d-0000-1000-8000-00805f9b34fb"

static void begin(struct books *books, void **state)
{
	books_open(books, *state);
	books_scale(books, BENCH, "bench", "");
	books_weigh(books, BENCH, 305);
	books_check(books, BOOKS_NEWS);
}

/* A result, and then at once that; bluetoothd tells of both in a row. */
static void weigh_and(struct books *books, int grams, const char *fault)
{
	rig_sim_send(books->rig, "indicate " BENCH " 2a9d %s\n%s", nursery_weight(grams), fault);
	(void)rig_sim_answer(books->rig);
	(void)rig_sim_answer(books->rig);
	books->sent++;
	books->weighings++;
}

/* ---- adapters ---- */

static void test_unplugged_and_back(void **state)
{
	static const char *const pull[] = { "adapter remove hci0", "adapter remove hci1 abrupt",
					    "adapter remove hci0 abrupt" };
	static const char *const back[] = { "hci1", "hci0", "hci2" };
	struct books books;

	begin(&books, state);
	for (int i = 0; i < 3; i++) {
		weigh_and(&books, 310 + 10 * i, pull[i]);
		books_await_trouble(&books, "no-adapter");
		(void)rig_sim(books.rig, "adapter add %s 02:00:00:00:00:01", back[i]);
		books_weigh(&books, BENCH, 315 + 10 * i);
		books_check(&books, BOOKS_NEWS);
	}
	books_await_trouble(&books, "fine");
	books_close(&books);
}

/* It comes back as another one while the old one isn't gone yet: both have the scale's object for a moment. */
static void test_another_takes_over(void **state)
{
	struct books books;

	begin(&books, state);
	(void)rig_sim(books.rig, "adapter add hci1 02:00:00:00:00:02");
	books_weigh(&books, BENCH, 310);
	weigh_and(&books, 315, "adapter remove hci0 abrupt");
	books_await_link(&books, "bench");
	books_weigh(&books, BENCH, 320);
	books_await_trouble(&books, "fine");
	books_check(&books, BOOKS_NEWS);
	(void)rig_sim(books.rig, "adapter add hci0 02:00:00:00:00:01");
	books_weigh(&books, BENCH, 325);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

static void test_powered_off_and_on(void **state)
{
	struct books books;

	begin(&books, state);
	for (int i = 0; i < 3; i++) {
		weigh_and(&books, 310 + 10 * i, "adapter power hci0 off");
		books_await_trouble(&books, "adapter-off");
		(void)rig_sim(books.rig, "adapter power hci0 on");
		books_weigh(&books, BENCH, 315 + 10 * i);
		books_check(&books, BOOKS_NEWS);
	}
	books_close(&books);
}

/* rfkill: nobody can power it on, and bismard doesn't try (facts, 7.10: wait, do not loop). */
static void test_blocked_by_rfkill(void **state)
{
	struct books books;

	begin(&books, state);
	weigh_and(&books, 310, "adapter block hci0 on");
	books_await_trouble(&books, "adapter-off");
	assert_string_equal(stranger_power_on(books.rig), "org.bluez.Error.Failed");
	(void)rig_event(books.rig, "power-refused hci0");
	(void)client_refused(books.client, "radio", "scale.find", NULL);
	books_check(&books, BOOKS_NEWS);
	/* still, after a restart of bluetoothd, and for a while in which nothing is to be heard of it */
	(void)rig_sim(books.rig, "restart");
	books_await_trouble(&books, "adapter-off");
	(void)rig_sim(books.rig, "pause 2500");
	books_await_trouble(&books, "adapter-off");
	assert_int_equal(rig_events(books.rig, "power-refused"), 0);
	books_check(&books, 3); /* bluetoothd went, and came: off it is */
	(void)rig_sim(books.rig, "adapter block hci0 off");
	books_weigh(&books, BENCH, 315);
	books_await_trouble(&books, "fine");
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* The machine itself plays an adopted scale with its second adapter: that one isn't scanned with, and the machine isn't
 * taken for a scale by it (facts, 9.3). */
static void test_adapter_plays_scale(void **state)
{
	struct books books;

	books_open(&books, *state);
	(void)rig_sim(books.rig, "scale 02:00:00:00:00:01 host"); /* what hci1 would hear of hci0 */
	(void)rig_sim(books.rig, "advertise 02:00:00:00:00:01 on");
	(void)rig_sim(books.rig, "adapter add hci1 " BENCH);
	books_scale(&books, BENCH, "bench", "");
	for (int i = 0; i < 5; i++) {
		books_weigh(&books, BENCH, 305 + 5 * i);
		(void)rig_sim(books.rig, "drop " BENCH);
		books_await_link(&books, "bench");
	}
	assert_int_equal(rig_events(books.rig, "connect 02:00:00:00:00:01"), 0);
	books_check(&books, 4 + 5 * 6);
	books_close(&books);
}

/* ---- other programs ---- */

/* Another program discovers with a filter that our scale doesn't pass, before and while ours does, and leaves. */
static void test_other_program_filters(void **state)
{
	struct stranger *stranger = stranger_scan(*state, HEART_RATE);
	struct books books;

	books_open(&books, *state);
	(void)rig_sim(books.rig, "scale " BENCH " bench hidden"); /* no UUIDs, and weaker than theirs: */
	(void)rig_sim(books.rig, "advertise " BENCH " on -90");
	(void)client_call(books.client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	books_await_link(&books, "bench");
	books_weigh(&books, BENCH, 305);
	stranger = stranger_free(stranger);
	(void)rig_sim(books.rig, "set auto-connect off"); /* bismard must hear it by itself */
	(void)rig_sim(books.rig, "advertise " BENCH " off");
	(void)rig_sim(books.rig, "drop " BENCH);
	stranger = stranger_scan(*state, HEART_RATE);
	(void)rig_sim(books.rig, "advertise " BENCH " on -90");
	books_weigh(&books, BENCH, 310);
	books_check(&books, BOOKS_NEWS);
	stranger = stranger_free(stranger);
	(void)rig_sim(books.rig, "drop " BENCH);
	books_weigh(&books, BENCH, 315);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* bluetoothd answers our StartDiscovery by InProgress while another program's runs; then that one crashes. */
static void test_other_program_in_the_way(void **state)
{
	struct stranger *stranger = stranger_scan(*state, HEART_RATE);
	struct books books;

	books_open(&books, *state);
	(void)rig_sim(books.rig, "set auto-connect off");
	(void)rig_sim(books.rig, "fail hci0 discovery 3");
	(void)rig_sim(books.rig, "scale " BENCH " bench");
	(void)client_call(books.client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	(void)client_call(books.client, "hello", NULL);
	stranger_free(stranger);
	(void)rig_sim(books.rig, "advertise " BENCH " on");
	books_await_link(&books, "bench");
	books_weigh(&books, BENCH, 305);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* ---- bluetoothd ---- */

/* It is restarted in mid link, and crashes with a result on its way, each time with the scale at once back. */
static void test_bluetoothd_restarted(void **state)
{
	struct books books;

	begin(&books, state);
	for (int i = 0; i < 3; i++) {
		weigh_and(&books, 310 + 10 * i, i % 2 ? "stop" : "restart");
		if (i % 2) {
			books_await_trouble(&books, "no-bluez");
			(void)rig_sim(books.rig, "start");
		}
		books_await_link(&books, "bench");
		books_weigh(&books, BENCH, 315 + 10 * i);
		books_check(&books, BOOKS_NEWS);
	}
	books_close(&books);
}

/* It crashes between the halves of a measurement in two indications: the mass that came in the first counts, once,
 * though the scale sends both again. */
static void test_bluetoothd_crashes_in_mid_result(void **state)
{
	int64_t now_s = nursery_now_s();
	const char *first, *second;
	struct books books;

	books_open(&books, *state);
	books_scale(&books, BENCH, "bench", "body");
	(void)rig_event(books.rig, "subscribed " BENCH " 2a9c");
	first = nursery_body_half_at(305, now_s);
	second = nursery_body_half_at(0, now_s);
	books_indicate(&books, BENCH, "2a9c", first, true);
	(void)rig_sim(books.rig, "stop");
	books_await_trouble(&books, "no-bluez");
	(void)rig_sim(books.rig, "start");
	(void)rig_event(books.rig, "subscribed " BENCH " 2a9c");
	books_indicate(&books, BENCH, "2a9c", first, false);
	books_indicate(&books, BENCH, "2a9c", second, false);
	rig_await_row(books.rig, "used|repeat|refused", "SELECT group_concat(fate, '|') FROM frame_log");
	books_weigh(&books, BENCH, 310);
	books_check(&books, 2 * BOOKS_NEWS);
	books_close(&books);
}

/* After a crash it shows the kernel's old link as connected, and nothing will ever come of it (seen with 5.66): only a
 * Disconnect ends that, and bismard does it by itself within LINK_UNASKED_LIMIT_US. */
static void test_bluetoothd_shows_old_link(void **state)
{
	struct books books;

	begin(&books, state);
	weigh_and(&books, 310, "restart old-links");
	(void)rig_event(books.rig, "disconnect " BENCH);
	books_await_link(&books, "bench");
	books_weigh(&books, BENCH, 315);
	assert_int_equal(rig_events(books.rig, "disconnect " BENCH), 0); /* once */
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* The link comes back so fast that bluetoothd takes it for the old one: Connected is told, services never are (seen
 * with 5.66). */
static void test_link_back_at_once(void **state)
{
	struct books books;

	begin(&books, state);
	weigh_and(&books, 310, "mistake " BENCH);
	(void)rig_event(books.rig, "disconnect " BENCH);
	books_await_link(&books, "bench");
	books_weigh(&books, BENCH, 315);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* bluetoothd is busy with the services of a slow scale: it is asked again now and then, not as fast as it answers. */
static void test_bluetoothd_busy(void **state)
{
	struct books books;

	begin(&books, state);
	(void)rig_sim(books.rig, "hold " BENCH " resolve");
	(void)rig_sim(books.rig, "drop " BENCH);
	(void)rig_event(books.rig, "holding " BENCH " resolve");
	(void)rig_sim(books.rig, "pause 3000");
	(void)rig_sim(books.rig, "release " BENCH);
	books_await_link(&books, "bench");
	assert_in_range(rig_logged(books.rig, "StartNotify of"), 1, 8);
	books_weigh(&books, BENCH, 310);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* ---- the bus ---- */

/* It is killed with a result on its way; whoever is connected stays so, and answers what is asked. */
static void test_bus_restarted(void **state)
{
	struct client *newcomer;
	struct books books;

	begin(&books, state);
	nursery_litter(books.client);
	for (int i = 0; i < 2; i++) {
		books_weigh(&books, BENCH, 310 + 10 * i);
		rig_stop_bus(books.rig);
		rig_reap_sim(books.rig);
		books_await_trouble(&books, "no-bus");
		/* the socket serves on, old clients and new */
		newcomer = client_open(books.rig);
		(void)client_notice(newcomer, "ask");
		(void)client_call(newcomer, "answer", "{s:s}", "animal", "Ash");
		books.closed++;
		client_close(newcomer);
		rig_start_bus(books.rig);
		rig_start_sim(books.rig);
		(void)rig_sim(books.rig, "scale " BENCH " bench");
		(void)rig_sim(books.rig, "advertise " BENCH " on");
		books_weigh(&books, BENCH, 315 + 10 * i);
		books_await_trouble(&books, "fine");
		books_check(&books, BOOKS_NEWS);
	}
	assert_false(client_ended(books.client));
	books_close(&books);
}

/* bismard itself stands still, as on a machine that swaps, while results and lost links pile up on the bus. */
static void test_bismard_held_up(void **state)
{
	struct books books;

	begin(&books, state);
	assert_int_equal(kill(books.rig->daemon, SIGSTOP), 0);
	for (int i = 0; i < 20; i++) {
		(void)rig_sim(books.rig, "wait-client " BENCH); /* bluetoothd subscribes again by itself */
		(void)rig_sim(books.rig, "indicate " BENCH " 2a9d %s", nursery_weight(310 + 5 * i));
		books.sent++;
		books.weighings++;
		if (i % 5 == 4)
			(void)rig_sim(books.rig, "drop " BENCH);
	}
	assert_int_equal(kill(books.rig->daemon, SIGCONT), 0);
	books_check(&books, 4 * BOOKS_NEWS);
	books_weigh(&books, BENCH, 500);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* Faults in a row, faster than bismard gets up: in the end it stands. */
static void test_everything_at_once(void **state)
{
	struct books books;

	begin(&books, state);
	for (int i = 0; i < 5; i++) {
		(void)rig_sim(books.rig, "adapter power hci0 off");
		(void)rig_sim(books.rig, "stop");
		(void)rig_sim(books.rig, "start");
		(void)rig_sim(books.rig, "adapter remove hci0 abrupt");
		(void)rig_sim(books.rig, "restart");
		(void)rig_sim(books.rig, "adapter add hci0 02:00:00:00:00:01");
		(void)rig_sim(books.rig, "adapter block hci0 on");
		(void)rig_sim(books.rig, "adapter block hci0 off");
		if (i % 2)
			(void)rig_sim(books.rig, "wait-client " BENCH);
	}
	books_weigh(&books, BENCH, 310);
	books_await_trouble(&books, "fine");
	/* five times eight changes that the radio can tell, and the scale's link with each */
	books_check(&books, 5 * 8 * 2);
	books_close(&books);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_unplugged_and_back),
		CASE(test_another_takes_over),
		CASE(test_powered_off_and_on),
		CASE(test_blocked_by_rfkill),
		CASE(test_adapter_plays_scale),
		CASE(test_other_program_filters),
		CASE(test_other_program_in_the_way),
		CASE(test_bluetoothd_restarted),
		CASE(test_bluetoothd_crashes_in_mid_result),
		CASE(test_bluetoothd_shows_old_link),
		CASE(test_link_back_at_once),
		CASE(test_bluetoothd_busy),
		CASE(test_bus_restarted),
		CASE(test_bismard_held_up),
		CASE(test_everything_at_once),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

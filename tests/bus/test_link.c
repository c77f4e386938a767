// SPDX-License-Identifier: MIT
/* Links that break at every step, and radios, daemons and buses that come and go: the next weighing is asked about. */
#include "nursery.h"
#include <signal.h>

/* A rig with its client, and a scale that is adopted and heard, but has not been waited for. */
static struct client *adopt(struct rig *rig)
{
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s, s]}", "topics", "ask", "recorded", "scale");
	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	return client;
}

static struct client *subscribe(struct rig *rig)
{
	struct client *client = adopt(rig);

	(void)client_notice_of(client, "scale", "state", "subscribed");
	return client;
}

/* A weighing comes through, and is asked about once. */
static void expect_weighing(struct rig *rig, struct client *client, int grams)
{
	nursery_weigh(rig, BENCH, grams);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), grams * 1000);
	assert_int_equal(client_notices(client, "ask"), 0);
}

static const char *trouble(struct client *client)
{
	const json_t *radio = json_object_get(client_call(client, "status", NULL), "radio");

	return client_text(client, radio, "trouble");
}

/* The bus and the prompt have no order between them. */
static void await_trouble(struct rig *rig, struct client *client, const char *word)
{
	int64_t until_ms = deck_ms(rig->deck) + TAPE_PATIENCE_MS;

	while (strcmp(trouble(client), word) != 0)
		if (deck_ms(rig->deck) > until_ms)
			deck_fail(rig->deck, "the radio's trouble is %s, not %s", trouble(client), word);
}

/* ---- one link ---- */

static void lose_while(struct rig *rig, const char *step)
{
	struct client *client;
	char event[64];

	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "hold " BENCH " %s", step);
	(void)rig_sim(rig, "advertise " BENCH " on");
	client = client_open(rig);
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	(void)snprintf(event, sizeof event, "holding " BENCH " %s", step);
	(void)rig_event(rig, event);
	(void)rig_sim(rig, "drop " BENCH);
	(void)rig_sim(rig, "release " BENCH);
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_lost_connecting(void **state)
{
	lose_while(*state, "connect");
}

static void test_lost_resolving(void **state)
{
	lose_while(*state, "resolve");
}

static void test_lost_subscribing(void **state)
{
	lose_while(*state, "subscribe");
}

static void fail_times(struct rig *rig, const char *step, int times)
{
	struct client *client;
	char event[64];

	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "fail " BENCH " %s %d", step, times);
	(void)rig_sim(rig, "advertise " BENCH " on");
	client = client_open(rig);
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	(void)snprintf(event, sizeof event, "failed " BENCH " %s", step);
	for (int i = 0; i < times; i++)
		(void)rig_event(rig, event);
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_fails_connecting(void **state)
{
	fail_times(*state, "connect", 2);
}

static void test_fails_resolving(void **state)
{
	fail_times(*state, "resolve", 2);
}

static void test_fails_subscribing(void **state)
{
	fail_times(*state, "subscribe", 2);
}

static void test_lost_after_indication(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	/* one write: bluetoothd tells of both at once */
	rig_sim_send(rig, "indicate " BENCH " 2a9d %s\ndrop " BENCH, nursery_weight(305));
	(void)rig_sim_answer(rig);
	(void)rig_sim_answer(rig);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	expect_weighing(rig, client, 310);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_lost_between(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	expect_weighing(rig, client, 305);
	(void)rig_sim(rig, "drop " BENCH);
	(void)client_notice_of(client, "scale", "state", "lost");
	(void)client_notice_of(client, "scale", "state", "subscribed");
	expect_weighing(rig, client, 310);
	(void)rig_sim(rig, "set split-drop on"); /* BlueZ tells of the end in one signal or in two */
	(void)rig_sim(rig, "drop " BENCH);
	(void)client_notice_of(client, "scale", "state", "lost");
	expect_weighing(rig, client, 315);
	client_close(client);
}

/* Most scales do that: a link for each weighing. */
static void test_link_each(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	for (int i = 0; i < 20; i++) {
		nursery_weigh(rig, BENCH, 300 + 5 * i);
		(void)rig_sim(rig, "drop " BENCH);
		assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), (300 + 5 * i) * 1000);
	}
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "20", "SELECT count(*) FROM unanswered");
	rig_expect_row(rig, "20", "SELECT count(*) FROM frame_log WHERE fate = 'used'");
	/* no view tells; what is a repeat depends on it */
	rig_expect_row(rig, "20", "SELECT count(DISTINCT link) FROM frame");
	client_close(client);
}

/* ... and some sleep in between, so that nothing is heard until the next one. */
static void test_sleeps_between(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	for (int i = 0; i < 3; i++) {
		expect_weighing(rig, client, 300 + 5 * i);
		(void)rig_sim(rig, "advertise " BENCH " off");
		(void)rig_sim(rig, "drop " BENCH);
		(void)client_notice_of(client, "scale", "state", "lost");
		(void)rig_sim(rig, "advertise " BENCH " on");
	}
	expect_weighing(rig, client, 400);
	client_close(client);
}

/* bluetoothd doesn't connect by itself, as before a scale was known: bismard does. */
static void test_no_auto_connect(void **state)
{
	struct rig *rig = *state;
	struct client *client;

	(void)rig_sim(rig, "set auto-connect off");
	client = subscribe(rig);
	for (int i = 0; i < 3; i++) {
		expect_weighing(rig, client, 300 + 5 * i);
		(void)rig_sim(rig, "drop " BENCH);
		(void)client_notice_of(client, "scale", "state", "lost");
	}
	expect_weighing(rig, client, 400);
	client_close(client);
}

/* ---- adapters ---- */

static void replug(struct rig *rig, const char *how)
{
	struct client *client = subscribe(rig);

	expect_weighing(rig, client, 305);
	(void)rig_sim(rig, "adapter remove hci0%s", how);
	await_trouble(rig, client, "no-adapter");
	(void)client_refused(client, "radio", "scale.find", NULL);
	(void)rig_sim(rig, "adapter add hci1 02:00:00:00:00:01");
	expect_weighing(rig, client, 310);
	assert_string_equal(trouble(client), "fine");
	client_close(client);
}

static void test_adapter_replugged(void **state)
{
	replug(*state, "");
}

static void test_adapter_torn_out(void **state)
{
	replug(*state, " abrupt");
}

static void test_adapter_off_and_on(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	expect_weighing(rig, client, 305);
	(void)rig_sim(rig, "adapter power hci0 off");
	await_trouble(rig, client, "adapter-off");
	(void)rig_sim(rig, "adapter power hci0 on");
	expect_weighing(rig, client, 310);
	assert_string_equal(trouble(client), "fine");
	client_close(client);
}

/* ---- bluetoothd and the bus ---- */

static void test_bluetoothd_restart(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	expect_weighing(rig, client, 305);
	(void)rig_sim(rig, "restart");
	expect_weighing(rig, client, 310);
	(void)rig_sim(rig, "stop");
	await_trouble(rig, client, "no-bluez");
	(void)rig_sim(rig, "start");
	expect_weighing(rig, client, 315);
	assert_string_equal(trouble(client), "fine");
	client_close(client);
}

static void test_bus_restart(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	expect_weighing(rig, client, 305);
	rig_stop_bus(rig);
	rig_reap_sim(rig);
	await_trouble(rig, client, "no-bus");
	rig_start_bus(rig);
	rig_start_sim(rig);
	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "advertise " BENCH " on");
	expect_weighing(rig, client, 310);
	assert_string_equal(trouble(client), "fine");
	client_close(client);
}

/* Nothing is there at the start but bismard; then comes one after the other. */
static void test_everything_late(void **state)
{
	struct rig *rig = *state;
	struct client *client;

	rig_start_daemon(rig);
	(void)rig_log(rig, "there is no D-Bus system bus");
	client = client_open(rig);
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	assert_string_equal(trouble(client), "no-bus");
	rig_start_bus(rig);
	(void)rig_log(rig, "the Bluetooth service isn't running");
	rig_start_sim(rig);
	(void)rig_log(rig, "Bluetooth is ready");
	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "advertise " BENCH " on");
	expect_weighing(rig, client, 305);
	client_close(client);
}

/* ---- scales ---- */

static void test_adopted_before_reach(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *scale;

	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", "02:00:00:00:0a:01", "name", "bench");
	scale = json_array_get(json_object_get(client_call(client, "status", NULL), "scales"), 0);
	assert_string_equal(client_text(client, scale, "address"), BENCH);
	assert_string_equal(client_text(client, scale, "state"), "away");
	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "advertise " BENCH " on");
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_connected_at_start(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);

	expect_weighing(rig, client, 305);
	client_close(client);
	nursery_kill(rig);
	assert_non_null(strstr(rig_sim(rig, "state " BENCH), "resolved"));
	rig_start_daemon(rig);
	client = client_open(rig);
	(void)client_notice(client, "ask"); /* the first, still open */
	expect_weighing(rig, client, 310);
	assert_int_equal(rig_events(rig, "disconnected " BENCH), 0); /* the link was taken as it was */
	client_close(client);
}

static void test_two_scales(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	nursery_scale(rig, client, PORCH, "porch", "");
	/* the same mass on both at once: two weighings */
	rig_sim_send(rig, "indicate " BENCH " 2a9d %s\nindicate " PORCH " 2a9d %s", nursery_weight(BOX_G + 305),
		     nursery_weight(BOX_G + 305));
	(void)rig_sim_answer(rig);
	(void)rig_sim_answer(rig);
	assert_int_equal(client_mg(client, client_notice_of(client, "ask", "scale", "bench"), "net_g"), 305000);
	assert_int_equal(client_mg(client, client_notice_of(client, "ask", "scale", "porch"), "net_g"),
			 (BOX_G + 305) * 1000); /* no container there */
	for (int i = 1; i <= 5; i++) {
		nursery_weigh(rig, BENCH, BOX_G + 305 + 10 * i);
		nursery_weigh(rig, PORCH, 305 + 10 * i);
	}
	(void)rig_sim(rig, "drop " PORCH);
	nursery_weigh(rig, BENCH, BOX_G + 400);
	nursery_weigh(rig, PORCH, 400);
	rig_await_frames(rig, 14);
	assert_int_equal(client_notices(client, "ask"), 12);
	rig_expect_row(rig, "7|7", "SELECT sum(scale = 'bench'), sum(scale = 'porch') FROM unanswered");
	client_close(client);
}

/* One that is adopted and far away doesn't keep another from being heard. */
static void test_absent_scale_hinders_none(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	(void)rig_sim(rig, "scale " PORCH " porch");
	(void)rig_sim(rig, "hold " PORCH " connect");
	(void)rig_sim(rig, "advertise " PORCH " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", PORCH, "name", "porch");
	(void)rig_event(rig, "holding " PORCH " connect");
	nursery_scale(rig, client, BENCH, "bench", "");
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_forget(void **state)
{
	struct rig *rig = *state;
	struct client *client = subscribe(rig);
	const json_t *status;

	expect_weighing(rig, client, 305);
	(void)client_call(client, "scale.forget", "{s:s}", "name", "bench");
	(void)rig_event(rig, "disconnected " BENCH);
	status = client_call(client, "status", NULL);
	assert_int_equal(json_array_size(json_object_get(status, "scales")), 0);
	rig_expect_row(rig, "0", "SELECT count(*) FROM scale_now");
	/* adopted again, it is listened to again */
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	expect_weighing(rig, client, 310);
	client_close(client);
}

static void test_battery_and_find(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "scale", "found");
	nursery_scale(rig, client, BENCH, "bench", "battery 80");
	for (;;) { /* told with the state, or after it */
		notice = client_notice_of(client, "scale", "scale", "bench");
		if (json_integer_value(json_object_get(notice, "battery")) == 80)
			break;
	}
	(void)rig_sim(rig, "battery " BENCH " 35");
	do
		notice = client_notice_of(client, "scale", "scale", "bench");
	while (json_integer_value(json_object_get(notice, "battery")) != 35);

	(void)rig_sim(rig, "scale " PORCH " \"porch two\" body");
	(void)rig_sim(rig, "advertise " PORCH " on -70");
	(void)client_call(client, "scale.find", "{s:i}", "seconds", 1);
	notice = client_notice_of(client, "found", "address", PORCH);
	assert_string_equal(client_text(client, notice, "name"), "porch two");
	assert_int_equal(json_array_size(json_object_get(notice, "offers")), 2);
	assert_int_equal(json_integer_value(json_object_get(notice, "rssi_dbm")), -70);
	assert_true(json_is_null(json_object_get(notice, "adopted")));
	do
		notice = client_notice(client, "found");
	while (!json_is_true(json_object_get(notice, "done")));
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_lost_connecting),
		CASE(test_lost_resolving),
		CASE(test_lost_subscribing),
		CASE(test_fails_connecting),
		CASE(test_fails_resolving),
		CASE(test_fails_subscribing),
		CASE(test_lost_after_indication),
		CASE(test_lost_between),
		CASE(test_link_each),
		CASE(test_sleeps_between),
		CASE(test_no_auto_connect),
		CASE(test_adapter_replugged),
		CASE(test_adapter_torn_out),
		CASE(test_adapter_off_and_on),
		CASE(test_bluetoothd_restart),
		CASE(test_bus_restart),
		cmocka_unit_test_setup_teardown(test_everything_late, rig_setup_bare, rig_teardown),
		CASE(test_adopted_before_reach),
		CASE(test_connected_at_start),
		CASE(test_two_scales),
		CASE(test_absent_scale_hinders_none),
		CASE(test_forget),
		CASE(test_battery_and_find),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

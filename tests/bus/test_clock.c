// SPDX-License-Identifier: MIT
/* A scale's clock (Current Time, 0x2A2B; facts, 5.2), and its users (User Data Service; facts, 5.5). */
#include "nursery.h"
#include <time.h>

static struct client *adopt(struct rig *rig, const char *options)
{
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "ask", "scale");
	(void)rig_sim(rig, "scale " BENCH " bench %s", options);
	return client;
}

static void hear(struct rig *rig, struct client *client)
{
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
}

static void expect_weighing(struct rig *rig, struct client *client, int grams)
{
	nursery_weigh(rig, BENCH, grams);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), grams * 1000);
}

/* Ten octets of Current Time for this second of a zoneless clock, by the C library's calendar. */
static void current_time_hex(time_t at, char ret[64])
{
	struct tm tm;

	(void)gmtime_r(&at, &tm);
	(void)snprintf(ret, 64, "%02x%02x%02x%02x%02x%02x%02x%02x0002", (unsigned)(tm.tm_year + 1900) & 0xff,
		       (unsigned)(tm.tm_year + 1900) >> 8, (unsigned)tm.tm_mon + 1, (unsigned)tm.tm_mday,
		       (unsigned)tm.tm_hour, (unsigned)tm.tm_min, (unsigned)tm.tm_sec,
		       (unsigned)(tm.tm_wday ? tm.tm_wday : 7));
}

/* What was written is our local time, to some seconds. */
static void expect_written(struct rig *rig, int offset_s)
{
	const char *event = rig_event(rig, "write " BENCH " 2a2b ");
	time_t now = time(NULL) + offset_s;
	char hex[64];

	for (time_t at = now - 15; at <= now + 2; at++) {
		current_time_hex(at, hex);
		if (strstr(event, hex))
			return;
	}
	deck_fail(rig->deck, "%s isn't %s", event, hex);
}

static void test_set(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "clock");

	(void)rig_sim(rig, "clock " BENCH " 3600");
	(void)rig_sim(rig, "hold " BENCH " subscribe");
	hear(rig, client);
	(void)rig_event(rig, "holding " BENCH " subscribe");
	assert_int_equal(rig_events(rig, "read " BENCH " 2a2b"), 0); /* first things first */
	(void)rig_sim(rig, "release " BENCH);
	(void)rig_event(rig, "subscribed " BENCH " 2a9d");
	(void)rig_event(rig, "read " BENCH " 2a2b");
	expect_written(rig, 0);
	(void)rig_log(rig, "its clock was off, and was set to local time");
	expect_weighing(rig, client, 305);
	/* right on the next link: read, and left alone */
	(void)rig_sim(rig, "drop " BENCH);
	(void)rig_event(rig, "read " BENCH " 2a2b");
	expect_weighing(rig, client, 310);
	assert_int_equal(rig_events(rig, "write "), 0);
	client_close(client);
}

/* Five hours east of Greenwich, where local time isn't UTC. */
static void test_local_time(void **state)
{
	struct rig *rig = *state;
	struct client *client;

	(void)snprintf(rig->tz, sizeof rig->tz, "EAST-5");
	rig_start_bus(rig);
	rig_start_sim(rig);
	rig_start_daemon(rig);
	client = adopt(rig, "clock");
	(void)rig_sim(rig, "clock " BENCH " -86400");
	hear(rig, client);
	expect_written(rig, 5 * 3600);
	expect_weighing(rig, client, 305);
	client_close(client);
}

/* A clock that never ran shows no date at all. */
static void test_never_set(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "clock");

	hear(rig, client);
	expect_written(rig, 0);
	expect_weighing(rig, client, 305);
	client_close(client);
}

/* It takes the time and not the day of the week, and says so: ATT error 0x80. */
static void test_data_field_ignored(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "clock");

	(void)rig_sim(rig, "clock " BENCH " -7200 ignores");
	hear(rig, client);
	expect_written(rig, 0);
	(void)rig_log(rig, "its clock was off, and was set to local time");
	client_close(client);
}

static void left_alone(struct rig *rig, const char *option, int ahead_s, bool reads)
{
	struct client *client = adopt(rig, option);

	(void)rig_sim(rig, "clock " BENCH " %d", ahead_s);
	hear(rig, client);
	if (reads)
		(void)rig_event(rig, "read " BENCH " 2a2b");
	expect_weighing(rig, client, 305);
	expect_weighing(rig, client, 310); /* by now a write would have come */
	assert_int_equal(rig_events(rig, "write "), 0);
	client_close(client);
}

static void test_nearly_right(void **state)
{
	left_alone(*state, "clock", 50, true);
}

static void test_read_only(void **state)
{
	left_alone(*state, "clock-read", 3600, true);
}

static void test_mute(void **state)
{
	left_alone(*state, "clock-mute", 3600, false);
}

/* ---- users ---- */

static void test_consent(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "user 3 1234");

	hear(rig, client);
	expect_weighing(rig, client, 305);
	assert_int_equal(rig_events(rig, "subscribed " BENCH " 2a9f"), 0); /* nothing without a code */
	(void)client_call(client, "scale.consent", "{s:s, s:i, s:i}", "scale", "bench", "user", 3, "code", 1234);
	(void)rig_event(rig, "subscribed " BENCH " 2a9f");
	(void)rig_event(rig, "write " BENCH " 2a9f 0203d204"); /* op 0x02, index 3, 1234 little-endian */
	(void)rig_log(rig, "user 3: it accepts the consent code");
	/* once a link, on the next as well */
	expect_weighing(rig, client, 310);
	assert_int_equal(rig_events(rig, "write "), 0);
	(void)rig_sim(rig, "drop " BENCH);
	(void)rig_event(rig, "write " BENCH " 2a9f 0203d204");
	(void)rig_log(rig, "user 3: it accepts the consent code");
	client_close(client);
	/* and after a restart */
	(void)rig_stop_daemon(rig, 15);
	rig_start_daemon(rig);
	client = client_open(rig);
	(void)rig_event(rig, "write " BENCH " 2a9f 0203d204");
	(void)rig_log(rig, "user 3: it accepts the consent code");
	/* none any more */
	(void)client_call(client, "scale.consent", "{s:s}", "scale", "bench");
	(void)rig_sim(rig, "drop " BENCH);
	nursery_weigh(rig, BENCH, 320);
	rig_await_frames(rig, 3);
	assert_int_equal(rig_events(rig, "write "), 0);
	client_close(client);
}

static void test_wrong_code(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "user 0 9999");

	hear(rig, client);
	(void)client_notice_of(client, "scale", "state", "subscribed");
	(void)client_refused(client, "bad-value", "scale.consent", "{s:s, s:i, s:i}", "scale", "bench", "user", 255, "code", 1);
	(void)client_refused(client, "bad-value", "scale.consent", "{s:s, s:i, s:i}", "scale", "bench", "user", 0, "code",
			     10000);
	(void)client_refused(client, "bad-value", "scale.consent", "{s:s, s:i}", "scale", "bench", "user", 0);
	(void)client_refused(client, "not-found", "scale.consent", "{s:s, s:i, s:i}", "scale", "porch", "user", 0, "code", 1);
	(void)client_call(client, "scale.consent", "{s:s, s:i, s:i}", "scale", "bench", "user", 0, "code", 1);
	(void)rig_log(rig, "user 0: the consent code is wrong");
	(void)client_call(client, "scale.consent", "{s:s, s:i, s:i}", "scale", "bench", "user", 0, "code", 9999);
	(void)rig_event(rig, "write " BENCH " 2a9f 02000f27");
	(void)rig_log(rig, "user 0: it accepts the consent code");
	expect_weighing(rig, client, 305); /* no error of the link */
	assert_int_equal(rig_events(rig, "disconnect"), 0);
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_set),
		cmocka_unit_test_setup_teardown(test_local_time, rig_setup_bare, rig_teardown),
		CASE(test_never_set),
		CASE(test_data_field_ignored),
		CASE(test_nearly_right),
		CASE(test_read_only),
		CASE(test_mute),
		CASE(test_consent),
		CASE(test_wrong_code),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

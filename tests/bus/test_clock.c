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

/* ---- results that the scale had kept, by a clock that is off ---- */

#define HOUR_S (INT64_C(3600))

/* The weighing of this mass was at that second, give or take a few; and of this origin. */
static void expect_at(struct rig *rig, int grams, int64_t utc_s, const char *origin)
{
	rig_await_row(rig, "1", "SELECT count(*) FROM unanswered WHERE gross_g = %d", grams);
	rig_expect_row(rig, origin, "SELECT origin FROM unanswered WHERE gross_g = %d", grams);
	rig_expect_row(rig, "1", "SELECT abs(at_ms - %lld) <= 5000 FROM unanswered WHERE gross_g = %d",
		       (long long)utc_s * 1000, grams);
}

/* Its clock is so far ahead, and two results are in it, one of four and one of two hours ago. */
static void burst(struct rig *rig, const char *options, int64_t ahead_s, bool told)
{
	struct client *client = adopt(rig, options);
	int64_t now_s = nursery_now_s(), shown_s = now_s + ahead_s;

	(void)rig_sim(rig, "clock " BENCH " %lld", (long long)ahead_s);
	(void)rig_sim(rig, "store " BENCH " 2a9d %s", nursery_weight_at(305, shown_s - 4 * HOUR_S, 0));
	(void)rig_sim(rig, "store " BENCH " 2a9d %s", nursery_weight_at(310, shown_s - 2 * HOUR_S, 0));
	hear(rig, client);
	if (told) {
		expect_at(rig, 305, now_s - 4 * HOUR_S, "stored");
		expect_at(rig, 310, now_s - 2 * HOUR_S, "stored");
	} else { /* not known by how much: in the future it can't be, and else it is believed */
		expect_at(rig, 305, now_s, "radio");
		expect_at(rig, 310, now_s, "radio");
	}
	/* a live one, by the clock as it was, which some scales go on with */
	nursery_send(rig, BENCH, nursery_weight_at(315, nursery_now_s() + ahead_s, 0));
	expect_at(rig, 315, nursery_now_s(), "radio");
	client_close(client);
}

static void test_stored_ahead(void **state)
{
	burst(*state, "clock", 7 * HOUR_S, true);
}

static void test_stored_late(void **state)
{
	burst(*state, "clock", -7 * HOUR_S, true);
}

static void test_stored_read_only(void **state)
{
	burst(*state, "clock-read", 7 * HOUR_S, true);
}

static void test_stored_unknown(void **state)
{
	burst(*state, "clock-mute", 7 * HOUR_S, false);
}

/* What waits for the clock to be read isn't lost when the link is, or when bismard is stopped. */
static void test_stored_and_lost(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "clock-mute");
	int64_t now_s = nursery_now_s();

	(void)rig_sim(rig, "store " BENCH " 2a9d %s", nursery_weight_at(305, now_s - 4 * HOUR_S, 0));
	hear(rig, client);
	(void)client_notice_of(client, "scale", "state", "subscribed");
	(void)rig_sim(rig, "drop " BENCH);
	expect_at(rig, 305, now_s - 4 * HOUR_S, "stored");
	(void)rig_sim(rig, "wait-client " BENCH);
	nursery_send(rig, BENCH, nursery_weight_at(310, now_s - 3 * HOUR_S, 0));
	nursery_await_read(client); /* SIGTERM must not overtake it on the bus */
	client_close(client);
	assert_int_equal(rig_stop_daemon(rig, 15), 0);
	expect_at(rig, 310, now_s - 3 * HOUR_S, "stored");
}

/* A clock that lost its batteries, and one that was set to the wrong year: the arrival counts, and the stamp is kept. */
static void test_impossible_stamps(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "clock-mute");
	int64_t now_s = nursery_now_s();

	hear(rig, client);
	nursery_send(rig, BENCH, nursery_weight_at(305, INT64_C(1262304000), 0)); /* 2010-01-01T00:00:00Z */
	expect_at(rig, 305, now_s, "radio");
	nursery_send(rig, BENCH, nursery_weight_at(310, now_s + 365 * 24 * HOUR_S, 0));
	expect_at(rig, 310, nursery_now_s(), "radio");
	(void)rig_log(rig, "time stamp can't be true");
	rig_expect_row(rig, "2",
		       "SELECT count(*) FROM frame_log WHERE why = 'the scale''s time stamp can''t be true; dated by arrival'");
	rig_expect_row(rig, "1262304000000", "SELECT min(stamp_ms) FROM frame");
	client_close(client);
}

/* Without Current Time: what comes long after the link was made is live, and tells how far the clock is off. */
static void test_live_without_clock(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt(rig, "");

	hear(rig, client);
	(void)client_notice_of(client, "scale", "state", "subscribed");
	(void)rig_sim(rig, "pause 10500");
	nursery_send(rig, BENCH, nursery_weight_at(305, nursery_now_s() - 7 * HOUR_S, 0));
	expect_at(rig, 305, nursery_now_s(), "radio");
	rig_expect_row(rig, "", "SELECT why FROM frame_log");
	client_close(client);
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
		CASE(test_stored_ahead),
		CASE(test_stored_late),
		CASE(test_stored_read_only),
		CASE(test_stored_unknown),
		CASE(test_stored_and_lost),
		CASE(test_impossible_stamps),
		CASE(test_live_without_clock),
		CASE(test_consent),
		CASE(test_wrong_code),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

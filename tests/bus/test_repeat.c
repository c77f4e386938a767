// SPDX-License-Identifier: MIT
/* The same weighing told twice is one; two weighings that look alike are two; what a scale kept comes late, once. */
#include "nursery.h"

static void setup_scale(struct rig *rig, struct client **ret)
{
	*ret = client_open(rig);
	nursery_scale(rig, *ret, BENCH, "bench", "");
}

static void expect_fates(struct rig *rig, const char *fates)
{
	rig_expect_row(rig, fates,
		       "SELECT coalesce(sum(fate = 'used'), 0), coalesce(sum(fate = 'repeat'), 0), "
		       "coalesce(sum(fate = 'refused'), 0) FROM frame_log");
}

static void test_same_bytes_at_once(void **state)
{
	struct rig *rig = *state;
	struct client *client;

	setup_scale(rig, &client);
	for (int i = 0; i < 3; i++)
		nursery_weigh(rig, BENCH, 305);
	rig_await_frames(rig, 3);
	assert_int_equal(client_notices(client, "ask"), 1);
	expect_fates(rig, "1|2|0");
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	client_close(client);
}

/* Without a stamp too, when another mass was in between: two pups of one weight, in turn. */
static void test_same_mass_after_another(void **state)
{
	struct rig *rig = *state;
	struct client *client;

	setup_scale(rig, &client);
	nursery_weigh(rig, BENCH, 305);
	nursery_weigh(rig, BENCH, 320);
	nursery_weigh(rig, BENCH, 305);
	rig_await_frames(rig, 3);
	assert_int_equal(client_notices(client, "ask"), 3);
	expect_fates(rig, "3|0|0");
	client_close(client);
}

static void test_resent_after_lost_link(void **state)
{
	struct rig *rig = *state;
	int64_t now_s = nursery_now_s();
	struct client *client;

	setup_scale(rig, &client);
	nursery_send(rig, BENCH, nursery_weight_at(305, now_s, 0));
	(void)rig_sim(rig, "drop " BENCH);
	nursery_send(rig, BENCH, nursery_weight_at(305, now_s, 0));
	nursery_send(rig, BENCH, nursery_weight_at(310, now_s + 1, 0));
	(void)rig_sim(rig, "drop " BENCH);
	nursery_send(rig, BENCH, nursery_weight_at(310, now_s + 1, 0));
	nursery_send(rig, BENCH, nursery_weight_at(305, now_s, 0)); /* the older one once more */
	rig_await_frames(rig, 5);
	assert_int_equal(client_notices(client, "ask"), 2);
	expect_fates(rig, "2|3|0");
	client_close(client);
}

static void test_equal_masses_of_two(void **state)
{
	struct rig *rig = *state;
	int64_t now_s = nursery_now_s();
	struct client *client;

	setup_scale(rig, &client);
	nursery_send(rig, BENCH, nursery_weight_at(305, now_s - 1, 0));
	nursery_send(rig, BENCH, nursery_weight_at(305, now_s, 0));
	rig_await_frames(rig, 2);
	assert_int_equal(client_notices(client, "ask"), 2);
	expect_fates(rig, "2|0|0");
	rig_expect_row(rig, "2|305.0|305.0", "SELECT count(*), min(net_g), max(net_g) FROM unanswered");
	client_close(client);
}

static void test_both_characteristics(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	int64_t now_s = nursery_now_s();

	nursery_scale(rig, client, BENCH, "bench", "body");
	(void)rig_event(rig, "subscribed " BENCH " 2a9d");
	(void)rig_event(rig, "subscribed " BENCH " 2a9c");
	for (int i = 0; i < 3; i++) {
		(void)rig_sim(rig, "indicate " BENCH " 2a9d %s", nursery_weight_at(305 + 5 * i, now_s + i, 0));
		(void)rig_sim(rig, "indicate " BENCH " 2a9c %s", nursery_body_at(305 + 5 * i, now_s + i, 0));
	}
	/* and the other way round */
	(void)rig_sim(rig, "indicate " BENCH " 2a9c %s", nursery_body_at(400, now_s + 9, 0));
	(void)rig_sim(rig, "indicate " BENCH " 2a9d %s", nursery_weight_at(400, now_s + 9, 0));
	rig_await_frames(rig, 8);
	assert_int_equal(client_notices(client, "ask"), 4);
	expect_fates(rig, "4|4|0");
	client_close(client);
}

/* ---- stored results ---- */

#define STORED 10

/* Ten results from yesterday on, 100 minutes apart, as the scale kept them. */
static int64_t stored_s(int64_t now_s, int i)
{
	return now_s - 86400 + i * 6000;
}

/*
 * Minutes that Berlin is east of UTC: summer time from the last Sunday of March to that of October, each at 01:00 UTC
 * (Directive 2000/84/EC, articles 2 to 4). Worked out here, apart from the C library that bismard uses.
 */
static int berlin_min(int64_t utc_s)
{
	time_t at = (time_t)utc_s;
	int64_t edges_s[2];
	struct tm tm;

	assert_non_null(gmtime_r(&at, &tm));
	for (int i = 0; i < 2; i++) {
		struct tm last = { .tm_year = tm.tm_year, .tm_mon = i == 0 ? 2 : 9, .tm_mday = 31, .tm_hour = 1 };
		time_t edge = timegm(&last); /* fills in the day of the week */
		edges_s[i] = (int64_t)edge - last.tm_wday * 86400;
	}
	return utc_s >= edges_s[0] && utc_s < edges_s[1] ? 120 : 60;
}

static int utc_min(int64_t utc_s)
{
	(void)utc_s;
	return 0;
}

/* In the hour that autumn shows twice, a local time doesn't tell which it is; move out of its way. */
static int64_t clear_of_change(int64_t now_s, int (*offset_min)(int64_t))
{
	for (int i = 0; i < STORED; i++) {
		int64_t at_s = stored_s(now_s, i);
		if (offset_min(at_s) != offset_min(at_s + 3600) || offset_min(at_s) != offset_min(at_s - 3600))
			return clear_of_change(now_s - 3 * 3600, offset_min);
	}
	return now_s;
}

static void burst(struct rig *rig, int (*offset_min)(int64_t))
{
	struct client *client = client_open(rig);
	int64_t now_s = clear_of_change(nursery_now_s(), offset_min);

	(void)rig_sim(rig, "scale " BENCH " bench");
	for (int i = 0; i < STORED; i++) {
		int64_t at_s = stored_s(now_s, i);
		/* two neighbours weigh the same: the stamp tells them apart */
		(void)rig_sim(rig, "store " BENCH " 2a9d %s",
			      nursery_weight_at(300 + 5 * (i / 2), at_s, offset_min(at_s)));
	}
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	rig_await_frames(rig, STORED);
	assert_int_equal(client_notices(client, "ask"), STORED);
	for (int i = 0; i < STORED; i++)
		rig_expect_row(rig, "stored|1",
			       "SELECT origin, count(*) FROM unanswered WHERE at_ms = %lld AND net_g = %d",
			       (long long)stored_s(now_s, i) * 1000, 300 + 5 * (i / 2));

	/* the scale sends all of it again on the next link, as some do until they are cleared */
	(void)rig_sim(rig, "drop " BENCH);
	for (int i = 0; i < STORED; i++) {
		int64_t at_s = stored_s(now_s, i);
		nursery_send(rig, BENCH, nursery_weight_at(300 + 5 * (i / 2), at_s, offset_min(at_s)));
	}
	rig_await_frames(rig, 2 * STORED);
	expect_fates(rig, "10|10|0");
	nursery_weigh(rig, BENCH, 500);
	rig_await_row(rig, "radio|1", "SELECT origin, count(*) FROM unanswered WHERE net_g = 500");
	client_close(client);
}

static void test_burst(void **state)
{
	burst(*state, utc_min);
}

static void test_burst_in_berlin(void **state)
{
	burst(*state, berlin_min);
}

/* A clock that was never set: the arrival counts, and two pups of its one stamp stay two. */
static void test_clock_never_set(void **state)
{
	struct rig *rig = *state;
	struct client *client;
	int64_t began_ms = nursery_now_s() * 1000;

	setup_scale(rig, &client);
	nursery_send(rig, BENCH, nursery_weight_at(305, 1262304000, 0)); /* 2010-01-01T00:00:00Z */
	nursery_send(rig, BENCH, nursery_weight_at(320, 1262304000, 0));
	rig_await_frames(rig, 2);
	assert_int_equal(client_notices(client, "ask"), 2);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered WHERE origin = 'radio' AND at_ms >= %lld",
		       (long long)began_ms);
	rig_expect_row(rig, "2", "SELECT count(*) FROM frame_log WHERE fate = 'used' AND why LIKE '%%stamp%%'");
	client_close(client);
}

static int setup_berlin(void **state)
{
	struct rig *rig;
	int r = rig_setup_bare(state);

	if (r != 0)
		return r;
	rig = *state;
	(void)snprintf(rig->tz, sizeof rig->tz, "Europe/Berlin");
	rig_start_bus(rig);
	rig_start_sim(rig);
	rig_start_daemon(rig);
	return 0;
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_same_bytes_at_once),
		CASE(test_same_mass_after_another),
		CASE(test_resent_after_lost_link),
		CASE(test_equal_masses_of_two),
		CASE(test_both_characteristics),
		CASE(test_burst),
		cmocka_unit_test_setup_teardown(test_burst_in_berlin, setup_berlin, rig_teardown),
		CASE(test_clock_never_set),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

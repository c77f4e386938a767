// SPDX-License-Identifier: MIT
/*
 * Scales that stream: declared in bismard.conf, or described by 0x2904. Masses and octets are our own invention; the
 * description is that of facts 8.5, P1 (uint16, 10^-3 kg).
 */
#include "daemon/limits.h"
#include "nursery.h"

#define DECLARED "b15a0002-0c5a-4e5d-9c0a-5ca1e0000000" /* random, ours */
#define DESCRIBED "b15a0003-0c5a-4e5d-9c0a-5ca1e0000000"
#define UNITLESS "06000027010000" /* uint16, 10^0, unit 0x2700: no mass */
#define GRAMS "06fd0227010000"    /* P1 */
#define BOX_TENTHS (10 * BOX_G)

#define FORMAT                                                                                                         \
	"[format bench]\ncharacteristic = " DECLARED "\noffset = 2\nwidth = 3\nfactor = 0.1\nunit = g\n"               \
	"steady-bit = 1.0\ntare-bit = 1.1\n"

enum { MOVING = 0, STEADY = 1, TARED = 2 };

/* ---- the scene ---- */

static int setup_with(void **state, const char *settings)
{
	struct rig *rig;

	if (rig_setup_bare(state) != 0)
		return -1;
	rig = *state;
	if (settings)
		rig_configure(rig, settings);
	rig_start_bus(rig);
	rig_start_sim(rig);
	rig_start_daemon(rig);
	return 0;
}

/* A format without marks: they tell nothing of it. */
static int setup_plain(void **state)
{
	return setup_with(state, "[format bench]\ncharacteristic = " DECLARED
				 "\noffset = 2\nwidth = 3\nfactor = 0.1\nunit = g\n");
}

static int setup_marked(void **state)
{
	return setup_with(state, FORMAT "reports = stream\n");
}

static int setup_result(void **state)
{
	return setup_with(state, FORMAT "reports = result\n");
}

static int setup_none(void **state)
{
	return setup_with(state, NULL);
}

/* A scale that has this characteristic and none that a standard knows. */
static struct client *scene(struct rig *rig, const char *uuid, const char *description)
{
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s, s, s, s]}", "topics", "ask", "container", "scale", "live",
			  "withdraw");
	(void)rig_sim(rig, "scale " BENCH " bench beacon described %s %s", uuid, description);
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	nursery_litter(client);
	return client;
}

static void box(struct client *client)
{
	(void)client_call(client, "container.tare", "{s:s, s:i}", "name", "box", "mass_g", BOX_G);
	(void)client_call(client, "container.on", "{s:s, s:s}", "name", "box", "scale", "bench");
}

static struct client *declared(struct rig *rig)
{
	struct client *client = scene(rig, DECLARED, UNITLESS);

	(void)rig_event(rig, "subscribed " BENCH " " DECLARED);
	return client;
}

static struct client *described(struct rig *rig)
{
	struct client *client = scene(rig, DESCRIBED, GRAMS);

	(void)rig_event(rig, "subscribed " BENCH " " DESCRIBED);
	return client;
}

/* One value of the declared format: our own mark octet, flags, tenths of a gram. */
static void send(struct rig *rig, int tenths, int flags)
{
	(void)rig_sim(rig, "indicate " BENCH " " DECLARED " 51%02x%02x%02x%02x", (unsigned)flags, (unsigned)tenths & 0xff,
		      (unsigned)tenths >> 8 & 0xff, (unsigned)tenths >> 16 & 0xff);
}

static void send_grams(struct rig *rig, int grams)
{
	(void)rig_sim(rig, "indicate " BENCH " " DESCRIBED " %02x%02x", (unsigned)grams & 0xff, (unsigned)grams >> 8);
}

/* To and fro, between -1 and 1 times swing; the same in each run. */
static int squirm(int i, int swing)
{
	static const int eighths[] = { 0, 5, -3, 7, -6, 2, -8, 4, -1, 8, -5, 1, -7, 6, -2, 3 };

	return eighths[i % 16] * swing / 8;
}

/* n samples, ten a second. */
static void stream(struct rig *rig, int tenths, int swing, int n)
{
	for (int i = 0; i < n; i++) {
		send(rig, tenths + squirm(i, swing), MOVING);
		(void)rig_sim(rig, "pause 100");
	}
}

/* Samples until a notification comes; what it has. */
static const json_t *stream_until(struct rig *rig, struct client *client, int tenths, int swing, const char *topic)
{
	const json_t *notice;
	int i;

	for (i = 0; !(notice = client_look(client, topic)) && i < 150; i++)
		stream(rig, tenths + squirm(i, swing), 0, 1);
	if (!notice)
		deck_fail(rig->deck, "no `%s` after %d samples", topic, i);
	return notice;
}

/* The newest question is for this net mass, as well as it claims to know it. */
static void expect_net(struct rig *rig, struct client *client, const json_t *ask, int net_tenths)
{
	int64_t net_mg = client_mg(client, ask, "net_g"), u_mg = client_mg(client, ask, "u_g");

	if (llabs(net_mg - net_tenths * 100) > 3 * u_mg)
		deck_fail(rig->deck, "net is %lld mg, u %lld", (long long)net_mg, (long long)u_mg);
	assert_in_range(u_mg, 1, 20000);
}

/* ---- a load ---- */

static void test_one_question(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask;

	box(client);
	stream(rig, BOX_TENTHS, 0, 5);
	assert_int_equal(client_notices(client, "ask"), 0);
	ask = stream_until(rig, client, BOX_TENTHS + 3052, 30, "ask");
	expect_net(rig, client, ask, 3052);
	assert_string_equal(client_text(client, ask, "state"), "settled");
	assert_string_equal(client_text(client, ask, "container"), "box");
	assert_true(client_notices(client, "live") > 0);
	/* it stays there, kicks, and is asked about no more */
	stream(rig, BOX_TENTHS + 3052, 60, 25);
	assert_int_equal(client_notices(client, "ask"), 0);
	/* off it: the box alone */
	ask = stream_until(rig, client, BOX_TENTHS + 2, 0, "container");
	assert_string_equal(client_text(client, ask, "what"), "checked");
	assert_int_equal(client_notices(client, "ask"), 0);
	/* the next one */
	ask = stream_until(rig, client, BOX_TENTHS + 2760, 20, "ask");
	expect_net(rig, client, ask, 2760);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	/* the raw samples are there: those of the load, and little of what was before */
	rig_expect_row(rig, "0", "SELECT count(*) FROM frame_log WHERE length(bytes) <> 5 OR fate <> 'used'");
	rig_expect_row(rig, "1", "SELECT count(*) BETWEEN 20 AND %d FROM frame_log", 2 * LIMIT_STREAM_FRAMES);
	client_close(client);
}

static void test_exchanged(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask;

	ask = stream_until(rig, client, 3052, 20, "ask");
	expect_net(rig, client, ask, 3052);
	/* one out, another in, and the scale was never empty */
	ask = stream_until(rig, client, 2600, 20, "ask");
	expect_net(rig, client, ask, 2600);
	stream(rig, 2600, 20, 20);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_restless(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask = stream_until(rig, client, 3052, 1500, "ask");

	assert_string_equal(client_text(client, ask, "state"), "restless");
	assert_non_null(strstr(client_text(client, ask, "say"), "restless"));
	assert_true(client_mg(client, ask, "u_g") > 5000);
	rig_expect_row(rig, "restless", "SELECT state FROM unanswered");
	(void)client_call(client, "answer", "{s:s}", "animal", "Ash");
	rig_expect_row(rig, "restless|Ash", "SELECT state, animal FROM reading");
	client_close(client);
}

/* LIMIT_STREAM_FRAMES: the newest of a long load are kept, and the last beside them. */
static void test_frames_cap(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask = NULL;
	int sent = 0;

	for (; !ask && sent < 2000; sent++) {
		send(rig, 3052 + squirm(sent, 1500), MOVING);
		(void)rig_sim(rig, "pause 20");
		ask = client_look(client, "ask");
	}
	assert_non_null(ask);
	assert_in_range(sent, LIMIT_STREAM_FRAMES + 2, 2000);
	rig_expect_row(rig, "64", "SELECT count(*) FROM frame_log WHERE why = 'a sample of the next result'");
	rig_expect_row(rig, "65", "SELECT count(*) FROM frame_log");
	assert_int_equal(LIMIT_STREAM_FRAMES, 64);
	client_close(client);
}

/* ---- what the scale says itself ---- */

static void test_steady_bit(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask;

	for (int i = 0; i < 5; i++) {
		send(rig, 3052 + squirm(i, 200), MOVING);
		(void)rig_sim(rig, "pause 50");
	}
	assert_int_equal(client_notices(client, "ask"), 0);
	assert_true(client_notices(client, "live") > 0);
	send(rig, 3049, STEADY); /* the mark may still be of the mass before */
	assert_int_equal(client_notices(client, "ask"), 0);
	send(rig, 3050, STEADY);
	/* at once, without waiting for more: some turns of the daemon, for the bus and the socket are two ways to it */
	for (int i = 0; i < 100 && client_notices(client, "ask") == 0; i++)
		(void)client_call(client, "hello", NULL);
	assert_int_equal(client_notices(client, "ask"), 1);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 305000);
	assert_string_equal(client_text(client, ask, "state"), "settled");
	for (int i = 0; i < 5; i++)
		send(rig, 3049, STEADY);
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

static void test_tare_bit(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask;

	box(client);
	/* zeroed with the box on it: what it shows is the pup alone */
	for (int i = 0; i < 3; i++)
		send(rig, 0, STEADY | TARED);
	send(rig, 3049, STEADY | TARED);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 304900);
	assert_int_equal(client_mg(client, ask, "tare_g"), 0);
	assert_true(json_is_null(json_object_get(ask, "container")));
	/* and not */
	for (int i = 0; i < 3; i++)
		send(rig, BOX_TENTHS, STEADY);
	send(rig, BOX_TENTHS + 2765, STEADY);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 276500);
	client_close(client);
}

static void test_reports_result(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask;

	for (int i = 0; i < 5; i++)
		send(rig, 3000 + 10 * i, MOVING);
	assert_int_equal(client_notices(client, "ask"), 0);
	assert_true(client_notices(client, "live") > 0);
	rig_expect_row(rig, "0", "SELECT count(*) FROM frame_log");
	send(rig, 3049, STEADY);
	ask = client_notice(client, "ask"); /* without waiting for more */
	assert_int_equal(client_mg(client, ask, "net_g"), 304900);
	send(rig, 3049, STEADY);
	rig_await_row(rig, "repeat", "SELECT fate FROM frame_log ORDER BY frame_id DESC");
	send(rig, 2765, STEADY);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 276500);
	/* too short for the format: refused, and kept */
	(void)rig_sim(rig, "indicate " BENCH " " DECLARED " 5101e9");
	rig_await_row(rig, "refused|truncated", "SELECT fate, why FROM frame_log ORDER BY frame_id DESC");
	client_close(client);
}

/* ---- described by 0x2904: results, or a stream? ---- */

static void test_described_results(void **state)
{
	struct rig *rig = *state;
	struct client *client = described(rig);
	const json_t *ask;

	send_grams(rig, 305);
	assert_int_equal(client_notices(client, "ask"), 0); /* it waits for what follows */
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 305000);
	assert_string_equal(client_text(client, ask, "state"), "settled");
	/* three times its result, as some send it */
	send_grams(rig, 276);
	send_grams(rig, 276);
	send_grams(rig, 276);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 276000);
	rig_await_frames(rig, 4);
	rig_expect_row(rig, "2", "SELECT count(*) FROM frame_log WHERE fate = 'repeat'");
	/* it says its result and is gone */
	send_grams(rig, 330);
	(void)rig_sim(rig, "drop " BENCH);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 330000);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "3", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_described_stream(void **state)
{
	struct rig *rig = *state;
	struct client *client = described(rig);
	const json_t *ask = NULL;

	send_grams(rig, 0);
	for (int i = 0; !ask && i < 100; i++) {
		send_grams(rig, 305 + squirm(i, 3));
		(void)rig_sim(rig, "pause 100");
		ask = client_look(client, "ask");
	}
	assert_non_null(ask);
	expect_net(rig, client, ask, 3050);
	for (int i = 0; i < 20; i++) {
		send_grams(rig, 305 + squirm(i, 5));
		(void)rig_sim(rig, "pause 100");
	}
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	client_close(client);
}

/* Nothing that it sends differs; but no scale says a result as often. */
static void test_described_still(void **state)
{
	struct rig *rig = *state;
	struct client *client = described(rig);
	const json_t *ask = NULL;

	/* empty through the night: the ledger doesn't grow */
	for (int i = 0; i < 30; i++) {
		send_grams(rig, 0);
		(void)rig_sim(rig, "pause 20");
	}
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "1", "SELECT count(*) <= 1 FROM frame_log");
	for (int i = 0; !ask && i < 100; i++) {
		send_grams(rig, 305);
		(void)rig_sim(rig, "pause 100");
		ask = client_look(client, "ask");
	}
	assert_int_equal(client_mg(client, ask, "net_g"), 305000);
	for (int i = 0; i < 20; i++) {
		send_grams(rig, 305);
		(void)rig_sim(rig, "pause 50");
	}
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

/* The same, slowly: neither does it grow then. */
static void test_described_slow(void **state)
{
	struct rig *rig = *state;
	struct client *client = described(rig);

	for (int i = 0; i < 8; i++) {
		send_grams(rig, 0);
		(void)rig_sim(rig, "pause 600");
	}
	rig_expect_row(rig, "0", "SELECT count(*) FROM frame_log");
	rig_await_row(rig, "1|nothing on the scale", "SELECT count(*), max(why) FROM frame_log"); /* it has ended */
	client_close(client);
}

/* ---- containers ---- */

static void test_tare_of_what_stands_there(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *notice;

	stream(rig, 2104, 0, 30); /* unknown, so it was asked about */
	(void)client_notice(client, "ask");
	(void)client_word(client, "-");
	(void)client_call(client, "container.tare", "{s:s, s:s}", "name", "box", "scale", "bench");
	notice = stream_until(rig, client, 2104, 1, "container");
	assert_string_equal(client_text(client, notice, "what"), "tared");
	rig_expect_row(rig, "1", "SELECT count(*) FROM frame_log WHERE why = 'became the container''s tare'");
	/* it stands there, as known */
	notice = stream_until(rig, client, 2104 + 3052, 10, "ask");
	expect_net(rig, client, notice, 3052);
	client_close(client);
}

static void test_drift(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *notice;

	box(client);
	stream(rig, BOX_TENTHS, 0, 3);
	(void)stream_until(rig, client, BOX_TENTHS + 3052, 10, "ask");
	notice = stream_until(rig, client, BOX_TENTHS + 150, 0, "container"); /* it has wet the pad */
	assert_string_equal(client_text(client, notice, "what"), "drifted");
	assert_in_range(client_mg(client, notice, "drift_g"), 14500, 15500);
	stream(rig, BOX_TENTHS + 150, 0, 20);
	assert_int_equal(client_notices(client, "container"), 0); /* once a removal */
	client_close(client);
}

/* ---- what goes wrong ---- */

static void test_link_lost(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	const json_t *ask;

	/* seconds of motion carry a mass, though a restless one */
	stream(rig, 3052, 400, 30);
	assert_int_equal(client_notices(client, "ask"), 0);
	(void)rig_sim(rig, "drop " BENCH);
	ask = client_notice(client, "ask");
	assert_string_equal(client_text(client, ask, "state"), "restless");
	expect_net(rig, client, ask, 3052);
	(void)rig_event(rig, "subscribed " BENCH " " DECLARED);
	/* half a second doesn't */
	stream(rig, 0, 0, 2);
	stream(rig, 2600, 400, 5);
	(void)rig_sim(rig, "drop " BENCH);
	(void)rig_event(rig, "subscribed " BENCH " " DECLARED);
	ask = stream_until(rig, client, 2760, 10, "ask");
	expect_net(rig, client, ask, 2760);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	client_close(client);
}

/* bluetoothd counts the killed one as a listener until it has noticed. */
static struct client *kill_and_restart(struct rig *rig, struct client *client)
{
	rig_kill_daemon(rig);
	client_close(client);
	(void)rig_event(rig, "unsubscribed " BENCH " " DECLARED);
	rig_start_daemon(rig);
	client = client_open(rig);
	(void)rig_event(rig, "subscribed " BENCH " " DECLARED);
	return client;
}

static void test_killed(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);
	char id[64];

	(void)snprintf(id, sizeof id, "%s", client_text(client, stream_until(rig, client, 3052, 20, "ask"), "ask"));
	client = kill_and_restart(rig, client);
	/* told is kept, and asked again */
	assert_string_equal(client_text(client, client_notice(client, "ask"), "ask"), id);
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	stream(rig, 0, 0, 15);
	assert_int_equal(client_notices(client, "ask"), 0);
	/* in the midst of the next load: what wasn't told is measured from here on, and told once */
	stream(rig, 2600, 20, 8);
	client = kill_and_restart(rig, client);
	assert_string_equal(client_text(client, client_notice(client, "ask"), "ask"), id);
	expect_net(rig, client, stream_until(rig, client, 2600, 20, "ask"), 2600);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	client_close(client);
}

/* What waits for its verdict when bismard is stopped isn't lost. */
static void test_stopped_while_held(void **state)
{
	struct rig *rig = *state;
	struct client *client = described(rig);

	send_grams(rig, 305);
	nursery_await_read(client); /* SIGTERM must not overtake it on the bus */
	client_close(client);
	assert_int_equal(rig_stop_daemon(rig, 15), 0);
	rig_start_daemon(rig);
	client = client_open(rig);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	client_close(client);
}

static void test_forgotten(void **state)
{
	struct rig *rig = *state;
	struct client *client = declared(rig);

	stream(rig, 3052, 20, 5);
	(void)client_call(client, "scale.forget", "{s:s}", "name", "bench");
	(void)rig_event(rig, "disconnect");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	(void)rig_event(rig, "subscribed " BENCH " " DECLARED);
	expect_net(rig, client, stream_until(rig, client, 2600, 20, "ask"), 2600);
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	client_close(client);
}

/* What it offers, before it is adopted: the declared format's step. */
static void test_offered(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *offer;

	(void)client_call(client, "follow", "{s:[s]}", "topics", "offer");
	(void)rig_log(rig, "Bluetooth is ready");
	(void)rig_sim(rig, "scale " BENCH " bench beacon described " DECLARED " " UNITLESS);
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)client_call(client, "scale.offers", "{s:s}", "address", BENCH);
	offer = client_notice_of(client, "offer", "uuid", DECLARED);
	assert_int_equal(client_mg(client, offer, "step_g"), 100);
	client_close(client);
}

/* ---- a format that is declared while bismard runs ---- */

static void test_reload(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *ask;

	rig_configure(rig, ""); /* for the next start */
	(void)client_call(client, "hello", NULL);
	client_close(client);
	assert_int_equal(rig_stop_daemon(rig, 15), 0);
	rig_start_daemon(rig);
	client = client_open(rig);
	/* connected for its standard characteristic; the other is unknown */
	nursery_scale(rig, client, BENCH, "bench", "described " DECLARED " " UNITLESS);
	(void)rig_event(rig, "subscribed " BENCH " 2a9d");
	nursery_weigh(rig, BENCH, 305);
	(void)client_notice(client, "ask");
	assert_int_equal(rig_events(rig, "subscribed " BENCH " " DECLARED), 0);
	rig_configure(rig, FORMAT "reports = result\n");
	rig_reload(rig);
	(void)rig_event(rig, "subscribed " BENCH " " DECLARED);
	send(rig, 2765, STEADY);
	rig_await_row(rig, "2|", "SELECT count(*), (SELECT why FROM frame_log ORDER BY frame_id DESC) FROM frame_log");
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 276500);
	/* and with another factor */
	rig_configure(rig, "[format bench]\ncharacteristic = " DECLARED
			   "\noffset = 2\nwidth = 3\nfactor = 1\nunit = g\nreports = result\n");
	rig_reload(rig);
	send(rig, 281, STEADY);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 281000);
	client_close(client);
}

#define CASE(name, setup) cmocka_unit_test_setup_teardown(name, setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_one_question, setup_plain),
		CASE(test_exchanged, setup_plain),
		CASE(test_restless, setup_plain),
		CASE(test_frames_cap, setup_plain),
		CASE(test_steady_bit, setup_marked),
		CASE(test_tare_bit, setup_marked),
		CASE(test_reports_result, setup_result),
		CASE(test_described_results, setup_none),
		CASE(test_described_stream, setup_none),
		CASE(test_described_still, setup_none),
		CASE(test_described_slow, setup_none),
		CASE(test_tare_of_what_stands_there, setup_plain),
		CASE(test_drift, setup_plain),
		CASE(test_link_lost, setup_plain),
		CASE(test_killed, setup_plain),
		CASE(test_stopped_while_held, setup_none),
		CASE(test_forgotten, setup_plain),
		CASE(test_offered, setup_plain),
		CASE(test_reload, setup_none),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

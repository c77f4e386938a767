// SPDX-License-Identifier: MIT
/* Several clients, rude ones, slow ones; answers that are taken back; and devices that are none of our business. */
#include "nursery.h"
#include "daemon/limits.h"
#include "stranger.h"

/* ---- two answers ---- */

static void test_first_wins(void **state)
{
	struct rig *rig = *state;
	struct client *one = client_open(rig), *two = client_open(rig);
	const json_t *error, *data, *recorded;
	const char *ask;

	nursery_make(rig, one);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	ask = client_text(one, client_notice(one, "ask"), "ask");
	assert_string_equal(client_text(two, client_notice(two, "ask"), "ask"), ask);
	(void)client_call(one, "answer", "{s:s, s:s, s:s}", "ask", ask, "animal", "Ash", "by", "left hand");
	error = client_refused(two, "already-answered", "answer", "{s:s, s:s}", "ask", ask, "animal", "Birch");
	assert_int_equal(json_integer_value(json_object_get(error, "code")), -32000);
	data = json_object_get(error, "data");
	assert_string_equal(client_text(two, data, "reading"), ask);
	assert_string_equal(client_text(two, data, "name"), "Ash");
	assert_string_equal(client_text(two, data, "by"), "left hand");
	(void)client_text(two, data, "hint");
	recorded = client_notice(two, "recorded");
	assert_string_equal(client_text(two, recorded, "animal"), client_text(two, data, "animal"));
	(void)client_refused(two, "already-answered", "aside", "{s:s}", "ask", ask);
	rig_expect_row(rig, "1|Ash|left hand", "SELECT count(*), animal, answered_by FROM reading");
	client_close(two);
	client_close(one);
}

/* Both in flight at once: one is done, one refused, whichever. */
static void test_at_once(void **state)
{
	struct rig *rig = *state;
	struct client *one = client_open(rig), *two = client_open(rig);

	nursery_make(rig, one);
	for (int i = 0; i < 10; i++) {
		const json_t *replies[2], *lost;
		const char *ask, *winner;
		int ids[2];

		nursery_weigh(rig, BENCH, BOX_G + 300 + 5 * i);
		ask = client_text(one, client_notice(one, "ask"), "ask");
		(void)client_notice(two, "ask");
		ids[0] = client_ask(one, "answer", "{s:s, s:s}", "ask", ask, "animal", "Ash");
		ids[1] = client_ask(two, "answer", "{s:s, s:s}", "ask", ask, "animal", "Birch");
		replies[0] = client_reply(one, ids[0]);
		replies[1] = client_reply(two, ids[1]);
		assert_int_not_equal(json_object_get(replies[0], "result") != NULL,
				     json_object_get(replies[1], "result") != NULL);
		winner = json_object_get(replies[0], "result") ? "Ash" : "Birch";
		lost = json_object_get(json_object_get(replies[*winner == 'A'], "error"), "data");
		assert_string_equal(client_text(one, lost, "code"), "already-answered");
		assert_string_equal(client_text(one, lost, "name"), winner);
		rig_expect_row(rig, winner, "SELECT animal FROM reading WHERE reading_id = '%s'", ask);
	}
	rig_expect_row(rig, "10", "SELECT count(*) FROM reading");
	client_close(two);
	client_close(one);
}

/* ---- newcomers ---- */

static void test_newcomer(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig), *newcomer;
	const char *asks[3];

	nursery_make(rig, client);
	for (int i = 0; i < 3; i++) {
		nursery_weigh(rig, BENCH, BOX_G + 300 + 5 * i);
		asks[i] = client_text(client, client_notice(client, "ask"), "ask");
	}
	newcomer = client_open(rig);
	for (int i = 0; i < 3; i++)
		assert_string_equal(client_text(newcomer, client_notice(newcomer, "ask"), "ask"), asks[i]);
	/* a bare word answers the oldest; an id may be cut to its end */
	assert_int_equal(strncmp(client_word(newcomer, "red"), "ok Birch 300 g", 14), 0);
	(void)client_call(client, "answer", "{s:s, s:s}", "ask", asks[2] + strlen(asks[2]) - 6, "animal", "pink");
	assert_int_equal(client_notices(newcomer, "ask"), 0);
	newcomer = client_close(newcomer);
	newcomer = client_open(rig);
	assert_string_equal(client_text(newcomer, client_notice(newcomer, "ask"), "ask"), asks[1]);
	assert_int_equal(client_notices(newcomer, "ask"), 0);
	assert_int_equal(json_array_size(json_object_get(client_call(newcomer, "asks", NULL), "asks")), 1);
	client_close(newcomer);
	client_close(client);
}

/* ---- second thoughts ---- */

static void test_undo(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const char *ask;

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	ask = client_text(client, client_notice(client, "ask"), "ask");
	(void)client_refused(client, "not-answered", "reopen", "{s:s}", "ask", ask);
	(void)client_call(client, "answer", "{s:s}", "animal", "Ash");
	(void)client_call(client, "reopen", "{s:s}", "ask", ask);
	assert_string_equal(client_text(client, client_notice(client, "ask"), "ask"), ask);
	rig_expect_row(rig, "0|1", "SELECT (SELECT count(*) FROM reading), (SELECT count(*) FROM unanswered)");
	rig_expect_row(rig, "", "SELECT newest_g FROM animal_now WHERE animal = 'Ash'");
	(void)client_call(client, "answer", "{s:s}", "animal", "Birch");
	rig_expect_row(rig, "1|Birch", "SELECT count(*), animal FROM reading");
	client_close(client);
}

static void test_correct(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *recorded;
	const char *ask;

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	ask = client_text(client, client_notice(client, "ask"), "ask");
	(void)client_refused(client, "not-answered", "correct", "{s:s, s:s}", "reading", ask, "animal", "Ash");
	(void)client_call(client, "answer", "{s:s}", "animal", "Ash");
	(void)client_notice(client, "recorded");
	(void)client_call(client, "correct", "{s:s, s:s}", "reading", ask, "animal", "Birch");
	recorded = client_notice(client, "recorded");
	assert_string_equal(client_text(client, recorded, "reading"), ask);
	assert_string_equal(client_text(client, recorded, "name"), "Birch");
	assert_true(json_is_true(json_object_get(recorded, "corrected")));
	rig_expect_row(rig, "1|Birch", "SELECT count(*), animal FROM reading");
	rig_expect_row(rig, "|305.0",
		       "SELECT a.newest_g, b.newest_g FROM animal_now a, animal_now b "
		       "WHERE a.animal = 'Ash' AND b.animal = 'Birch'");
	client_close(client);
}

static void test_aside(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;
	const char *ask;

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	ask = client_text(client, client_notice(client, "ask"), "ask");
	(void)client_call(client, "aside", "{s:s, s:s}", "ask", ask, "why", "two in the box");
	notice = client_notice(client, "withdraw");
	assert_string_equal(client_text(client, notice, "ask"), ask);
	assert_string_equal(client_text(client, notice, "why"), "two in the box");
	rig_expect_row(rig, "0|0", "SELECT (SELECT count(*) FROM reading), (SELECT count(*) FROM unanswered)");
	(void)client_refused(client, "no-open-ask", "answer", "{s:s}", "animal", "Ash");
	(void)client_refused(client, "already-answered", "answer", "{s:s, s:s}", "ask", ask, "animal", "Ash");
	/* set aside by mistake: it can be somebody's after all, or a question again */
	(void)client_call(client, "reopen", "{s:s}", "ask", ask);
	assert_string_equal(client_text(client, client_notice(client, "ask"), "ask"), ask);
	(void)client_call(client, "aside", NULL);
	(void)client_call(client, "correct", "{s:s, s:s}", "reading", ask, "animal", "Ash");
	rig_expect_row(rig, "1|Ash", "SELECT count(*), animal FROM reading");
	client_close(client);
}

/* ---- rude clients ---- */

/* The round goes on: one more weighing, asked, answered, recorded. */
static void go_on(struct rig *rig, struct client *client, int i)
{
	const char *ask;

	nursery_weigh(rig, BENCH, BOX_G + 300 + 5 * i);
	ask = client_text(client, client_notice(client, "ask"), "ask");
	(void)client_call(client, "answer", "{s:s, s:s}", "ask", ask, "animal", "Ash");
	(void)client_notice_of(client, "recorded", "reading", ask);
}

static void say_garbage(struct rig *rig)
{
	struct client *client = client_open(rig);
	char octets[4096];
	unsigned state = 1;

	for (size_t i = 0; i < sizeof octets; i++) {
		state = state * 1103515245 + 12345; /* POSIX's example of a generator: the same octets each time */
		octets[i] = (char)(state >> 16);
	}
	(void)client_write(client, octets, sizeof octets);
	(void)client_write(client, "\n", 1);
	for (size_t i = 0; i < sizeof octets; i += 97)
		octets[i] = '\n';
	(void)client_write(client, octets, sizeof octets);
	client_close(client);
}

/* Errors as JSON-RPC 2.0, 5.1, has them; where no id can be made out, it is null (5). */
static void say_wrong_json(struct rig *rig)
{
	static const struct {
		const char *line;
		int code, id; /* id 0: null */
	} wrong[] = {
		{ "{", -32700, 0 },
		{ "[", -32700, 0 },
		{ "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"status\"", -32700, 0 },
		{ "[]", -32600, 0 },
		{ "{}", -32600, 0 },
		{ "{\"jsonrpc\":\"1.0\",\"id\":2,\"method\":\"status\"}", -32600, 2 },
		{ "{\"jsonrpc\":\"2.0\",\"id\":3,\"method\":7}", -32600, 3 },
		{ "{\"jsonrpc\":\"2.0\",\"id\":4,\"method\":\"no.such\"}", -32601, 4 },
		{ "{\"jsonrpc\":\"2.0\",\"id\":5,\"method\":\"answer\"}", -32602, 5 },
		{ "{\"jsonrpc\":\"2.0\",\"id\":6,\"method\":\"answer\",\"params\":{\"animal\":7}}", -32602, 6 },
	};
	struct client *client = client_open(rig);

	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
		const json_t *error;
		client_say(client, "%s", wrong[i].line);
		error = wrong[i].id ? json_object_get(client_reply(client, wrong[i].id), "error")
				    : client_stray_error(client);
		assert_int_equal(json_integer_value(json_object_get(error, "code")), wrong[i].code);
	}
	client_close(client);
}

/* The longest line that is allowed, and one octet more: that one is told so, and hung up on. */
static void say_long_lines(struct rig *rig)
{
	struct client *client = client_open(rig);
	char *line = malloc(LIMIT_LINE_BYTES + 2);

	assert_non_null(line);
	memset(line, 'x', LIMIT_LINE_BYTES + 2);
	line[LIMIT_LINE_BYTES] = '\n';
	assert_true(client_write(client, line, LIMIT_LINE_BYTES + 1));
	assert_int_equal(strncmp(client_line(client), "error", 5), 0);
	assert_int_equal(strncmp(client_word(client, "?"), "ok", 2), 0);
	line[LIMIT_LINE_BYTES] = 'x';
	line[LIMIT_LINE_BYTES + 1] = '\n';
	(void)client_write(client, line, LIMIT_LINE_BYTES + 2);
	assert_int_equal(strncmp(client_line(client), "error", 5), 0);
	client_await_end(client);
	client_close(client);
	free(line);
}

/* Those that hung up are noticed in the course of things. */
static void await_clients(struct rig *rig, struct client *client, int n)
{
	int64_t until_ms = deck_ms(rig->deck) + TAPE_PATIENCE_MS;

	while (json_integer_value(json_object_get(client_call(client, "status", NULL), "clients")) != n)
		if (deck_ms(rig->deck) > until_ms)
			deck_fail(rig->deck, "not %d clients", n);
}

static void test_rude(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig), *half = client_open(rig);

	nursery_make(rig, client);
	assert_true(client_write(half, "{\"jsonrpc\":\"2.0\",", 17)); /* never ends */
	go_on(rig, client, 0);
	for (int i = 0; i < 5; i++) {
		say_garbage(rig);
		go_on(rig, client, 1 + i);
	}
	say_wrong_json(rig);
	go_on(rig, client, 6);
	say_long_lines(rig);
	go_on(rig, client, 7);
	for (int i = 0; i < 200; i++) {
		struct client *vanishing = client_open(rig);
		if (i % 3 == 0)
			(void)client_write(vanishing, "gre", 3);
		if (i % 3 == 1)
			client_say(vanishing, "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"status\"}");
		client_close(vanishing);
		if (i % 20 == 0)
			go_on(rig, client, 8 + i / 20);
	}
	assert_true(client_write(half, "\"id\":9,\"method\":\"status\"}\n", 26));
	assert_non_null(json_object_get(client_reply(half, 9), "result"));
	await_clients(rig, client, 2);
	rig_expect_row(rig, "18|0", "SELECT count(*), (SELECT count(*) FROM unanswered) FROM reading");
	client_close(half);
	client_close(client);
}

/* ---- slow clients ---- */

#define ROUNDS 700

/* Ask after ask is opened again, until more waits for the one that doesn't read than may. */
static void test_slow(void **state)
{
	struct rig *rig = *state;
	struct client *slow = client_open(rig), *client = client_open(rig), *other = client_open(rig);
	const char *ask;
	size_t n = 0;

	nursery_make(rig, client);
	for (size_t i = 0; i < PUPS; i++) /* so that an ask has many candidates */
		(void)client_call(client, "weigh", "{s:s, s:i}", "animal", nursery_pups[i].name, "mass_g", 300);
	client_read(slow, false);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	ask = client_text(client, client_notice(client, "ask"), "ask");
	for (n = 0;
	     n < ROUNDS && json_integer_value(json_object_get(client_call(client, "status", NULL), "clients")) == 3;
	     n++) {
		(void)client_call(client, "aside", "{s:s}", "ask", ask);
		(void)client_call(client, "reopen", "{s:s}", "ask", ask);
	}
	(void)rig_log(rig, "it doesn't read");
	/* the contract: it is dropped when 256 KiB wait for it, not before */
	assert_true(n < ROUNDS);
	for (size_t i = 0; i < n; i++) {
		(void)client_notice_of(client, "withdraw", "ask", ask);
		(void)client_notice_of(other, "withdraw", "ask", ask);
		(void)client_notice_of(client, "ask", "ask", ask);
	}
	assert_int_equal(client_notices(other, "ask"), n + 1);
	client_read(slow, true);
	client_await_end(slow);
	client_close(slow);
	/* it comes back and has missed no ask */
	slow = client_open(rig);
	assert_string_equal(client_text(slow, client_notice(slow, "ask"), "ask"), ask);
	go_on(rig, client, 10);
	client_close(slow);
	client_close(other);
	client_close(client);
}

/* ---- topics ---- */

static void test_follow_live(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig), *display = client_open(rig);
	const json_t *live;

	nursery_make(rig, client);
	(void)client_call(display, "follow", "{s:[s]}", "topics", "live");
	nursery_weigh(rig, BENCH, BOX_G + 305);
	live = client_notice(display, "live");
	assert_string_equal(client_text(display, live, "scale"), "bench");
	assert_int_equal(client_mg(display, live, "gross_g"), (BOX_G + 305) * 1000);
	assert_int_equal(client_mg(display, live, "net_g"), 305000);
	assert_true(json_is_boolean(json_object_get(live, "steady")));
	(void)client_notice(client, "ask");
	assert_int_equal(client_notices(display, "ask"), 0);
	assert_int_equal(client_notices(client, "live"), 0);
	/* who takes up asks later is told what is open */
	(void)client_call(display, "follow", "{s:[s, s]}", "topics", "live", "ask");
	(void)client_notice(display, "ask");
	client_close(display);
	client_close(client);
}

/* ---- strangers ---- */

static void test_stranger(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	struct stranger *stranger;

	nursery_make(rig, client);
	(void)rig_sim(rig, "scale " PORCH " porch");
	(void)rig_sim(rig, "advertise " PORCH " on");
	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "ask", "found");
	(void)client_call(client, "scale.find", "{s:i}", "seconds", 1); /* so that bluetoothd has an object of it */
	(void)client_notice_of(client, "found", "address", PORCH);
	stranger = stranger_subscribe(rig, PORCH);
	for (int i = 0; i < 5; i++)
		(void)rig_sim(rig, "indicate " PORCH " 2a9d %s", nursery_weight(400 + 5 * i));
	(void)rig_sim(rig, "broadcast " PORCH " 181d 0254fe");
	/* signals of one sender keep their order: when this one is through, so are those */
	nursery_weigh(rig, BENCH, BOX_G + 305);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "1|bench", "SELECT count(*), scale FROM frame_log");
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	/* adopted, it counts */
	stranger_free(stranger);
	(void)rig_event(rig, "unsubscribed " PORCH);
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", PORCH, "name", "porch");
	(void)rig_sim(rig, "wait-client " PORCH);
	nursery_weigh(rig, PORCH, 450);
	assert_string_equal(client_text(client, client_notice(client, "ask"), "scale"), "porch");
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_first_wins),  CASE(test_at_once),  CASE(test_newcomer), CASE(test_undo),
		CASE(test_correct),     CASE(test_aside),    CASE(test_rude),     CASE(test_slow),
		CASE(test_follow_live), CASE(test_stranger),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

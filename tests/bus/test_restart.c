// SPDX-License-Identifier: MIT
/* bismard ends at any moment, and comes back: what was said stands, what was open is asked again, nothing doubles. */
#include "nursery.h"
#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

/* ---- open asks ---- */

static void test_asks_again(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const char *asks[4];

	nursery_make(rig, client);
	for (int i = 0; i < 4; i++) {
		nursery_weigh(rig, BENCH, BOX_G + 300 + 5 * i);
		asks[i] = client_text(client, client_notice(client, "ask"), "ask");
	}
	(void)client_call(client, "answer", "{s:s, s:s}", "ask", asks[1], "animal", "Birch");
	nursery_kill(rig);
	client_close(client);
	rig_start_daemon(rig);
	client = client_open(rig);
	for (int i = 0; i < 4; i++)
		if (i != 1) {
			const json_t *ask = client_notice(client, "ask");
			assert_string_equal(client_text(client, ask, "ask"), asks[i]);
			assert_int_equal(client_mg(client, ask, "net_g"), (300 + 5 * i) * 1000);
			assert_string_equal(client_text(client, ask, "container"), "box");
		}
	assert_int_equal(client_notices(client, "ask"), 0);
	(void)client_call(client, "answer", "{s:s, s:s}", "ask", asks[2], "animal", "Cedar");
	(void)client_refused(client, "already-answered", "answer", "{s:s, s:s}", "ask", asks[1], "animal", "Ash");
	assert_int_equal(strncmp(client_word(client, "green"), "ok Ash 300 g", 12), 0);
	rig_expect_row(rig, "3|1", "SELECT (SELECT count(*) FROM reading), (SELECT count(*) FROM unanswered)");
	/* the next weighing has its container and litter as before */
	nursery_weigh(rig, BENCH, BOX_G + 400);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 400000);
	client_close(client);
}

static void test_undone_and_aside_stay(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const char *undone, *aside;

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 300);
	undone = client_text(client, client_notice(client, "ask"), "ask");
	nursery_weigh(rig, BENCH, BOX_G + 310);
	aside = client_text(client, client_notice(client, "ask"), "ask");
	(void)client_call(client, "answer", "{s:s, s:s}", "ask", undone, "animal", "Ash");
	(void)client_call(client, "aside", "{s:s}", "ask", aside);
	(void)client_call(client, "reopen", "{s:s}", "ask", undone);
	nursery_kill(rig);
	client_close(client);
	rig_start_daemon(rig);
	client = client_open(rig);
	assert_string_equal(client_text(client, client_notice(client, "ask"), "ask"), undone);
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

static void test_repeat_after_restart(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	int64_t now_s = nursery_now_s();

	nursery_scale(rig, client, BENCH, "bench", "");
	for (int i = 0; i < 5; i++)
		nursery_send(rig, BENCH, nursery_weight_at(300 + 5 * i, now_s - 600 + 60 * i, 0));
	rig_await_frames(rig, 5);
	client_close(client);
	nursery_kill(rig);
	rig_start_daemon(rig);
	for (int i = 0; i < 5; i++)
		nursery_send(rig, BENCH, nursery_weight_at(300 + 5 * i, now_s - 600 + 60 * i, 0));
	rig_await_frames(rig, 10);
	rig_expect_row(rig, "5", "SELECT count(*) FROM unanswered");
	rig_expect_row(rig, "5", "SELECT count(*) FROM frame_log WHERE fate = 'repeat'");
}

/* A tare that was waited for is not a promise that outlives bismard, but what is on record is. */
static void test_roster_stays(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	(void)client_call(client, "animal.gone", "{s:s, s:s}", "name", "Maple", "why", "moved out");
	client_close(client);
	nursery_kill(rig);
	rig_start_daemon(rig);
	client = client_open(rig);
	(void)client_refused(client, "not-found", "weigh", "{s:s, s:i}", "animal", "Maple", "mass_g", 300);
	(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "orange", "mass_g", 300);
	(void)client_refused(client, "exists", "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "other");
	(void)client_refused(client, "exists", "litter.add", "{s:s}", "name", "amber");
	client_close(client);
}

/* ---- killed at random moments ---- */

#define STREAM 100
#define STREAM_APART_S 10
#define STREAM_AHEAD 4 /* so many weighings may be on their way at once */

struct stream {
	struct rig *rig;
	struct client *client;
	int64_t began_s;
	unsigned dice, kills;
	char told[STREAM + 1][40]; /* readings that the client was told to be recorded; the last weighing ends the stream */
	size_t n_told;
};

static unsigned roll(struct stream *s, unsigned sides)
{
	s->dice = s->dice * 1103515245 + 12345; /* POSIX's example of a generator */
	return (s->dice >> 16) % sides;
}

/* Notes what is recorded, answers what is asked; waits for nothing. */
static void attend(struct stream *s, bool answer)
{
	const json_t *notice;

	deck_turn(s->rig->deck, 0);
	while ((notice = client_look(s->client, "recorded"))) {
		assert_true(s->n_told <= STREAM);
		(void)snprintf(s->told[s->n_told++], sizeof *s->told, "%s", client_text(s->client, notice, "reading"));
	}
	while (answer && (notice = client_look(s->client, "ask")))
		(void)client_ask(s->client, "answer", "{s:s, s:s}", "ask", client_text(s->client, notice, "ask"),
				 "animal", nursery_pups[roll(s, PUPS)].name);
}

static int64_t at_s(const struct stream *s, int i)
{
	return s->began_s + STREAM_APART_S * i;
}

static void send_one(struct stream *s, int i)
{
	nursery_send(s->rig, BENCH, nursery_weight_at(300 + 5 * (i % 8), at_s(s, i), 0));
}

/* Within the next milliseconds, wherever bismard then is: reading, committing, telling, or idle. */
static void kill_soon(struct stream *s)
{
	struct timespec within = { .tv_nsec = (long)roll(s, 6000) * 1000 };

	(void)ppoll(NULL, 0, &within, NULL); /* not a wait for anything: the moment is what is drawn */
	nursery_kill(s->rig);
	client_await_end(s->client);
	attend(s, false); /* what it said last */
	s->client = client_close(s->client);
	s->kills++;
	rig_start_daemon(s->rig);
	s->client = client_open(s->rig);
}

/*
 * What bluetoothd had sent and bismard not yet taken dies with it: a scale that keeps its results sends them again,
 * with their stamps.
 */
static void resend(struct stream *s, int newest)
{
	for (int i = newest > STREAM_AHEAD ? newest - STREAM_AHEAD : 0; i <= newest; i++)
		send_one(s, i);
}

static void await_taken(struct stream *s, int i)
{
	rig_await_row(s->rig, "1",
		      "SELECT (SELECT count(*) FROM unanswered WHERE at_ms = %1$lld) + "
		      "(SELECT count(*) FROM reading WHERE at_ms = %1$lld)",
		      (long long)at_s(s, i) * 1000);
}

static void answer_all(struct stream *s)
{
	int64_t until_ms = deck_ms(s->rig->deck) + TAPE_PATIENCE_MS;

	do {
		(void)client_call(s->client, "hello", NULL);
		attend(s, true);
		if (deck_ms(s->rig->deck) > until_ms)
			deck_fail(s->rig->deck, "asks stay open");
	} while (json_array_size(json_object_get(client_call(s->client, "asks", NULL), "asks")) > 0);
	attend(s, true);
}

static void test_killed_at_random(void **state)
{
	struct stream s = { .rig = *state, .began_s = nursery_now_s() - 86400 };
	const char *seed = getenv("BISMAR_SEED");

	s.dice = seed ? (unsigned)strtoul(seed, NULL, 10) : 20261125;
	s.client = client_open(s.rig);
	nursery_make(s.rig, s.client);
	(void)client_call(s.client, "container.none", "{s:s}", "scale", "bench");
	for (int i = 0; i < STREAM; i++) {
		if (i > STREAM_AHEAD)
			await_taken(&s, i - STREAM_AHEAD);
		send_one(&s, i);
		attend(&s, true);
		if (roll(&s, 6) != 0)
			continue;
		kill_soon(&s);
		resend(&s, i);
	}
	/* the last one is through when this one is */
	nursery_weigh(s.rig, BENCH, 500);
	rig_await_row(s.rig, "1", "SELECT count(*) FROM frame_log WHERE hex(bytes) = '006400'");
	answer_all(&s);
	deck_note(s.rig->deck, "test", "%u kills, %zu told", s.kills, s.n_told);
	assert_true(s.kills >= 5);
	rig_expect_row(s.rig, "0", "SELECT count(*) FROM unanswered");
	rig_expect_row(
		s.rig, "100|100|100",
		"SELECT count(*), count(DISTINCT reading_id), count(DISTINCT at_ms) FROM reading WHERE net_g < 500");
	for (size_t i = 0; i < s.n_told; i++)
		rig_expect_row(s.rig, "1", "SELECT count(*) FROM reading WHERE reading_id = '%s'", s.told[i]);
	client_close(s.client);
}

/* ---- the end ---- */

static void end_by(struct rig *rig, int signal)
{
	struct client *client = client_open(rig);
	int status;

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	(void)client_notice(client, "ask");
	status = rig_stop_daemon(rig, signal);
	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), 0);
	client_await_end(client);
	client_close(client);
	assert_int_not_equal(access(rig->socket, F_OK), 0); /* it took its socket away */
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	rig_expect_row(rig, "ok", "PRAGMA integrity_check");
}

static void test_sigterm(void **state)
{
	end_by(*state, SIGTERM);
}

static void test_sigint(void **state)
{
	end_by(*state, SIGINT);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_asks_again),   CASE(test_undone_and_aside_stay), CASE(test_repeat_after_restart),
		CASE(test_roster_stays), CASE(test_killed_at_random),      CASE(test_sigterm),
		CASE(test_sigint),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/*
 * A whelping of four, one of them stillborn: birth weights off the scale and typed, the newborn score, a kill in
 * between, its end. Masses and names are our own invention. The score's classes 7-10, 4-6, 0-3: Theriogenology 72:401
 * (2009), abstract.
 */
#include "nursery.h"
#include "daemon/limits.h"
#include <signal.h>
#include <sqlite3.h>

static void begin(struct rig *rig, struct client *client)
{
	nursery_scale(rig, client, BENCH, "bench", "");
	(void)client_call(client, "container.tare", "{s:s, s:i}", "name", "box", "mass_g", BOX_G);
	(void)client_call(client, "container.on", "{s:s, s:s}", "name", "box", "scale", "bench");
	(void)client_call(client, "litter.add", "{s:s}", "name", "amber");
}

static json_int_t ago(int minutes)
{
	return (json_int_t)(nursery_now_s() * 1000 - (int64_t)minutes * 60000);
}

/* The only whelping. */
static const json_t *whelping(struct client *client)
{
	const json_t *list = json_object_get(client_call(client, "whelping", NULL), "whelpings");

	assert_int_equal(json_array_size(list), 1);
	return json_array_get(list, 0);
}

static json_int_t whole(const json_t *object, const char *key)
{
	assert_true(json_is_integer(json_object_get(object, key)));
	return json_integer_value(json_object_get(object, key));
}

static bool has_null(const json_t *object, const char *key)
{
	return json_is_null(json_object_get(object, key));
}

/* The second pup: by the word `new`, off the scale. */
static void born_on_the_scale(struct rig *rig, struct client *client)
{
	const json_t *ask;

	nursery_weigh(rig, BENCH, BOX_G + 310);
	ask = client_notice(client, "ask");
	assert_string_equal(client_text(client, ask, "whelping"), "amber");
	assert_non_null(strstr(client_text(client, ask, "say"), ", or a new pup"));
	assert_string_equal(client_word(client, "new"), "ok pup 2, new in litter amber, 310 g");
	assert_string_equal(client_text(client, client_notice(client, "withdraw"), "why"), "birth weight of pup 2");
	(void)client_refused(client, "no-open-ask", "whelping.pup", "{s:s}", "ask", "");
	assert_int_equal(strncmp(client_word(client, "new"), "error", 5), 0);
}

static void test_four(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *one, *pup, *births;

	begin(rig, client);
	(void)client_refused(client, "no-whelping", "whelping.pup", "{}");
	(void)client_refused(client, "not-found", "whelping.begin", "{s:s}", "litter", "nothing");
	one = client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	assert_true(has_null(one, "minutes_since"));
	(void)client_refused(client, "exists", "whelping.begin", "{s:s}", "litter", "AMBER");

	/* without name: the collar's; a typed birth weight, told an hour later */
	pup = client_call(client, "whelping.pup", "{s:s, s:s, s:s, s:I}", "sex", "f", "collar", "green", "birth",
			  "305g", "at", ago(90));
	assert_string_equal(client_text(client, pup, "name"), "green");
	assert_int_equal(whole(pup, "order"), 1);
	assert_true(has_null(pup, "minutes_after"));
	born_on_the_scale(rig, client);

	/* a stillborn one, between the two in time */
	pup = client_call(client, "whelping.pup", "{s:s, s:s, s:I}", "sex", "m", "stillborn", "yes", "at", ago(30));
	assert_true(has_null(pup, "animal"));
	assert_int_equal(whole(pup, "minutes_after"), 60);
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:s, s:s}", "stillborn", "yes", "name", "Moss");
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:s}", "stillborn", "perhaps");

	client_close(client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	client = client_open(rig);

	pup = client_call(client, "whelping.pup", "{s:s}", "name", "Moss");
	assert_int_equal(whole(pup, "order"), 4);
	one = whelping(client);
	births = json_object_get(one, "births");
	assert_int_equal(json_array_size(births), 4);
	assert_string_equal(client_text(client, json_array_get(births, 0), "name"), "green");
	assert_true(json_is_true(json_object_get(json_array_get(births, 1), "stillborn")));
	assert_string_equal(client_text(client, json_array_get(births, 2), "name"), "pup 2");
	assert_string_equal(client_text(client, json_array_get(births, 3), "name"), "Moss");
	assert_int_equal(json_array_size(json_object_get(one, "no_weight")), 1);
	assert_int_equal(json_array_size(json_object_get(one, "no_score")), 3);
	assert_int_equal(whole(one, "minutes_since"), 0);
	assert_non_null(strstr(client_text(client, one, "say"), "ask your vet beforehand"));

	rig_expect_row(rig, "4|1|2|1",
		       "SELECT count(*), sum(stillborn), count(birth_g), count(weighing_id) FROM birth_log");
	rig_expect_row(rig, "green|f|305.0", "SELECT animal, sex, birth_g FROM birth_log ORDER BY at_ms LIMIT 1");
	rig_expect_row(rig, "310.0|310.0",
		       "SELECT b.birth_g, a.birth_g FROM birth_log AS b JOIN animal_now AS a USING (animal_id) WHERE "
		       "b.animal = 'pup 2'");
	rig_expect_row(rig, "0|0", "SELECT (SELECT count(*) FROM unanswered), (SELECT count(*) FROM reading)");
	client_close(client);
}

/* It was "pup 1" at whelping and gets a name later; its tag's code is another word for it. */
static void test_alias(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *result;

	begin(rig, client);
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	(void)client_call(client, "whelping.pup", "{s:s}", "birth", "305g");
	(void)client_call(client, "whelping.pup", "{s:s}", "birth", "295g");
	result = client_call(client, "animal.alias", "{s:s, s:s}", "animal", "pup 1", "alias", "Fern");
	assert_string_equal(client_text(client, result, "name"), "pup 1");
	(void)client_refused(client, "exists", "animal.alias", "{s:s, s:s}", "animal", "pup 2", "alias", "fern");
	(void)client_refused(client, "bad-value", "animal.alias", "{s:s, s:s}", "animal", "pup 2", "alias", "");
	(void)client_refused(client, "not-found", "animal.alias", "{s:s, s:s}", "animal", "pup 3", "alias", "Elm");
	for (int i = 1; i < LIMIT_ALIASES; i++) {
		char code[32];
		(void)snprintf(code, sizeof code, "90001200%07d", i);
		(void)client_call(client, "animal.alias", "{s:s, s:s}", "animal", "Fern", "alias", code);
	}
	(void)client_refused(client, "too-many", "animal.alias", "{s:s, s:s}", "animal", "Fern", "alias", "one more");

	client_close(client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	client = client_open(rig);
	result = client_call(client, "weigh", "{s:s, s:s}", "animal", "900012000000007", "mass_g", "311g");
	assert_string_equal(client_text(client, result, "name"), "pup 1");
	client_close(client);
}

static void test_score(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *score;

	begin(rig, client);
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	(void)client_call(client, "whelping.pup", "{s:s}", "name", "Moss");
	/* 7-10, 4-6, 0-3 */
	score = client_call(client, "whelping.score", "{s:s, s:s}", "animal", "Moss", "points", "1 1 1 2 2");
	assert_string_equal(client_text(client, score, "class"), "high");
	assert_int_equal(whole(score, "score"), 7);
	score = client_call(client, "whelping.score", "{s:s, s:s}", "animal", "Moss", "points", "11112");
	assert_string_equal(client_text(client, score, "class"), "middle");
	score = client_call(client, "whelping.score", "{s:s, s:s}", "animal", "Moss", "points", "01011");
	assert_string_equal(client_text(client, score, "class"), "low");
	assert_non_null(strstr(client_text(client, score, "say"), "Call your vet now"));
	assert_int_equal(json_array_size(json_object_get(score, "items")), 5);
	(void)client_refused(client, "bad-value", "whelping.score", "{s:s, s:s}", "animal", "Moss", "points", "21232");
	(void)client_refused(client, "bad-value", "whelping.score", "{s:s, s:s}", "animal", "Moss", "points", "2122");
	rig_expect_row(rig, "01011", "SELECT points FROM birth_log");
	client_close(client);
}

static void test_refusals(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	begin(rig, client);
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	(void)client_call(client, "whelping.pup", "{s:s, s:s}", "collar", "green", "sex", "f");
	(void)client_refused(client, "exists", "whelping.pup", "{s:s}", "collar", "green");
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:s}", "sex", "x");
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:s}", "name", "a/b");
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:s, s:s}", "birth", "300g", "ask", "");
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:I}", "at", ago(-60));
	(void)client_refused(client, "bad-value", "whelping.pup", "{s:I}", "at", ago(4 * 24 * 60));
	rig_expect_row(rig, "1|1", "SELECT (SELECT count(*) FROM birth_log), (SELECT count(*) FROM animal_now)");
	/* two at a time: which is meant must be said */
	(void)client_call(client, "litter.add", "{s:s}", "name", "moss");
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "moss");
	(void)client_refused(client, "ambiguous", "whelping.pup", "{}");
	(void)client_call(client, "whelping.pup", "{s:s}", "litter", "moss");
	rig_expect_row(rig, "pup 1", "SELECT animal FROM birth_log WHERE litter = 'moss'");
	client_close(client);
}

/* "pup 2" may be taken already; a name `new` goes before the word. */
static void test_names(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	begin(rig, client);
	(void)client_call(client, "animal.add", "{s:s, s:s}", "name", "Pup 1", "litter", "amber");
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	assert_string_equal(client_text(client, client_call(client, "whelping.pup", "{}"), "name"), "pup 2");
	(void)client_call(client, "whelping.pup", "{s:s}", "name", "new");
	nursery_weigh(rig, BENCH, BOX_G + 300);
	(void)client_notice(client, "ask");
	assert_string_equal(client_word(client, "new"), "ok new 300 g");
	rig_expect_row(rig, "new", "SELECT animal FROM reading");
	client_close(client);
}

static void test_end(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *ask, *one;

	begin(rig, client);
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	(void)client_call(client, "whelping.pup", "{s:s}", "name", "Moss");
	(void)client_call(client, "animal.gone", "{s:s, s:s}", "name", "Moss", "why", "died");
	one = client_call(client, "whelping.end", NULL);
	assert_true(json_is_true(json_object_get(one, "ended")));
	assert_true(json_is_true(json_object_get(json_array_get(json_object_get(one, "births"), 0), "gone")));
	assert_int_equal(json_array_size(json_object_get(one, "no_score")), 0);
	(void)client_refused(client, "no-whelping", "whelping.end", NULL);
	nursery_weigh(rig, BENCH, BOX_G + 300);
	ask = client_notice(client, "ask");
	assert_true(has_null(ask, "whelping"));
	assert_null(strstr(client_text(client, ask, "say"), "new pup"));
	assert_int_equal(strncmp(client_word(client, "new"), "error", 5), 0);
	/* begun again, it goes on */
	(void)client_call(client, "whelping.begin", "{s:s}", "litter", "amber");
	assert_int_equal(whole(client_call(client, "whelping.pup", "{}"), "order"), 2);
	client_close(client);
}

/* What a bismard would have written: a whelping begun 25 hours ago, a birth so many minutes ago. */
static void whelped(struct rig *rig, const char *litter, int minutes)
{
	char path[160], sql[1024];
	sqlite3 *db = NULL;

	(void)snprintf(path, sizeof path, "%s/bismar.db", rig->state);
	(void)snprintf(sql, sizeof sql,
		       "INSERT INTO whelping (id, at_ms, offset_min, peer, litter)"
		       " SELECT 'w-%s', %lld, 0, 'keeper', id FROM litter WHERE name = '%s';"
		       "INSERT INTO birth (id, at_ms, offset_min, peer, litter, born_ms)"
		       " SELECT 'b-%s', %lld, 0, 'keeper', id, %lld FROM litter WHERE name = '%s'",
		       litter, (long long)ago(25 * 60), litter, litter, (long long)ago(minutes),
		       (long long)ago(minutes), litter);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static bool is_over(struct client *client, const char *litter)
{
	const json_t *list = json_object_get(client_call(client, "whelping", "{s:s}", "litter", litter), "whelpings");

	assert_int_equal(json_array_size(list), 1);
	return json_is_true(json_object_get(json_array_get(list, 0), "ended"));
}

/* By itself a day after the last birth, not a moment before. */
static void test_lapse(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	(void)client_call(client, "litter.add", "{s:s}", "name", "amber");
	(void)client_call(client, "litter.add", "{s:s}", "name", "moss");
	client_close(client);
	assert_int_equal(rig_stop_daemon(rig, SIGTERM), 0);
	whelped(rig, "amber", 24 * 60 - 5);
	whelped(rig, "moss", 24 * 60 + 1);
	rig_start_daemon(rig);
	client = client_open(rig);
	assert_false(is_over(client, "amber"));
	assert_true(is_over(client, "moss"));
	rig_await_row(rig, "w-moss|bismard", "SELECT whelping, peer FROM whelping_end");
	(void)client_refused(client, "no-whelping", "whelping.pup", "{s:s}", "litter", "moss");
	client_close(client);
}

static void has(struct rig *rig, const struct rig_ran *ran, const char *text)
{
	if (!strstr(ran->out, text))
		deck_fail(rig->deck, "no \"%s\" in: %s%s", text, ran->out, ran->err);
}

/* `bismar whelping L`, a line each: begun, a pup off the scale, a stillborn one, a score, a pup that dies. */
static void test_dialogue(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	struct rig_ran ran;

	begin(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	(void)client_notice(client, "ask");
	rig->input = "b\np\nf\ngreen\n\n" /* the one on the scale */
		     "s\nm\n7\n-\n"       /* 7 is no weighing: asked again; no weight */
		     "p\nx\n\n\n280g\n"   /* x is no sex */
		     "a\ngreen\n2122\n21222\n"
		     "l\npup 3\n"
		     "x\nq\n";
	rig_run_ctl(rig, (const char *const[]){ "whelping", "amber", NULL }, &ran);
	rig->input = NULL;
	assert_int_equal(ran.status, 0);
	has(rig, &ran, "No whelping of amber is open: b begins one.");
	has(rig, &ran, "1: 305 g, weighed");
	has(rig, &ran, "green: 305 g.");
	has(rig, &ran, "Stillborn: no weight yet");
	has(rig, &ran, "pup 3: 280 g");
	has(rig, &ran, "0: below 180 a minute (below 45)");
	has(rig, &ran, "green: 9 of 10");
	has(rig, &ran, "pup 3 is off the list");
	has(rig, &ran, "ask your vet beforehand");
	rig_expect_row(rig, "3|1|2|1",
		       "SELECT count(*), sum(stillborn), count(birth_g), count(weighing_id) FROM birth_log");
	rig_expect_row(rig, "green|21222", "SELECT animal, points FROM birth_log WHERE points IS NOT NULL");
	rig_expect_row(rig, "1", "SELECT count(*) FROM animal_now");
	rig_run_ctl(
		rig,
		(const char *const[]){ "whelping", "pup", "--sex", "f", "--collar", "red", "--birth", "300g", NULL },
		&ran);
	has(rig, &ran, "red: 300 g, 0 min after the one before.");
	rig_run_ctl(rig, (const char *const[]){ "whelping", "end", NULL }, &ran);
	has(rig, &ran, "4. ");
	has(rig, &ran, "Without score: red");
	rig_run_ctl(rig, (const char *const[]){ "sheet", "amber", "--vet", "<0123>", NULL }, &ran);
	has(rig, &ran, "&lt;0123&gt;");
	has(rig, &ran, "<td>green</td>");
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = { CASE(test_four), CASE(test_score), CASE(test_refusals), CASE(test_names),
					    CASE(test_end),  CASE(test_lapse), CASE(test_dialogue), CASE(test_alias) };

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* A round: containers, a litter, weighings from the scale to the ledger, and every way to answer. */
#include "nursery.h"
#include <math.h>

/* ---- the round ---- */

/* One weighing has been sent: what is asked of it. */
static const char *check_ask(struct client *client, const struct pup *pup)
{
	const json_t *ask = client_notice(client, "ask");
	int64_t gross_mg = client_mg(client, ask, "gross_g"), tare_mg = client_mg(client, ask, "tare_g");
	int64_t u_mg = client_mg(client, ask, "u_g");
	/*
	 * JCGM 100:2008, 4.3.7 and 5.1.2: the scale's 5 g step and the typed tare's 1 g each give step/sqrt(12), and
	 * add in squares. The tare creeps by our own assumption, by milligrams within a test.
	 */
	double least_mg = sqrt(5000.0 * 5000.0 / 12 + 1000.0 * 1000.0 / 12);

	assert_int_equal(gross_mg, (BOX_G + pup->grams) * 1000);
	assert_int_equal(tare_mg, BOX_G * 1000);
	assert_int_equal(client_mg(client, ask, "net_g"), gross_mg - tare_mg);
	assert_true((double)u_mg >= least_mg && (double)u_mg < least_mg + 10);
	assert_string_equal(client_text(client, ask, "scale"), "bench");
	assert_string_equal(client_text(client, ask, "container"), "box");
	assert_string_equal(client_text(client, ask, "state"), "settled");
	assert_true(json_array_size(json_object_get(ask, "candidates")) <= PUPS);
	assert_non_null(strstr(client_text(client, ask, "say"), "g"));
	return client_text(client, ask, "ask");
}

static void by_word(struct rig *rig, const char *ask, const struct pup *pup)
{
	struct client *shell = client_open(rig);
	char expected[64];

	(void)client_notice_of(shell, "ask", "ask", ask); /* a newcomer is told what is open */
	(void)snprintf(expected, sizeof expected, "ok %s %d g", pup->name, pup->grams);
	assert_string_equal(client_word(shell, pup->collar), expected);
	client_close(shell);
}

static void by_request(struct client *client, const char *ask, const struct pup *pup)
{
	const json_t *result =
		client_call(client, "answer", "{s:s, s:s, s:s}", "ask", ask, "animal", pup->name, "by", "a keypad");

	assert_string_equal(client_text(client, result, "reading"), ask);
	assert_string_equal(client_text(client, result, "name"), pup->name);
	assert_string_equal(client_text(client, result, "by"), "a keypad");
	assert_int_equal(client_mg(client, result, "net_g"), pup->grams * 1000);
}

static void by_command(struct rig *rig, const char *ask, const struct pup *pup)
{
	struct rig_ran ran;

	rig_run_ctl(rig, (const char *const[]){ "answer", pup->collar, "--ask", ask, NULL }, &ran);
	if (ran.status != 0 || !strstr(ran.out, pup->name))
		deck_fail(rig->deck, "bismar answer: status %d, %s%s", ran.status, ran.out, ran.err);
}

static void test_eight(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	for (size_t i = 0; i < PUPS; i++) {
		const struct pup *pup = &nursery_pups[i];
		const json_t *recorded;
		const char *ask;
		char row[256];

		nursery_weigh(rig, BENCH, BOX_G + pup->grams);
		ask = check_ask(client, pup);
		if (i < 3)
			by_word(rig, ask, pup);
		else if (i < 6)
			by_request(client, ask, pup);
		else
			by_command(rig, ask, pup);
		recorded = client_notice_of(client, "recorded", "reading", ask);
		assert_string_equal(client_text(client, recorded, "name"), pup->name);
		assert_int_equal(client_mg(client, recorded, "net_g"), pup->grams * 1000);
		(void)snprintf(row, sizeof row, "%s|%s|amber|%d.0|%d.0|%d.0|box|bench|radio|settled|", pup->name,
			       pup->collar, pup->grams, BOX_G + pup->grams, BOX_G);
		rig_expect_row(
			rig, row,
			"SELECT animal, collar, litter, net_g, gross_g, tare_g, container, scale, origin, state, fed "
			"FROM reading WHERE reading_id = '%s'",
			ask);
	}
	rig_expect_row(rig, "8|8", "SELECT count(*), count(DISTINCT animal_id) FROM reading");
	rig_expect_row(rig, "0", "SELECT count(*) FROM unanswered");
	rig_expect_row(rig, "8", "SELECT count(*) FROM frame_log WHERE fate = 'used' AND scale = 'bench'");
	rig_expect_row(rig, "8", "SELECT count(*) FROM animal_now WHERE newest_g > 0 AND litter = 'amber'");
	rig_expect_row(rig, "3", "SELECT count(*) FROM reading WHERE answered_by = 'a keypad'");
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

/* The litter's second round suggests by what the first one found: at equal masses each is the first suggestion. */
static void test_suggestions(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *ask, *candidates;

	nursery_make(rig, client);
	for (size_t i = 0; i < PUPS; i++)
		(void)client_call(client, "weigh", "{s:s, s:i}", "animal", nursery_pups[i].name, "mass_g",
				  nursery_pups[i].grams);
	nursery_weigh(rig, BENCH, BOX_G + 345); /* Maple's, far from the others' */
	ask = client_notice(client, "ask");
	candidates = json_object_get(ask, "candidates");
	assert_int_equal(json_array_size(candidates), PUPS);
	assert_string_equal(client_text(client, json_array_get(candidates, 0), "name"), "Maple");
	for (size_t i = 0; i < PUPS; i++) {
		double p = json_number_value(json_object_get(json_array_get(candidates, i), "probability"));
		assert_true(p >= 0 && p <= 1);
	}
	/* promise 4: it is never assigned by weight alone */
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	client_close(client);
}

/* ---- containers ---- */

static void test_tare_by_weighing(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	nursery_scale(rig, client, BENCH, "bench", "");
	(void)client_call(client, "follow", "{s:[s, s, s]}", "topics", "ask", "recorded", "container");
	notice = client_call(client, "container.tare", "{s:s}", "name", "tray");
	assert_true(json_is_true(json_object_get(notice, "waiting")));
	nursery_weigh(rig, BENCH, 430);
	notice = client_notice(client, "container");
	assert_string_equal(client_text(client, notice, "what"), "tared");
	assert_string_equal(client_text(client, notice, "container"), "tray");
	assert_int_equal(client_mg(client, notice, "tare_g"), 430000);
	/* 5 g / sqrt(12) = 1.4434 g (JCGM 100:2008, 4.3.7), rounded up to a milligram */
	rig_expect_row(rig, "tray|430.0|1.444|bench", "SELECT container, tare_g, u_g, scale FROM container_now");

	nursery_weigh(rig, BENCH, 430 + 305);
	notice = client_notice(client, "ask");
	assert_int_equal(client_mg(client, notice, "tare_g"), 430000);
	assert_int_equal(client_mg(client, notice, "net_g"), 305000);
	assert_int_equal(client_notices(client, "ask"), 0); /* the tare itself was no question */
	client_close(client);
}

/*
 * Between the request and the tray, the scale stands empty, and on a link anew it sends what it kept. Neither is the
 * tray, and neither says anything of the box that stood there before.
 */
static void test_tare_waits_for_its_result(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	nursery_make(rig, client);
	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "ask", "container");
	(void)client_call(client, "container.tare", "{s:s}", "name", "tray");
	nursery_weigh(rig, BENCH, 0);
	nursery_send(rig, BENCH, nursery_weight_at(BOX_G + 305, nursery_now_s() - 7200, 0)); /* two hours ago */
	notice = client_notice(client, "ask");
	assert_int_equal(client_mg(client, notice, "net_g"), 305000);
	assert_string_equal(client_text(client, notice, "container"), "box");
	nursery_weigh(rig, BENCH, 430);
	notice = client_notice_of(client, "container", "what", "tared");
	assert_string_equal(client_text(client, notice, "container"), "tray");
	assert_int_equal(client_mg(client, notice, "tare_g"), 430000);
	rig_expect_row(rig, "210.0|1|",
		       "SELECT tare_g, checked_at_ms = tared_at_ms, drift_g FROM container_now "
		       "WHERE container = 'box'");
	rig_expect_row(rig, "1|stored", "SELECT count(*), origin FROM unanswered");
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

static void test_none(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *ask;

	nursery_make(rig, client);
	(void)client_call(client, "container.none", "{s:s}", "scale", "bench");
	nursery_weigh(rig, BENCH, 305);
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "gross_g"), 305000);
	assert_int_equal(client_mg(client, ask, "tare_g"), 0);
	assert_int_equal(client_mg(client, ask, "net_g"), 305000);
	assert_true(json_is_null(json_object_get(ask, "container")));
	rig_expect_row(rig, "305.0|0.0|", "SELECT net_g, tare_g, container FROM unanswered");
	client_close(client);
}

static void test_empty_and_drift(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	nursery_make(rig, client);
	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "ask", "container");
	nursery_weigh(rig, BENCH, BOX_G);
	notice = client_notice(client, "container");
	assert_string_equal(client_text(client, notice, "what"), "checked");
	assert_int_equal(client_mg(client, notice, "drift_g"), 0);
	nursery_weigh(rig, BENCH, BOX_G + 5); /* one step of the scale: nothing that it could tell */
	assert_string_equal(client_text(client, client_notice(client, "container"), "what"), "checked");
	nursery_weigh(rig, BENCH, BOX_G + 20); /* the pad is wet */
	notice = client_notice(client, "container");
	assert_string_equal(client_text(client, notice, "what"), "drifted");
	assert_int_equal(client_mg(client, notice, "drift_g"), 20000);
	assert_int_equal(client_mg(client, notice, "tare_g"), BOX_G * 1000);
	assert_non_null(strstr(client_text(client, notice, "say"), "container tare box"));
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "210.0|20.0", "SELECT tare_g, drift_g FROM container_now");
	rig_expect_row(rig, "3|0",
		       "SELECT count(*), (SELECT count(*) FROM unanswered) FROM frame_log WHERE fate = 'used'");
	client_close(client);
}

static void test_below(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	nursery_make(rig, client);
	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "ask", "container");
	nursery_weigh(rig, BENCH, 150);
	notice = client_notice(client, "container");
	assert_string_equal(client_text(client, notice, "what"), "below");
	assert_int_equal(client_mg(client, notice, "gross_g"), 150000);
	rig_expect_row(rig, "refused|1", "SELECT fate, length(why) > 10 FROM frame_log");
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "0", "SELECT count(*) FROM unanswered");
	nursery_weigh(rig, BENCH, 515);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	client_close(client);
}

/* ---- frames ---- */

static void test_refused_frames(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_scale(rig, client, BENCH, "bench", "");
	/* 0xFFFF: the measurement was unsuccessful (GATT Specification Supplement, Weight Measurement) */
	nursery_send(rig, BENCH, "00ffff");
	nursery_send(rig, BENCH, "0054");   /* half a mass */
	nursery_send(rig, BENCH, "025400"); /* a stamp is announced, and missing */
	nursery_send(rig, BENCH, "-");      /* nothing at all */
	rig_await_frames(rig, 4);
	rig_expect_row(rig, "4", "SELECT count(*) FROM frame_log WHERE fate = 'refused' AND why IS NOT NULL");
	rig_expect_row(rig, "00FFFF", "SELECT hex(bytes) FROM frame_log ORDER BY received_at_ms, frame_id LIMIT 1");
	nursery_weigh(rig, BENCH, 305);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "used", "SELECT fate FROM frame_log WHERE hex(bytes) = '003D00'");
	client_close(client);
}

static void test_pounds(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *ask;

	nursery_scale(rig, client, BENCH, "bench", "");
	/* flag bit 0: 0.01 lb; 67 of them. A pound is 453.592 37 g exactly (NIST SP 811, appendix B.8), so it is
	 * 303.906 887 9 g, and u = 4.535 923 7 g / sqrt(12) = 1.309 408 g, rounded up */
	nursery_send(rig, BENCH, "014300");
	ask = client_notice(client, "ask");
	assert_int_equal(client_mg(client, ask, "net_g"), 303907);
	assert_int_equal(client_mg(client, ask, "u_g"), 1310);
	client_close(client);
}

/* ---- people ---- */

static void test_text_and_words(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig), *reader = client_open(rig);
	const char *line;

	nursery_make(rig, client);
	client_say(reader, "text");
	assert_int_equal(strncmp(client_line(reader), "ok", 2), 0);
	assert_string_equal(client_word(reader, "?"), "ok no question is open");
	assert_int_equal(strncmp(client_word(reader, "green"), "error", 5), 0);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	line = client_line(reader);
	assert_int_equal(strncmp(line, "ask ", 4), 0);
	assert_non_null(strstr(line, "305 g"));
	assert_int_equal(strncmp(client_word(reader, "?"), "ok 1 open", 9), 0);
	assert_int_equal(strncmp(client_word(reader, "purple"), "error", 5), 0);
	/* what it does is told before it is answered */
	client_say(reader, "-");
	assert_non_null(strstr(client_line(reader), "set aside"));
	assert_string_equal(client_line(reader), "ok set aside");
	nursery_weigh(rig, BENCH, BOX_G + 330);
	(void)client_line(reader);
	client_say(reader, "ELM");
	assert_int_equal(strncmp(client_line(reader), "recorded Elm 330 g", 18), 0);
	assert_string_equal(client_line(reader), "ok Elm 330 g");
	rig_expect_row(rig, "Elm", "SELECT animal FROM reading");
	client_close(reader);
	client_close(client);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_eight, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_suggestions, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_tare_by_weighing, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_tare_waits_for_its_result, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_none, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_empty_and_drift, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_below, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_refused_frames, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_pounds, rig_setup, rig_teardown),
		cmocka_unit_test_setup_teardown(test_text_and_words, rig_setup, rig_teardown),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

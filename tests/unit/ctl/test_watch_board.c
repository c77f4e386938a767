// SPDX-License-Identifier: MIT
/* Keys in, requests out; and what notifications make of the board. */
#include "board.h"
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/watch_care.h"
#include "daemon/ctl/watch_input.h"

#define LATER (BOARD_NOW + 10000) /* the question has been looked at */

static struct watch_action press(struct watch_board *board, enum watch_key_kind kind, const char *text, int64_t now_ms)
{
	struct watch_key key = { .kind = kind };
	struct watch_action action;

	(void)snprintf(key.text, sizeof key.text, "%s", text);
	watch_input_key(board, &key, now_ms, &action);
	return action;
}

static struct watch_action type(struct watch_board *board, const char *text, int64_t now_ms)
{
	struct watch_action action = { 0 };

	for (; *text; text++)
		action = press(board, WATCH_KEY_TEXT, (const char[]){ *text, '\0' }, now_ms);
	return action;
}

static struct watch_action enter(struct watch_board *board, int64_t now_ms)
{
	return press(board, WATCH_KEY_ENTER, "", now_ms);
}

static void check(struct watch_action action, enum watch_do what, const char *ask, const char *word)
{
	assert_int_equal(action.what, what);
	assert_string_equal(action.ask, ask);
	assert_string_equal(action.word, word);
}

static void result(struct watch_board *board, struct watch_action action, const char *json)
{
	json_t *value = json_loads(json, 0, NULL);

	assert_non_null(value);
	watch_board_result(board, &action, json_object_get(value, "result"), json_object_get(value, "error"), LATER);
	json_decref(value);
}

static void test_enter_and_numbers(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	assert_int_equal(enter(board, LATER).what, WATCH_NOTHING); /* nothing is open */
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	check(enter(board, LATER), WATCH_ANSWER, "ask-1", "id-acer");
	assert_true(board->busy);
	assert_int_equal(type(board, "2", LATER).what, WATCH_NOTHING); /* the first isn't answered yet */
	board->busy = false;
	check(type(board, "2", LATER), WATCH_ANSWER, "ask-1", "id-bean");
	board->busy = false;
	assert_int_equal(type(board, "3", LATER).what, WATCH_NOTHING);
	assert_string_equal(board->message, "There is no suggestion 3.");
	check(type(board, "-", LATER), WATCH_ASIDE, "ask-1", "");
	board_free(board);
}

static void test_words(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	assert_int_equal(type(board, "light blue", LATER).what, WATCH_NOTHING);
	check(enter(board, LATER), WATCH_ANSWER, "ask-1", "light blue");
	board->busy = false;
	(void)type(board, "Zo", LATER);
	(void)press(board, WATCH_KEY_TEXT, "\xc3\xab", LATER);
	(void)press(board, WATCH_KEY_BACKSPACE, "", LATER); /* takes both octets of the character */
	assert_string_equal(board->word, "Zo");
	(void)press(board, WATCH_KEY_ESCAPE, "", LATER);
	assert_string_equal(board->word, "");
	(void)type(board, " ", LATER); /* no word begins with a blank */
	assert_string_equal(board->word, "");
	(void)type(board, "no-2 <", LATER); /* inside a word these are letters */
	assert_string_equal(board->word, "no-2 <");
	(void)press(board, WATCH_KEY_ESCAPE, "", LATER);
	(void)type(board, "Acer  ", LATER);
	check(enter(board, LATER), WATCH_ANSWER, "ask-1", "Acer");
	board_free(board);
}

static void test_word_is_capped(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	for (int i = 0; i < 3 * LIMIT_NAME_BYTES; i++)
		(void)type(board, "x", LATER);
	assert_int_equal(strlen(board->word), LIMIT_NAME_BYTES);
	board_free(board);
}

static void test_tab(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	(void)type(board, "LI", LATER); /* a collar's beginning */
	assert_string_equal(watch_input_guess(board)->name, "Corn");
	(void)press(board, WATCH_KEY_TAB, "", LATER);
	check(enter(board, LATER), WATCH_ANSWER, "ask-1", "Corn");
	board->busy = false;
	board_animal(board, "Comfrey", "", 0);
	(void)type(board, "co", LATER); /* two begin so: none is guessed */
	assert_null(watch_input_guess(board));
	(void)press(board, WATCH_KEY_TAB, "", LATER);
	assert_string_equal(board->word, "co");
	board_free(board);
}

/* A pup named or collared with a digit: then 3 is a word, not the third suggestion. */
static void test_names_with_digits(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_animal(board, "Echo", "3", 0);
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	assert_false(watch_input_digits(board));
	assert_int_equal(type(board, "3", LATER).what, WATCH_NOTHING);
	check(enter(board, LATER), WATCH_ANSWER, "ask-1", "3");
	board_free(board);
}

/* A key meant for the question before, or a wet key that bounces, answers nothing. */
static void test_guard(void **state)
{
	struct watch_board *board = board_new();
	struct watch_action action;

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	board_ask(board, "ask-2", "12:45:00", BOARD_NOW);
	assert_int_equal(enter(board, BOARD_NOW + WATCH_GUARD_MS - 1).what, WATCH_NOTHING);
	assert_int_equal(type(board, "1", BOARD_NOW + WATCH_GUARD_MS - 1).what, WATCH_NOTHING);
	assert_int_equal(type(board, "-", BOARD_NOW + WATCH_GUARD_MS - 1).what, WATCH_NOTHING);
	assert_true(board->message_bad);
	action = enter(board, BOARD_NOW + WATCH_GUARD_MS);
	check(action, WATCH_ANSWER, "ask-1", "id-acer");
	result(board, action, "{\"result\":{\"name\":\"Acer\"}}"); /* at LATER; ask-2 is shown now */
	assert_int_equal(enter(board, LATER + 100).what, WATCH_NOTHING);
	check(enter(board, LATER + WATCH_GUARD_MS), WATCH_ANSWER, "ask-2", "id-acer");
	board->busy = false;
	/* somebody else answers it while a word is being typed: the word goes too */
	board_ask(board, "ask-3", "12:45:30", LATER);
	(void)type(board, "Be", LATER + 2000);
	board_recorded(board, "ask-2", "Acer", "keeper", LATER + 2000);
	assert_string_equal(board->word, "");
	assert_string_equal(board->message, "Answered by keeper: Acer.");
	assert_string_equal(watch_asks_shown(board)->id, "ask-3");
	assert_int_equal(enter(board, LATER + 2100).what, WATCH_NOTHING);
	board_free(board);
}

static void test_undo(void **state)
{
	struct watch_board *board = board_new();
	struct watch_action action;

	(void)state;
	assert_int_equal(type(board, "<", LATER).what, WATCH_NOTHING);
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	action = enter(board, LATER);
	board_recorded(board, "ask-1", "Acer", "root", LATER);
	result(board, action, "{\"result\":{\"name\":\"Acer\"}}");
	assert_string_equal(board->message, "Recorded: Acer.");
	/* another keeper's answer comes after it: ours is what is taken back */
	board_recorded(board, "ask-7", "Dock", "keeper", LATER);
	board_ask(board, "ask-5", "12:40:00", LATER);
	action = type(board, "<", LATER + 1000);
	check(action, WATCH_REOPEN, "ask-1", "");
	assert_string_equal(action.name, "Acer");
	board_ask(board, "ask-1", "12:44:00", LATER); /* it is open again, and shown, though ask-5 is older */
	result(board, action, "{\"result\":{\"ask\":\"ask-1\"}}");
	assert_string_equal(watch_asks_shown(board)->id, "ask-1");
	assert_string_equal(board->message, "Taken back: Acer.");
	assert_int_equal(board->n_recent, 1);
	/* none of ours is left: the newest of anybody's in this round; but not an older one */
	action = type(board, "<", LATER + 2000);
	check(action, WATCH_REOPEN, "ask-7", "");
	board->busy = false;
	assert_int_equal(type(board, "<", LATER + 91 * 60000).what, WATCH_NOTHING);
	board_free(board);
}

/* While a litter is being born, a mass can be a new pup: by its key or the word, unless an animal is called so. */
static void test_new_pup(void **state)
{
	static const char ask[] = "{\"ask\":\"ask-2\",\"at\":\"2026-11-25T12:44:00Z\",\"net_g\":305.0,"
				  "\"whelping\":\"Birch\",\"candidates\":[]}";
	struct watch_board *board = board_new();
	struct watch_action action;
	json_t *result = json_pack("{s:s}", "name", "pup 3");

	(void)state;
	assert_int_equal(type(board, "+", LATER).what, WATCH_NOTHING);
	assert_string_equal(board->message, "No question is open.");
	board_ask(board, "ask-1", "12:43:00", BOARD_NOW);
	assert_int_equal(type(board, "+", LATER).what, WATCH_NOTHING);
	assert_true(board->message_bad);
	assert_non_null(strstr(board->message, "No whelping is open"));
	watch_asks_remove(board, "ask-1", BOARD_NOW);

	board_notice(board, "ask", ask, BOARD_NOW);
	assert_int_equal(type(board, "+", BOARD_NOW + 1).what, WATCH_NOTHING); /* meant for the question before */
	action = type(board, "+", LATER);
	assert_int_equal(action.what, WATCH_BIRTH);
	assert_string_equal(action.ask, "ask-2");
	assert_string_equal(action.word, "Birch");
	watch_board_result(board, &action, result, NULL, LATER);
	assert_int_equal(board->n_asks, 0);
	assert_int_equal(board->n_undo, 0);
	assert_non_null(strstr(board->message, "New in Birch: pup 3."));

	board_notice(board, "ask", ask, BOARD_NOW);
	(void)type(board, "New", LATER);
	assert_int_equal(press(board, WATCH_KEY_ENTER, "", LATER).what, WATCH_BIRTH);
	board->busy = false;
	board_animal(board, "New", "", 0);
	(void)type(board, "new", LATER);
	assert_int_equal(press(board, WATCH_KEY_ENTER, "", LATER).what, WATCH_ANSWER);
	board->busy = false;
	watch_input_line(board, "+", LATER, &action);
	assert_int_equal(action.what, WATCH_BIRTH);
	json_decref(result);
	board_free(board);
}

static void test_refusals(void **state)
{
	struct watch_board *board = board_new();
	struct watch_action action;

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	(void)type(board, "Fay", LATER);
	action = enter(board, LATER);
	result(board, action,
	       "{\"error\":{\"code\":-32000,\"message\":\"no animal is called \\\"Fay\\\"\",\"data\":{"
	       "\"code\":\"not-found\",\"hint\":\"`bismar animal list` shows them.\"}}}");
	assert_string_equal(board->message, "no animal is called \"Fay\". `bismar animal list` shows them.");
	assert_true(board->message_bad);
	assert_string_equal(watch_asks_shown(board)->id, "ask-1"); /* still open */
	action = enter(board, LATER);
	result(board, action,
	       "{\"error\":{\"code\":-32000,\"message\":\"Bean was answered by keeper already\",\"data\":{"
	       "\"code\":\"already-answered\",\"hint\":\"`correct` changes an answer.\",\"by\":\"keeper\"}}}");
	assert_null(watch_asks_shown(board));
	assert_int_equal(board->n_undo, 0); /* it wasn't ours */
	board_free(board);
}

static void test_connection(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	(void)enter(board, LATER);
	watch_board_down(board, "gone");
	assert_false(board->busy);
	assert_true(board->message_bad); /* nobody knows whether it was recorded */
	assert_null(watch_asks_shown(board));
	assert_int_equal(enter(board, LATER).what, WATCH_NOTHING);
	assert_int_equal(press(board, WATCH_KEY_LEAVE, "", LATER).what, WATCH_LEAVE);
	watch_board_up(board);
	board_ask(board, "ask-1", "12:44:00", LATER); /* told again */
	assert_int_equal(board->n_asks, 1);
	board_free(board);
}

static void test_lines(void **state)
{
	struct watch_board *board = board_new();
	struct watch_action action;

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	watch_input_line(board, "", LATER, &action);
	assert_int_equal(action.what, WATCH_NOTHING);
	watch_input_line(board, "2", LATER, &action);
	check(action, WATCH_ANSWER, "ask-1", "id-bean");
	board->busy = false;
	watch_input_line(board, "light blue", LATER, &action);
	check(action, WATCH_ANSWER, "ask-1", "light blue");
	board->busy = false;
	watch_input_line(board, "-", LATER, &action);
	check(action, WATCH_ASIDE, "ask-1", "");
	board_free(board);
}

/* What isn't as promised is survived: absent members, wrong types, too many. */
static void test_odd_notices(void **state)
{
	static const char *const odd[] = {
		"{}",
		"{\"ask\":7}",
		"{\"ask\":\"\"}",
		"{\"ask\":\"a\",\"at\":5,\"net_g\":\"x\",\"candidates\":7}",
		"{\"ask\":\"b\",\"net_g\":1e300,\"candidates\":[1,null,{},{\"animal\":\"\"}]}",
		"{\"ask\":\"c\",\"candidates\":[{\"animal\":\"z\",\"probability\":\"\"}]}",
		"{\"scale\":\"s\",\"battery\":-1}",
		"{\"scale\":\"s\",\"battery\":1000}",
		"{\"scale\":\"\"}",
	};
	static const char *const topics[] = { "ask",   "withdraw",  "recorded", "live",
					      "scale", "container", "concern",  "round", "imported", "new" };
	struct watch_board *board = board_new();

	(void)state;
	for (size_t t = 0; t < sizeof topics / sizeof *topics; t++)
		for (size_t i = 0; i < sizeof odd / sizeof *odd; i++)
			board_notice(board, topics[t], odd[i], BOARD_NOW);
	watch_board_status(board, NULL);
	for (int i = 0; i < LIMIT_OPEN_ASKS + 20; i++) {
		char id[32];
		(void)snprintf(id, sizeof id, "many-%d", i);
		board_ask(board, id, "12:44:00", BOARD_NOW);
	}
	assert_int_equal(board->n_asks, LIMIT_OPEN_ASKS);
	for (int i = 0; i < LIMIT_SCALES + 20; i++) {
		char text[64];
		(void)snprintf(text, sizeof text, "{\"scale\":\"s%d\",\"state\":\"away\"}", i);
		board_notice(board, "scale", text, BOARD_NOW);
	}
	assert_int_equal(board->n_scales, LIMIT_SCALES);
	for (int i = 0; i < 100; i++) {
		char id[32];
		(void)snprintf(id, sizeof id, "many-%d", i);
		board_recorded(board, id, "Acer", "keeper", BOARD_NOW);
	}
	assert_int_equal(board->n_recent, WATCH_RECENT);
	board_free(board);
}

static void test_wake(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	assert_int_equal(watch_board_wake_ms(board, BOARD_NOW), BOARD_NOW + 30000); /* 12:46:00 */
	board_notice(board, "live", "{\"scale\":\"kitchen\",\"gross_g\":700,\"net_g\":296,\"steady\":false}",
		     BOARD_NOW);
	assert_true(watch_board_live(board, BOARD_NOW));
	assert_int_equal(watch_board_wake_ms(board, BOARD_NOW), BOARD_NOW + WATCH_LIVE_MS);
	assert_false(watch_board_live(board, BOARD_NOW + WATCH_LIVE_MS));
	board_free(board);
}

static void concern(struct watch_board *board, const char *id, const char *level, const char *open)
{
	char text[256];

	(void)snprintf(text, sizeof text,
		       "{\"concern\":\"%s\",\"animal\":\"a\",\"name\":\"Acer\",\"litter\":\"Birch\",\"level\":\"%s\",\"rule\":\"r\","
		       "\"text\":\"has lost\",\"source\":\"\",\"advice\":\"\",\"open\":%s,\"since_ms\":1}", id, level, open);
	board_notice(board, "concern", text, BOARD_NOW);
}

/* Worst first, each once, gone when it is over. */
static void test_concerns(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	concern(board, "c1", "look", "true");
	concern(board, "c2", "vet", "true");
	concern(board, "c3", "act", "true");
	assert_int_equal(board->n_concerns, 3);
	assert_string_equal(board->concerns[0].id, "c2");
	assert_string_equal(board->concerns[2].id, "c1");
	concern(board, "c1", "vet", "true"); /* it has become worse */
	assert_int_equal(board->n_concerns, 3);
	assert_string_equal(board->concerns[1].id, "c1");
	concern(board, "c2", "vet", "false");
	concern(board, "c2", "vet", "false");
	assert_int_equal(board->n_concerns, 2);
	assert_string_equal(board->concerns[0].id, "c1");
	for (int i = 0; i < 100; i++) {
		char id[16];
		(void)snprintf(id, sizeof id, "m%d", i);
		concern(board, id, "look", "true");
	}
	assert_int_equal(board->n_concerns, WATCH_CONCERNS);
	assert_string_equal(board->concerns[0].id, "c1"); /* the worst are kept */
	concern(board, "c9", "vet", "true");
	assert_string_equal(board->concerns[1].id, "c9");
	watch_board_up(board); /* told anew from the ledger */
	assert_int_equal(board->n_concerns, 0);
	board_free(board);
}

/* Whose turn it was is counted from where the round began. */
static void test_rounds(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	assert_true(watch_care_weighed(board, &board->animals[1], BOARD_NOW)); /* ten minutes ago */
	board_notice(board, "round",
		     "{\"round\":\"r\",\"litter\":\"Birch\",\"begun\":\"2026-11-25T12:38:00Z\",\"fed\":null,\"left\":[],"
		     "\"ended\":false}", BOARD_NOW);
	assert_int_equal(board->n_rounds, 1);
	assert_false(watch_care_weighed(board, &board->animals[1], BOARD_NOW));
	assert_true(watch_care_weighed(board, &board->animals[3], BOARD_NOW)); /* five */
	assert_false(watch_care_weighed(board, &board->animals[2], BOARD_NOW)); /* never */
	board_notice(board, "round",
		     "{\"round\":\"r\",\"litter\":\"Birch\",\"begun\":\"2026-11-25T12:38:00Z\",\"fed\":null,\"left\":[],"
		     "\"ended\":true,\"exchanges\":[{\"say\":\"Acer and Bean\"}]}", BOARD_NOW);
	assert_int_equal(board->n_rounds, 0);
	assert_int_equal(board->n_notes, 1);
	assert_non_null(strstr(board->notes[0].text, "Exchanged? Acer and Bean. Look at `bismar round`."));
	assert_non_null(strstr(board->message, "complete"));
	board_notice(board, "round",
		     "{\"round\":\"s\",\"litter\":\"Birch\",\"begun\":\"2026-11-25T12:44:00Z\",\"left\":[],\"ended\":false}",
		     BOARD_NOW);
	assert_int_equal(board->n_notes, 0); /* it was about the round before */
	for (int i = 0; i < 100; i++) {
		char text[160];
		(void)snprintf(text, sizeof text, "{\"litter\":\"L%d\",\"begun\":\"2026-11-25T12:38:00Z\",\"ended\":false}", i);
		board_notice(board, "round", text, BOARD_NOW);
	}
	assert_int_equal(board->n_rounds, WATCH_ROUNDS);
	board_free(board);
}

/* What a file added is told once, and what is shown of the pups is read again. */
static void test_imported(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board->stale = false;
	board_notice(board, "imported", "{\"readings\":214,\"litters\":[\"Birch\"],\"by\":\"keeper\"}", BOARD_NOW);
	assert_string_equal(board->message, "214 readings of a file added.");
	assert_true(board->stale);
	board_notice(board, "imported", "{\"readings\":1,\"litters\":[\"Birch\"],\"by\":\"keeper\"}", BOARD_NOW);
	assert_string_equal(board->message, "1 reading of a file added.");
	board_free(board);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_enter_and_numbers),
		cmocka_unit_test(test_words),
		cmocka_unit_test(test_word_is_capped),
		cmocka_unit_test(test_tab),
		cmocka_unit_test(test_names_with_digits),
		cmocka_unit_test(test_guard),
		cmocka_unit_test(test_undo),
		cmocka_unit_test(test_refusals),
		cmocka_unit_test(test_new_pup),
		cmocka_unit_test(test_connection),
		cmocka_unit_test(test_lines),
		cmocka_unit_test(test_odd_notices),
		cmocka_unit_test(test_concerns),
		cmocka_unit_test(test_rounds),
		cmocka_unit_test(test_imported),
		cmocka_unit_test(test_wake),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

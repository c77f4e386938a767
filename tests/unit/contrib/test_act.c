// SPDX-License-Identifier: MIT
/* What a key does, and when it does nothing. Names are our own invention; key codes: the kernel's input-event-codes.h.
 */
#include "contrib/keypad/act.h"
#include <linux/input-event-codes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof *(array))
#define LONG_AGO INT64_C(3600000)

static struct question question_of(size_t n, double first, double second)
{
	struct question question = { .id = "q", .net_mg = 304000, .n_suggestions = n };

	for (size_t i = 0; i < n; i++) {
		(void)snprintf(question.suggestions[i].animal, QUESTION_ID_SIZE, "a%zu", i);
		(void)snprintf(question.suggestions[i].name, QUESTION_NAME_SIZE, "pup %zu", i);
		question.suggestions[i].probability = i == 0 ? first : i == 1 ? second : 0.001;
	}
	return question;
}

static struct act_moment moment_of(const struct question *question)
{
	return (struct act_moment){
		.question = question, .n_open = question ? 1 : 0, .shown_ms = 5000, .age_ms = 6000, .marked_ms = 5000
	};
}

static void test_digits(void **state)
{
	static const unsigned row[] = { KEY_1, KEY_2, KEY_3, KEY_4, KEY_5, KEY_6, KEY_7, KEY_8, KEY_9 };
	static const unsigned pad[] = {
		KEY_KP1, KEY_KP2, KEY_KP3, KEY_KP4, KEY_KP5, KEY_KP6, KEY_KP7, KEY_KP8, KEY_KP9
	};

	(void)state;
	for (size_t n = 0; n <= LIMIT_CANDIDATES; n++) {
		struct question question = question_of(n, 0.4, 0.3);
		struct act_moment moment = moment_of(&question);
		for (size_t i = 0; i < N_OF(row); i++) {
			struct act one = act_pad(&moment, row[i]), other = act_pad(&moment, pad[i]);
			assert_int_equal(one.kind, i < n ? ACT_ANSWER : ACT_NONE);
			assert_int_equal(other.kind, one.kind);
			if (i < n) {
				assert_int_equal(one.n, i);
				assert_int_equal(other.n, i);
			} else {
				assert_non_null(one.why);
			}
		}
	}
}

/* Enter names nobody: one reason at a time keeps it from answering. */
static void test_enter(void **state)
{
	struct question clear = question_of(3, 0.9, 0.05), question = clear;
	struct act_moment moment = moment_of(&question);

	(void)state;
	assert_int_equal(act_pad(&moment, KEY_KPENTER).kind, ACT_ANSWER);
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_ANSWER);
	assert_int_equal(act_pad(&moment, KEY_ENTER).n, 0);
	moment.shown_ms = ACT_NAMED_MS;
	moment.age_ms = QUESTION_FRESH_MS;
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_ANSWER);
	moment.shown_ms = ACT_NAMED_MS - 1;
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	moment = moment_of(&question);
	moment.age_ms = QUESTION_FRESH_MS + 1;
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	moment = moment_of(&question);
	question.restless = true;
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	question = clear;
	question.whelping = true;
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	question = question_of(0, 0, 0);
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	/* not likely enough; not so much likelier than the next; nothing told */
	question = question_of(2, 0.79, 0.01);
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	question = question_of(2, 0.8, 0.2);
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_ANSWER);
	question = question_of(2, 0.8, 0.201);
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	question = question_of(1, 0, 0);
	assert_int_equal(act_pad(&moment, KEY_ENTER).kind, ACT_NONE);
	/* a digit still says which */
	question.restless = true;
	assert_int_equal(act_pad(&moment, KEY_KP1).kind, ACT_ANSWER);
}

/* What was pressed before anybody can have heard the question was meant for another. */
static void test_too_soon(void **state)
{
	static const unsigned keys[] = { KEY_1, KEY_KP9, KEY_ENTER, KEY_KPMINUS, KEY_KPPLUS };
	struct question question = question_of(9, 0.9, 0.01);
	struct act_moment moment = moment_of(&question);

	(void)state;
	question.whelping = true;
	for (size_t i = 0; i < N_OF(keys); i++) {
		moment = moment_of(&question);
		moment.shown_ms = ACT_HEARD_MS - 1;
		assert_int_equal(act_pad(&moment, keys[i]).kind, ACT_NONE);
		assert_non_null(act_pad(&moment, keys[i]).why);
		moment = moment_of(&question);
		moment.busy = true;
		assert_int_equal(act_pad(&moment, keys[i]).kind, ACT_NONE);
		moment = moment_of(NULL);
		assert_int_equal(act_pad(&moment, keys[i]).kind, ACT_NONE);
	}
	moment = moment_of(&question);
	moment.shown_ms = ACT_HEARD_MS;
	assert_int_equal(act_pad(&moment, KEY_1).kind, ACT_ANSWER);
}

static void test_others(void **state)
{
	struct question question = question_of(2, 0.6, 0.3);
	struct act_moment moment = moment_of(&question);

	(void)state;
	assert_int_equal(act_pad(&moment, KEY_KPMINUS).kind, ACT_ASIDE);
	assert_int_equal(act_pad(&moment, KEY_KPPLUS).kind, ACT_NONE);
	question.whelping = true;
	assert_int_equal(act_pad(&moment, KEY_KPPLUS).kind, ACT_NEW);
	assert_int_equal(act_pad(&moment, KEY_KP0).kind, ACT_AGAIN);
	assert_int_equal(act_pad(&moment, KEY_BACKSPACE).kind, ACT_NONE);
	assert_int_equal(act_pad(&moment, KEY_KPSLASH).kind, ACT_NONE);
	moment.can_go_back = true;
	assert_int_equal(act_pad(&moment, KEY_BACKSPACE).kind, ACT_BACK);
	moment.question = NULL; /* the last of the round */
	moment.shown_ms = 0;
	assert_int_equal(act_pad(&moment, KEY_KPSLASH).kind, ACT_BACK);
	assert_int_equal(act_pad(&moment, KEY_KP0).kind, ACT_NONE);
	moment.busy = true;
	assert_int_equal(act_pad(&moment, KEY_KPSLASH).kind, ACT_NONE);
	/* keys of a keyboard that mean nothing are no mistake to be told aloud */
	for (unsigned code = 0; code < KEY_CNT; code++)
		if (act_pad(&moment, code).kind != ACT_NONE)
			fail_msg("key %u does something", code);
	assert_null(act_pad(&moment, KEY_A).why);
	assert_true(act_is_lock(KEY_NUMLOCK));
	assert_false(act_is_lock(KEY_KP1));
}

/* Forward goes round: all suggestions, also those that the voice doesn't name, a new pup, aside, back. */
static void test_turner(void **state)
{
	struct question question = question_of(3, 0.6, 0.3);
	struct act_moment moment = moment_of(&question);
	struct act act;

	(void)state;
	question.whelping = true;
	moment.can_go_back = true;
	assert_int_equal(question_named(&question), 2);
	assert_int_equal(act_turner(&moment, KEY_PAGEUP).kind, ACT_NONE); /* nothing is marked */
	for (int round = 0; round < 2; round++) {
		static const struct act_mark ring[] = {
			{ ACT_ON_SUGGESTION, 0 }, { ACT_ON_SUGGESTION, 1 }, { ACT_ON_SUGGESTION, 2 },
			{ ACT_ON_NEW, 0 },        { ACT_ON_ASIDE, 0 },      { ACT_ON_BACK, 0 },
		};
		for (size_t i = 0; i < N_OF(ring); i++) {
			act = act_turner(&moment, i % 2 ? KEY_PAGEDOWN : KEY_RIGHT);
			assert_int_equal(act.kind, ACT_MARK);
			assert_int_equal(act.mark.place, ring[i].place);
			assert_int_equal(act.mark.n, ring[i].n);
			moment.mark = act.mark;
		}
	}
}

static void test_turner_takes(void **state)
{
	static const struct {
		struct act_mark mark;
		enum act_kind kind;
	} table[] = {
		{ { ACT_ON_SUGGESTION, 1 }, ACT_ANSWER },
		{ { ACT_ON_NEW, 0 }, ACT_NEW },
		{ { ACT_ON_ASIDE, 0 }, ACT_ASIDE },
		{ { ACT_ON_BACK, 0 }, ACT_BACK },
	};
	struct question question = question_of(3, 0.6, 0.3);
	struct act_moment moment;

	(void)state;
	question.whelping = true;
	for (size_t i = 0; i < N_OF(table); i++) {
		moment = moment_of(&question);
		moment.can_go_back = true;
		moment.mark = table[i].mark;
		assert_int_equal(act_turner(&moment, KEY_LEFT).kind, table[i].kind);
		assert_int_equal(act_turner(&moment, KEY_LEFT).n, table[i].mark.n);
		moment.marked_ms = ACT_MARKED_MS - 1;
		assert_int_equal(act_turner(&moment, KEY_LEFT).kind, ACT_NONE);
		moment.marked_ms = ACT_MARKED_MS;
		moment.busy = true;
		assert_int_equal(act_turner(&moment, KEY_LEFT).kind, ACT_NONE);
	}
	/* a digit means nothing there */
	moment = moment_of(&question);
	assert_int_equal(act_turner(&moment, KEY_1).kind, ACT_NONE);
	/* a mark that can't be any more */
	moment.mark = (struct act_mark){ ACT_ON_SUGGESTION, 3 };
	assert_int_equal(act_turner(&moment, KEY_LEFT).kind, ACT_NONE);
}

/* Without a question there is at most the last answer to take back; with one and nothing suggested, setting aside. */
static void test_turner_bare(void **state)
{
	struct question question = question_of(0, 0, 0);
	struct act_moment moment = moment_of(NULL);

	(void)state;
	assert_int_equal(act_turner(&moment, KEY_SPACE).kind, ACT_NONE);
	moment.can_go_back = true;
	for (int i = 0; i < 3; i++) {
		struct act act = act_turner(&moment, KEY_SPACE);
		assert_int_equal(act.kind, ACT_MARK);
		assert_int_equal(act.mark.place, ACT_ON_BACK);
		moment.mark = act.mark;
	}
	assert_int_equal(act_turner(&moment, KEY_UP).kind, ACT_BACK);
	moment = moment_of(&question);
	for (int i = 0; i < 3; i++) {
		struct act act = act_turner(&moment, KEY_SPACE);
		assert_int_equal(act.mark.place, ACT_ON_ASIDE);
		moment.mark = act.mark;
	}
}

/* A tag says who is there, not which weighing is meant. */
static void test_tag(void **state)
{
	struct question question = question_of(3, 0.4, 0.3);
	struct act_moment moment = moment_of(&question);

	(void)state;
	moment.shown_ms = 0; /* the reader may be as fast as the scale */
	assert_int_equal(act_tag(&moment).kind, ACT_CODE);
	moment.n_open = 2;
	assert_int_equal(act_tag(&moment).kind, ACT_NONE);
	moment = moment_of(&question);
	moment.age_ms = LONG_AGO;
	assert_int_equal(act_tag(&moment).kind, ACT_NONE);
	moment = moment_of(&question);
	moment.busy = true;
	assert_int_equal(act_tag(&moment).kind, ACT_NONE);
	moment = moment_of(NULL);
	assert_int_equal(act_tag(&moment).kind, ACT_NONE);
	assert_non_null(act_tag(&moment).why);
}

static void test_words(void **state)
{
	char word[32];

	(void)state;
	assert_string_equal(act_key(KEY_KP4, word, sizeof word), "4");
	assert_string_equal(act_key(KEY_KPSLASH, word, sizeof word), "/");
	assert_string_equal(act_key(KEY_PAGEDOWN, word, sizeof word), "page down");
	assert_string_equal(act_key(KEY_VOLUMEUP, word, sizeof word), "key 115");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_digits),      cmocka_unit_test(test_enter),  cmocka_unit_test(test_too_soon),
		cmocka_unit_test(test_others),      cmocka_unit_test(test_turner), cmocka_unit_test(test_turner_takes),
		cmocka_unit_test(test_turner_bare), cmocka_unit_test(test_tag),    cmocka_unit_test(test_words),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* Keys at a question: never another answer than the one that was pressed. */
#include "daemon/ctl/look_keys.h"
#include "daemon/litter/sign.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>
#include <cmocka.h>

static json_t *answers_of(enum sign_kind kind)
{
	json_t *list = json_array();

	for (const struct sign_answer *answer = sign_row(kind)->answers; answer->word; answer++)
		assert_int_equal(json_array_append_new(
					 list, json_pack("{s:s, s:s}", "value", answer->word, "plain", answer->plain)),
				 0);
	return list;
}

/* Types all of keys; what was said at the last of them. */
static enum look_said type(struct look_typed *typed, const json_t *answers, const char *keys)
{
	enum look_said said = LOOK_GOES_ON;

	*typed = (struct look_typed){ 0 };
	for (; *keys; keys++) {
		assert_int_equal(said, LOOK_GOES_ON);
		said = look_keys_take(typed, answers, *keys);
	}
	return said;
}

/* Of every sign in the table, by digit and by letter; q is nobody's answer. */
static void test_each(void **state)
{
	struct look_typed typed;

	(void)state;
	for (int kind = SIGN_TEMPERATURE + 1; kind < SIGN_KINDS; kind++) {
		json_t *answers = answers_of((enum sign_kind)kind);
		const struct sign_answer *row = sign_row((enum sign_kind)kind)->answers;
		for (int i = 0; row[i].word; i++) {
			char key[2] = { (char)('1' + i), '\0' };
			assert_int_equal(type(&typed, answers, key), LOOK_ANSWERED);
			assert_string_equal(typed.text, row[i].word);
			key[0] = row[i].word[0];
			assert_int_equal(type(&typed, answers, key),
					 key[0] == LOOK_QUIT ? LOOK_STOPPED : LOOK_ANSWERED);
			assert_true(key[0] == LOOK_QUIT || strcmp(typed.text, row[i].word) == 0);
			key[0] = (char)(row[i].word[0] - 'a' + 'A');
			assert_true(key[0] == 'Q' || type(&typed, answers, key) == LOOK_ANSWERED);
		}
		assert_int_equal(type(&typed, answers, "0987?x"), LOOK_GOES_ON);
		assert_int_equal(type(&typed, answers, " "), LOOK_SKIPPED);
		assert_int_equal(type(&typed, answers, "\r"), LOOK_SKIPPED);
		assert_int_equal(type(&typed, answers, "\033"), LOOK_STOPPED);
		assert_int_equal(type(&typed, answers, "\003"), LOOK_STOPPED);
		json_decref(answers);
	}
}

static void test_temperature(void **state)
{
	struct look_typed typed;
	json_t *none = json_array();

	(void)state;
	assert_int_equal(type(&typed, none, "37.1c"), LOOK_ANSWERED);
	assert_string_equal(typed.text, "37.1C");
	assert_int_equal(type(&typed, none, "98,6F"), LOOK_ANSWERED);
	assert_string_equal(typed.text, "98,6F");
	assert_int_equal(type(&typed, none, "39\1777.1C"), LOOK_ANSWERED);
	assert_string_equal(typed.text, "37.1C");
	assert_int_equal(type(&typed, none, "\1773x"), LOOK_GOES_ON);
	assert_string_equal(typed.text, "3");
	assert_int_equal(type(&typed, none, "37.1\r"),
			 LOOK_ANSWERED); /* without its unit: the daemon refuses, and asks again */
	assert_string_equal(typed.text, "37.1");
	assert_int_equal(type(&typed, none, "37.1 "), LOOK_GOES_ON);
	assert_int_equal(type(&typed, none, "\r"), LOOK_SKIPPED);
	assert_int_equal(type(&typed, none, "3q"), LOOK_STOPPED);
	assert_int_equal(type(&typed, none, "11111111111111111111111111"),
			 LOOK_GOES_ON); /* no further than there is room */
	assert_int_equal(strlen(typed.text), LOOK_SIZE - 1);
	assert_int_equal(look_keys_take(&typed, none, '\0'), LOOK_GOES_ON);
	json_decref(none);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_each),
		cmocka_unit_test(test_temperature),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

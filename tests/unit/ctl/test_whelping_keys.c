// SPDX-License-Identifier: MIT
/* Keys at the whelping box: which answer they make, and when it is whole. */
#include "daemon/ctl/whelping_keys.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

/* Types all of keys; only the last may end anything. */
static enum whelping_typed type(struct whelping_line *line, enum whelping_takes takes, const char *keys)
{
	enum whelping_typed typed = WHELPING_MORE;

	*line = (struct whelping_line){ .n = 0 };
	for (; *keys; keys++) {
		assert_int_equal(typed, WHELPING_MORE);
		typed = whelping_keys_take(line, takes, *keys);
	}
	return typed;
}

static void test_text(void **state)
{
	struct whelping_line line;

	(void)state;
	assert_int_equal(type(&line, WHELPING_TEXT, "green"), WHELPING_MORE);
	assert_int_equal(whelping_keys_take(&line, WHELPING_TEXT, '\r'), WHELPING_ANSWER);
	assert_string_equal(line.text, "green");
	assert_int_equal(type(&line, WHELPING_TEXT, "\n"), WHELPING_ANSWER);
	assert_string_equal(line.text, "");
	/* backspace takes a whole character, of two octets here; one too many does nothing */
	assert_int_equal(type(&line, WHELPING_TEXT, "g\xc3\xbc\x7f"), WHELPING_MORE);
	assert_string_equal(line.text, "g");
	assert_int_equal(type(&line, WHELPING_TEXT, "g\b\b\n"), WHELPING_ANSWER);
	assert_string_equal(line.text, "");
	assert_int_equal(type(&line, WHELPING_TEXT, "gren\033green\t\n"), WHELPING_ANSWER);
	assert_string_equal(line.text, "green");
}

static void test_one_key(void **state)
{
	struct whelping_line line;

	(void)state;
	assert_int_equal(type(&line, WHELPING_KEY, "p"), WHELPING_ANSWER);
	assert_string_equal(line.text, "p");
	assert_int_equal(type(&line, WHELPING_KEY, "\r"), WHELPING_ANSWER);
	assert_string_equal(line.text, "");
	assert_int_equal(type(&line, WHELPING_KEY, "\t\033\x7fs"), WHELPING_ANSWER);
	assert_string_equal(line.text, "s");
}

static void test_score(void **state)
{
	struct whelping_line line;

	(void)state;
	assert_int_equal(type(&line, WHELPING_DIGITS, "2122"), WHELPING_MORE);
	assert_int_equal(whelping_keys_take(&line, WHELPING_DIGITS, '2'), WHELPING_ANSWER);
	assert_string_equal(line.text, "21222");
	assert_int_equal(type(&line, WHELPING_DIGITS, "-\r"), WHELPING_ANSWER);
	assert_string_equal(line.text, "-");
	assert_int_equal(type(&line, WHELPING_DIGITS, "21x22"), WHELPING_MORE); /* to be mended or sent as it is */
}

static void test_leave(void **state)
{
	struct whelping_line line;

	(void)state;
	assert_int_equal(type(&line, WHELPING_TEXT, "gre\x03"), WHELPING_LEAVE);
	assert_int_equal(type(&line, WHELPING_KEY, "\x04"), WHELPING_LEAVE);
	assert_int_equal(type(&line, WHELPING_TEXT, "gre\x04"), WHELPING_MORE);
	assert_string_equal(line.text, "gre");
}

static void test_too_long(void **state)
{
	struct whelping_line line = { .n = 0 };

	(void)state;
	for (int i = 0; i < 2 * WHELPING_LINE; i++)
		assert_int_equal(whelping_keys_take(&line, WHELPING_TEXT, 'a'), WHELPING_MORE);
	assert_int_equal(strlen(line.text), WHELPING_LINE - 1);
	assert_int_equal(line.n, WHELPING_LINE - 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_text),  cmocka_unit_test(test_one_key),  cmocka_unit_test(test_score),
		cmocka_unit_test(test_leave), cmocka_unit_test(test_too_long),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

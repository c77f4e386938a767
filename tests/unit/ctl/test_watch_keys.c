// SPDX-License-Identifier: MIT
/* Octets as terminals send them: ECMA-48 control sequences; UTF-8 (RFC 3629). */
#include "daemon/ctl/watch_keys.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static void check(const char *octets, size_t n, enum watch_key_kind kind, const char *text, size_t used)
{
	struct watch_key key;

	assert_int_equal(watch_keys_next(octets, n, &key), used);
	assert_int_equal(key.kind, kind);
	assert_string_equal(key.text, text);
}

#define CHECK(literal, ...) check(literal, sizeof(literal) - 1, __VA_ARGS__)

static void test_keys(void **state)
{
	(void)state;
	CHECK("a", WATCH_KEY_TEXT, "a", 1);
	CHECK("ab", WATCH_KEY_TEXT, "a", 1);
	CHECK("\xc3\xa9x", WATCH_KEY_TEXT, "\xc3\xa9", 2);
	CHECK("\xe4\xbb\x94", WATCH_KEY_TEXT, "\xe4\xbb\x94", 3);
	CHECK("\xf0\x9f\x90\x95", WATCH_KEY_TEXT, "\xf0\x9f\x90\x95", 4);
	CHECK("\r", WATCH_KEY_ENTER, "", 1);
	CHECK("\n", WATCH_KEY_ENTER, "", 1);
	CHECK("\x7f", WATCH_KEY_BACKSPACE, "", 1);
	CHECK("\b", WATCH_KEY_BACKSPACE, "", 1);
	CHECK("\t", WATCH_KEY_TAB, "", 1);
	CHECK("\x03", WATCH_KEY_LEAVE, "", 1);
	CHECK("\x04", WATCH_KEY_LEAVE, "", 1);
	CHECK("\x0c", WATCH_KEY_REDRAW, "", 1);
	CHECK("\x15", WATCH_KEY_ESCAPE, "", 1);
	CHECK("\x1a", WATCH_KEY_OTHER, "", 1);
	CHECK("\x1b", WATCH_KEY_ESCAPE, "", 1);
}

static void test_sequences(void **state)
{
	(void)state;
	CHECK("\x1b[A", WATCH_KEY_OTHER, "", 3); /* up */
	CHECK("\x1b[Ax", WATCH_KEY_OTHER, "", 3);
	CHECK("\x1b[3~", WATCH_KEY_OTHER, "", 4);   /* delete */
	CHECK("\x1b[1;5C", WATCH_KEY_OTHER, "", 6); /* Ctrl-right */
	CHECK("\x1bOP", WATCH_KEY_OTHER, "", 3);    /* PF1 */
	CHECK("\x1bx", WATCH_KEY_OTHER, "", 2);     /* Alt-x */
	CHECK("\x1b[200", WATCH_KEY_OTHER, "", 5);  /* cut short */
	CHECK("\x1bO", WATCH_KEY_OTHER, "", 2);
	CHECK("\x1b\x1b[A", WATCH_KEY_ESCAPE, "", 1);
}

static void test_malformed(void **state)
{
	(void)state;
	CHECK("\xff", WATCH_KEY_OTHER, "", 1);
	CHECK("\xc3", WATCH_KEY_OTHER, "", 1);
	CHECK("\xc3(", WATCH_KEY_OTHER, "", 1);
	CHECK("\x80", WATCH_KEY_OTHER, "", 1);
	CHECK("\xe4\xbb", WATCH_KEY_OTHER, "", 1);
	CHECK("\xed\xa0\x80", WATCH_KEY_OTHER, "", 1); /* a surrogate */
	CHECK("\0x", WATCH_KEY_OTHER, "", 1);
}

/* Whatever comes, it is used up, and never more than there is. */
static void test_any(void **state)
{
	uint32_t random = 12345;

	(void)state;
	for (int round = 0; round < 20000; round++) {
		char octets[16];
		size_t n = 1 + (size_t)round % sizeof octets, at = 0;
		for (size_t i = 0; i < n; i++) {
			random = random * 1664525 + 1013904223;
			octets[i] = (char)(random >> 24);
		}
		while (at < n) {
			struct watch_key key;
			size_t used = watch_keys_next(octets + at, n - at, &key);
			assert_in_range(used, 1, n - at);
			at += used;
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_keys),
		cmocka_unit_test(test_sequences),
		cmocka_unit_test(test_malformed),
		cmocka_unit_test(test_any),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

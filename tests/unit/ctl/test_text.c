// SPDX-License-Identifier: MIT
/* Well-formedness after RFC 3629; widths compared with the C library's wcswidth(). */
#include "daemon/ctl/text.h"
#include <limits.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <wchar.h>
#include <cmocka.h>

static void check_fit(const char *text, unsigned width, bool utf8, const char *expected, unsigned used)
{
	char buffer[128];

	assert_int_equal(text_fit(buffer, sizeof buffer, text, width, utf8), used);
	assert_string_equal(buffer, expected);
}

static void test_fit(void **state)
{
	(void)state;
	check_fit("Acer", 10, true, "Acer", 4);
	check_fit("Acer", 4, true, "Acer", 4);
	check_fit("Acer", 3, true, "Ac\xe2\x80\xa6", 3);
	check_fit("Acer", 3, false, "Ac~", 3);
	check_fit("Acer", 1, true, "\xe2\x80\xa6", 1);
	check_fit("Acer", 0, true, "", 0);
	check_fit("", 5, true, "", 0);
	check_fit("\xe4\xbb\x94\xe7\x8a\xac", 4, true, "\xe4\xbb\x94\xe7\x8a\xac", 4); /* two columns each */
	check_fit("\xe4\xbb\x94\xe7\x8a\xac", 3, true, "\xe4\xbb\x94\xe2\x80\xa6", 3);
	check_fit("\xe4\xbb\x94\xe7\x8a\xac", 2, true, "\xe2\x80\xa6", 1);
	check_fit("\xe4\xbb\x94\xe7\x8a\xac", 9, false, "??", 2);
	check_fit("Pea\xcc\x88", 3, true, "Pea\xcc\x88", 3); /* a combining mark takes no column */
}

/* Nothing that somebody was named may move the cursor, ring, or turn the line around. */
static void test_controls(void **state)
{
	(void)state;
	check_fit("a\x1b[2Jb", 20, true, "a?[2Jb", 6);
	check_fit("a\nb\tc\x7f", 20, true, "a?b?c?", 6);
	check_fit("\xc2\x9b"
		  "2J",
		  20, true, "?2J", 3); /* CSI of 8 bits, U+009B */
	check_fit("\xe2\x80\xae"
		  "amlA",
		  20, true, "?amlA", 5); /* U+202E */
	check_fit("\xff\xc3(", 20, true,
		  "?"
		  "?(",
		  3);
	check_fit("\xed\xa0\x80", 20, true, "???", 3);
	check_fit("\xc0\xaf", 20, true, "??", 2); /* an overlong slash */
}

static void test_small_buffer(void **state)
{
	char buffer[5];

	(void)state;
	(void)text_fit(buffer, sizeof buffer, "abcdefgh", 80, true);
	assert_string_equal(buffer, "a\xe2\x80\xa6");
	(void)text_fit(buffer, 1, "abcdefgh", 80, true);
	assert_string_equal(buffer, "");
	(void)text_fit(buffer, sizeof buffer, "\xf0\x9f\x90\x95\xf0\x9f\x90\x95", 80, true);
	assert_true(text_valid(buffer));
}

static void test_valid(void **state)
{
	(void)state;
	assert_true(text_valid(""));
	assert_true(text_valid("Pe\xc3\xab \xe4\xbb\x94 \xf4\x8f\xbf\xbf"));
	assert_false(text_valid("\xf4\x90\x80\x80")); /* beyond U+10FFFF */
	assert_false(text_valid("\xe0\x80\xaf"));
	assert_false(text_valid("a\xc3"));
	assert_int_equal(text_whole("a\xc3\xab", 2), 1);
	assert_int_equal(text_whole("a\xc3\xab", 3), 3);
	assert_int_equal(text_whole("abc", 9), 3);
}

static void test_wrap(void **state)
{
	char buffer[64];
	const char *rest = "the quick brown fox";

	(void)state;
	rest = text_wrap(buffer, sizeof buffer, rest, 10, true);
	assert_string_equal(buffer, "the quick");
	rest = text_wrap(buffer, sizeof buffer, rest, 5, true);
	assert_string_equal(buffer, "brown");
	rest = text_wrap(buffer, sizeof buffer, rest, 2, true); /* a word wider than the line is broken */
	assert_string_equal(buffer, "fo");
	rest = text_wrap(buffer, sizeof buffer, rest, 2, true);
	assert_string_equal(buffer, "x");
	assert_string_equal(rest, "");
	rest = text_wrap(buffer, sizeof buffer, "\xe4\xbb\x94\xe7\x8a\xac", 1, true); /* wider than the line: goes on */
	assert_string_equal(rest, "\xe7\x8a\xac");
}

static void test_line(void **state)
{
	char buffer[64];
	struct text_line line;

	(void)state;
	text_begin(&line, buffer, sizeof buffer, 12, true);
	text_cell(&line, "Acer", 6);
	text_putf(&line, "%d", 7);
	text_tab(&line, 9);
	text_put(&line, "abcdef");
	text_put(&line, "lost");
	assert_string_equal(buffer, "Acer  7  ab\xe2\x80\xa6");
	assert_int_equal(line.column, 12);
}

/* For any octets: the width told is the width there is, within both bounds, and the text is well-formed. */
static void test_any(void **state)
{
	static const char *const pieces[] = {
		"a",    " ",    "\xc3\xa9",     "\xe4\xbb\x94", "e\xcc\x81", "\xf0\x9f\x90\x95",
		"\xff", "\x1b", "\xe2\x80\xae", "\xc3"
	};
	uint32_t random = 99;

	(void)state;
	for (int round = 0; round < 20000; round++) {
		char text[64] = "", buffer[48];
		wchar_t wide[64];
		unsigned width = (unsigned)round % 14, used;
		size_t size = 1 + (size_t)round % sizeof buffer, n;
		for (int i = 0; i < 10; i++) {
			random = random * 1664525 + 1013904223;
			n = strlen(text);
			(void)snprintf(text + n, sizeof text - n, "%s", pieces[(random >> 16) % 10]);
		}
		used = text_fit(buffer, size, text, width, true);
		assert_true(strlen(buffer) < size && used <= width && text_valid(buffer));
		n = mbstowcs(wide, buffer, 64);
		assert_int_equal(wcswidth(wide, n), used);
		assert_int_equal(text_width(buffer, true), used);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_fit),   cmocka_unit_test(test_controls), cmocka_unit_test(test_small_buffer),
		cmocka_unit_test(test_valid), cmocka_unit_test(test_wrap),     cmocka_unit_test(test_line),
		cmocka_unit_test(test_any),
	};

	if (!setlocale(LC_CTYPE, "C.UTF-8")) /* in the C library itself since glibc 2.35 */
		return 77;
	return cmocka_run_group_tests(tests, NULL, NULL);
}

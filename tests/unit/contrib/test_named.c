// SPDX-License-Identifier: MIT
/* Which names a bridge may have. */
#include "contrib/merge/named.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static void names(void **state)
{
	static const char *const good[] = { "a", "moss", "kennel 2", "B\xc3\xbcro", "a=b" };
	/* MQTT 3.1.1, 4.7.1: no wildcards and no level separator in a level; RFC 3629: well-formed */
	static const char *const bad[] = { "",    "a/b",  "+",    "a#",   "a\x1b[2J",
					   "a\n", "\x7f", "\xc3", "\xff", "\xe2\x80\xaez" };
	const char *why;
	char longest[NAMED_MAX + 2];

	(void)state;
	for (size_t i = 0; i < sizeof good / sizeof *good; i++)
		assert_true(named_good(good[i], &why));
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
		why = NULL;
		assert_false(named_good(bad[i], &why));
		assert_non_null(why);
	}
	memset(longest, 'x', sizeof longest);
	longest[NAMED_MAX] = '\0';
	assert_true(named_good(longest, &why));
	longest[NAMED_MAX] = 'x';
	longest[NAMED_MAX + 1] = '\0';
	assert_false(named_good(longest, &why));
}

int main(void)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(names) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}

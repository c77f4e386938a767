// SPDX-License-Identifier: MIT
/* RFC 4180, section 2: rules 5 to 7, and its examples. */
#include "daemon/ctl/csv.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <cmocka.h>

static void check(const char *text, size_t n, const char *expected, size_t n_expected)
{
	char *written = NULL;
	size_t size = 0;
	FILE *to = open_memstream(&written, &size);

	assert_non_null(to);
	csv_field(to, text, n);
	assert_int_equal(fclose(to), 0);
	assert_int_equal(size, n_expected);
	assert_memory_equal(written, expected, size);
	free(written);
}

#define CHECK(text, expected) check(text, sizeof(text) - 1, expected, sizeof(expected) - 1)

static void test_fields(void **state)
{
	(void)state;
	CHECK("aaa", "aaa");
	CHECK("", "");
	CHECK("b\r\nbb", "\"b\r\nbb\""); /* rule 6 */
	CHECK("b\"bb", "\"b\"\"bb\"");   /* rule 7 */
	CHECK("a,b", "\"a,b\"");
	CHECK("\"", "\"\"\"\"");
	CHECK(" a ", " a ");   /* rule 4: blanks are part of a field */
	CHECK("=1+1", "=1+1"); /* the record stays exact */
	CHECK("a\tb\x01\x7f", "a\tb\x01\x7f");
	CHECK("Zo\xc3\xab", "Zo\xc3\xab");
	CHECK("a\0b", "a\0b");
}

int main(void)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(test_fields) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}

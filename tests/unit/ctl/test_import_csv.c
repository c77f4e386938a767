// SPDX-License-Identifier: MIT
/* Cells out of files as spreadsheets and hostile people make them. Quoting by RFC 4180, section 2. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ctl/import_csv.h"

static char seen[4096];
static struct import_csv csv;

/* "1:a|b 3:c|d" */
static bool on_row(void *userdata, const struct import_cells *cells)
{
	size_t n = strlen(seen);

	(void)userdata;
	n += (size_t)snprintf(seen + n, sizeof seen - n, "%s%u:", n ? " " : "", cells->row);
	for (size_t i = 0; i < cells->n; i++)
		n += (size_t)snprintf(seen + n, sizeof seen - n, "%s%s", i ? "|" : "", cells->cells[i]);
	return true;
}

static enum import_csv_outcome read_n(const char *octets, size_t n)
{
	char *copy = malloc(n + 1); /* so that a sanitizer sees what is read beyond */
	enum import_csv_outcome outcome;

	assert_non_null(copy);
	memcpy(copy, octets, n);
	copy[n] = '\0';
	*seen = '\0';
	outcome = import_csv_read(copy, n, on_row, NULL, &csv);
	free(copy);
	return outcome;
}

static void check(const char *text, const char *cells, char separator)
{
	assert_int_equal(read_n(text, strlen(text)), IMPORT_CSV_READ);
	assert_string_equal(seen, cells);
	assert_int_equal(csv.separator, separator);
}

static void test_forms(void **state)
{
	(void)state;
	check("a,b\r\nc,d\r\n", "1:a|b 2:c|d", ',');
	check("a,b\nc,d", "1:a|b 2:c|d", ',');
	check("a,b\rc,d\r", "1:a|b 2:c|d", ',');
	check("\xef\xbb\xbf"
	      "a;b\n1,5;2\n",
	      "1:a|b 2:1,5|2", ';');
	check("a\tb c\n 1 \t2\n", "1:a|b c 2:1|2", '\t');
	check("\"weight, g\";b;c\n", "1:weight, g|b|c", ';'); /* a comma within quotes parts nothing */
	check("a,b\n\n \n;\nc,,\n", "1:a|b 4:; 5:c||", ',');  /* rows count as the spreadsheet shows them */
	check("a,b\n,,\nc,d\n", "1:a|b 3:c|d", ',');
}

static void test_quotes(void **state)
{
	(void)state;
	check("\"a \"\"x\"\"\",\"b,c\"\r\n\"two\r\nlines\",d\r\ne,f\r\n", "1:a \"x\"|b,c 2:two\r\nlines|d 3:e|f", ',');
	check("a,\"\"\n", "1:a|", ',');
	assert_int_equal(read_n("a,b\nc,d\"e\n", 10), IMPORT_CSV_QUOTE);
	assert_int_equal(csv.row, 2);
	assert_int_equal(read_n("a,b\n\"c\"d,e\n", 11), IMPORT_CSV_QUOTE);
	assert_int_equal(read_n("a,b\nc,d\n\"e,f\n", 13), IMPORT_CSV_OPEN);
	assert_int_equal(csv.row, 3); /* where it was opened */
}

static void test_encodings(void **state)
{
	static const char nul[] = "a,b\nc\0,d\n";

	(void)state;
	check("a,Mo\xc3\xb6s\n", "1:a|Mo\xc3\xb6s", ',');
	assert_int_equal(read_n("\xff\xfe"
				"a\0,\0",
				6),
			 IMPORT_CSV_UTF16);
	assert_int_equal(read_n("\xfe\xff\0a\0,", 6), IMPORT_CSV_UTF16);
	assert_int_equal(read_n("a\0,\0b\0", 6), IMPORT_CSV_UTF16); /* without a mark */
	assert_int_equal(read_n(nul, sizeof nul - 1), IMPORT_CSV_BINARY);
	assert_int_equal(read_n("a,b\nMo\xf6s,1\n", 11), IMPORT_CSV_NOT_UTF8); /* ISO 8859-1 */
	assert_int_equal(csv.row, 2);
}

static void test_nothing(void **state)
{
	(void)state;
	assert_int_equal(read_n("", 0), IMPORT_CSV_EMPTY);
	assert_int_equal(read_n("\n\r\n \t\n", 6), IMPORT_CSV_EMPTY);
	assert_int_equal(read_n("abc\ndef\n", 8), IMPORT_CSV_ONE_COLUMN);
}

/* n times c after a beginning. */
static enum import_csv_outcome read_many(const char *begin, char c, size_t n)
{
	size_t m = strlen(begin);
	char *text = malloc(m + n + 1);
	enum import_csv_outcome outcome;

	assert_non_null(text);
	memcpy(text, begin, m);
	memset(text + m, c, n);
	outcome = read_n(text, m + n);
	free(text);
	return outcome;
}

/* At each cap, and one beyond. */
static void test_caps(void **state)
{
	(void)state;
	assert_int_equal(read_many("a,", 'x', IMPORT_CELL_BYTES), IMPORT_CSV_READ);
	assert_int_equal(read_many("a,", 'x', IMPORT_CELL_BYTES + 1), IMPORT_CSV_LONG_CELL);
	assert_int_equal(read_many("a,\"", 'x', 5000000), IMPORT_CSV_LONG_CELL);
	assert_int_equal(read_many("a,", '\n', 3000000), IMPORT_CSV_READ);
	*seen = '\0';
	assert_int_equal(read_many("a", ',', 1000000), IMPORT_CSV_READ); /* empty cells beyond the last are nothing */

	char columns[IMPORT_COLUMNS * 2 + 8] = "";
	for (size_t i = 0; i < IMPORT_COLUMNS; i++)
		memcpy(columns + 2 * i, "x,", 2);
	assert_int_equal(read_n(columns, 2 * IMPORT_COLUMNS), IMPORT_CSV_READ);
	columns[2 * IMPORT_COLUMNS] = 'x';
	assert_int_equal(read_n(columns, 2 * IMPORT_COLUMNS + 1), IMPORT_CSV_MANY_COLUMNS);
}

static bool stop(void *userdata, const struct import_cells *cells)
{
	(void)cells;
	(*(int *)userdata)++;
	return false;
}

static void test_stop(void **state)
{
	int rows = 0;

	(void)state;
	assert_int_equal(import_csv_read("a,b\nc,d\n", 8, stop, &rows, &csv), IMPORT_CSV_STOPPED);
	assert_int_equal(rows, 1);
	for (int i = IMPORT_CSV_EMPTY; i < IMPORT_CSV_STOPPED; i++)
		assert_true(strlen(import_csv_hint((enum import_csv_outcome)i)) > 10);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_forms),   cmocka_unit_test(test_quotes), cmocka_unit_test(test_encodings),
		cmocka_unit_test(test_nothing), cmocka_unit_test(test_caps),   cmocka_unit_test(test_stop),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* Columns by their names, and weighings with every mistake by row and column. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ctl/import_table.h"

static struct import_table table;
static struct import_options options;

static void table_of(const char *text)
{
	import_table_done(&table);
	assert_true(import_table_read(text, strlen(text), &options, &table));
}

static void entry(size_t i, unsigned row, const char *animal, const char *mass, int64_t s)
{
	assert_true(i < table.n);
	assert_int_equal(table.entries[i].row, row);
	assert_string_equal(table.entries[i].animal, animal);
	assert_string_equal(table.entries[i].mass, mass);
	assert_true(table.entries[i].at_ms == s * 1000);
}

/* There is an issue there, with these words. */
static void issue(unsigned row, size_t column, const char *words)
{
	for (size_t i = 0; i < table.n_issues; i++)
		if (table.issues[i].row == row && table.issues[i].column == column &&
		    strstr(table.issues[i].text, words))
			return;
	for (size_t i = 0; i < table.n_issues; i++)
		print_error("row %u, column %zu: %s\n", table.issues[i].row, table.issues[i].column,
			    table.issues[i].text);
	fail_msg("row %u, column %zu: no \"%s\"", row, column, words);
}

#define JAN_3 INT64_C(1767398400) /* 2026-01-03T00:00:00Z: date -u -d 2026-01-03 +%s */

static void test_long(void **state)
{
	(void)state;
	table_of("Date,Time,Pup,Weight (g),Fed,Note\n2026-01-03,7:30,Moss,304,before,\"a, "
		 "b\"\n2026-01-03,7:31,Fern,304.5,,\n");
	assert_int_equal(table.n, 2);
	assert_int_equal(table.n_mistakes, 0);
	assert_false(table.layout.wide);
	entry(0, 2, "Moss", "304g", JAN_3 + 27000);
	entry(1, 3, "Fern", "304.5g", JAN_3 + 27060);
	assert_int_equal(table.entries[0].fed, 'b');
	assert_int_equal(table.entries[1].fed, 0);
	assert_int_equal(table.layout.columns[5].kind, IMPORT_IGNORED);

	/* one column for both, collars, a litter, ounces in the cells, another separator */
	table_of("weighed at;litter;collar;MASS\n2026-01-03 "
		 "7:30;hedge;green;10,7oz\n2026-01-03T07:31:00+01:00;;red;0lb10.7oz\n");
	assert_int_equal(table.n_mistakes, 0);
	entry(0, 2, "hedge/green", "10,7oz", JAN_3 + 27000);
	entry(1, 3, "red", "0lb10.7oz", JAN_3 + 27060 - 3600);
	assert_int_equal(table.entries[1].offset_min, 60);

	/* a name where there is one, else a collar */
	table_of("date\tname\tcollar\tweight in g\n2026-01-03 7:30\t\tgreen\t304\n2026-01-03 7:30\tMoss\tgreen\t305\n");
	entry(0, 2, "green", "304g", JAN_3 + 27000);
	entry(1, 3, "Moss", "305g", JAN_3 + 27000);
}

static void test_wide(void **state)
{
	(void)state;
	table_of("date;time;Moss (g);Fern "
		 "[oz];Gorse;notes\n2026-01-03;7:30;304,5;10,7;0.3kg;x\n\n2026-01-03;19:30;-;;\xe2\x80\x93;\n"
		 "2026-01-04;7:30;;11;\n");
	assert_true(table.layout.wide);
	assert_int_equal(table.n_mistakes, 0);
	assert_int_equal(table.n, 4);
	entry(0, 2, "Moss", "304,5g", JAN_3 + 27000);
	entry(1, 2, "Fern", "10,7oz", JAN_3 + 27000);
	entry(2, 2, "Gorse", "0.3kg", JAN_3 + 27000);
	entry(3, 5, "Fern", "11oz", JAN_3 + 86400 + 27000);
}

static void test_options(void **state)
{
	(void)state;
	options = (struct import_options){
		.litter = "hedge", .unit = "g", .first = IMPORT_FIRST_DAY, .time = { .has_time = true, .hour = 8 }
	};
	table_of("date,Moss,\"Fern (green)\"\n4/1/2026,304,305\n");
	assert_int_equal(table.n_mistakes, 0);
	entry(0, 2, "hedge/Moss", "304g", JAN_3 + 86400 + 28800);
	entry(1, 2, "hedge/Fern (green)", "305g", JAN_3 + 86400 + 28800);
	options = (struct import_options){ 0 };
}

/* All mistakes, not only the first; each where it is. */
static void test_mistakes(void **state)
{
	(void)state;
	table_of("date,time,pup,weight,fed\n"
		 "2026-01-03,7:30,Moss,304,\n"         /* 2: no unit */
		 "2026-01-03,7:30,Moss,305,\n"         /* 3: the same */
		 "03/04/2026,7:30,Moss,304g,\n"        /* 4 */
		 "2026-01-03,25:00,Moss,\"1,304g\",\n" /* 5: two */
		 "2026-01-03,7:30,,304g,during\n"      /* 6: two */
		 "2026-01-03,,Moss,304g,\n"            /* 7 */
		 ",7:30,Moss,,\n"                      /* 8: two */
		 "2026-01-03,7:30,Moss,-3g,,x\n");     /* 9: two */
	assert_int_equal(table.n, 0);
	issue(2, 3, "the unit is missing");
	assert_int_equal(table.issues[0].more, 1);
	issue(4, 0, "--dates");
	issue(5, 0, "no time of the day");
	issue(5, 3, "parting thousands");
	issue(6, 2, "no name");
	issue(6, 4, "during");
	issue(7, 0, "no time of day");
	issue(8, 1, "has no date");
	issue(8, 3, "no weight");
	issue(9, 3, "-3g");
	issue(9, 5, "no name in the first row");
	assert_int_equal(table.n_mistakes, 12);
}

static void test_headers(void **state)
{
	(void)state;
	table_of("pup,weight\nMoss,304g\n");
	issue(1, IMPORT_NO_COLUMN, "date or time");
	table_of("date,weight\n2026-01-03,304g\n");
	issue(1, IMPORT_NO_COLUMN, "whose the weights are");
	table_of("date,time\n2026-01-03,7:30\n");
	issue(1, IMPORT_NO_COLUMN, "none after a pup");
	table_of("date,pup,weight,mass\n");
	issue(1, 3, "already");
	table_of("date,Moss,MOSS (g)\n");
	issue(1, 2, "already");
	table_of("2026-01-03 7:30,Moss,304g\n");
	issue(1, IMPORT_NO_COLUMN, "columns' names");
	table_of("date,pup,weight\n");
	issue(0, IMPORT_NO_COLUMN, "no weighing");
	table_of("date,a2345678901234567890123456789012345678901234567890123456789012345\n");
	issue(1, 1, "64 octets");
	table_of("date,pup,weight\n2026-01-03 7:30,Moss,\"304g\n");
	issue(2, IMPORT_NO_COLUMN, "never closed");
	assert_string_equal(import_layout_unit("Grams"), "g");
	assert_null(import_layout_unit("stone"));
}

/* At the cap of weighings, and one beyond; and no more issues are kept than are told, while all are counted. */
static void test_caps(void **state)
{
	char *text = NULL;
	size_t size = 0;

	(void)state;
	for (int more = 0; more < 2; more++) {
		FILE *to = open_memstream(&text, &size);
		assert_non_null(to);
		(void)fputs("date,Moss (g)\n", to);
		for (int i = 0; i < IMPORT_ROWS + more; i++)
			(void)fprintf(to, "2026-01-03 07:30:%02d,%d\n", i % 60, 300 + i % 100);
		assert_int_equal(fclose(to), 0);
		table_of(text);
		free(text);
		assert_int_equal(table.n, IMPORT_ROWS);
		assert_int_equal(table.n_mistakes, more);
	}
	issue(IMPORT_ROWS + 2, IMPORT_NO_COLUMN, "split the file");

	FILE *to = open_memstream(&text, &size);
	assert_non_null(to);
	(void)fputs("date,Moss (g)\n", to);
	for (int i = 0; i < 3 * IMPORT_ISSUES; i++)
		(void)fprintf(to, "2026-01-03 07:30,%dx\n", i);
	assert_int_equal(fclose(to), 0);
	table_of(text);
	free(text);
	assert_int_equal(table.n_issues, IMPORT_ISSUES);
	assert_int_equal(table.n_mistakes, 3 * IMPORT_ISSUES);
}

static int utc(void **state)
{
	(void)state;
	assert_int_equal(setenv("TZ", "UTC", 1), 0);
	tzset();
	return 0;
}

static int done(void **state)
{
	(void)state;
	import_table_done(&table);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_long),     cmocka_unit_test(test_wide),    cmocka_unit_test(test_options),
		cmocka_unit_test(test_mistakes), cmocka_unit_test(test_headers), cmocka_unit_test(test_caps),
	};

	return cmocka_run_group_tests(tests, utc, done);
}

// SPDX-License-Identifier: MIT
/* Columns: aligned, and what gives way on a narrow terminal, in which order. */
#include "daemon/ctl/table.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <unistd.h>
#include <cmocka.h>

static const struct table_column columns[] = {
	{ .title = "NAME", .gives = true },
	{ .title = "LITTER", .gives = true, .goes = true },
	{ .title = "MASS", .right = true },
	{ .title = "SPARE", .right = true, .spare = true },
	{ .title = "VERDICT" },
};

/* What a terminal of some width is given; litter: of the second row. */
static const char *printed(unsigned width, const char *litter)
{
	static char text[1024];
	const struct ctl ctl = { .width = width, .utf8 = false };
	FILE *file = tmpfile();
	int out = dup(STDOUT_FILENO);
	struct table table;

	assert_non_null(file);
	assert_true(out >= 0);
	table_init(&table, columns, sizeof columns / sizeof *columns);
	table_add(&table, "Honeysuckle");
	table_add(&table, "hedge");
	table_add(&table, "312 g");
	table_add(&table, "+12 %");
	table_add(&table, "gaining");
	table_add(&table, "Ivy");
	table_add(&table, litter);
	table_add(&table, "98 g");
	table_add(&table, "-");
	table_add(&table, "too soon");
	(void)fflush(stdout);
	assert_true(dup2(fileno(file), STDOUT_FILENO) >= 0);
	assert_true(table_print(&table, &ctl));
	(void)fflush(stdout);
	assert_true(dup2(out, STDOUT_FILENO) >= 0);
	(void)close(out);
	table_done(&table);
	rewind(file);
	text[fread(text, 1, sizeof text - 1, file)] = '\0';
	(void)fclose(file);
	return text;
}

#define WHOLE                                                                                                          \
	"NAME         LITTER   MASS  SPARE  VERDICT\n"                                                                 \
	"Honeysuckle  hedge   312 g  +12 %  gaining\n"                                                                 \
	"Ivy          hedge    98 g      -  too soon\n"

static void test_room(void **state)
{
	(void)state;
	assert_string_equal(printed(0, "hedge"), WHOLE); /* no terminal */
	assert_string_equal(printed(43, "hedge"), WHOLE);
}

static void test_narrow(void **state)
{
	(void)state;
	/* all are of one litter: that goes first, and is enough */
	assert_string_equal(printed(42, "hedge"), "NAME          MASS  SPARE  VERDICT\n"
						   "Honeysuckle  312 g  +12 %  gaining\n"
						   "Ivy           98 g      -  too soon\n");
	/* two litters: they are told apart, and what is spare goes */
	assert_string_equal(printed(42, "pond"), "NAME         LITTER   MASS  VERDICT\n"
						  "Honeysuckle  hedge   312 g  gaining\n"
						  "Ivy          pond     98 g  too soon\n");
	/* then texts lose their ends, but neither numbers nor words */
	assert_string_equal(printed(33, "pond"), "NAME      LITTER   MASS  VERDICT\n"
						  "Honeysu~  hedge   312 g  gaining\n"
						  "Ivy       pond     98 g  too soon\n");
	assert_string_equal(printed(3, "hedge"), "NAME     MASS  VERDICT\n"
						  "Honey~  312 g  gaining\n"
						  "Ivy      98 g  too soon\n");
}

static void test_no_row(void **state)
{
	const struct ctl ctl = { .width = 10 };
	struct table table;

	(void)state;
	table_init(&table, columns, sizeof columns / sizeof *columns);
	assert_true(table_print(&table, &ctl)); /* titles alone: no cell is compared */
	table_done(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_room),
		cmocka_unit_test(test_narrow),
		cmocka_unit_test(test_no_row),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

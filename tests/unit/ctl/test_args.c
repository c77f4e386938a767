// SPDX-License-Identifier: MIT
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof *(array))
#define MAX 24

static struct ctl ctl;
static const char *at, *why;
static const char *aliases[ARGS_LIST_MAX];
static size_t n_aliases;
static bool quiet;
static struct args args;

/* Parses the words of a line, split at blanks; from 1 to 2 words are wanted. */
static bool parse(const char *line)
{
	static char text[512];
	static char *words[MAX];
	const struct args_option options[] = {
		{ .name = "--at", .value = &at },
		{ .name = "--why", .value = &why },
		{ .name = "--alias", .list = aliases, .n_list = &n_aliases },
		{ .name = "--quiet", .flag = &quiet },
	};
	int n = 0;
	char *rest = NULL;

	ctl = (struct ctl){ .socket_path = "s", .database_path = "d", .now_ms = INT64_C(1795610730000) };
	at = why = NULL;
	n_aliases = 0;
	quiet = false;
	args = (struct args){ .n = 99 };
	(void)snprintf(text, sizeof text, "%s", line);
	for (char *word = strtok_r(text, " ", &rest); word && n < MAX; word = strtok_r(NULL, " ", &rest))
		words[n++] = word;
	return args_parse(&ctl, n, words, options, N_OF(options), 1, 2, &args);
}

static void test_words(void **state)
{
	(void)state;
	assert_true(parse("Acer"));
	assert_int_equal(args.n, 1);
	assert_true(parse("Acer Bean"));
	assert_string_equal(args.words[1], "Bean");
	assert_true(parse("- x")); /* a dash alone is a word */
	assert_string_equal(args.words[0], "-");
	assert_true(parse("-- --at -x"));
	assert_string_equal(args.words[0], "--at");
	assert_string_equal(args.words[1], "-x");
	assert_false(parse(""));
	assert_int_equal(args.n, 99); /* untouched on failure */
	assert_false(parse("a b c"));
}

static void test_options(void **state)
{
	(void)state;
	assert_true(parse("--at -20min Acer --why=x=y --quiet"));
	assert_string_equal(at, "-20min"); /* a value may begin with a dash */
	assert_string_equal(why, "x=y");
	assert_true(quiet);
	assert_true(parse("Acer --why="));
	assert_string_equal(why, "");
	assert_false(parse("Acer --at"));
	assert_false(parse("Acer --at 1 --at 2"));
	assert_false(parse("Acer --attic 1"));
	assert_false(parse("Acer --quiet=1"));
	assert_false(parse("Acer -q"));
}

static void test_lists(void **state)
{
	char line[512] = "Acer";

	(void)state;
	for (int i = 0; i < 10; i++)
		(void)snprintf(line + strlen(line), sizeof line - strlen(line), " --alias=%d", i);
	assert_true(parse(line));
	assert_int_equal(n_aliases, 10);
	assert_string_equal(aliases[9], "9");
	for (int i = 10; i < ARGS_LIST_MAX; i++)
		(void)snprintf(line + strlen(line), sizeof line - strlen(line), " --alias=%d", i);
	assert_true(parse(line));
	assert_int_equal(n_aliases, ARGS_LIST_MAX);
	(void)snprintf(line + strlen(line), sizeof line - strlen(line), " --alias=more");
	assert_false(parse(line));
}

/* The program's own options may come after the command too. */
static void test_global(void **state)
{
	(void)state;
	assert_true(parse("Acer --json --units oz --socket /a --database=/b --by keeper"));
	assert_true(ctl.json);
	assert_int_equal(ctl.unit, QUANTITY_OUNCES);
	assert_string_equal(ctl.socket_path, "/a");
	assert_string_equal(ctl.database_path, "/b");
	assert_string_equal(ctl.by, "keeper");
	assert_false(parse("Acer --units stone"));
	assert_false(parse("Acer --socket"));
}

static void test_values(void **state)
{
	int64_t ms = 5;
	long n = 5;

	(void)state;
	ctl = (struct ctl){ .now_ms = INT64_C(1795610730000) };
	assert_true(args_mass(&ctl, "304g"));
	assert_true(args_mass(&ctl, NULL));
	assert_false(args_mass(&ctl, "304")); /* which unit? (contract) */
	assert_true(args_time(&ctl, NULL, &ms));
	assert_int_equal(ms, 5);
	assert_false(args_time(&ctl, "soon", &ms));
	assert_true(args_whole("120", 1, 120, &n));
	assert_int_equal(n, 120);
	assert_false(args_whole("121", 1, 120, &n));
	assert_false(args_whole("0", 1, 120, &n));
	assert_false(args_whole("", 1, 120, &n));
	assert_false(args_whole("1x", 1, 120, &n));
	assert_false(args_whole(" 1", 1, 120, &n));
	assert_false(args_whole("+1", 1, 120, &n));
	assert_false(args_whole("99999999999999999999", 1, 120, &n));
}

/* Each row can be found, explains itself, and stands before no other that it hides. */
static void test_table(void **state)
{
	(void)state;
	for (size_t i = 0; i < commands_n; i++) {
		char noun[32], verb[32];
		char *words[] = { noun, verb };
		int used = 0;
		(void)snprintf(noun, sizeof noun, "%s", commands[i].noun);
		(void)snprintf(verb, sizeof verb, "%s", commands[i].verb ? commands[i].verb : "x");
		assert_ptr_equal(commands_find(2, words, &used), &commands[i]);
		assert_int_equal(used, commands[i].verb ? 2 : 1);
		assert_true(strlen(commands[i].help) > 0 && strcspn(commands[i].help, "\n") < 60);
		assert_non_null(commands[i].run);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_words),  cmocka_unit_test(test_options), cmocka_unit_test(test_lists),
		cmocka_unit_test(test_global), cmocka_unit_test(test_values),  cmocka_unit_test(test_table),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

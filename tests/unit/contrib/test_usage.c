// SPDX-License-Identifier: MIT
/* The common part of command lines: POSIX.1-2017, XBD 12.2 (utility syntax), and the long options that getopt_long(3)
 * adds. */
#include "contrib/broker/login.h"
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { OPTION_NUMBER = USAGE_OWN, OPTION_TEXT, OPTION_STOP };

static const struct option known[] = {
	LOGIN_OPTIONS,
	{ "number", required_argument, NULL, OPTION_NUMBER },
	{ "text", required_argument, NULL, OPTION_TEXT },
	{ "stop", no_argument, NULL, OPTION_STOP },
	USAGE_COMMON,
};

struct taken {
	int number, stops;
	const char *text;
	struct login login;
};

static enum usage take(void *user, int option)
{
	struct taken *taken = user;

	switch (option) {
	case OPTION_NUMBER:
		return usage_number("--number", -2, 30, &taken->number);
	case OPTION_TEXT:
		return usage_text("--text", &taken->text);
	case OPTION_STOP:
		taken->stops++;
		return USAGE_DONE;
	default:
		return login_take(&taken->login, option);
	}
}

#define READ(taken, ...) read_words((taken), (char *[]){ "program", __VA_ARGS__, NULL })
static enum usage read_words(struct taken *taken, char **argv)
{
	const struct usage_line line = { "the help\n", known, take, taken };
	int argc = 0;

	while (argv[argc])
		argc++;
	*taken = (struct taken){ 0 };
	optind = 0; /* getopt_long(3): begin anew */
	return usage_read(&line, argc, argv);
}

static void test_values(void **state)
{
	struct taken taken;

	(void)state;
	assert_int_equal(READ(&taken, "--number", "30", "--text=a b"), USAGE_RUN);
	assert_int_equal(taken.number, 30);
	assert_string_equal(taken.text, "a b");
	assert_int_equal(READ(&taken, "--number=-2"), USAGE_RUN);
	assert_int_equal(taken.number, -2);
	/* an option may be cut as long as it is one alone (getopt_long(3)) */
	assert_int_equal(READ(&taken, "--numb", "7"), USAGE_RUN);
	assert_int_equal(taken.number, 7);
}

static void test_wrong_values(void **state)
{
	static char *const wrong[] = { "-3", "31", "", "x", "3x", "0x3", "99999999999999999999" };
	struct taken taken;

	(void)state;
	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
		assert_int_equal(READ(&taken, "--number", wrong[i]), USAGE_WRONG);
		assert_int_equal(taken.number, 0);
	}
	assert_int_equal(READ(&taken, "--text", ""), USAGE_WRONG);
	assert_int_equal(READ(&taken, "--log-level", "loud"), USAGE_WRONG);
	assert_int_equal(READ(&taken, "--log-level", "info"), USAGE_RUN);
}

static void test_wrong_words(void **state)
{
	struct taken taken;

	(void)state;
	assert_int_equal(READ(&taken, "--nothing"), USAGE_WRONG);
	assert_int_equal(READ(&taken, "-x"), USAGE_WRONG);
	assert_int_equal(READ(&taken, "--number"), USAGE_WRONG); /* its value is missing */
	assert_int_equal(READ(&taken, "--stop=1"), USAGE_WRONG); /* it takes none */
	assert_int_equal(taken.stops, 0);
	assert_int_equal(READ(&taken, "--number", "1", "more"), USAGE_WRONG);
	assert_int_equal(READ(&taken, "--", "--stop"), USAGE_WRONG); /* Guideline 10: no option after it */
	assert_int_equal(taken.stops, 0);
}

/* The first that ends the reading ends it: what comes after isn't looked at. */
static void test_ends(void **state)
{
	struct taken taken;

	(void)state;
	assert_int_equal(READ(&taken, "--stop", "--stop", "more"), USAGE_DONE);
	assert_int_equal(taken.stops, 1);
	assert_int_equal(READ(&taken, "--help", "--nothing"), USAGE_DONE);
	assert_int_equal(READ(&taken, "--version"), USAGE_DONE);
	assert_int_equal(usage_status(USAGE_DONE), 0);
	assert_int_equal(usage_status(USAGE_WRONG), 2);
}

static void test_login(void **state)
{
	struct taken taken;

	(void)state;
	assert_int_equal(READ(&taken, "--host", "h", "--port", "65535", "--ca", "c", "--cert", "t", "--key", "k",
			      "--user", "u", "--password-file", "f", "--clear-password"),
			 USAGE_RUN);
	assert_string_equal(taken.login.host, "h");
	assert_int_equal(taken.login.port, 65535);
	assert_string_equal(taken.login.ca, "c");
	assert_string_equal(taken.login.cert, "t");
	assert_string_equal(taken.login.key, "k");
	assert_string_equal(taken.login.user, "u");
	assert_string_equal(taken.login.password_file, "f");
	assert_true(taken.login.clear_password);
	assert_int_equal(READ(&taken, "--port", "0"), USAGE_WRONG); /* RFC 6335: 0 is reserved */
	assert_int_equal(READ(&taken, "--port", "65536"), USAGE_WRONG);
	assert_int_equal(READ(&taken, "--host", ""), USAGE_WRONG);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_values), cmocka_unit_test(test_wrong_values), cmocka_unit_test(test_wrong_words),
		cmocka_unit_test(test_ends),   cmocka_unit_test(test_login),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

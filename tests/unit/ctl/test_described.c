// SPDX-License-Identifier: MIT
/*
 * README.md, "A scale of no standard": the example is taken out of the text, read by the daemon's own parser, and the
 * octets printed beside it are decoded to the masses printed beside them. argv[1] is README.md.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/config.h"
#include "protocols/declared.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char section[16384];
static struct config config;

static void read_section(const char *path)
{
	static char text[131072];
	FILE *file = fopen(path, "re");
	char *begin, *end;

	assert_non_null(file);
	text[fread(text, 1, sizeof text - 1, file)] = '\0';
	(void)fclose(file);
	begin = strstr(text, "\n### A scale of no standard\n");
	assert_non_null(begin);
	end = strstr(begin, "\n## ");
	assert_non_null(end);
	assert_true((size_t)(end - begin) < sizeof section);
	memcpy(section, begin, (size_t)(end - begin));
}

/* The indented lines of the section, without their indent. */
static void write_example(const char *path)
{
	FILE *file = fopen(path, "we");
	unsigned lines = 0;

	assert_non_null(file);
	for (const char *at = section; (at = strstr(at, "\n    ")); at++, lines++)
		assert_true(fprintf(file, "%.*s\n", (int)strcspn(at + 5, "\n"), at + 5) > 0);
	assert_int_equal(fclose(file), 0);
	assert_true(lines > 5);
}

static void test_parsed(void **state)
{
	char path[] = "/tmp/bismar-described-XXXXXX", option[] = "--config", name[] = "bismard";
	char *argv[] = { name, option, path, NULL };
	int fd = mkstemp(path);

	(void)state;
	assert_true(fd >= 0);
	(void)close(fd);
	write_example(path);
	assert_int_equal(config_read(3, argv, &config), CONFIG_OK);
	(void)unlink(path);
	assert_int_equal(config.n_formats, 1);
	assert_string_equal(config.formats[0].name, "bench");
	assert_int_equal(config.formats[0].source, DECLARED_CHARACTERISTIC);
	assert_int_equal(config.formats[0].reports, DECLARED_STREAM);
	assert_ptr_equal(declared_for(config.formats, config.n_formats, DECLARED_CHARACTERISTIC,
				      "3d1c0a52-86fb-4e1e-9c40-7b5a2f6e9d13"),
			 &config.formats[0]);
}

/* Octets as the text prints them, `51 01 ...`, from the nth quoted run on. */
static size_t printed(const char *begin, uint8_t *octets, size_t room)
{
	const char *at = strstr(section, begin);
	unsigned octet;
	size_t n = 0;
	int used;

	assert_non_null(at);
	for (at++; n < room && sscanf(at, "%2x%n", &octet, &used) == 1; at += used)
		octets[n++] = (uint8_t)octet;
	assert_int_equal(*at, '`');
	return n;
}

static void test_decoded(void **state)
{
	const char *at = strstr(section, " comes for ");
	uint8_t octets[32];
	struct payload payload;
	double grams;
	size_t n;

	(void)state;
	assert_non_null(at);
	assert_int_equal(sscanf(at, " comes for %lf g", &grams), 1);
	n = printed("`51 01", octets, sizeof octets);
	assert_int_equal(declared_decode(&config.formats[0], (struct bytes){ octets, n }, &payload), PAYLOAD_OK);
	assert_int_equal(payload.mass_mg, llround(grams * 1000));
	assert_int_equal(payload.step_mg, 100); /* a tenth of a gram */
	assert_int_equal(payload.steady, PAYLOAD_STEADY_YES);
	assert_false(payload.tared);
	n = printed("`51 00", octets, sizeof octets);
	assert_int_equal(declared_decode(&config.formats[0], (struct bytes){ octets, n }, &payload), PAYLOAD_OK);
	assert_int_equal(payload.steady, PAYLOAD_STEADY_NO);
	assert_int_equal(payload.mass_mg, 303300); /* 0x0BD9 = 3033 */
	assert_int_equal(declared_decode(&config.formats[0], (struct bytes){ octets, n - 1 }, &payload),
			 PAYLOAD_TRUNCATED);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(test_parsed), cmocka_unit_test(test_decoded) };

	if (argc != 2)
		return 2;
	read_section(argv[1]);
	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
#pragma once
/*
 * The command line of a service beside bismard: --help, --version and --log-level, and what is told of a line that is
 * wrong. Above: the options of contrib/broker, keypad, merge, page, speak. Below: getopt_long(3), log.
 */
#include <getopt.h>
#include <stdbool.h>

/* DONE: --help or --version was asked for, and told. WRONG: why is on standard error, and how to learn more. */
enum usage { USAGE_RUN, USAGE_DONE, USAGE_WRONG };

enum { USAGE_LEVEL = 1, USAGE_HELP, USAGE_VERSION, USAGE_OWN = 256 };

/* Ends each table of options; its own are numbered from USAGE_OWN on. */
#define USAGE_COMMON                                                                                                   \
	{ "log-level", required_argument, NULL, USAGE_LEVEL }, { "help", no_argument, NULL, USAGE_HELP },              \
		{ "version", no_argument, NULL, USAGE_VERSION },                                                       \
	{                                                                                                              \
		NULL, 0, NULL, 0                                                                                       \
	}
#define USAGE_COMMON_HELP                                                                                              \
	"  --log-level LEVEL     err, warning, info (default) or debug\n"                                              \
	"  --help, --version\n"

struct usage_line {
	const char *help;
	const struct option *options;
	/* Takes one of the program's own, its value in optarg; anything but RUN ends the reading. */
	enum usage (*take)(void *user, int option);
	void *user;
};

enum usage usage_read(const struct usage_line *line, int argc, char **argv);
/* For main(): 0, 2 for what isn't worth another try, 1 when the help can't be written. Not for RUN. */
int usage_status(enum usage usage);

/* Tells what is wrong, a sentence without its end. Always WRONG. */
__attribute__((format(printf, 1, 2))) enum usage usage_wrong(const char *format, ...);
/* optarg as a whole number from least to most, or as a text that isn't empty; name: "--port". */
enum usage usage_number(const char *name, int least, int most, int *ret);
enum usage usage_text(const char *name, const char **ret);

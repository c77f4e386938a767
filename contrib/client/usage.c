// SPDX-License-Identifier: MIT
#include "contrib/client/usage.h"
#include "daemon/log.h"
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

enum usage usage_wrong(const char *format, ...)
{
	va_list args;

	(void)fprintf(stderr, "%s: ", program_invocation_short_name);
	va_start(args, format);
	(void)vfprintf(stderr, format, args);
	va_end(args);
	(void)fprintf(stderr, "; `%s --help` shows how.\n", program_invocation_short_name);
	return USAGE_WRONG;
}

enum usage usage_number(const char *name, int least, int most, int *ret)
{
	char *end;
	long value;

	errno = 0;
	value = strtol(optarg, &end, 10);
	if (errno || end == optarg || *end || value < least || value > most)
		return usage_wrong("%s is %d to %d, not \"%s\"", name, least, most, optarg);
	*ret = (int)value;
	return USAGE_RUN;
}

enum usage usage_text(const char *name, const char **ret)
{
	if (!*optarg)
		return usage_wrong("%s is empty", name);
	*ret = optarg;
	return USAGE_RUN;
}

static enum usage take_level(void)
{
	int level = log_level_parse(optarg);

	if (level < 0)
		return usage_wrong("--log-level is err, warning, info or debug, not \"%s\"", optarg);
	log_set_level(level);
	return USAGE_RUN;
}

static enum usage take(const struct usage_line *line, char **argv, int option)
{
	switch (option) {
	case USAGE_LEVEL:
		return take_level();
	case USAGE_HELP:
		(void)fputs(line->help, stdout); /* usage_status() asks whether it was written */
		return USAGE_DONE;
	case USAGE_VERSION:
		(void)printf("%s %s\n", program_invocation_short_name, BISMAR_VERSION);
		return USAGE_DONE;
	case ':':
		return usage_wrong("%s takes a value", argv[optind - 1]);
	case '?':
		if (optopt > ' ' && optopt < 127) /* a letter; of several in a word, optind stays at it */
			return usage_wrong("option -%c isn't known", optopt);
		return usage_wrong("option %s isn't known, or takes no value", argv[optind - 1]);
	default:
		return line->take(line->user, option);
	}
}

enum usage usage_read(const struct usage_line *line, int argc, char **argv)
{
	enum usage usage = USAGE_RUN;
	int option;

	opterr = 0; /* we tell */
	while (usage == USAGE_RUN && (option = getopt_long(argc, argv, ":", line->options, NULL)) != -1)
		usage = take(line, argv, option);
	if (usage == USAGE_RUN && optind < argc)
		return usage_wrong("\"%s\" is one word too many", argv[optind]);
	return usage;
}

int usage_status(enum usage usage)
{
	if (usage == USAGE_WRONG)
		return 2;
	return fflush(stdout) == 0 ? 0 : 1;
}

// SPDX-License-Identifier: MIT
/*
 * `bismar`: takes the options and the environment, finds the command in the table, runs it.
 */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/units.h"
#include <errno.h>
#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <unistd.h>

static const char *environment(const char *name, const char *otherwise)
{
	const char *value = getenv(name);

	return value && *value ? value : otherwise;
}

/* Defaults, then the configuration, then the environment; the options come later. */
static bool prepare(struct ctl *ctl)
{
	struct winsize size = { 0 };

	*ctl = (struct ctl){
		.socket_path = environment("BISMAR_SOCKET", CTL_SOCKET),
		.database_path = environment("BISMAR_DATABASE", CTL_DATABASE),
		.now_ms = ctl_now_ms(),
	};
	if (!units_for_people(&ctl->unit))
		return false;
	ctl->bold = isatty(STDOUT_FILENO);
	ctl->utf8 = !ctl->bold || strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
	if (ctl->bold && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0)
		ctl->width = size.ws_col;
	return true;
}

static bool said(int argc, char **argv, const char *word, const char *other)
{
	for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
		if (strcmp(argv[i], word) == 0 || strcmp(argv[i], other) == 0)
			return true;
	return false;
}

/* JSON is UTF-8, and so is what the daemon keeps. */
static bool check_words(int argc, char **argv)
{
	for (int i = 1; i < argc; i++)
		if (!text_valid(argv[i])) {
			ctl_error("Word %d isn't UTF-8.", i);
			return false;
		}
	return true;
}

/* What stands before the command. Returns its index in argv, or -1. */
static int take_options(struct ctl *ctl, int argc, char **argv)
{
	int i = 1;

	while (i < argc && argv[i][0] == '-') {
		int words = args_global(ctl, argc, argv, i);
		if (words == 0)
			ctl_error("Option %s isn't known; `bismar help` lists them.", argv[i]);
		if (words <= 0)
			return -1;
		i += words;
	}
	return i;
}

/* --help: of the command that the words name, else of all. */
static enum ctl_status help(struct ctl *ctl, int argc, char **argv)
{
	char *words[2];
	int n = 0, used;

	for (int i = 1; i < argc && n < 2;) {
		int taken = argv[i][0] == '-' ? args_global(ctl, argc, argv, i) : 0;
		if (taken < 0)
			return CTL_USAGE;
		if (taken == 0 && argv[i][0] != '-')
			words[n++] = argv[i];
		i += taken ? taken : 1;
	}
	if (n == 2) {
		if (!commands_find(n, words, &used))
			return CTL_USAGE;
		n = used;
	}
	return commands_help(ctl, n, words);
}

int main(int argc, char **argv)
{
	struct ctl ctl;
	int first, words;

	(void)setlocale(LC_CTYPE, "");  /* numbers and dates stay as they are in every locale */
	(void)signal(SIGPIPE, SIG_IGN); /* a reader that has gone is an error of write(2), not our end */
	if (!prepare(&ctl) || !check_words(argc, argv))
		return CTL_USAGE;
	if (said(argc, argv, "--version", "-V")) {
		(void)puts("bismar " BISMAR_VERSION); /* told by ctl_flush() */
		return ctl_flush();
	}
	if (said(argc, argv, "--help", "-h"))
		return help(&ctl, argc, argv);
	first = take_options(&ctl, argc, argv);
	if (first < 0)
		return CTL_USAGE;
	if (first == argc) {
		ctl_error("Which command? `bismar help` lists them.");
		return CTL_USAGE;
	}
	ctl.command = commands_find(argc - first, argv + first, &words);
	if (!ctl.command)
		return CTL_USAGE;
	return ctl.command->run(&ctl, argc - first - words, argv + first + words);
}

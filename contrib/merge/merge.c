// SPDX-License-Identifier: MIT
/*
 * bismar-merge: several bridges' ledgers into one file that reads as one ledger does.
 *
 *   ledger -(take: attached read-only)-> into (tables by bridge) -> the views of protocols/database.md, and `bridge`
 */
#include "contrib/merge/into.h"
#include "contrib/broker/name.h"
#include "contrib/merge/take.h"
#include "contrib/merge/tell.h"
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* As bismar: 2 isn't worth another try. */
enum { EXIT_DONE = 0, EXIT_OTHER = 1, EXIT_USAGE = 2 };

static const char help[] = "usage: bismar-merge [--quiet] [--forget NAME]... INTO [NAME=FILE]...\n"
			   "Takes the ledgers of several bridges into one file, INTO, which every reader of a ledger "
			   "reads; each view ends in the\n"
			   "column `bridge`. Run it again for what is new since. NAME: what a bridge is called, always "
			   "the same one; FILE: its\n"
			   "bismar.db or a backup of it, which is only read.\n"
			   "  --forget NAME  takes a bridge out again, before others are taken\n"
			   "  --quiet        only what is wrong is told\n"
			   "  --help, --version\n";

static const struct option options[] = {
	{ "forget", required_argument, NULL, 'f' },
	{ "quiet", no_argument, NULL, 'q' },
	{ "help", no_argument, NULL, 'h' },
	{ "version", no_argument, NULL, 'V' },
	{ NULL, 0, NULL, 0 },
};

struct wishes {
	bool quiet;
	const char *into;
	const char **forget;
	size_t n_forget;
	struct take_source *sources;
	size_t n_sources;
};

static bool same_file(const char *a, const char *b)
{
	struct stat one, other;

	return stat(a, &one) == 0 && stat(b, &other) == 0 && one.st_dev == other.st_dev && one.st_ino == other.st_ino;
}

/* NAME=FILE as two; name is cut off in place. */
static bool add_source(struct wishes *wishes, char *word)
{
	struct take_source *next = &wishes->sources[wishes->n_sources];
	const char *why;
	char *file = strchr(word, '=');

	if (!file || !file[1]) {
		tell("\"%s\" isn't NAME=FILE, such as moss=/var/lib/bismar/bismar.db.", word);
		return false;
	}
	*file++ = '\0';
	why = name_bridge_wrong(word);
	if (why) {
		tell("\"%s\" is no name for a bridge: it %s.", word, why);
		return false;
	}
	for (size_t i = 0; i < wishes->n_sources; i++) {
		if (strcmp(wishes->sources[i].name, word) == 0) {
			tell("Two ledgers are called \"%s\": each needs a name of its own.", word);
			return false;
		}
		if (same_file(wishes->sources[i].path, file)) {
			tell("\"%s\" and \"%s\" are the same file, %s: name it once.", wishes->sources[i].name, word,
			     file);
			return false;
		}
	}
	if (same_file(wishes->into, file)) {
		tell("%s is what is merged into: it can't be a ledger of \"%s\" too. Nothing was written.", file, word);
		return false;
	}
	*next = (struct take_source){ .name = word, .path = file };
	wishes->n_sources++;
	return true;
}

/* -1: go on; else the exit status. */
static int take_options(int argc, char **argv, struct wishes *wishes)
{
	int option;

	while ((option = getopt_long(argc, argv, "hV", options, NULL)) != -1) {
		switch (option) {
		case 'h':
			(void)fputs(help, stdout);
			return EXIT_DONE;
		case 'V':
			(void)puts("bismar-merge " BISMAR_VERSION);
			return EXIT_DONE;
		case 'q':
			wishes->quiet = true;
			break;
		case 'f':
			wishes->forget[wishes->n_forget++] = optarg;
			break;
		default:
			tell("`bismar-merge --help` shows how."); /* getopt has said what */
			return EXIT_USAGE;
		}
	}
	if (argc - optind < 2 - (wishes->n_forget > 0)) {
		tell("It takes the file to merge into, and then NAME=FILE for each bridge; `bismar-merge --help` shows "
		     "how.");
		return EXIT_USAGE;
	}
	wishes->into = argv[optind++];
	for (; optind < argc; optind++)
		if (!add_source(wishes, argv[optind]))
			return EXIT_USAGE;
	return -1;
}

static int run(const struct wishes *wishes)
{
	struct into into;
	int status = EXIT_DONE;

	if (into_open(wishes->into, &into) < 0)
		return EXIT_OTHER;
	for (size_t i = 0; i < wishes->n_forget; i++)
		if (into_forget(into.db, wishes->forget[i]) < 0)
			status = EXIT_OTHER;
	/* one that can't be taken keeps none of the others out */
	for (size_t i = 0; i < wishes->n_sources; i++)
		if (take(into.db, &wishes->sources[i], wishes->quiet) < 0)
			status = EXIT_OTHER;
	into_close(&into);
	return status;
}

int main(int argc, char **argv)
{
	struct wishes wishes = { 0 };
	int status = EXIT_OTHER;

	wishes.forget = calloc((size_t)argc + 1, sizeof *wishes.forget);
	wishes.sources = calloc((size_t)argc + 1, sizeof *wishes.sources);
	if (wishes.forget && wishes.sources) {
		status = take_options(argc, argv, &wishes);
		if (status < 0)
			status = run(&wishes);
	}
	free(wishes.forget);
	free(wishes.sources);
	return fflush(stdout) == 0 ? status : EXIT_OTHER;
}

// SPDX-License-Identifier: MIT
/* reading list. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/list.h"

#define LAST "20"

enum ctl_status reading_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "READING", "reading_id", LIST_TAIL },  { "WEIGHED", "at_ms", LIST_TIME },
		{ "NAME", "animal", LIST_TEXT },         { "COLLAR", "collar", LIST_TEXT },
		{ "NET", "net_g", LIST_MASS },           { "UNCERTAINTY", "u_g", LIST_MASS },
		{ "SAID BY", "answered_by", LIST_TEXT },
	};
	const char *litter = NULL, *since = NULL, *last = NULL;
	const struct args_option options[] = {
		{ .name = "--litter", .value = &litter },
		{ .name = "--since", .value = &since },
		{ .name = "--last", .value = &last },
	};
	char since_text[24];
	int64_t since_ms = 0;
	struct args args;
	long n;

	if (!args_parse(ctl, argc, argv, options, 3, 0, 1, &args))
		return CTL_USAGE;
	if (!args_time(ctl, since, &since_ms))
		return CTL_USAGE;
	if (last && !args_whole(last, 1, 1000000, &n))
		return args_wrong(ctl, "--last is a whole number from 1 to 1000000.");
	(void)snprintf(since_text, sizeof since_text, "%lld", (long long)since_ms);

	const char *texts[] = { args.n ? args.words[0] : NULL, litter, since_text, last ? last : since ? "-1" : LAST };
	const struct list list = {
		.sql = "SELECT * FROM reading WHERE (?1 IS NULL OR animal = ?1 COLLATE NOCASE"
		       " OR collar = ?1 COLLATE NOCASE OR animal_id = ?1)"
		       " AND (?2 IS NULL OR litter = ?2 COLLATE NOCASE OR litter_id = ?2)"
		       " AND at_ms >= CAST(?3 AS INTEGER)"
		       " ORDER BY at_ms DESC, reading_id DESC LIMIT CAST(?4 AS INTEGER)",
		.texts = texts,
		.n_texts = 4,
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "No reading.",
	};
	return list_print(ctl, &list);
}

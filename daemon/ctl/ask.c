// SPDX-License-Identifier: MIT
/* ask list. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/list.h"

enum ctl_status ask_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "ASK", "weighing_id", LIST_TAIL }, { "WEIGHED", "at_ms", LIST_TIME },
		{ "NET", "net_g", LIST_MASS },       { "UNCERTAINTY", "u_g", LIST_MASS },
		{ "GROSS", "gross_g", LIST_MASS },   { "CONTAINER", "container", LIST_TEXT },
		{ "SCALE", "scale", LIST_TEXT },     { "STATE", "state", LIST_TEXT },
	};
	const struct list list = {
		.sql = "SELECT * FROM unanswered ORDER BY at_ms, weighing_id",
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "Every weighing is answered.",
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	return list_print(ctl, &list);
}

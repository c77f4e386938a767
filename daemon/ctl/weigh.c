// SPDX-License-Identifier: MIT
/* weigh: a mass typed by hand. */
#include "daemon/ctl/answer.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"

enum ctl_status weigh_run(struct ctl *ctl, int argc, char **argv)
{
	const char *at = NULL;
	const struct args_option options[] = { { .name = "--at", .value = &at } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;
	char mass[64];
	int64_t at_ms;

	if (!args_parse(ctl, argc, argv, options, 1, 2, 3, &args))
		return CTL_USAGE;
	/* "304 g" may come as two words */
	(void)snprintf(mass, sizeof mass, "%s%s", args.words[1], args.n > 2 ? args.words[2] : "");
	if (!args_mass(ctl, mass) || !args_time(ctl, at, &at_ms))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "mass", mass);            /* as typed: its last digit tells how well it was read */
	if (at)
		(void)field_put_time(params, "at", at_ms);
	status = request_call(ctl, "weigh", params, &result);
	return status == CTL_DONE ? answer_print(ctl, result) : status;
}

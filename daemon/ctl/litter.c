// SPDX-License-Identifier: MIT
/* litter add, list, close. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/request.h"

enum ctl_status litter_add(struct ctl *ctl, int argc, char **argv)
{
	const char *dam = NULL, *born = NULL, *adult = NULL;
	const struct args_option options[] = {
		{ .name = "--dam", .value = &dam },
		{ .name = "--born", .value = &born },
		{ .name = "--adult", .value = &adult },
	};
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;
	int64_t born_ms;

	if (!args_parse(ctl, argc, argv, options, 3, 1, 1, &args))
		return CTL_USAGE;
	if (!args_time(ctl, born, &born_ms) || !args_mass(ctl, adult))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "dam", dam);
	if (born)
		(void)field_put_time(params, "born", born_ms);
	(void)field_put(params, "adult", adult);
	status = request_call(ctl, "litter.add", params, &result);
	if (status != CTL_DONE)
		return status;
	if (ctl->json)
		field_print(result);
	else
		(void)printf("The litter %s is on record. Next: bismar animal add NAME --litter \"%s\"\n",
			     args.words[0], args.words[0]);
	json_decref(result);
	return ctl_flush();
}

enum ctl_status litter_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "LITTER", "litter", LIST_TEXT },   { "DAM", "dam", LIST_TEXT },
		{ "BORN", "born_at_ms", LIST_TIME }, { "ANIMALS", "animals", LIST_WHOLE },
		{ "ADULT", "adult_g", LIST_MASS },   { "OPEN", "open", LIST_YES },
	};
	const struct list list = {
		.sql = "SELECT * FROM litter_now ORDER BY litter_id",
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "No litter is on record: `bismar litter add NAME` begins one.",
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	return list_print(ctl, &list);
}

enum ctl_status litter_close(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	status = request_call(ctl, "litter.close", params, &result);
	if (status != CTL_DONE)
		return status;
	if (ctl->json)
		field_print(result);
	else
		(void)printf("The litter %s is closed. Its record stays.\n", args.words[0]);
	json_decref(result);
	return ctl_flush();
}

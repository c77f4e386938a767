// SPDX-License-Identifier: MIT
/* sign, sign list: one sign noted, and those that were. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/care.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"

static void print_noted(const struct ctl *ctl, const json_t *result)
{
	const char *counts = field_text(result, "counts"), *name = field_text(result, "name");

	prose_printf(ctl, 0, "%s: %s %s. %s", name, field_text(result, "sign"), field_text(result, "value"),
		     field_text(result, "tells"));
	if (strcmp(counts, "worst") == 0)
		prose_print(ctl, 0, "By itself this is a reason to call your vet NOW.");
	else if (strcmp(counts, "bad") == 0)
		prose_printf(ctl, 0, "That is a bad sign: `bismar concerns \"%s\"` says what to do.", name);
	care_end(ctl, NULL);
}

enum ctl_status sign_run(struct ctl *ctl, int argc, char **argv)
{
	const char *at = NULL;
	const struct args_option options[] = { { .name = "--at", .value = &at } };
	struct args args;
	json_t *params;
	char value[CARE_SIZE];
	int64_t at_ms;

	if (!args_parse(ctl, argc, argv, options, 1, 3, 4, &args) || !args_time(ctl, at, &at_ms))
		return CTL_USAGE;
	care_join(value, args.words[2], args.n > 3 ? args.words[3] : NULL); /* "35.2 C" */
	params = request_params(ctl);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "sign", args.words[1]);
	(void)field_put(params, "value", value);
	if (at && field_put_time(params, "at", at_ms) < 0) {
		json_decref(params); /* it would be noted for now */
		params = NULL;
	}
	return request_show(ctl, "sign", params, print_noted);
}

enum ctl_status sign_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "NAME", "animal", LIST_TEXT }, { "SEEN", "at_ms", LIST_TIME },       { "SIGN", "sign", LIST_WORD },
		{ "WHAT", "value", LIST_WORD },  { "SAID BY", "noted_by", LIST_TEXT },
	};

	return care_log(ctl, argc, argv, "sign_log", "sign_id", columns, sizeof columns / sizeof *columns,
			"No sign was noted.");
}

// SPDX-License-Identifier: MIT
/* litter add, list, limits, close. */
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
	return request_print(ctl, result, "The litter %s is on record. Next: bismar animal add NAME --litter \"%s\"",
			     args.words[0], args.words[0]);
}

enum ctl_status litter_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "LITTER", "litter", LIST_TEXT },   { "DAM", "dam", LIST_TEXT },
		{ "BORN", "born_at_ms", LIST_TIME }, { "ANIMALS", "animals", LIST_WHOLE },
		{ "ADULT", "adult_g", LIST_HEAVY },   { "OPEN", "open", LIST_YES },
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

/* What a limit is called, and what it is now. */
static void print_limit(const json_t *result, const char *key, const char *option, const char *unit, const char *what)
{
	const json_t *own = json_object_get(result, "own");
	bool is_own = false;
	json_t *word;
	size_t i;

	json_array_foreach(own, i, word)
		is_own = is_own || (json_is_string(word) && strcmp(json_string_value(word), key) == 0);
	(void)printf("  %-12s  %4g %-2s %s (%s)\n", option, json_number_value(json_object_get(result, key)), unit, what,
		     is_own ? "this litter's own" : "published");
}

static void print_limits(const json_t *result)
{
	(void)printf("A concern is told in litter %s:\n", field_text(result, "litter"));
	print_limit(result, "early_loss_pct", "--early-loss", "%", "lost by day 2");
	print_limit(result, "band_low_pct", "--band-low", "%", "gained a day in week 1, or less");
	print_limit(result, "overdue_h", "--overdue", "h", "without a weighing in the first two weeks");
	print_limit(result, "behind_pct", "--behind", "%", "below the litter's mean");
}

enum ctl_status litter_limits(struct ctl *ctl, int argc, char **argv)
{
	const char *given[4] = { NULL };
	static const char *const keys[] = { "early_loss_pct", "band_low_pct", "overdue_h", "behind_pct" };
	const struct args_option options[] = {
		{ .name = "--early-loss", .value = &given[0] },
		{ .name = "--band-low", .value = &given[1] },
		{ .name = "--overdue", .value = &given[2] },
		{ .name = "--behind", .value = &given[3] },
	};
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 4, 1, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "litter", args.words[0]); /* left out for lack of memory, it is refused */
	for (size_t i = 0; i < 4; i++) {
		double value = 0; /* the published one */
		if (!given[i])
			continue;
		if (strcmp(given[i], "published") != 0 && !args_number(given[i], &value)) {
			json_decref(params);
			return args_wrong(ctl, "%s is a number such as 20 or 4.5, or published; not \"%s\".",
					  options[i].name, given[i]);
		}
		(void)json_object_set_new(params, keys[i], json_real(value));
	}
	status = request_call(ctl, "litter.limits", params, &result);
	if (status != CTL_DONE)
		return status;
	if (ctl->json)
		field_print(result);
	else
		print_limits(result);
	json_decref(result);
	return ctl_flush();
}

enum ctl_status litter_close(struct ctl *ctl, int argc, char **argv)
{
	return request_named(ctl, argc, argv, "litter.close", "The litter", "is closed. Its record stays.");
}

// SPDX-License-Identifier: MIT
/* animal add, list, gone. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/request.h"

struct newcomer {
	const char *name, *litter, *collar, *sex, *birth, *at;
	const char *aliases[ARGS_LIST_MAX];
	size_t n_aliases;
	int64_t at_ms;
};

static json_t *newcomer_params(const struct ctl *ctl, const struct newcomer *animal)
{
	json_t *params = request_params(ctl);

	(void)field_put(params, "name", animal->name); /* left out for lack of memory, it is refused */
	(void)field_put(params, "litter", animal->litter);
	(void)field_put(params, "collar", animal->collar);
	(void)field_put(params, "sex", animal->sex);
	(void)field_put(params, "birth", animal->birth);
	if (animal->at)
		(void)field_put_time(params, "at", animal->at_ms);
	if (animal->n_aliases) {
		json_t *list = json_array();
		for (size_t i = 0; i < animal->n_aliases; i++)
			(void)json_array_append_new(list, json_string(animal->aliases[i]));
		(void)json_object_set_new(params, "alias", list);
	}
	return params;
}

static bool check(const struct ctl *ctl, struct newcomer *animal)
{
	if (!animal->litter) {
		(void)args_wrong(ctl, "--litter is missing: which litter is %s of?", animal->name);
		return false;
	}
	if (animal->sex && strcmp(animal->sex, "f") != 0 && strcmp(animal->sex, "m") != 0) {
		(void)args_wrong(ctl, "--sex is f or m, not \"%s\".", animal->sex);
		return false;
	}
	return args_mass(ctl, animal->birth) && args_time(ctl, animal->at, &animal->at_ms);
}

enum ctl_status animal_add(struct ctl *ctl, int argc, char **argv)
{
	struct newcomer animal = { 0 };
	const struct args_option options[] = {
		{ .name = "--litter", .value = &animal.litter },
		{ .name = "--collar", .value = &animal.collar },
		{ .name = "--sex", .value = &animal.sex },
		{ .name = "--birth", .value = &animal.birth },
		{ .name = "--at", .value = &animal.at },
		{ .name = "--alias", .list = animal.aliases, .n_list = &animal.n_aliases },
	};
	enum ctl_status status;
	struct args args;
	json_t *result = NULL;

	if (!args_parse(ctl, argc, argv, options, sizeof options / sizeof *options, 1, 1, &args))
		return CTL_USAGE;
	animal.name = args.words[0];
	if (!check(ctl, &animal))
		return CTL_USAGE;
	status = request_call(ctl, "animal.add", newcomer_params(ctl, &animal), &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "%s is on record in the litter %s.",
			     animal.name, animal.litter);
}

enum ctl_status animal_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "NAME", "animal", LIST_TEXT },       { "COLLAR", "collar", LIST_EXTRA },
		{ "SEX", "sex", LIST_EXTRA },          { "LITTER", "litter", LIST_EXTRA },
		{ "BIRTH", "birth_g", LIST_MASS },     { "NEWEST", "newest_g", LIST_MASS },
		{ "WHEN", "newest_at_ms", LIST_NEAR }, { "A DAY", "gain_g_per_day", LIST_DAILY },
		{ "VERDICT", "verdict", LIST_WORD },
	};
	const char *litter = NULL;
	const struct args_option options[] = { { .name = "--litter", .value = &litter } };
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 0, &args))
		return CTL_USAGE;

	const struct list list = {
		.sql = "SELECT * FROM animal_now WHERE ?1 IS NULL OR litter = ?1 COLLATE NOCASE OR litter_id = ?1"
		       " ORDER BY litter_id, animal_id",
		.texts = &litter,
		.n_texts = 1,
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = litter ? "No animal of that litter is on record."
				  : "No animal is on record: `bismar animal add NAME --litter L` adds one.",
	};
	return list_print(ctl, &list);
}

enum ctl_status animal_alias(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, NULL, 0, 2, 2, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, they are refused */
	(void)field_put(params, "alias", args.words[1]);
	status = request_call(ctl, "animal.alias", params, &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "%s stands for %s too.", args.words[1], field_text(result, "name"));
}

enum ctl_status animal_gone(struct ctl *ctl, int argc, char **argv)
{
	const char *why = NULL;
	const struct args_option options[] = { { .name = "--why", .value = &why } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 1, &args))
		return CTL_USAGE;
	if (!why)
		return args_wrong(ctl, "--why is missing: sold, given away, died, entered by mistake?");
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "why", why);
	status = request_call(ctl, "animal.gone", params, &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "%s is off the list. The record stays.",
			     args.words[0]);
}

// SPDX-License-Identifier: MIT
/* round: one pass over a litter. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/when.h"

static void names(const json_t *list, char *buffer, size_t size)
{
	size_t used = 0, i;
	json_t *name;

	buffer[0] = '\0';
	json_array_foreach(list, i, name) {
		const char *text = json_is_string(name) ? json_string_value(name) : "?";
		int n = snprintf(buffer + used, size - used, "%s%s", i ? ", " : "", text);
		if (n < 0 || (size_t)n >= size - used)
			return; /* cut: there are caps on names and animals, this is for people */
		used += (size_t)n;
	}
}

static void print_left(const struct ctl *ctl, const json_t *round)
{
	const json_t *left = json_object_get(round, "left");
	bool ended = field_true(round, "ended");
	char text[1800];

	names(left, text, sizeof text);
	if (json_array_size(left) == 0)
		(void)puts("  All are weighed.");
	else
		prose_printf(ctl, 2, "%s: %s", ended ? "Not weighed" : "Still to weigh", text);
}

/* Readings that look exchanged, and what corrects them. */
static void print_exchanges(const struct ctl *ctl, const json_t *round)
{
	const json_t *exchanges = json_object_get(round, "exchanges");
	const char *litter = field_text(round, "litter");
	json_t *one, *correction;
	size_t i, j;

	json_array_foreach(exchanges, i, one) {
		prose_printf(ctl, 2, "Exchanged? %s.", field_text(one, "say"));
		json_array_foreach(json_object_get(one, "corrections"), j, correction)
			prose_printf(ctl, 4, "what was said to be %s would be %s", field_text(correction, "was"),
				     field_text(correction, "name"));
	}
	if (json_array_size(exchanges))
		prose_printf(ctl, 2, "If that is so: bismar round exchange \"%s\"%s Weigh those pups again when in doubt.",
			     litter, json_array_size(exchanges) > 1 ? " (the first of them; then look again)." : ".");
}

static void print_round(const struct ctl *ctl, const json_t *round)
{
	const char *fed = field_text(round, "fed");
	char when[WHEN_SIZE] = "?";
	int64_t at_ms;

	if (ctl->json) {
		field_print(round);
		return;
	}
	if (field_time(round, "begun", &at_ms))
		when_show_near(when, at_ms, ctl->now_ms);
	prose_printf(ctl, 0, "The round of %s, begun %s%s%s%s%s.", field_text(round, "litter"), when,
		     *fed ? ", weighed " : "", fed, *fed ? " feeding" : "", field_true(round, "ended") ? ", is over" : "");
	print_left(ctl, round);
	print_exchanges(ctl, round);
}

/* Sends a request with the litter, if one is named. */
static enum ctl_status call(struct ctl *ctl, const char *method, const struct args *args, const char *fed, json_t **ret_result)
{
	json_t *params = request_params(ctl);

	(void)field_put(params, "litter", args->n ? args->words[0] : NULL); /* left out for lack of memory, it may be refused */
	(void)field_put(params, "fed", fed);
	return request_call(ctl, method, params, ret_result);
}

static enum ctl_status one(struct ctl *ctl, const char *method, const struct args *args, const char *fed)
{
	json_t *result = NULL;
	enum ctl_status status = call(ctl, method, args, fed, &result);

	if (status != CTL_DONE)
		return status;
	print_round(ctl, result);
	json_decref(result);
	return ctl_flush();
}

enum ctl_status round_begin(struct ctl *ctl, int argc, char **argv)
{
	const char *fed = NULL;
	const struct args_option options[] = { { .name = "--fed", .value = &fed } };
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 1, &args))
		return CTL_USAGE;
	if (fed && strcmp(fed, "before") != 0 && strcmp(fed, "after") != 0)
		return args_wrong(ctl, "--fed is before (they are weighed before they feed) or after, not \"%s\".", fed);
	return one(ctl, "round.begin", &args, fed);
}

enum ctl_status round_end(struct ctl *ctl, int argc, char **argv)
{
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 1, &args))
		return CTL_USAGE;
	return one(ctl, "round.end", &args, NULL);
}

enum ctl_status round_exchange(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *result = NULL;
	int64_t n = 0;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 1, &args))
		return CTL_USAGE;
	status = call(ctl, "round.exchange", &args, NULL, &result);
	if (status != CTL_DONE)
		return status;
	(void)field_whole(result, "corrected", &n); /* stays 0 */
	if (!ctl->json) {
		prose_printf(ctl, 0, "%d readings of %s have changed hands. What was said first stays in the ledger.", (int)n,
			     field_text(result, "litter"));
		print_exchanges(ctl, result);
	} else {
		field_print(result);
	}
	json_decref(result);
	return ctl_flush();
}

enum ctl_status round_show(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *result = NULL, *round;
	const json_t *rounds;
	size_t i;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 1, &args))
		return CTL_USAGE;
	json_t *params = json_object();
	(void)field_put(params, "litter", args.n ? args.words[0] : NULL); /* left out for lack of memory, all are shown */
	status = request_call(ctl, "round", params, &result);
	if (status != CTL_DONE)
		return status;
	rounds = json_object_get(result, "rounds");
	json_array_foreach(rounds, i, round)
		print_round(ctl, round);
	if (!ctl->json && json_array_size(rounds) == 0)
		(void)printf("No round was begun: `bismar round begin %s` begins one.\n", args.n ? args.words[0] : "L");
	json_decref(result);
	return ctl_flush();
}

// SPDX-License-Identifier: MIT
/* concerns: what to worry about, why, and what to do. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/when.h"

/* Worst first. */
static const char *const levels[] = { "vet", "act", "look" };
#define LEVELS (sizeof levels / sizeof *levels)

static size_t rank(const json_t *one)
{
	size_t at = 0;

	while (at < LEVELS && strcmp(levels[at], field_text(one, "level")) != 0)
		at++;
	return at;
}

static void print_one(const struct ctl *ctl, const json_t *one)
{
	static const char *const words[LEVELS + 1] = { "CALL YOUR VET NOW", "ACT", "LOOK", "" };
	const char *name = field_text(one, "name"), *litter = field_text(one, "litter");
	char head[1024], since[WHEN_SIZE] = "";
	int64_t since_ms;

	if (field_whole(one, "since_ms", &since_ms))
		when_show_near(since, since_ms, ctl->now_ms);
	(void)snprintf(head, sizeof head, "%s: %s%s%s%s%s%s", rank(one) < LEVELS ? words[rank(one)] : field_text(one, "level"),
		       *name ? name : "the litter ", *name ? " (" : "", litter, *name ? ")" : "", *since ? ", told " : "", since);
	(void)fputs(ctl->bold ? "\033[1m" : "", stdout);
	prose_print(ctl, 0, head);
	(void)fputs(ctl->bold ? "\033[0m" : "", stdout);
	prose_print(ctl, 2, field_text(one, "text"));
	prose_printf(ctl, 2, "Do: %s", field_text(one, "advice"));
	prose_printf(ctl, 2, "Rule %s. Source: %s", field_text(one, "rule"), field_text(one, "source"));
}

/* Of each litter they come worst first; of several litters they are put together here. */
static void print_all(const struct ctl *ctl, const json_t *list)
{
	json_t *one;
	size_t i;

	for (size_t level = 0; level <= LEVELS; level++)
		json_array_foreach(list, i, one) {
			if (rank(one) != level)
				continue;
			if (ctl->json)
				field_print(one);
			else
				print_one(ctl, one);
		}
}

enum ctl_status concerns_run(struct ctl *ctl, int argc, char **argv)
{
	const char *as_of = NULL;
	const struct args_option options[] = { { .name = "--as-of", .value = &as_of } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;
	int64_t as_of_ms = 0;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 1, &args) || !args_time(ctl, as_of, &as_of_ms))
		return CTL_USAGE;
	params = json_object();
	(void)field_put(params, "who", args.n ? args.words[0] : NULL);
	if (as_of)
		(void)field_put_time(params, "as_of", as_of_ms); /* left out for lack of memory, params are NULL */
	status = request_call(ctl, "concerns", params, &result);
	if (status != CTL_DONE)
		return status;
	print_all(ctl, json_object_get(result, "concerns"));
	if (!ctl->json && json_array_size(json_object_get(result, "concerns")) == 0)
		(void)puts("No rule has fired. That isn't the same as well: the scale sees mass alone.");
	if (!ctl->json)
		prose_print(ctl, 0, field_text(result, "say"));
	json_decref(result);
	return ctl_flush();
}

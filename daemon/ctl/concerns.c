// SPDX-License-Identifier: MIT
/* concerns: what to worry about, why, and what to do. */
#include "daemon/ctl/concerns.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/level.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/when.h"

static void print_one(const struct ctl *ctl, const json_t *one)
{
	const char *name = field_text(one, "name"), *litter = field_text(one, "litter");
	char head[1024], since[WHEN_SIZE] = "";
	int64_t since_ms;

	if (field_whole(one, "since_ms", &since_ms))
		when_show_near(since, since_ms, ctl->now_ms);
	(void)snprintf(head, sizeof head, "%s: %s%s%s%s%s%s", level_words(field_text(one, "level")),
		       *name ? name : "the litter ", *name ? " (" : "", litter, *name ? ")" : "",
		       *since ? ", since " : "", since);
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

	for (unsigned level = 0; level < LEVEL_RANKS; level++)
		json_array_foreach(list, i, one) {
			if (level_rank(field_text(one, "level")) != level)
				continue;
			if (ctl->json)
				field_print(one);
			else
				print_one(ctl, one);
		}
}

void concerns_print(const struct ctl *ctl, const json_t *result)
{
	const json_t *list = json_object_get(result, "concerns");

	print_all(ctl, list);
	if (ctl->json)
		return;
	if (json_array_size(list) == 0)
		(void)puts("No rule has fired. That isn't the same as well: the scale sees mass alone.");
	prose_print(ctl, 0, field_text(result, "say"));
}

enum ctl_status concerns_run(struct ctl *ctl, int argc, char **argv)
{
	json_t *result = NULL;
	int64_t as_of_ms = 0;
	enum ctl_status status = request_of_whom(ctl, argc, argv, "concerns", &as_of_ms, &result);

	if (status != CTL_DONE)
		return status;
	if (as_of_ms && !ctl->json)
		prose_as_of(ctl, as_of_ms);
	concerns_print(ctl, result);
	json_decref(result);
	return ctl_flush();
}

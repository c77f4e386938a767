// SPDX-License-Identifier: MIT
/* whelping: births in their order, as verbs for scripts; and how they are shown. */
#include "daemon/ctl/whelping.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/when.h"

/* ---- in words ---- */

/* "1 h 25 min". */
static void minutes_text(char *buffer, size_t size, int64_t minutes)
{
	if (minutes < 60)
		(void)snprintf(buffer, size, "%lld min", (long long)minutes);
	else
		(void)snprintf(buffer, size, "%lld h %lld min", (long long)(minutes / 60), (long long)(minutes % 60));
}

static const char *sex_words(const json_t *one)
{
	const char *sex = field_text(one, "sex");

	return strcmp(sex, "f") == 0 ? ", female" : strcmp(sex, "m") == 0 ? ", male" : "";
}

static void print_birth(const struct ctl *ctl, const json_t *one)
{
	char when[WHEN_SIZE] = "?", after[48] = "", mass[SHOW_SIZE] = "no weight", score[32] = "";
	bool stillborn = field_true(one, "stillborn");
	int64_t order = 0, at_ms, minutes, mg, points;

	(void)field_whole(one, "order", &order); /* stays 0 */
	if (field_time(one, "at", &at_ms))
		when_show_near(when, at_ms, ctl->now_ms);
	if (field_whole(one, "minutes_after", &minutes)) {
		char text[32];
		minutes_text(text, sizeof text, minutes);
		(void)snprintf(after, sizeof after, " (+%s)", text);
	}
	if (field_mg(one, "birth_g", &mg))
		(void)show_mass(mass, mg, ctl->unit);
	if (field_whole(one, "score", &points))
		(void)snprintf(score, sizeof score, ", score %lld of 10", (long long)points);
	prose_printf(ctl, 2, "%lld. %s%s: %s%s, %s%s%s", (long long)order, when, after,
		     stillborn ? "stillborn" : field_text(one, "name"), sex_words(one), mass, score,
		     field_true(one, "gone") ? ", no longer on the list" : "");
}

static void print_names(const struct ctl *ctl, const char *what, const json_t *list)
{
	char text[512] = "";
	size_t used = 0, i;
	json_t *name;

	json_array_foreach (list, i, name) {
		int n = snprintf(text + used, sizeof text - used, "%s%s", i ? ", " : "",
				 json_is_string(name) ? json_string_value(name) : "?");
		if (n < 0 || (size_t)n >= sizeof text - used)
			break; /* cut: this is for people */
		used += (size_t)n;
	}
	if (used)
		prose_printf(ctl, 2, "%s: %s", what, text);
}

void whelping_print(const struct ctl *ctl, const json_t *whelping, int64_t now_ms)
{
	const json_t *births = json_object_get(whelping, "births");
	char when[WHEN_SIZE] = "?", text[32];
	int64_t at_ms, minutes;
	json_t *one;
	size_t i;

	if (field_time(whelping, "begun", &at_ms))
		when_show_near(when, at_ms, now_ms);
	prose_printf(ctl, 0, "The whelping of %s, begun %s%s.", field_text(whelping, "litter"), when,
		     field_true(whelping, "ended") ? ", is over" : "");
	json_array_foreach (births, i, one)
		print_birth(ctl, one);
	if (json_array_size(births) == 0)
		(void)puts("  No pup yet.");
	print_names(ctl, "Without weight", json_object_get(whelping, "no_weight"));
	print_names(ctl, "Without score", json_object_get(whelping, "no_score"));
	if (field_whole(whelping, "minutes_since", &minutes)) {
		minutes_text(text, sizeof text, minutes);
		prose_printf(ctl, 2, "Since the last: %s", text);
	}
	prose_print(ctl, 2, field_text(whelping, "say"));
}

void whelping_print_pup(const struct ctl *ctl, const json_t *pup)
{
	char mass[SHOW_SIZE] = "no weight yet", text[32], after[64] = "";
	int64_t mg, minutes;

	if (field_mg(pup, "birth_g", &mg))
		(void)show_mass(mass, mg, ctl->unit);
	if (field_whole(pup, "minutes_after", &minutes)) {
		minutes_text(text, sizeof text, minutes);
		(void)snprintf(after, sizeof after, ", %s after the one before", text);
	}
	prose_printf(ctl, 0, "%s: %s%s.", field_true(pup, "stillborn") ? "Stillborn" : field_text(pup, "name"), mass,
		     after);
	if (field_true(pup, "restless"))
		prose_print(ctl, 0, "It didn't hold still: weigh it again soon.");
}

void whelping_print_score(const struct ctl *ctl, const json_t *score)
{
	int64_t sum = 0, points;
	json_t *one;
	size_t i;

	(void)field_whole(score, "score", &sum); /* stays 0 */
	prose_printf(ctl, 0, "%s: %lld of 10", field_text(score, "name"), (long long)sum);
	json_array_foreach (json_object_get(score, "items"), i, one)
		if (field_whole(one, "points", &points))
			prose_printf(ctl, 2, "%s %lld: %s", field_text(one, "item"), (long long)points,
				     field_text(one, "plain"));
	prose_print(ctl, 0, field_text(score, "say"));
}

/* ---- the verbs ---- */

static void show_now(const struct ctl *ctl, const json_t *whelping)
{
	whelping_print(ctl, whelping, ctl->now_ms);
}

/* A verb that only names the litter; n: how many words it needs at least. */
static enum ctl_status of_litter(struct ctl *ctl, int argc, char **argv, const char *method, size_t n)
{
	json_t *params;
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, n, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "litter", args.n ? args.words[0] : NULL); /* left out, it is refused or the only one */
	return request_show(ctl, method, params, show_now);
}

enum ctl_status whelping_begin(struct ctl *ctl, int argc, char **argv)
{
	return of_litter(ctl, argc, argv, "whelping.begin", 1);
}

enum ctl_status whelping_end(struct ctl *ctl, int argc, char **argv)
{
	return of_litter(ctl, argc, argv, "whelping.end", 0);
}

enum ctl_status whelping_pup(struct ctl *ctl, int argc, char **argv)
{
	const char *name = NULL, *collar = NULL, *sex = NULL, *birth = NULL, *ask = NULL, *at = NULL;
	bool stillborn = false;
	const struct args_option options[] = {
		{ .name = "--name", .value = &name },
		{ .name = "--collar", .value = &collar },
		{ .name = "--sex", .value = &sex },
		{ .name = "--birth", .value = &birth },
		{ .name = "--ask", .value = &ask },
		{ .name = "--at", .value = &at },
		{ .name = "--stillborn", .flag = &stillborn },
	};
	json_t *params;
	struct args args;
	int64_t at_ms = 0;

	if (!args_parse(ctl, argc, argv, options, sizeof options / sizeof *options, 0, 1, &args) ||
	    !args_mass(ctl, birth) || !args_time(ctl, at, &at_ms))
		return CTL_USAGE;
	params = request_params(ctl);
	if (field_put(params, "litter", args.n ? args.words[0] : NULL) < 0 || field_put(params, "name", name) < 0 ||
	    field_put(params, "collar", collar) < 0 || field_put(params, "sex", sex) < 0 ||
	    field_put(params, "birth", birth) < 0 || field_put(params, "ask", ask) < 0 ||
	    (at && field_put_time(params, "at", at_ms) < 0) ||
	    field_put(params, "stillborn", stillborn ? "yes" : NULL) < 0) {
		json_decref(params); /* without them it would be another pup */
		params = NULL;
	}
	return request_show(ctl, "whelping.pup", params, whelping_print_pup);
}

enum ctl_status whelping_score(struct ctl *ctl, int argc, char **argv)
{
	const char *at = NULL;
	const struct args_option options[] = { { .name = "--at", .value = &at } };
	json_t *params;
	struct args args;
	int64_t at_ms = 0;

	if (!args_parse(ctl, argc, argv, options, 1, 2, 2, &args) || !args_time(ctl, at, &at_ms))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "points", args.words[1]);
	if (at && field_put_time(params, "at", at_ms) < 0) {
		json_decref(params);
		params = NULL;
	}
	return request_show(ctl, "whelping.score", params, whelping_print_score);
}

enum ctl_status whelping_show(struct ctl *ctl, int argc, char **argv)
{
	json_t *params = NULL, *result = NULL, *one;
	const json_t *list;
	enum ctl_status status;
	struct args args;
	size_t i;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 1, &args))
		return CTL_USAGE;
	params = json_object();
	(void)field_put(params, "litter",
			args.n ? args.words[0] : NULL); /* left out for lack of memory, all are shown */
	status = request_call(ctl, "whelping", params, &result);
	if (status != CTL_DONE)
		return status;
	list = json_object_get(result, "whelpings");
	json_array_foreach (list, i, one)
		if (ctl->json)
			field_print(one);
		else
			whelping_print(ctl, one, ctl->now_ms);
	if (!ctl->json && json_array_size(list) == 0)
		(void)puts("No whelping was begun: `bismar whelping begin L` begins one.");
	json_decref(result);
	return ctl_flush();
}

enum ctl_status whelping_run(struct ctl *ctl, int argc, char **argv)
{
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	return ctl->json ? whelping_show(ctl, argc, argv) : whelping_talk(ctl, args.words[0]);
}

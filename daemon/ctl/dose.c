// SPDX-License-Identifier: MIT
/* dose plan, give, list. The daemon computes, and refuses; this shows it. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/care.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/watch_digits.h"
#include "daemon/ctl/when.h"

/* The figure for the syringe, to be read from the box; its unit follows in words, where no letter looks like a 1. */
static void print_large(const struct ctl *ctl, const char *ml)
{
	char figure[CARE_SIZE], buffer[1024];
	struct text_line line;
	unsigned width;

	(void)snprintf(figure, sizeof figure, "%.*s", (int)strcspn(ml, " "), ml);
	width = watch_digits_width(figure, WATCH_DIGITS_FULL);
	if (!ctl->bold || width > ctl->width)
		return;
	for (unsigned row = 0; row < watch_digits_rows(WATCH_DIGITS_FULL); row++) {
		text_begin(&line, buffer, sizeof buffer, ctl->width, ctl->utf8);
		watch_digits_put(&line, figure, WATCH_DIGITS_FULL, row);
		(void)puts(buffer); /* failures stay in stdout's error flag, for ctl_flush() */
	}
	(void)putchar('\n');
}

/* "8 h", "25 min": of a time gone by. */
static void age_of(char *buffer, size_t size, int64_t ms)
{
	int64_t minutes = ms > 0 ? ms / 60000 : 0;

	if (minutes < 120)
		(void)snprintf(buffer, size, "%d min", (int)minutes);
	else
		(void)snprintf(buffer, size, "%d h", (int)(minutes / 60));
}

static void print_basis(const struct ctl *ctl, const json_t *result)
{
	const json_t *order = json_object_get(result, "order");
	char mass[SHOW_SIZE] = "?", age[24] = "?", when[CARE_SIZE], given[CARE_SIZE], most[CARE_SIZE],
	     per_kg[CARE_SIZE];
	int64_t mg, at_ms;
	double every_h = 0;

	if (field_mg(result, "mass_g", &mg))
		(void)show_mass(mass, mg, ctl->unit);
	if (field_time(result, "weighed_at", &at_ms))
		age_of(age, sizeof age, ctl->now_ms - at_ms);
	(void)field_number(order, "every_h", &every_h); /* stays 0, which shows */
	prose_printf(ctl, 2,
		     "From: %s, weighed %s (%s ago), and %s for %s ordered by %s (order %s): "
		     "%s for each kg. Rounded down to the syringe's steps.",
		     mass, care_when(when, ctl, result, "weighed_at"), age, field_text(order, "amount"),
		     field_text(order, "what"), field_text(order, "vet"), show_tail(field_text(order, "order")),
		     care_ml(per_kg, result, "ml_per_kg"));
	prose_printf(ctl, 2, "In the last 24 hours it got %s of at most %s.", care_ml(given, result, "given_24h_ml"),
		     care_ml(most, result, "most_24h_ml"));
	prose_printf(ctl, 2, "The next one after this: not before %s (at least %g hours apart). The order ends %s.",
		     care_when(when, ctl, result, "due"), every_h, care_when(given, ctl, order, "until"));
}

static void print_plan(const struct ctl *ctl, const json_t *result, const char *step)
{
	const char *name = field_text(result, "name");
	char ml[CARE_SIZE], range[1024];
	int64_t sites = 0;

	(void)care_ml(ml, result, "give_ml");
	print_large(ctl, ml);
	(void)fputs(ctl->bold ? "\033[1m" : "", stdout);
	prose_printf(ctl, 0, "%s: %s %s", name, ml, field_text(json_object_get(result, "order"), "route"));
	(void)fputs(ctl->bold ? "\033[0m" : "", stdout);
	prose_print(ctl, 2, field_text(result, "hint"));
	if (strcmp(field_text(result, "outcome"), "planned") != 0)
		prose_printf(ctl, 2, "Why: %s.", care_clause(range, sizeof range, result, "range"));
	print_basis(ctl, result);
	if (field_whole(result, "sites", &sites) && sites > 1)
		prose_printf(ctl, 2, "Split it over %d places: no more than 20 mL for each kg goes into one.",
			     (int)sites);
	if (field_true(result, "cool"))
		prose_print(ctl, 2, "It is cool (35.0 to 35.6 C, or to the touch): see that it is warm first.");
	care_cautions(ctl, json_object_get(result, "cautions"));
	/* once more: the cautions have pushed the figure off a small screen */
	prose_printf(ctl, 0, "%s: %s. When it is given: bismar dose give \"%s\" \"%s\" --syringe \"%s\" --order %s",
		     name, ml, name, ml, step, show_tail(field_text(json_object_get(result, "order"), "order")));
	care_end(ctl, NULL);
}

/* To standard error, with what to do instead. */
static enum ctl_status refuse(const struct ctl *ctl, const json_t *result)
{
	const char *outcome = field_text(result, "outcome");
	char due[CARE_SIZE], given[CARE_SIZE], most[CARE_SIZE], range[1024], more[1200] = "";
	int64_t at_ms;

	if (strcmp(outcome, "outside-range") == 0 || strcmp(outcome, "impossible") == 0)
		(void)snprintf(more, sizeof more, "%s Held against: %s.",
			       strcmp(outcome, "outside-range") == 0 ? " (with `bismar dose give --words`)." : "",
			       care_clause(range, sizeof range, result, "range"));
	else if (field_time(result, "due", &at_ms))
		(void)snprintf(more, sizeof more, " Not before %s; it got %s of at most %s in the last 24 hours.",
			       care_when(due, ctl, result, "due"), care_ml(given, result, "given_24h_ml"),
			       care_ml(most, result, "most_24h_ml"));
	return care_refused("No dose for %s (%s). %s%s", field_text(result, "name"), outcome,
			    field_text(result, "hint"), more);
}

/* The syringe's steps are never assumed here: a dose hangs on them. */
static bool syringe(const struct ctl *ctl, const char *step)
{
	if (step)
		return care_volume(ctl, "--syringe", step);
	(void)args_wrong(ctl, "--syringe is missing: its smallest marks, --syringe 0.1mL.");
	return false;
}

enum ctl_status dose_plan_run(struct ctl *ctl, int argc, char **argv)
{
	const char *step = NULL, *order = NULL;
	const struct args_option options[] = { { .name = "--syringe", .value = &step },
					       { .name = "--order", .value = &order } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;
	bool may;

	if (!args_parse(ctl, argc, argv, options, 2, 1, 1, &args) || !syringe(ctl, step))
		return CTL_USAGE;
	params = json_object();
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, they are refused */
	(void)field_put(params, "steps", step);
	if (field_put(params, "order", order) < 0) {
		json_decref(params); /* it might be another order's */
		params = NULL;
	}
	status = request_call(ctl, "dose.plan", params, &result);
	if (status != CTL_DONE)
		return status;
	may = json_is_number(json_object_get(result, "give_ml"));
	if (ctl->json)
		field_print(result);
	else if (may)
		print_plan(ctl, result, step);
	status = may ? ctl_flush() : refuse(ctl, result);
	json_decref(result);
	return status;
}

struct giving {
	const char *step, *order, *at, *words;
	char volume[CARE_SIZE];
	int64_t at_ms;
};

static json_t *params_of(const struct ctl *ctl, const char *who, const struct giving *giving)
{
	json_t *params = request_params(ctl);

	(void)field_put(params, "animal", who); /* left out for lack of memory, they are refused */
	(void)field_put(params, "volume", giving->volume);
	(void)field_put(params, "steps", giving->step);
	if (field_put(params, "order", giving->order) < 0 || field_put(params, "words", giving->words) < 0 ||
	    (giving->at && field_put_time(params, "at", giving->at_ms) < 0)) {
		json_decref(params); /* it would be noted as something else */
		return NULL;
	}
	return params;
}

static void print_given(const struct ctl *ctl, const json_t *result)
{
	char ml[CARE_SIZE], at[CARE_SIZE], due[CARE_SIZE];

	prose_printf(ctl, 0, "Noted: %s got %s at %s (%s). The next one not before %s.", field_text(result, "name"),
		     care_ml(ml, result, "ml"), care_when(at, ctl, result, "at"), field_text(result, "judged"),
		     care_when(due, ctl, result, "due"));
	care_cautions(ctl, json_object_get(result, "cautions"));
	care_end(ctl, NULL);
}

enum ctl_status dose_give_run(struct ctl *ctl, int argc, char **argv)
{
	struct giving giving = { 0 };
	const struct args_option options[] = {
		{ .name = "--syringe", .value = &giving.step },
		{ .name = "--order", .value = &giving.order },
		{ .name = "--at", .value = &giving.at },
		{ .name = "--words", .value = &giving.words },
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 4, 2, 3, &args) || !syringe(ctl, giving.step) ||
	    !args_time(ctl, giving.at, &giving.at_ms))
		return CTL_USAGE;
	care_join(giving.volume, args.words[1], args.n > 2 ? args.words[2] : NULL);
	if (!care_volume(ctl, "VOLUME", giving.volume))
		return CTL_USAGE;
	return request_show(ctl, "dose.give", params_of(ctl, args.words[0], &giving), print_given);
}

enum ctl_status dose_list_run(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "NAME", "animal", LIST_TEXT },       { "GIVEN", "at_ms", LIST_TIME },
		{ "VOLUME", "volume", LIST_WORD },     { "ROUTE", "route", LIST_WORD },
		{ "WHAT", "what", LIST_TEXT },         { "AT", "mass_g", LIST_MASS },
		{ "JUDGED", "judged", LIST_WORD },     { "ORDER", "order_id", LIST_TAIL },
		{ "SAID BY", "noted_by", LIST_EXTRA },
	};

	return care_log(ctl, argc, argv, "dose_log", "dose_id", columns, sizeof columns / sizeof *columns,
			"No dose was noted.");
}

// SPDX-License-Identifier: MIT
/* feed plan, give, nursed, list. The arithmetic is the daemon's. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/care.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/table.h"
#include "daemon/ctl/when.h"
#include "daemon/litter/volume.h"
#include <strings.h>

#define STEP "0.5mL"

/* ---- what is typed ---- */

/* "0.9 kcal/ml" to thousandths of it. A number is read as strictly as a volume is: a lost point is ten times the meal.
 */
static bool label_of(const char *text, double *ret_kcal_per_ml)
{
	static const char unit[] = "kcal/ml";
	size_t n = strlen(text), m = sizeof unit - 1;
	char volume[CARE_SIZE];
	int64_t thousandths;

	if (n <= m || n >= sizeof volume - 3 || strcasecmp(text + n - m, unit) != 0)
		return false;
	(void)snprintf(volume, sizeof volume, "%.*smL", (int)(n - m), text);
	if (volume_parse(volume, &thousandths) != VOLUME_PARSED)
		return false;
	*ret_kcal_per_ml = (double)thousandths / 1000;
	return true;
}

/* "200kcal/kg" a day. */
static bool energy_of(const char *text, long *ret_kcal_per_kg)
{
	size_t n = strspn(text, "0123456789");
	char figure[8];

	if (n == 0 || n >= sizeof figure || strcasecmp(text + n + strspn(text + n, " "), "kcal/kg") != 0)
		return false;
	(void)snprintf(figure, sizeof figure, "%.*s", (int)n, text);
	return args_whole(figure, 1, 10000, ret_kcal_per_kg);
}

struct asked {
	const char *who, *label, *meals, *energy, *step;
	double kcal_per_ml;
	long n_meals, kcal_per_kg;
};

static bool check(const struct ctl *ctl, struct asked *asked)
{
	if (!asked->label)
		(void)args_wrong(ctl, "--label is missing: the energy on the milk replacer's label as it is mixed, "
				      "--label 1kcal/mL. Nothing is assumed.");
	else if (!label_of(asked->label, &asked->kcal_per_ml))
		(void)args_wrong(ctl,
				 "--label: \"%s\": write it as 1kcal/mL or 0.9kcal/mL, of the milk as it is mixed. "
				 "Of a label for 100 mL: a hundredth.",
				 asked->label);
	else if (asked->meals && !args_whole(asked->meals, 1, 24, &asked->n_meals))
		(void)args_wrong(ctl, "--meals is a whole number from 1 to 24.");
	else if (asked->energy && !energy_of(asked->energy, &asked->kcal_per_kg))
		(void)args_wrong(ctl,
				 "--vet-energy: \"%s\": write what your vet said for a day and each kg, as 200kcal/kg.",
				 asked->energy);
	else
		return care_volume(ctl, "--syringe", asked->step);
	return false;
}

static json_t *params_of(const struct asked *asked)
{
	json_t *params = json_object();

	(void)field_put(params, "who", asked->who); /* left out for lack of memory, these three are refused */
	(void)json_object_set_new(params, "label_kcal_per_ml", json_real(asked->kcal_per_ml));
	(void)field_put(params, "steps", asked->step ? asked->step : STEP);
	if ((asked->meals && json_object_set_new(params, "meals", json_integer(asked->n_meals)) < 0) ||
	    (asked->energy && json_object_set_new(params, "vet_kcal_per_kg", json_integer(asked->kcal_per_kg)) < 0)) {
		json_decref(params); /* it would be another plan */
		return NULL;
	}
	return params;
}

/* ---- a plan ---- */

static bool planned(const json_t *one)
{
	return json_is_number(json_object_get(one, "meal_ml"));
}

static void whole_cell(struct table *table, const json_t *one, const char *key)
{
	char text[24] = "-";
	int64_t value;

	if (field_whole(one, key, &value))
		(void)snprintf(text, sizeof text, "%lld", (long long)value);
	table_add(table, text);
}

static void add_row(const struct ctl *ctl, struct table *table, const json_t *one)
{
	char text[CARE_SIZE], mass[SHOW_SIZE] = "-";
	int64_t mg;

	table_add(table, field_text(one, "name"));
	table_add(table, planned(one) ? care_ml(text, one, "meal_ml") : "none");
	whole_cell(table, one, "meals");
	whole_cell(table, one, "kcal_day");
	if (field_mg(one, "mass_g", &mg))
		(void)show_mass(mass, mg, ctl->unit);
	table_add(table, mass);
	table_add(table, care_when(text, ctl, one, "weighed_at"));
	table_add(table, care_ml(text, one, "stomach_ml"));
}

static bool print_table(const struct ctl *ctl, const json_t *plans)
{
	static const struct table_column columns[] = {
		{ .title = "NAME", .gives = true },
		{ .title = "A MEAL", .right = true },
		{ .title = "MEALS A DAY", .right = true },
		{ .title = "KCAL A DAY", .right = true },
		{ .title = "MASS", .right = true },
		{ .title = "WEIGHED" },
		{ .title = "STOMACH", .right = true, .spare = true },
	};
	struct table table;
	json_t *one;
	bool fine;
	size_t i;

	table_init(&table, columns, sizeof columns / sizeof *columns);
	json_array_foreach (plans, i, one)
		add_row(ctl, &table, one);
	fine = table_print(&table, ctl);
	table_done(&table);
	return fine;
}

/* Why there is no meal, once for all that have the same reason. */
static void print_unplanned(const struct ctl *ctl, const json_t *plans)
{
	json_t *one, *other;
	size_t i, k;

	json_array_foreach (plans, i, one) {
		const char *hint = field_text(one, "hint");
		char names[512] = "";
		size_t n = 0;

		if (planned(one))
			continue;
		for (k = 0; k < i && n == 0; k++) { /* told already? */
			other = json_array_get(plans, k);
			n = !planned(other) && strcmp(field_text(other, "hint"), hint) == 0;
		}
		if (n > 0)
			continue;
		for (k = i; k < json_array_size(plans) && n < sizeof names; k++) {
			other = json_array_get(plans, k);
			if (!planned(other) && strcmp(field_text(other, "hint"), hint) == 0)
				n += (size_t)snprintf(names + n, sizeof names - n, "%s%s", n ? ", " : "",
						      field_text(other, "name"));
		}
		prose_printf(ctl, 0, "%s: no meal is planned. %s", names, hint);
	}
}

/* What is to be said of one pup that has a plan. */
static void print_words(const struct ctl *ctl, const json_t *one)
{
	const char *name = field_text(one, "name"), *outcome = field_text(one, "outcome");
	int64_t needed = 0;

	(void)field_whole(one, "meals_needed", &needed);
	if (strcmp(outcome, "planned") != 0)
		prose_printf(ctl, 0, "%s: it takes %d meals a day at least. %s", name, (int)needed,
			     field_text(one, "hint"));
	if (field_true(one, "cool"))
		prose_printf(ctl, 0, "%s is cool (35.0 to 35.6 C, or to the touch): see that it is warm first.", name);
	if (field_true(one, "much"))
		prose_printf(ctl, 0,
			     "%s: more than 300 mL for each kg in a day. Look at the label and how it is mixed, "
			     "and ask your vet.",
			     name);
}

/* Where the energy comes from, once for each age in the table. */
static void print_sources(const struct ctl *ctl, const json_t *plans, const struct asked *asked)
{
	const char *seen = "";
	json_t *one;
	size_t i;

	json_array_foreach (plans, i, one) {
		const json_t *need = json_object_get(one, "need");
		int64_t low = 0, from = 0, to = 0;
		if (!planned(one) || strcmp(field_text(need, "when"), seen) == 0)
			continue;
		seen = field_text(need, "when");
		(void)field_whole(need, "kcal_per_kg", &low);
		(void)field_whole(need, "others_from_kcal_per_kg", &from);
		(void)field_whole(need, "others_to_kcal_per_kg", &to);
		prose_printf(ctl, 0,
			     "Energy, %s: %d kcal a day for each kg (%s). Others say %d to %d (%s). "
			     "The lower is planned with%s.",
			     seen, (int)low, field_text(need, "source"), (int)from, (int)to,
			     field_text(need, "others_source"),
			     asked->energy ? " unless your vet says otherwise" : "; ask your vet");
	}
	if (!*seen)
		return;
	if (asked->energy)
		prose_printf(ctl, 0, "Planned with what your vet said: %ld kcal a day for each kg.",
			     asked->kcal_per_kg);
	prose_printf(ctl, 0,
		     "No meal is more than the stomach holds: 40 mL for each kg (Chastant & Mila 2019, Anim Reprod "
		     "Sci 207:162, fig. 4). The milk has %g kcal/mL, as you typed it from its label. Volumes are "
		     "rounded down to steps of %s%s.",
		     asked->kcal_per_ml, asked->step ? asked->step : STEP,
		     asked->step ? "" : ", since --syringe names no other");
}

static bool any_planned(const json_t *plans)
{
	json_t *one;
	size_t i;

	json_array_foreach (plans, i, one)
		if (planned(one))
			return true;
	return false;
}

static enum ctl_status print_plans(const struct ctl *ctl, const json_t *result, const struct asked *asked)
{
	const json_t *plans = json_object_get(result, "plans");
	json_t *one;
	size_t i;

	if (!print_table(ctl, plans)) {
		ctl_error("Out of memory.");
		return CTL_REFUSED;
	}
	print_unplanned(ctl, plans);
	json_array_foreach (plans, i, one)
		if (planned(one))
			print_words(ctl, one);
	print_sources(ctl, plans, asked);
	care_cautions(ctl, json_object_get(result, "cautions"));
	care_end(ctl, NULL);
	return ctl_flush();
}

/* When not one of them may be fed: only what to do first, and no word about feeding. */
static enum ctl_status refuse(const struct ctl *ctl, const json_t *plans)
{
	const json_t *first = json_array_get(plans, 0);

	if (!first)
		return care_refused("There is no animal to feed.");
	if (json_array_size(plans) == 1)
		return care_refused("No meal is planned for %s. %s", field_text(first, "name"),
				    field_text(first, "hint"));
	if (!ctl->json)
		print_unplanned(ctl, plans);
	(void)ctl_flush(); /* the refusal is told in any case */
	return care_refused("No meal is planned for any of them; what to do first stands above.");
}

enum ctl_status feed_plan(struct ctl *ctl, int argc, char **argv)
{
	struct asked asked = { 0 };
	const struct args_option options[] = {
		{ .name = "--label", .value = &asked.label },
		{ .name = "--meals", .value = &asked.meals },
		{ .name = "--vet-energy", .value = &asked.energy },
		{ .name = "--syringe", .value = &asked.step },
	};
	json_t *result = NULL, *plans, *one;
	enum ctl_status status;
	struct args args;
	size_t i;

	if (!args_parse(ctl, argc, argv, options, sizeof options / sizeof *options, 1, 1, &args))
		return CTL_USAGE;
	asked.who = args.words[0];
	if (!check(ctl, &asked))
		return CTL_USAGE;
	status = request_call(ctl, "feed.plan", params_of(&asked), &result);
	if (status != CTL_DONE)
		return status;
	plans = json_object_get(result, "plans");
	if (ctl->json)
		json_array_foreach (plans, i, one)
			field_print(one);
	if (!any_planned(plans))
		status = refuse(ctl, plans);
	else
		status = ctl->json ? ctl_flush() : print_plans(ctl, result, &asked);
	json_decref(result);
	return status;
}

/* ---- what was fed ---- */

static void print_fed(const struct ctl *ctl, const json_t *result)
{
	char ml[CARE_SIZE], when[CARE_SIZE];

	prose_printf(ctl, 0, "Noted: %s was fed %s at %s.", field_text(result, "name"), care_ml(ml, result, "ml"),
		     care_when(when, ctl, result, "at"));
	care_end(ctl, field_true(result, "chilled") ? field_text(result, "say") : NULL);
}

enum ctl_status feed_give(struct ctl *ctl, int argc, char **argv)
{
	const char *what = NULL, *at = NULL;
	const struct args_option options[] = { { .name = "--what", .value = &what }, { .name = "--at", .value = &at } };
	char volume[CARE_SIZE];
	json_t *params;
	struct args args;
	int64_t at_ms;

	if (!args_parse(ctl, argc, argv, options, 2, 2, 3, &args) || !args_time(ctl, at, &at_ms))
		return CTL_USAGE;
	care_join(volume, args.words[1], args.n > 2 ? args.words[2] : NULL);
	if (!care_volume(ctl, "VOLUME", volume))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "volume", volume);
	if (field_put(params, "what", what) < 0 || (at && field_put_time(params, "at", at_ms) < 0)) {
		json_decref(params); /* it would be noted as something else */
		params = NULL;
	}
	return request_show(ctl, "feed.give", params, print_fed);
}

static void print_nursed(const struct ctl *ctl, const json_t *result)
{
	char gain[SHOW_SIZE] = "?", before[CARE_SIZE], after[CARE_SIZE];
	int64_t taken_mg = 0, u_mg = 0;
	double pct = 0;

	(void)field_mg(result, "u_g", &u_mg);    /* stays 0: not known */
	(void)field_number(result, "pct", &pct); /* likewise */
	if (field_mg(result, "taken_g", &taken_mg))
		(void)show_gain(gain, taken_mg, u_mg, ctl->unit, show_plus_minus(ctl->utf8));
	prose_printf(ctl, 0, "%s, weighed %s and %s: %s (%+.1f %%; the second figure is the standard uncertainty).",
		     field_text(result, "name"), care_when(before, ctl, result, "before"),
		     care_when(after, ctl, result, "after"), gain, pct);
	care_end(ctl, field_text(result, "say"));
}

enum ctl_status feed_nursed(struct ctl *ctl, int argc, char **argv)
{
	json_t *params;
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	return request_show(ctl, "feed.nursed", params, print_nursed);
}

enum ctl_status feed_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "NAME", "animal", LIST_TEXT },    { "FED", "at_ms", LIST_TIME },
		{ "HOW", "how", LIST_WORD },        { "VOLUME", "volume", LIST_WORD },
		{ "TAKEN", "taken_g", LIST_DAILY }, { "UNCERTAINTY", "u_g", LIST_MASS },
		{ "WHAT", "what", LIST_TEXT },      { "SAID BY", "noted_by", LIST_EXTRA },
	};

	return care_log(ctl, argc, argv, "feed_log", "feed_id", columns, sizeof columns / sizeof *columns,
			"No feed was noted.");
}

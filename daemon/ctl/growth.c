// SPDX-License-Identifier: MIT
/* growth: is she gaining? */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/table.h"
#include "daemon/ctl/when.h"

/* A member that is a number. */
static bool number(const json_t *object, const char *key, double *ret)
{
	const json_t *value = json_object_get(object, key);

	if (!json_is_number(value))
		return false;
	*ret = json_number_value(value);
	return true;
}

static const char *plus_minus(const struct ctl *ctl)
{
	return ctl->utf8 ? "\xc2\xb1" : "+-"; /* U+00B1 */
}

/* "312 g", or "-". */
static void mass_cell(const struct ctl *ctl, struct table *table, const json_t *one)
{
	char mass[SHOW_SIZE] = "-";
	int64_t mg;

	if (field_mg(one, "mass_g", &mg))
		(void)show_about(mass, mg, ctl->unit);
	table_add(table, mass);
}

/* Grams to a tenth: no gain is known better. */
static int64_t tenths(int64_t mg)
{
	return (mg + (mg < 0 ? -50 : 50)) / 100 * 100;
}

/* "+21.4 g +- 2.1 g": the second is its standard uncertainty. */
static void gain_cells(const struct ctl *ctl, struct table *table, const json_t *one)
{
	char gain[SHOW_SIZE], u[SHOW_SIZE], text[2 * SHOW_SIZE + 8] = "-", share[48] = "-";
	int64_t gain_mg, u_mg;
	double pct, u_pct;

	if (field_mg(one, "gain_g_per_day", &gain_mg) && field_mg(one, "u_gain_g_per_day", &u_mg))
		(void)snprintf(text, sizeof text, "%s%s %s %s", gain_mg > 0 ? "+" : "",
			       show_mass(gain, tenths(gain_mg), ctl->unit), plus_minus(ctl),
			       show_mass(u, tenths(u_mg), ctl->unit));
	table_add(table, text);
	if (number(one, "gain_pct_per_day", &pct) && number(one, "u_gain_pct_per_day", &u_pct))
		(void)snprintf(share, sizeof share, "%+.1f %s %.1f %%", pct, plus_minus(ctl), u_pct);
	else if (number(one, "gain_pct_per_day", &pct))
		(void)snprintf(share, sizeof share, "%+.1f %%", pct);
	table_add(table, share);
}

/* When the next weighing will tell: "now", "18:30", "any time". */
static void tell_cell(const struct ctl *ctl, struct table *table, const json_t *one, int64_t as_of_ms)
{
	char when[WHEN_SIZE] = "any time";
	int64_t at_ms;

	if (json_is_null(json_object_get(one, "mass_g")) || !json_object_get(one, "mass_g"))
		(void)snprintf(when, sizeof when, "now");
	else if (field_time(one, "tell_at", &at_ms))
		when_show_near(when, at_ms, ctl->now_ms);
	if (field_time(one, "tell_at", &at_ms) && at_ms <= as_of_ms)
		(void)snprintf(when, sizeof when, "now");
	table_add(table, when);
}

static void add_row(const struct ctl *ctl, struct table *table, const json_t *one, int64_t as_of_ms)
{
	char since[32] = "-";
	double pct;

	table_add(table, field_text(one, "name"));
	table_add(table, field_text(one, "litter"));
	mass_cell(ctl, table, one);
	gain_cells(ctl, table, one);
	if (number(one, "since_birth_pct", &pct))
		(void)snprintf(since, sizeof since, "%+.0f %%", pct);
	table_add(table, since);
	table_add(table, field_text(one, "verdict"));
	tell_cell(ctl, table, one, as_of_ms);
}

/* A sentence for one that isn't gaining, or whose newest reading was put aside. True when it is the former. */
static bool sentence(const struct ctl *ctl, const json_t *one)
{
	const char *name = field_text(one, "name"), *verdict = field_text(one, "verdict");
	bool losing = strcmp(verdict, "losing") == 0, not_gaining = losing || strcmp(verdict, "flat") == 0;
	char when[WHEN_SIZE] = "", sure[32] = "";
	int64_t at_ms;
	double p;

	if (field_true(one, "wild"))
		prose_printf(ctl, 0,
			     "%s: the newest reading is far from what was expected, and isn't counted until another agrees. Was it "
			     "%s? `bismar reading list \"%s\"` shows it; `bismar correct READING WHO` says who it was. Weigh again.",
			     name, name, name);
	if (!not_gaining)
		return false;
	if (field_time(one, "since", &at_ms))
		when_show_near(when, at_ms, ctl->now_ms);
	if (number(one, "p_stopped", &p))
		(void)snprintf(sure, sizeof sure, " (%.0f %% sure)", p > 0.99 ? 99 : p * 100);
	prose_printf(ctl, 0, "%s %s%s%s%s.", name, losing ? "is losing weight" : "isn't gaining",
		     *when ? ", likeliest since " : "", when, sure);
	return true;
}

static bool print_people(const struct ctl *ctl, const json_t *list, int64_t as_of_ms)
{
	static const struct table_column columns[] = {
		{ "NAME", false, true },	{ "LITTER", false, true },     { "MASS", true, false },
		{ "A DAY", true, false },	{ "A DAY, %", true, false },   { "SINCE BIRTH", true, false },
		{ "VERDICT", false, false },	{ "WEIGH TO TELL", false, false },
	};
	struct table table;
	bool fine, worry = false;
	json_t *one;
	size_t i;

	table_init(&table, columns, sizeof columns / sizeof *columns);
	json_array_foreach(list, i, one)
		add_row(ctl, &table, one, as_of_ms);
	fine = table_print(&table, ctl);
	table_done(&table);
	json_array_foreach(list, i, one)
		worry = sentence(ctl, one) || worry;
	if (worry)
		prose_print(ctl, 0,
			    "`bismar concerns` says what to do. A pup that is limp, cold or won't suck: stop reading, call the vet now.");
	return fine;
}

enum ctl_status growth_run(struct ctl *ctl, int argc, char **argv)
{
	const char *as_of = NULL;
	const struct args_option options[] = { { .name = "--as-of", .value = &as_of } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL, *list, *one;
	int64_t as_of_ms = 0;
	bool fine = true;
	size_t i;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 1, &args) || !args_time(ctl, as_of, &as_of_ms))
		return CTL_USAGE;
	params = json_object();
	(void)field_put(params, "who", args.n ? args.words[0] : NULL);
	if (as_of)
		(void)field_put_time(params, "as_of", as_of_ms); /* left out for lack of memory, params are NULL */
	status = request_call(ctl, "growth", params, &result);
	if (status != CTL_DONE)
		return status;
	list = json_object_get(result, "growth");
	if (ctl->json)
		json_array_foreach(list, i, one)
			field_print(one);
	else if (json_array_size(list) == 0)
		(void)puts("No animal is on record: `bismar animal add NAME --litter L` adds one.");
	else
		fine = print_people(ctl, list, as_of ? as_of_ms : ctl->now_ms);
	json_decref(result);
	if (!fine)
		ctl_error("Out of memory.");
	return fine ? ctl_flush() : CTL_REFUSED;
}

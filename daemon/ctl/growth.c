// SPDX-License-Identifier: MIT
/* growth: is she gaining? */
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/table.h"
#include "daemon/ctl/when.h"
#include <math.h>

/* "312 g", or "-". */
static void mass_cell(const struct ctl *ctl, struct table *table, const json_t *one)
{
	char mass[SHOW_SIZE] = "-";
	int64_t mg;

	if (field_mg(one, "mass_g", &mg))
		(void)show_about(mass, mg, ctl->unit);
	table_add(table, mass);
}

/* "+21 +- 4 g" and "+6.1 +- 1.3 %": the second of each is its standard uncertainty. */
static void gain_cells(const struct ctl *ctl, struct table *table, const json_t *one)
{
	const char *plus_minus = show_plus_minus(ctl->utf8);
	char gain[SHOW_SIZE] = "-", share[48] = "-";
	int64_t gain_mg, u_mg;
	double pct, u_pct;

	if (field_mg(one, "gain_g_per_day", &gain_mg) && field_mg(one, "u_gain_g_per_day", &u_mg))
		(void)show_gain(gain, gain_mg, u_mg, ctl->unit, plus_minus);
	table_add(table, gain);
	if (field_number(one, "gain_pct_per_day", &pct) && field_number(one, "u_gain_pct_per_day", &u_pct))
		(void)snprintf(share, sizeof share, "%+.1f %s %.1f %%", fabs(pct) < 0.05 ? 0 : pct, plus_minus, u_pct);
	table_add(table, share);
}

static bool not_gaining(const json_t *one)
{
	const char *verdict = field_text(one, "verdict");

	return strcmp(verdict, "losing") == 0 || strcmp(verdict, "flat") == 0;
}

/* When the next weighing will tell: "now", "18:30", "any time". Not of one that is told already, lest they wait. */
static void tell_cell(const struct ctl *ctl, struct table *table, const json_t *one, int64_t as_of_ms)
{
	bool known = json_is_number(json_object_get(one, "mass_g"));
	char when[WHEN_SIZE] = "any time";
	int64_t at_ms;

	if (not_gaining(one) || (!known && as_of_ms))
		(void)snprintf(when, sizeof when, "-");
	else if (!known)
		(void)snprintf(when, sizeof when, "now");
	else if (field_time(one, "tell_at", &at_ms) && !as_of_ms && at_ms <= ctl->now_ms)
		(void)snprintf(when, sizeof when, "now");
	else if (field_time(one, "tell_at", &at_ms))
		when_show_near(when, at_ms, ctl->now_ms);
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
	if (field_number(one, "since_birth_pct", &pct))
		(void)snprintf(since, sizeof since, "%+.0f %%", pct);
	table_add(table, since);
	table_add(table, field_text(one, "verdict"));
	tell_cell(ctl, table, one, as_of_ms);
}

/* Sentences for one that isn't gaining, or whose newest reading was put aside. */
static void print_words(const struct ctl *ctl, const json_t *one)
{
	const char *name = field_text(one, "name");
	char when[WHEN_SIZE] = "", sure[32] = "";
	int64_t at_ms;
	double p;

	if (field_true(one, "wild"))
		prose_printf(ctl, 0,
			     "%s: the newest reading is far from what was expected, and isn't counted until another "
			     "agrees. Was it %s? `bismar reading list \"%s\"` shows it; `bismar correct READING WHO` says "
			     "who it was. Weigh again.",
			     name, name, name);
	if (!not_gaining(one))
		return;
	if (field_time(one, "since", &at_ms))
		when_show_near(when, at_ms, ctl->now_ms);
	if (field_number(one, "p_stopped", &p))
		(void)snprintf(sure, sizeof sure, " (%.0f %% sure)", p > 0.99 ? 99 : p * 100);
	prose_printf(ctl, 0, "%s %s%s%s%s.", name,
		     strcmp(field_text(one, "verdict"), "losing") == 0 ? "is losing weight" : "isn't gaining", sure,
		     *when ? ", likeliest since " : "", when);
}

static bool print_people(const struct ctl *ctl, const json_t *list, int64_t as_of_ms)
{
	static const struct table_column columns[] = {
		{ .title = "NAME", .gives = true },
		{ .title = "LITTER", .gives = true, .goes = true },
		{ .title = "MASS", .right = true },
		{ .title = "A DAY", .right = true },
		{ .title = "A DAY, %", .right = true },
		{ .title = "SINCE BIRTH", .right = true, .spare = true },
		{ .title = "VERDICT" },
		{ .title = "WEIGH TO TELL" },
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
	if (!fine)
		return false;
	json_array_foreach(list, i, one) {
		print_words(ctl, one);
		worry = worry || not_gaining(one);
	}
	if (worry && !as_of_ms)
		prose_print(ctl, 0, "Don't wait for the next weighing: `bismar concerns` says what to do. " SHOW_VET);
	return true;
}

enum ctl_status growth_run(struct ctl *ctl, int argc, char **argv)
{
	json_t *result = NULL, *list, *one;
	int64_t as_of_ms = 0;
	enum ctl_status status = request_of_whom(ctl, argc, argv, "growth", &as_of_ms, &result);
	bool fine = true;
	size_t i;

	if (status != CTL_DONE)
		return status;
	if (as_of_ms && !ctl->json)
		prose_as_of(ctl, as_of_ms);
	list = json_object_get(result, "growth");
	if (ctl->json)
		json_array_foreach(list, i, one)
			field_print(one);
	else if (json_array_size(list) == 0)
		(void)puts("No animal is on record: `bismar animal add NAME --litter L` adds one.");
	else
		fine = print_people(ctl, list, as_of_ms);
	json_decref(result);
	if (!fine)
		ctl_error("Out of memory.");
	return fine ? ctl_flush() : CTL_REFUSED;
}

// SPDX-License-Identifier: MIT
/* order add, list, end: a vet's orders, as they were said. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/care.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/litter/volume.h"

struct asked {
	const char *who, *what, *route, *amount, *most, *every, *vet, *until, *from;
	bool medicine;
	double every_h;
	int64_t until_ms, from_ms;
};

static bool rate(const struct ctl *ctl, const char *option, const char *text)
{
	struct volume_rate parsed;
	enum volume_parsed outcome = volume_parse_rate(text, &parsed);

	if (outcome == VOLUME_PARSED)
		return true;
	(void)args_wrong(ctl, "%s: \"%s\" can't be taken. %s", option, text, volume_hint(outcome));
	return false;
}

static bool complete(const struct ctl *ctl, const struct asked *asked)
{
	const struct {
		const char *value, *option, *what;
	} needed[] = {
		{ asked->route, "--route", "skin (under the skin) or mouth" },
		{ asked->amount, "--amount", "one dose as your vet said it: 10mL/kg, 1mL/100g, 4mL" },
		{ asked->most, "--most", "the most in 24 hours, said like the amount" },
		{ asked->every, "--every", "hours between doses at least" },
		{ asked->vet, "--vet", "who ordered it" },
		{ asked->until, "--until", "when the order ends: +2d, \"2026-11-28 18:00\"" },
	};

	for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
		if (!needed[i].value) {
			(void)args_wrong(ctl, "%s is missing: %s. Ask your vet; nothing is assumed.", needed[i].option,
					 needed[i].what);
			return false;
		}
	return true;
}

static bool check(const struct ctl *ctl, struct asked *asked)
{
	if (!complete(ctl, asked))
		return false;
	if (strcmp(asked->route, "skin") != 0 && strcmp(asked->route, "mouth") != 0) {
		(void)args_wrong(ctl, "--route is skin (under the skin) or mouth, not \"%s\".", asked->route);
		return false;
	}
	if (!args_number(asked->every, &asked->every_h)) {
		(void)args_wrong(ctl, "--every is hours, such as 8; not \"%s\".", asked->every);
		return false;
	}
	return rate(ctl, "--amount", asked->amount) && rate(ctl, "--most", asked->most) &&
	       args_time_ahead(ctl, asked->until, &asked->until_ms) &&
	       args_time_ahead(ctl, asked->from, &asked->from_ms);
}

static json_t *params_of(const struct ctl *ctl, const struct asked *asked)
{
	json_t *params = request_params(ctl);

	(void)field_put(params, "who", asked->who); /* left out for lack of memory, all but the last two are refused */
	(void)field_put(params, "what", asked->what);
	(void)field_put(params, "route", strcmp(asked->route, "skin") == 0 ? "under the skin" : "by mouth");
	(void)field_put(params, "amount", asked->amount);
	(void)field_put(params, "most_24h", asked->most);
	(void)json_object_set_new(params, "every_h", json_real(asked->every_h));
	(void)field_put(params, "vet", asked->vet);
	(void)field_put_time(params, "until", asked->until_ms);
	if ((asked->from && field_put_time(params, "from", asked->from_ms) < 0) ||
	    field_put(params, "kind", asked->medicine ? "medicine" : NULL) < 0) {
		json_decref(params); /* it would be another order */
		return NULL;
	}
	return params;
}

static void read_back(const struct ctl *ctl, const json_t *order)
{
	const char *name = field_text(order, "name"), *litter = field_text(order, "litter");
	char from[CARE_SIZE], until[CARE_SIZE], ml[CARE_SIZE], range[1024];
	double every_h = 0;

	(void)field_number(order, "every_h", &every_h); /* stays 0, which shows */
	prose_printf(ctl, 0,
		     "Read this back to your vet: %s ordered %s (%s) for %s%s%s%s: %s %s, at least %g hours "
		     "apart, no more than %s in 24 hours, from %s until %s.",
		     field_text(order, "vet"), field_text(order, "what"), field_text(order, "kind"),
		     *name ? name : "each of litter ", *name ? " (" : "", litter, *name ? ")" : "",
		     field_text(order, "amount"), field_text(order, "route"), every_h, field_text(order, "most_24h"),
		     care_when(from, ctl, order, "from"), care_when(until, ctl, order, "until"));
	if (json_is_number(json_object_get(order, "at_newest_ml")))
		prose_printf(ctl, 0, "At its newest weight a dose comes to %s.", care_ml(ml, order, "at_newest_ml"));
	if (field_true(order, "unusual"))
		prose_printf(ctl, 0, "THIS IS UNUSUAL: %s. %s", care_clause(range, sizeof range, order, "range"),
			     field_text(order, "hint"));
	else if (*field_text(order, "range"))
		prose_printf(ctl, 0, "Held against: %s.", care_clause(range, sizeof range, order, "range"));
	else
		prose_print(ctl, 0,
			    "Nothing was held against a range yet: that needs a weight, and `bismar dose plan` does it "
			    "each time.");
	prose_printf(ctl, 0,
		     "It is kept as order %s. If it isn't what your vet said: bismar order end %s --why mistake",
		     show_tail(field_text(order, "order")), show_tail(field_text(order, "order")));
	care_end(ctl, NULL);
}

enum ctl_status order_add(struct ctl *ctl, int argc, char **argv)
{
	struct asked asked = { 0 };
	const struct args_option options[] = {
		{ .name = "--route", .value = &asked.route }, { .name = "--amount", .value = &asked.amount },
		{ .name = "--most", .value = &asked.most },   { .name = "--every", .value = &asked.every },
		{ .name = "--vet", .value = &asked.vet },     { .name = "--until", .value = &asked.until },
		{ .name = "--from", .value = &asked.from },   { .name = "--medicine", .flag = &asked.medicine },
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, options, sizeof options / sizeof *options, 2, 2, &args))
		return CTL_USAGE;
	asked.who = args.words[0];
	asked.what = args.words[1];
	if (!check(ctl, &asked))
		return CTL_USAGE;
	return request_show(ctl, "order.add", params_of(ctl, &asked), read_back);
}

enum ctl_status order_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "ORDER", "order_id", LIST_TAIL },    { "FOR", "whom", LIST_TEXT },
		{ "WHAT", "what", LIST_TEXT },         { "A DOSE", "dose", LIST_WORD },
		{ "ROUTE", "route", LIST_WORD },       { "EVERY", "every", LIST_WORD },
		{ "MOST IN 24 H", "most", LIST_WORD }, { "UNTIL", "until_ms", LIST_TIME },
		{ "ENDED", "ended_at_ms", LIST_NEAR }, { "VET", "vet", LIST_TEXT },
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;

	/* for people an amount stands beside what it is for, as one word that is never cut */
	const struct list list = {
		.sql = ctl->json ? "SELECT * FROM order_log ORDER BY at_ms DESC, order_id DESC"
				 : "SELECT *, coalesce(animal, 'all of ' || litter) AS whom, format('%g h', every_h) "
				   "AS every,"
				   " format('%g mL', amount_ml) || iif(per = 'animal', '', '/' || per) AS dose,"
				   " format('%g mL', most_24h_ml) || iif(per = 'animal', '', '/' || per) AS most"
				   " FROM order_log ORDER BY at_ms DESC, order_id DESC",
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "No order of a vet is on record: `bismar order add` keeps what your vet ordered.",
	};
	return care_listed(ctl, list_print(ctl, &list));
}

enum ctl_status order_end(struct ctl *ctl, int argc, char **argv)
{
	const char *why = NULL;
	const struct args_option options[] = { { .name = "--why", .value = &why } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 1, &args))
		return CTL_USAGE;
	if (!why)
		return args_wrong(ctl, "--why is missing: your vet ended it, it has got better, a mistake?");
	params = request_params(ctl);
	(void)field_put(params, "order", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "why", why);
	status = request_call(ctl, "order.end", params, &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "The order %s is ended: nothing more is given of it. " SHOW_VET,
			     show_tail(field_text(result, "order")));
}

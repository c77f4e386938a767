// SPDX-License-Identifier: MIT
/* Requests about doses: what an order comes to at a fresh weight, and what was given. */
#include "daemon/desk/bedside.h"
#include "daemon/desk/orders.h"
#include <errno.h>

#define GIVEN_MAX 256 /* doses of one animal that are looked at: half-hourly ones for five days */

static const char *const outcome_words[] = {
	[DOSE_PLANNED] = "planned",
	[DOSE_SECOND_LOOK] = "second-look",
	[DOSE_NOT_BEGUN] = "not-begun",
	[DOSE_ENDED] = "ended",
	[DOSE_STALE] = "weigh-first",
	[DOSE_DOUBTFUL] = "weigh-again",
	[DOSE_WARMTH_UNKNOWN] = "warmth-unknown",
	[DOSE_CHILLED] = "chilled",
	[DOSE_CLOCK] = "clock",
	[DOSE_NOT_DUE] = "not-due",
	[DOSE_MOST] = "most-in-24h",
	[DOSE_OUTSIDE] = "outside-range",
	[DOSE_IMPOSSIBLE] = "impossible",
	[DOSE_TOO_FINE] = "too-fine",
};

/* ---- what was given before ---- */

struct before {
	const struct kept_order *kept;
	int64_t day_ms; /* from here on counts as the last 24 hours */
	struct dose_given given[GIVEN_MAX];
	size_t n;
	int64_t other_ul;
};

static int dose_row(void *userdata, const struct store_dose *row)
{
	struct before *before = userdata;
	const struct order *order = &before->kept->order;
	bool fluid = strcmp(row->kind, "fluid") == 0, skin = strcmp(row->route, "under the skin") == 0;
	bool same = fluid == (order->kind == ORDER_FLUID) && skin == (order->route == ORDER_UNDER_SKIN) &&
		    (fluid || strcmp(row->what, order->what) == 0);

	if (!same) {
		if (fluid && row->given_ms >= before->day_ms)
			before->other_ul += row->ul;
		return 0;
	}
	if (before->n == GIVEN_MAX) {
		memmove(before->given, before->given + 1, (GIVEN_MAX - 1) * sizeof *before->given);
		before->n--;
	}
	before->given[before->n++] = (struct dose_given){ .at_ms = row->given_ms, .ul = row->ul };
	return 0;
}

static int feed_row(void *userdata, const struct store_feed *row)
{
	struct before *before = userdata;

	before->other_ul += row->ul; /* what it nursed isn't known as a volume */
	return 0;
}

static int look_back(struct desk *desk, const struct roster_animal *animal, int64_t now_ms, struct before *before)
{
	int r = store_each_dose(desk->store, animal->id, now_ms - ORDER_RAREST_MS - 24 * INT64_C(3600000), dose_row,
				before);

	if (r == 0)
		r = store_each_feed(desk->store, animal->id, before->day_ms, feed_row, before);
	return r;
}

/* ---- a plan ---- */

struct planning {
	struct roster_animal *animal;
	struct kept_order kept;
	struct dose_ask ask;
	struct dose_plan plan;
	enum dose_outcome outcome;
};

/* 0 and an outcome, whatever it is; 1 refused; < 0 -errno. */
static int plan(struct desk *desk, const char *who, const char *order, const char *steps, int64_t at_ms,
		bool overridden, struct planning *ret, struct rpc_refusal *refusal)
{
	const struct rpc_value value = { .text = steps };
	struct before *before;
	struct bedside_weight weight;
	int r = desk_find_animal(desk, who, &ret->animal, refusal);

	ret->ask = (struct dose_ask){ .now_ms = at_ms, .overridden = overridden };
	if (r == 0)
		r = bedside_volume(&value, "the syringe's steps", &ret->ask.graduation_ul, refusal);
	if (r == 0)
		r = orders_find(desk, ret->animal, order && *order ? order : NULL, at_ms, &ret->kept, refusal);
	if (r != 0)
		return r;
	before = calloc(1, sizeof *before);
	if (!before)
		return -ENOMEM;
	before->kept = &ret->kept;
	before->day_ms = at_ms - 24 * INT64_C(3600000);
	r = bedside_weight(desk, ret->animal, &weight);
	if (r == 0)
		r = bedside_warmth(desk, ret->animal->id, at_ms, &ret->ask.warmth);
	if (r == 0)
		r = look_back(desk, ret->animal, at_ms, before);
	if (r == 0) {
		ret->ask.mass_mg = weight.mass_mg;
		ret->ask.weighed_ms = weight.at_ms;
		ret->ask.doubtful = weight.doubtful;
		ret->ask.given = before->given;
		ret->ask.n_given = before->n;
		ret->ask.other_24h_ul = before->other_ul;
		ret->outcome = dose_plan(&ret->kept.order, &ret->ask, &ret->plan);
		ret->ask.given = NULL;
	}
	free(before);
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

static bool may_give(enum dose_outcome outcome)
{
	return outcome == DOSE_PLANNED || outcome == DOSE_SECOND_LOOK;
}

static json_t *cautions_json(enum order_route route)
{
	json_t *list = json_array();

	for (const struct order_caution *caution = order_cautions(route); caution->text; caution++)
		(void)json_array_append_new(list,
					    json_pack("{s:s, s:s}", "text", caution->text, "source", caution->source));
	return list;
}

static json_t *planning_json(struct desk *desk, const struct planning *planning)
{
	const struct roster_animal *animal = planning->animal;
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, animal->litter_id);
	const struct dose_plan *plan = &planning->plan;
	json_t *one = json_pack(
		"{s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:i, s:b, s:o, s:o, s:s}", "animal", animal->id, "name",
		animal->name, "outcome", outcome_words[planning->outcome], "hint", dose_hint(planning->outcome),
		"give_ml", may_give(planning->outcome) ? bedside_ml(plan->ul) : json_null(), "ml_per_kg",
		bedside_ml(plan->ul_per_kg), "given_24h_ml", bedside_ml(plan->given_24h_ul), "most_24h_ml",
		bedside_ml(plan->most_24h_ul), "due", plan->due_ms ? bedside_at(plan->due_ms) : json_null(), "sites",
		(int)plan->sites, "cool", plan->cool, "order",
		orders_json(desk, &planning->kept, litter ? litter->name : "?"), "cautions",
		cautions_json(planning->kept.order.route), "say", BEDSIDE_NO_VET);

	if (plan->range)
		(void)json_object_set_new(one, "range", json_string(plan->range));
	if (planning->ask.mass_mg > 0) {
		(void)json_object_set_new(one, "mass_g", json_real((double)planning->ask.mass_mg / 1000));
		(void)json_object_set_new(one, "weighed_at", bedside_at(planning->ask.weighed_ms));
	}
	return one;
}

DESK_METHOD(desk_dose_plan) /* animal, steps, order? */
{
	struct desk *desk = userdata;
	struct planning planning = { 0 };
	int r = plan(desk, values[0].text, values[2].text, values[1].text, clock_now_ms(), false, &planning, refusal);

	(void)caller;
	if (r != 0)
		return r;
	*ret_result = planning_json(desk, &planning);
	return *ret_result ? 0 : -ENOMEM;
}

/* ---- what was given ---- */

static int refuse_outcome(const struct planning *planning, struct rpc_refusal *refusal)
{
	return rpc_refuse(refusal, outcome_words[planning->outcome], dose_hint(planning->outcome),
			  "not planned for %s%s%s", planning->animal->name, planning->plan.range ? ": " : "",
			  planning->plan.range ? planning->plan.range : "");
}

/* What is written on paper was given already; it is kept unless it is a slip. */
static int check_written(const struct planning *planning, int64_t ul, struct rpc_refusal *refusal)
{
	const struct volume_rate most = { .ul = ORDER_SKIN_MOST, .basis = VOLUME_PER_KG };

	if (planning->ask.mass_mg <= 0)
		return rpc_refuse(refusal, "weigh-first", "Tell its weight first: `bismar weigh WHO MASS --at T`.",
				  "%s has no weight on record", planning->animal->name);
	if (ul <= volume_for(&most, planning->ask.mass_mg))
		return 0;
	return rpc_refuse(refusal, "impossible",
			  "Look at the decimal point. If it was really given: call your vet now.",
			  "more than 60 mL for each kg of %s", planning->animal->name);
}

static int check_now(const struct planning *planning, int64_t ul, struct rpc_refusal *refusal)
{
	if (!may_give(planning->outcome))
		return refuse_outcome(planning, refusal);
	if (ul > planning->plan.ul)
		return rpc_refuse(refusal, "above-order",
				  "Plan it again. If it was really given: tell your vet, and give the time (at).",
				  "that is more than the order comes to for %s", planning->animal->name);
	return 0;
}

DESK_METHOD(desk_dose_give) /* animal, volume, steps, order?, at?, words?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[6].text);
	bool words = values[5].text && strcmp(values[5].text, DOSE_OVERRIDE) == 0, overridden;
	struct planning planning = { 0 };
	struct store_dose dose;
	char id[UUID7_SIZE];
	int64_t at_ms = 0, ul = 0;
	int r = bedside_volume(&values[1], "given", &ul, refusal);

	if (r == 0 && values[5].text && !words)
		r = rpc_refuse(refusal, "bad-value", "Type exactly: " DOSE_OVERRIDE, "those aren't the words");
	if (r == 0)
		r = bedside_time(&values[4], &stamp, &at_ms, refusal);
	if (r == 0)
		r = plan(desk, values[0].text, values[3].text, values[2].text, at_ms, false, &planning, refusal);
	overridden = r == 0 && words && planning.outcome == DOSE_OUTSIDE;
	if (overridden)
		r = plan(desk, values[0].text, values[3].text, values[2].text, at_ms, true, &planning, refusal);
	if (r == 0)
		r = values[4].given ? check_written(&planning, ul, refusal) : check_now(&planning, ul, refusal);
	if (r != 0)
		return r;
	dose = (struct store_dose){ .order_id = planning.kept.id,
				    .animal_id = planning.animal->id,
				    .given_ms = at_ms,
				    .ul = ul,
				    .mass_mg = planning.ask.mass_mg,
				    .words = overridden ? values[5].text : NULL,
				    .judged = values[4].given                        ? "written down"
					      : overridden                           ? "overridden"
					      : planning.outcome == DOSE_SECOND_LOOK ? "second look"
										     : "plain" };
	r = store_add_dose(desk->store, &stamp, &dose, id);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	*ret_result = json_pack("{s:s, s:s, s:s, s:o, s:o, s:s, s:o, s:o}", "dose", id, "animal", planning.animal->id,
				"name", planning.animal->name, "ml", bedside_ml(ul), "at", bedside_at(at_ms), "judged",
				dose.judged, "due", bedside_at(at_ms + planning.kept.order.every_ms), "cautions",
				cautions_json(planning.kept.order.route));
	return *ret_result ? 0 : -ENOMEM;
}

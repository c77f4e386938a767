// SPDX-License-Identifier: MIT
/* Requests about feeding a pup that needs help, and about what nursing brought. */
#include "daemon/desk/bedside.h"
#include "daemon/desk/names.h"
#include "daemon/litter/feeding.h"
#include "daemon/litter/order.h"
#include "daemon/store/bedside.h"
#include <errno.h>
#include <math.h>

#define NEWEST_MS (INT64_C(3) * 3600 * 1000) /* two weighings around a nursing are looked for this far back */

static const char *const outcome_words[] = {
	[FEEDING_PLANNED] = "planned",
	[FEEDING_CHILLED] = "chilled",
	[FEEDING_WARMTH_UNKNOWN] = "warmth-unknown",
	[FEEDING_STALE] = "weigh-first",
	[FEEDING_DOUBTFUL] = "weigh-again",
	[FEEDING_NO_AGE] = "no-age",
	[FEEDING_LABEL] = "label",
	[FEEDING_ENERGY] = "energy",
	[FEEDING_TOO_FINE] = "too-fine",
	[FEEDING_MORE_MEALS] = "more-meals",
};
static const char *const nursed_words[] = {
	[FEEDING_NURSED] = "nursed",     [FEEDING_TOO_COARSE] = "too-coarse", [FEEDING_LESS] = "lighter",
	[FEEDING_TOO_LONG] = "too-long", [FEEDING_NOT_ALIKE] = "not-alike",
};

/* ---- a plan ---- */

static json_t *plan_json(const struct roster_animal *animal, const struct feeding_ask *ask,
			 enum feeding_outcome outcome, const struct feeding_plan *plan)
{
	json_t *one = json_pack("{s:s, s:s, s:s, s:s}", "animal", animal->id, "name", animal->name, "outcome",
				outcome_words[outcome], "hint", feeding_hint(outcome));

	if (ask->mass_mg > 0) {
		(void)json_object_set_new(one, "mass_g", json_real((double)ask->mass_mg / 1000));
		(void)json_object_set_new(one, "weighed_at", bedside_at(ask->weighed_ms));
	}
	if (outcome != FEEDING_PLANNED && outcome != FEEDING_MORE_MEALS)
		return one;
	(void)json_object_update_new(
		one, json_pack("{s:o, s:i, s:o, s:i, s:o, s:i, s:b, s:b}", "meal_ml", bedside_ml(plan->meal_ul),
			       "meals", plan->meals, "day_ml", bedside_ml(plan->day_ul / 100 * 100), "kcal_day",
			       (int)plan->kcal_day, "stomach_ml", bedside_ml(plan->stomach_ul / 100 * 100),
			       "meals_needed", plan->meals_needed, "cool", plan->cool, "much", plan->much));
	(void)json_object_set_new(one, "need",
				  json_pack("{s:i, s:i, s:i, s:s, s:s, s:s}", "kcal_per_kg", plan->need.low_kcal_per_kg,
					    "others_from_kcal_per_kg", plan->need.high_from_kcal_per_kg,
					    "others_to_kcal_per_kg", plan->need.high_kcal_per_kg, "when",
					    plan->need.when, "source", plan->need.low_source, "others_source",
					    plan->need.high_source));
	return one;
}

static int plan_one(struct desk *desk, const struct roster_animal *animal, struct feeding_ask ask, json_t *list)
{
	struct feeding_plan plan = { 0 };
	struct bedside_weight weight;
	enum feeding_outcome outcome;
	int r = bedside_weight(desk, animal, &weight);

	if (r == 0)
		r = bedside_warmth(desk, animal->id, ask.now_ms, &ask.warmth);
	if (r != 0)
		return r;
	ask.mass_mg = weight.mass_mg;
	ask.weighed_ms = weight.at_ms;
	ask.doubtful = weight.doubtful;
	ask.age_ms = bedside_age_ms(animal, ask.now_ms);
	outcome = feeding_plan(&ask, &plan);
	(void)json_array_append_new(list, plan_json(animal, &ask, outcome, &plan));
	return 0;
}

static int plan_ask(const struct rpc_value *values, struct feeding_ask *ret, struct rpc_refusal *refusal)
{
	double label = values[1].number * 1000;
	int r;

	*ret = (struct feeding_ask){ .now_ms = clock_now_ms() };
	if (!(label > 0 && label < 1e6))
		return rpc_refuse(refusal, "bad-value",
				  "Give the energy on the replacer's label as it is mixed, in kcal per mL.",
				  "that is no energy of milk");
	ret->label_kcal_per_l = (int32_t)lround(label);
	r = bedside_volume(&values[2], "the syringe's or bottle's steps", &ret->graduation_ul, refusal);
	if (r != 0)
		return r;
	if (values[3].given && (values[3].whole < 1 || values[3].whole > 24))
		return rpc_refuse(refusal, "bad-value", "Say 1 to 24, or leave it out.",
				  "%lld meals a day can't be planned", (long long)values[3].whole);
	ret->meals = values[3].given ? (int)values[3].whole : 0;
	if (values[4].given && (values[4].whole < 1 || values[4].whole > 10000))
		return rpc_refuse(refusal, "bad-value", "In kcal a day for each kg, as your vet said it.",
				  "that is no energy a day");
	ret->vet_kcal_per_kg = values[4].given ? (int32_t)values[4].whole : 0;
	return 0;
}

static json_t *cautions_json(void)
{
	json_t *list = json_array();

	for (const struct order_caution *caution = order_cautions(ORDER_BY_MOUTH); caution->text; caution++)
		(void)json_array_append_new(list,
					    json_pack("{s:s, s:s}", "text", caution->text, "source", caution->source));
	return list;
}

DESK_METHOD(desk_feed_plan) /* who, label_kcal_per_ml, steps, meals?, vet_kcal_per_kg? */
{
	struct desk *desk = userdata;
	const struct roster_litter *litter = roster_litter(&desk->roster, values[0].text);
	struct roster_animal *animal = NULL;
	struct feeding_ask ask;
	json_t *list;
	int r = plan_ask(values, &ask, refusal);

	(void)caller;
	if (r == 0 && !litter)
		r = desk_find_animal(desk, values[0].text, &animal, refusal);
	if (r != 0)
		return r;
	list = json_array();
	for (size_t i = 0; r == 0 && i < desk->roster.n_animals; i++) {
		const struct roster_animal *one = &desk->roster.animals[i];
		if (animal ? one == animal : strcmp(one->litter_id, litter->id) == 0)
			r = plan_one(desk, one, ask, list);
	}
	if (r != 0) {
		json_decref(list);
		return desk_refuse_ledger(r, refusal);
	}
	*ret_result = json_pack("{s:o, s:o, s:s}", "plans", list, "cautions", cautions_json(), "say", BEDSIDE_NO_VET);
	return *ret_result ? 0 : -ENOMEM;
}

/* ---- what was fed ---- */

/* More than a stomach holds is a slip of the decimal point, or an accident that a vet must hear of. */
static int check_volume(const struct roster_animal *animal, int64_t ul, struct rpc_refusal *refusal)
{
	const struct volume_rate stop = { .ul = FEEDING_STOMACH_STOP_UL_PER_KG, .basis = VOLUME_PER_KG };

	if (animal->newest_mg <= 0 || ul <= volume_for(&stop, animal->newest_mg))
		return 0;
	return rpc_refuse(refusal, "bad-value", "Look at the decimal point. If it was really given: call your vet now.",
			  "more than the stomach of %s holds (50 mL for each kg)", animal->name);
}

DESK_METHOD(desk_feed_give) /* animal, volume, what?, at?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[4].text);
	struct store_feed feed = { .what = values[2].text };
	enum sign_warmth warmth = SIGN_WARMTH_UNKNOWN;
	struct roster_animal *animal;
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r == 0)
		r = bedside_volume(&values[1], "fed", &feed.ul, refusal);
	if (r == 0 && feed.what)
		r = name_check_text(feed.what, "food", refusal);
	if (r == 0)
		r = check_volume(animal, feed.ul, refusal);
	if (r == 0)
		r = bedside_time(&values[3], &stamp, &feed.fed_ms, refusal);
	if (r != 0)
		return r;
	feed.animal_id = animal->id;
	r = store_add_feed(desk->store, &stamp, &feed);
	if (r == 0)
		r = bedside_warmth(desk, animal->id, feed.fed_ms, &warmth);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	*ret_result = json_pack("{s:s, s:s, s:o, s:o, s:b, s:s}", "animal", animal->id, "name", animal->name, "ml",
				bedside_ml(feed.ul), "at", bedside_at(feed.fed_ms), "chilled", warmth == SIGN_CHILLED,
				"say", warmth == SIGN_CHILLED ? feeding_hint(FEEDING_CHILLED) : BEDSIDE_NO_VET);
	return *ret_result ? 0 : -ENOMEM;
}

/* ---- nursing, by weighing before and after ---- */

struct pair {
	const char *animal_id;
	char ids[2][UUID7_SIZE]; /* the newest but one, the newest */
	struct feeding_weighing weighings[2];
	char containers[2][UUID7_SIZE], scales[2][UUID7_SIZE];
	size_t n, at; /* of those found; which one is asked for */
};

static int pair_row(void *userdata, const struct store_reading_row *row)
{
	struct pair *pair = userdata;

	if (strcmp(row->animal_id, pair->animal_id) != 0)
		return 0;
	if (pair->n == 2) {
		memcpy(pair->ids[0], pair->ids[1], UUID7_SIZE);
		pair->weighings[0] = pair->weighings[1];
		pair->n--;
	}
	(void)snprintf(pair->ids[pair->n], UUID7_SIZE, "%s", row->id);
	pair->weighings[pair->n++] =
		(struct feeding_weighing){ .at_ms = row->at_ms, .mass_mg = row->net_mg, .u_mg = row->u_mg };
	return 0;
}

static int place_row(void *userdata, const struct store_weighing_row *row)
{
	struct pair *pair = userdata;
	struct feeding_weighing *weighing = &pair->weighings[pair->at];

	if (row->container_id) {
		(void)snprintf(pair->containers[pair->at], UUID7_SIZE, "%s", row->container_id);
		weighing->container_id = pair->containers[pair->at];
	}
	if (row->scale_id) {
		(void)snprintf(pair->scales[pair->at], UUID7_SIZE, "%s", row->scale_id);
		weighing->scale_id = pair->scales[pair->at];
	}
	return 0;
}

static int find_pair(struct desk *desk, const struct roster_animal *animal, int64_t now_ms, struct pair *ret)
{
	int r;

	*ret = (struct pair){ .animal_id = animal->id };
	r = store_each_reading(desk->store, animal->litter_id, now_ms - NEWEST_MS, now_ms, pair_row, ret);
	for (ret->at = 0; r == 0 && ret->at < ret->n; ret->at++)
		r = store_find_weighing(desk->store, ret->ids[ret->at], place_row, ret);
	return r;
}

static int known_row(void *userdata, const struct store_feed *row)
{
	int64_t *fed_ms = userdata;

	if (row->ul <= 0 && row->fed_ms == *fed_ms)
		*fed_ms = INT64_MIN;
	return 0;
}

/* Asked again about the same two weighings, it isn't noted again. */
static int keep_nursed(struct desk *desk, const struct store_stamp *stamp, const struct store_feed *feed)
{
	int64_t fed_ms = feed->fed_ms;
	int r = store_each_feed(desk->store, feed->animal_id, feed->fed_ms, known_row, &fed_ms);

	return r != 0 || fed_ms == INT64_MIN ? r : store_add_feed(desk->store, stamp, feed);
}

DESK_METHOD(desk_feed_nursed) /* animal, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct feeding_milk milk = { 0 };
	struct roster_animal *animal;
	enum feeding_nursed nursed;
	struct store_feed feed;
	struct pair pair;
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r != 0)
		return r;
	r = find_pair(desk, animal, stamp.at_ms, &pair);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	if (pair.n < 2)
		return rpc_refuse(refusal, "no-pair",
				  "Weigh it, let it nurse, weigh it again in the same container, then ask.",
				  "%s wasn't weighed twice within the last three hours", animal->name);
	nursed = feeding_nursed(&pair.weighings[0], &pair.weighings[1], &milk);
	feed = (struct store_feed){
		.animal_id = animal->id, .fed_ms = pair.weighings[1].at_ms, .taken_mg = milk.taken_mg, .u_mg = milk.u_mg
	};
	r = nursed == FEEDING_TOO_LONG || nursed == FEEDING_NOT_ALIKE ? 0 : keep_nursed(desk, &stamp, &feed);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	*ret_result =
		json_pack("{s:s, s:s, s:s, s:f, s:f, s:f, s:o, s:o, s:s}", "animal", animal->id, "name", animal->name,
			  "outcome", nursed_words[nursed], "taken_g", (double)milk.taken_mg / 1000, "u_g",
			  (double)milk.u_mg / 1000, "pct", milk.pct, "before", bedside_at(pair.weighings[0].at_ms),
			  "after", bedside_at(pair.weighings[1].at_ms), "say", feeding_nursed_hint(nursed));
	return *ret_result ? 0 : -ENOMEM;
}

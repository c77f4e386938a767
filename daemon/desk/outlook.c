// SPDX-License-Identifier: MIT
/* Requests about growth and concerns: what is believed now, or was with what had been measured up to some time. */
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/worries.h"
#include "daemon/litter/concern_rules.h"
#include "daemon/litter/verdict.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>
#include <math.h>

static json_t *real_or_null(double value)
{
	return isfinite(value) ? json_real(value) : json_null();
}

static json_t *time_or_null(int64_t ms)
{
	char text[QUANTITY_RFC3339_SIZE];

	if (ms == INT64_MIN || ms == INT64_MAX)
		return json_null();
	quantity_rfc3339_utc(text, ms);
	return json_string(text);
}

static json_t *verdict_json(struct desk *desk, const struct model *model, size_t i, int64_t now_ms)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, model->animals[i]);
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, model->litter_id);
	struct growth_state state;
	struct verdict v;

	if (!animal)
		return NULL;
	if (!verdict_of(&model->growth, i, now_ms, model->step_mg, animal->birth_mg, &v) ||
	    !growth_at(&model->growth, i, verdict_reach_ms(&model->growth, i, now_ms), &state))
		return json_pack("{s:s, s:s, s:s, s:s, s:i}", "animal", animal->id, "name", animal->name, "litter",
				 litter ? litter->name : "?", "verdict", verdict_text(VERDICT_TOO_SOON), "readings", 0);
	return json_pack("{s:s, s:s, s:s, s:s, s:i, s:o, s:o, s:f, s:f, s:f, s:f, s:f, s:f, s:o, s:o, s:o, s:f, s:o, "
			 "s:f, s:o, s:b}",
			 "animal", animal->id, "name", animal->name, "litter", litter ? litter->name : "?", "verdict",
			 verdict_text(v.kind), "readings", (int)state.readings, "newest", time_or_null(state.newest_ms),
			 "newest_g",
			 animal->newest_at_ms == state.newest_ms && animal->newest_mg > 0
				 ? json_real((double)animal->newest_mg / 1000)
				 : json_null(),
			 "mass_g", v.mass_g, "u_mass_g", v.u_mass_g, "gain_g_per_day", v.gain_g_per_day,
			 "u_gain_g_per_day", v.u_gain_g_per_day, "gain_pct_per_day", v.gain_pct_per_day,
			 "u_gain_pct_per_day", state.u_rate * 100, "since_birth_pct", real_or_null(v.since_birth_pct),
			 "doubling_days", real_or_null(v.doubling_days), "z", real_or_null(v.z), "detectable_g",
			 v.detectable_g, "tell_at", time_or_null(v.tell_at_ms), "p_stopped", v.p_stopped, "since",
			 time_or_null(v.since_ms), "wild", state.wild);
}

/* One animal's or all of a model's into list. */
static void add_verdicts(struct desk *desk, const struct model *model, const char *animal_id, int64_t now_ms,
			 json_t *list)
{
	for (size_t i = 0; i < model->n; i++) {
		json_t *one = !animal_id || strcmp(model->animals[i], animal_id) == 0
				      ? verdict_json(desk, model, i, now_ms)
				      : NULL;
		if (one)
			(void)json_array_append_new(list, one);
	}
}

/* What a request is about: an animal, a litter, or all. */
struct subject {
	const struct roster_animal *animal;
	const struct roster_litter *litter;
};

static int find_subject(struct desk *desk, const char *word, struct subject *ret, struct rpc_refusal *refusal)
{
	struct roster_animal *animal = NULL;
	int r;

	*ret = (struct subject){ 0 };
	if (!word || !*word)
		return 0;
	ret->litter = roster_litter(&desk->roster, word);
	if (ret->litter)
		return 0;
	r = desk_find_animal(desk, word, &animal, refusal);
	ret->animal = animal;
	return r;
}

static bool concerns(const struct subject *subject, const char *litter_id)
{
	return subject->animal   ? strcmp(subject->animal->litter_id, litter_id) == 0
	       : subject->litter ? strcmp(subject->litter->id, litter_id) == 0
				 : true;
}

/* as_of: not given is now. */
static int at_time(const struct rpc_value *as_of, int64_t *ret_ms, struct rpc_refusal *refusal)
{
	int64_t now_ms = clock_now_ms();

	*ret_ms = as_of->given ? as_of->time_ms : now_ms;
	if (*ret_ms > now_ms)
		return rpc_refuse(refusal, "bad-value", "Give a time that is past.", "that time lies ahead");
	return 0;
}

/* Puts into list what one litter's model says; then: the model as of at_ms, NULL when that is now. */
struct telling {
	void (*tell)(struct desk *desk, const struct model *model, const struct model *then, const char *animal_id,
		     int64_t at_ms, json_t *list);
	const struct rpc_value *who, *as_of;
};

static int tell_all(struct desk *desk, const struct telling *telling, int64_t *ret_at_ms, json_t **ret_list,
		    struct rpc_refusal *refusal)
{
	json_t *list = json_array();
	struct subject subject;
	int r = find_subject(desk, telling->who->text, &subject, refusal);

	if (r == 0)
		r = at_time(telling->as_of, ret_at_ms, refusal);
	for (struct model *model = desk->models; r == 0 && model; model = model->next) {
		struct model *then = NULL;
		if (!concerns(&subject, model->litter_id) || model->n == 0)
			continue;
		if (telling->as_of->given && !(then = model_until(desk, model, *ret_at_ms + 1)))
			r = -ENOMEM;
		else
			telling->tell(desk, model, then, subject.animal ? subject.animal->id : NULL, *ret_at_ms, list);
		free(then);
	}
	if (r != 0)
		json_decref(list);
	else
		*ret_list = list;
	return r;
}

static void list_verdicts(struct desk *desk, const struct model *model, const struct model *then, const char *animal_id,
			  int64_t at_ms, json_t *list)
{
	add_verdicts(desk, then ? then : model, animal_id, at_ms, list);
}

DESK_METHOD(desk_growth) /* who?, as_of? */
{
	struct desk *desk = userdata;
	const struct telling telling = { list_verdicts, &values[0], &values[1] };
	json_t *list;
	int64_t at_ms;
	int r = tell_all(desk, &telling, &at_ms, &list, refusal);

	(void)caller;
	if (r != 0)
		return r;
	*ret_result = json_pack("{s:o, s:o}", "as_of", time_or_null(at_ms), "growth", list);
	return *ret_result ? 0 : -ENOMEM;
}

static void list_concerns(struct desk *desk, const struct model *model, const struct model *then, const char *animal_id,
			  int64_t at_ms, json_t *list)
{
	if (then)
		worries_list(desk, then, animal_id, at_ms, list);
	else
		worries_open(desk, model, animal_id, list);
}

DESK_METHOD(desk_concerns) /* who?, as_of? */
{
	struct desk *desk = userdata;
	const struct telling telling = { list_concerns, &values[0], &values[1] };
	json_t *list;
	int64_t at_ms;
	int r = tell_all(desk, &telling, &at_ms, &list, refusal);

	(void)caller;
	if (r != 0)
		return r;
	*ret_result = json_pack(
		"{s:o, s:o, s:s}", "as_of", time_or_null(at_ms), "concerns", list, "say",
		"bismar is no vet. Whatever it shows: call yours at once when a pup is limp, cold, cries without "
		"end or doesn't nurse.");
	return *ret_result ? 0 : -ENOMEM;
}

/* What holds for a litter, and what of it is its own. */
static json_t *limits_json(const struct roster_litter *litter)
{
	struct concern_limits holds = concern_rules_limits(&litter->limits);
	json_t *own = json_array();

	if (litter->limits.early_loss_pct > 0)
		(void)json_array_append_new(own, json_string("early_loss_pct"));
	if (litter->limits.band_low_pct > 0)
		(void)json_array_append_new(own, json_string("band_low_pct"));
	if (litter->limits.overdue_h > 0)
		(void)json_array_append_new(own, json_string("overdue_h"));
	if (litter->limits.behind_pct > 0)
		(void)json_array_append_new(own, json_string("behind_pct"));
	return json_pack("{s:s, s:f, s:f, s:f, s:f, s:o}", "litter", litter->name, "early_loss_pct",
			 holds.early_loss_pct, "band_low_pct", holds.band_low_pct, "overdue_h", holds.overdue_h,
			 "behind_pct", holds.behind_pct, "own", own);
}

static double given_or(const struct rpc_value *value, double else_this)
{
	return value->given ? value->number : else_this;
}

/* Nothing is written when nothing changes: so the limits can be asked for. */
static int keep_limits(struct desk *desk, const struct store_stamp *stamp, struct roster_litter *litter,
		       const struct concern_limits *limits)
{
	const struct store_limits row = { .early_loss_pct = limits->early_loss_pct,
					  .band_low_pct = limits->band_low_pct,
					  .overdue_h = limits->overdue_h,
					  .behind_pct = limits->behind_pct };
	int r;

	if (memcmp(limits, &litter->limits, sizeof *limits) == 0)
		return 0;
	r = store_set_limits(desk->store, stamp, litter->id, &row);
	if (r != 0)
		return r;
	litter->limits = *limits;
	if (model_of(desk, litter->id))
		worries_look_anew(desk, model_of(desk, litter->id));
	return 0;
}

DESK_METHOD(desk_litter_limits) /* litter, early_loss_pct?, band_low_pct?, overdue_h?, behind_pct?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[5].text);
	struct roster_litter *litter = roster_litter(&desk->roster, values[0].text);
	struct concern_limits checked;
	const char *what;
	int r;

	if (!litter)
		return rpc_refuse(refusal, "not-found", "`bismar litter list` shows the litters.",
				  "no open litter is called \"%s\"", values[0].text);
	checked = (struct concern_limits){
		.early_loss_pct = given_or(&values[1], litter->limits.early_loss_pct),
		.band_low_pct = given_or(&values[2], litter->limits.band_low_pct),
		.overdue_h = given_or(&values[3], litter->limits.overdue_h),
		.behind_pct = given_or(&values[4], litter->limits.behind_pct),
	};
	if (!concern_limits_check(&checked, &what))
		return rpc_refuse(refusal, "bad-value", "Ask your vet; 0 takes the published limit.", "%s", what);
	r = keep_limits(desk, &stamp, litter, &checked);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	*ret_result = limits_json(litter);
	return *ret_result ? 0 : -ENOMEM;
}

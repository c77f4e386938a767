// SPDX-License-Identifier: MIT
#include "daemon/desk/bedside.h"
#include "daemon/desk/models.h"
#include "daemon/litter/volume.h"
#include "daemon/store/bedside.h"

#define FOUR_WEEKS_MS (INT64_C(28) * 24 * 3600 * 1000)
/* No pup of four weeks weighs as much: the largest breeds reach about 3.5 kg (Great Danes' curve, facts 2.1: 606 g
 * times e^(0.0523 * 28) is 2.6 kg). Ours. */
#define FOUR_WEEKS_MOST_MG INT64_C(4500000)

static int take_sign(void *userdata, const struct store_sign *row)
{
	struct bedside_signs *signs = userdata;
	struct sign_seen seen = { .at_ms = row->seen_ms };
	char hint[8];

	if (row->seen_ms > signs->until_ms ||
	    sign_parse(sign_of(row->sign), row->value, &seen.value, hint, sizeof hint) != SIGN_PARSED)
		return 0; /* later, or another bismar's */
	if (signs->n == BEDSIDE_SIGNS) {
		memmove(signs->list, signs->list + 1, (BEDSIDE_SIGNS - 1) * sizeof *signs->list);
		signs->n--;
	}
	signs->list[signs->n++] = seen;
	return 0;
}

int bedside_signs(struct desk *desk, const char *animal_id, int64_t now_ms, struct bedside_signs *ret)
{
	ret->n = 0;
	ret->until_ms = now_ms;
	return store_each_sign(desk->store, animal_id, now_ms - SIGN_COUNTS_MS, take_sign, ret);
}

int bedside_warmth(struct desk *desk, const char *animal_id, int64_t now_ms, enum sign_warmth *ret)
{
	struct bedside_signs signs;
	int r = bedside_signs(desk, animal_id, now_ms, &signs);

	if (r == 0)
		*ret = sign_warmth(signs.list, signs.n, now_ms);
	return r;
}

int64_t bedside_age_ms(const struct roster_animal *animal, int64_t at_ms)
{
	return animal->born_ms == INT64_MIN || at_ms < animal->born_ms ? -1 : at_ms - animal->born_ms;
}

int bedside_time(const struct rpc_value *at, struct store_stamp *stamp, int64_t *ret_ms, struct rpc_refusal *refusal)
{
	*ret_ms = at->given ? at->time_ms : stamp->at_ms;
	if (*ret_ms > stamp->at_ms + BEDSIDE_AHEAD_MS)
		return rpc_refuse(refusal, "bad-value", "Give the time at which it was, with its offset from UTC.",
				  "that time lies ahead");
	if (at->given)
		stamp->offset_min = at->offset_min;
	return 0;
}

int bedside_volume(const struct rpc_value *value, const char *what, int64_t *ret_ul, struct rpc_refusal *refusal)
{
	enum volume_parsed parsed = volume_parse(value->text, ret_ul);

	if (parsed == VOLUME_PARSED)
		return 0;
	return rpc_refuse(refusal, "bad-value", volume_hint(parsed), "%s: \"%.40s\" is no volume that can be taken",
			  what, value->text);
}

struct newest {
	const char *animal_id;
	bool restless;
};

static int take_reading(void *userdata, const struct store_reading_row *row)
{
	struct newest *newest = userdata;

	if (strcmp(row->animal_id, newest->animal_id) == 0)
		newest->restless = row->restless;
	return 0;
}

int bedside_weight(struct desk *desk, const struct roster_animal *animal, struct bedside_weight *ret)
{
	const struct model *model = model_of(desk, animal->litter_id);
	struct newest newest = { .animal_id = animal->id };
	int i = model ? model_index(model, animal->id) : -1;
	int64_t age_ms = bedside_age_ms(animal, animal->newest_at_ms);
	int r;

	*ret = (struct bedside_weight){ .mass_mg = animal->newest_mg, .at_ms = animal->newest_at_ms };
	if (animal->newest_mg <= 0)
		return 0;
	r = store_each_reading(desk->store, animal->litter_id, animal->newest_at_ms, animal->newest_at_ms, take_reading,
			       &newest);
	if (r != 0)
		return r;
	ret->doubtful = newest.restless || (i >= 0 && model->growth.animals[i].wild) ||
			(age_ms >= 0 && age_ms < FOUR_WEEKS_MS && animal->newest_mg > FOUR_WEEKS_MOST_MG);
	return 0;
}

json_t *bedside_ml(int64_t ul)
{
	return json_real((double)ul / 1000);
}

json_t *bedside_at(int64_t at_ms)
{
	char text[QUANTITY_RFC3339_SIZE];

	quantity_rfc3339_utc(text, at_ms);
	return json_string(text);
}

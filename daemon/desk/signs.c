// SPDX-License-Identifier: MIT
/* Requests about signs: the questions to ask at a pup, and what was seen. */
#include "daemon/desk/bedside.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/worries.h"
#include "daemon/store/bedside.h"
#include <errno.h>

static const char *const weights[] = { "well", "watch", "bad", "worst" };

static json_t *answers_json(const struct sign_row *row)
{
	json_t *list = json_array();

	for (const struct sign_answer *answer = row->answers; answer->word; answer++)
		(void)json_array_append_new(list,
					    json_pack("{s:s, s:s}", "value", answer->word, "plain", answer->plain));
	return list;
}

static const struct sign_seen *newest_of(const struct bedside_signs *signs, enum sign_kind kind)
{
	for (size_t i = signs->n; i > 0; i--)
		if (signs->list[i - 1].value.kind == kind)
			return &signs->list[i - 1];
	return NULL;
}

static json_t *question_json(enum sign_kind kind, const struct bedside_signs *signs, int64_t age_ms)
{
	const struct sign_row *row = sign_row(kind);
	const struct sign_seen *seen = newest_of(signs, kind);
	char value[16] = "";

	if (seen)
		sign_format(&seen->value, value, sizeof value);
	return json_pack("{s:s, s:s, s:s, s:s, s:s, s:b, s:o, s:o, s:o, s:o}", "sign", row->word, "question",
			 row->question, "how", row->how, "tells", row->tells, "source", row->source, "tells_now",
			 sign_tells(kind, age_ms), "answers", answers_json(row), "newest",
			 seen ? json_string(value) : json_null(), "newest_at",
			 seen ? bedside_at(seen->at_ms) : json_null(), "counts",
			 seen ? json_string(weights[sign_weigh(&seen->value, age_ms)]) : json_null());
}

DESK_METHOD(desk_look) /* animal */
{
	struct desk *desk = userdata;
	int64_t now_ms = clock_now_ms();
	struct roster_animal *animal;
	struct bedside_signs signs;
	json_t *list;
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	(void)caller;
	if (r != 0)
		return r;
	r = bedside_signs(desk, animal->id, now_ms, &signs);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	list = json_array();
	for (int kind = 0; kind < SIGN_KINDS; kind++)
		(void)json_array_append_new(
			list, question_json((enum sign_kind)kind, &signs, bedside_age_ms(animal, now_ms)));
	*ret_result = json_pack("{s:s, s:s, s:o, s:s}", "animal", animal->id, "name", animal->name, "signs", list,
				"say", BEDSIDE_NO_VET);
	return *ret_result ? 0 : -ENOMEM;
}

static int parse(const struct rpc_value *sign, const struct rpc_value *value, struct sign_value *ret,
		 struct rpc_refusal *refusal)
{
	enum sign_kind kind = sign_of(sign->text);
	char hint[200] = "";
	int r;

	if (kind == SIGN_KINDS)
		return rpc_refuse(refusal, "not-found",
				  "`bismar look WHO` shows the signs; its beginning is enough if it is the only one.",
				  "\"%.40s\" is no sign", sign->text);
	if (sign_parse(kind, value->text, ret, hint, sizeof hint) == SIGN_PARSED)
		return 0;
	r = rpc_refuse(refusal, "bad-value", "", "%s: \"%.40s\" is no answer", sign_row(kind)->word, value->text);
	(void)snprintf(refusal->hint, sizeof refusal->hint, "%s", hint);
	return r;
}

DESK_METHOD(desk_sign) /* animal, sign, value, at?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[4].text);
	struct roster_animal *animal;
	struct sign_value value;
	struct store_sign row;
	char word[16];
	int64_t at_ms;
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r == 0)
		r = parse(&values[1], &values[2], &value, refusal);
	if (r == 0)
		r = bedside_time(&values[3], &stamp, &at_ms, refusal);
	if (r != 0)
		return r;
	sign_format(&value, word, sizeof word);
	row = (struct store_sign){
		.animal_id = animal->id, .sign = sign_row(value.kind)->word, .value = word, .seen_ms = at_ms
	};
	r = store_add_sign(desk->store, &stamp, &row);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	if (model_of(desk, animal->litter_id))
		worries_look_anew(desk, model_of(desk, animal->litter_id));
	*ret_result =
		json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "animal", animal->id, "name", animal->name, "sign",
			  row.sign, "value", word, "counts", weights[sign_weigh(&value, bedside_age_ms(animal, at_ms))],
			  "tells", sign_row(value.kind)->tells);
	return *ret_result ? 0 : -ENOMEM;
}

// SPDX-License-Identifier: MIT
/* Requests about litters and animals. */
#include "daemon/desk/names.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/worries.h"
#include <errno.h>

static int find_litter(struct desk *desk, const char *name, struct roster_litter **ret, struct rpc_refusal *refusal)
{
	*ret = roster_litter(&desk->roster, name);
	if (*ret)
		return 0;
	return rpc_refuse(refusal, "not-found", "`bismar litter list` shows the litters; `litter add` begins one.",
			  "no open litter is called \"%s\"", name);
}

static int roster_or_refuse(int r, struct rpc_refusal *refusal)
{
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

/* With who there is, the models change, and what there is to worry about. */
static int reload_animals(struct desk *desk)
{
	int r = roster_load_animals(&desk->roster, desk->store);

	if (r == 0)
		r = models_load(desk);
	if (r == 0)
		worries_look_all(desk);
	return r;
}

DESK_METHOD(desk_litter_add) /* name, dam?, born?, adult_g?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[4].text);
	const struct store_new_litter litter = {
		.name = values[0].text,
		.dam = values[1].text,
		.born_ms = values[2].given ? values[2].time_ms : INT64_MIN,
		.adult_mg = values[3].given ? values[3].mass_mg : 0,
	};
	char id[UUID7_SIZE];
	int r = name_check(litter.name, "name", refusal);

	if (r == 0 && litter.dam)
		r = name_check(litter.dam, "dam's name", refusal);
	if (r == 0 && roster_litter(&desk->roster, litter.name))
		r = rpc_refuse(refusal, "exists", "Choose another name, or close the other litter.",
			       "there is an open litter called \"%s\"", litter.name);
	if (r == 0 && desk->roster.n_litters >= LIMIT_LITTERS)
		r = rpc_refuse(refusal, "too-many", "Close those that have left.", "%d litters are open already",
			       LIMIT_LITTERS);
	if (r != 0)
		return r;
	r = store_add_litter(desk->store, &stamp, &litter, id);
	if (r == 0)
		r = roster_load_litters(&desk->roster, desk->store);
	if (r == 0)
		r = models_load(desk);
	*ret_result = r ? NULL : json_pack("{s:s, s:s}", "litter_id", id, "litter", litter.name);
	return roster_or_refuse(r, refusal);
}

DESK_METHOD(desk_litter_close) /* name, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct roster_litter *litter;
	int r = find_litter(desk, values[0].text, &litter, refusal);

	if (r != 0)
		return r;
	r = store_close_litter(desk->store, &stamp, litter->id);
	if (r == 0)
		r = roster_load_litters(&desk->roster, desk->store);
	if (r == 0)
		r = reload_animals(desk);
	*ret_result = r ? NULL : json_pack("{s:s}", "litter", values[0].text);
	return roster_or_refuse(r, refusal);
}

/* A word may mean one animal of a litter only. */
static int check_free(struct desk *desk, const struct roster_litter *litter, const char *word, const char *what,
		      struct rpc_refusal *refusal)
{
	const struct roster_animal *animal;
	int r = name_check(word, what, refusal);

	if (r != 0)
		return r;
	animal = roster_taken(&desk->roster, litter->id, word);
	if (!animal)
		return 0;
	return rpc_refuse(refusal, "exists", "Each name, collar and alias means one animal of a litter.",
			  "in litter %s, \"%s\" is %s already", litter->name, word, animal->name);
}

static int check_animal(struct desk *desk, const struct roster_litter *litter, const struct rpc_value *values,
			struct rpc_refusal *refusal)
{
	const char *sex = values[3].text;
	int r = check_free(desk, litter, values[0].text, "name", refusal);

	if (r == 0 && values[2].text)
		r = check_free(desk, litter, values[2].text, "collar", refusal);
	if (r == 0 && values[6].n_list > LIMIT_ALIASES)
		r = rpc_refuse(refusal, "too-many", "An animal has up to 8 aliases.", "too many aliases");
	for (size_t i = 0; r == 0 && i < values[6].n_list; i++)
		r = check_free(desk, litter, values[6].list[i], "alias", refusal);
	if (r == 0 && sex && strcmp(sex, "f") != 0 && strcmp(sex, "m") != 0)
		r = rpc_refuse(refusal, "bad-value", "Say f or m, or leave it out.", "\"%.20s\" is no sex", sex);
	if (r == 0 && desk->roster.n_animals >= LIMIT_ANIMALS)
		r = rpc_refuse(refusal, "too-many", "Close litters that have left.", "%d animals are on record already",
			       LIMIT_ANIMALS);
	return r;
}

DESK_METHOD(desk_animal_add) /* name, litter, collar?, sex?, birth_g?, at?, alias?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[7].text);
	struct store_new_animal animal = {
		.name = values[0].text,
		.collar = values[2].text,
		.sex = values[3].text ? values[3].text[0] : 0,
		.birth_mg = values[4].given ? values[4].mass_mg : 0,
		.born_ms = values[5].given ? values[5].time_ms : INT64_MIN,
		.aliases = values[6].list,
		.n_aliases = values[6].n_list,
	};
	struct roster_litter *litter;
	char id[UUID7_SIZE];
	int r = find_litter(desk, values[1].text, &litter, refusal);

	if (r == 0)
		r = check_animal(desk, litter, values, refusal);
	if (r != 0)
		return r;
	animal.litter_id = litter->id;
	r = store_add_animal(desk->store, &stamp, &animal, id);
	if (r == 0)
		r = reload_animals(desk);
	*ret_result = r ? NULL : json_pack("{s:s, s:s, s:s}", "animal", id, "name", animal.name, "litter", litter->name);
	return roster_or_refuse(r, refusal);
}

/* After an animal was changed, r: the roster anew and *ret_result told; or nothing told. */
static int end_change(struct desk *desk, int r, json_t **ret_result, struct rpc_refusal *refusal)
{
	if (r == 0)
		r = reload_animals(desk);
	if (r != 0) {
		json_decref(*ret_result);
		*ret_result = NULL;
	}
	return roster_or_refuse(r, refusal);
}

DESK_METHOD(desk_animal_alias) /* animal, alias, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[2].text);
	struct roster_animal *animal;
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r == 0 && animal->n_aliases >= LIMIT_ALIASES)
		r = rpc_refuse(refusal, "too-many", "An animal has up to 8 aliases.", "%s has 8 aliases already",
			       animal->name);
	if (r == 0)
		r = check_free(desk, roster_litter_by_id(&desk->roster, animal->litter_id), values[1].text, "alias",
			       refusal);
	if (r != 0)
		return r;
	*ret_result = json_pack("{s:s, s:s, s:s}", "animal", animal->id, "name", animal->name, "alias", values[1].text);
	r = store_add_alias(desk->store, &stamp, animal->id, values[1].text);
	return end_change(desk, r, ret_result, refusal);
}

DESK_METHOD(desk_animal_gone) /* name, why, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[2].text);
	struct roster_animal *animal;
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r == 0 && !*values[1].text)
		r = rpc_refuse(refusal, "bad-value", "Say why in a few words.", "the reason is empty");
	if (r != 0)
		return r;
	*ret_result = json_pack("{s:s, s:s}", "animal", animal->id, "name", animal->name);
	r = store_animal_gone(desk->store, &stamp, animal->id, values[1].text);
	return end_change(desk, r, ret_result, refusal);
}

// SPDX-License-Identifier: MIT
/*
 * Requests about weighings: whose it was, that it was nobody's, that it was another's after all, and one typed by
 * hand. Each is a row in the ledger before anyone hears of it.
 */
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/rounds.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>

int desk_refuse_ledger(int r, struct rpc_refusal *refusal)
{
	if (r < 0)
		return r;
	return rpc_refuse(refusal, "ledger", "See `bismar status`; nothing was changed, so try again once that is mended.",
			  "%s", store_outcome_text(r));
}

int desk_find_animal(struct desk *desk, const char *word, struct roster_animal **ret, struct rpc_refusal *refusal)
{
	struct roster_animal *animal, *other;
	const struct roster_litter *litter, *other_litter;

	switch (roster_animal(&desk->roster, word, &animal, &other)) {
	case ROSTER_ONE:
		*ret = animal;
		return 0;
	case ROSTER_NOBODY:
		return rpc_refuse(refusal, "not-found", "`bismar animal list` shows the names, collars and litters.",
				  "no animal is called \"%s\"", word);
	case ROSTER_SEVERAL:
		break;
	}
	litter = roster_litter_by_id(&desk->roster, animal->litter_id);
	other_litter = roster_litter_by_id(&desk->roster, other->litter_id);
	return rpc_refuse(refusal, "ambiguous", "Say the litter too, as in LITTER/NAME.",
			  "\"%s\" fits %s of %s and %s of %s", word, animal->name, litter ? litter->name : "?", other->name,
			  other_litter ? other_litter->name : "?");
}

/* ---- what is told of a reading ---- */

struct reading {
	const char *id;
	int64_t at_ms, net_mg, u_mg, step_mg;
};

/* The id stays the ask's. */
static struct reading reading_of(const struct ask *ask)
{
	return (struct reading){
		.id = ask->id, .at_ms = ask->at_ms, .net_mg = ask->net_mg, .u_mg = ask->u_mg, .step_mg = ask->step_mg };
}

static json_t *reading_result(const struct reading *reading, const struct roster_animal *animal, const char *by)
{
	char at[QUANTITY_RFC3339_SIZE];

	quantity_rfc3339_utc(at, reading->at_ms);
	return json_pack("{s:s, s:s, s:s, s:s, s:s, s:f, s:f, s:s}", "reading", reading->id, "ask", reading->id, "animal",
			 animal->id, "name", animal->name, "at", at, "net_g", (double)reading->net_mg / 1000, "u_g",
			 (double)reading->u_mg / 1000, "by", by);
}

static void tell_recorded(struct desk *desk, const struct reading *reading, const struct roster_animal *animal,
			  const char *by, bool corrected)
{
	json_t *params = reading_result(reading, animal, by);
	char text[256], mass[32];

	if (params && corrected)
		(void)json_object_set_new(params, "corrected", json_true());
	(void)quantity_format(mass, sizeof mass, reading->net_mg, reading->step_mg, QUANTITY_GRAMS);
	(void)snprintf(text, sizeof text, "recorded %s %s (%s)%s", animal->name, mass, by, corrected ? ", corrected" : "");
	desk_tell(desk, PROMPT_RECORDED, params, text);
}

/* The growth of the animal and its litter; it may end the round, and open a concern. */
static void follow_recorded(struct desk *desk, const struct reading *reading, const struct roster_animal *animal)
{
	models_recorded(desk, animal, reading->at_ms, reading->net_mg, reading->u_mg, reading->step_mg);
	rounds_recorded(desk, animal->litter_id);
}

static bool same_litter(struct desk *desk, const char *animal_id, const struct roster_animal *animal)
{
	const struct roster_animal *other = roster_animal_by_id(&desk->roster, animal_id);

	return other && strcmp(other->litter_id, animal->litter_id) == 0;
}

/* ---- finding the weighing that a request means ---- */

/* A weighing out of the ledger, with its own copies. */
struct found {
	struct ask ask;
	char animal_id[UUID7_SIZE]; /* "": none */
	bool aside;
	char by[ROSTER_TEXT];
};

static int found_row(void *userdata, const struct store_weighing_row *row)
{
	struct found *found = userdata;

	found->ask = ask_of(row);
	found->aside = row->aside;
	(void)snprintf(found->animal_id, sizeof found->animal_id, "%s", row->animal_id ? row->animal_id : "");
	(void)snprintf(found->by, sizeof found->by, "%s", row->answered_by ? row->answered_by : "");
	return 0;
}

static int find_weighing(struct desk *desk, const char *id, struct found *ret, struct rpc_refusal *refusal)
{
	int r;

	*ret = (struct found){ 0 };
	r = store_find_weighing(desk->store, id, found_row, ret);
	if (r == -ENOENT)
		return rpc_refuse(refusal, "not-found", "`bismar status` counts the open questions; the views `unanswered` "
				  "and `reading` list all weighings.", "there is no weighing \"%s\"", id);
	if (r == -EEXIST)
		return rpc_refuse(refusal, "ambiguous", "Give more of its characters.", "several weighings end in \"%s\"", id);
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

static int refuse_answered(struct desk *desk, const struct found *found, struct rpc_refusal *refusal)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, found->animal_id);
	const char *name = animal ? animal->name : found->aside ? "" : found->animal_id;

	if (found->aside)
		rpc_refuse(refusal, "already-answered", "`reopen` (`bismar undo`) opens the question again.", "it was set aside by %s already",
			   found->by);
	else
		rpc_refuse(refusal, "already-answered", "`correct` changes an answer.", "%s was answered by %s already", name,
			   found->by);
	refusal->data = json_pack("{s:s, s:o, s:o, s:s}", "reading", found->ask.id, "animal",
				  found->aside ? json_null() : json_string(found->animal_id), "name",
				  found->aside ? json_null() : json_string(name), "by", found->by);
	return 1;
}

/* The unanswered weighing that `ask` names, or the oldest open one. */
static int find_unanswered(struct desk *desk, const char *ask, struct found *ret, struct rpc_refusal *refusal)
{
	const struct ask *open;
	int r;

	desk_prune_asks(desk);
	open = asks_find(&desk->asks, ask);
	if (open) {
		*ret = (struct found){ .ask = *open };
		return 0;
	}
	if (!ask || !*ask)
		return rpc_refuse(refusal, "no-open-ask", "Put a pup on the scale, or name the weighing.",
				  "no question is open");
	r = find_weighing(desk, ask, ret, refusal);
	if (r != 0)
		return r;
	return ret->aside || ret->animal_id[0] ? refuse_answered(desk, ret, refusal) : 0;
}

void desk_tell_corrected(struct desk *desk, const char *reading_id, const char *by)
{
	struct found found = { 0 };
	const struct roster_animal *animal = NULL;

	if (store_find_weighing(desk->store, reading_id, found_row, &found) == 0)
		animal = roster_animal_by_id(&desk->roster, found.animal_id);
	if (!animal)
		return; /* gone meanwhile: it is in the ledger */
	const struct reading reading = reading_of(&found.ask);
	tell_recorded(desk, &reading, animal, by, true);
}

/* ---- the requests ---- */

int desk_answer(struct desk *desk, const struct rpc_caller *caller, const char *ask, const char *word,
		const char *said, json_t **ret_result, struct rpc_refusal *refusal)
{
	struct store_stamp stamp = desk_stamp(caller->peer, said);
	struct roster_animal *animal;
	struct found found;
	int r;

	r = find_unanswered(desk, ask, &found, refusal);
	if (r == 0)
		r = desk_find_animal(desk, word, &animal, refusal);
	if (r != 0)
		return r;
	r = store_answer(desk->store, &stamp, found.ask.id, STORE_ANSWER, animal->id, NULL,
			 rounds_fed(desk, animal->litter_id, found.ask.at_ms));
	if (r != 0)
		return desk_refuse_ledger(r, refusal);

	const struct reading reading = reading_of(&found.ask);
	asks_remove(&desk->asks, found.ask.id);
	desk_refresh_animal(desk, animal->id);
	tell_recorded(desk, &reading, animal, said ? said : caller->peer, false);
	if (ret_result)
		*ret_result = reading_result(&reading, animal, said ? said : caller->peer);
	follow_recorded(desk, &reading, animal);
	return 0;
}

int desk_aside(struct desk *desk, const struct rpc_caller *caller, const char *ask, const char *why,
	       const char *said, json_t **ret_result, struct rpc_refusal *refusal)
{
	struct store_stamp stamp = desk_stamp(caller->peer, said);
	struct found found;
	char text[128];
	int r;

	r = find_unanswered(desk, ask, &found, refusal);
	if (r != 0)
		return r;
	r = store_answer(desk->store, &stamp, found.ask.id, STORE_ASIDE, NULL, why, NULL);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	asks_remove(&desk->asks, found.ask.id);
	(void)snprintf(text, sizeof text, "ask %s is closed: set aside", found.ask.id + strlen(found.ask.id) - 4);
	desk_tell(desk, PROMPT_WITHDRAW, json_pack("{s:s, s:s}", "ask", found.ask.id, "why", why ? why : "set aside"), text);
	if (ret_result)
		*ret_result = json_pack("{s:s}", "ask", found.ask.id);
	return 0;
}

DESK_METHOD(desk_do_answer) /* ask?, animal, by? */
{
	return desk_answer(userdata, caller, values[0].text, values[1].text, values[2].text, ret_result, refusal);
}

DESK_METHOD(desk_do_aside) /* ask?, why?, by? */
{
	return desk_aside(userdata, caller, values[0].text, values[1].text, values[2].text, ret_result, refusal);
}

DESK_METHOD(desk_reopen) /* ask, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct found found;
	int r = find_weighing(desk, values[0].text, &found, refusal);

	if (r != 0)
		return r;
	if (!found.aside && !found.animal_id[0])
		return rpc_refuse(refusal, "not-answered", "Nothing to take back.", "this weighing has no answer yet");
	r = store_answer(desk->store, &stamp, found.ask.id, STORE_REOPEN, NULL, NULL, NULL);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	desk_refresh_animal(desk, found.animal_id);
	models_changed(desk, found.animal_id);
	found.ask.received_ms = stamp.at_ms; /* open from now on */
	found.ask.opened_ms = clock_boot_ms();
	desk_open_ask(desk, &found.ask);
	*ret_result = json_pack("{s:s}", "ask", found.ask.id);
	return 0;
}

DESK_METHOD(desk_correct) /* reading, animal, by? */
{
	struct desk *desk = userdata;
	const char *by = values[2].text ? values[2].text : caller->peer;
	struct store_stamp stamp = desk_stamp(caller->peer, values[2].text);
	struct roster_animal *animal;
	struct found found;
	int r = find_weighing(desk, values[0].text, &found, refusal);

	if (r == 0)
		r = desk_find_animal(desk, values[1].text, &animal, refusal);
	if (r != 0)
		return r;
	if (!found.aside && !found.animal_id[0])
		return rpc_refuse(refusal, "not-answered", "Use `answer`.", "this weighing has no answer to correct");
	r = store_answer(desk->store, &stamp, found.ask.id, STORE_CORRECT, animal->id, NULL, NULL);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);

	const struct reading reading = reading_of(&found.ask);
	desk_refresh_animal(desk, found.animal_id);
	desk_refresh_animal(desk, animal->id);
	tell_recorded(desk, &reading, animal, by, true);
	models_changed(desk, found.animal_id);
	if (!same_litter(desk, found.animal_id, animal))
		models_changed(desk, animal->id);
	*ret_result = reading_result(&reading, animal, by);
	return 0;
}

DESK_METHOD(desk_weigh) /* animal, mass_g, at?, by? */
{
	struct desk *desk = userdata;
	const char *by = values[3].text ? values[3].text : caller->peer;
	struct store_stamp stamp = desk_stamp(caller->peer, values[3].text);
	struct weighing weighing = {
		.at_ms = values[2].given ? values[2].time_ms : stamp.at_ms,
		.origin = WEIGH_TYPED,
		.gross_mg = values[1].mass_mg,
		.net_mg = values[1].mass_mg,
		.u_mg = weigh_step_u_mg(values[1].step_mg),
	};
	const struct store_weighing row = { .weighing = &weighing, .user = -1, .step_mg = values[1].step_mg };
	struct roster_animal *animal;
	char id[UUID7_SIZE];
	int r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r != 0)
		return r;
	if (weighing.at_ms > stamp.at_ms + DESK_AHEAD_MS)
		return rpc_refuse(refusal, "bad-value", "Give the time it was weighed, with its offset from UTC.",
				  "that time lies ahead");
	if (values[2].given)
		stamp.offset_min = values[2].offset_min;
	r = store_add_typed(desk->store, &stamp, &row, animal->id, rounds_fed(desk, animal->litter_id, weighing.at_ms), id);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);

	const struct reading reading = { .id = id, .at_ms = weighing.at_ms, .net_mg = weighing.net_mg,
					 .u_mg = weighing.u_mg, .step_mg = row.step_mg };
	desk_refresh_animal(desk, animal->id);
	tell_recorded(desk, &reading, animal, by, false);
	*ret_result = reading_result(&reading, animal, by);
	follow_recorded(desk, &reading, animal);
	return 0;
}

DESK_METHOD(desk_list_asks)
{
	struct desk *desk = userdata;
	json_t *list = json_array();

	(void)caller;
	(void)values;
	(void)refusal;
	desk_prune_asks(desk);
	for (size_t i = 0; i < desk->asks.n; i++) {
		char *text = NULL;
		(void)json_array_append_new(list, ask_params(&desk->asks.list[i], desk, &text));
		free(text);
	}
	*ret_result = json_pack("{s:o}", "asks", list);
	return *ret_result ? 0 : -ENOMEM;
}

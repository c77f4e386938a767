// SPDX-License-Identifier: MIT
/* Requests about single pups of a whelping: whelping.pup and whelping.score, and the bare word `new`. */
#include "daemon/desk/bedside.h"
#include "daemon/desk/whelping.h"
#include "daemon/litter/apgar.h"
#include "daemon/log.h"
#include "daemon/store/bedside.h"
#include <errno.h>
#include <strings.h>

/* A birth isn't told earlier than this before its whelping was begun: else it is a slip in the date. Ours. */
#define EARLIEST_MS (INT64_C(3) * 24 * 3600 * 1000)

/* ---- whelping.pup ---- */

enum { LITTER, NAME, SEX, COLLAR, BIRTH, ASK, AT, STILLBORN, BY, PUP_VALUES };

struct pup {
	struct open_whelping *whelping;
	const struct roster_litter *litter;
	const char *name; /* told, or number */
	char number[16];
	char animal_id[UUID7_SIZE]; /* "": stillborn */
	char sex;
	bool stillborn, weighed; /* by an ask */
	struct ask ask;
	int64_t born_ms, mass_mg, step_mg;
	int n;            /* births so far, this one counted */
	int64_t after_ms; /* the birth before it; INT64_MIN: it is the first */
};

static int check_values(const struct rpc_value *values, struct pup *pup, struct rpc_refusal *refusal)
{
	const char *sex = values[SEX].text, *stillborn = values[STILLBORN].text;

	pup->stillborn = stillborn && strcmp(stillborn, "yes") == 0;
	if (stillborn && !pup->stillborn && strcmp(stillborn, "no") != 0)
		return rpc_refuse(refusal, "bad-value", "Say yes, or leave it out.", "stillborn: \"%.20s\"?",
				  stillborn);
	if (sex && strcmp(sex, "f") != 0 && strcmp(sex, "m") != 0)
		return rpc_refuse(refusal, "bad-value", "Say f or m, or leave it out.", "\"%.20s\" is no sex", sex);
	if (pup->stillborn && (values[NAME].text || values[COLLAR].text))
		return rpc_refuse(refusal, "bad-value", "Leave name and collar out; its sex and weight are kept.",
				  "a stillborn pup is kept without a name");
	pup->sex = sex ? *sex : 0;
	if (values[BIRTH].given && values[BIRTH].mass_mg <= 0)
		return rpc_refuse(refusal, "bad-value", "Leave it out until it is weighed.",
				  "that is no weight of a pup");
	if (values[BIRTH].given && values[ASK].given)
		return rpc_refuse(refusal, "bad-value", "Give the weight, or the ask that has it.",
				  "two birth weights are told");
	return 0;
}

/* Only what is still open: what was answered is another's. */
static int check_ask(struct desk *desk, const struct rpc_value *ask, struct pup *pup, struct rpc_refusal *refusal)
{
	const struct ask *open;

	if (!ask->given)
		return 0;
	desk_prune_asks(desk);
	open = asks_find(&desk->asks, ask->text);
	if (!open)
		return rpc_refuse(refusal, "no-open-ask", "Put the pup on the scale, or type its weight.",
				  "no open question%s%.40s%s", *ask->text ? " has an id that ends in \"" : "",
				  ask->text, *ask->text ? "\"" : "");
	if (open->net_mg <= 0)
		return rpc_refuse(refusal, "bad-value", "Weigh it again.", "that is no weight of a pup");
	pup->weighed = true;
	pup->ask = *open;
	pup->mass_mg = open->net_mg;
	pup->step_mg = open->step_mg;
	return 0;
}

static int check_time(const struct rpc_value *at, struct store_stamp *stamp, struct pup *pup,
		      struct rpc_refusal *refusal)
{
	int r = bedside_time(at, stamp, &pup->born_ms, refusal);

	if (r != 0)
		return r;
	if (!at->given && pup->weighed && pup->ask.at_ms < pup->born_ms)
		pup->born_ms = pup->ask.at_ms; /* it lay on the scale then */
	if (pup->born_ms < pup->whelping->at_ms - EARLIEST_MS)
		return rpc_refuse(refusal, "bad-value", "Give the time with its date, or use `bismar animal add`.",
				  "that is more than three days before this whelping was begun");
	return 0;
}

struct counting {
	int n;
	int64_t at_ms, last_ms; /* the last one up to at_ms */
};

static int count_row(void *userdata, const struct store_birth_row *row)
{
	struct counting *counting = userdata;

	counting->n++;
	if (row->born_ms <= counting->at_ms)
		counting->last_ms = row->born_ms;
	return 0;
}

static int count(struct desk *desk, struct pup *pup)
{
	struct counting counting = { .at_ms = pup->born_ms, .last_ms = INT64_MIN };
	int r = store_each_birth(desk->store, pup->litter->id, count_row, &counting);

	pup->n = counting.n + 1;
	pup->after_ms = counting.last_ms;
	return r;
}

/* As it was told, else its collar, else "pup 3", or the next that is free. */
static void name_it(struct desk *desk, const struct rpc_value *values, struct pup *pup)
{
	int n = pup->n;

	if (values[NAME].text && *values[NAME].text)
		pup->name = values[NAME].text;
	else if (values[COLLAR].text && *values[COLLAR].text)
		pup->name = values[COLLAR].text;
	else {
		do
			(void)snprintf(pup->number, sizeof pup->number, "pup %d", n++);
		while (roster_taken(&desk->roster, pup->litter->id, pup->number));
		pup->name = pup->number;
	}
}

/* By the request that adds any animal, so that the same checks hold. Its values are in the order of methods.c. */
static int add_animal(struct desk *desk, const struct rpc_caller *caller, const struct rpc_value *values,
		      struct pup *pup, struct rpc_refusal *refusal)
{
	const struct rpc_value animal[] = {
		{ .given = true, .text = pup->name },
		{ .given = true, .text = pup->litter->name },
		values[COLLAR],
		values[SEX],
		{ .given = pup->mass_mg > 0, .mass_mg = pup->mass_mg, .step_mg = pup->step_mg },
		{ .given = true, .time_ms = pup->born_ms, .offset_min = values[AT].offset_min },
		{ .given = false },
		values[BY],
	};
	json_t *added = NULL;
	int r = desk_animal_add(desk, caller, animal, &added, refusal);

	if (r == 0)
		(void)snprintf(pup->animal_id, sizeof pup->animal_id, "%s",
			       json_string_value(json_object_get(added, "animal")));
	json_decref(added);
	return r;
}

/* The question is answered by the birth. That it can't be closed is no reason to lose the birth. */
static void close_ask(struct desk *desk, const struct rpc_caller *caller, const struct rpc_value *by,
		      const struct pup *pup)
{
	struct rpc_refusal refusal = { 0 };
	char why[ROSTER_TEXT + 32];

	if (!pup->weighed)
		return;
	(void)snprintf(why, sizeof why, "birth weight of %s", pup->stillborn ? "a stillborn pup" : pup->name);
	if (desk_aside(desk, caller, pup->ask.id, why, by->text, NULL, &refusal) != 0)
		log_warning("the weighing of a birth stays an open question, ignoring");
	json_decref(refusal.data);
}

static json_t *pup_json(const struct pup *pup)
{
	bool alive = !pup->stillborn;

	return json_pack(
		"{s:o, s:o, s:s, s:i, s:o, s:o, s:o, s:b, s:b}", "animal",
		alive ? json_string(pup->animal_id) : json_null(), "name", alive ? json_string(pup->name) : json_null(),
		"litter", pup->litter->name, "order", pup->n, "at", bedside_at(pup->born_ms), "minutes_after",
		pup->after_ms == INT64_MIN ? json_null() : json_integer((pup->born_ms - pup->after_ms) / 60000),
		"birth_g", pup->mass_mg > 0 ? json_real((double)pup->mass_mg / 1000) : json_null(), "restless",
		pup->weighed && pup->ask.restless, "stillborn", pup->stillborn);
}

/* The animal and its birth are two entries: when the ledger fails between them, it says so. */
static int add(struct desk *desk, const struct rpc_caller *caller, const struct rpc_value *values,
	       const struct store_stamp *stamp, struct pup *pup, struct rpc_refusal *refusal)
{
	struct store_birth birth = { .litter_id = pup->litter->id,
				     .weighing_id = pup->weighed ? pup->ask.id : NULL,
				     .born_ms = pup->born_ms,
				     .mass_mg = pup->mass_mg,
				     .sex = pup->sex };
	char id[UUID7_SIZE];
	int r = pup->stillborn ? 0 : add_animal(desk, caller, values, pup, refusal);

	if (r != 0)
		return r;
	birth.animal_id = pup->stillborn ? NULL : pup->animal_id;
	r = store_add_birth(desk->store, stamp, &birth, id);
	if (r > 0 && !pup->stillborn)
		return rpc_refuse(refusal, "ledger",
				  "See `bismar status`. The animal is on record, its place among the births isn't.",
				  "%s", store_outcome_text(r));
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	if (pup->born_ms > pup->whelping->last_ms)
		pup->whelping->last_ms = pup->born_ms;
	return 0;
}

DESK_METHOD(desk_whelping_pup) /* litter?, name?, sex?, collar?, birth_g?, ask?, at?, stillborn?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[BY].text);
	struct pup pup = { .mass_mg = values[BIRTH].given ? values[BIRTH].mass_mg : 0,
			   .step_mg = values[BIRTH].step_mg };
	int r = whelping_find(desk, values[LITTER].text, &pup.whelping, refusal);

	if (r == 0)
		r = check_values(values, &pup, refusal);
	if (r == 0)
		r = check_ask(desk, &values[ASK], &pup, refusal);
	if (r == 0)
		r = check_time(&values[AT], &stamp, &pup, refusal);
	if (r != 0)
		return r;
	pup.litter = roster_litter_by_id(&desk->roster, pup.whelping->litter_id);
	r = count(desk, &pup);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	name_it(desk, values, &pup);
	r = add(desk, caller, values, &stamp, &pup, refusal);
	if (r != 0)
		return r;
	close_ask(desk, caller, &values[BY], &pup);
	*ret_result = pup_json(&pup);
	return *ret_result ? 0 : -ENOMEM;
}

/* ---- the word ---- */

bool births_means_new(struct desk *desk, const char *word)
{
	struct roster_animal *animal, *other;

	return strcasecmp(word, "new") == 0 && desk->whelpings &&
	       roster_animal(&desk->roster, word, &animal, &other) == ROSTER_NOBODY;
}

int births_new(struct desk *desk, const struct rpc_caller *caller, json_t **ret_result, struct rpc_refusal *refusal)
{
	const struct rpc_value values[PUP_VALUES] = { [ASK] = { .given = true, .text = "" } };

	return desk_whelping_pup(desk, caller, values, ret_result, refusal);
}

/* ---- whelping.score ---- */

static json_t *items_json(const uint8_t points[APGAR_ITEMS])
{
	json_t *list = json_array();

	for (int i = 0; i < APGAR_ITEMS; i++) {
		const struct apgar_row *row = apgar_row((enum apgar_item)i);
		(void)json_array_append_new(list, json_pack("{s:s, s:i, s:s}", "item", row->word, "points", points[i],
							    "plain", row->points[points[i]]));
	}
	return list;
}

DESK_METHOD(desk_whelping_score) /* animal, points, at?, by? */
{
	static const char *const classes[] = { [APGAR_LOW] = "low", [APGAR_MIDDLE] = "middle", [APGAR_HIGH] = "high" };
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[3].text);
	uint8_t points[APGAR_ITEMS] = { 0 };
	char digits[APGAR_ITEMS + 1] = "";
	struct roster_animal *animal;
	int64_t at_ms = 0;
	int sum, r = desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r == 0 && apgar_parse(values[1].text, points) != 0)
		r = rpc_refuse(refusal, "bad-value",
			       "Five digits 0 to 2: heart, breathing, reflex, motion, colour; \"21222\".",
			       "\"%.40s\" is no score", values[1].text);
	if (r == 0)
		r = bedside_time(&values[2], &stamp, &at_ms, refusal);
	if (r != 0)
		return r;
	for (int i = 0; i < APGAR_ITEMS; i++)
		digits[i] = (char)('0' + points[i]);
	r = store_add_score(desk->store, &stamp, animal->id, at_ms, digits);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	sum = apgar_sum(points);
	*ret_result = json_pack("{s:s, s:s, s:s, s:i, s:s, s:o, s:s}", "animal", animal->id, "name", animal->name,
				"points", digits, "score", sum, "class", classes[apgar_class(sum)], "items",
				items_json(points), "say", apgar_text(apgar_class(sum)));
	return *ret_result ? 0 : -ENOMEM;
}

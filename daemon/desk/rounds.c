// SPDX-License-Identifier: MIT
#include "daemon/desk/rounds.h"
#include "daemon/desk/exchanges.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>

struct open_round {
	struct open_round *next;
	char id[UUID7_SIZE], litter_id[UUID7_SIZE];
	char fed[8]; /* "": not told */
	int64_t at_ms;
	bool ended; /* kept for what looks exchanged in it, until the next round of the litter begins */
	int64_t ended_ms; /* with ended */
	struct exchanges exchanges; /* told of it, once it has ended */
};

static struct open_round *find(struct desk *desk, const char *litter_id, bool ended)
{
	struct open_round *round = desk->rounds;

	while (round && (strcmp(round->litter_id, litter_id) != 0 || round->ended != ended))
		round = round->next;
	return round;
}

static void drop(struct desk *desk, struct open_round *round)
{
	struct open_round **at = &desk->rounds;

	while (*at && *at != round)
		at = &(*at)->next;
	if (*at)
		*at = round->next;
	free(round);
}

static struct open_round *add(struct desk *desk, const char *id, const char *litter_id, const char *fed, int64_t at_ms)
{
	struct open_round *round = calloc(1, sizeof *round), *old = find(desk, litter_id, true);

	if (!round)
		return NULL;
	if (old)
		drop(desk, old);
	(void)snprintf(round->id, sizeof round->id, "%s", id);
	(void)snprintf(round->litter_id, sizeof round->litter_id, "%s", litter_id);
	(void)snprintf(round->fed, sizeof round->fed, "%s", fed ? fed : "");
	round->at_ms = at_ms;
	round->next = desk->rounds;
	desk->rounds = round;
	return round;
}

static int open_row(void *userdata, const struct store_round_row *row)
{
	struct desk *desk = userdata;
	struct open_round *round;

	if (!roster_litter_by_id(&desk->roster, row->litter_id) && row->ended_ms != INT64_MIN)
		return 0; /* it has left */
	round = add(desk, row->id, row->litter_id, row->fed, row->at_ms);
	if (!round)
		return -ENOMEM;
	round->ended = row->ended_ms != INT64_MIN;
	round->ended_ms = row->ended_ms;
	return 0;
}

int rounds_load(struct desk *desk)
{
	return store_each_round(desk->store, open_row, desk);
}

void rounds_done(struct desk *desk)
{
	while (desk->rounds)
		drop(desk, desk->rounds);
}

const char *rounds_fed(struct desk *desk, const char *litter_id, int64_t at_ms)
{
	const struct open_round *round = find(desk, litter_id, false);

	return round && round->fed[0] && at_ms >= round->at_ms ? round->fed : NULL;
}

/* ---- who is left ---- */

static bool is_left(const struct roster_animal *animal, const struct open_round *round)
{
	return strcmp(animal->litter_id, round->litter_id) == 0 &&
	       (animal->newest_mg <= 0 || animal->newest_at_ms < round->at_ms);
}

static size_t count_left(const struct desk *desk, const struct open_round *round)
{
	size_t n = 0;

	for (size_t i = 0; i < desk->roster.n_animals; i++)
		n += is_left(&desk->roster.animals[i], round);
	return n;
}

static json_t *left_json(const struct desk *desk, const struct open_round *round)
{
	json_t *list = json_array();

	for (size_t i = 0; i < desk->roster.n_animals; i++)
		if (is_left(&desk->roster.animals[i], round))
			(void)json_array_append_new(list, json_string(desk->roster.animals[i].name));
	return list;
}

static json_t *round_json(struct desk *desk, const struct open_round *round)
{
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, round->litter_id);
	char at[QUANTITY_RFC3339_SIZE];

	quantity_rfc3339_utc(at, round->at_ms);
	return json_pack("{s:s, s:s, s:s, s:o, s:o, s:b}", "round", round->id, "litter", litter ? litter->name : "?", "begun",
			 at, "fed", round->fed[0] ? json_string(round->fed) : json_null(), "left", left_json(desk, round),
			 "ended", round->ended);
}

enum who_turn rounds_turn(struct desk *desk, const struct roster_animal *animal, int64_t at_ms)
{
	const struct open_round *own = find(desk, animal->litter_id, false);

	if (own && at_ms >= own->at_ms)
		return is_left(animal, own) ? WHO_TURN_LEFT : WHO_TURN_HAD;
	for (const struct open_round *round = desk->rounds; round; round = round->next)
		if (!round->ended && at_ms >= round->at_ms)
			return WHO_TURN_OUTSIDE;
	return WHO_TURN_RECENT;
}

/* ---- its end ---- */

static json_t *look_exchanged(struct desk *desk, struct open_round *round)
{
	return exchanges_look(desk, round->litter_id, round->at_ms, round->ended ? round->ended_ms : INT64_MAX,
			      &round->exchanges);
}

/* 0 and the round told of; else as store calls return. */
static int end(struct desk *desk, const struct store_stamp *stamp, struct open_round *round, const char *why,
	       json_t **ret_result)
{
	int r = store_end_round(desk->store, stamp, round->id, why);
	json_t *told;
	size_t n;
	char text[256];

	if (r != 0)
		return r;
	round->ended = true;
	round->ended_ms = stamp->at_ms;
	told = round_json(desk, round);
	if (told)
		(void)json_object_set_new(told, "exchanges", look_exchanged(desk, round));
	n = round->exchanges.n;
	(void)snprintf(text, sizeof text, "round: ended (%s)%s", why,
		       n ? "; readings look exchanged, see `bismar round`" : "");
	desk_tell(desk, PROMPT_ROUND, json_incref(told), text);
	if (ret_result)
		*ret_result = told;
	else
		json_decref(told);
	return 0;
}

void rounds_recorded(struct desk *desk, const char *litter_id)
{
	struct open_round *round = find(desk, litter_id, false);
	struct store_stamp stamp = desk_stamp("bismard", NULL);

	if (round && count_left(desk, round) == 0 && end(desk, &stamp, round, "complete", NULL) != 0)
		log_warning("the end of a round can't be noted in the ledger, ignoring");
}

void rounds_lapse(struct desk *desk)
{
	int64_t before_ms = clock_now_ms() - ROUNDS_LAPSE_MS;
	struct store_stamp stamp = desk_stamp("bismard", NULL);

	for (struct open_round *round = desk->rounds; round; round = round->next)
		if (!round->ended && round->at_ms < before_ms && end(desk, &stamp, round, "lapsed", NULL) != 0)
			log_warning("the end of a round can't be noted in the ledger, ignoring");
}

/* ---- requests ---- */

/* Which rounds a request is about when it names no litter: of several litters the one that has such a round. */
enum meant { ANY_LITTER, OPEN_ROUND, ENDED_ROUND };

static bool means(struct desk *desk, const struct roster_litter *litter, enum meant meant)
{
	switch (meant) {
	case ANY_LITTER:
		return true;
	case OPEN_ROUND:
		return find(desk, litter->id, false) != NULL;
	case ENDED_ROUND:
		return find(desk, litter->id, true) && find(desk, litter->id, true)->exchanges.n > 0;
	}
	return false;
}

static struct roster_litter *only_litter(struct desk *desk, enum meant meant)
{
	struct roster_litter *only = NULL;

	if (desk->roster.n_litters == 1)
		return &desk->roster.litters[0];
	for (size_t i = 0; i < desk->roster.n_litters; i++) {
		if (!means(desk, &desk->roster.litters[i], meant))
			continue;
		if (only)
			return NULL;
		only = &desk->roster.litters[i];
	}
	return only;
}

static int find_litter(struct desk *desk, const char *name, enum meant meant, struct roster_litter **ret,
		       struct rpc_refusal *refusal)
{
	*ret = name && *name ? roster_litter(&desk->roster, name) : only_litter(desk, meant);
	if (*ret)
		return 0;
	if (name && *name)
		return rpc_refuse(refusal, "not-found", "`bismar litter list` shows the litters.", "no open litter is called \"%s\"",
				  name);
	return rpc_refuse(refusal, "ambiguous", "Name the litter; `bismar litter list` shows them.", "which litter?");
}

DESK_METHOD(desk_round_begin) /* litter?, fed?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[2].text);
	const char *fed = values[1].text && *values[1].text ? values[1].text : NULL;
	struct open_round *round;
	struct roster_litter *litter;
	char id[UUID7_SIZE];
	int r = find_litter(desk, values[0].text, ANY_LITTER, &litter, refusal);

	if (r == 0 && fed && strcmp(fed, "before") != 0 && strcmp(fed, "after") != 0)
		r = rpc_refuse(refusal, "bad-value", "Say before or after, or leave it out.", "\"%.20s\" is no time of feeding", fed);
	if (r == 0 && find(desk, litter->id, false))
		r = rpc_refuse(refusal, "exists", "`bismar round end` ends it.", "a round of litter %s is open already",
			       litter->name);
	if (r != 0)
		return r;
	r = store_begin_round(desk->store, &stamp, litter->id, fed, id);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	round = add(desk, id, litter->id, fed, stamp.at_ms);
	if (!round)
		return -ENOMEM; /* in the ledger, and there after a restart */
	*ret_result = round_json(desk, round);
	desk_tell(desk, PROMPT_ROUND, json_incref(*ret_result), "round: begun");
	return *ret_result ? 0 : -ENOMEM;
}

DESK_METHOD(desk_round_end) /* litter?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct open_round *round;
	struct roster_litter *litter;
	int r = find_litter(desk, values[0].text, OPEN_ROUND, &litter, refusal);

	if (r != 0)
		return r;
	round = find(desk, litter->id, false);
	if (!round)
		return rpc_refuse(refusal, "no-round", "`bismar round begin` begins one.", "no round of litter %s is open",
				  litter->name);
	r = end(desk, &stamp, round, "asked", ret_result);
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

DESK_METHOD(desk_round) /* litter? */
{
	struct desk *desk = userdata;
	json_t *list = json_array();

	(void)caller;
	if (values[0].text && *values[0].text && !roster_litter(&desk->roster, values[0].text)) {
		json_decref(list);
		return rpc_refuse(refusal, "not-found", "`bismar litter list` shows the litters.",
				  "no open litter is called \"%s\"", values[0].text);
	}
	for (struct open_round *round = desk->rounds; round; round = round->next) {
		const struct roster_litter *litter = roster_litter_by_id(&desk->roster, round->litter_id);
		json_t *one;
		if (!litter || (values[0].text && *values[0].text && litter != roster_litter(&desk->roster, values[0].text)))
			continue;
		one = round_json(desk, round);
		if (one && round->ended)
			(void)json_object_set_new(one, "exchanges", look_exchanged(desk, round));
		(void)json_array_append_new(list, one);
	}
	*ret_result = json_pack("{s:o}", "rounds", list);
	return *ret_result ? 0 : -ENOMEM;
}

/* The readings that were told are looked at again: what was corrected meanwhile isn't turned round. */
static bool still_so(struct desk *desk, struct open_round *round, const struct exchange *told)
{
	json_decref(look_exchanged(desk, round));
	return round->exchanges.n > 0 && memcmp(&round->exchanges.told[0], told, sizeof *told) == 0;
}

DESK_METHOD(desk_round_exchange) /* litter?, by?: takes the first exchange that the ended round told */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct open_round *round;
	struct roster_litter *litter;
	struct exchange told;
	int r = find_litter(desk, values[0].text, ENDED_ROUND, &litter, refusal);

	if (r != 0)
		return r;
	round = find(desk, litter->id, true);
	if (!round || round->exchanges.n == 0)
		return rpc_refuse(refusal, "no-exchange",
				  "`bismar round` looks; `bismar correct READING WHO` corrects one reading.",
				  "nothing was told as exchanged in the last round of litter %s", litter->name);
	told = round->exchanges.told[0];
	if (!still_so(desk, round, &told))
		return rpc_refuse(refusal, "no-exchange", "Look at `bismar round` again.",
				  "readings of that round have changed since it was told");
	r = store_exchange(desk->store, &stamp, (const char(*)[UUID7_SIZE])told.readings,
			   (const char(*)[UUID7_SIZE])told.animals, told.n);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	for (size_t i = 0; i < told.n; i++) {
		desk_refresh_animal(desk, told.animals[i]);
		desk_tell_corrected(desk, told.readings[i], values[1].text ? values[1].text : caller->peer);
	}
	models_changed(desk, told.animals[0]);
	*ret_result = json_pack("{s:s, s:i, s:o}", "litter", litter->name, "corrected", (int)told.n, "exchanges",
				look_exchanged(desk, round));
	return *ret_result ? 0 : -ENOMEM;
}

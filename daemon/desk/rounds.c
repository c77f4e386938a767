// SPDX-License-Identifier: MIT
#include "daemon/desk/rounds.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/litter/round.h"
#include "daemon/log.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>
#include <math.h>

#define ROUND_READINGS (2 * GROWTH_ANIMALS) /* of one round that are looked at */
#define ROUND_TOLD 4                        /* exchanges that are told of one round */

struct open_round {
	struct open_round *next;
	char id[UUID7_SIZE], litter_id[UUID7_SIZE];
	char fed[8]; /* "": not told */
	int64_t at_ms;
	bool ended; /* kept for what looks exchanged in it, until the next round of the litter begins */
	int64_t ended_ms; /* with ended */
	struct told_exchange {
		size_t n;
		char readings[GROWTH_ANIMALS][UUID7_SIZE], animals[GROWTH_ANIMALS][UUID7_SIZE];
	} told[ROUND_TOLD];
	size_t n_told;
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

/* ---- what looks exchanged ---- */

struct gathering {
	struct desk *desk;
	const struct model *model;
	int64_t until_ms;
	struct round_reading readings[ROUND_READINGS];
	char ids[ROUND_READINGS][UUID7_SIZE];
	size_t n;
};

static int gather_row(void *userdata, const struct store_reading_row *row)
{
	struct gathering *gathering = userdata;
	int i = model_index(gathering->model, row->animal_id);

	if (i < 0 || row->at_ms > gathering->until_ms || gathering->n == ROUND_READINGS)
		return 0;
	(void)snprintf(gathering->ids[gathering->n], UUID7_SIZE, "%s", row->id);
	gathering->readings[gathering->n++] = (struct round_reading){
		.animal = (size_t)i,
		.reading = { .at_ms = row->at_ms, .mass_mg = row->net_mg, .u_mg = row->u_mg },
	};
	return 0;
}

static const char *name_of(struct desk *desk, const char *animal_id)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, animal_id);

	return animal ? animal->name : "?";
}

/* "Acorn lost 31 g, Bramble gained 34 g: exchanged, they would both be on their curve" */
static void say(struct desk *desk, const struct model *before, const struct gathering *gathering,
		const struct round_exchange *exchange, char *to, size_t size)
{
	size_t used = 0;

	for (size_t i = 0; i < exchange->n && used + 64 < size; i++) {
		const struct round_reading *reading = &gathering->readings[exchange->readings[i]];
		struct growth_prediction expected = { 0 };
		char mass[32];
		double off_g = NAN;
		if (growth_predict(&before->growth, reading->animal, reading->reading.at_ms, &expected))
			off_g = (double)reading->reading.mass_mg / 1000 - exp(expected.ln_g);
		(void)quantity_format(mass, sizeof mass, (int64_t)(fabs(isnan(off_g) ? 0 : off_g) * 1000), 1000, QUANTITY_GRAMS);
		used += (size_t)snprintf(to + used, size - used, "%s%s is %s %s than expected", i ? ", " : "",
					 name_of(desk, before->animals[reading->animal]), mass, off_g < 0 ? "lighter" : "heavier");
	}
	if (used < size)
		(void)snprintf(to + used, size - used, ": exchanged, all would be on their curve");
}

static json_t *exchange_json(struct desk *desk, struct open_round *round, const struct model *before,
			     const struct gathering *gathering, const struct round_exchange *exchange)
{
	struct told_exchange *told = &round->told[round->n_told++];
	json_t *corrections = json_array();
	char text[512];

	*told = (struct told_exchange){ .n = exchange->n };
	for (size_t i = 0; i < exchange->n; i++) {
		const char *reading = gathering->ids[exchange->readings[i]], *to = before->animals[exchange->animals[i]];
		(void)snprintf(told->readings[i], UUID7_SIZE, "%s", reading);
		(void)snprintf(told->animals[i], UUID7_SIZE, "%s", to);
		(void)json_array_append_new(
			corrections,
			json_pack("{s:s, s:s, s:s, s:s}", "reading", reading, "animal", to, "name", name_of(desk, to), "was",
				  name_of(desk, before->animals[gathering->readings[exchange->readings[i]].animal])));
	}
	say(desk, before, gathering, exchange, text, sizeof text);
	return json_pack("{s:s, s:f, s:o}", "say", text, "ln_ratio", exchange->ln_ratio, "corrections", corrections);
}

static json_t *exchanges(struct desk *desk, struct open_round *round)
{
	struct model *model = model_of(desk, round->litter_id);
	struct model *before = model ? model_until(desk, model, round->at_ms) : NULL;
	struct gathering *gathering = calloc(1, sizeof *gathering);
	struct round_exchange found[ROUND_TOLD];
	json_t *list = json_array();
	size_t n = 0;

	round->n_told = 0;
	if (before && gathering) {
		gathering->model = before;
		gathering->until_ms = round->ended ? round->ended_ms : INT64_MAX;
		if (store_each_reading(desk->store, round->litter_id, round->at_ms, gather_row, gathering) == 0)
			n = round_exchanges(&before->growth, gathering->readings, gathering->n, found, ROUND_TOLD);
	}
	for (size_t i = 0; i < n; i++)
		(void)json_array_append_new(list, exchange_json(desk, round, before, gathering, &found[i]));
	free(gathering);
	free(before);
	return list;
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
		(void)json_object_set_new(told, "exchanges", exchanges(desk, round));
	n = round->n_told;
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
		return find(desk, litter->id, true) && find(desk, litter->id, true)->n_told > 0;
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
	struct open_round *round = NULL;
	struct roster_litter *litter;
	int r = find_litter(desk, values[0].text, OPEN_ROUND, &litter, refusal);

	if (r == 0 && !(round = find(desk, litter->id, false)))
		r = rpc_refuse(refusal, "no-round", "`bismar round begin` begins one.", "no round of litter %s is open",
			       litter->name);
	if (r != 0)
		return r;
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
			(void)json_object_set_new(one, "exchanges", exchanges(desk, round));
		(void)json_array_append_new(list, one);
	}
	*ret_result = json_pack("{s:o}", "rounds", list);
	return *ret_result ? 0 : -ENOMEM;
}

/* The readings that were told are looked at again: what was corrected meanwhile isn't turned round. */
static bool still_so(struct desk *desk, struct open_round *round, const struct told_exchange *told)
{
	json_decref(exchanges(desk, round));
	return round->n_told > 0 && memcmp(&round->told[0], told, sizeof *told) == 0;
}

DESK_METHOD(desk_round_exchange) /* litter?, by?: takes the first exchange that the ended round told */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct open_round *round = NULL;
	struct roster_litter *litter;
	struct told_exchange told;
	int r = find_litter(desk, values[0].text, ENDED_ROUND, &litter, refusal);

	if (r == 0 && (!(round = find(desk, litter->id, true)) || round->n_told == 0))
		r = rpc_refuse(refusal, "no-exchange", "`bismar round` looks; `bismar correct READING WHO` corrects one reading.",
			       "nothing was told as exchanged in the last round of litter %s", litter->name);
	if (r != 0)
		return r;
	told = round->told[0];
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
				exchanges(desk, round));
	return *ret_result ? 0 : -ENOMEM;
}

// SPDX-License-Identifier: MIT
/* Requests about whelping: births in their order, birth weights off the scale, the newborn score. */
#include "daemon/desk/whelping.h"
#include "daemon/desk/bedside.h"
#include "daemon/litter/apgar.h"
#include "daemon/log.h"
#include "daemon/store/bedside.h"
#include <errno.h>

#define NO_RULE "How long without a pup is too long: ask your vet beforehand. In doubt, call at once. " BEDSIDE_NO_VET

/* ---- in memory ---- */

static struct open_whelping *find(struct desk *desk, const char *litter_id)
{
	struct open_whelping *one = desk->whelpings;

	while (one && strcmp(one->litter_id, litter_id) != 0)
		one = one->next;
	return one;
}

static int last_row(void *userdata, const struct store_birth_row *row)
{
	struct open_whelping *one = userdata;

	if (row->born_ms > one->last_ms)
		one->last_ms = row->born_ms;
	return 0;
}

/* The newest whelping of a litter takes the place of the one before. 0, -ENOMEM, or the store's outcome. */
static int keep(struct desk *desk, const char *id, const char *litter_id, int64_t at_ms, bool ended,
		struct open_whelping **ret)
{
	struct open_whelping *one = find(desk, litter_id);
	int r;

	if (!one) {
		one = calloc(1, sizeof *one);
		if (!one)
			return -ENOMEM;
		one->next = desk->whelpings;
		desk->whelpings = one;
		(void)snprintf(one->litter_id, sizeof one->litter_id, "%s", litter_id);
	}
	(void)snprintf(one->id, sizeof one->id, "%s", id);
	one->at_ms = at_ms;
	one->ended = ended;
	one->last_ms = INT64_MIN;
	r = store_each_birth(desk->store, litter_id, last_row, one);
	*ret = one;
	return r;
}

struct loading {
	struct desk *desk;
	struct loaded {
		struct loaded *next;
		char id[UUID7_SIZE], litter_id[UUID7_SIZE];
		int64_t at_ms;
		bool ended;
	} * list; /* the last first: one walk can't begin within another */
};

static int load_row(void *userdata, const struct store_whelping_row *row)
{
	struct loading *loading = userdata;
	struct loaded *one;

	if (!roster_litter_by_id(&loading->desk->roster, row->litter_id))
		return 0; /* it has left; an open whelping of it means nothing any more */
	one = calloc(1, sizeof *one);
	if (!one)
		return -ENOMEM;
	(void)snprintf(one->id, sizeof one->id, "%s", row->id);
	(void)snprintf(one->litter_id, sizeof one->litter_id, "%s", row->litter_id);
	one->at_ms = row->at_ms;
	one->ended = row->ended;
	one->next = loading->list;
	loading->list = one;
	return 0;
}

int whelping_load(struct desk *desk)
{
	struct loading loading = { .desk = desk };
	int r = store_each_whelping(desk->store, load_row, &loading);

	while (loading.list) {
		struct loaded *one = loading.list;
		struct open_whelping *kept;
		loading.list = one->next;
		if (r == 0)
			r = keep(desk, one->id, one->litter_id, one->at_ms, one->ended, &kept);
		free(one);
	}
	return r;
}

void whelping_done(struct desk *desk)
{
	while (desk->whelpings) {
		struct open_whelping *one = desk->whelpings;
		desk->whelpings = one->next;
		free(one);
	}
}

static bool lapsed(const struct open_whelping *one, int64_t now_ms)
{
	return one->at_ms < now_ms - WHELPING_LAPSE_MS && one->last_ms < now_ms - WHELPING_LAPSE_MS;
}

static bool is_open(const struct open_whelping *one)
{
	return !one->ended && !lapsed(one, clock_now_ms());
}

/* 0, or as store calls return. */
static int end(struct desk *desk, const struct store_stamp *stamp, struct open_whelping *one)
{
	int r = store_end_whelping(desk->store, stamp, one->id);

	if (r == 0)
		one->ended = true;
	return r;
}

void whelping_lapse(struct desk *desk)
{
	struct store_stamp stamp = desk_stamp("bismard", NULL);

	for (struct open_whelping *one = desk->whelpings; one; one = one->next)
		if (!one->ended && lapsed(one, stamp.at_ms) && end(desk, &stamp, one) != 0)
			log_warning("the end of a whelping can't be noted in the ledger, ignoring");
}

/* The only open one. Litters that were closed meanwhile don't count. */
static struct open_whelping *only_open(struct desk *desk, size_t *ret_n)
{
	struct open_whelping *only = NULL;

	*ret_n = 0;
	for (struct open_whelping *one = desk->whelpings; one; one = one->next) {
		if (!is_open(one) || !roster_litter_by_id(&desk->roster, one->litter_id))
			continue;
		only = one;
		++*ret_n;
	}
	return *ret_n == 1 ? only : NULL;
}

const char *whelping_open(struct desk *desk)
{
	size_t n;
	const struct open_whelping *one = only_open(desk, &n);

	return one ? roster_litter_by_id(&desk->roster, one->litter_id)->name : NULL;
}

/* ---- which one a request means ---- */

static int no_such(const char *name, struct rpc_refusal *refusal)
{
	return rpc_refuse(refusal, "not-found",
			  "`bismar litter list` shows the litters; `bismar litter add` begins one.",
			  "no open litter is called \"%s\"", name);
}

int whelping_find(struct desk *desk, const char *name, struct open_whelping **ret, struct rpc_refusal *refusal)
{
	const struct roster_litter *litter = name && *name ? roster_litter(&desk->roster, name) : NULL;
	struct open_whelping *one;
	size_t n = 0;

	if (name && *name && !litter)
		return no_such(name, refusal);
	one = litter ? find(desk, litter->id) : only_open(desk, &n);
	if (one && is_open(one)) {
		*ret = one;
		return 0;
	}
	if (!litter && n > 1)
		return rpc_refuse(refusal, "ambiguous", "Name the litter.", "whelpings of %zu litters are open", n);
	return rpc_refuse(refusal, "no-whelping", "`bismar whelping begin L` begins one.", "no whelping%s%s is open",
			  litter ? " of litter " : "", litter ? litter->name : "");
}

/* ---- what is told ---- */

static json_t *text_or_null(const char *text)
{
	return text && *text ? json_string(text) : json_null();
}

static json_t *grams_or_null(int64_t mg)
{
	return mg > 0 ? json_real((double)mg / 1000) : json_null();
}

static json_t *minutes_or_null(int64_t from_ms, int64_t to_ms)
{
	return from_ms == INT64_MIN || to_ms < from_ms ? json_null() : json_integer((to_ms - from_ms) / 60000);
}

struct telling {
	struct desk *desk;
	json_t *births, *no_weight, *no_score;
	int64_t last_ms;
	int n;
};

static int tell_row(void *userdata, const struct store_birth_row *row)
{
	struct telling *telling = userdata;
	const struct roster_animal *animal =
		row->animal_id ? roster_animal_by_id(&telling->desk->roster, row->animal_id) : NULL;
	const char sex[2] = { row->sex, '\0' };
	uint8_t points[APGAR_ITEMS];
	bool scored = row->points && apgar_parse(row->points, points) == 0;

	(void)json_array_append_new(
		telling->births,
		json_pack("{s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:b, s:b, s:o, s:o}", "order", ++telling->n, "animal",
			  text_or_null(row->animal_id), "name", text_or_null(row->name), "at", bedside_at(row->born_ms),
			  "minutes_after", minutes_or_null(telling->last_ms, row->born_ms), "sex", text_or_null(sex),
			  "birth_g", grams_or_null(row->mass_mg), "stillborn", !row->animal_id, "gone",
			  row->animal_id && !animal, "points", scored ? json_string(row->points) : json_null(), "score",
			  scored ? json_integer(apgar_sum(points)) : json_null()));
	telling->last_ms = row->born_ms;
	if (animal && row->mass_mg <= 0 && animal->newest_mg <= 0)
		(void)json_array_append_new(telling->no_weight, json_string(animal->name));
	if (animal && !scored)
		(void)json_array_append_new(telling->no_score, json_string(animal->name));
	return 0;
}

/* 0 and the whelping, or as store calls return. */
static int whelping_json(struct desk *desk, const struct open_whelping *one, json_t **ret)
{
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, one->litter_id);
	struct telling telling = { .desk = desk,
				   .births = json_array(),
				   .no_weight = json_array(),
				   .no_score = json_array(),
				   .last_ms = INT64_MIN };
	int r = store_each_birth(desk->store, one->litter_id, tell_row, &telling);

	*ret = json_pack("{s:s, s:s, s:o, s:b, s:o, s:o, s:o, s:o, s:s}", "whelping", one->id, "litter",
			 litter ? litter->name : "?", "begun", bedside_at(one->at_ms), "ended", !is_open(one), "births",
			 telling.births, "minutes_since",
			 !is_open(one) ? json_null() : minutes_or_null(telling.last_ms, clock_now_ms()), "no_weight",
			 telling.no_weight, "no_score", telling.no_score, "say", NO_RULE);
	if (r != 0) {
		json_decref(*ret);
		*ret = NULL;
	}
	return r != 0 ? r : *ret ? 0 : -ENOMEM;
}

/* ---- whelping.begin, whelping.end, whelping ---- */

DESK_METHOD(desk_whelping_begin) /* litter, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	const struct roster_litter *litter = roster_litter(&desk->roster, values[0].text);
	struct open_whelping *one;
	char id[UUID7_SIZE];
	int r;

	if (!litter)
		return no_such(values[0].text, refusal);
	whelping_lapse(desk); /* so that it can be begun anew at once */
	one = find(desk, litter->id);
	if (one && !one->ended)
		return rpc_refuse(refusal, "exists",
				  "`bismar whelping L` goes on with it; `bismar whelping end L` ends it.",
				  "a whelping of litter %s is open already", litter->name);
	r = store_begin_whelping(desk->store, &stamp, litter->id, id);
	if (r == 0)
		r = keep(desk, id, litter->id, stamp.at_ms, false, &one);
	if (r == 0)
		r = whelping_json(desk, one, ret_result);
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

DESK_METHOD(desk_whelping_end) /* litter?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	struct open_whelping *one;
	int r = whelping_find(desk, values[0].text, &one, refusal);

	if (r != 0)
		return r;
	r = end(desk, &stamp, one);
	if (r == 0)
		r = whelping_json(desk, one, ret_result);
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

DESK_METHOD(desk_whelping) /* litter? */
{
	struct desk *desk = userdata;
	const char *name = values[0].text && *values[0].text ? values[0].text : NULL;
	const struct roster_litter *litter = name ? roster_litter(&desk->roster, name) : NULL;
	json_t *list;
	int r = 0;

	(void)caller;
	if (name && !litter)
		return no_such(name, refusal);
	list = json_array();
	for (struct open_whelping *one = desk->whelpings; r == 0 && one; one = one->next) {
		const struct roster_litter *own = roster_litter_by_id(&desk->roster, one->litter_id);
		json_t *told;
		if (!own || (litter && own != litter))
			continue;
		r = whelping_json(desk, one, &told);
		if (r == 0)
			(void)json_array_append_new(list, told);
	}
	if (r != 0) {
		json_decref(list);
		return desk_refuse_ledger(r, refusal);
	}
	*ret_result = json_pack("{s:o}", "whelpings", list);
	return *ret_result ? 0 : -ENOMEM;
}

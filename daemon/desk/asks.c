// SPDX-License-Identifier: MIT
#include "daemon/desk/asks.h"
#include "daemon/desk/clock.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/roster.h"
#include "daemon/desk/rounds.h"
#include "daemon/desk/whelping.h"
#include "daemon/litter/who.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>
#include <math.h>

struct ask ask_of(const struct store_weighing_row *row)
{
	int64_t age_ms = clock_now_ms() - row->received_ms;
	struct ask ask = {
		.at_ms = row->at_ms,
		.received_ms = row->received_ms,
		.opened_ms = clock_boot_ms() - (age_ms > 0 ? age_ms : 0),
		.gross_mg = row->gross_mg,
		.tare_mg = row->tare_mg,
		.net_mg = row->net_mg,
		.u_mg = row->u_mg,
		.step_mg = row->step_mg,
		.restless = row->restless,
	};

	(void)snprintf(ask.id, sizeof ask.id, "%s", row->id);
	(void)snprintf(ask.scale_id, sizeof ask.scale_id, "%s", row->scale_id ? row->scale_id : "");
	(void)snprintf(ask.container_id, sizeof ask.container_id, "%s", row->container_id ? row->container_id : "");
	return ask;
}

int asks_reserve(struct asks *asks)
{
	asks->list = reallocarray(NULL, LIMIT_OPEN_ASKS + 1, sizeof *asks->list);
	if (!asks->list)
		return -ENOMEM;
	asks->room = LIMIT_OPEN_ASKS + 1;
	return 0;
}

int asks_add(struct asks *asks, const struct ask *ask)
{
	if (asks->n == asks->room) {
		size_t room = asks->room ? asks->room * 2 : 4;
		struct ask *list = reallocarray(asks->list, room, sizeof *list);
		if (!list)
			return -ENOMEM;
		asks->list = list;
		asks->room = room;
	}
	asks->list[asks->n++] = *ask;
	return 0;
}

static bool ends_in(const char *id, const char *tail)
{
	size_t n = strlen(id), n_tail = strlen(tail);

	return n_tail >= 4 && n_tail <= n && strcmp(id + n - n_tail, tail) == 0;
}

const struct ask *asks_find(const struct asks *asks, const char *id_or_tail)
{
	const struct ask *found = NULL;

	if (!id_or_tail || !*id_or_tail)
		return asks->n ? &asks->list[0] : NULL;
	for (size_t i = 0; i < asks->n; i++) {
		if (!ends_in(asks->list[i].id, id_or_tail))
			continue;
		if (found)
			return NULL;
		found = &asks->list[i];
	}
	return found;
}

void asks_remove(struct asks *asks, const char *id)
{
	for (size_t i = 0; i < asks->n; i++) {
		if (strcmp(asks->list[i].id, id) != 0)
			continue;
		memmove(&asks->list[i], &asks->list[i + 1], (asks->n - i - 1) * sizeof *asks->list);
		asks->n--;
		return;
	}
}

void asks_done(struct asks *asks)
{
	free(asks->list);
	*asks = (struct asks){ 0 };
}

/* What the growth model expects of it; it looks ahead only, so a stored weighing is ranked by the newest mass. */
static void predict(struct desk *desk, const struct roster_animal *animal, int64_t at_ms, struct who_animal *ret)
{
	const struct model *model = model_of(desk, animal->litter_id);
	int i = model ? model_index(model, animal->id) : -1;
	struct growth_prediction prediction;
	struct growth_state state;

	if (i < 0 || (model->newest_ms != INT64_MIN && at_ms < model->newest_ms - GROWTH_ROUND_MS) ||
	    !growth_predict(&model->growth, (size_t)i, at_ms, &prediction))
		return;
	ret->predicted = prediction.sd > 0;
	ret->ln_g = prediction.ln_g;
	ret->sd = prediction.sd;
	if (growth_at(&model->growth, (size_t)i, at_ms, &state))
		ret->rate = state.rate;
}

/* ret_why: the reasons in words; NULL when they aren't wanted. */
static size_t suggestions(const struct ask *ask, struct desk *desk, struct who_candidate ret[LIMIT_CANDIDATES],
			  char ret_why[][WHO_WHY_SIZE])
{
	const struct roster *roster = &desk->roster;
	struct who_animal *who = reallocarray(NULL, roster->n_animals ? roster->n_animals : 1, sizeof *who);
	size_t n;

	if (!who)
		return 0; /* an ask without suggestions is still an ask */
	for (size_t i = 0; i < roster->n_animals; i++) {
		const struct roster_animal *animal = &roster->animals[i];
		bool weighed = animal->newest_mg > 0;
		who[i] = (struct who_animal){
			.newest_mg = weighed ? animal->newest_mg : animal->birth_mg,
			.newest_at_ms = weighed ? animal->newest_at_ms :
				animal->born_ms != INT64_MIN ? animal->born_ms : ask->at_ms,
			.u_mg = weighed ? animal->newest_u_mg : weigh_step_u_mg(0),
			.weighed_at_ms = weighed ? animal->newest_at_ms : INT64_MIN,
			.rate = NAN,
			.turn = rounds_turn(desk, animal, ask->at_ms),
		};
		predict(desk, animal, ask->at_ms, &who[i]);
	}
	n = who_rank(who, roster->n_animals, ask->net_mg, ask->u_mg, ask->at_ms, ret, LIMIT_CANDIDATES);
	for (size_t i = 0; ret_why && i < n; i++)
		(void)who_why(ret_why[i], sizeof ret_why[i], &who[ret[i].index], &ret[i], ask->at_ms);
	free(who);
	return n;
}

const struct roster_animal *ask_first(const struct ask *ask, struct desk *desk)
{
	struct who_candidate who[LIMIT_CANDIDATES];

	return suggestions(ask, desk, who, NULL) ? &desk->roster.animals[who[0].index] : NULL;
}

static json_t *grams(int64_t mg)
{
	return json_real((double)mg / 1000);
}

static json_t *text_or_null(const char *text)
{
	return text && *text ? json_string(text) : json_null();
}

static json_t *candidate(const struct roster_animal *animal, const struct who_candidate *who, const char *why)
{
	return json_pack("{s:s, s:s, s:o, s:o, s:o, s:f, s:s}", "animal", animal->id, "name", animal->name, "collar",
			 text_or_null(animal->collar), "expected_g",
			 who->expected_mg ? grams(who->expected_mg) : json_null(), "u_expected_g",
			 who->expected_mg ? grams(who->u_expected_mg) : json_null(), "probability", who->probability,
			 "why", why);
}

/* What a voice says and a terminal shows: the mass, and the likeliest when one stands out. */
static void question(char *to, size_t size, const struct ask *ask, const struct roster_animal *likely,
		     double probability, bool whelping)
{
	const char *new = whelping ? ", or a new pup" : "";
	char mass[32];

	(void)quantity_format(mass, sizeof mass, ask->net_mg, ask->step_mg, QUANTITY_GRAMS);
	if (likely && probability >= 0.5)
		(void)snprintf(to, size, "%s%s. Is it %s%s%s%s%s?", mass, ask->restless ? ", restless" : "", likely->name,
			       likely->collar[0] ? " (" : "", likely->collar, likely->collar[0] ? ")" : "", new);
	else
		(void)snprintf(to, size, "%s%s. Which pup is it%s?", mass, ask->restless ? ", restless" : "", new);
}

json_t *ask_params(const struct ask *ask, struct desk *desk, char **ret_text)
{
	struct roster *roster = &desk->roster;
	struct who_candidate who[LIMIT_CANDIDATES];
	char why[LIMIT_CANDIDATES][WHO_WHY_SIZE];
	size_t n = suggestions(ask, desk, who, why);
	const struct roster_scale *scale = roster_scale_by_id(roster, ask->scale_id);
	const struct roster_container *container = roster_container_by_id(roster, ask->container_id);
	const struct roster_animal *likely = n ? &roster->animals[who[0].index] : NULL;
	const struct roster_litter *litter = likely ? roster_litter_by_id(roster, likely->litter_id) : NULL;
	const char *whelping = whelping_open(desk);
	json_t *candidates = json_array();
	char at[QUANTITY_RFC3339_SIZE], say[256];
	json_t *params;

	for (size_t i = 0; i < n; i++)
		(void)json_array_append_new(candidates, candidate(&roster->animals[who[i].index], &who[i], why[i]));
	quantity_rfc3339_utc(at, ask->at_ms);
	question(say, sizeof say, ask, likely, n ? who[0].probability : 0, whelping != NULL);
	params = json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:s}", "ask", ask->id, "at", at, "scale",
			   text_or_null(scale ? scale->name : NULL), "container",
			   text_or_null(container ? container->name : NULL), "gross_g", grams(ask->gross_mg), "tare_g",
			   grams(ask->tare_mg), "net_g", grams(ask->net_mg), "u_g", grams(ask->u_mg), "state",
			   ask->restless ? "restless" : "settled", "litter", text_or_null(litter ? litter->name : NULL),
			   "whelping",
			   text_or_null(whelping), "candidates", candidates, "say", say);
	if (params && asprintf(ret_text, "ask %s: %s", ask->id + strlen(ask->id) - 4, say) < 0) {
		json_decref(params);
		return NULL;
	}
	return params;
}

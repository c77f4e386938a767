// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/watch_notes.h"

static size_t index_of(const struct watch_board *board, const char *id)
{
	size_t i = 0;

	while (i < board->n_asks && strcmp(board->asks[i].id, id) != 0)
		i++;
	return i;
}

const struct watch_ask *watch_asks_shown(const struct watch_board *board)
{
	size_t i = index_of(board, board->shown);

	return i < board->n_asks ? &board->asks[i] : NULL;
}

static void show(struct watch_board *board, const char *id, int64_t now_ms)
{
	WATCH_COPY(board->shown, id);
	board->shown_ms = now_ms;
	board->word[0] = '\0'; /* it was meant for the one before */
	board->n_word = 0;
}

void watch_asks_remove(struct watch_board *board, const char *id, int64_t now_ms)
{
	size_t i = index_of(board, id);

	if (i == board->n_asks)
		return;
	watch_board_cut(board->asks, sizeof *board->asks, &board->n_asks, i);
	if (strcmp(board->shown, id) == 0)
		show(board, board->n_asks ? board->asks[0].id : "", now_ms);
}

static void take_candidates(struct watch_ask *ask, const json_t *list)
{
	size_t i;
	json_t *entry;

	json_array_foreach(list, i, entry)
	{
		struct watch_candidate *c = &ask->candidates[ask->n_candidates];
		const json_t *probability = json_object_get(entry, "probability");
		if (ask->n_candidates == LIMIT_CANDIDATES)
			return;
		*c = (struct watch_candidate){ .probability = -1 };
		field_copy(entry, "animal", c->animal, sizeof c->animal);
		field_copy(entry, "name", c->name, sizeof c->name);
		field_copy(entry, "collar", c->collar, sizeof c->collar);
		c->expects = field_mg(entry, "expected_g", &c->expected_mg) && c->expected_mg > 0;
		(void)field_mg(entry, "u_expected_g", &c->u_expected_mg); /* stays 0 */
		if (json_is_number(probability))
			c->probability = json_number_value(probability);
		if (*c->animal)
			ask->n_candidates++;
	}
}

static void forget_recent(struct watch_board *board, const char *id)
{
	for (size_t i = board->n_recent; i-- > 0;)
		if (strcmp(board->recent[i].id, id) == 0)
			watch_board_cut(board->recent, sizeof *board->recent, &board->n_recent, i);
}

static void read_ask(const json_t *params, int64_t now_ms, struct watch_ask *ret)
{
	struct watch_ask *ask = ret;

	*ask = (struct watch_ask){ .at_ms = now_ms }; /* unless told */
	field_copy(params, "ask", ask->id, sizeof ask->id);
	field_copy(params, "scale", ask->scale, sizeof ask->scale);
	field_copy(params, "container", ask->container, sizeof ask->container);
	field_copy(params, "litter", ask->litter, sizeof ask->litter);
	field_copy(params, "whelping", ask->whelping, sizeof ask->whelping);
	(void)field_time(params, "at", &ask->at_ms);
	(void)field_mg(params, "gross_g", &ask->gross_mg);
	(void)field_mg(params, "tare_g", &ask->tare_mg);
	(void)field_mg(params, "net_g", &ask->net_mg);
	(void)field_mg(params, "u_g", &ask->u_mg);
	ask->restless = strcmp(field_text(params, "state"), "restless") == 0;
	take_candidates(ask, json_object_get(params, "candidates"));
}

bool watch_asks_take(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	struct watch_ask ask;
	size_t at;

	read_ask(params, now_ms, &ask);
	if (!*ask.id)
		return false;
	at = index_of(board, ask.id);
	if (at < board->n_asks) { /* told again, with other suggestions perhaps */
		board->asks[at] = ask;
		return true;
	}
	if (board->n_asks == LIMIT_OPEN_ASKS)
		return false; /* the daemon has no more of them */
	for (at = board->n_asks; at > 0 && board->asks[at - 1].at_ms > ask.at_ms; at--)
		board->asks[at] = board->asks[at - 1];
	board->asks[at] = ask;
	board->n_asks++;
	board->bell = true;
	forget_recent(board, ask.id);
	watch_notes_drop(board, "below", ask.scale); /* it weighs again */
	if (!*board->shown || strcmp(board->wanted, ask.id) == 0) {
		board->message[0] = '\0'; /* it was about something before */
		show(board, ask.id, now_ms);
		board->wanted[0] = '\0';
	}
	return true;
}

bool watch_asks_withdraw(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	const char *id = field_text(params, "ask");

	if (index_of(board, id) == board->n_asks)
		return false;
	if (strcmp(board->shown, id) == 0 && !board->busy)
		watch_notes_say(board, false, "That question was closed: %s.", field_text(params, "why"));
	watch_asks_remove(board, id, now_ms);
	return true;
}

bool watch_asks_recorded(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	struct watch_reading reading = { .at_ms = now_ms, .answered_ms = now_ms };
	const char *ask = field_text(params, "ask");

	field_copy(params, "reading", reading.id, sizeof reading.id);
	field_copy(params, "name", reading.name, sizeof reading.name);
	field_copy(params, "by", reading.by, sizeof reading.by);
	(void)field_time(params, "at", &reading.at_ms); /* else now */
	(void)field_mg(params, "net_g", &reading.net_mg);
	if (strcmp(board->shown, ask) == 0 && !board->busy && *ask)
		watch_notes_say(board, false, "Answered by %s: %s.", reading.by, reading.name);
	watch_asks_remove(board, ask, now_ms);
	board->stale = true;
	if (!*reading.id)
		return true;
	forget_recent(board, reading.id);
	if (board->n_recent == WATCH_RECENT)
		board->n_recent--;
	memmove(&board->recent[1], &board->recent[0], board->n_recent * sizeof *board->recent);
	board->recent[0] = reading;
	board->n_recent++;
	for (size_t i = 0; i < board->n_animals; i++) /* until the ledger is read again, or if it can't be */
		if (strcmp(board->animals[i].name, reading.name) == 0 && reading.at_ms >= board->animals[i].newest_ms) {
			board->animals[i].weighed = true;
			board->animals[i].newest_ms = reading.at_ms;
		}
	return true;
}

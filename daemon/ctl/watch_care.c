// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_care.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/watch_notes.h"
#include "daemon/ctl/watch_words.h"

/* Worst last; a level of a newer daemon is taken for the worst. */
static int rank(const char *level)
{
	return strcmp(level, "look") == 0 ? 0 : strcmp(level, "act") == 0 ? 1 : 2;
}

static void drop_concern(struct watch_board *board, const char *id)
{
	for (size_t i = board->n_concerns; i-- > 0;)
		if (strcmp(board->concerns[i].id, id) == 0)
			watch_board_cut(board->concerns, sizeof *board->concerns, &board->n_concerns, i);
}

void watch_care_worry(struct watch_board *board, const struct watch_concern *concern)
{
	size_t at = 0;

	drop_concern(board, concern->id);
	while (at < board->n_concerns && rank(board->concerns[at].level) >= rank(concern->level))
		at++;
	if (at == WATCH_CONCERNS)
		return;
	if (board->n_concerns == WATCH_CONCERNS)
		board->n_concerns--;
	memmove(&board->concerns[at + 1], &board->concerns[at], (board->n_concerns - at) * sizeof *board->concerns);
	board->concerns[at] = *concern;
	board->n_concerns++;
}

bool watch_care_concern(struct watch_board *board, const json_t *params)
{
	struct watch_concern concern = { 0 };

	field_copy(params, "concern", concern.id, sizeof concern.id);
	field_copy(params, "name", concern.name, sizeof concern.name);
	field_copy(params, "litter", concern.litter, sizeof concern.litter);
	field_copy(params, "level", concern.level, sizeof concern.level);
	field_copy(params, "text", concern.text, sizeof concern.text);
	if (!*concern.id || !*concern.text)
		return false;
	if (json_is_false(json_object_get(params, "open")))
		drop_concern(board, concern.id);
	else
		watch_care_worry(board, &concern);
	return true;
}

static void drop_round(struct watch_board *board, const char *litter)
{
	for (size_t i = board->n_rounds; i-- > 0;)
		if (strcmp(board->rounds[i].litter, litter) == 0)
			watch_board_cut(board->rounds, sizeof *board->rounds, &board->n_rounds, i);
}

static const struct watch_round *round_of(const struct watch_board *board, const char *litter)
{
	for (size_t i = 0; i < board->n_rounds; i++)
		if (strcmp(board->rounds[i].litter, litter) == 0)
			return &board->rounds[i];
	return NULL;
}

bool watch_care_weighed(const struct watch_board *board, const struct watch_animal *animal, int64_t now_ms)
{
	const struct watch_round *round = round_of(board, animal->litter);

	if (!animal->weighed)
		return false;
	return round ? animal->newest_ms >= round->begun_ms : now_ms - animal->newest_ms < CTL_ROUND_MS;
}

bool watch_care_round_on(const struct watch_board *board, const char *litter, int64_t now_ms)
{
	if (round_of(board, litter))
		return true;
	for (size_t i = 0; i < board->n_animals; i++)
		if (strcmp(board->animals[i].litter, litter) == 0 && watch_care_weighed(board, &board->animals[i], now_ms))
			return true;
	return false;
}

/* What looks exchanged stands until the litter's next round. */
static void note_exchanges(struct watch_board *board, const json_t *params, const char *litter, int64_t now_ms)
{
	char text[WATCH_TEXT];

	if (watch_words_exchange(params, text, sizeof text))
		watch_notes_add(board, "exchanged", litter, text, now_ms);
	else
		watch_notes_drop(board, "exchanged", litter);
}

bool watch_care_round(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	struct watch_round round = { 0 };

	field_copy(params, "litter", round.litter, sizeof round.litter);
	field_copy(params, "fed", round.fed, sizeof round.fed);
	if (!*round.litter || !field_time(params, "begun", &round.begun_ms))
		return false;
	drop_round(board, round.litter);
	note_exchanges(board, params, round.litter, now_ms);
	if (field_true(params, "ended")) {
		if (json_array_size(json_object_get(params, "left")) == 0)
			watch_notes_say(board, false, "The round of %s is complete.", round.litter);
		else
			watch_notes_say(board, false, "The round of %s is over.", round.litter);
	} else if (board->n_rounds < WATCH_ROUNDS) {
		board->rounds[board->n_rounds++] = round;
	}
	return true;
}

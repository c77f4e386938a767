// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_board.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/watch_care.h"
#include "daemon/ctl/watch_notes.h"

void watch_board_cut(void *list, size_t size, size_t *n, size_t i)
{
	char *at = (char *)list + i * size;

	--*n;
	memmove(at, at + size, (*n - i) * size);
}

void watch_board_done(struct watch_board *board)
{
	free(board->animals);
	board->animals = NULL;
	board->n_animals = 0;
}

static bool take_live(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	board->live.seen = true;
	board->live.at_ms = now_ms;
	field_copy(params, "scale", board->live.scale, sizeof board->live.scale);
	(void)field_mg(params, "gross_g", &board->live.gross_mg);
	(void)field_mg(params, "net_g", &board->live.net_mg);
	board->live.steady = field_true(params, "steady");
	return true;
}

static bool take_scale(struct watch_board *board, const json_t *params)
{
	const char *name = field_text(params, "scale");
	struct watch_scale *scale = board->scales;
	int64_t battery;

	while (scale < board->scales + board->n_scales && strcmp(scale->name, name) != 0)
		scale++;
	if (scale == board->scales + LIMIT_SCALES || !*name)
		return false;
	if (scale == board->scales + board->n_scales) {
		board->n_scales++;
		scale->battery = -1;
	}
	field_copy(params, "scale", scale->name, sizeof scale->name);
	field_copy(params, "state", scale->state, sizeof scale->state);
	if (field_whole(params, "battery", &battery) && battery >= 0 && battery <= 100)
		scale->battery = (int)battery;
	scale->battery_low = field_true(params, "battery_low");
	return true;
}

static bool take_container(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	const char *what = field_text(params, "what"), *scale = field_text(params, "scale"), *say = field_text(params, "say");

	watch_notes_drop(board, "below", scale);
	if (strcmp(what, "tared") == 0 || strcmp(what, "checked") == 0)
		watch_notes_drop(board, "drifted", scale);
	if (strcmp(what, "tared") == 0)
		watch_notes_say(board, false, "%s.", say);
	if (strcmp(what, "drifted") == 0 || strcmp(what, "below") == 0)
		watch_notes_add(board, what, scale, say, now_ms); /* of the scale: "below" may name no container */
	return true;
}

static bool take_imported(struct watch_board *board, const json_t *params)
{
	int64_t n = 0;

	(void)field_whole(params, "readings", &n);
	watch_notes_say(board, false, "%lld reading%s of a file added.", (long long)n, n == 1 ? "" : "s");
	board->stale = true; /* who weighs what has changed without a word of each */
	return true;
}

bool watch_board_notice(struct watch_board *board, const char *topic, const json_t *params, int64_t now_ms)
{
	if (strcmp(topic, "ask") == 0)
		return watch_asks_take(board, params, now_ms);
	if (strcmp(topic, "withdraw") == 0)
		return watch_asks_withdraw(board, params, now_ms);
	if (strcmp(topic, "recorded") == 0)
		return watch_asks_recorded(board, params, now_ms);
	if (strcmp(topic, "live") == 0)
		return take_live(board, params, now_ms);
	if (strcmp(topic, "scale") == 0)
		return take_scale(board, params);
	if (strcmp(topic, "container") == 0)
		return take_container(board, params, now_ms);
	if (strcmp(topic, "concern") == 0)
		return watch_care_concern(board, params);
	if (strcmp(topic, "round") == 0)
		return watch_care_round(board, params, now_ms);
	if (strcmp(topic, "imported") == 0)
		return take_imported(board, params);
	return false;
}

void watch_board_status(struct watch_board *board, const json_t *status)
{
	const json_t *radio = json_object_get(status, "radio");
	size_t i;
	json_t *scale;

	WATCH_COPY(board->radio, strcmp(field_text(radio, "trouble"), "fine") == 0 ? "" : field_text(radio, "text"));
	board->n_scales = 0;
	json_array_foreach(json_object_get(status, "scales"), i, scale)(void)
		take_scale(board, scale); /* one without a name isn't shown */
}

static void forget(struct watch_board *board)
{
	board->n_asks = 0;
	board->shown[0] = board->wanted[0] = '\0';
	board->n_scales = 0;
	board->n_rounds = 0;
	board->n_concerns = 0;
	board->live.seen = false;
	board->radio[0] = '\0';
}

void watch_board_up(struct watch_board *board)
{
	forget(board);
	board->connected = true;
	board->trouble[0] = '\0';
	board->stale = true;
}

void watch_board_down(struct watch_board *board, const char *why)
{
	if (board->busy)
		watch_notes_say(board, true, "The connection broke before the answer was confirmed: look whether it was recorded.");
	forget(board);
	board->busy = false;
	board->connected = false;
	board->n_word = 0;
	board->word[0] = '\0';
	WATCH_COPY(board->trouble, why);
}

static void remember_undo(struct watch_board *board, const char *ask)
{
	if (board->n_undo == WATCH_UNDO) {
		board->n_undo--;
		memmove(board->undo[0], board->undo[1], board->n_undo * sizeof *board->undo);
	}
	WATCH_COPY(board->undo[board->n_undo], ask);
	board->n_undo++;
}

static void refused(struct watch_board *board, const struct watch_action *action, const json_t *error, int64_t now_ms)
{
	const char *code = field_text(json_object_get(error, "data"), "code");
	char text[WATCH_TEXT];

	request_refusal(error, text, sizeof text);
	watch_notes_say(board, true, "%s", text);
	if (strcmp(code, "already-answered") == 0)
		watch_asks_remove(board, action->ask, now_ms);
	if (action->what == WATCH_REOPEN) {
		board->wanted[0] = '\0';
		if (board->n_undo && strcmp(board->undo[board->n_undo - 1], action->ask) == 0)
			board->n_undo--; /* it can't be taken back; the one before may be */
	}
}

void watch_board_result(struct watch_board *board, const struct watch_action *action, const json_t *result,
			const json_t *error, int64_t now_ms)
{
	board->busy = false;
	board->stale = true;
	if (error) {
		refused(board, action, error, now_ms);
		return;
	}
	switch (action->what) {
	case WATCH_ANSWER:
		remember_undo(board, action->ask);
		watch_asks_remove(board, action->ask, now_ms);
		watch_notes_say(board, false, "Recorded: %s.",
		    *field_text(result, "name") ? field_text(result, "name") : action->name);
		return;
	case WATCH_ASIDE:
		remember_undo(board, action->ask);
		watch_asks_remove(board, action->ask, now_ms);
		watch_notes_say(board, false, "Set aside.");
		return;
	case WATCH_BIRTH: /* it has a name now and can't be taken back from here */
		watch_asks_remove(board, action->ask, now_ms);
		watch_notes_say(board, false, "New in %s: %s. `bismar animal alias` gives it another name.", action->word,
				field_text(result, "name"));
		return;
	case WATCH_REOPEN:
		if (board->n_undo && strcmp(board->undo[board->n_undo - 1], action->ask) == 0)
			board->n_undo--;
		watch_notes_say(board, false, "Taken back%s%s.", *action->name ? ": " : "", action->name);
		return;
	case WATCH_NOTHING:
	case WATCH_LEAVE:
	case WATCH_REDRAW:
		return;
	}
}

bool watch_board_live(const struct watch_board *board, int64_t now_ms)
{
	return board->live.seen && now_ms - board->live.at_ms < WATCH_LIVE_MS && now_ms >= board->live.at_ms;
}

int64_t watch_board_wake_ms(const struct watch_board *board, int64_t now_ms)
{
	int64_t wake_ms = now_ms - now_ms % 60000 + 60000;

	if (watch_board_live(board, now_ms) && board->live.at_ms + WATCH_LIVE_MS < wake_ms)
		wake_ms = board->live.at_ms + WATCH_LIVE_MS;
	return wake_ms;
}

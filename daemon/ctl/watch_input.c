// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_input.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/watch_notes.h"
#include <strings.h>

static bool begins_with_digit(const char *name, const char *collar)
{
	return (*name >= '0' && *name <= '9') || (*collar >= '0' && *collar <= '9');
}

bool watch_input_digits(const struct watch_board *board)
{
	const struct watch_ask *ask = watch_asks_shown(board);

	for (size_t i = 0; i < board->n_animals; i++)
		if (begins_with_digit(board->animals[i].name, board->animals[i].collar))
			return false;
	for (size_t i = 0; ask && i < ask->n_candidates; i++)
		if (begins_with_digit(ask->candidates[i].name, ask->candidates[i].collar))
			return false;
	return true;
}

const struct watch_animal *watch_input_guess(const struct watch_board *board)
{
	const struct watch_animal *guess = NULL;

	if (board->n_word == 0)
		return NULL;
	for (size_t i = 0; i < board->n_animals; i++) {
		const struct watch_animal *animal = &board->animals[i];
		if (strncasecmp(animal->name, board->word, board->n_word) != 0 &&
		    strncasecmp(animal->collar, board->word, board->n_word) != 0)
			continue;
		if (guess)
			return NULL;
		guess = animal;
	}
	return guess;
}

static void act(struct watch_board *board, enum watch_do what, const char *ask, const char *word, const char *name,
		struct watch_action *ret)
{
	ret->what = what;
	WATCH_COPY(ret->ask, ask);
	WATCH_COPY(ret->word, word);
	WATCH_COPY(ret->name, name);
	board->busy = true;
	board->n_word = 0;
	board->word[0] = '\0';
}

static void pick(struct watch_board *board, size_t i, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_asks_shown(board);

	if (!ask)
		watch_notes_say(board, false, "No question is open.");
	else if (ask->n_candidates == 0)
		watch_notes_say(board, true, "There are no suggestions: type a name.");
	else if (i >= ask->n_candidates)
		watch_notes_say(board, true, "There is no suggestion %zu.", i + 1);
	else
		act(board, WATCH_ANSWER, ask->id, ask->candidates[i].animal, ask->candidates[i].name, ret);
}

static void aside(struct watch_board *board, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_asks_shown(board);

	if (ask)
		act(board, WATCH_ASIDE, ask->id, "", "", ret);
	else
		watch_notes_say(board, false, "No question is open.");
}

static void birth(struct watch_board *board, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_asks_shown(board);

	if (!ask)
		watch_notes_say(board, false, "No question is open.");
	else if (!*ask->whelping)
		watch_notes_say(board, true, "No whelping is open: `bismar whelping begin L`, or `bismar animal add`.");
	else
		act(board, WATCH_BIRTH, ask->id, ask->whelping, "a new pup", ret);
}

/* The newest answer from here, else the newest of anybody's in this round. */
static void undo(struct watch_board *board, int64_t now_ms, struct watch_action *ret)
{
	const char *id = board->n_undo ? board->undo[board->n_undo - 1] : NULL, *name = "";

	for (size_t i = 0; i < board->n_recent; i++) {
		if (!id && now_ms - board->recent[i].answered_ms <= CTL_ROUND_MS)
			id = board->recent[i].id;
		if (id && strcmp(board->recent[i].id, id) == 0)
			name = board->recent[i].name;
	}
	if (!id) {
		watch_notes_say(board, false, "Nothing to take back. Older answers: `bismar reading list`, `bismar correct`.");
		return;
	}
	WATCH_COPY(board->wanted, id);
	act(board, WATCH_REOPEN, id, "", name, ret);
}

static bool is_animal(const struct watch_board *board, const char *word)
{
	for (size_t i = 0; i < board->n_animals; i++)
		if (strcasecmp(board->animals[i].name, word) == 0 || strcasecmp(board->animals[i].collar, word) == 0)
			return true;
	return false;
}

static void send_word(struct watch_board *board, const char *word, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_asks_shown(board);

	if (ask && *ask->whelping && strcasecmp(word, "new") == 0 && !is_animal(board, word))
		birth(board, ret);
	else if (ask)
		act(board, WATCH_ANSWER, ask->id, word, word, ret);
	else
		watch_notes_say(board, false, "No question is open.");
}

static bool guarded(struct watch_board *board, int64_t now_ms)
{
	if (!*board->shown || now_ms - board->shown_ms >= WATCH_GUARD_MS || now_ms < board->shown_ms)
		return false;
	watch_notes_say(board, true, "That key came just as the question changed: look, and press it again.");
	return true;
}

/* A character where no word has begun. */
static void first_key(struct watch_board *board, const char *text, int64_t now_ms, struct watch_action *ret)
{
	bool at_once = strcmp(text, "-") == 0 || strcmp(text, "+") == 0 || (text[0] >= '1' && text[0] <= '9' && watch_input_digits(board));

	if (strcmp(text, "<") == 0) {
		undo(board, now_ms, ret);
	} else if (at_once) {
		if (guarded(board, now_ms))
			return;
		if (text[0] == '-')
			aside(board, ret);
		else if (text[0] == '+')
			birth(board, ret);
		else
			pick(board, (size_t)(text[0] - '1'), ret);
	} else if (strcmp(text, " ") != 0) {
		WATCH_COPY(board->word, text);
		board->n_word = strlen(board->word);
	}
}

static void text_key(struct watch_board *board, const char *text, int64_t now_ms, struct watch_action *ret)
{
	size_t n = strlen(text);

	if (board->n_word == 0) {
		first_key(board, text, now_ms, ret);
	} else if (board->n_word + n < sizeof board->word) {
		memcpy(board->word + board->n_word, text, n + 1);
		board->n_word += n;
	}
}

static void enter_key(struct watch_board *board, int64_t now_ms, struct watch_action *ret)
{
	char word[WATCH_NAME];
	size_t n = board->n_word;

	if (n == 0) {
		if (!guarded(board, now_ms))
			pick(board, 0, ret);
		return;
	}
	memcpy(word, board->word, sizeof word);
	while (n > 0 && word[n - 1] == ' ')
		word[--n] = '\0';
	send_word(board, word, ret);
}

void watch_input_key(struct watch_board *board, const struct watch_key *key, int64_t now_ms, struct watch_action *ret)
{
	const struct watch_animal *guess;

	*ret = (struct watch_action){ .what = WATCH_NOTHING };
	if (key->kind == WATCH_KEY_LEAVE || key->kind == WATCH_KEY_REDRAW) {
		ret->what = key->kind == WATCH_KEY_LEAVE ? WATCH_LEAVE : WATCH_REDRAW;
		return;
	}
	if (board->busy || !board->connected)
		return;
	board->message[0] = '\0';
	switch (key->kind) {
	case WATCH_KEY_TEXT:
		text_key(board, key->text, now_ms, ret);
		return;
	case WATCH_KEY_ENTER:
		enter_key(board, now_ms, ret);
		return;
	case WATCH_KEY_ESCAPE:
		board->word[0] = '\0';
		board->n_word = 0;
		return;
	case WATCH_KEY_BACKSPACE:
		text_backspace(board->word, &board->n_word);
		return;
	case WATCH_KEY_TAB:
		guess = watch_input_guess(board);
		if (guess) {
			WATCH_COPY(board->word, guess->name);
			board->n_word = strlen(board->word);
		}
		return;
	case WATCH_KEY_LEAVE:
	case WATCH_KEY_REDRAW:
	case WATCH_KEY_OTHER:
		return;
	}
}

void watch_input_line(struct watch_board *board, const char *line, int64_t now_ms, struct watch_action *ret)
{
	size_t n = strlen(line);

	*ret = (struct watch_action){ .what = WATCH_NOTHING };
	if (board->busy || !board->connected)
		return;
	board->message[0] = '\0';
	if (n == 0)
		return; /* an empty line is no answer: too easily sent by mistake */
	if (strcmp(line, "-") == 0)
		aside(board, ret);
	else if (strcmp(line, "+") == 0)
		birth(board, ret);
	else if (strcmp(line, "<") == 0)
		undo(board, now_ms, ret);
	else if (n == 1 && line[0] >= '1' && line[0] <= '9' && watch_input_digits(board))
		pick(board, (size_t)(line[0] - '1'), ret);
	else if (n >= WATCH_NAME)
		watch_notes_say(board, true, "That is longer than any name.");
	else
		send_word(board, line, ret);
}

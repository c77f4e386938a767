// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_board.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include <stdarg.h>
#include <strings.h>

static void copy(char *to, size_t size, const char *text)
{
	(void)snprintf(to, size, "%s", text); /* cut when too long: names have their cap, texts are for people */
}

#define COPY(field, text) copy(field, sizeof(field), text)

__attribute__((format(printf, 3, 4))) static void say(struct watch_board *board, bool bad, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	(void)vsnprintf(board->message, sizeof board->message, format, list);
	va_end(list);
	board->message_bad = bad;
}

void watch_board_done(struct watch_board *board)
{
	free(board->animals);
	board->animals = NULL;
	board->n_animals = 0;
}

/* ---- notes ---- */

static void drop_note(struct watch_board *board, const char *about)
{
	for (size_t i = 0; i < board->n_notes;) {
		if (strcmp(board->notes[i].about, about) != 0) {
			i++;
			continue;
		}
		board->n_notes--;
		memmove(&board->notes[i], &board->notes[i + 1], (board->n_notes - i) * sizeof *board->notes);
	}
}

static void add_note(struct watch_board *board, const struct watch_note *note)
{
	drop_note(board, note->about);
	if (board->n_notes == WATCH_NOTES)
		board->n_notes--;
	memmove(&board->notes[1], &board->notes[0], board->n_notes * sizeof *board->notes);
	board->notes[0] = *note;
	board->n_notes++;
}

static void drop_tare_note(struct watch_board *board, const char *what, const char *scale)
{
	char about[sizeof board->notes[0].about];

	(void)snprintf(about, sizeof about, "%s %s", what, scale);
	drop_note(board, about);
}

/* ---- asks ---- */

static size_t index_of(const struct watch_board *board, const char *id)
{
	size_t i = 0;

	while (i < board->n_asks && strcmp(board->asks[i].id, id) != 0)
		i++;
	return i;
}

const struct watch_ask *watch_board_shown(const struct watch_board *board)
{
	size_t i = index_of(board, board->shown);

	return i < board->n_asks ? &board->asks[i] : NULL;
}

static void show(struct watch_board *board, const char *id, int64_t now_ms)
{
	COPY(board->shown, id);
	board->shown_ms = now_ms;
	board->word[0] = '\0'; /* it was meant for the one before */
	board->n_word = 0;
}

static void remove_ask(struct watch_board *board, const char *id, int64_t now_ms)
{
	size_t i = index_of(board, id);

	if (i == board->n_asks)
		return;
	board->n_asks--;
	memmove(&board->asks[i], &board->asks[i + 1], (board->n_asks - i) * sizeof *board->asks);
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
	for (size_t i = 0; i < board->n_recent; i++) {
		if (strcmp(board->recent[i].id, id) != 0)
			continue;
		board->n_recent--;
		memmove(&board->recent[i], &board->recent[i + 1], (board->n_recent - i) * sizeof *board->recent);
		return;
	}
}

static bool take_ask(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	struct watch_ask ask = { 0 };
	size_t at;

	field_copy(params, "ask", ask.id, sizeof ask.id);
	if (!*ask.id)
		return false;
	field_copy(params, "scale", ask.scale, sizeof ask.scale);
	field_copy(params, "container", ask.container, sizeof ask.container);
	field_copy(params, "litter", ask.litter, sizeof ask.litter);
	ask.at_ms = now_ms;
	(void)field_time(params, "at", &ask.at_ms); /* else now */
	(void)field_mg(params, "gross_g", &ask.gross_mg);
	(void)field_mg(params, "tare_g", &ask.tare_mg);
	(void)field_mg(params, "net_g", &ask.net_mg);
	(void)field_mg(params, "u_g", &ask.u_mg);
	ask.restless = strcmp(field_text(params, "state"), "restless") == 0;
	take_candidates(&ask, json_object_get(params, "candidates"));
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
	drop_tare_note(board, "below", ask.scale); /* it weighs again */
	if (!*board->shown || strcmp(board->wanted, ask.id) == 0) {
		board->message[0] = '\0'; /* it was about something before */
		show(board, ask.id, now_ms);
		board->wanted[0] = '\0';
	}
	return true;
}

static bool take_withdraw(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	const char *id = field_text(params, "ask");

	if (index_of(board, id) == board->n_asks)
		return false;
	if (strcmp(board->shown, id) == 0 && !board->busy)
		say(board, false, "That question was closed: %s.", field_text(params, "why"));
	remove_ask(board, id, now_ms);
	return true;
}

/* ---- what was recorded ---- */

static bool take_recorded(struct watch_board *board, const json_t *params, int64_t now_ms)
{
	struct watch_reading reading = { .at_ms = now_ms, .answered_ms = now_ms };
	const char *ask = field_text(params, "ask");

	field_copy(params, "reading", reading.id, sizeof reading.id);
	field_copy(params, "name", reading.name, sizeof reading.name);
	field_copy(params, "by", reading.by, sizeof reading.by);
	(void)field_time(params, "at", &reading.at_ms); /* else now */
	(void)field_mg(params, "net_g", &reading.net_mg);
	if (strcmp(board->shown, ask) == 0 && !board->busy && *ask)
		say(board, false, "Answered by %s: %s.", reading.by, reading.name);
	remove_ask(board, ask, now_ms);
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

/* ---- scales, live, tares, concerns ---- */

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
	struct watch_note note = { .at_ms = now_ms };
	const char *what = field_text(params, "what"), *scale = field_text(params, "scale");

	drop_tare_note(board, "below", scale);
	if (strcmp(what, "tared") == 0 || strcmp(what, "checked") == 0)
		drop_tare_note(board, "drifted", scale);
	if (strcmp(what, "tared") == 0)
		say(board, false, "%s.", field_text(params, "say"));
	if (strcmp(what, "drifted") != 0 && strcmp(what, "below") != 0)
		return true;
	/* about the scale: "below" may name no container */
	(void)snprintf(note.about, sizeof note.about, "%s %s", what, scale);
	field_copy(params, "say", note.text, sizeof note.text);
	add_note(board, &note);
	return true;
}

/* Worst last; a level of a newer daemon is taken for the worst. */
static int rank(const char *level)
{
	return strcmp(level, "look") == 0 ? 0 : strcmp(level, "act") == 0 ? 1 : 2;
}

static void drop_concern(struct watch_board *board, const char *id)
{
	for (size_t i = 0; i < board->n_concerns;) {
		if (strcmp(board->concerns[i].id, id) != 0) {
			i++;
			continue;
		}
		board->n_concerns--;
		memmove(&board->concerns[i], &board->concerns[i + 1], (board->n_concerns - i) * sizeof *board->concerns);
	}
}

void watch_board_worry(struct watch_board *board, const struct watch_concern *concern)
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

static bool take_concern(struct watch_board *board, const json_t *params)
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
		watch_board_worry(board, &concern);
	return true;
}

/* ---- rounds ---- */

static void drop_round(struct watch_board *board, const char *litter)
{
	for (size_t i = 0; i < board->n_rounds;) {
		if (strcmp(board->rounds[i].litter, litter) != 0) {
			i++;
			continue;
		}
		board->n_rounds--;
		memmove(&board->rounds[i], &board->rounds[i + 1], (board->n_rounds - i) * sizeof *board->rounds);
	}
}

static const struct watch_round *round_of(const struct watch_board *board, const char *litter)
{
	for (size_t i = 0; i < board->n_rounds; i++)
		if (strcmp(board->rounds[i].litter, litter) == 0)
			return &board->rounds[i];
	return NULL;
}

bool watch_board_weighed(const struct watch_board *board, const struct watch_animal *animal, int64_t now_ms)
{
	const struct watch_round *round = round_of(board, animal->litter);

	if (!animal->weighed)
		return false;
	return round ? animal->newest_ms >= round->begun_ms : now_ms - animal->newest_ms < CTL_ROUND_MS;
}

/* What looks exchanged stands until the litter's next round. */
static void note_exchanges(struct watch_board *board, const json_t *params, const char *litter, int64_t now_ms)
{
	const json_t *first = json_array_get(json_object_get(params, "exchanges"), 0);
	struct watch_note note = { .at_ms = now_ms };

	(void)snprintf(note.about, sizeof note.about, "exchanged %s", litter);
	drop_note(board, note.about);
	if (!first)
		return;
	(void)snprintf(note.text, sizeof note.text, "Exchanged? %s. Look at `bismar round`.", field_text(first, "say"));
	add_note(board, &note);
}

static bool take_round(struct watch_board *board, const json_t *params, int64_t now_ms)
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
			say(board, false, "The round of %s is complete.", round.litter);
		else
			say(board, false, "The round of %s is over.", round.litter);
	} else if (board->n_rounds < WATCH_ROUNDS) {
		board->rounds[board->n_rounds++] = round;
	}
	return true;
}

bool watch_board_notice(struct watch_board *board, const char *topic, const json_t *params, int64_t now_ms)
{
	if (strcmp(topic, "ask") == 0)
		return take_ask(board, params, now_ms);
	if (strcmp(topic, "withdraw") == 0)
		return take_withdraw(board, params, now_ms);
	if (strcmp(topic, "recorded") == 0)
		return take_recorded(board, params, now_ms);
	if (strcmp(topic, "live") == 0)
		return take_live(board, params, now_ms);
	if (strcmp(topic, "scale") == 0)
		return take_scale(board, params);
	if (strcmp(topic, "container") == 0)
		return take_container(board, params, now_ms);
	if (strcmp(topic, "concern") == 0)
		return take_concern(board, params);
	if (strcmp(topic, "round") == 0)
		return take_round(board, params, now_ms);
	return false;
}

void watch_board_status(struct watch_board *board, const json_t *status)
{
	const json_t *radio = json_object_get(status, "radio");
	size_t i;
	json_t *scale;

	COPY(board->radio, strcmp(field_text(radio, "trouble"), "fine") == 0 ? "" : field_text(radio, "text"));
	board->n_scales = 0;
	json_array_foreach(json_object_get(status, "scales"), i, scale)(void)
		take_scale(board, scale); /* one without a name isn't shown */
}

/* ---- the connection ---- */

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
		say(board, true, "The connection broke before the answer was confirmed: look whether it was recorded.");
	forget(board);
	board->busy = false;
	board->connected = false;
	board->n_word = 0;
	board->word[0] = '\0';
	COPY(board->trouble, why);
}

/* ---- answers to requests ---- */

static void remember_undo(struct watch_board *board, const char *ask)
{
	if (board->n_undo == WATCH_UNDO) {
		board->n_undo--;
		memmove(board->undo[0], board->undo[1], board->n_undo * sizeof *board->undo);
	}
	COPY(board->undo[board->n_undo], ask);
	board->n_undo++;
}

static void refused(struct watch_board *board, const struct watch_action *action, const json_t *error, int64_t now_ms)
{
	const char *code = field_text(json_object_get(error, "data"), "code");
	char text[WATCH_TEXT];

	request_refusal(error, text, sizeof text);
	say(board, true, "%s", text);
	if (strcmp(code, "already-answered") == 0)
		remove_ask(board, action->ask, now_ms);
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
		remove_ask(board, action->ask, now_ms);
		say(board, false, "Recorded: %s.",
		    *field_text(result, "name") ? field_text(result, "name") : action->name);
		return;
	case WATCH_ASIDE:
		remember_undo(board, action->ask);
		remove_ask(board, action->ask, now_ms);
		say(board, false, "Set aside.");
		return;
	case WATCH_REOPEN:
		if (board->n_undo && strcmp(board->undo[board->n_undo - 1], action->ask) == 0)
			board->n_undo--;
		say(board, false, "Taken back%s%s.", *action->name ? ": " : "", action->name);
		return;
	case WATCH_NOTHING:
	case WATCH_LEAVE:
	case WATCH_REDRAW:
		return;
	}
}

/* ---- keys ---- */

bool watch_board_digits(const struct watch_board *board)
{
	const struct watch_ask *ask = watch_board_shown(board);

	for (size_t i = 0; i < board->n_animals; i++)
		if ((board->animals[i].name[0] >= '0' && board->animals[i].name[0] <= '9') ||
		    (board->animals[i].collar[0] >= '0' && board->animals[i].collar[0] <= '9'))
			return false;
	for (size_t i = 0; ask && i < ask->n_candidates; i++)
		if ((ask->candidates[i].name[0] >= '0' && ask->candidates[i].name[0] <= '9') ||
		    (ask->candidates[i].collar[0] >= '0' && ask->candidates[i].collar[0] <= '9'))
			return false;
	return true;
}

const struct watch_animal *watch_board_guess(const struct watch_board *board)
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
	COPY(ret->ask, ask);
	COPY(ret->word, word);
	COPY(ret->name, name);
	board->busy = true;
	board->n_word = 0;
	board->word[0] = '\0';
}

static void pick(struct watch_board *board, size_t i, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_board_shown(board);

	if (!ask)
		say(board, false, "No question is open.");
	else if (ask->n_candidates == 0)
		say(board, true, "There are no suggestions: type a name.");
	else if (i >= ask->n_candidates)
		say(board, true, "There is no suggestion %zu.", i + 1);
	else
		act(board, WATCH_ANSWER, ask->id, ask->candidates[i].animal, ask->candidates[i].name, ret);
}

static void aside(struct watch_board *board, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_board_shown(board);

	if (ask)
		act(board, WATCH_ASIDE, ask->id, "", "", ret);
	else
		say(board, false, "No question is open.");
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
		say(board, false, "Nothing to take back. Older answers: `bismar reading list`, `bismar correct`.");
		return;
	}
	COPY(board->wanted, id);
	act(board, WATCH_REOPEN, id, "", name, ret);
}

static void send_word(struct watch_board *board, const char *word, struct watch_action *ret)
{
	const struct watch_ask *ask = watch_board_shown(board);

	if (ask)
		act(board, WATCH_ANSWER, ask->id, word, word, ret);
	else
		say(board, false, "No question is open.");
}

static bool guarded(struct watch_board *board, int64_t now_ms)
{
	if (!*board->shown || now_ms - board->shown_ms >= WATCH_GUARD_MS || now_ms < board->shown_ms)
		return false;
	say(board, true, "That key came just as the question changed: look, and press it again.");
	return true;
}

/* A character where no word has begun. */
static void first_key(struct watch_board *board, const char *text, int64_t now_ms, struct watch_action *ret)
{
	bool at_once = strcmp(text, "-") == 0 || (text[0] >= '1' && text[0] <= '9' && watch_board_digits(board));

	if (strcmp(text, "<") == 0) {
		undo(board, now_ms, ret);
	} else if (at_once) {
		if (guarded(board, now_ms))
			return;
		if (text[0] == '-')
			aside(board, ret);
		else
			pick(board, (size_t)(text[0] - '1'), ret);
	} else if (strcmp(text, " ") != 0) {
		COPY(board->word, text);
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

static void backspace_key(struct watch_board *board)
{
	while (board->n_word > 0 && ((unsigned char)board->word[--board->n_word] & 0xc0) == 0x80)
		; /* UTF-8: back to the character's first octet */
	board->word[board->n_word] = '\0';
}

void watch_board_key(struct watch_board *board, const struct watch_key *key, int64_t now_ms, struct watch_action *ret)
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
		backspace_key(board);
		return;
	case WATCH_KEY_TAB:
		guess = watch_board_guess(board);
		if (guess) {
			COPY(board->word, guess->name);
			board->n_word = strlen(board->word);
		}
		return;
	case WATCH_KEY_LEAVE:
	case WATCH_KEY_REDRAW:
	case WATCH_KEY_OTHER:
		return;
	}
}

void watch_board_line(struct watch_board *board, const char *line, int64_t now_ms, struct watch_action *ret)
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
	else if (strcmp(line, "<") == 0)
		undo(board, now_ms, ret);
	else if (n == 1 && line[0] >= '1' && line[0] <= '9' && watch_board_digits(board))
		pick(board, (size_t)(line[0] - '1'), ret);
	else if (n >= WATCH_NAME)
		say(board, true, "That is longer than any name.");
	else
		send_word(board, line, ret);
}

/* ---- time ---- */

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

// SPDX-License-Identifier: MIT
#pragma once
/*
 * What `watch` knows: open asks, what was recorded lately, whose turn is still to come, what there is to worry about, the
 * scales, and the word being typed. Notifications and answers go in; watch_asks.c, watch_care.c and watch_notes.c file them, and
 * watch_input.c makes a key the next request. Pure: the time is passed in.
 * Above: watch.c (the loop), watch_draw.c and watch_lines.c (which show it). Below: watch_asks, watch_care, field, jansson.
 */
#include "daemon/ctl/text.h"
#include "daemon/limits.h"
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define WATCH_ID 64
#define WATCH_NAME (LIMIT_NAME_BYTES + 1)
#define WATCH_TEXT 512
#define WATCH_RECENT 16
#define WATCH_UNDO 16
#define WATCH_NOTES 4
#define WATCH_CONCERNS 32 /* the worst */
#define WATCH_ROUNDS 8

/* A key that answers at once isn't taken this soon after the question changed: it was meant for the one before, or
 * bounced. Longer than a person needs to see the change. */
#define WATCH_GUARD_MS 600
/* The scale has gone to sleep when no live mass came for this long. */
#define WATCH_LIVE_MS 8000
/* Notes about a tare stand until the next one, but no longer than a round. */
#define WATCH_NOTE_MS (INT64_C(90) * 60 * 1000)

struct watch_candidate {
	char animal[WATCH_ID], name[WATCH_NAME], collar[WATCH_NAME];
	bool expects;
	int64_t expected_mg, u_expected_mg;
	double probability; /* < 0: not told */
};

struct watch_ask {
	char id[WATCH_ID], scale[WATCH_NAME], container[WATCH_NAME], litter[WATCH_NAME];
	char whelping[WATCH_NAME]; /* the litter that is being born: it may be a new pup; "" none */
	int64_t at_ms, gross_mg, tare_mg, net_mg, u_mg;
	bool restless;
	struct watch_candidate candidates[LIMIT_CANDIDATES];
	size_t n_candidates;
};

struct watch_reading {
	char id[WATCH_ID], name[WATCH_NAME], by[WATCH_NAME];
	int64_t at_ms, net_mg, answered_ms;
};

struct watch_animal {
	char name[WATCH_NAME], collar[WATCH_NAME], litter[WATCH_NAME];
	bool weighed;
	int64_t newest_ms; /* with weighed */
};

struct watch_scale {
	char name[WATCH_NAME], state[WATCH_NAME];
	int battery; /* per cent, -1 not known */
	bool battery_low; /* it says so itself */
};

struct watch_concern {
	char id[WATCH_ID], name[WATCH_NAME], litter[WATCH_NAME]; /* name "": the whole litter */
	char level[8], text[WATCH_TEXT];
};

/* One that was begun; without one, what was weighed lately is taken for a round. */
struct watch_round {
	char litter[WATCH_NAME], fed[8]; /* fed "": not told */
	int64_t begun_ms;
};

struct watch_note {
	char about[WATCH_NAME + 16]; /* a newer note about the same replaces it */
	char text[WATCH_TEXT];
	int64_t at_ms;
};

enum watch_do { WATCH_NOTHING, WATCH_ANSWER, WATCH_ASIDE, WATCH_BIRTH, WATCH_REOPEN, WATCH_LEAVE, WATCH_REDRAW };

struct watch_action {
	enum watch_do what;
	char ask[WATCH_ID];
	char word[WATCH_NAME]; /* ANSWER: who, as typed or the candidate's id; BIRTH: the litter */
	char name[WATCH_NAME]; /* for people */
};

struct watch_board {
	bool connected;
	char trouble[WATCH_TEXT];               /* why not; or "" */
	char radio[WATCH_TEXT];                 /* what the daemon says is wrong with the radio; or "" */
	char database[WATCH_TEXT];              /* why the ledger can't be read here; or "" */
	struct watch_ask asks[LIMIT_OPEN_ASKS]; /* oldest first */
	size_t n_asks;
	char shown[WATCH_ID];                      /* the ask being shown; "" none */
	char wanted[WATCH_ID];                     /* one that was reopened here: to be shown when it comes */
	int64_t shown_ms;                          /* since when */
	struct watch_reading recent[WATCH_RECENT]; /* newest first */
	size_t n_recent;
	struct watch_animal *animals; /* in the ledger's order; owned */
	size_t n_animals;
	struct watch_scale scales[LIMIT_SCALES];
	size_t n_scales;
	struct {
		bool seen;
		char scale[WATCH_NAME];
		int64_t gross_mg, net_mg, at_ms;
		bool steady;
	} live;
	struct watch_note notes[WATCH_NOTES]; /* newest first */
	size_t n_notes;
	struct watch_concern concerns[WATCH_CONCERNS]; /* worst first */
	size_t n_concerns;
	struct watch_round rounds[WATCH_ROUNDS];
	size_t n_rounds;
	char message[WATCH_TEXT]; /* about the last key or answer */
	bool message_bad;
	char word[WATCH_NAME]; /* being typed */
	size_t n_word;
	char undo[WATCH_UNDO][WATCH_ID]; /* asks closed from here, newest last */
	size_t n_undo;
	bool busy;  /* a request is under way: no second one meanwhile */
	bool bell;  /* a new ask came; the loop rings and clears it */
	bool stale; /* the ledger has changed; the loop reads it again and clears it */
};

void watch_board_done(struct watch_board *board);

/* The connection came up: asks, scales and live are forgotten, and told anew. */
void watch_board_up(struct watch_board *board);
/* It is gone, or couldn't be made. */
void watch_board_down(struct watch_board *board, const char *why);
/* A notification. False when it is about nothing that is shown. */
bool watch_board_notice(struct watch_board *board, const char *topic, const json_t *params, int64_t now_ms);
/* The result of `status`. */
void watch_board_status(struct watch_board *board, const json_t *status);
/* The answer to an action: result, or the error in words and as JSON. */
void watch_board_result(struct watch_board *board, const struct watch_action *action, const json_t *result,
			const json_t *error, int64_t now_ms);

/* Whether a live mass is to be shown. */
bool watch_board_live(const struct watch_board *board, int64_t now_ms);
/* When something shown changes by itself: a live mass or a note expires, a minute is over. */
int64_t watch_board_wake_ms(const struct watch_board *board, int64_t now_ms);

/* For the files that keep it: takes entry i out of a list of *n. */
void watch_board_cut(void *list, size_t size, size_t *n, size_t i);
/* Text into a field of it, cut at a whole character. */
#define WATCH_COPY(field, text) text_copy(field, sizeof(field), text)

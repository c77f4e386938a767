// SPDX-License-Identifier: MIT
#pragma once
/*
 * What waits to be said, and what comes first. A voice is slow: what is stale by the time it is said isn't said, and
 * the queue has an end. Pure. Above: talk.c. Below: contrib/client/words.
 */
#include "contrib/client/question.h"
#include "contrib/client/words.h"

/* In the order in which they are said. */
enum turn_kind {
	TURN_VET,      /* a concern: call your vet */
	TURN_WORD,     /* an answer to a key that was just pressed */
	TURN_RECORDED, /* one at most: the newest replaces it. Short, and about the pup that was just taken off */
	TURN_QUESTION, /* one at most, as above */
	TURN_CONCERN,  /* any other concern */
	TURN_KINDS
};

/* More than so many minutes of talk nobody listens to. Our judgement. */
#define TURN_WAITING 8

struct turn_line {
	enum turn_kind kind;
	char id[QUESTION_ID_SIZE]; /* of a concern; "": of nothing that could change or end while it waits */
	char text[WORDS_SIZE];
};

struct turn {
	struct turn_line lines[TURN_WAITING]; /* in the order in which they came */
	size_t n;
};

/* Where it is full, the oldest of the least urgent kind goes, or this one if it is less urgent still; the same text is
 * kept once. Whether something was lost. */
bool turn_add(struct turn *turn, enum turn_kind kind, const char *id, const char *text);
/* What was to be said of a concern isn't so any more. Whether something waited. */
bool turn_forget(struct turn *turn, const char *id);
/* Forgets all of a kind. */
void turn_drop(struct turn *turn, enum turn_kind kind);
/* Takes out what is to be said next; false: nothing. Kinds from hold on wait on (TURN_KINDS: none does). */
bool turn_next(struct turn *turn, enum turn_kind hold, struct turn_line *ret);

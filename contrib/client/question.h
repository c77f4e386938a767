// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which question is meant when nobody says which: the oldest open one, by when it was weighed. A voice and a keypad
 * that don't know each other must mean the same one, and the same suggestions by the same numbers. Pure. Above:
 * contrib/keypad, contrib/speak. Below: daemon/ctl/field.
 *
 * By when it was weighed, not by when it was asked: an answer that is taken back is asked again before the younger
 * ones.
 */
#include "daemon/limits.h"
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define QUESTION_ID_SIZE 64
#define QUESTION_NAME_SIZE (LIMIT_NAME_BYTES + 1)

/* A voice names at most so many suggestions, and none less likely than this: more nobody keeps in mind. Our judgement.
 */
#define QUESTION_NAMED 4
#define QUESTION_NAMED_PROBABILITY 0.05
/*
 * From when on the first suggestion stands out enough to be taken by a key that doesn't name it: this likely, and so
 * many times as likely as the second. Our judgement; the suggestions come from weight alone, so it is never sure.
 */
#define QUESTION_CLEAR_PROBABILITY 0.8
#define QUESTION_CLEAR_RATIO 4
/* A weighing older than this isn't of just now: no key that doesn't name a pup answers it, and a voice says when it
 * was. Our judgement, that of the daemon's buttons. */
#define QUESTION_FRESH_MS (INT64_C(10) * 60 * 1000)

struct question_suggestion {
	char animal[QUESTION_ID_SIZE];                             /* its id */
	char name[QUESTION_NAME_SIZE], collar[QUESTION_NAME_SIZE]; /* collar may be empty */
	double probability;                                        /* 0..1; 0: not told */
};

struct question {
	char id[QUESTION_ID_SIZE];
	int64_t at_ms; /* when it was weighed, wall clock */
	int64_t net_mg;
	bool restless;
	bool whelping;                                            /* it may be a new pup */
	struct question_suggestion suggestions[LIMIT_CANDIDATES]; /* likeliest first */
	size_t n_suggestions;
};

struct questions {
	struct question list[LIMIT_OPEN_ASKS]; /* oldest first; as many as the daemon keeps open */
	size_t n;
};

/* The one that is meant; NULL: none is open. It lasts until the next change. */
const struct question *questions_current(const struct questions *questions);

/*
 * Each tells whether the current question, or its suggestions, are others than before.
 * The notification `ask`; now_ms: its time if it tells none. One without an id, or beyond LIMIT_OPEN_ASKS, is left out.
 */
bool questions_put(struct questions *questions, const json_t *ask, int64_t now_ms);
/* It is answered, or withdrawn. An id that isn't there is fine. */
bool questions_drop(struct questions *questions, const char *id);
/* The result's `asks` of the request `asks` (NULL: none): all that is open. */
bool questions_set(struct questions *questions, const json_t *asks, int64_t now_ms);

/* How many suggestions are to be named; 0 when there is none. */
size_t question_named(const struct question *question);
/* Whether the first suggestion stands out. */
bool question_is_clear(const struct question *question);

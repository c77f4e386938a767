// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a key does, if it does anything now. Pure.
 * Above: pad.c, answering.c. Below: contrib/client/question, the kernel's key codes.
 *
 * The suggestions come from weight alone, and a failing pup weighs what a smaller littermate weighs. So no key answers
 * a question that nobody can have heard yet, and a key that names nobody (Enter) answers only what has had time to be
 * named, is fresh, held still, can't be a new pup, and stands out from the other suggestions.
 */
#include "contrib/client/question.h"

/* Nobody hears and presses faster: what comes before was meant for the question before. */
#define ACT_HEARD_MS 700
/* So long it takes, about, to say who was recorded before, the mass, and the first name. */
#define ACT_NAMED_MS 5000
/* A mark of the page turner takes so long to be said. */
#define ACT_MARKED_MS 500
/* These are our judgement. Enter and tags mean a weighing within QUESTION_FRESH_MS. */

enum act_kind {
	ACT_NONE,   /* why says why not; NULL: a key that means nothing */
	ACT_ANSWER, /* with suggestion n */
	ACT_ASIDE,
	ACT_NEW,   /* a new pup */
	ACT_BACK,  /* takes this keypad's last answer back */
	ACT_AGAIN, /* have the question said again */
	ACT_MARK,  /* act.mark is the mark now */
	ACT_CODE,  /* what the tag says */
};

/* Where the page turner's mark is: on a suggestion, or behind them. */
enum act_place { ACT_UNMARKED, ACT_ON_SUGGESTION, ACT_ON_NEW, ACT_ON_ASIDE, ACT_ON_BACK };
struct act_mark {
	enum act_place place;
	size_t n; /* suggestion, from 0 */
};

struct act {
	enum act_kind kind;
	size_t n; /* suggestion, from 0 */
	struct act_mark mark;
	const char *why; /* a sentence; static storage */
};

/* Now. */
struct act_moment {
	const struct question *question; /* NULL: none is open */
	size_t n_open;
	int64_t shown_ms; /* so long it has been the current one, with these suggestions */
	int64_t age_ms;   /* so long ago it was weighed */
	bool busy;        /* the answer before is under way */
	bool can_go_back; /* this keypad has an answer to take back */
	struct act_mark mark;
	int64_t marked_ms; /* so long the mark has been there */
};

struct act act_pad(const struct act_moment *moment, unsigned code);
/* A page turner's keys: forward (page down, right, down, space) marks the next, back (page up, left, up, Enter) takes
 * what is marked. */
struct act act_turner(const struct act_moment *moment, unsigned code);
/* A code was read. */
struct act act_tag(const struct act_moment *moment);
/* A key that some pads send by themselves around others, and that means nothing. */
bool act_is_lock(unsigned code);
/* For the journal: "1", "Enter", "+"; "key 113" of one that means nothing. Returns buffer. */
const char *act_key(unsigned code, char *buffer, size_t size);

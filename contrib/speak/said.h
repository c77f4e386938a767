// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which concerns were said, at which level. Pure. Above: talk.c. Below: contrib/client/question (the size of an id).
 */
#include "contrib/client/question.h"

/* More than a litter has open at once; beyond, the one that was said longest ago is forgotten, and could be said again.
 */
#define SAID_MAX 256

struct said {
	struct {
		char id[QUESTION_ID_SIZE];
		unsigned rank;
	} list[SAID_MAX];
	size_t n, next;
};

/* Whether it is new, or at a worse level (a lower rank) than when it was said; and notes it. One that becomes less
 * grave is noted and isn't said. */
bool said_is_news(struct said *said, const char *id, unsigned rank);

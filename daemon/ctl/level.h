// SPDX-License-Identifier: MIT
#pragma once
/*
 * The levels of concerns (protocols/prompt.md) for people. Pure.
 * Above: concerns, watch, sheet. Below: nothing.
 */

/* 0 the worst. One of a newer daemon, not known here, is taken for the worst. */
unsigned level_rank(const char *level);
#define LEVEL_RANKS 3
/* "CALL YOUR VET NOW", "ACT", "LOOK"; one not known here as it is. */
const char *level_words(const char *level);

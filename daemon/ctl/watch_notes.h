// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the board says in words: the message about the last key or answer, and notes that stand for a while.
 * Above: the other watch_*.c. Below: nothing. Pure.
 */
#include "daemon/ctl/watch_board.h"

/* The message; bad: something to be looked at. */
__attribute__((format(printf, 3, 4))) void watch_notes_say(struct watch_board *board, bool bad, const char *format, ...);
/* Takes away the note on what ("below", "drifted", "exchanged") of whom (a scale, a litter). */
void watch_notes_drop(struct watch_board *board, const char *what, const char *whom);
/* Puts one up in its place; of too many the oldest goes. */
void watch_notes_add(struct watch_board *board, const char *what, const char *whom, const char *text, int64_t now_ms);

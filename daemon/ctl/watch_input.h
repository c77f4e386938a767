// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the person does at the board: keys at a terminal, lines elsewhere; and what is to be done about it.
 * Above: watch.c. Below: watch_asks, watch_notes, watch_keys. Pure.
 */
#include "daemon/ctl/watch_board.h"
#include "daemon/ctl/watch_keys.h"

/* A key; *ret is what is to be done about it. */
void watch_input_key(struct watch_board *board, const struct watch_key *key, int64_t now_ms, struct watch_action *ret);
/* A whole line typed where there are no single keys: number, name, "-" or "<". */
void watch_input_line(struct watch_board *board, const char *line, int64_t now_ms, struct watch_action *ret);
/* Whether 1 to 9 pick a suggestion: not when somebody's name or collar begins with a digit. */
bool watch_input_digits(const struct watch_board *board);
/* The animal that the word being typed begins, when it is only one; or NULL. */
const struct watch_animal *watch_input_guess(const struct watch_board *board);

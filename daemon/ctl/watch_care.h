// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the board knows of concerns and rounds.
 * Above: watch_board.c, watch_ledger.c, watch_words.c. Below: watch_notes, field. Pure.
 */
#include "daemon/ctl/watch_board.h"

/* The notifications `concern` and `round`. False when they are about nothing that is shown. */
bool watch_care_concern(struct watch_board *board, const json_t *params);
bool watch_care_round(struct watch_board *board, const json_t *params, int64_t now_ms);
/* Files a concern in its place; one of the same id is replaced. */
void watch_care_worry(struct watch_board *board, const struct watch_concern *concern);
/* Whether a round of the litter is on: one was begun, or some were weighed lately. */
bool watch_care_round_on(const struct watch_board *board, const char *litter, int64_t now_ms);
/* Whether the animal had its turn in that round. */
bool watch_care_weighed(const struct watch_board *board, const struct watch_animal *animal, int64_t now_ms);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the board shows from the ledger: the readings recorded last, the animals with their newest reading, open concerns
 * and rounds.
 * Above: watch.c. Below: database.
 */
#include "daemon/ctl/watch_board.h"

/* Reads all anew. When the ledger can't be read the board keeps what it has and says why. */
void watch_ledger_load(const char *path, struct watch_board *board);

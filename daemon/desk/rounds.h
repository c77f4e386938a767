// SPDX-License-Identifier: MIT
#pragma once
/*
 * Rounds: one pass over a litter, begun by a person. Who is left, whether they had fed, when it ends, and which of its
 * readings look exchanged.
 * Above: answers.c, desk.c, the requests round.*. Below: models.c, litter/round, the store.
 */
#include "daemon/litter/who.h"
#include <stdint.h>

struct desk;
struct roster_animal;

/* A round that nobody ended is over after this long. Common practice: a large litter takes well under an hour. */
#define ROUNDS_LAPSE_MS (INT64_C(4) * 3600 * 1000)

/* Reads what is open from the ledger. 0, -ENOMEM, or the store's outcome. */
int rounds_load(struct desk *desk);
void rounds_done(struct desk *desk);
/* "before", "after" or NULL: what the open round says of a weighing of that time. */
const char *rounds_fed(struct desk *desk, const char *litter_id, int64_t at_ms);
/* An animal's place in what is open at a time: who_rank() counts with it. */
enum who_turn rounds_turn(struct desk *desk, const struct roster_animal *animal, int64_t at_ms);
/* A reading of this litter was recorded: the last pup ends the round. */
void rounds_recorded(struct desk *desk, const char *litter_id);
/* Ends those that have been open too long. */
void rounds_lapse(struct desk *desk);

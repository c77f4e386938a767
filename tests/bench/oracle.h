// SPDX-License-Identifier: MIT
#pragma once
/*
 * The best that can be had, for growth.c: a detector that is told the world's figures, and what kind of stop to look
 * for. It follows levels and rates of all littermates and what a round shares with one exact Kalman filter, and beside
 * it one for each pup and recent weighing (or the litter and recent round) at which it may have stopped; its statistic
 * is the ln of the summed likelihood ratios.
 */
#include "tests/bench/litters.h"

/* stat[round][pup] after each round; NAN where a pup wasn't weighed. */
void oracle_watch(const struct litters_litter *litter, const struct litters_world *world,
		  double stat[LITTERS_ROUNDS][LITTERS_PUPS]);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * Who can it be? Ranks animals for a net mass. Pure; never decides (design, promise 4).
 * Above: daemon/desk. Below: libm.
 *
 * At this stage: the newest mass of each animal carried forward by a published daily gain, and what is left of
 * the round (an animal weighed a short while ago is unlikely to come again). Probabilities sum to less than 1:
 * the rest is "none of these".
 */
#include <stddef.h>
#include <stdint.h>

struct who_animal {
	int64_t newest_mg;    /* 0: never weighed, and no birth weight */
	int64_t newest_at_ms; /* of newest_mg */
	int64_t u_mg;         /* its standard uncertainty */
	int64_t weighed_at_ms; /* the newest reading's time; INT64_MIN when there is none (birth weight alone) */
};

struct who_candidate {
	size_t index;          /* into the animals given */
	int64_t expected_mg;   /* 0: nothing is known */
	int64_t u_expected_mg; /* standard uncertainty of the prediction */
	double probability;    /* 0..1 */
};

/* An animal weighed this recently has had its turn in the round. Common practice: a round of a large litter
 * takes well under an hour, rounds lie hours apart; no published source. */
#define WHO_ROUND_MS (INT64_C(90) * 60 * 1000)

/*
 * Fills ret with the n_ret most likely of n animals, most likely first; returns how many (at most n_ret).
 * at_ms: when net_mg was weighed, with standard uncertainty u_mg. Ties keep the order given.
 */
size_t who_rank(const struct who_animal *animals, size_t n, int64_t net_mg, int64_t u_mg, int64_t at_ms,
		struct who_candidate *ret, size_t n_ret);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * Who can it be? Ranks animals for a net mass. Pure; never decides (design, promise 4).
 * Above: daemon/desk. Below: libm.
 *
 * What each animal would show now comes from the growth model, by the caller; without it, the newest mass is carried
 * forward by a published daily gain. Beside it count what is left of the round (an animal that had its turn is unlikely
 * to come again) and how long ago it was last weighed (one that nobody weighs any more is unlikely too). Probabilities
 * sum to less than 1: the rest is "none of these".
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Its place in the round. */
enum who_turn {
	WHO_TURN_RECENT,  /* no round was begun by hand: weighed within WHO_ROUND_MS it has had its turn */
	WHO_TURN_LEFT,    /* of a round that was begun: not weighed in it yet */
	WHO_TURN_HAD,     /* weighed in it */
	WHO_TURN_OUTSIDE, /* a round is on, of another litter */
};

struct who_animal {
	int64_t newest_mg;    /* 0: never weighed, and no birth weight */
	int64_t newest_at_ms; /* of newest_mg */
	int64_t u_mg;         /* its standard uncertainty */
	int64_t weighed_at_ms; /* the newest reading's time; INT64_MIN when there is none (birth weight alone) */
	/* What growth_predict() says of it at the weighing's time; used instead of the newest mass when predicted. */
	bool predicted;
	double ln_g, sd;       /* of ln(mass in grams), without the scale's own uncertainty; sd > 0 */
	double rate;           /* believed, of ln(mass) a day, for who_why() alone; NAN: not known */
	enum who_turn turn;
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

/* Why it stands where it stands, in a few words: "expected 304 g, +8.0 %/day; not weighed in this round yet". Returns
 * what snprintf would; WHO_WHY_SIZE holds any. */
#define WHO_WHY_SIZE 128
int who_why(char *buffer, size_t size, const struct who_animal *animal, const struct who_candidate *candidate,
	    int64_t at_ms);

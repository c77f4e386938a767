// SPDX-License-Identifier: MIT
#pragma once
/*
 * The growth of a litter: what every weighing so far says of each animal's mass and daily rate, of the next weighing,
 * and of whether it stopped gaining.
 * Above: daemon/desk, verdict, who, concern, round. Below: growth_round, growth_priors, trend, stop, curve. Pure;
 * memory from the caller. It never reads the ledger: what was corrected or came late is told by building a litter anew.
 *
 * Model, in natural logarithms of mass (rates are shares a day):
 *   y = level of the litter + deviation of the animal + what the round shares + the animal's own
 * Level and deviations are local linear trends (trend.h). What a round shares (all full, all hungry, the same wet pad)
 * and the animal's own gut fill are random each time; the measurement adds the weighing's own uncertainty. In a round
 * the others tell what is shared: an animal is measured against their mean as far as they were weighed, and the
 * litter's level against all. So a failing pup shows against its littermates, and a litter that fails as a whole (the
 * dam's milk) shows in the level, where nothing can take it for a shared error when it lasts. Sizes of both errors are
 * learned from the litter, beginning with a prior. An animal's deviation and the litter's level are kept as if
 * independent of each other, which is what makes it cheap. A reading costs the same at any time: a round is reckoned
 * anew with each of its readings, the past isn't.
 */
#include "daemon/litter/stop.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define GROWTH_ANIMALS 24 /* of one litter; the largest litters on record have as many */
/* Weighings of one litter with less than this between one and the next are one round, while no animal comes twice.
 * Common practice: a round of a large litter takes well under an hour, rounds lie hours apart; no published source. */
#define GROWTH_ROUND_MS (INT64_C(90) * 60 * 1000)

/* A stop at a weighing this long ago has been spoken for or against by one since, at two a day. Ours. */
#define GROWTH_SPOKEN_DAYS 0.7

struct growth_reading {
	int64_t at_ms;
	int64_t mass_mg; /* > 0; anything else is GROWTH_WILD and has no effect */
	int64_t u_mg;    /* the weighing's own standard uncertainty, 0 or more */
	bool birth;      /* taken at birth: nothing has been eaten yet */
};

enum growth_outcome {
	GROWTH_TAKEN,
	GROWTH_WILD, /* so far off that it is marked and not swallowed: another pup's, or something happened */
	GROWTH_LATE, /* belongs before what the model holds; nothing has changed: build it anew from all readings in
			order */
};

/* What is believed of one animal at a time. Shares are of ln(mass): 0.01 is about 1 %. */
struct growth_state {
	double ln_g, u_ln_g;    /* ln of grams, without gut fill */
	double rate, u_rate;    /* a day */
	double p_stall, p_loss; /* probability that it stopped gaining, or loses, alone or with the litter; as of its
				 * newest reading */
	double p_litter;        /* the part of both that falls to the litter as a whole */
	double p_before; /* the part of both that says it had stopped GROWTH_SPOKEN_DAYS before its newest reading:
			  * of a later stop its weighings have hardly said anything yet */
	double on_rate, u_on_rate; /* a day, if it goes on as before */
	double since_day;          /* the likeliest time that it stopped, in days after growth.zero_ms; NAN: none */
	int64_t newest_ms;         /* of its newest reading; INT64_MIN: none */
	unsigned readings;
	bool wild; /* its newest reading was marked */
};

/* As it was weighed, marked or not. mass_mg 0: there is none. */
struct growth_seen {
	int64_t at_ms, mass_mg, u_mg;
};
#define GROWTH_SEEN 3

struct growth_animal {
	unsigned readings;
	bool known;
	bool wild, above;             /* its newest reading was marked; and lay above what was expected */
	bool wild_before, wild_above; /* the same of the one before */
	int64_t newest_ms;
	struct trend before, now; /* its deviation, before and after the present round */
	struct stop stop_before, stop;
	bool weighed, joined; /* in the present round; or came in it, when the others had begun */
	bool birth;           /* its newest reading was at birth, and it lies at: */
	double day, y, r;     /* when, ln of grams less the curve, its variance without what the round shares */
	struct growth_seen seen[GROWTH_SEEN]; /* its newest weighings after birth, newest first */
};

/* What was learned of a variance. */
struct growth_learned {
	double n, sum; /* readings' worth, and their sum */
};

struct growth {
	size_t n;
	int64_t zero_ms;  /* days count from here */
	int64_t born_ms;  /* INT64_MIN: not known */
	bool begun;       /* there is a reading */
	bool following;   /* the beginning is over: there are rounds */
	bool first_round; /* the present one is the first */
	double round_day;
	int64_t round_first_ms, round_ms; /* of the present round (or the beginning): its first and last weighing */
	int64_t closed_ms;                /* the last one before it */
	struct trend before, now;         /* the litter's level, before and after the present round */
	struct stop stop_before, stop;
	double own_var, shared_var; /* of gut fill: an animal's own, and what a round shares */
	struct growth_learned own, shared;
	struct growth_learned surprise; /* squared innovations over their variance: 1 where all is as modelled */
	struct growth_animal animals[GROWTH_ANIMALS];
};

/* A litter of n animals (1..GROWTH_ANIMALS), nothing known of them yet. born_ms: INT64_MIN when it isn't known. */
void growth_init(struct growth *growth, size_t n, int64_t born_ms);
/* Takes a reading of one animal (animal < n). In order of time; of one round in any order. */
enum growth_outcome growth_take(struct growth *growth, size_t animal, const struct growth_reading *reading);
/* What is believed of an animal at a time not before its newest reading. False when nothing is known of it. */
bool growth_at(const struct growth *growth, size_t animal, int64_t at_ms, struct growth_state *ret);
/* What a weighing of this animal would show at a time, all but the scale's own uncertainty included; and with what its
 * round has told so far. */
struct growth_prediction {
	double ln_g, sd; /* of ln(mass) */
};
bool growth_predict(const struct growth *growth, size_t animal, int64_t at_ms, struct growth_prediction *ret);
/* The litter as a whole: rates, and whether it stopped; ln_g is the mean of those known. False when nothing is known.
 */
bool growth_litter(const struct growth *growth, int64_t at_ms, struct growth_state *ret);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * The inside of growth.c: one round of a litter, as far as it has been weighed. It is reckoned anew from the state
 * before the round with each of its readings, so that their order doesn't matter. Above: growth, smooth. Below: trend, stop,
 * curve, growth_priors. Pure. Nobody but those above should need it.
 */
#include "daemon/litter/growth.h"

/* The litter's level and what the round shares, together: an estimate and its variance (INFINITY: nothing tells). */
struct growth_round_common {
	double mean, variance;
};

/* The litter's level, or an animal's deviation, carried to a day. Alone, an animal's deviation is its place, which is
 * known and doesn't move. */
struct trend growth_round_level(const struct trend *level, double day);
struct trend growth_round_deviation(const struct growth *growth, const struct trend *deviation, double day);

/* From all that were weighed in this round but one (except == n: from all). with_prior: and from the litter's level as
 * it was expected. */
struct growth_round_common growth_round_common(const struct growth *growth, size_t except, double day, bool with_prior);
/* Nothing is known of littermates: what the litter does is what the animal does. */
bool growth_round_alone(const struct growth *growth);
/* The prior odds that the litter stopped at one weighing. */
double growth_round_litter_prior(const struct growth *growth);
/* By how much the variance of what is expected must be multiplied for readings to scatter as it says. */
double growth_round_surprise(const struct growth *growth);

/* After a reading: all that the round says so far, into `now` of the litter and of the animals weighed. */
void growth_round_follow(struct growth *growth);
/* The round is over: sizes of errors are learned from it, and it becomes `before`. */
void growth_round_close(struct growth *growth);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * "It stopped there": hypotheses that a level has had another rate since one of its measurements, beside the trend that
 * goes on as before. Their likelihood ratio tells a stall early: a single difference of two weights must exceed the
 * noise of both, while this gathers what every measurement since has to say.
 * Above: growth. Below: trend. Pure.
 */
#include "daemon/litter/trend.h"
#include <stdbool.h>
#include <stddef.h>

#define STOP_KEPT 8 /* measurements at which it may have stopped; the least likely gives way */

enum stop_kind {
	STOP_STALL, /* neither gains nor loses */
	STOP_LOSS,  /* loses */
	STOP_KINDS,
};

/* Certain enough; more would only take longer to be unlearned when it goes on again. Our choice. */
#define STOP_LN_MAX 9.0

struct stop_at {
	double since_day;
	struct trend trend[STOP_KINDS];
	double ln_ratio[STOP_KINDS]; /* ln of likelihood against going on as before */
};

struct stop {
	size_t n;
	struct stop_at at[STOP_KEPT];
};

/* The rates that the hypotheses set, and how well they are known (variance). */
struct stop_rates {
	double rate[STOP_KINDS];
	double variance;
};

/* A measurement z of variance r on a day: carries all hypotheses there and weighs them. going_on: what the trend said
 * to the same measurement. wild: a share of measurements that says nothing (0..1), so that one can't decide alone. */
void stop_take(struct stop *stop, double day, double z, double r, const struct stop_rates *rates,
	       const struct trend_noise *noise, const struct trend_innovation *going_on, double wild);
/* It may have stopped now: trend is what the measurement left. */
void stop_begin(struct stop *stop, const struct trend *trend);
/* ln of the summed ratio of all hypotheses, each with the prior odds of a stop at one measurement; of one kind, or of
 * both (STOP_KINDS). -INFINITY without any. */
double stop_ln_odds(const struct stop *stop, enum stop_kind kind, double prior);
/* The same of both kinds, of those hypotheses alone that it stopped by a day: without the newest measurements, which
 * haven't been spoken for or against yet. */
double stop_ln_odds_by(const struct stop *stop, double day, double prior);
/* The likeliest of a kind; NULL without any. Borrowed until the next measurement. */
const struct stop_at *stop_likeliest(const struct stop *stop, enum stop_kind kind);

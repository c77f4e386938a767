// SPDX-License-Identifier: MIT
#include "daemon/litter/stop.h"
#include <math.h>

/* A measurement that says nothing: equally likely anywhere within a factor of e, as ln of that density of ln(mass).
 * Ours. */
#define LN_WILD_DENSITY 0.0

static double ln_mixed(double ln_density, double wild)
{
	double top = fmax(ln_density, LN_WILD_DENSITY);

	return top + log((1 - wild) * exp(ln_density - top) + wild * exp(LN_WILD_DENSITY - top));
}

/* All alike, so that their order stays. */
static void bound(struct stop *stop)
{
	double top = -INFINITY;

	for (size_t i = 0; i < stop->n; i++)
		for (int kind = 0; kind < STOP_KINDS; kind++)
			top = fmax(top, stop->at[i].ln_ratio[kind]);
	if (!(top > STOP_LN_MAX))
		return;
	for (size_t i = 0; i < stop->n; i++)
		for (int kind = 0; kind < STOP_KINDS; kind++)
			stop->at[i].ln_ratio[kind] -= top - STOP_LN_MAX;
}

void stop_take(struct stop *stop, double day, double z, double r, const struct stop_rates *rates,
	       const struct trend_noise *noise, const struct trend_innovation *going_on, double wild)
{
	double ln_on = ln_mixed(going_on->ln_density, wild);

	for (size_t i = 0; i < stop->n; i++) {
		for (int kind = 0; kind < STOP_KINDS; kind++) {
			struct trend *trend = &stop->at[i].trend[kind];
			struct trend_innovation innovation;

			trend->rate = rates->rate[kind];
			trend->lr = 0;
			trend->rr = rates->variance;
			trend_predict(trend, day, noise);
			innovation = trend_update(trend, z, r);
			stop->at[i].ln_ratio[kind] += ln_mixed(innovation.ln_density, wild) - ln_on;
		}
	}
	bound(stop);
}

static double best(const struct stop_at *at)
{
	return fmax(at->ln_ratio[STOP_STALL], at->ln_ratio[STOP_LOSS]);
}

void stop_begin(struct stop *stop, const struct trend *trend)
{
	size_t to = stop->n;

	if (stop->n < STOP_KEPT) {
		stop->n++;
	} else { /* the newest ones haven't had their say yet: the oldest half is judged */
		to = 0;
		for (size_t i = 1; i < STOP_KEPT / 2; i++)
			if (best(&stop->at[i]) < best(&stop->at[to]))
				to = i;
		for (; to + 1 < STOP_KEPT; to++)
			stop->at[to] = stop->at[to + 1];
	}
	stop->at[to] = (struct stop_at){ .since_day = trend->day };
	for (int kind = 0; kind < STOP_KINDS; kind++)
		stop->at[to].trend[kind] = *trend;
}

/* kind STOP_KINDS: both. */
static double ln_odds(const struct stop *stop, enum stop_kind kind, double by_day, double prior)
{
	double top = -INFINITY, sum = 0;

	for (size_t i = 0; i < stop->n && stop->at[i].since_day <= by_day; i++) /* in order of time */
		for (int k = 0; k < STOP_KINDS; k++)
			if (kind == STOP_KINDS || (int)kind == k)
				top = fmax(top, stop->at[i].ln_ratio[k]);
	if (isinf(top))
		return -INFINITY;
	for (size_t i = 0; i < stop->n && stop->at[i].since_day <= by_day; i++)
		for (int k = 0; k < STOP_KINDS; k++)
			if (kind == STOP_KINDS || (int)kind == k)
				sum += exp(stop->at[i].ln_ratio[k] - top);
	return top + log(sum) + log(prior / STOP_KINDS);
}

double stop_ln_odds(const struct stop *stop, enum stop_kind kind, double prior)
{
	return ln_odds(stop, kind, INFINITY, prior);
}

double stop_ln_odds_by(const struct stop *stop, double day, double prior)
{
	return ln_odds(stop, STOP_KINDS, day, prior);
}

const struct stop_at *stop_likeliest(const struct stop *stop, enum stop_kind kind)
{
	const struct stop_at *found = NULL;

	for (size_t i = 0; i < stop->n; i++)
		if (!found || stop->at[i].ln_ratio[kind] > found->ln_ratio[kind])
			found = &stop->at[i];
	return found;
}

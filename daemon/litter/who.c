// SPDX-License-Identifier: MIT
#include "daemon/litter/who.h"
#include "daemon/weigh/quantity.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/*
 * Mass is taken in its natural logarithm: growth adds there, and a spread in per cent is the same
 * for a small pup and a large one. Every density below is per unit of ln(mass), so that they may be
 * compared.
 */

#define DAY_MS 86400000.0

/*
 * Gain of body weight in a day. Published: 8 % (5-10 %) in week 1, 5 % (3.5-6 %) in weeks 2-4
 * (Small Animal Clinical Nutrition, 5th ed., ch. 16, p. 292). Our choice: one prior for all ages,
 * since the age isn't known here, with a spread that keeps the extremes likely enough: the steepest
 * gain published, 13.8 % on day 1 (Alves 2020, Vet Med Sci, doi 10.1002/vms3.322), is two standard
 * deviations away; the tolerated loss of 10 % in 48 h (Dog Owner's Home Veterinary Handbook, p.
 * 493) nearly three.
 */
#define GAIN_PER_DAY 0.06
#define GAIN_SD_PER_DAY 0.04
/* Longer gaps: the mean stops here, while the spread goes on growing. Our assumption. */
#define GAIN_MAX_DAYS 7.0
/* A full stomach is about 4 % of body weight: one meal is 4 mL per 100 g (Chastant & Mila 2019,
 * Anim Reprod Sci 207:162, fig. 4). That fed against unfed is one standard deviation of a
 * difference: our assumption. */
#define GUT_SD 0.04
/* A wider spread says nothing more than "unknown". Our assumption; it keeps the arithmetic
 * finite. */
#define SPREAD_MAX 1.0
/* An animal of which no mass is known: anything from 50 g to 50 kg, evenly in ln(mass). Our
 * assumption; the range holds small newborns and large dams. 1/ln(1000). */
#define UNKNOWN_DENSITY 0.14476482730108395
/* Weighed a moment ago, and again: a doubtful figure is checked now and then. Our assumption. */
#define HAD_ITS_TURN 0.02
/* "None of these", against one animal of which nothing is known: a stranger, a feed bowl, a
 * hand. Our assumption; it takes over where the only animal would have to be more than three
 * standard deviations off. */
#define NONE_PRIOR 0.2

/* The model's spread is that of growth as it should be. A pup that fails, a wet pad, a leaning hand lie outside, and
 * more often than a normal distribution has it: a share of weighings has a wider one. Ours; test_who.c says how well
 * the probabilities then hold. */
#define TAIL_SHARE 0.02
#define TAIL_WIDER 3.0
/* Nobody weighs it any more: after two days it counts in proportion to 1 / days. A slow gainer goes on being weighed
 * when its littermates no longer are (common practice); the numbers are ours. */
#define STILL_WEIGHED_DAYS 2.0
#define HARDLY_WEIGHED 0.1
/* A round of another litter is on. Ours. */
#define OUTSIDE 0.05

#define LN_SQRT_2PI 0.91893853320467274

static double square(double x)
{
	return x * x;
}

/* Round up, and stay inside the type whatever the input. */
static int64_t to_mg(double mg)
{
	return mg >= 9e18 ? INT64_C(9000000000000000000) : (int64_t)ceil(mg);
}

static double relative(int64_t u_mg, int64_t mass_mg)
{
	return u_mg > 0 ? (double)u_mg / (double)mass_mg : 0.0;
}

/* Of ln(mass), carried over days; negative days look back, from a newer mass to a stored
 * weighing. */
static double predicted_sd(const struct who_animal *animal, double days)
{
	return fmin(SPREAD_MAX, sqrt(square(GAIN_SD_PER_DAY * days) + square(GUT_SD) +
				     square(relative(animal->u_mg, animal->newest_mg))));
}

static double growth(double days)
{
	return exp(log1p(GAIN_PER_DAY) * fmax(-GAIN_MAX_DAYS, fmin(GAIN_MAX_DAYS, days)));
}

static double ln_normal(double off, double sd)
{
	return -0.5 * square(off / sd) - log(sd) - LN_SQRT_2PI;
}

static bool is_predicted(const struct who_animal *animal)
{
	return animal->predicted && isfinite(animal->ln_g) && animal->sd > 0;
}

/* The same by the growth model. */
static double ln_density_predicted(const struct who_animal *animal, int64_t net_mg, int64_t u_mg,
				   struct who_candidate *ret)
{
	double expected = 1000 * exp(animal->ln_g), sd = fmin(SPREAD_MAX, animal->sd), off, narrow, wide;

	ret->expected_mg = to_mg(floor(expected + 0.5));
	ret->u_expected_mg = to_mg(expected * sd);
	if (net_mg <= 0)
		return log(UNKNOWN_DENSITY);
	sd = fmin(SPREAD_MAX, sqrt(square(sd) + square(relative(u_mg, net_mg))));
	off = log((double)net_mg / 1000) - animal->ln_g;
	narrow = log(1 - TAIL_SHARE) + ln_normal(off, sd);
	wide = log(TAIL_SHARE) + ln_normal(off, TAIL_WIDER * sd);
	return fmax(narrow, wide) + log1p(exp(-fabs(narrow - wide)));
}

/* ln of the density at net_mg (> 0, or the weighing says nothing); fills in what was expected. */
static double ln_density(const struct who_animal *animal, int64_t net_mg, int64_t u_mg, int64_t at_ms,
			 struct who_candidate *ret)
{
	double days;
	double expected;
	double sd;

	ret->expected_mg = 0;
	ret->u_expected_mg = 0;
	if (is_predicted(animal))
		return ln_density_predicted(animal, net_mg, u_mg, ret);
	if (animal->newest_mg <= 0)
		return log(UNKNOWN_DENSITY);
	days = ((double)at_ms - (double)animal->newest_at_ms) / DAY_MS;
	expected = (double)animal->newest_mg * growth(days);
	sd = predicted_sd(animal, days);
	/* floor(x + 0.5) rounds to the nearest; the uncertainty is rounded up. */
	ret->expected_mg = to_mg(floor(expected + 0.5));
	ret->u_expected_mg = to_mg(expected * sd);
	if (net_mg <= 0)
		return log(UNKNOWN_DENSITY);
	sd = fmin(SPREAD_MAX, sqrt(square(sd) + square(relative(u_mg, net_mg))));
	return ln_normal(log((double)net_mg / expected), sd);
}

/* Later readings don't count: for a stored weighing they belong to another round. */
static bool weighed_just_now(const struct who_animal *animal, int64_t at_ms)
{
	if (animal->weighed_at_ms == INT64_MIN || animal->weighed_at_ms > at_ms)
		return false;
	return (uint64_t)at_ms - (uint64_t)animal->weighed_at_ms <= (uint64_t)WHO_ROUND_MS;
}

static bool had_its_turn(const struct who_animal *animal, int64_t at_ms)
{
	return animal->turn == WHO_TURN_HAD || (animal->turn == WHO_TURN_RECENT && weighed_just_now(animal, at_ms));
}

/* Days since it was last weighed; 0 when that was never, or later. */
static double days_since(const struct who_animal *animal, int64_t at_ms)
{
	if (animal->weighed_at_ms == INT64_MIN)
		return 0;
	return fmax(0, ((double)at_ms - (double)animal->weighed_at_ms) / DAY_MS);
}

/* ln of how much likelier it is to be put on the scale now than one whose turn it is. */
static double ln_turn(const struct who_animal *animal, int64_t at_ms)
{
	double days = days_since(animal, at_ms);

	if (had_its_turn(animal, at_ms))
		return log(HAD_ITS_TURN);
	return (animal->turn == WHO_TURN_OUTSIDE ? log(OUTSIDE) : 0) +
	       (days > STILL_WEIGHED_DAYS ? log(fmax(HARDLY_WEIGHED, STILL_WEIGHED_DAYS / days)) : 0);
}

/* Into the first n of ret, best first; the worst falls out when n_ret are there. Returns the new
 * n. */
static size_t insert(struct who_candidate *ret, size_t n, size_t n_ret, const struct who_candidate *candidate)
{
	size_t at = n;

	/* Not ">=": of equals, the one given first stays first. */
	while (at > 0 && candidate->probability > ret[at - 1].probability)
		at--;
	if (at == n_ret)
		return n;
	if (n < n_ret)
		n++;
	memmove(&ret[at + 1], &ret[at], (n - at - 1) * sizeof(*ret));
	ret[at] = *candidate;
	return n;
}

/*
 * Until the end, probability holds ln(weight of the animal / weight of "none"): logarithms order
 * even those whose weight is too small for a double. The ratio can't overflow, as GUT_SD bounds
 * every density.
 */
size_t who_rank(const struct who_animal *animals, size_t n, int64_t net_mg, int64_t u_mg, int64_t at_ms,
		struct who_candidate *ret, size_t n_ret)
{
	double ln_none = log(NONE_PRIOR * UNKNOWN_DENSITY);
	double sum = 1.0;
	size_t n_kept = 0;

	for (size_t i = 0; i < n; i++) {
		struct who_candidate candidate = { .index = i };

		candidate.probability = ln_density(&animals[i], net_mg, u_mg, at_ms, &candidate) - ln_none +
					ln_turn(&animals[i], at_ms);
		sum += exp(candidate.probability);
		n_kept = insert(ret, n_kept, n_ret, &candidate);
	}
	for (size_t i = 0; i < n_kept; i++)
		ret[i].probability = exp(ret[i].probability) / sum;
	return n_kept;
}

static void why_turn(char *to, size_t size, const struct who_animal *animal, int64_t at_ms)
{
	double days = days_since(animal, at_ms);

	if (had_its_turn(animal, at_ms))
		(void)snprintf(to, size, "%s",
			       animal->turn == WHO_TURN_HAD ? "weighed in this round" : "weighed a short while ago");
	else if (animal->turn == WHO_TURN_OUTSIDE)
		(void)snprintf(to, size, "not of this round's litter");
	else if (animal->turn == WHO_TURN_LEFT)
		(void)snprintf(to, size, "not weighed in this round yet");
	else if (animal->weighed_at_ms == INT64_MIN || animal->weighed_at_ms > at_ms)
		(void)snprintf(to, size, "not weighed before");
	else if (days < 2)
		(void)snprintf(to, size, "last weighed %.0f h ago", 24 * days);
	else
		(void)snprintf(to, size, "last weighed %.0f days ago", fmin(days, 99999));
}

int who_why(char *buffer, size_t size, const struct who_animal *animal, const struct who_candidate *candidate,
	    int64_t at_ms)
{
	char mass[32] = "", rate[32] = "", turn[48];
	int64_t mg;

	why_turn(turn, sizeof turn, animal, at_ms);
	if (candidate->expected_mg <= 0)
		return snprintf(buffer, size, "nothing is known of its mass; %s", turn);
	/* whole grams: the rest is less than anyone knows */
	mg = candidate->expected_mg - candidate->expected_mg % 1000;
	if (candidate->expected_mg % 1000 >= 500 && mg <= INT64_MAX - 1000)
		mg += 1000;
	(void)quantity_format(mass, sizeof mass, mg, 1000, QUANTITY_GRAMS); /* 32 bytes hold any */
	if (is_predicted(animal) && isfinite(animal->rate) && fabs(animal->rate) < 1)
		(void)snprintf(rate, sizeof rate, ", %+.1f %%/day", 100 * (exp(animal->rate) - 1));
	return snprintf(buffer, size, "expected %s%s; %s", mass, rate, turn);
}

// SPDX-License-Identifier: MIT
#include "daemon/litter/growth_round.h"
#include "daemon/litter/curve.h"
#include "daemon/litter/growth_priors.h"
#include <math.h>

static const struct trend_noise litter_noise = { .q_level = GROWTH_Q_LEVEL, .q_rate = GROWTH_LITTER_Q_RATE };
static const struct trend_noise animal_noise = { .q_level = GROWTH_Q_LEVEL, .q_rate = GROWTH_ANIMAL_Q_RATE };

static double square(double x)
{
	return x * x;
}

/* ---- what a round's others say ---- */

struct trend growth_round_level(const struct trend *level, double day)
{
	struct trend ret = *level;

	trend_predict(&ret, day, &litter_noise);
	return ret;
}

bool growth_round_alone(const struct growth *growth)
{
	size_t known = 0;

	for (size_t i = 0; i < growth->n; i++)
		known += growth->animals[i].known;
	return known < 2;
}

struct trend growth_round_deviation(const struct growth *growth, const struct trend *deviation, double day)
{
	struct trend ret = *deviation;

	if (growth_round_alone(growth))
		return (struct trend){ .day = day, .level = deviation->level };
	trend_predict(&ret, day, &animal_noise);
	return ret;
}

struct growth_round_common growth_round_common(const struct growth *growth, size_t except, double day, bool with_prior)
{
	struct trend level = growth_round_level(&growth->before, day);
	double weight = 0, sum = 0;

	if (with_prior) {
		weight = 1 / (level.ll + growth->shared_var);
		sum = weight * level.level;
	}
	for (size_t i = 0; i < growth->n; i++) {
		const struct growth_animal *animal = &growth->animals[i];
		struct trend deviation;
		double w;

		if (!animal->weighed || animal->wild || i == except)
			continue;
		deviation = growth_round_deviation(growth, &animal->before, animal->day);
		w = 1 / (deviation.ll + animal->r);
		weight += w;
		sum += w * (animal->y - deviation.level);
	}
	return (struct growth_round_common){ .mean = weight > 0 ? sum / weight : level.level,
					     .variance = weight > 0 ? 1 / weight : INFINITY };
}

double growth_round_litter_prior(const struct growth *growth)
{
	return growth_round_alone(growth) ? GROWTH_STOP_PRIOR : GROWTH_LITTER_STOP_PRIOR;
}

static struct trend_innovation innovation_of(const struct growth *growth, size_t i,
					     struct growth_round_common *ret_common)
{
	const struct growth_animal *animal = &growth->animals[i];
	struct trend deviation = growth_round_deviation(growth, &animal->before, animal->day);

	*ret_common = growth_round_common(growth, i, animal->day, true);
	return trend_test(&deviation, animal->y - ret_common->mean, animal->r + ret_common->variance);
}

/* ---- readings that are far off ---- */

/* Twice in a row on one side is no slip. */
static bool confirms(const struct growth_animal *animal, double nu)
{
	return animal->wild_before && (nu > 0) == animal->wild_above;
}

/* How far off it is even if the animal has been losing since its last reading. */
static double unexplained(const struct growth *growth, const struct growth_animal *animal, double nu)
{
	double days = animal->day - animal->before.day;
	double lost = (GROWTH_FASTEST_LOSS + growth->before.rate + curve_rate(animal->day)) * days;

	if (confirms(animal, nu))
		return 0;
	return nu > 0 ? nu : fmax(0, -nu - fmax(0, lost));
}

/* The one that is farthest off, as multiples of its standard deviation and over the limit; growth->n: none is. */
static size_t worst(const struct growth *growth, bool *ret_above)
{
	size_t found = growth->n;
	double most = GROWTH_WILD_SIGMAS;

	for (size_t i = 0; i < growth->n; i++) {
		const struct growth_animal *animal = &growth->animals[i];
		struct growth_round_common common;
		struct trend_innovation innovation;
		double off;

		if (!animal->weighed || animal->wild)
			continue;
		innovation = innovation_of(growth, i, &common);
		off = unexplained(growth, animal, innovation.nu) / sqrt(innovation.s);
		if (off > most) {
			most = off;
			found = i;
			*ret_above = innovation.nu > 0;
		}
	}
	return found;
}

/* The worst first: it pulls the others along. */
static void mark_wild(struct growth *growth)
{
	bool above = false;

	for (size_t i = 0; i < growth->n; i++)
		if (growth->animals[i].weighed)
			growth->animals[i].wild = false;
	for (size_t i = worst(growth, &above); i < growth->n; i = worst(growth, &above)) {
		growth->animals[i].wild = true;
		growth->animals[i].above = above;
	}
}

/* ---- the round, as far as it has been weighed ---- */

/* What stalling or losing would be, seen from what is expected meanwhile (a day). */
static struct stop_rates rates_less(double expected, double variance)
{
	return (struct stop_rates){ .rate = { [STOP_STALL] = -expected, [STOP_LOSS] = GROWTH_LOSS_RATE - expected },
				    .variance = square(GROWTH_STOPPED_RATE_SD) + variance };
}

static double curve_between(double from, double to)
{
	return to > from ? curve_gain(from, to) / (to - from) : curve_rate(to);
}

/* Takes a measurement into a trend and its hypotheses. confirmed: it has another mass than was believed; what that is
 * must be learned anew, and no stop explains it. */
static void take(struct trend *now, struct stop *stop, double z, double r, const struct stop_rates *rates,
		 const struct trend_noise *noise, bool confirmed)
{
	struct trend_innovation innovation = trend_test(now, z, r);

	if (confirmed) {
		now->ll += square(innovation.nu);
		stop->n = 0;
	}
	stop_take(stop, now->day, z, r, rates, noise, &innovation, GROWTH_WILD_SHARE);
	trend_update(now, z, r);
	stop_begin(stop, now);
}

static void follow_animal(struct growth *growth, size_t i, const struct trend *litter)
{
	struct growth_animal *animal = &growth->animals[i];
	struct growth_round_common common;
	struct trend_innovation innovation;
	struct stop_rates rates;
	bool confirmed;

	animal->now = growth_round_deviation(growth, &animal->before, animal->day);
	animal->stop = animal->stop_before;
	if (animal->wild)
		return;
	innovation = innovation_of(growth, i, &common);
	confirmed = confirms(animal, innovation.nu) && fabs(innovation.nu) > GROWTH_WILD_SIGMAS * sqrt(innovation.s);
	rates = rates_less(curve_between(animal->before.day, animal->day) + litter->rate, litter->rr);
	take(&animal->now, &animal->stop, animal->y - common.mean, animal->r + common.variance, &rates, &animal_noise,
	     confirmed);
}

/* Alone, there is nobody else to be another animal's reading: what is confirmed is the level. */
static bool level_confirmed(const struct growth *growth, double nu)
{
	for (size_t i = 0; i < growth->n && growth_round_alone(growth); i++)
		if (growth->animals[i].weighed && confirms(&growth->animals[i], nu))
			return true;
	return false;
}

static void follow_litter(struct growth *growth)
{
	struct growth_round_common common = growth_round_common(growth, growth->n, growth->round_day, false);
	struct stop_rates rates = rates_less(curve_between(growth->before.day, growth->round_day), 0);
	double r = common.variance + growth->shared_var;
	struct trend_innovation innovation;
	bool far, confirmed;

	growth->now = growth_round_level(&growth->before, growth->round_day);
	growth->stop = growth->stop_before;
	if (isinf(common.variance))
		return;
	innovation = trend_test(&growth->now, common.mean, r);
	far = fabs(innovation.nu) > GROWTH_WILD_SIGMAS * sqrt(innovation.s);
	confirmed = far && level_confirmed(growth, innovation.nu);
	if (far && !confirmed) /* pulls, but not without bound */
		r = square(innovation.nu / GROWTH_WILD_SIGMAS) - growth->now.ll;
	take(&growth->now, &growth->stop, common.mean, r, &rates, &litter_noise, confirmed);
}

/* A newcomer says nothing of the round, the round says where it stands. */
static void place_newcomers(struct growth *growth)
{
	for (size_t i = 0; i < growth->n; i++) {
		struct growth_animal *animal = &growth->animals[i];
		struct growth_round_common common;

		if (!animal->joined)
			continue;
		common = growth_round_common(growth, growth->n, animal->day, true);
		animal->now = animal->before = (struct trend){
			.day = animal->day,
			.level = animal->y - common.mean,
			.ll = animal->r + common.variance,
			.rr = square(GROWTH_ANIMAL_RATE_SD),
		};
	}
}

/* A round lies at the mean of its weighings' times, whatever their order. */
static void place(struct growth *growth)
{
	double sum = 0, k = 0;

	for (size_t i = 0; i < growth->n; i++) {
		if (!growth->animals[i].weighed || growth->animals[i].wild)
			continue;
		sum += growth->animals[i].day;
		k++;
	}
	if (k > 0)
		growth->round_day = sum / k;
}

void growth_round_follow(struct growth *growth)
{
	struct trend litter;

	mark_wild(growth);
	place(growth);
	place_newcomers(growth);
	litter = growth_round_level(&growth->before, growth->round_day);
	follow_litter(growth);
	if (growth_round_alone(growth))
		return;
	for (size_t i = 0; i < growth->n; i++)
		if (growth->animals[i].weighed)
			follow_animal(growth, i, &litter);
}

/* ---- gut fill, from what the round left unexplained ---- */

/* An error's variance from squared innovations: each says nu^2 = (the rest of s) + variance, the better the more of s
 * it is. Far ones count as the limit: one mix-up that wasn't marked shouldn't teach a litter's gut. */
static void learn_from(struct growth_learned *gut, double nu, double s, double variance)
{
	double w = square(variance / s), most = square(GROWTH_WILD_SIGMAS) * s;

	gut->n += w;
	gut->sum += w * (fmin(square(nu), most) - s + variance);
}

static double learned(const struct growth_learned *gut, double prior_sd, double prior_n)
{
	double variance = (prior_n * square(prior_sd) + gut->sum) / (prior_n + gut->n);

	return fmin(square(GROWTH_GUT_SD_MAX), fmax(square(GROWTH_GUT_SD_MIN), variance));
}

/* How much more, or less, the readings scatter than is modelled. Growth differs between kinds, and so does its
 * wandering. */
static void learn_surprise(struct growth_learned *surprise, double nu, double s)
{
	surprise->n = surprise->n * GROWTH_SURPRISE_KEPT + 1;
	surprise->sum = surprise->sum * GROWTH_SURPRISE_KEPT + fmin(square(nu) / s, square(GROWTH_WILD_SIGMAS));
}

double growth_round_surprise(const struct growth *growth)
{
	return (GROWTH_SURPRISE_READINGS + growth->surprise.sum) / (GROWTH_SURPRISE_READINGS + growth->surprise.n);
}

/* One that stopped isn't told by the model that goes on. */
static bool stopped(const struct stop *stop, double prior)
{
	return stop_ln_odds(stop, STOP_KINDS, prior) > 0;
}

static void learn(struct growth *growth)
{
	struct growth_round_common common = growth_round_common(growth, growth->n, growth->round_day, false);
	struct trend level = growth_round_level(&growth->before, growth->round_day);

	for (size_t i = 0; i < growth->n && !growth_round_alone(growth); i++) {
		const struct growth_animal *animal = &growth->animals[i];
		struct growth_round_common others;
		struct trend_innovation innovation;

		if (!animal->weighed || animal->wild)
			continue;
		innovation = innovation_of(growth, i, &others);
		learn_surprise(&growth->surprise, innovation.nu, innovation.s);
		if (!stopped(&animal->stop, GROWTH_STOP_PRIOR))
			learn_from(&growth->own, innovation.nu, innovation.s, growth->own_var);
	}
	if (!isinf(common.variance) && !stopped(&growth->stop, growth_round_litter_prior(growth))) {
		double s = level.ll + common.variance + growth->shared_var;

		learn_from(&growth->shared, common.mean - level.level, s, growth->shared_var);
		if (growth_round_alone(growth))
			learn_surprise(&growth->surprise, common.mean - level.level, s);
	}
	growth->own_var = learned(&growth->own, GROWTH_OWN_SD, GROWTH_GUT_READINGS);
	growth->shared_var = learned(&growth->shared, GROWTH_SHARED_SD, GROWTH_GUT_ROUNDS);
}

void growth_round_close(struct growth *growth)
{
	learn(growth);
	growth->before = growth->now;
	growth->stop_before = growth->stop;
	for (size_t i = 0; i < growth->n; i++) {
		struct growth_animal *animal = &growth->animals[i];

		animal->joined = false;
		if (!animal->weighed)
			continue;
		animal->before = animal->now;
		animal->stop_before = animal->stop;
		animal->wild_before = animal->wild;
		animal->wild_above = animal->above;
		animal->weighed = false;
	}
}

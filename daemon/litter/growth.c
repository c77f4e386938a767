// SPDX-License-Identifier: MIT
#include "daemon/litter/growth.h"
#include "daemon/litter/curve.h"
#include "daemon/litter/growth_priors.h"
#include "daemon/litter/growth_round.h"
#include <math.h>
#include <string.h>

#define DAY_MS 86400000.0
/* The beginning, one reading of each, lasts no longer than a whelping does (a day is long for one); ours. */
#define BEGINNING_MS (INT64_C(36) * 3600 * 1000)

static double square(double x)
{
	return x * x;
}

static double day_of(const struct growth *growth, int64_t at_ms)
{
	return ((double)at_ms - (double)growth->zero_ms) / DAY_MS;
}

/* later less earlier, which may lie as far apart as integers go. */
static bool within(int64_t later_ms, int64_t earlier_ms, int64_t span_ms)
{
	return (double)later_ms - (double)earlier_ms < (double)span_ms;
}

/* ---- the beginning: one reading of each, at birth as a rule ---- */

static struct trend deviation_at(const struct growth *growth, const struct growth_animal *animal)
{
	return (struct trend){ .day = animal->day,
			       .level = animal->y - growth->now.level,
			       .ll = animal->r,
			       .rr = square(GROWTH_ANIMAL_RATE_SD) };
}

/* The litter's level is the mean of all, and begins where the first of them does. */
static void begin(struct growth *growth)
{
	double sum = 0, variance = 0, first = INFINITY, shared = square(GROWTH_BIRTH_SD);
	double k = 0;

	for (size_t i = 0; i < growth->n; i++) {
		const struct growth_animal *animal = &growth->animals[i];

		if (!animal->known)
			continue;
		sum += animal->y;
		variance += animal->r;
		first = fmin(first, animal->day);
		if (!animal->birth)
			shared = growth->shared_var;
		k++;
	}
	growth->now = growth->before = (struct trend){
		.day = first,
		.level = sum / k,
		.ll = variance / (k * k) + shared,
		.rr = square(growth->born_ms == INT64_MIN ? GROWTH_AGE_UNKNOWN_RATE_SD : GROWTH_LITTER_RATE_SD),
	};
	growth->round_day = first;
	for (size_t i = 0; i < growth->n; i++)
		if (growth->animals[i].known)
			growth->animals[i].now = growth->animals[i].before = deviation_at(growth, &growth->animals[i]);
}

/* One that comes when the others have begun. The first one's deviation was nothing until it had littermates. */
static void join(struct growth *growth, struct growth_animal *animal)
{
	for (size_t i = 0; i < growth->n && growth_round_alone(growth); i++) {
		struct growth_animal *first = &growth->animals[i];

		if (first->known)
			first->now = first->before = (struct trend){ .day = growth->before.day,
								     .level = first->now.level,
								     .rr = square(GROWTH_ANIMAL_RATE_SD) };
	}
	animal->known = true;
	animal->joined = true;
}

/* ---- readings ---- */

void growth_init(struct growth *growth, size_t n, int64_t born_ms)
{
	memset(growth, 0, sizeof(*growth));
	growth->n = n < GROWTH_ANIMALS ? n : GROWTH_ANIMALS;
	growth->born_ms = born_ms;
	growth->closed_ms = INT64_MIN;
	growth->own_var = square(GROWTH_OWN_SD);
	growth->shared_var = square(GROWTH_SHARED_SD);
	for (size_t i = 0; i < growth->n; i++)
		growth->animals[i].newest_ms = INT64_MIN;
}

static bool ends_round(const struct growth *growth, const struct growth_animal *animal, int64_t at_ms)
{
	if (!growth->following)
		return animal->known || !within(at_ms, growth->zero_ms, BEGINNING_MS);
	return animal->weighed || animal->joined || !within(at_ms, growth->round_ms, GROWTH_ROUND_MS);
}

/* In order of time, it would have come to another round than it would now. */
static bool is_late(const struct growth *growth, const struct growth_animal *animal, int64_t at_ms)
{
	if (at_ms < growth->zero_ms || at_ms < animal->newest_ms)
		return true;
	if (ends_round(growth, animal, at_ms))
		return at_ms < growth->round_ms;
	if (!growth->following || at_ms >= growth->round_first_ms)
		return false;
	return (growth->first_round && !animal->known) || at_ms < growth->closed_ms ||
	       within(at_ms, growth->closed_ms, GROWTH_ROUND_MS) ||
	       !within(growth->round_first_ms, at_ms, GROWTH_ROUND_MS);
}

static void next_round(struct growth *growth, int64_t at_ms)
{
	if (growth->following)
		growth_round_close(growth);
	growth->first_round = !growth->following;
	growth->following = true;
	growth->closed_ms = growth->round_ms;
	growth->round_first_ms = growth->round_ms = at_ms;
	growth->round_day = day_of(growth, at_ms);
}

/* Gut fill isn't in a birth weight. */
static void measure(struct growth *growth, struct growth_animal *animal, const struct growth_reading *reading)
{
	animal->newest_ms = reading->at_ms;
	animal->readings++;
	animal->birth = reading->birth;
	animal->day = day_of(growth, reading->at_ms);
	animal->y = log((double)reading->mass_mg / 1000) - curve_gain(0, animal->day);
	animal->r = square((double)reading->u_mg / (double)reading->mass_mg) +
		    (reading->birth ? square(GROWTH_BIRTH_SD) : growth->own_var);
}

static void see(struct growth_animal *animal, const struct growth_reading *reading)
{
	if (reading->birth)
		return;
	for (size_t i = GROWTH_SEEN - 1; i > 0; i--)
		animal->seen[i] = animal->seen[i - 1];
	animal->seen[0] = (struct growth_seen){ reading->at_ms, reading->mass_mg, reading->u_mg };
}

enum growth_outcome growth_take(struct growth *growth, size_t i, const struct growth_reading *reading)
{
	struct growth_animal *animal = &growth->animals[i];

	if (reading->mass_mg <= 0)
		return GROWTH_WILD;
	if (!growth->begun) {
		growth->begun = true;
		growth->zero_ms = growth->born_ms != INT64_MIN && growth->born_ms <= reading->at_ms ? growth->born_ms
												    : reading->at_ms;
		growth->round_first_ms = growth->round_ms = reading->at_ms;
	}
	if (is_late(growth, animal, reading->at_ms))
		return GROWTH_LATE;
	if (ends_round(growth, animal, reading->at_ms))
		next_round(growth, reading->at_ms);
	if (reading->at_ms < growth->round_first_ms)
		growth->round_first_ms = reading->at_ms;
	if (reading->at_ms > growth->round_ms)
		growth->round_ms = reading->at_ms;
	see(animal, reading);
	measure(growth, animal, reading);
	if (!growth->following) {
		animal->known = true;
		begin(growth);
	} else {
		if (animal->known)
			animal->weighed = true;
		else
			join(growth, animal);
		growth_round_follow(growth);
	}
	return animal->wild ? GROWTH_WILD : GROWTH_TAKEN;
}

/* ---- what is believed ---- */

/* Explanations with their shares, put together: means and mean squares. */
struct mixture {
	double level, level_square, rate, rate_square;
};

static void mix(struct mixture *mixture, double p, const struct trend *trend)
{
	mixture->level += p * trend->level;
	mixture->level_square += p * (trend->ll + square(trend->level));
	mixture->rate += p * trend->rate;
	mixture->rate_square += p * (trend->rr + square(trend->rate));
}

static double sd(double mean, double mean_square)
{
	return sqrt(fmax(0, mean_square - square(mean)));
}

static double share(double ln_odds)
{
	return 1 / (1 + exp(-ln_odds));
}

static void stopped(const struct stop *stop, double prior, double ret_p[STOP_KINDS])
{
	double both = share(stop_ln_odds(stop, STOP_KINDS, prior));

	ret_p[STOP_STALL] = ret_p[STOP_LOSS] = 0;
	if (stop->n == 0)
		return;
	ret_p[STOP_LOSS] = both * share(stop_ln_odds(stop, STOP_LOSS, prior) - stop_ln_odds(stop, STOP_STALL, prior));
	ret_p[STOP_STALL] = both - ret_p[STOP_LOSS];
}

/*
 * Adds that it stopped. rest: the other part of the animal, which goes on: of one that stopped alone the litter's
 * level, whose rate the stop takes back (whole), of a litter the animal's deviation, whose rate stays. expected: the
 * curve's.
 */
static void mix_stopped(struct mixture *mixture, const struct stop *stop, const double p[STOP_KINDS], double day,
			const struct trend *rest, bool whole, double expected)
{
	static const double rates[STOP_KINDS] = { [STOP_STALL] = 0, [STOP_LOSS] = GROWTH_LOSS_RATE };

	for (int kind = 0; kind < STOP_KINDS && stop->n > 0; kind++) {
		const struct trend *at = &stop_likeliest(stop, (enum stop_kind)kind)->trend[kind];
		double days = fmax(0, day - at->day), slope = rates[kind] - expected - (whole ? rest->rate : 0);
		struct trend explained = {
			.level = at->level + slope * days + rest->level,
			.ll = at->ll + square(GROWTH_STOPPED_RATE_SD * days) + rest->ll,
			.rate = rates[kind] + (whole ? 0 : rest->rate),
			.rr = square(GROWTH_STOPPED_RATE_SD) + (whole ? 0 : rest->rr),
		};

		mix(mixture, p[kind], &explained);
	}
}

static double since_day(const struct stop *stop, const double p[STOP_KINDS])
{
	if (stop->n == 0)
		return NAN;
	return stop_likeliest(stop, p[STOP_LOSS] > p[STOP_STALL] ? STOP_LOSS : STOP_STALL)->since_day;
}

/* Either of both had stopped, by the hypotheses that have been spoken for or against. */
static double stopped_before(const struct growth *growth, const struct stop *alone, double newest_day)
{
	double p_alone = share(stop_ln_odds_by(alone, newest_day - GROWTH_SPOKEN_DAYS, GROWTH_STOP_PRIOR));
	double p_litter = share(stop_ln_odds_by(&growth->stop, growth->now.day - GROWTH_SPOKEN_DAYS,
						growth_round_litter_prior(growth)));

	return 1 - (1 - p_alone) * (1 - p_litter);
}

/* Going on as before; that the animal alone stopped; that the litter did. Level and deviation of the day. */
static void believe(const struct growth *growth, const struct trend *level, const struct trend *deviation,
		    const struct stop *alone, double newest_day, struct growth_state *ret)
{
	double expected = curve_rate(level->day), p_alone[STOP_KINDS], p_litter[STOP_KINDS], on, litter;
	struct trend both = { .level = level->level + deviation->level,
			      .ll = level->ll + deviation->ll,
			      .rate = level->rate + deviation->rate + expected,
			      .rr = level->rr + deviation->rr };
	struct mixture mixture = { 0 };

	stopped(alone, GROWTH_STOP_PRIOR, p_alone);
	stopped(&growth->stop, growth_round_litter_prior(growth), p_litter);
	on = 1 - p_alone[STOP_STALL] - p_alone[STOP_LOSS];
	for (int kind = 0; kind < STOP_KINDS; kind++)
		p_litter[kind] *= on; /* an animal that stopped alone isn't counted twice */
	litter = p_litter[STOP_STALL] + p_litter[STOP_LOSS];
	mix(&mixture, on - litter, &both);
	mix_stopped(&mixture, alone, p_alone, level->day, level, true, expected);
	mix_stopped(&mixture, &growth->stop, p_litter, level->day, deviation, false, expected);
	ret->p_stall = p_alone[STOP_STALL] + p_litter[STOP_STALL];
	ret->p_loss = p_alone[STOP_LOSS] + p_litter[STOP_LOSS];
	ret->p_litter = litter;
	ret->p_before = stopped_before(growth, alone, newest_day);
	ret->on_rate = both.rate;
	ret->u_on_rate = sqrt(both.rr);
	ret->since_day = litter > 1 - on ? since_day(&growth->stop, p_litter) : since_day(alone, p_alone);
	ret->ln_g = mixture.level + curve_gain(0, level->day);
	ret->u_ln_g = sd(mixture.level, mixture.level_square);
	ret->rate = mixture.rate;
	ret->u_rate = sd(mixture.rate, mixture.rate_square);
}

/* The level on the day of a time, not before the litter's first reading. */
static struct trend level_at(const struct growth *growth, int64_t at_ms)
{
	double day = fmax(0, day_of(growth, at_ms));
	struct trend level = growth_round_level(&growth->now, day);

	level.day = day;
	return level;
}

bool growth_at(const struct growth *growth, size_t i, int64_t at_ms, struct growth_state *ret)
{
	const struct growth_animal *animal = &growth->animals[i];
	struct trend level, deviation;

	if (!animal->known)
		return false;
	level = level_at(growth, at_ms);
	deviation = growth_round_deviation(growth, &animal->now, level.day);
	*ret = (struct growth_state){ .newest_ms = animal->newest_ms,
				      .readings = animal->readings,
				      .wild = animal->wild };
	believe(growth, &level, &deviation, &animal->stop, animal->day, ret);
	return true;
}

/* What an animal's deviation will be by then, that it stopped included: one that fails is still looked for where it is.
 */
static struct trend expected_deviation(const struct growth *growth, const struct growth_animal *animal,
				       const struct trend *level)
{
	struct trend going_on =
		growth_round_deviation(growth, animal->weighed ? &animal->before : &animal->now, level->day);
	const struct stop *stop = animal->weighed ? &animal->stop_before : &animal->stop;
	const struct trend litter = { .rate = level->rate };
	struct mixture mixture = { 0 };
	double p[STOP_KINDS];

	stopped(stop, GROWTH_STOP_SHARE, p);
	mix(&mixture, 1 - p[STOP_STALL] - p[STOP_LOSS], &going_on);
	mix_stopped(&mixture, stop, p, level->day, &litter, true, curve_rate(level->day));
	return (struct trend){ .level = mixture.level, .ll = square(sd(mixture.level, mixture.level_square)) };
}

bool growth_predict(const struct growth *growth, size_t i, int64_t at_ms, struct growth_prediction *ret)
{
	const struct growth_animal *animal = &growth->animals[i];
	struct trend level, deviation;
	struct growth_round_common common;

	if (!animal->known)
		return false;
	level = level_at(growth, at_ms);
	deviation = expected_deviation(growth, animal, &level);
	if (growth->following && within(at_ms, growth->round_ms, GROWTH_ROUND_MS) &&
	    within(growth->round_first_ms, at_ms, GROWTH_ROUND_MS))
		common = growth_round_common(growth, i, level.day, true);
	else
		common = (struct growth_round_common){ level.level, level.ll + growth->shared_var };
	ret->ln_g = common.mean + deviation.level + curve_gain(0, level.day);
	ret->sd = sqrt(growth_round_surprise(growth) * (deviation.ll + common.variance + growth->own_var));
	return true;
}

bool growth_litter(const struct growth *growth, int64_t at_ms, struct growth_state *ret)
{
	static const struct trend none = { 0 };
	static const struct stop never = { 0 };
	struct trend level;

	if (!growth->begun)
		return false;
	level = level_at(growth, at_ms);
	*ret = (struct growth_state){ .newest_ms = growth->round_ms };
	believe(growth, &level, &none, &never, growth->now.day, ret);
	return true;
}

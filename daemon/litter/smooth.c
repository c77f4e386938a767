// SPDX-License-Identifier: MIT
#include "daemon/litter/smooth.h"
#include "daemon/litter/curve.h"
#include "daemon/litter/growth_priors.h"
#include "daemon/litter/growth_round.h"
#include <math.h>

#define QUANTILE_95 1.959963984540054 /* two-sided, of the normal distribution */
#define WALKS 4                       /* multiples of the random walk's variance that are tried: */
#define WALK_STEP 10.0
#define NONE SIZE_MAX

static double square(double x)
{
	return x * x;
}

/* ---- once through the readings, with the growth model ---- */

static size_t weighed(const struct growth *growth)
{
	size_t n = 0;

	for (size_t i = 0; i < growth->n; i++)
		n += growth->animals[i].weighed || growth->animals[i].joined;
	return n;
}

/* All hypotheses begin anew when another mass than was believed is confirmed (growth_round.c). */
static bool began_anew(const struct stop *stop, const struct stop *before)
{
	return stop->n == 1 && before->n > 0;
}

/* What a reading measured of its animal's deviation, as far as the round tells. */
static void note(const struct growth *growth, size_t i, struct smooth_room *room)
{
	const struct growth_animal *animal = &growth->animals[i];
	struct growth_round_common common;

	room->day = animal->day;
	room->alone = growth_round_alone(growth);
	room->r = INFINITY;
	room->first = !growth->following || animal->joined;
	if (room->first) {
		room->predicted = animal->before;
		return;
	}
	room->confirmed = !animal->wild && began_anew(&animal->stop, &animal->stop_before);
	if (animal->wild || room->alone)
		return;
	common = growth_round_common(growth, i, animal->day, true);
	room->z = animal->y - common.mean;
	room->r = animal->r + common.variance;
}

static void note_level(const struct growth *growth, struct smooth_room *room)
{
	struct growth_round_common common;

	room->level_day = growth->round_day;
	room->level_r = INFINITY;
	room->level_first = !growth->following;
	if (room->level_first) {
		room->level_predicted = growth->before;
		return;
	}
	common = growth_round_common(growth, growth->n, growth->round_day, false);
	room->level_confirmed = growth_round_alone(growth) && began_anew(&growth->stop, &growth->stop_before);
	room->level_z = common.mean;
	room->level_r = common.variance + growth->shared_var;
}

/* Each reading tells anew what its whole round measured. */
static void note_round(const struct growth *growth, const struct smooth_reading *readings, size_t from, size_t to,
		       struct smooth_room *room, struct smooth_point *points)
{
	for (size_t k = from; k <= to; k++) {
		if (!room[k].has)
			continue;
		note(growth, readings[k].animal, &room[k]);
		points[k].wild = growth->animals[readings[k].animal].wild;
		room[k].round = from;
	}
	note_level(growth, &room[from]);
}

static enum smooth_outcome go_through(const struct smooth_reading *readings, size_t n, struct growth *growth,
				      struct smooth_room *room, struct smooth_point *points)
{
	size_t from = NONE;

	for (size_t k = 0; k < n; k++) {
		bool following = growth->following;

		room[k] = (struct smooth_room){ .has = readings[k].reading.mass_mg > 0 };
		points[k] = (struct smooth_point){ .at_ms = readings[k].reading.at_ms, .wild = true };
		if (readings[k].animal >= growth->n)
			return SMOOTH_ANIMAL;
		if (!room[k].has)
			continue;
		if (growth_take(growth, readings[k].animal, &readings[k].reading) == GROWTH_LATE)
			return SMOOTH_ORDER;
		if (from == NONE || (growth->following && (!following || weighed(growth) == 1)))
			from = k;
		note_round(growth, readings, from, k, room, points);
	}
	return SMOOTH_DONE;
}

/* ---- one series: filtered as it walks, smoothed backwards ---- */

/* The next link of an animal's series (or NONE), or of the litter's: first readings of rounds. */
static size_t next_of(const struct smooth_reading *readings, const struct smooth_room *room, size_t n, size_t animal,
		      size_t from)
{
	for (size_t k = from; k < n; k++)
		if (room[k].has && (animal == NONE ? room[k].round == k : readings[k].animal == animal))
			return k;
	return NONE;
}

/* A mass that was confirmed must be learned anew; a level pulls, but not without bound (growth_round.c). */
static double take(struct trend *now, double z, double r, bool confirmed, bool level)
{
	struct trend_innovation innovation = trend_test(now, z, r);

	if (isinf(r))
		return 0;
	if (confirmed)
		now->ll += square(innovation.nu);
	else if (level && fabs(innovation.nu) > GROWTH_WILD_SIGMAS * sqrt(innovation.s))
		r = square(innovation.nu / GROWTH_WILD_SIGMAS) - now->ll;
	return trend_update(now, z, r).ln_density;
}

/* Returns ln of the likelihood. */
static double filter_level(struct smooth_room *room, const struct smooth_reading *readings, size_t n, double walk)
{
	const struct trend_noise noise = { .q_level = GROWTH_Q_LEVEL, .q_rate = GROWTH_LITTER_Q_RATE * walk };
	struct trend now = { 0 };
	double sum = 0;

	for (size_t k = next_of(readings, room, n, NONE, 0); k != NONE; k = next_of(readings, room, n, NONE, k + 1)) {
		struct smooth_room *one = &room[k];

		if (one->level_first)
			now = one->level_predicted;
		else
			trend_predict(&now, one->level_day, &noise);
		one->level_predicted = now;
		sum += take(&now, one->level_z, one->level_r, one->level_confirmed, true);
		one->level_filtered = now;
	}
	return sum;
}

/* The same of an animal's deviation. Alone it is its place, which is known and doesn't move. */
static double filter_animal(struct smooth_room *room, const struct smooth_reading *readings, size_t n, size_t animal,
			    double walk)
{
	const struct trend_noise noise = { .q_level = GROWTH_Q_LEVEL, .q_rate = GROWTH_ANIMAL_Q_RATE * walk };
	struct trend now = { 0 };
	double sum = 0;
	bool alone = false;

	for (size_t k = next_of(readings, room, n, animal, 0); k != NONE;
	     k = next_of(readings, room, n, animal, k + 1)) {
		struct smooth_room *one = &room[k];

		if (one->first)
			now = one->predicted;
		else if (alone && !one->alone)
			now = (struct trend){ .day = now.day, .level = now.level, .rr = square(GROWTH_ANIMAL_RATE_SD) };
		alone = one->alone;
		if (alone)
			now = (struct trend){ .day = one->day, .level = now.level };
		else
			trend_predict(&now, one->day, &noise);
		one->predicted = now;
		sum += take(&now, one->z, one->r, one->confirmed, false);
		one->filtered = now;
	}
	return sum;
}

static double filter(struct smooth_room *room, const struct smooth_reading *readings, size_t n, size_t animal,
		     double walk)
{
	return animal == NONE ? filter_level(room, readings, n, walk) : filter_animal(room, readings, n, animal, walk);
}

static void filter_likeliest(struct smooth_room *room, const struct smooth_reading *readings, size_t n, size_t animal)
{
	double walk = 1, best_walk = 1, best = -INFINITY;

	for (int i = 0; i < WALKS; i++, walk *= WALK_STEP) {
		double ln = filter(room, readings, n, animal, walk) - SMOOTH_STEP_LN * i;

		if (ln > best) {
			best = ln;
			best_walk = walk;
		}
	}
	(void)filter(room, readings, n, animal, best_walk); /* leaves its states; its likelihood is known */
}

/* What was confirmed as new says little of what was before. */
static struct trend step_back(const struct trend *filtered, struct trend later_predicted,
			      const struct trend *later_smoothed, bool confirmed)
{
	if (confirmed)
		later_predicted.ll += square(later_smoothed->level - later_predicted.level);
	return trend_smooth(filtered, &later_predicted, later_smoothed);
}

static void smooth_level(struct smooth_room *room, size_t n)
{
	size_t later = NONE;

	for (size_t k = n; k-- > 0;) {
		if (!room[k].has || room[k].round != k)
			continue;
		room[k].level_smoothed = later == NONE
						 ? room[k].level_filtered
						 : step_back(&room[k].level_filtered, room[later].level_predicted,
							     &room[later].level_smoothed, room[later].level_confirmed);
		later = k;
	}
}

static void smooth_animal(struct smooth_room *room, const struct smooth_reading *readings, size_t n, size_t animal)
{
	size_t later = NONE;

	for (size_t k = n; k-- > 0;) {
		if (!room[k].has || readings[k].animal != animal)
			continue;
		room[k].smoothed = later == NONE || room[later].first || room[k].alone
					   ? room[k].filtered
					   : step_back(&room[k].filtered, room[later].predicted, &room[later].smoothed,
						       room[later].confirmed);
		later = k;
	}
}

/* ---- put together ---- */

static void put(const struct smooth_room *room, const struct trend *level, double surprise, struct smooth_point *ret)
{
	double days = room->day - level->day;
	double ln_g = level->level + level->rate * days + room->smoothed.level + curve_gain(0, room->day);
	double half = QUANTILE_95 * sqrt(surprise * (level->ll + room->smoothed.ll));

	ret->mass_g = exp(ln_g);
	ret->low_g = exp(ln_g - half);
	ret->high_g = exp(ln_g + half);
	ret->rate = level->rate + room->smoothed.rate + curve_rate(room->day);
	ret->u_rate = sqrt(surprise * (level->rr + room->smoothed.rr));
}

enum smooth_outcome smooth_litter(const struct smooth_reading *readings, size_t n, size_t animals, int64_t born_ms,
				  struct growth *growth, struct smooth_room *room, struct smooth_point *ret)
{
	enum smooth_outcome outcome;
	double surprise;

	if (animals == 0 || animals > GROWTH_ANIMALS)
		return SMOOTH_ANIMAL;
	growth_init(growth, animals, born_ms);
	outcome = go_through(readings, n, growth, room, ret);
	if (outcome != SMOOTH_DONE)
		return outcome;
	filter_likeliest(room, readings, n, NONE);
	smooth_level(room, n);
	for (size_t i = 0; i < animals; i++) {
		filter_likeliest(room, readings, n, i);
		smooth_animal(room, readings, n, i);
	}
	/* Where readings scatter less than the next one was expected to, that needn't be the curve's merit. */
	surprise = fmax(1, growth_round_surprise(growth));
	for (size_t k = 0; k < n; k++) {
		if (room[k].has)
			put(&room[k], &room[room[k].round].level_smoothed, surprise, &ret[k]);
		else
			ret[k].mass_g = ret[k].low_g = ret[k].high_g = ret[k].rate = ret[k].u_rate = NAN;
	}
	return SMOOTH_DONE;
}

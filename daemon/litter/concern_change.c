// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_change.h"
#include "daemon/litter/curve.h"
#include <math.h>

/* How far from a time the weighing meant may lie: a litter's stop lies between its pups' weighings, and a pup may have
 * missed that round. Ours. */
#define NEAR_MS CONCERN_DAY_MS

static bool apart_ms(int64_t a_ms, int64_t b_ms, int64_t *ret)
{
	if (__builtin_sub_overflow(a_ms, b_ms, ret) || *ret == INT64_MIN)
		return false;
	if (*ret < 0)
		*ret = -*ret;
	return true;
}

/* The birth weight is a reading here. */
static bool birth_of(const struct concern_litter *litter, const struct concern_animal *animal,
		     struct concern_reading *ret)
{
	int64_t born_ms = animal->born_ms != INT64_MIN ? animal->born_ms : litter->growth->born_ms;

	if (!concern_rules_is_mass(animal->birth_mg) || born_ms == INT64_MIN)
		return false;
	*ret = (struct concern_reading){ .at_ms = born_ms, .mass_mg = animal->birth_mg };
	return true;
}

/* Of those up to a time (included) the nearest to another, within a span. One that the model marked isn't meant. */
static bool nearest(const struct concern_view *view, const struct concern_animal *animal, int64_t at_ms, int64_t to_ms,
		    int64_t span_ms, struct concern_reading *ret)
{
	const struct growth_animal *model = &view->litter->growth->animals[animal->index];
	struct concern_reading birth;
	int64_t best = span_ms, apart;
	bool found = false;

	if (birth_of(view->litter, animal, &birth) && birth.at_ms <= to_ms && apart_ms(birth.at_ms, at_ms, &apart) &&
	    apart <= best) {
		best = apart;
		*ret = birth;
		found = true;
	}
	for (size_t i = 0; i < animal->n && animal->readings[i].at_ms <= to_ms; i++) {
		const struct concern_reading *reading = &animal->readings[i];

		if (!concern_rules_is_mass(reading->mass_mg) || (model->wild && reading->at_ms == model->newest_ms) ||
		    !apart_ms(reading->at_ms, at_ms, &apart) || apart > best)
			continue;
		best = apart;
		*ret = *reading;
		found = true;
	}
	return found;
}

static double days_of(const struct concern_view *view, int64_t at_ms)
{
	return fmax(0, ((double)at_ms - (double)view->litter->growth->zero_ms) / (double)CONCERN_DAY_MS);
}

static double published_pct(const struct concern_view *view, int64_t from_ms, int64_t to_ms)
{
	return 100 * (exp(curve_gain(days_of(view, from_ms), days_of(view, to_ms))) - 1);
}

/* Mean of those weighed in both rounds, except one; returns how many. */
static size_t mean_pct(const struct concern_view *view, const struct concern_animal *except, int64_t from_ms,
		       int64_t to_ms, double *ret_pct)
{
	double sum = 0;
	size_t n = 0;

	for (size_t i = 0; i < view->litter->n && i < GROWTH_ANIMALS; i++) {
		const struct concern_animal *animal = &view->litter->animals[i];
		struct concern_reading from, to;

		if (animal == except || (except && !concern_rules_is_peer(view, i)) ||
		    !nearest(view, animal, to_ms, view->now_ms, GROWTH_ROUND_MS, &to) ||
		    !nearest(view, animal, from_ms, to.at_ms - 1, GROWTH_ROUND_MS, &from))
			continue;
		sum += concern_rules_change_pct(from.mass_mg, to.mass_mg);
		n++;
	}
	*ret_pct = n > 0 ? sum / (double)n : 0;
	return n;
}

void concern_change_between(const struct concern_view *view, const struct concern_reading *from,
			    const struct concern_reading *to, struct concern_change *ret)
{
	*ret = (struct concern_change){
		.from_mg = from->mass_mg,
		.to_mg = to->mass_mg,
		.ms = to->at_ms - from->at_ms,
		.pct = concern_rules_change_pct(from->mass_mg, to->mass_mg),
		.n = 1,
		.published_pct = published_pct(view, from->at_ms, to->at_ms),
	};
	ret->others = mean_pct(view, view->animal, from->at_ms, to->at_ms, &ret->others_pct);
}

bool concern_change_of(const struct concern_view *view, int64_t since_ms, struct concern_change *ret)
{
	struct concern_reading from, to;

	if (!view->animal || !nearest(view, view->animal, view->now_ms, view->now_ms, INT64_MAX, &to) ||
	    !nearest(view, view->animal, since_ms, to.at_ms - 1, NEAR_MS, &from))
		return false;
	concern_change_between(view, &from, &to, ret);
	return true;
}

bool concern_change_of_litter(const struct concern_view *view, int64_t since_ms, int64_t to_ms,
			      struct concern_change *ret)
{
	double pct;
	size_t n = mean_pct(view, NULL, since_ms, to_ms, &pct);

	if (n == 0)
		return false;
	*ret = (struct concern_change){
		.ms = to_ms - since_ms, .pct = pct, .n = n, .published_pct = published_pct(view, since_ms, to_ms)
	};
	return true;
}

double concern_change_expected_pct(const struct concern_change *change)
{
	return change->others > 0 ? change->others_pct : change->published_pct;
}

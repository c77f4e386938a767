// SPDX-License-Identifier: MIT
#include "daemon/litter/round.h"
#include <math.h>

#define DAY_MS 86400000.0
#define SQRT_2PI 2.5066282746310005
/* A share of readings that says nothing of growth, and its density of ln(mass): a reading that fits nobody must not be
 * dealt to whoever happens to be next to it. As in the model's own hypotheses. */
#define WILD_SHARE 0.01
#define WILD_DENSITY 1.0
/* An animal of which nothing is known: anything from 50 g to 50 kg, evenly in ln(mass), as in who.c. 1 / ln 1000. */
#define UNKNOWN_DENSITY 0.14476482730108395
/* A reading that stays where it was said to be is worth half an exchange: so two that change places are told from
 * ROUND_EXCHANGE_LN on, and three only when the third adds enough of its own. */
#define STAYS_LN (ROUND_EXCHANGE_LN / 2)

/* ---- assignment ---- */

/*
 * Kuhn-Munkres (Kuhn 1955, Nav Res Logist Q 2:83; Munkres 1957, J SIAM 5:32) by shortest augmenting paths with
 * potentials (Jonker & Volgenant 1987, Computing 38:325): rows come in one by one, and each looks for the cheapest path
 * to a free column, as Dijkstra does, over costs that the potentials keep from being negative. O(n^2 m).
 */
struct assignment {
	const double *cost;
	size_t m;
	double u[GROWTH_ANIMALS + 1],
		v[GROWTH_ANIMALS + 1];     /* potentials of rows and columns; 0 is no row, no column */
	size_t row_of[GROWTH_ANIMALS + 1]; /* a column's row, 0: free */
	size_t way[GROWTH_ANIMALS + 1];    /* the column before it on the path */
};

static void augment(struct assignment *a, size_t row)
{
	double least[GROWTH_ANIMALS + 1];
	bool done[GROWTH_ANIMALS + 1] = { false };
	size_t at = 0;

	for (size_t j = 0; j <= a->m; j++)
		least[j] = INFINITY;
	a->row_of[0] = row;
	do {
		size_t i = a->row_of[at], next = 0;
		double delta = INFINITY;
		done[at] = true;
		for (size_t j = 1; j <= a->m; j++) {
			double reduced = a->cost[(i - 1) * a->m + j - 1] - a->u[i] - a->v[j];
			if (done[j])
				continue;
			if (reduced < least[j]) {
				least[j] = reduced;
				a->way[j] = at;
			}
			if (least[j] < delta) { /* not "<=": of equals the first, so that it is the same each time */
				delta = least[j];
				next = j;
			}
		}
		for (size_t j = 0; j <= a->m; j++) {
			if (done[j]) {
				a->u[a->row_of[j]] += delta;
				a->v[j] -= delta;
			} else {
				least[j] -= delta;
			}
		}
		at = next;
	} while (a->row_of[at] != 0);
	for (; at != 0; at = a->way[at])
		a->row_of[at] = a->row_of[a->way[at]];
}

double round_assign(const double *cost, size_t n, size_t m, size_t *ret_column)
{
	struct assignment a = { .cost = cost, .m = m };
	double sum = 0;

	for (size_t i = 1; i <= n; i++)
		augment(&a, i);
	for (size_t j = 1; j <= m; j++) {
		if (a.row_of[j] == 0)
			continue;
		ret_column[a.row_of[j] - 1] = j - 1;
		sum += cost[(a.row_of[j] - 1) * m + j - 1];
	}
	return sum;
}

/* ---- the round ---- */

/* The first reading of each animal, in the order given. */
struct dealt {
	size_t n;
	size_t reading[GROWTH_ANIMALS], animal[GROWTH_ANIMALS];
	double ln_f[GROWTH_ANIMALS * GROWTH_ANIMALS]; /* of reading i if it were animal j's */
};

static void deal(const struct growth *before, const struct round_reading *readings, size_t n, struct dealt *ret)
{
	bool seen[GROWTH_ANIMALS] = { false };

	ret->n = 0;
	for (size_t k = 0; k < n; k++) {
		size_t animal = readings[k].animal;
		if (animal >= before->n || seen[animal] || readings[k].reading.mass_mg <= 0)
			continue;
		seen[animal] = true;
		ret->reading[ret->n] = k;
		ret->animal[ret->n++] = animal;
	}
}

/* What a reading would show of an animal, its own part alone: known is false when nothing is known. */
struct expected {
	bool known;
	double ln_g, variance;
};

/* Its variance carried to a day, without its own noise, which is small beside the rest. */
static double carried_variance(const struct trend *trend, double day)
{
	static const struct trend_noise none = { 0 };
	struct trend carried = *trend;

	trend_predict(&carried, day, &none);
	return carried.ll;
}

/*
 * What the round shares, and how far the litter's level is known, moves all readings alike and speaks for nobody: its
 * part of the predicted variance is left out here, and it is taken off the readings in common_of().
 */
static struct expected expect(const struct growth *before, size_t animal, const struct growth_reading *reading)
{
	double day = ((double)reading->at_ms - (double)before->zero_ms) / DAY_MS, own, shared;
	struct growth_prediction prediction;

	if (!growth_predict(before, animal, reading->at_ms, &prediction))
		return (struct expected){ 0 };
	own = carried_variance(&before->animals[animal].now, day) + before->own_var;
	shared = carried_variance(&before->now, day) + before->shared_var;
	return (struct expected){ .known = true,
				  .ln_g = prediction.ln_g,
				  .variance = prediction.sd * prediction.sd * own / (own + shared) };
}

static double ln_grams(const struct growth_reading *reading)
{
	return log((double)reading->mass_mg / 1000);
}

static double own_variance(const struct growth_reading *reading)
{
	double u = (double)reading->u_mg / (double)reading->mass_mg;

	return u * u;
}

/* What each reading shows above what was expected, and how well that is known. */
struct residuals {
	size_t n;
	double off[GROWTH_ANIMALS], variance[GROWTH_ANIMALS];
};

static void residuals_of(const struct growth *before, const struct round_reading *readings, const struct dealt *dealt,
			 struct residuals *ret)
{
	ret->n = 0;
	for (size_t i = 0; i < dealt->n; i++) {
		const struct growth_reading *reading = &readings[dealt->reading[i]].reading;
		struct expected expected = expect(before, dealt->animal[i], reading);
		if (!expected.known)
			continue;
		ret->off[ret->n] = ln_grams(reading) - expected.ln_g;
		ret->variance[ret->n++] = expected.variance + own_variance(reading);
	}
}

static double median_of(const struct residuals *residuals)
{
	double sorted[GROWTH_ANIMALS];
	size_t n = residuals->n;

	for (size_t i = 0; i < n; i++) {
		size_t at = i;
		for (; at > 0 && sorted[at - 1] > residuals->off[i]; at--)
			sorted[at] = sorted[at - 1];
		sorted[at] = residuals->off[i];
	}
	return n == 0 ? 0 : (sorted[n / 2] + sorted[(n - 1) / 2]) / 2;
}

/*
 * What the readings have in common: their mean, of which those far from the median (three standard deviations: half)
 * have a smaller part, so that one that fails doesn't pull the others. An exchange leaves it about as it is: what one
 * reading lacks, another has too much.
 */
static double common_of(const struct growth *before, const struct round_reading *readings, const struct dealt *dealt)
{
	struct residuals residuals;
	double median, sum = 0, weight = 0;

	residuals_of(before, readings, dealt, &residuals);
	median = median_of(&residuals);
	for (size_t i = 0; i < residuals.n; i++) {
		double off = residuals.off[i] - median;
		double w = 1 / (residuals.variance[i] + off * off / 9);
		sum += w * residuals.off[i];
		weight += w;
	}
	return weight > 0 ? sum / weight : 0;
}

static double ln_density(const struct expected *expected, const struct growth_reading *reading, double common)
{
	double variance = expected->variance + own_variance(reading), off;

	if (!expected->known)
		return log(UNKNOWN_DENSITY);
	off = ln_grams(reading) - common - expected->ln_g;
	return log((1 - WILD_SHARE) * exp(-off * off / variance / 2) / (SQRT_2PI * sqrt(variance)) +
		   WILD_SHARE * WILD_DENSITY);
}

static void weigh_all(const struct growth *before, const struct round_reading *readings, struct dealt *dealt)
{
	double common = common_of(before, readings, dealt);

	for (size_t i = 0; i < dealt->n; i++) {
		const struct growth_reading *reading = &readings[dealt->reading[i]].reading;
		for (size_t j = 0; j < dealt->n; j++) {
			struct expected expected = expect(before, dealt->animal[j], reading);
			dealt->ln_f[i * dealt->n + j] = ln_density(&expected, reading, common);
		}
	}
}

/* The cycle that begins with reading i: it goes to animal column[i], whose reading goes on, until i's animal is
 * reached. */
static void follow(const struct dealt *dealt, const size_t *column, size_t i, bool *seen, struct round_exchange *ret)
{
	*ret = (struct round_exchange){ 0 };
	for (size_t at = i; !seen[at]; at = column[at]) {
		seen[at] = true;
		ret->readings[ret->n] = dealt->reading[at];
		ret->animals[ret->n++] = dealt->animal[column[at]];
		ret->ln_ratio += dealt->ln_f[at * dealt->n + column[at]] - dealt->ln_f[at * dealt->n + at];
	}
}

/* Most telling first; of equals, the one found first. */
static size_t insert(struct round_exchange *ret, size_t n, size_t n_ret, const struct round_exchange *exchange)
{
	size_t at = n;

	while (at > 0 && exchange->ln_ratio > ret[at - 1].ln_ratio)
		at--;
	if (at == n_ret)
		return n;
	if (n < n_ret)
		n++;
	for (size_t i = n - 1; i > at; i--)
		ret[i] = ret[i - 1];
	ret[at] = *exchange;
	return n;
}

size_t round_exchanges(const struct growth *before, const struct round_reading *readings, size_t n,
		       struct round_exchange *ret, size_t n_ret)
{
	double cost[GROWTH_ANIMALS * GROWTH_ANIMALS];
	size_t column[GROWTH_ANIMALS], n_kept = 0;
	bool seen[GROWTH_ANIMALS] = { false };
	struct dealt dealt;

	deal(before, readings, n, &dealt);
	if (dealt.n < 2)
		return 0;
	weigh_all(before, readings, &dealt);
	for (size_t i = 0; i < dealt.n; i++)
		for (size_t j = 0; j < dealt.n; j++)
			cost[i * dealt.n + j] = -dealt.ln_f[i * dealt.n + j] - (i == j ? STAYS_LN : 0);
	(void)round_assign(cost, dealt.n, dealt.n, column); /* the cost itself isn't wanted */
	for (size_t i = 0; i < dealt.n; i++) {
		struct round_exchange exchange;
		if (seen[i] || column[i] == i)
			continue;
		follow(&dealt, column, i, seen, &exchange);
		if (exchange.ln_ratio >= ROUND_EXCHANGE_LN)
			n_kept = insert(ret, n_kept, n_ret, &exchange);
	}
	return n_kept;
}

// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>
#include "daemon/litter/who.h"
#include "tests/unit/litter/sim.h"

#define NOW_MS INT64_C(1795610730000)
#define HOUR_MS INT64_C(3600000)
#define DAY_MS (24 * HOUR_MS)
#define N_RANDOM 40

/* Fixed seed: a failure comes again. xorshift64. */
static uint64_t random_state = UINT64_C(0xd1342543de82ef95);

static uint64_t random_u64(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return random_state;
}

/* Within [low, high]. */
static int64_t random_between(int64_t low, int64_t high)
{
	return low + (int64_t)(random_u64() % (uint64_t)(high - low + 1));
}

static void assert_near(double value, double expected, double tolerance)
{
	if (!(fabs(value - expected) <= tolerance))
		fail_msg("%.12g isn't %.12g", value, expected);
}

/* Weighed so many hours ago. */
static struct who_animal weighed(int64_t mass_mg, double hours)
{
	int64_t at_ms = NOW_MS - (int64_t)(hours * (double)HOUR_MS);

	return (struct who_animal){
		.newest_mg = mass_mg,
		.newest_at_ms = at_ms,
		.weighed_at_ms = at_ms,
	};
}

/* A birth weight so many hours ago, and no reading since. */
static struct who_animal born(int64_t mass_mg, double hours)
{
	struct who_animal animal = weighed(mass_mg, hours);

	animal.weighed_at_ms = INT64_MIN;
	return animal;
}

static const struct who_animal unknown = { .weighed_at_ms = INT64_MIN };

static struct who_candidate rank_one(struct who_animal animal, int64_t net_mg, int64_t u_mg)
{
	struct who_candidate candidate;

	assert_int_equal(who_rank(&animal, 1, net_mg, u_mg, NOW_MS, &candidate, 1), 1);
	return candidate;
}

static int64_t expected_after(int64_t mass_mg, double days)
{
	return rank_one(weighed(mass_mg, 24 * days), 1, 0).expected_mg;
}

/*
 * One week at 5 %, 8 % and 10 % a day is x1.407, x1.714 and x1.949: the range and mean published
 * for week 1 (Small Animal Clinical Nutrition, 5th ed., ch. 16, p. 292), compounded apart from this
 * code.
 */
static void test_growth_published(void **state)
{
	(void)state;
	assert_in_range(expected_after(100000, 7), 140700, 171400);
	/* 1.06, 1.06^2 and 1.06^7, by long multiplication. */
	assert_int_equal(expected_after(100000, 1), 106000);
	assert_int_equal(expected_after(100000, 2), 112360);
	assert_int_equal(expected_after(100000, 7), 150363);
	/* The steepest growth published is a ceiling: x1.1379 on day 1, x2.3087 in a week (Alves
	 * 2020). */
	assert_true(expected_after(100000, 1) < 113790);
	assert_true(expected_after(100000, 7) < 230870);
}

/* Means of real litters lie within one standard uncertainty of the prediction. */
static void test_growth_real(void **state)
{
	static const struct {
		int64_t from_mg;
		int64_t to_mg;
	} rows[] = {
		/* Mean of a breed's curve y = 606.28 e^(0.0523 x), day 0 to 7
		 * (air.unimi.it/handle/2434/408397). */
		{ 606300, 874300 },
		/* 941 g on day 19, 1199 g on day 26 (from Oftedal 1984, J Nutr 114:803). */
		{ 941000, 1199000 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct who_candidate candidate =
			rank_one(weighed(rows[i].from_mg, 7 * 24), rows[i].to_mg, 0);

		assert_true(candidate.expected_mg - rows[i].to_mg < candidate.u_expected_mg);
		assert_true(rows[i].to_mg - candidate.expected_mg < candidate.u_expected_mg);
		assert_true(candidate.probability > 0.9);
	}
}

static void test_growth_stops(void **state)
{
	struct who_candidate week = rank_one(weighed(300000, 7 * 24), 300000, 0);
	struct who_candidate month = rank_one(weighed(300000, 30 * 24), 300000, 0);
	struct who_candidate years = rank_one(weighed(300000, 3000 * 24), 300000, 0);

	(void)state;
	assert_int_equal(month.expected_mg, week.expected_mg);
	assert_true(month.u_expected_mg > week.u_expected_mg);
	/* Never more than the mass itself, but for the rounding. */
	assert_in_range(years.u_expected_mg, years.expected_mg, years.expected_mg + 1);
}

/* A stored weighing may be older than the newest mass: then growth is undone. */
static void test_looks_back(void **state)
{
	struct who_candidate candidate = rank_one(weighed(106000, -24), 100000, 0);

	(void)state;
	assert_int_equal(candidate.expected_mg, 100000);
	assert_true(candidate.u_expected_mg > 0);
	assert_true(candidate.probability > 0.9);
	assert_int_equal(expected_after(150363, -7), 100000);
	assert_int_equal(expected_after(150363, -70), 100000);
}

/*
 * Worked out by a second program from the model: density of a normal in ln(mass), against
 * 0.2/ln(1000) for "none".
 */
static void test_worked(void **state)
{
	struct who_animal animal = weighed(300000, 24);
	struct who_candidate candidate = rank_one(animal, 318000, 0);

	(void)state;
	/* sd = sqrt(0.04^2 + 0.04^2) */
	assert_int_equal(candidate.expected_mg, 318000);
	assert_int_equal(candidate.u_expected_mg, 17989);
	assert_near(candidate.probability, 0.9959113619810481, 1e-9);

	animal = weighed(300000, 12);
	animal.u_mg = 1444;
	candidate = rank_one(animal, 300000, 2043);
	assert_int_equal(candidate.expected_mg, 308869);
	assert_int_equal(candidate.u_expected_mg, 13893);
	assert_near(candidate.probability, 0.995963305583099, 1e-9);

	/* Weighed a moment ago. */
	candidate = rank_one(weighed(300000, 0), 300000, 0);
	assert_int_equal(candidate.expected_mg, 300000);
	assert_int_equal(candidate.u_expected_mg, 12000);
	assert_near(candidate.probability, 0.8732490803610988, 1e-9);

	/* Nothing known: 1 against 0.2. */
	candidate = rank_one(unknown, 300000, 0);
	assert_int_equal(candidate.expected_mg, 0);
	assert_int_equal(candidate.u_expected_mg, 0);
	assert_near(candidate.probability, 1 / 1.2, 1e-9);
}

/*
 * Standard normal ordinates 0.39894 at 0 and 0.05844 at 1.96 (Abramowitz & Stegun, table 26.1, from
 * memory): with equal spreads that is the ratio of the probabilities.
 */
static void test_normal(void **state)
{
	/* Born just now: the spread is gut fill alone, 4 %. */
	const struct who_animal animals[] = {
		born((int64_t)lround(300000 * exp(1.96 * 0.04)), 0),
		born(300000, 0),
	};
	struct who_candidate ret[2];

	(void)state;
	assert_int_equal(who_rank(animals, 2, 300000, 0, NOW_MS, ret, 2), 2);
	assert_int_equal(ret[0].index, 1);
	assert_int_equal(ret[1].index, 0);
	assert_near(ret[1].probability / ret[0].probability, 0.05844 / 0.39894, 1e-4);
}

static void test_ties_and_order(void **state)
{
	const struct who_animal animals[] = {
		weighed(250000, 24), unknown, weighed(300000, 24), weighed(300000, 24),
		unknown, weighed(280000, 24), weighed(300000, 24),
	};
	static const size_t order[] = { 2, 3, 6, 5, 1, 4, 0 };
	struct who_candidate ret[8];

	(void)state;
	assert_int_equal(who_rank(animals, 7, 318000, 0, NOW_MS, ret, 8), 7);
	for (size_t i = 0; i < 7; i++)
		assert_int_equal(ret[i].index, order[i]);
	assert_true(ret[0].probability == ret[2].probability);
	assert_true(ret[0].probability > 0.2 && ret[0].probability < 1.0 / 3);
}

/* Those far off have a probability of 0 as a double, and are still told apart. */
static void test_order_far_off(void **state)
{
	const struct who_animal animals[] = { born(30000000, 0), born(20000000, 0),
					      born(25000000, 0) };
	struct who_candidate ret[3];

	(void)state;
	assert_int_equal(who_rank(animals, 3, 100000, 0, NOW_MS, ret, 3), 3);
	assert_int_equal(ret[0].index, 1);
	assert_int_equal(ret[1].index, 2);
	assert_int_equal(ret[2].index, 0);
	assert_true(ret[0].probability < 1e-300);
}

static struct who_candidate rank_weighed_ms_ago(int64_t ms)
{
	struct who_animal animal = { .newest_mg = 300000, .newest_at_ms = NOW_MS };

	animal.weighed_at_ms = NOW_MS - ms;
	return rank_one(animal, 300000, 0);
}

static void test_round(void **state)
{
	double fresh = rank_one(born(300000, 0), 300000, 0).probability;
	double turn = rank_weighed_ms_ago(0).probability;

	(void)state;
	assert_true(rank_weighed_ms_ago(WHO_ROUND_MS).probability == turn);
	assert_true(rank_weighed_ms_ago(WHO_ROUND_MS + 1).probability == fresh);
	assert_true(rank_weighed_ms_ago(-1).probability == fresh);
	/* One in fifty, as odds against "none". */
	assert_near(turn / (1 - turn) / (fresh / (1 - fresh)), 0.02, 1e-9);
}

/* Promise 4: a failing pup weighs what a smaller littermate weighs, and must stay in the list. */
static void test_failing_pup(void **state)
{
	const struct who_animal animals[] = {
		weighed(285000, 12), /* expected at 293 g */
		weighed(305000, 12), /* lost 4 % in half a day */
	};
	struct who_candidate ret[2];

	(void)state;
	assert_int_equal(who_rank(animals, 2, 293000, 2043, NOW_MS, ret, 2), 2);
	assert_int_equal(ret[0].index, 0);
	assert_true(ret[1].probability > 0.05);
	/* The small one has had its turn: now the failing one comes first. */
	struct who_animal later[] = { animals[0], animals[1] };
	later[0].weighed_at_ms = NOW_MS - HOUR_MS;
	assert_int_equal(who_rank(later, 2, 293000, 2043, NOW_MS, ret, 2), 2);
	assert_int_equal(ret[0].index, 1);
}

static void test_none_fits(void **state)
{
	const struct who_animal animals[] = { weighed(300000, 12), weighed(320000, 12) };
	struct who_candidate ret[2];

	(void)state;
	/* A kilogram on the scale: none of these. */
	assert_int_equal(who_rank(animals, 2, 1000000, 1444, NOW_MS, ret, 2), 2);
	assert_true(ret[0].probability + ret[1].probability < 0.001);
	/* Three standard deviations off the only one: still rather it than none; four: none. */
	assert_true(rank_one(born(300000, 0), lround(300000 * exp(0.12)), 0).probability > 0.5);
	assert_true(rank_one(born(300000, 0), lround(300000 * exp(0.16)), 0).probability < 0.5);
}

static void test_degenerate(void **state)
{
	static const int64_t masses[] = { INT64_MIN, -1, 0, 1, 300000, INT64_MAX };
	static const int64_t times[] = { INT64_MIN, -1, 0, NOW_MS, INT64_MAX };
	const size_t n_masses = sizeof(masses) / sizeof(masses[0]);
	const size_t n_times = sizeof(times) / sizeof(times[0]);
	const size_t n = n_masses * n_masses * n_times * n_times * n_masses;
	struct who_candidate ret;

	(void)state;
	assert_int_equal(who_rank(NULL, 0, 300000, 0, NOW_MS, &ret, 1), 0);
	assert_int_equal(who_rank(&unknown, 1, 300000, 0, NOW_MS, NULL, 0), 0);
	for (size_t i = 0; i < n; i++) {
		size_t rest = i;
		struct who_animal animal = { 0 };
		int64_t net_mg;

		animal.newest_mg = masses[rest % n_masses];
		rest /= n_masses;
		animal.u_mg = masses[rest % n_masses];
		rest /= n_masses;
		animal.newest_at_ms = times[rest % n_times];
		rest /= n_times;
		animal.weighed_at_ms = times[rest % n_times];
		net_mg = masses[rest / n_times];
		for (size_t k = 0; k < n_masses * n_times; k++) {
			assert_int_equal(who_rank(&animal, 1, net_mg, masses[k % n_masses],
						  times[k / n_masses], &ret, 1), 1);
			assert_true(ret.probability >= 0 && ret.probability < 1);
			assert_true(ret.expected_mg >= 0 && ret.u_expected_mg >= 0);
			assert_true((ret.expected_mg == 0) == (animal.newest_mg <= 0));
		}
	}
}

/* A weighing without a mass says nothing, and the round still does. */
static void test_no_mass(void **state)
{
	const struct who_animal animals[] = { weighed(300000, 1), weighed(310000, 12) };
	struct who_candidate ret[2];

	(void)state;
	assert_int_equal(who_rank(animals, 2, 0, 1444, NOW_MS, ret, 2), 2);
	assert_int_equal(ret[0].index, 1);
	assert_int_equal(ret[1].index, 0);
	assert_near(ret[0].probability, 1 / 1.22, 1e-9);
	assert_int_equal(who_rank(animals, 2, -300000, 1444, NOW_MS, ret, 2), 2);
	assert_near(ret[0].probability, 1 / 1.22, 1e-9);
}

static void random_animals(struct who_animal *animals, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		animals[i] = (struct who_animal){
			.newest_mg = random_u64() % 8 ? random_between(60, 700) * 1000 : 0,
			.newest_at_ms = NOW_MS - random_between(-DAY_MS, 20 * DAY_MS),
			.u_mg = random_between(0, 5000),
			.weighed_at_ms = INT64_MIN,
		};
		if (random_u64() % 4)
			animals[i].weighed_at_ms = NOW_MS - random_between(-HOUR_MS, DAY_MS);
	}
}

/* Probabilities in order, in range, and in sum below 1; a short list is the head of the long
 * one. */
static void test_random(void **state)
{
	struct who_animal animals[N_RANDOM];
	struct who_candidate all[N_RANDOM];
	struct who_candidate some[N_RANDOM];

	(void)state;
	for (int turn = 0; turn < 5000; turn++) {
		size_t n = (size_t)random_between(0, N_RANDOM);
		size_t n_some = (size_t)random_between(0, N_RANDOM);
		int64_t net_mg = random_between(-10, 900) * 1000;
		int64_t u_mg = random_between(0, 5000);
		bool seen[N_RANDOM] = { false };
		double sum = 0;

		random_animals(animals, n);
		assert_int_equal(who_rank(animals, n, net_mg, u_mg, NOW_MS, all, N_RANDOM), n);
		for (size_t i = 0; i < n; i++) {
			assert_true(all[i].probability >= 0 && all[i].probability <= 1);
			assert_true(i == 0 || all[i].probability <= all[i - 1].probability);
			assert_true(all[i].index < n && !seen[all[i].index]);
			seen[all[i].index] = true;
			sum += all[i].probability;
		}
		assert_true(sum < 1);
		assert_int_equal(who_rank(animals, n, net_mg, u_mg, NOW_MS, some, n_some),
				 n < n_some ? n : n_some);
		for (size_t i = 0; i < n && i < n_some; i++) {
			assert_int_equal(some[i].index, all[i].index);
			assert_true(some[i].probability == all[i].probability);
			assert_int_equal(some[i].expected_mg, all[i].expected_mg);
			assert_int_equal(some[i].u_expected_mg, all[i].u_expected_mg);
		}
	}
}

/* ---- by the growth model ---- */

/* 304 g expected with 2 %, last weighed so many hours ago. */
static struct who_animal predicted(double expected_g, double sd, double hours)
{
	return (struct who_animal){
		.weighed_at_ms = NOW_MS - (int64_t)(hours * (double)HOUR_MS),
		.predicted = true,
		.ln_g = log(expected_g),
		.sd = sd,
		.rate = log(1.08),
	};
}

/* Worked out by a second program: 0.98 N(0, sd) + 0.02 N(0, 3 sd) of ln(mass), sd^2 = 0.02^2 + (0.289/304)^2, against
 * 0.2/ln(1000) for "none"; factors of the turn 0.02, 0.05, 2 days/4 days, and 0.1 at least. */
static void test_predicted(void **state)
{
	struct who_animal animals[] = { predicted(320, 0.02, 12), predicted(304, 0.02, 12) };
	struct who_candidate ret[2], one;

	(void)state;
	one = rank_one(animals[1], 304000, 289);
	assert_int_equal(one.expected_mg, 304000);
	assert_in_range(one.u_expected_mg, 6080, 6081); /* rounded up */
	assert_near(one.probability, 0.998529403771923, 1e-9);
	assert_int_equal(who_rank(animals, 2, 304000, 289, NOW_MS, ret, 2), 2);
	assert_int_equal(ret[0].index, 1);
	assert_near(ret[0].probability, 0.958323288663788, 1e-9);
	assert_near(ret[1].probability, 0.0402653291493045, 1e-9);
	animals[1].turn = WHO_TURN_HAD;
	assert_near(rank_one(animals[1], 304000, 289).probability, 0.931412546655087, 1e-9);
	animals[1].turn = WHO_TURN_OUTSIDE;
	assert_near(rank_one(animals[1], 304000, 289).probability, 0.971387545426134, 1e-9);
	animals[1].turn = WHO_TURN_LEFT;
	assert_near(rank_one(animals[1], 304000, 289).probability, 0.998529403771923, 1e-9);
	assert_near(rank_one(predicted(304, 0.02, 96), 304000, 289).probability, 0.997063126498939, 1e-9);
	assert_near(rank_one(predicted(304, 0.02, 2400), 304000, 289).probability, 0.985486134047945, 1e-9);
	/* Nothing sensible is predicted: as if nothing were. */
	animals[1] = predicted(304, 0, 12);
	assert_int_equal(rank_one(animals[1], 304000, 289).expected_mg, 0);
	animals[1] = predicted(304, NAN, 12);
	assert_int_equal(rank_one(animals[1], 304000, 289).expected_mg, 0);
	animals[1].ln_g = NAN;
	assert_int_equal(rank_one(animals[1], 304000, 289).expected_mg, 0);
	animals[1] = predicted(304, 0.02, 12);
	animals[1].ln_g = 1e9; /* stays inside the type */
	assert_true(rank_one(animals[1], 304000, 289).probability < 1e-9);
}

/* A round that was begun by hand goes before the 90 minutes, either way. */
static void test_turns(void **state)
{
	struct who_animal animals[] = { predicted(304, 0.02, 12), predicted(304, 0.02, 12), predicted(304, 0.02, 1) };
	struct who_candidate ret[3];

	(void)state;
	animals[0].turn = WHO_TURN_OUTSIDE;
	animals[1].turn = WHO_TURN_HAD;
	animals[2].turn = WHO_TURN_LEFT;
	assert_int_equal(who_rank(animals, 3, 304000, 289, NOW_MS, ret, 3), 3);
	assert_int_equal(ret[0].index, 2);
	assert_int_equal(ret[1].index, 0);
	assert_near(ret[1].probability / ret[0].probability, 0.05, 1e-9);
	assert_near(ret[2].probability / ret[0].probability, 0.02, 1e-9);
}

static void assert_why(struct who_animal animal, const char *expected)
{
	struct who_candidate candidate = rank_one(animal, 304000, 289);
	char why[WHO_WHY_SIZE];

	assert_true(who_why(why, sizeof why, &animal, &candidate, NOW_MS) < (int)sizeof why);
	assert_string_equal(why, expected);
}

static void test_why(void **state)
{
	struct who_animal animal = predicted(304.2, 0.02, 12);

	(void)state;
	assert_why(animal, "expected 304 g, +8.0 %/day; last weighed 12 h ago");
	animal.turn = WHO_TURN_LEFT;
	assert_why(animal, "expected 304 g, +8.0 %/day; not weighed in this round yet");
	animal.turn = WHO_TURN_HAD;
	animal.rate = log(0.985);
	assert_why(animal, "expected 304 g, -1.5 %/day; weighed in this round");
	animal.turn = WHO_TURN_OUTSIDE;
	animal.rate = NAN;
	assert_why(animal, "expected 304 g; not of this round's litter");
	assert_why(weighed(304000, 0.5), "expected 304 g; weighed a short while ago");
	assert_why(weighed(300000, 24), "expected 318 g; last weighed 24 h ago");
	assert_why(weighed(100000, 7 * 24), "expected 150 g; last weighed 7 days ago");
	assert_why(born(300000, 0), "expected 300 g; not weighed before");
	assert_why(unknown, "nothing is known of its mass; not weighed before");
	/* whole grams, to the nearest */
	assert_why(predicted(304.499, 0.02, 12), "expected 304 g, +8.0 %/day; last weighed 12 h ago");
	assert_why(predicted(304.501, 0.02, 12), "expected 305 g, +8.0 %/day; last weighed 12 h ago");
	/* What doesn't fit is cut, and the longest that can be fits. */
	struct who_candidate huge = { .expected_mg = INT64_MAX };
	char why[WHO_WHY_SIZE], small[8];
	animal = predicted(304, 0.02, 1e12);
	animal.rate = -0.9999;
	animal.weighed_at_ms = INT64_MIN + 1;
	assert_true(who_why(why, sizeof why, &animal, &huge, INT64_MAX) < (int)sizeof why);
	assert_true(who_why(small, sizeof small, &animal, &huge, INT64_MAX) > (int)sizeof small);
	assert_int_equal(strlen(small), 7);
}

/* ---- how often right ---- */

#define BINS 10

struct tally {
	int asks, first, nearest;
	int n[BINS], right[BINS];
	double sum[BINS];
};

static void count(struct tally *tally, double probability, bool right)
{
	int bin = (int)fmin(BINS - 1, floor(BINS * probability));

	tally->n[bin]++;
	tally->sum[bin] += probability;
	tally->right[bin] += right;
}

static size_t nearest_last(const double *last, const bool *had, size_t n, double now)
{
	size_t best = n;

	for (size_t i = 0; i < n; i++)
		if (!had[i] && (best == n || fabs(last[i] - now) < fabs(last[best] - now)))
			best = i;
	return best;
}

/* One weighing of a pup, asked about and then answered rightly. */
static void one_weighing(struct growth *growth, const struct growth_reading *reading, size_t pup, double *last,
			 bool *had, struct tally *tally)
{
	struct who_animal animals[8];
	struct who_candidate ret[8];

	for (size_t i = 0; i < growth->n; i++) {
		struct growth_prediction prediction;
		struct growth_state state;
		assert_true(growth_predict(growth, i, reading->at_ms, &prediction));
		assert_true(growth_at(growth, i, reading->at_ms, &state));
		animals[i] = (struct who_animal){ .predicted = true, .ln_g = prediction.ln_g, .sd = prediction.sd,
						  .rate = state.rate, .weighed_at_ms = state.newest_ms,
						  .turn = had[i] ? WHO_TURN_HAD : WHO_TURN_LEFT };
	}
	(void)who_rank(animals, growth->n, reading->mass_mg, reading->u_mg, reading->at_ms, ret, 8);
	tally->asks++;
	tally->first += ret[0].index == pup;
	tally->nearest += nearest_last(last, had, growth->n, (double)reading->mass_mg) == pup;
	for (size_t i = 0; i < growth->n; i++)
		count(tally, ret[i].probability, ret[i].index == pup);
	(void)growth_take(growth, pup, reading);
	last[pup] = (double)reading->mass_mg;
	had[pup] = true;
}

static void one_litter(struct sim_chance *chance, struct tally *tally)
{
	static struct growth growth;
	const struct sim_scale scale = { sim_uniform(chance) < 0.5 ? 1 : 5, 0.01 + 0.01 * sim_uniform(chance), 0.02 };
	size_t n = 4 + (size_t)(5 * sim_uniform(chance));
	struct sim_pup pups[8];
	double last[8], pace = 1 + 0.12 * sim_normal(chance);

	growth_init(&growth, n, SIM_BORN_MS);
	for (size_t i = 0; i < n; i++) {
		struct growth_reading reading = { sim_at(0), 0, sim_step_u_mg(scale.step_g), true };
		pups[i] = (struct sim_pup){ 350 * exp(0.15 * sim_normal(chance)), pace + 0.1 * sim_normal(chance),
					    0.02 * sim_uniform(chance), INFINITY, 0 };
		if (sim_uniform(chance) < 0.1) {
			pups[i].stops_day = 10 * sim_uniform(chance);
			pups[i].stopped_rate = sim_uniform(chance) < 0.5 ? 0 : -0.03;
		}
		reading.mass_mg = sim_show(pups[i].birth_g, scale.step_g);
		last[i] = (double)reading.mass_mg;
		(void)growth_take(&growth, i, &reading);
	}
	for (int round = 1; round <= 28; round++) {
		double day = round / 2.0 + 0.16 * (sim_uniform(chance) - 0.5);
		double shared = scale.shared_sd * sim_normal(chance);
		bool had[8] = { false };
		size_t order[8];
		for (size_t k = 0; k < n; k++) { /* any order, each as likely (Durstenfeld 1964, CACM 7:420) */
			size_t at = (size_t)((double)(k + 1) * sim_uniform(chance));
			order[k] = order[at];
			order[at] = k;
		}
		for (size_t k = 0; k < n; k++) {
			size_t pup = order[k];
			double at = day + 0.001 * (double)k;
			struct growth_reading reading = { sim_at(at), 0, sim_step_u_mg(scale.step_g), false };
			if (sim_uniform(chance) < 0.1)
				continue;
			reading.mass_mg = sim_show(sim_mass(SIM_BAND, &pups[pup], at) *
						   exp(shared + scale.own_sd * sim_normal(chance)), scale.step_g);
			one_weighing(&growth, &reading, pup, last, had, tally);
		}
	}
}

static void test_calibrated(void **state)
{
	struct sim_chance chance = { 777 };
	struct tally tally = { 0 };

	(void)state;
	for (int litter = 0; litter < 100; litter++)
		one_litter(&chance, &tally);
	print_message("who: %.1f %% right first in %d asks (nearest last weight of those left: %.1f %%); said/right:",
		      100.0 * tally.first / tally.asks, tally.asks, 100.0 * tally.nearest / tally.asks);
	for (int bin = 0; bin < BINS; bin++) {
		double n = fmax(1, tally.n[bin]), said = tally.sum[bin] / n, right = tally.right[bin] / n;

		print_message(" %.2f/%.2f", said, right);
		if (tally.n[bin] > 200)
			assert_near(said, right, 0.06);
	}
	print_message("\n");
	assert_true(tally.first > tally.nearest);
	assert_true(tally.first * 100 > tally.asks * 75);
}

/* Published growth: 8 % a day, an hour of it. A stored weighing is asked about later: what was weighed after it says nothing of when it was weighed before; a rate that
 * isn't known, or none of a living thing, isn't told; and without a net mass nobody is likelier by mass. */
static void test_stored_and_unknown(void **state)
{
	struct who_animal animal = weighed(300000, -1), pair[2];
	struct who_candidate candidates[2];
	char why[WHO_WHY_SIZE];

	(void)state;
	candidates[0] = rank_one(animal, 300000, 289);
	(void)who_why(why, sizeof why, &animal, &candidates[0], NOW_MS);
	assert_string_equal(why, "expected 299 g; not weighed before");
	animal = weighed(300000, 5);
	animal.predicted = true;
	animal.ln_g = log(304);
	animal.sd = 0.02;
	for (int i = 0; i < 3; i++) {
		static const double rates[] = { NAN, 1, -1 };
		animal.rate = rates[i];
		candidates[0] = rank_one(animal, 300000, 289);
		(void)who_why(why, sizeof why, &animal, &candidates[0], NOW_MS);
		assert_string_equal(why, "expected 304 g; last weighed 5 h ago");
	}
	animal.rate = log(1.08);
	(void)who_why(why, sizeof why, &animal, &candidates[0], NOW_MS);
	assert_string_equal(why, "expected 304 g, +8.0 %/day; last weighed 5 h ago");
	pair[0] = pair[1] = animal;
	pair[1].ln_g = log(600);
	assert_int_equal(who_rank(pair, 2, 0, 289, NOW_MS, candidates, 2), 2);
	assert_near(candidates[0].probability, candidates[1].probability, 1e-12);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_growth_published),
		cmocka_unit_test(test_growth_real),
		cmocka_unit_test(test_growth_stops),
		cmocka_unit_test(test_looks_back),
		cmocka_unit_test(test_worked),
		cmocka_unit_test(test_normal),
		cmocka_unit_test(test_ties_and_order),
		cmocka_unit_test(test_order_far_off),
		cmocka_unit_test(test_round),
		cmocka_unit_test(test_failing_pup),
		cmocka_unit_test(test_none_fits),
		cmocka_unit_test(test_degenerate),
		cmocka_unit_test(test_no_mass),
		cmocka_unit_test(test_random),
		cmocka_unit_test(test_predicted),
		cmocka_unit_test(test_turns),
		cmocka_unit_test(test_why),
		cmocka_unit_test(test_stored_and_unknown),
		cmocka_unit_test(test_calibrated),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

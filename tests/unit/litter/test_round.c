// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include "daemon/litter/round.h"
#include "tests/unit/litter/sim.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static void assert_near(double value, double expected, double tolerance)
{
	if (!(fabs(value - expected) <= tolerance))
		fail_msg("%.12g isn't %.12g", value, expected);
}

/* ---- assignment ---- */

/* The least cost over all ways to give each of n rows a column of its own. */
static double brute(const double *cost, size_t n, size_t m, size_t row, unsigned taken)
{
	double least = INFINITY;

	if (row == n)
		return 0;
	for (size_t j = 0; j < m; j++)
		if (!(taken >> j & 1))
			least = fmin(least, cost[row * m + j] + brute(cost, n, m, row + 1, taken | 1U << j));
	return least;
}

static double checked(const double *cost, size_t n, size_t m, const size_t *column)
{
	unsigned taken = 0;
	double sum = 0;

	for (size_t i = 0; i < n; i++) {
		assert_true(column[i] < m && !(taken >> column[i] & 1));
		taken |= 1U << column[i];
		sum += cost[i * m + column[i]];
	}
	return sum;
}

static void test_against_brute_force(void **state)
{
	struct sim_chance chance = { 20261125 };

	(void)state;
	for (int turn = 0; turn < 4000; turn++) {
		size_t n = 1 + (size_t)(7 * sim_uniform(&chance)),
		       m = n + (size_t)((double)(8 - n) * sim_uniform(&chance));
		double cost[64], least, told;
		size_t column[8], again[8];
		bool coarse = turn % 3 == 0; /* many ties */
		for (size_t k = 0; k < n * m; k++)
			cost[k] = coarse ? floor(4 * sim_uniform(&chance)) - 2 : 20 * sim_normal(&chance);
		least = brute(cost, n, m, 0, 0);
		told = round_assign(cost, n, m, column);
		assert_near(told, least, 1e-9);
		assert_near(checked(cost, n, m, column), least, 1e-9);
		assert_true(round_assign(cost, n, m, again) == told);
		assert_memory_equal(column, again, n * sizeof column[0]);
	}
}

/* cost[i][j] = (i + 1) * (j + 1): the sum is least when one order is the reverse of the other (rearrangement
 * inequality; Hardy, Littlewood, Polya, Inequalities, 10.2). Largest size. */
static void test_rearrangement(void **state)
{
	double cost[GROWTH_ANIMALS * GROWTH_ANIMALS], sum = 0;
	size_t column[GROWTH_ANIMALS];

	(void)state;
	for (size_t i = 0; i < GROWTH_ANIMALS; i++) {
		for (size_t j = 0; j < GROWTH_ANIMALS; j++)
			cost[i * GROWTH_ANIMALS + j] = (double)((i + 1) * (j + 1));
		sum += (double)((i + 1) * (GROWTH_ANIMALS - i));
	}
	assert_near(round_assign(cost, GROWTH_ANIMALS, GROWTH_ANIMALS, column), sum, 1e-9);
	for (size_t i = 0; i < GROWTH_ANIMALS; i++)
		assert_int_equal(column[i], GROWTH_ANIMALS - 1 - i);
}

/* ---- exchanges ---- */

/* Birth and two rounds of a litter that gains 6 % a day. */
static void grown(struct growth *growth, const double *birth_g, size_t n)
{
	growth_init(growth, n, SIM_BORN_MS);
	for (int round = 0; round < 5; round++)
		for (size_t i = 0; i < n; i++) {
			struct growth_reading reading = {
				.at_ms = SIM_BORN_MS + round * SIM_DAY_MS / 2 + (int64_t)i * 60000,
				.mass_mg = sim_show(birth_g[i] * exp(0.0583 * round / 2), 1),
				.u_mg = sim_step_u_mg(1),
				.birth = round == 0,
			};
			assert_int_equal(growth_take(growth, i, &reading), GROWTH_TAKEN);
		}
}

/* The round of hour 60: whose mass each reading shows is told apart from whom it is said to be. */
static void weighed(struct round_reading *ret, const double *birth_g, const size_t *said, const size_t *is, size_t n,
		    double all)
{
	for (size_t i = 0; i < n; i++)
		ret[i] = (struct round_reading){
			.animal = said[i],
			.reading = {
				.at_ms = SIM_BORN_MS + 60 * SIM_HOUR_MS + (int64_t)i * 60000,
				.mass_mg = sim_show(birth_g[is[i]] * exp(0.0583 * 2.5 + all), 1),
				.u_mg = sim_step_u_mg(1),
			},
		};
}

static const double births[] = { 300, 334, 368, 405, 450 };
static const size_t order[] = { 0, 1, 2, 3, 4 };

static void test_right_round(void **state)
{
	struct growth growth;
	struct round_reading readings[5];
	struct round_exchange exchanges[4];

	(void)state;
	grown(&growth, births, 5);
	weighed(readings, births, order, order, 5, 0);
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 0);
	/* All full, all hungry: nobody is exchanged. */
	weighed(readings, births, order, order, 5, 0.05);
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 0);
	weighed(readings, births, order, order, 5, -0.05);
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 0);
	assert_int_equal(round_exchanges(&growth, readings, 0, exchanges, 4), 0);
	assert_int_equal(round_exchanges(&growth, readings, 1, exchanges, 4), 0);
}

static void assert_exchange(const struct round_exchange *exchange, size_t n, const size_t *readings,
			    const size_t *animals)
{
	assert_int_equal(exchange->n, n);
	assert_true(exchange->ln_ratio >= ROUND_EXCHANGE_LN);
	assert_true(exchange->ln_ratio < 10.0 * (double)n); /* one reading may always be wild: no certainty from it */
	for (size_t i = 0; i < n; i++) {
		assert_int_equal(exchange->readings[i], readings[i]);
		assert_int_equal(exchange->animals[i], animals[i]);
	}
}

static void test_exchanged(void **state)
{
	static const size_t is[] = { 1, 0, 2, 3, 4 }, readings_of[] = { 0, 1 }, animals_of[] = { 1, 0 };
	struct growth growth;
	struct round_reading readings[5];
	struct round_exchange exchanges[4];

	(void)state;
	grown(&growth, births, 5);
	for (int all = -1; all <= 1; all++) {
		weighed(readings, births, order, is, 5, 0.03 * all);
		assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 1);
		assert_exchange(&exchanges[0], 2, readings_of, animals_of);
	}
	/* One that is nobody's at all doesn't pull the others along. */
	readings[4].reading.mass_mg = 3000000;
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 1);
	assert_exchange(&exchanges[0], 2, readings_of, animals_of);
	/* two pups alone */
	assert_int_equal(round_exchanges(&growth, readings, 2, exchanges, 4), 1);
	assert_exchange(&exchanges[0], 2, readings_of, animals_of);
}

static void test_cycle_and_two(void **state)
{
	static const size_t is_three[] = { 1, 2, 0, 3, 4 }, is_two[] = { 1, 0, 2, 4, 3 };
	struct growth growth;
	struct round_reading readings[5];
	struct round_exchange exchanges[4];
	static const size_t three[] = { 0, 1, 2 }, three_to[] = { 1, 2, 0 };

	(void)state;
	grown(&growth, births, 5);
	weighed(readings, births, order, is_three, 5, 0);
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 1);
	assert_exchange(&exchanges[0], 3, three, three_to);
	weighed(readings, births, order, is_two, 5, 0);
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 2);
	assert_true(exchanges[0].ln_ratio >= exchanges[1].ln_ratio);
	assert_int_equal(exchanges[0].n, 2);
	assert_int_equal(exchanges[1].n, 2);
	/* room for one: the most telling */
	struct round_exchange one;
	assert_int_equal(round_exchanges(&growth, readings, 5, &one, 1), 1);
	assert_true(one.ln_ratio == exchanges[0].ln_ratio);
	assert_int_equal(round_exchanges(&growth, readings, 5, NULL, 0), 0);
}

/* Those that look alike can't be told apart, and one that fails isn't dealt to another. */
static void test_not_told(void **state)
{
	static const double alike[] = { 300, 303, 368, 405, 450 };
	static const size_t is[] = { 1, 0, 2, 3, 4 };
	struct growth growth;
	struct round_reading readings[5];
	struct round_exchange exchanges[4];

	(void)state;
	grown(&growth, alike, 5);
	weighed(readings, alike, order, is, 5, 0);
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 0);
	grown(&growth, births, 5);
	weighed(readings, births, order, order, 5, 0);
	readings[4].reading.mass_mg -= 60000; /* 12 % lost: it weighs what the next one weighs */
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 0);
	readings[4].reading.mass_mg = 3000000; /* a hand */
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 0);
}

/* A second weighing, one without a mass, and one of nobody: none of them is dealt out. */
static void test_left_out(void **state)
{
	static const size_t is[] = { 1, 0 }, first[] = { 1, 3 }, animals[] = { 1, 0 };
	struct growth growth;
	struct round_reading readings[5], two[2];
	struct round_exchange exchanges[4];

	(void)state;
	grown(&growth, births, 5);
	weighed(two, births, order, is, 2, 0);
	readings[0] = (struct round_reading){ .animal = 99, .reading = two[0].reading };
	readings[1] = two[0];
	readings[2] =
		(struct round_reading){ .animal = 0, .reading = { .at_ms = two[0].reading.at_ms, .mass_mg = 999000 } };
	readings[3] = two[1];
	readings[4] = (struct round_reading){ .animal = 2, .reading = { .at_ms = two[0].reading.at_ms, .mass_mg = 0 } };
	assert_int_equal(round_exchanges(&growth, readings, 5, exchanges, 4), 1);
	assert_exchange(&exchanges[0], 2, first, animals);
}

/* ---- how often ---- */

struct tally {
	int rounds, told_falsely, mixed, found, found_wrong, nearest_found, nearest_false, tellable;
};

/* Nearest last weight: two pups look exchanged when each lies nearer to the other's last weight than to its own. */
static bool nearest_says(const double *last, const double *now, size_t a, size_t b)
{
	return fabs(now[a] - last[b]) < fabs(now[a] - last[a]) && fabs(now[b] - last[a]) < fabs(now[b] - last[b]);
}

static void one_litter(struct sim_chance *chance, double spread, struct tally *tally)
{
	static struct growth growth, before;
	struct sim_pup pups[8];
	double last[8];
	const struct sim_scale scale = { sim_uniform(chance) < 0.5 ? 1 : 5, 0.015, 0.02 };
	size_t n = 4 + (size_t)(5 * sim_uniform(chance));
	double pace = 1 + 0.12 * sim_normal(chance);

	growth_init(&growth, n, SIM_BORN_MS);
	for (size_t i = 0; i < n; i++) {
		struct growth_reading reading = { .at_ms = SIM_BORN_MS,
						  .u_mg = sim_step_u_mg(scale.step_g),
						  .birth = true };
		pups[i] = (struct sim_pup){ .birth_g = 350 * exp(spread * sim_normal(chance)),
					    .dip = 0.02 * sim_uniform(chance),
					    .pace = pace + 0.1 * sim_normal(chance),
					    .stops_day = INFINITY };
		reading.mass_mg = sim_show(pups[i].birth_g, scale.step_g);
		last[i] = (double)reading.mass_mg;
		(void)growth_take(&growth, i, &reading);
	}
	for (int round = 1; round <= 28; round++) {
		double shared = scale.shared_sd * sim_normal(chance),
		       day = round / 2.0 + 0.08 * (sim_uniform(chance) - 0.5);
		struct round_reading readings[8];
		struct round_exchange exchanges[8];
		bool mix = round > 3 && sim_uniform(chance) < 0.25;
		size_t a = (size_t)((double)n * sim_uniform(chance)),
		       b = (a + 1 + (size_t)((double)(n - 1) * sim_uniform(chance))) % n;
		size_t told;
		double now[8];
		bool nearest = false;
		before = growth;
		for (size_t i = 0; i < n; i++) {
			size_t is = !mix ? i : i == a ? b : i == b ? a : i;
			double at = day + 0.001 * (double)i;
			readings[i] = (struct round_reading){
				i,
				{ sim_at(at),
				  sim_show(sim_mass(SIM_BAND, &pups[is], at) *
						   exp(shared + scale.own_sd * sim_normal(chance)),
					   scale.step_g),
				  sim_step_u_mg(scale.step_g), false }
			};
			now[i] = (double)readings[i].reading.mass_mg;
		}
		told = round_exchanges(&before, readings, n, exchanges, 8);
		for (size_t i = 0; i < n; i++)
			for (size_t j = i + 1; j < n; j++)
				nearest |= nearest_says(last, now, i, j);
		if (!mix) {
			tally->rounds++;
			tally->told_falsely += told > 0;
			tally->nearest_false += nearest;
		} else {
			bool right = false;
			for (size_t k = 0; k < told; k++)
				right |= exchanges[k].n == 2 &&
					 ((exchanges[k].readings[0] == a && exchanges[k].animals[0] == b) ||
					  (exchanges[k].readings[0] == b && exchanges[k].animals[0] == a));
			tally->mixed++;
			tally->found += right;
			tally->found_wrong += !right && told > 0;
			tally->nearest_found += nearest_says(last, now, a, b);
			tally->tellable +=
				fabs(log(sim_mass(SIM_BAND, &pups[a], day) / sim_mass(SIM_BAND, &pups[b], day))) > 0.08;
			struct growth_reading kept = readings[a].reading; /* put right, as a person would */
			readings[a].reading = readings[b].reading;
			readings[b].reading = kept;
		}
		for (size_t i = 0; i < n; i++) {
			last[i] = (double)readings[i].reading.mass_mg;
			(void)growth_take(&growth, i, &readings[i].reading);
		}
	}
}

static void test_simulated(void **state)
{
	struct sim_chance chance = { 424242 };
	struct tally tally = { 0 };

	(void)state;
	for (int litter = 0; litter < 200; litter++)
		one_litter(&chance, 0.15, &tally);
	print_message("exchanges: %d of %d found (%d lie more than 8 %% apart), %d told otherwise; falsely told in %d "
		      "of %d rounds; "
		      "by nearest last weight: %d found, %d falsely\n",
		      tally.found, tally.mixed, tally.tellable, tally.found_wrong, tally.told_falsely, tally.rounds,
		      tally.nearest_found, tally.nearest_false);
	/* With what the round shares left in the variance 996 would be found. */
	assert_true(tally.found > 1020);
	assert_true(tally.told_falsely * 1000 <= tally.rounds * 5);
	assert_true(tally.found_wrong * 100 <= tally.mixed * 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_against_brute_force),
		cmocka_unit_test(test_rearrangement),
		cmocka_unit_test(test_right_round),
		cmocka_unit_test(test_exchanged),
		cmocka_unit_test(test_cycle_and_two),
		cmocka_unit_test(test_not_told),
		cmocka_unit_test(test_left_out),
		cmocka_unit_test(test_simulated),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/*
 * Curves for reports: against the smoother of trend.h on one animal (which tests/external/check_trend.R holds to R's
 * KalmanSmooth), against what made-up litters really weigh, and what it does with readings that don't fit.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/curve.h"
#include "daemon/litter/growth_priors.h"
#include "daemon/litter/growth_round.h"
#include "daemon/litter/smooth.h"
#include "tests/unit/litter/near.h"
#include "tests/unit/litter/sim.h"

#define PUPS 8
#define ROUNDS 29 /* birth and a fortnight, twice a day */
#define READINGS (PUPS * ROUNDS)

static struct growth growth;
static struct smooth_room room[READINGS];
static struct smooth_point points[READINGS];

/* The litter's paces, and a pup's: of growth_priors.h's size for the curve's 8 and 5 % a day. */
struct litter {
	enum sim_curve curve;
	struct sim_pup pups[PUPS];
	struct smooth_reading readings[READINGS];
	double true_g[READINGS];
	size_t n;
};

static void draw(struct litter *litter, size_t pups, struct sim_chance *chance, const struct sim_scale *scale)
{
	litter->n = 0;
	for (size_t k = 0; k < ROUNDS; k++) {
		double shared = k == 0 ? 0 : scale->shared_sd * sim_normal(chance);
		double day = k == 0 ? 0 : (double)k / 2 + 0.3 * (sim_uniform(chance) - 0.5);
		for (size_t i = 0; i < pups; i++) {
			double own = k == 0 ? 0 : scale->own_sd * sim_normal(chance), at = day + (double)i / 720;
			double g = sim_mass(litter->curve, &litter->pups[i], at);
			if (k > 0 && sim_uniform(chance) < 0.2)
				continue; /* missed */
			litter->true_g[litter->n] = g;
			litter->readings[litter->n++] =
				(struct smooth_reading){ i,
							 { sim_at(at), sim_show(g * exp(shared + own), scale->step_g),
							   sim_step_u_mg(scale->step_g), k == 0 } };
		}
	}
}

static void make(struct litter *litter, enum sim_curve curve, size_t pups, struct sim_chance *chance,
		 const struct sim_scale *scale)
{
	double pace = 1 + 0.2 * sim_normal(chance);

	litter->curve = curve;
	for (size_t i = 0; i < pups; i++)
		litter->pups[i] = (struct sim_pup){ .birth_g = 300 * exp(0.12 * sim_normal(chance)),
						    .pace = pace + 0.12 * sim_normal(chance),
						    .stops_day = INFINITY };
	draw(litter, pups, chance, scale);
}

static enum smooth_outcome smooth(const struct litter *litter, size_t pups)
{
	return smooth_litter(litter->readings, litter->n, pups, SIM_BORN_MS, &growth, room, points);
}

static bool covers(const struct litter *litter, size_t k)
{
	return points[k].low_g <= litter->true_g[k] && litter->true_g[k] <= points[k].high_g;
}

/* ---- against trend.h ---- */

/* One animal, weighed by a perfect scale: its level's trend, filtered and smoothed by hand with the model's noises. */
static void test_single(void **state)
{
	static const struct trend_noise noise = { GROWTH_Q_LEVEL, GROWTH_LITTER_Q_RATE };
	struct trend filtered[ROUNDS], predicted[ROUNDS], smoothed;
	const struct sim_scale scale = { 1, 0.01, 0.01 };
	struct sim_chance chance = { 77 };
	struct litter litter;

	(void)state;
	make(&litter, SIM_BAND, 1, &chance, &scale);
	growth_init(&growth, 1, SIM_BORN_MS);
	for (size_t k = 0; k < litter.n; k++) {
		assert_int_equal(growth_take(&growth, 0, &litter.readings[k].reading), GROWTH_TAKEN);
		predicted[k] = filtered[k] = growth.before;
		if (k == 0)
			continue;
		filtered[k] = filtered[k - 1];
		trend_predict(&filtered[k], growth.animals[0].day, &noise);
		predicted[k] = filtered[k];
		(void)trend_update(&filtered[k], growth.animals[0].y, growth.animals[0].r + growth.shared_var);
		assert_near(filtered[k].level, growth.now.level, 1e-12); /* so is the model's own */
	}
	assert_int_equal(smooth(&litter, 1), SMOOTH_DONE);
	smoothed = filtered[litter.n - 1];
	for (size_t k = litter.n; k-- > 0;) {
		double days = (double)(litter.readings[k].reading.at_ms - SIM_BORN_MS) / (double)SIM_DAY_MS, ratio;
		if (k + 1 < litter.n)
			smoothed = trend_smooth(&filtered[k], &predicted[k + 1], &smoothed);
		assert_near(log(points[k].mass_g), smoothed.level + curve_gain(0, days), 1e-9);
		assert_near(points[k].rate, smoothed.rate + curve_rate(days), 1e-9);
		/* widened by how much more the readings scatter than is modelled, if they do */
		ratio = sqrt(fmax(1, growth_round_surprise(&growth)));
		assert_near(points[k].u_rate, ratio * sqrt(smoothed.rr), 1e-9);
		assert_near(log(points[k].high_g / points[k].low_g), 2 * 1.959963984540054 * ratio * sqrt(smoothed.ll),
			    1e-9);
		assert_false(points[k].wild);
	}
}

/* At the newest reading of all nothing is known that the model didn't know: its mass and rate, but for the probability
 * that it stopped. */
static void test_end(void **state)
{
	const struct sim_scale scale = { 1, 0.012, 0.02 };
	struct sim_chance chance = { 78 };
	struct growth_state believed;
	struct litter litter;

	(void)state;
	make(&litter, SIM_BAND, PUPS, &chance, &scale);
	assert_int_equal(smooth(&litter, PUPS), SMOOTH_DONE);
	for (size_t k = litter.n - 4; k < litter.n; k++) {
		assert_true(growth_at(&growth, litter.readings[k].animal, litter.readings[k].reading.at_ms, &believed));
		assert_near(log(points[k].mass_g), believed.ln_g, believed.u_ln_g / 2);
		assert_near(points[k].rate, believed.on_rate, believed.u_on_rate / 2);
	}
}

/* ---- against what they weigh ---- */

static void cover(enum sim_curve curve, double own_sd, double step_g, size_t pups, double least)
{
	const struct sim_scale scale = { step_g, own_sd, 0.02 };
	struct sim_chance chance = { 20261201 };
	double n = 0, covered = 0, smooth_error = 0, reading_error = 0;
	struct litter litter;

	for (int l = 0; l < 150; l++) {
		make(&litter, curve, pups, &chance, &scale);
		assert_int_equal(smooth(&litter, pups), SMOOTH_DONE);
		for (size_t k = 0; k < litter.n; k++) {
			double shown_g = (double)litter.readings[k].reading.mass_mg / 1000;
			n++;
			covered += covers(&litter, k);
			smooth_error += pow(log(points[k].mass_g / litter.true_g[k]), 2);
			reading_error += pow(log(shown_g / litter.true_g[k]), 2);
		}
	}
	print_message(
		"%zu pups, curve %d, %.3g g steps, own gut fill %.3g: 95 %% covers %.1f %%; error %.2f %%, of the "
		"readings %.2f %%\n",
		pups, (int)curve, step_g, own_sd, 100 * covered / n, 100 * sqrt(smooth_error / n),
		100 * sqrt(reading_error / n));
	assert_true(covered >= least * n && covered <= 0.97 * n);
	assert_true(smooth_error < 0.25 * reading_error);
}

static void test_covers(void **state)
{
	(void)state;
	cover(SIM_BAND, 0.016, 1, PUPS, 0.93);
	cover(SIM_BAND, 0.012, 5, PUPS, 0.93);
	cover(SIM_DANE, 0.016, 1, PUPS, 0.93);
	cover(SIM_DANE, 0.016, 1, 1, 0.91); /* no littermate tells its gut from its growth */
}

/* One stops on day 7 and gains again from day 10 on: its curve turns, and so does no other's. */
static void test_turns(void **state)
{
	const struct sim_scale scale = { 1, 0.01, 0.02 };
	struct sim_chance chance = { 5 };
	double inside = 0, n = 0, stopped = 0, n_stopped = 0, again = 0, n_again = 0;
	struct litter litter;

	(void)state;
	for (int l = 0; l < 40; l++) {
		make(&litter, SIM_BAND, PUPS, &chance, &scale);
		for (size_t k = 0; k < litter.n; k++) {
			double day = (double)(litter.readings[k].reading.at_ms - SIM_BORN_MS) / (double)SIM_DAY_MS;
			double less = litter.pups[3].pace *
				      (sim_gain(SIM_BAND, fmax(7, fmin(day, 10))) - sim_gain(SIM_BAND, 7));
			if (litter.readings[k].animal != 3)
				continue;
			litter.true_g[k] *= exp(-less);
			litter.readings[k].reading.mass_mg =
				(int64_t)((double)litter.readings[k].reading.mass_mg * exp(-less));
		}
		assert_int_equal(smooth(&litter, PUPS), SMOOTH_DONE);
		for (size_t k = 0; k < litter.n; k++) {
			double day = (double)(litter.readings[k].reading.at_ms - SIM_BORN_MS) / (double)SIM_DAY_MS;
			if (litter.readings[k].animal != 3)
				continue;
			assert_near(log(points[k].mass_g / litter.true_g[k]), 0, 0.08);
			inside += covers(&litter, k);
			n++;
			if (day > 8 && day < 9) {
				stopped += points[k].rate;
				n_stopped++;
			} else if (day > 12) {
				again += points[k].rate / (litter.pups[3].pace * log(1.05));
				n_again++;
			}
		}
	}
	print_message(
		"one that stops and gains again: 95 %% covers %.1f %% of its readings; meanwhile %+.1f %% a day, then "
		"%.0f %% of its rate\n",
		100 * inside / n, 100 * stopped / n_stopped, 100 * again / n_again);
	assert_true(inside > 0.85 * n);
	assert_true(fabs(stopped / n_stopped) < 0.015);
	assert_true(fabs(again / n_again - 1) < 0.2);
}

/* ---- readings that don't fit ---- */

static void test_wild(void **state)
{
	const struct sim_scale scale = { 1, 0.01, 0.02 };
	struct sim_chance chance = { 6 };
	struct litter litter;
	size_t wrong = 0;

	(void)state;
	make(&litter, SIM_BAND, PUPS, &chance, &scale);
	while (litter.readings[wrong].animal != 2 || litter.readings[wrong].reading.at_ms < sim_at(6))
		wrong++;
	litter.readings[wrong].reading.mass_mg = litter.readings[wrong].reading.mass_mg * 6 / 5; /* leaned on the rim */
	assert_int_equal(smooth(&litter, PUPS), SMOOTH_DONE);
	for (size_t k = 0; k < litter.n; k++) {
		assert_true(points[k].wild == (k == wrong));
		assert_true(points[k].at_ms == litter.readings[k].reading.at_ms);
		assert_true(points[k].low_g < points[k].mass_g && points[k].mass_g < points[k].high_g);
	}
	assert_near(log(points[wrong].mass_g / litter.true_g[wrong]), 0, 0.03);
}

/* What is confirmed by a second one is another mass from then on; what was before stays what it was. */
static void test_confirmed(void **state)
{
	const struct sim_scale scale = { 1, 0.01, 0.01 };
	struct sim_chance chance = { 9 };
	struct litter litter;

	(void)state;
	make(&litter, SIM_BAND, PUPS, &chance, &scale);
	for (size_t k = 0; k < litter.n; k++)
		if (litter.readings[k].animal == 1 && litter.readings[k].reading.at_ms > sim_at(7)) {
			litter.readings[k].reading.mass_mg = litter.readings[k].reading.mass_mg * 5 / 4;
			litter.true_g[k] *= 1.25;
		}
	assert_int_equal(smooth(&litter, PUPS), SMOOTH_DONE);
	for (size_t k = 0; k < litter.n; k++)
		if (litter.readings[k].animal == 1 && !points[k].wild)
			assert_near(log(points[k].mass_g / litter.true_g[k]), 0, 0.05);
}

/* A littermate that is known later, and a reading without a mass. */
static void test_joins(void **state)
{
	const struct sim_scale scale = { 1, 0.01, 0.01 };
	struct sim_chance chance = { 10 };
	struct litter litter;
	size_t n = 0;

	(void)state;
	make(&litter, SIM_BAND, 2, &chance, &scale);
	for (size_t k = 0; k < litter.n; k++)
		if (litter.readings[k].animal == 0 || litter.readings[k].reading.at_ms > sim_at(5)) {
			litter.readings[n] = litter.readings[k];
			litter.true_g[n++] = litter.true_g[k];
		}
	litter.n = n;
	litter.readings[4].reading.mass_mg = 0;
	assert_int_equal(smooth(&litter, 2), SMOOTH_DONE);
	for (size_t k = 0; k < n; k++) {
		assert_true(isnan(points[k].mass_g) == (k == 4));
		if (k != 4)
			assert_near(log(points[k].mass_g / litter.true_g[k]), 0, 0.06);
	}
}

static void test_refuses(void **state)
{
	const struct sim_scale scale = { 1, 0.01, 0.01 };
	struct sim_chance chance = { 11 };
	struct smooth_reading last;
	struct litter litter;

	(void)state;
	make(&litter, SIM_BAND, PUPS, &chance, &scale);
	assert_int_equal(smooth(&litter, 0), SMOOTH_ANIMAL);
	assert_int_equal(smooth(&litter, GROWTH_ANIMALS + 1), SMOOTH_ANIMAL);
	assert_int_equal(smooth(&litter, PUPS - 1), SMOOTH_ANIMAL);
	assert_int_equal(smooth_litter(litter.readings, 0, PUPS, SIM_BORN_MS, &growth, room, points), SMOOTH_DONE);
	last = litter.readings[litter.n - 1];
	litter.readings[litter.n - 1] = litter.readings[30];
	assert_int_equal(smooth(&litter, PUPS), SMOOTH_ORDER);
	litter.readings[litter.n - 1] = last;
	assert_int_equal(smooth(&litter, PUPS), SMOOTH_DONE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_single), cmocka_unit_test(test_end),     cmocka_unit_test(test_covers),
		cmocka_unit_test(test_turns),  cmocka_unit_test(test_wild),    cmocka_unit_test(test_confirmed),
		cmocka_unit_test(test_joins),  cmocka_unit_test(test_refuses),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

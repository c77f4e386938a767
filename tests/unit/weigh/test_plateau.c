// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>
#include "daemon/weigh/plateau.h"

static uint64_t random_state;

static double uniform(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return ((double)(random_state >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(void)
{
	double radius = sqrt(-2 * log(uniform())); /* first, whatever the compiler */

	return radius * cos(2 * M_PI * uniform());
}

/*
 * The birth weights of litter 1 of RatPupWeight (Pinheiro and Bates, Mixed-Effects Models in S and S-PLUS, 2000; R
 * package nlme): the twelve weights as Debian's r-cran-nlme
 * 3.1.162 has them; R 4.2.2 makes of them mean 6.845, median 6.965, SD 0.4034736, MAD 0.348411 (with 1.4826).
 */
static const double litter[] = { 6.60, 7.40, 7.15, 7.24, 7.10, 6.04, 6.98, 7.05, 6.95, 6.29, 6.77, 6.57 };

static void test_published(void **state)
{
	double median = plateau_median(litter, 12);

	(void)state;
	assert_true(fabs(median - 6.965) < 1e-9);
	assert_true(fabs(plateau_mad(litter, 12, median) - 0.34841) < 5e-6);
}

static void test_small(void **state)
{
	static const double one[] = { 7 }, two[] = { 3, 5 }, three[] = { 9, -1, 4 };

	(void)state;
	assert_true(plateau_median(one, 1) == 7 && plateau_mad(one, 1, 7) == 0);
	assert_true(plateau_median(two, 2) == 4 && plateau_median(three, 3) == 4);
	for (size_t n = 1; n <= 3; n++) {
		struct plateau p = plateau_of(three, n, 5);
		assert_true(isfinite(p.u) && p.u > 0 && p.kept >= 1);
	}
}

/* Nothing moves: the step's own error stays, however many there are. JCGM 100:2008, 4.3.7. */
static void test_no_motion(void **state)
{
	double same[PLATEAU_MAX];

	(void)state;
	for (size_t i = 0; i < PLATEAU_MAX; i++)
		same[i] = 300000;
	for (size_t n = 1; n <= PLATEAU_MAX; n += 51) {
		struct plateau p = plateau_of(same, n, 5000);
		assert_true(p.mean == 300000);
		assert_true(fabs(p.u - 5000 / sqrt(12)) < 1e-6);
	}
}

/*
 * What a step of 1 leaves to the mean: 1/sqrt(12) without motion (JCGM 100:2008, 4.3.7, with a = 1/2) and by rounding
 * alone, whose variance is 1/12. With normal motion, of standard deviation 1/2, the true figure is 0.0016188 (the first
 * harmonic of the sawtooth, 1/(pi sqrt(2)), times exp(-pi^2/2); the next is below 1e-9); tests/external integrates it.
 */
static void test_step(void **state)
{
	double u = plateau_step_u(1, 1.0 / 4 + 1.0 / 12);

	(void)state;
	assert_true(fabs(plateau_step_u(1, 0) - 0.5 / sqrt(3)) < 1e-15);
	assert_true(fabs(plateau_step_u(1, 1.0 / 12) - 0.5 / sqrt(3)) < 1e-15);
	assert_true(u >= 0.0016188 && u <= 0.0016188 * M_PI / sqrt(6) * 1.0001);
	assert_true(fabs(plateau_step_u(5000, 25e6 / 3) - 5000 * u) < 1e-9);
	assert_true(plateau_step_u(1, 4) < 1e-12);
}

/* Motion dithers the step: the mean is far better than step/sqrt(12), and is known to be. */
static void test_dither(void **state)
{
	double x[100], error = 0, u = 0;

	(void)state;
	random_state = UINT64_C(0x2545f4914f6cdd1d);
	for (int round = 0; round < 500; round++) {
		double mass = 300 + 10 * uniform();
		for (size_t i = 0; i < 100; i++)
			x[i] = 5 * floor((mass + 3 * normal()) / 5 + 0.5);
		struct plateau p = plateau_of(x, 100, 5);
		error += (p.mean - mass) * (p.mean - mass) / 500;
		u += p.u * p.u / 500;
	}
	assert_true(sqrt(error) < 0.4 * 5 / sqrt(12));
	assert_true(sqrt(u) < 5 / sqrt(12));
}

/*
 * Samples that follow each other hang together. Of an autoregression x[i] = a x[i-1] + e the mean's variance tends to
 * variance / n * (1 + a) / (1 - a), a result of any textbook on time series. Two u hold at least 19 in 20 of the
 * errors, and u isn't more than three times what it need be.
 */
static void test_autocorrelated(void **state)
{
	static const double as[] = { 0, 0.5, 0.8 };
	double x[200];

	(void)state;
	random_state = UINT64_C(0x9e3779b97f4a7c15);
	for (size_t k = 0; k < 3; k++) {
		double a = as[k], within = 0, theory = sqrt((1 + a) / (1 - a) / 200), u = 0;
		for (int round = 0; round < 1000; round++) {
			double last = normal();
			for (size_t i = 0; i < 200; i++)
				x[i] = last = a * last + sqrt(1 - a * a) * normal();
			struct plateau p = plateau_of(x, 200, 0.001);
			within += fabs(p.mean) <= 2 * p.u;
			u += p.u / 1000;
		}
		assert_true(within >= 950);
		assert_true(u > theory && u < 3 * theory);
	}
}

/* While a mass is put on, and a bump later, aren't part of the plateau. */
static void test_ramp_and_bump(void **state)
{
	double x[60];
	struct plateau p;

	(void)state;
	random_state = UINT64_C(0x853c49e6748fea9b);
	for (int i = 0; i < 60; i++)
		x[i] = 1000 * (1 - exp(-i / 2.0)) + 2 * normal();
	p = plateau_of(x, 60, 1);
	assert_true(p.first >= 6 && p.first < 30);
	assert_true(p.median == plateau_median(x + p.first, 60 - p.first)); /* of what is left, and of all of it */
	assert_true(p.spread == plateau_mad(x + p.first, 60 - p.first, p.median));
	assert_true(fabs(p.mean - 1000) < 1.5);
	assert_true(fabs(p.mean - 1000) <= 2 * p.u);
	x[40] += 300; /* no longer plain where the ramp ends; what is left of it is far from all others as well */
	p = plateau_of(x, 60, 1);
	assert_in_range(p.kept, 40, 53);
	assert_int_equal(p.last, 59);
	x[59] += 300; /* and at the end, where it may be the next mass */
	assert_int_equal(plateau_of(x, 60, 1).last, 58);
	x[59] -= 300;
	assert_true(fabs(p.mean - 1000) < 1.5);
	assert_true(fabs(p.mean - 1000) <= 2 * p.u);
}

/* Of nine, three are bumps and four aren't: then the mass itself goes to and fro, whatever more than half of it read. */
static void test_few_bumps(void **state)
{
	static const size_t at[] = { 1, 3, 5, 7 };

	(void)state;
	for (size_t bumps = 3; bumps <= 4; bumps++) {
		double x[9] = { 0 };
		struct plateau p;
		for (size_t i = 0; i < bumps; i++)
			x[at[i]] = 100;
		p = plateau_of(x, 9, 1);
		assert_true(p.first == 0 && p.last == 8 && p.median == 0 && p.spread == 0);
		assert_int_equal(p.kept, bumps == 3 ? 6 : 9);
		assert_true(bumps == 3 ? p.mean == 0 : fabs(p.mean - 400.0 / 9) < 1e-9);
		assert_true(bumps == 3 ? p.u < 1 : p.u > 20);
	}
}

/* A bump is what lies more than three and a half spreads off the median, or of half a step where that is more: just so
 * far isn't. */
static void test_bump_edge(void **state)
{
	static const struct {
		double around, step;
	} cases[] = { { 0, 10 }, { 4, 1 } };

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		for (int further = 0; further <= 1; further++) {
			double x[11], spread = cases[i].around * 1.482602218505602, limit;
			for (int k = 0; k < 11; k++)
				x[k] = k % 2 ? cases[i].around : -cases[i].around;
			x[6] = 0; /* the median: five on either side */
			limit = 3.5 * fmax(spread, cases[i].step / 2);
			x[9] = limit * (further ? 1.001 : 1);
			struct plateau p = plateau_of(x, 11, cases[i].step);
			assert_true(p.first == 0 && p.median == 0 && fabs(p.spread - spread) < 1e-12);
			assert_int_equal(p.kept, further ? 10 : 11);
		}
}

/* The marginal standard error of x[n]: the squares about their own mean over n squared (White 1997; from memory). */
static double marginal_error(const double *x, size_t n)
{
	double mean = 0, squares = 0;

	for (size_t i = 0; i < n; i++)
		mean += x[i] / (double)n;
	for (size_t i = 0; i < n; i++)
		squares += (x[i] - mean) * (x[i] - mean);
	return squares / (double)(n * n);
}

/* The cut is the earliest within the first half that is at most four times as bad as the best. */
static void test_cut_edge(void **state)
{
	size_t cuts[6] = { 0 };

	(void)state;
	random_state = UINT64_C(0xda942042e4dd58b5);
	for (int round = 0; round < 20000; round++) {
		double x[11], errors[6], best = INFINITY, off = 1 + 7 * uniform();
		size_t n = 4 + (size_t)(8 * uniform()), first = 0;
		for (size_t i = 0; i < n; i++)
			x[i] = ((double)i < (double)n / 3 ? off : normal()) + (round % 2 ? 1 << 30 : 0); /* far from zero as well */
		for (size_t i = 0; i <= n / 2; i++)
			best = fmin(best, errors[i] = marginal_error(x + i, n - i));
		while (errors[first] > 4 * best)
			first++;
		assert_int_equal(plateau_of(x, n, 1).first, first);
		cuts[first]++;
	}
	for (size_t i = 0; i < 6; i++)
		assert_true(cuts[i] >= 20);
	assert_int_equal(plateau_of((double[]){ 100, 0, 0 }, 3, 1).first, 0); /* of three nothing is cut */
}

/* What u is made of, of what is neither cut nor a bump: the variance of the mean from the autocovariances in pairs while a
 * pair is positive (Geyer 1992; from memory), made larger for few independent ones; three quarters of the drift; the step. */
static double u_from_its_parts(const double *x, size_t n, double step)
{
	double mean = 0, gamma[PLATEAU_MAX] = { 0 }, sum, independent, drift = 0, of_step;

	for (size_t i = 0; i < n; i++)
		mean += x[i] / (double)n;
	for (size_t lag = 0; lag < n; lag++)
		for (size_t i = lag; i < n; i++)
			gamma[lag] += (x[i] - mean) * (x[i - lag] - mean) / (double)n;
	sum = gamma[0];
	for (size_t lag = 1; lag + 1 < n / 2 && gamma[lag] + gamma[lag + 1] > 0; lag += 2)
		sum += 2 * (gamma[lag] + gamma[lag + 1]);
	independent = (double)n * gamma[0] / sum;
	for (size_t i = 0; i < n / 2; i++)
		drift += (x[n - 1 - i] - x[i]) / (double)(n / 2);
	of_step = plateau_step_u(step, gamma[0]);
	return sqrt(sum / (double)n * (2.2 + 3 / fmax(1, independent - 1)) + 9.0 / 16 * drift * drift + of_step * of_step);
}

static void test_u(void **state)
{
	/* lags 1 and 2 make up for each other, which ends it, though 3 and 4 don't */
	static const double ends[] = { -1, 1, -2, 1, -1, -2, 1, -3, 0, 0, 3, -2, 3, 0, 1, 1 };
	int wholes = 0;

	(void)state;
	random_state = UINT64_C(0xbf58476d1ce4e5b9);
	for (int round = 0; round < 5000; round++) {
		double x[40], last = 0, slope = uniform() - 0.5, along = 0.9 * uniform();
		size_t n = 4 + (size_t)(37 * uniform());
		for (size_t i = 0; i < n; i++) {
			last = along * last + uniform();
			x[i] = last + slope * (double)i;
		}
		struct plateau p = plateau_of(x, n, 0.1);
		if (p.first > 0 || p.kept < n)
			continue;
		wholes++;
		assert_true(fabs(p.u / u_from_its_parts(x, n, 0.1) - 1) < 1e-9);
	}
	assert_true(wholes > 1000);
	assert_true(plateau_of(ends, 16, 0.1).kept == 16 && plateau_of(ends, 16, 0.1).first == 0);
	assert_true(fabs(plateau_of(ends, 16, 0.1).u / u_from_its_parts(ends, 16, 0.1) - 1) < 1e-9);
}

/* A filter that still creeps towards the mass is not taken for known. */
static void test_drift(void **state)
{
	double x[40];
	struct plateau p;

	(void)state;
	for (int i = 0; i < 40; i++)
		x[i] = 1000 - 100 * exp(-i / 30.0);
	p = plateau_of(x, 40, 1);
	assert_true(p.u > 5);
}

/* What swings evenly averages out, and tells nothing of a creep under it: three quarters of what the second half lies
 * above the first stand in the uncertainty beside the rest (plateau.c). */
static void test_creep_under_noise(void **state)
{
	double even[40], creeping[40];
	struct plateau p, q;

	(void)state;
	for (int i = 0; i < 40; i++) {
		even[i] = i % 2 ? 10 : -10;
		creeping[i] = even[i] + (i < 20 ? 0 : 4);
	}
	p = plateau_of(even, 40, 0.01);
	q = plateau_of(creeping, 40, 0.01);
	assert_int_equal(p.kept, 40);
	assert_int_equal(q.kept, 40);
	assert_true(fabs(p.mean) < 1e-9 && fabs(q.mean - 2) < 1e-9);
	assert_true(q.u * q.u - p.u * p.u >= 3 * 3);
}

/*
 * The sizes of plateau.c by hand, for steps so fine that they leave nothing: 16 samples of +-1. Turning each time, the
 * covariances at lags 1 and 2 sum to -15/16 + 14/16: the mean's variance is that of 16 independent ones, 1/16. In fours
 * they are 9/16 and 2/16, and of lags 3 and 4 -5/16 and -12/16: (1 + 2 x 11/16) / 16, as of 16 / 2.375 independent
 * ones. It is taken 2.2 + 3 / (independent - 1) times.
 */
static void test_sizes(void **state)
{
	static const double by_turn = 1.0 / 16, in_fours = 2.375 / 16;
	double x[16];
	struct plateau p;

	(void)state;
	for (int i = 0; i < 16; i++)
		x[i] = i % 2 ? 1 : -1;
	p = plateau_of(x, 16, 1e-6);
	assert_true(p.first == 0 && p.kept == 16 && fabs(p.sd - 1) < 1e-12);
	assert_true(fabs(p.u - sqrt(by_turn * (2.2 + 3.0 / 15))) < 1e-9);
	for (int i = 0; i < 16; i++)
		x[i] = i / 4 % 2 ? 1 : -1;
	p = plateau_of(x, 16, 1e-6);
	assert_true(p.first == 0 && p.kept == 16);
	assert_true(fabs(p.u - sqrt(in_fours * (2.2 + 3 / (16 / 2.375 - 1)))) < 1e-9);
}

/* Values so large that their squares aren't exact must not lead outside. */
static void test_huge(void **state)
{
	double x[PLATEAU_MAX];

	(void)state;
	random_state = 1;
	for (int round = 0; round < 2000; round++) {
		size_t n = 1 + (size_t)(uniform() * PLATEAU_MAX);
		double size = pow(10, 16 * uniform());
		for (size_t i = 0; i < n; i++)
			x[i] = round % 2 ? size + floor(3 * uniform()) : size * (uniform() < 0.5 ? -1 : 1);
		struct plateau p = plateau_of(x, n, 1);
		assert_true(isfinite(p.mean) && isfinite(p.u) && p.u > 0);
		assert_true(p.kept >= 1 && p.first + p.kept <= n);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_published),
		cmocka_unit_test(test_small),
		cmocka_unit_test(test_no_motion),
		cmocka_unit_test(test_step),
		cmocka_unit_test(test_dither),
		cmocka_unit_test(test_autocorrelated),
		cmocka_unit_test(test_ramp_and_bump),
		cmocka_unit_test(test_few_bumps),
		cmocka_unit_test(test_bump_edge),
		cmocka_unit_test(test_cut_edge),
		cmocka_unit_test(test_u),
		cmocka_unit_test(test_drift),
		cmocka_unit_test(test_creep_under_noise),
		cmocka_unit_test(test_huge),
		cmocka_unit_test(test_sizes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

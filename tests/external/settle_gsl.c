// SPDX-License-Identifier: MIT
/*
 * The statistics under weigh/settle against the GNU Scientific Library's (its manual, chapter "Statistics":
 * gsl_stats_median, gsl_stats_mad, gsl_stats_mean, gsl_stats_variance_m, gsl_stats_lag1_autocorrelation), on random
 * data with a fixed seed, and against figures published for data that are; what a step leaves to a mean, against an
 * integration over GSL's normal distribution. Above: nothing. Below: daemon/weigh/plateau.
 *
 * GSL's gsl_stats_mad has the factor for a normal distribution, as ours has. Where the mean's standard error is
 * concerned GSL has no counterpart that allows for autocorrelation: there the reference is the spread of many means
 * themselves, of an autoregression with the lag-1 correlation that GSL finds.
 */
#include "daemon/weigh/plateau.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define N_OF(array) (sizeof(array) / sizeof((array)[0]))

static int checked, wrong;

static void check(const char *what, double ours, double reference, double tolerance)
{
	checked++;
	if (fabs(ours - reference) <= tolerance)
		return;
	if (wrong++ < 10)
		printf("%s: the reference is %.12g, ours %.12g\n", what, reference, ours);
}

static void compare(const char *what, const double *x, size_t n)
{
	double sorted[PLATEAU_MAX], work[PLATEAU_MAX], median = plateau_median(x, n);
	double size = 1e-12 * (fabs(x[0]) + fabs(median) + 1);

	memcpy(sorted, x, n * sizeof *x);
	check(what, median, gsl_stats_median(sorted, 1, n), size);
	check(what, plateau_mad(x, n, median), gsl_stats_mad(x, 1, n, work), size);
}

/* Every length, even and odd; normal, heavy-tailed, and stepped values, of which many are equal. */
static void check_random(gsl_rng *rng)
{
	double x[PLATEAU_MAX];

	for (size_t n = 1; n <= PLATEAU_MAX; n++) {
		for (size_t i = 0; i < n; i++)
			x[i] = 400000 + gsl_ran_gaussian(rng, 20000);
		compare("normal", x, n);
		for (size_t i = 0; i < n; i++)
			x[i] = gsl_ran_cauchy(rng, 1000);
		compare("heavy-tailed", x, n);
		for (size_t i = 0; i < n; i++)
			x[i] = 5000 * round(gsl_ran_gaussian(rng, 1));
		compare("stepped", x, n);
	}
}

/*
 * The birth weights of litter 1 of RatPupWeight (Pinheiro and Bates, Mixed-Effects Models in S and S-PLUS, 2000; R
 * package nlme): the twelve weights as Debian's r-cran-nlme
 * 3.1.162 has them; R 4.2.2 makes of them mean 6.845, median 6.965, SD 0.4034736, MAD 0.348411 (with 1.4826).
 */
static void check_litter(void)
{
	static const double x[] = { 6.60, 7.40, 7.15, 7.24, 7.10, 6.04, 6.98, 7.05, 6.95, 6.29, 6.77, 6.57 };
	double median = plateau_median(x, 12);

	check("litter, mean", gsl_stats_mean(x, 1, 12), 6.845, 5e-4);
	check("litter, SD", gsl_stats_sd(x, 1, 12), 0.40347, 5e-6);
	check("litter, median", median, 6.965, 5e-4);
	check("litter, MAD", plateau_mad(x, 12, median), 0.34841, 5e-6);
	compare("litter", x, 12);
}

/* Mean and spread of what is kept, where that is all from `first` on. */
static void check_moments(gsl_rng *rng)
{
	double x[PLATEAU_MAX];
	int whole = 0;

	for (size_t n = 1; n <= PLATEAU_MAX; n++) {
		for (size_t i = 0; i < n; i++)
			x[i] = 400000 + 20000 * gsl_ran_flat(rng, -1, 1); /* without bumps */
		struct plateau p = plateau_of(x, n, 1000);
		if (p.first + p.kept != n)
			continue;
		double mean = gsl_stats_mean(x + p.first, 1, p.kept);
		double variance = p.kept > 1 ? gsl_stats_variance_m(x + p.first, 1, p.kept, mean) : 0;
		check("mean", p.mean, mean, 1e-12 * mean);
		check("sd", p.sd, sqrt(variance * (double)(p.kept - 1) / (double)p.kept), 1e-12 * mean);
		whole++;
	}
	check("plateaus without a bump", whole, PLATEAU_MAX, PLATEAU_MAX / 10.0);
}

/* The mean of a mass x in steps of 1 that normal motion shakes: each step times the chance that it is shown. */
static double mean_shown(double x, double motion)
{
	double sum = 0;

	for (double step = floor(x - 10 * motion) - 1; step <= x + 10 * motion + 1; step++)
		sum += step * (gsl_cdf_gaussian_P(step + 0.5 - x, motion) - gsl_cdf_gaussian_P(step - 0.5 - x, motion));
	return sum;
}

/* Root mean square of how far that is off, for x evenly spread over the step: integrated, at midpoints. */
static double shown_off(double motion)
{
	enum { POINTS = 2000 };
	double sum = 0;

	for (int i = 0; i < POINTS; i++) {
		double x = (i + 0.5) / POINTS, off = mean_shown(x, motion) - x;
		sum += off * off / POINTS;
	}
	return sqrt(sum);
}

/* The same as a series, by Parseval from the sawtooth's: 1/(2 pi^2) sum of exp(-4 pi^2 k^2 motion^2) / k^2. */
static double shown_off_series(double motion)
{
	double sum = 0;

	for (int k = 1000000; k >= 1; k--)
		sum += exp(-4 * M_PI * M_PI * k * k * motion * motion) / ((double)k * k);
	return sqrt(sum / (2 * M_PI * M_PI));
}

/*
 * What the step leaves to a mean: never less than it really is, and for motion alone at most pi/sqrt(6) times that
 * (the series' other terms). The variance of what is shown is less than motion^2 + 1/12 by the square of the mean's
 * error, so with a variance that was measured up to twice as much is stated. Without motion: JCGM 100:2008, 4.3.7,
 * a/sqrt(3), a = 1/2.
 */
static void check_step(void)
{
	static const double motions[] = { 0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6 };

	check("no motion, series", shown_off_series(0), 0.5 / sqrt(3), 1e-6);
	for (double step = 100; step <= 10000; step *= 10)
		check("no motion", plateau_step_u(step, 0), step / 2 / sqrt(3), 1e-12 * step);
	for (size_t i = 0; i < N_OF(motions); i++) {
		double s = motions[i], off = shown_off(s), all = s * s + 1.0 / 12;
		double most = M_PI / sqrt(6), stated = plateau_step_u(1, all);
		double measured = plateau_step_u(1, all - off * off);

		check("motion, series", shown_off_series(s), off, 2e-6);
		check("motion, stated", stated / off, (1 + most) / 2, (most - 1) / 2 + 1e-4);
		check("motion, stated of what was measured", measured / off, 1.5, 0.5);
		check("motion, other steps", plateau_step_u(5000, 25e6 * all), 5000 * stated, 1e-9);
	}
}

/* The stated error of a mean must not be less than means really differ by, nor three times as much. */
static void check_mean(gsl_rng *rng, double a)
{
	enum { N = 200, MEANS = 3000 };
	double x[N], means[MEANS], u = 0, lag1 = 0, last = 0, spread;

	for (size_t m = 0; m < MEANS; m++) {
		for (size_t i = 0; i < N; i++)
			x[i] = last = a * last + gsl_ran_gaussian(rng, sqrt(1 - a * a));
		struct plateau p = plateau_of(x, N, 1e-6);
		means[m] = p.mean;
		u += p.u / MEANS;
		lag1 += gsl_stats_lag1_autocorrelation(x, 1, N) / MEANS;
	}
	spread = gsl_stats_sd(means, 1, MEANS);
	check("autoregression, lag 1", lag1, a, 0.03);
	check("autoregression, error of the mean", u, 2 * spread, spread);
}

int main(void)
{
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);

	gsl_rng_set(rng, 20261125);
	check_random(rng);
	check_litter();
	check_moments(rng);
	check_step();
	check_mean(rng, 0);
	check_mean(rng, 0.5);
	check_mean(rng, 0.8);
	gsl_rng_free(rng);
	printf("%d checked, %d differ\n", checked, wrong);
	return wrong || checked == 0 ? 1 : 0;
}

// SPDX-License-Identifier: MIT
/*
 * The robust statistics under weigh/settle against the GNU Scientific Library's (its manual, chapter "Statistics":
 * gsl_stats_median, gsl_stats_mad, gsl_stats_lag1_autocorrelation), on fixed data, and against figures published for
 * data that are. Above: nothing. Below: daemon/weigh/plateau.
 *
 * GSL's gsl_stats_mad has the factor for a normal distribution, as ours has. Where the mean's standard error is
 * concerned GSL has no counterpart that allows for autocorrelation: there the reference is the spread of many means
 * themselves, of an autoregression with the lag-1 correlation that GSL finds.
 */
#include "daemon/weigh/plateau.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

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
 * package nlme): R's summary is mean 6.845, SD 0.40347, median 6.965, MAD 0.34841. The weights are from memory; that
 * mean and SD come out right says that they are these.
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
	check_mean(rng, 0);
	check_mean(rng, 0.5);
	check_mean(rng, 0.8);
	gsl_rng_free(rng);
	printf("%d checked, %d differ\n", checked, wrong);
	return wrong || checked == 0 ? 1 : 0;
}

// SPDX-License-Identifier: MIT
#include "daemon/weigh/plateau.h"
#include <math.h>
#include <string.h>

/* Beyond so many spreads from the median a sample is a bump. Common practice in robust statistics. */
#define BUMP_SPREADS 3.5
/* ... and bumps are few: more than every third sample, and it is the mass itself that goes back and forth. Our choice. */
#define BUMPS_ONE_IN 3
/* The earliest cut that is nearly as good: the very best would pick what happens to look quiet. Our choice. */
#define CUT_SLACK 4.0
#define MAD_TO_SD 1.482602218505602 /* 1/Phi^-1(3/4) */

/* Insertion sort: n is small, and qsort may allocate. */
static void sorted(const double *samples, size_t n, double *to)
{
	for (size_t i = 0; i < n; i++) {
		size_t at = i;
		for (; at > 0 && to[at - 1] > samples[i]; at--)
			to[at] = to[at - 1];
		to[at] = samples[i];
	}
}

double plateau_median(const double *samples, size_t n)
{
	double order[PLATEAU_MAX];

	sorted(samples, n, order);
	return n % 2 ? order[n / 2] : (order[n / 2 - 1] + order[n / 2]) / 2;
}

double plateau_mad(const double *samples, size_t n, double median)
{
	double off[PLATEAU_MAX] = { 0 };

	for (size_t i = 0; i < n; i++)
		off[i] = fabs(samples[i] - median);
	return MAD_TO_SD * plateau_median(off, n);
}

/*
 * Where the plateau begins: the cut, in the first half, that leaves the smallest standard error of the rest (the
 * marginal standard error rule, White 1997, Simulation 69(6):323; from memory).
 */
static size_t cut(const double *samples, size_t n)
{
	double errors[PLATEAU_MAX / 2 + 1] = { 0 }, sum = 0, squares = 0, best = INFINITY, about = samples[n - 1];
	size_t i;

	for (i = n; i-- > 0;) {
		double k = (double)(n - i), x = samples[i] - about; /* about a value near all: no cancellation */
		sum += x;
		squares += x * x;
		if (i > n / 2)
			continue;
		errors[i] = fmax(0, (squares - sum * sum / k) / (k * k)); /* a rounding must not make it negative */
		best = fmin(best, errors[i]);
	}
	for (i = 0; errors[i] > CUT_SLACK * best; i++)
		continue;
	return i;
}

/* Variance of the mean of x[n] with this mean, from their autocovariance: not less than if they were independent, though
 * what swings back and forth averages out faster. *ret_n: how many independent ones it is; NAN of no motion at all. */
static double mean_variance(const double *x, size_t n, double mean, double variance, double *ret_n)
{
	double sum = variance;

	for (size_t lag = 1; lag + 1 < n / 2; lag += 2) {
		double pair = 0;
		for (size_t at = lag; at < lag + 2; at++)
			for (size_t i = 0; i + at < n; i++)
				pair += (x[i] - mean) * (x[i + at] - mean) / (double)n;
		if (pair <= 0)
			break;
		sum += 2 * pair;
	}
	*ret_n = (double)n * variance / sum;
	return sum / (double)n;
}

/*
 * Of motion with standard deviation s the first harmonic of the rounding error is left, damped by
 * exp(-2 pi^2 s^2/step^2), and much less of the others (Widrow & Kollar, Quantization Noise, 2008; from memory;
 * tests/external integrates it); without motion it is step/sqrt(12) (JCGM 100:2008, 4.3.7).
 */
double plateau_step_u(double step, double variance)
{
	double motion = fmax(0, variance - step * step / 12); /* Sheppard's correction */

	return step / sqrt(12) * exp(-2 * 9.869604401089358 * motion / (step * step));
}

/*
 * How much the second half lies above the first. A filter that still creeps towards the mass shows so, and so does a
 * stretch that was chosen because it looked quiet: three quarters of it are taken for an uncertainty of its own.
 */
static double drift(const double *x, size_t n)
{
	double first = 0, second = 0;
	size_t half = n / 2;

	if (half == 0)
		return 0;
	for (size_t i = 0; i < half; i++) {
		first += x[i];
		second += x[n - 1 - i];
	}
	return (second - first) / (double)half;
}

/* Those within `limit` of the median, to x[]. How many; *ret_last: the newest. */
static size_t keep(const double *samples, size_t n, double median, double limit, double *x, size_t *ret_last)
{
	size_t kept = 0;

	for (size_t i = 0; i < n; i++)
		if (fabs(samples[i] - median) <= limit) {
			x[kept++] = samples[i];
			*ret_last = i;
		}
	return kept;
}

struct plateau plateau_of(const double *samples, size_t n, double step)
{
	struct plateau ret = { .first = n > 3 ? cut(samples, n) : 0 };
	double x[PLATEAU_MAX] = { 0 }, sum = 0, squares = 0, limit, variance, independent, half, of_step;
	size_t last = 0;

	samples += ret.first;
	n -= ret.first;
	ret.median = plateau_median(samples, n);
	ret.spread = plateau_mad(samples, n, ret.median);
	limit = BUMP_SPREADS * fmax(ret.spread, step / 2);
	ret.kept = keep(samples, n, ret.median, limit, x, &last);
	if ((n - ret.kept) * BUMPS_ONE_IN > n)
		ret.kept = keep(samples, n, ret.median, INFINITY, x, &last);
	ret.last = ret.first + last;
	for (size_t i = 0; i < ret.kept; i++)
		sum += x[i] - ret.median;
	ret.mean = ret.median + sum / (double)ret.kept;
	for (size_t i = 0; i < ret.kept; i++)
		squares += (x[i] - ret.mean) * (x[i] - ret.mean);
	variance = squares / (double)ret.kept;
	ret.sd = sqrt(variance);
	ret.u = mean_variance(x, ret.kept, ret.mean, variance, &independent);
	/* of few independent ones neither mean nor spread is well known (as in Student's t); and whoever stops as soon
	 * as it looks good stops at lucky ones. Sizes: so that two standard uncertainties hold in tests/bench/settle */
	ret.u *= 2.2 + 3 / fmax(1, independent - 1);
	half = drift(x, ret.kept) * 3 / 4;
	ret.u += half * half;
	of_step = plateau_step_u(step, variance);
	ret.u = sqrt(ret.u + of_step * of_step);
	return ret;
}

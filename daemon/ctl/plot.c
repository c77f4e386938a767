// SPDX-License-Identifier: MIT
#include "daemon/ctl/plot.h"
#include <math.h>

#define WEEK 7.0

static double decimal_step(double least)
{
	double power = pow(10, floor(log10(least)));
	static const double factors[] = { 1, 2, 5, 10 };

	for (int i = 0; i < 4; i++)
		if (factors[i] * power >= least * (1 - 1e-9))
			return factors[i] * power;
	return 10 * power;
}

static double days_step(double least)
{
	static const double steps[] = { 0.25, 0.5, 1, 2, WEEK };
	double step = WEEK;

	for (int i = 0; i < 5; i++)
		if (steps[i] >= least)
			return steps[i];
	while (step < least)
		step *= 2;
	return step;
}

static int decimals_of(double step)
{
	int n = 0;

	while (n < 9 && fabs(step - round(step)) > 1e-6 * step) {
		step *= 10;
		n++;
	}
	return n;
}

/* Ends that are some way apart. */
static void usable(enum plot_kind kind, double *lo, double *hi)
{
	double least = kind == PLOT_DAYS ? 1 : fmax(1e-3, fmax(fabs(*lo), fabs(*hi)) * 1e-3);

	if (!isfinite(*lo) || !isfinite(*hi)) {
		*lo = 0;
		*hi = 1;
	} else if (*hi - *lo < least) {
		if (kind == PLOT_DECIMAL)
			*lo = (*lo + *hi - least) / 2;
		*hi = *lo + least;
	}
}

void plot_axis(struct plot_axis *ret, enum plot_kind kind, double lo, double hi, int most, double from, double to)
{
	double step;

	usable(kind, &lo, &hi);
	step = (kind == PLOT_DAYS ? days_step : decimal_step)((hi - lo) / (most - 1));
	*ret = (struct plot_axis){ .lo = lo, .hi = hi, .from = from, .to = to };
	for (;; step = decimal_step(step * 1.5)) {
		double first = kind == PLOT_DAYS ? ceil(lo / step - 1e-9) : floor(lo / step + 1e-9);
		double last = kind == PLOT_DAYS ? floor(hi / step + 1e-9) : ceil(hi / step - 1e-9);
		ret->first = first * step;
		ret->step = step;
		ret->n = (int)(last - first) + 1;
		if (kind == PLOT_DAYS || ret->n <= most) /* rounded out, a decimal one may have one too many */
			break;
	}
	ret->decimals = decimals_of(step);
	if (kind == PLOT_DECIMAL) {
		ret->lo = plot_tick(ret, 0);
		ret->hi = plot_tick(ret, ret->n - 1);
	}
}

double plot_tick(const struct plot_axis *axis, int i)
{
	double power = pow(10, axis->decimals), value = round((axis->first + i * axis->step) * power) / power;

	return value + 0.0; /* -0 becomes 0 */
}

double plot_at(const struct plot_axis *axis, double value)
{
	return axis->from + (value - axis->lo) / (axis->hi - axis->lo) * (axis->to - axis->from);
}

/* A few labels: insertion will do. */
static void sort(const double *at, int *order, int n)
{
	for (int i = 0; i < n; i++) {
		int j = i;
		for (; j > 0 && at[order[j - 1]] > at[i]; j--)
			order[j] = order[j - 1];
		order[j] = i;
	}
}

void plot_spread(double *at, int *order, int n, double lo, double hi, double gap)
{
	double least = lo, most = hi;

	if (n > 1 && gap * (n - 1) > hi - lo)
		gap = (hi - lo) / (n - 1);
	sort(at, order, n);
	for (int i = 0; i < n; i++) { /* down from the first */
		at[order[i]] = fmax(at[order[i]], least);
		least = at[order[i]] + gap;
	}
	for (int i = n - 1; i >= 0; i--) { /* and back from the end */
		at[order[i]] = fmin(at[order[i]], most);
		most = at[order[i]] - gap;
	}
}

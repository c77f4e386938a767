// SPDX-License-Identifier: MIT
#pragma once
/*
 * Axes of a plot: which values stand at their ticks, and where a value lies. Pure.
 * Above: report_svg. Below: the C library's mathematics.
 */

enum plot_kind {
	PLOT_DECIMAL, /* steps of 1, 2 or 5 times a power of ten; both ends are ticks */
	PLOT_DAYS,    /* a quarter, half, 1 or 2 days, or weeks doubled; the ends are the data's, at least a day apart */
};

struct plot_axis {
	double lo, hi;   /* values at the ends; lo < hi */
	double from, to; /* where these lie; to < from is an axis that points up */
	double first;    /* the value of the first tick, a multiple of step */
	double step;
	int n;        /* ticks, all within lo..hi; of PLOT_DECIMAL at least two */
	int decimals; /* that each tick's value needs */
};

/* An axis that has lo..hi in it, with at most `most` ticks (3 or more). Of equal or unusable ends it makes some. */
void plot_axis(struct plot_axis *ret, enum plot_kind kind, double lo, double hi, int most, double from, double to);
double plot_tick(const struct plot_axis *axis, int i); /* exact in its decimals; never -0 */
double plot_at(const struct plot_axis *axis, double value);
/*
 * Places labels (n of them, where they would like to stand, in any order) along a line from lo to hi, so that none is nearer
 * than gap to another and all keep their order; closer where there is no room for all. order: n numbers of room.
 */
void plot_spread(double *at, int *order, int n, double lo, double hi, double gap);

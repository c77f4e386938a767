// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a stretch of samples says of a mass that doesn't lie still: a robust mean, and how well it is known.
 * Above: settle. Below: libm. Pure; no memory of its own but the caller's.
 *
 * Motion dithers a coarse step: the mean over it is better than step/sqrt(12). Samples that follow each other aren't
 * independent: the variance of the mean comes from their own autocovariance (initial positive sequence, Geyer 1992,
 * Statistical Science 7(4):473; from memory). Without motion the step's own error stays and doesn't average out.
 */
#include <stdbool.h>
#include <stddef.h>

#define PLATEAU_MAX 256

struct plateau {
	double mean;  /* of the samples kept */
	double u;     /* its standard uncertainty, step included */
	double sd;    /* of the samples kept */
	double median, spread; /* of all given: spread is the median absolute deviation, scaled to a normal sd */
	size_t first; /* samples before it were left out: the mass was still being put on */
	size_t last;  /* the newest one kept; after it the mass may have become another */
	size_t kept;  /* bumps are left out; a plateau has few of them */
};

/* n in 1..PLATEAU_MAX samples in the order in which they came; step > 0. */
struct plateau plateau_of(const double *samples, size_t n, double step);

/* Median, and median absolute deviation times 1/Phi^-1(3/4) = 1.4826... (consistent with a normal sd), of n in
 * 1..PLATEAU_MAX. */
double plateau_median(const double *samples, size_t n);
double plateau_mad(const double *samples, size_t n, double median);

/*
 * Standard uncertainty that a step > 0 leaves to the mean of many samples with this variance, rounding included: not
 * less than it is when the motion is normal, and the mass lies anywhere in the step. From step/sqrt(12) without motion
 * to next to nothing.
 */
double plateau_step_u(double step, double variance);

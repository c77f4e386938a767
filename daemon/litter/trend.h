// SPDX-License-Identifier: MIT
#pragma once
/*
 * A local linear trend: a level and its rate of change, followed by a Kalman filter through measurements at irregular
 * times, and smoothed afterwards (Rauch, Tung, Striebel). Units are the caller's; time is in days.
 * Above: growth (litters and animals), stop (hypotheses). Below: libm. Pure; all memory is the caller's.
 *
 * Between measurements the rate does a random walk of spectral density q_rate (per day), the level follows it and has
 * a random walk of its own, q_level; in dt days the covariance grows by
 *   q_rate * [dt^3/3 dt^2/2; dt^2/2 dt] + q_level * [dt 0; 0 0].
 */

struct trend {
	double day;         /* when it holds */
	double level, rate; /* means; rate per day */
	double ll, lr, rr;  /* their covariance */
};

struct trend_noise {
	double q_level, q_rate;
};

/* What a measurement did. */
struct trend_innovation {
	double nu; /* measured less predicted */
	double s;  /* its variance */
	double ln_density;
};

/* Carries it to a day; an earlier one is carried to as if it were its own day (nothing happens). */
void trend_predict(struct trend *trend, double day, const struct trend_noise *noise);
/* What a measurement z of variance r would do, without doing it; trend must be of its day. */
struct trend_innovation trend_test(const struct trend *trend, double z, double r);
/* Takes it in. r > 0. */
struct trend_innovation trend_update(struct trend *trend, double z, double r);

/* One step of the smoother: filtered is what the filter had at some day after its measurement, later_predicted what it
 * predicted from there for the next day, later_smoothed the smoothed of that next day. Returns the smoothed. */
struct trend trend_smooth(const struct trend *filtered, const struct trend *later_predicted,
			  const struct trend *later_smoothed);

/* ln of the normal density of x with this variance. */
double trend_ln_normal(double x, double variance);

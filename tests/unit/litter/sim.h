// SPDX-License-Identifier: MIT
#pragma once
/*
 * Litters made up for the tests of this folder: growth from published curves, weighed twice a day on a scale with a
 * step, with gut fill of a pup's own and of the whole round. Fixed seeds; nothing of it comes from the code under test.
 */
#include "daemon/litter/growth.h"
#include <math.h>
#include <string.h>

#define SIM_BORN_MS INT64_C(1795610730000)
#define SIM_HOUR_MS INT64_C(3600000)
#define SIM_DAY_MS (24 * SIM_HOUR_MS)
#define SIM_READINGS 64

/* xorshift64* (Vigna 2016, ACM TOMS 42:30). */
struct sim_chance {
	uint64_t state;
};

static inline double sim_uniform(struct sim_chance *chance)
{
	chance->state ^= chance->state >> 12;
	chance->state ^= chance->state << 25;
	chance->state ^= chance->state >> 27;
	return (double)((chance->state * UINT64_C(2685821657736338717)) >> 11) / 9007199254740992.0;
}

/* Box-Muller. */
static inline double sim_normal(struct sim_chance *chance)
{
	double u = 1 - sim_uniform(chance), v = sim_uniform(chance);

	return sqrt(-2 * log(u)) * cos(6.283185307179586 * v);
}

enum sim_curve {
	SIM_BAND,   /* 8 % a day in week 1, 5 % after (Small Animal Clinical Nutrition, 5th ed., p. 292) */
	SIM_DANE,   /* e^(0.0523 x) (air.unimi.it/handle/2434/408397) */
	SIM_FASTEST /* exp(0.13084 x - 0.001616 x^2) (Alves 2020, Vet Med Sci, doi 10.1002/vms3.322) */
};

/* ln of mass against birth. */
static inline double sim_gain(enum sim_curve curve, double days)
{
	switch (curve) {
	case SIM_BAND:
		return log(1.08) * fmin(days, 7) + log(1.05) * fmax(0, days - 7);
	case SIM_DANE:
		return 0.0523 * days;
	case SIM_FASTEST:
		return 0.13084 * days - 0.001616 * days * days;
	}
	return 0;
}

struct sim_pup {
	double birth_g, pace; /* pace: of the curve; 1 is the curve itself */
	double dip;           /* lost in the first day, made up for in the second */
	double stops_day;     /* INFINITY: never; from then on its rate is: */
	double stopped_rate;
};

static inline double sim_mass(enum sim_curve curve, const struct sim_pup *pup, double day)
{
	double to = fmin(day, pup->stops_day);
	double dip = pup->dip * (day < 1 ? day : fmax(0, 2 - day));

	return pup->birth_g *
	       exp(pup->pace * sim_gain(curve, to) - dip + (day > to ? pup->stopped_rate * (day - to) : 0));
}

struct sim_scale {
	double step_g, own_sd, shared_sd;
};

/* What a scale shows, in mg. */
static inline int64_t sim_show(double g, double step_g)
{
	return (int64_t)llround(floor(g / step_g + 0.5) * step_g * 1000);
}

static inline int64_t sim_step_u_mg(double step_g)
{
	return (int64_t)ceil(step_g * 1000 / 3.4641016151377544);
}

static inline int64_t sim_at(double day)
{
	return SIM_BORN_MS + (int64_t)llround(day * (double)SIM_DAY_MS);
}

// SPDX-License-Identifier: MIT
#include "tests/bench/litters.h"
#include "daemon/litter/curve.h"
#include <math.h>
#include <string.h>

static uint64_t state = 1;

void litters_seed(uint64_t seed)
{
	state = seed * 0x9e3779b97f4a7c15U + 1; /* never 0 for the seeds used here */
	for (int i = 0; i < 8; i++)
		(void)litters_uniform();
}

double litters_uniform(void) /* xorshift (Marsaglia 2003, J Stat Softw 8:14) */
{
	state ^= state << 13;
	state ^= state >> 7;
	state ^= state << 17;
	return ((double)(state >> 11) + 0.5) / 9007199254740992.0;
}

double litters_normal(void) /* Box and Muller */
{
	double radius = sqrt(-2 * log(litters_uniform()));

	return radius * cos(2 * M_PI * litters_uniform());
}

static double shown(double g, double step_g)
{
	return fmax(1, round(g / step_g)) * step_g;
}

static void shuffle(int order[LITTERS_PUPS])
{
	for (int i = 0; i < LITTERS_PUPS; i++)
		order[i] = i;
	for (int i = LITTERS_PUPS - 1; i > 0; i--) {
		int j = (int)(litters_uniform() * (i + 1)), keep = order[i];

		order[i] = order[j];
		order[j] = keep;
	}
}

static double ln_mass(const struct litters_litter *litter, const struct litters_world *world, int pup, double rate,
		      double day)
{
	bool hit = world->change >= LITTERS_ALL || litter->who == pup;
	double grown = hit && world->change != LITTERS_NOBODY ? fmin(day, litter->stopped_day) : day;

	return curve_gain(0, grown) + rate * grown + world->rate * (day - grown);
}

void litters_make(struct litters_litter *ret, const struct litters_world *world)
{
	double mean = 120 + 380 * litters_uniform(), litter_rate = LITTERS_LITTER_SD * litters_normal();
	double ln[LITTERS_PUPS];

	memset(ret, 0, sizeof *ret);
	ret->who = world->change == LITTERS_ONE ? (int)(LITTERS_PUPS * litters_uniform())
						: (world->change >= LITTERS_ALL ? 0 : -1);
	ret->stopped_day = 3 + 8 * litters_uniform();
	if (world->change == LITTERS_BORN)
		ret->stopped_day = 0;
	for (int i = 0; i < LITTERS_PUPS; i++) {
		ret->rate[i] = litter_rate + LITTERS_PUP_SD * litters_normal();
		/* how far littermates lie apart at birth; ours */
		ln[i] = log(mean) + 0.12 * litters_normal();
		ret->birth_g[i] = shown(exp(ln[i]), world->step_g);
	}
	for (int k = 0; k < LITTERS_ROUNDS; k++) {
		double day = 0.5 + k * 0.5 + 8.0 / 24 * (litters_uniform() - 0.5);
		double shared = LITTERS_SHARED * litters_normal();

		shuffle(ret->order[k]);
		for (int j = 0; j < LITTERS_PUPS; j++) {
			int i = ret->order[k][j];

			ret->day[k][i] = day + j * 2.0 / 1440; /* two minutes each */
			ret->weighed[k][i] = litters_uniform() > LITTERS_MISSED;
			ret->g[k][i] = shown(exp(ln[i] + ln_mass(ret, world, i, ret->rate[i], ret->day[k][i]) + shared +
						 world->own * litters_normal()),
					     world->step_g);
		}
	}
}

double litters_rounding(const struct litters_world *world, double g)
{
	return world->step_g / sqrt(12) / g;
}

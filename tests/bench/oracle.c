// SPDX-License-Identifier: MIT
#include "tests/bench/oracle.h"
#include "daemon/litter/curve.h"
#include <math.h>
#include <string.h>

#define N LITTERS_PUPS
#define D (2 * N + 1) /* levels, rates (less the curve's, unless stopped), what the round shares */
#define SHARED (D - 1)
#define SINCE 14 /* weighings at which it may have stopped: a week of them */
#define ALL N    /* the bank of the whole litter */

struct joint {
	double m[D], p[D][D], ln_likelihood;
	int who, since;
	bool used;
};

static bool stopped(const struct joint *joint, int pup)
{
	return joint->used && (joint->who == pup || joint->who == ALL);
}

static void predict(struct joint *joint, double from, double to)
{
	double dt = to - from;

	for (int i = 0; i < N; i++)
		joint->m[i] += joint->m[N + i] * dt + (stopped(joint, i) ? 0 : curve_gain(from, to));
	for (int i = 0; i < N; i++)
		for (int c = 0; c < D; c++)
			joint->p[i][c] += dt * joint->p[N + i][c];
	for (int c = 0; c < D; c++)
		for (int i = 0; i < N; i++)
			joint->p[c][i] += dt * joint->p[c][N + i];
	for (int c = 0; c < D; c++)
		joint->p[SHARED][c] = joint->p[c][SHARED] = 0;
	joint->m[SHARED] = 0;
	joint->p[SHARED][SHARED] = LITTERS_SHARED * LITTERS_SHARED;
}

static void update(struct joint *joint, int pup, double z, double r)
{
	double h[D], s, nu = z - joint->m[pup] - joint->m[SHARED];

	for (int c = 0; c < D; c++)
		h[c] = joint->p[c][pup] + joint->p[c][SHARED];
	s = r + h[pup] + h[SHARED];
	for (int a = 0; a < D; a++) {
		double k = h[a] / s;

		joint->m[a] += k * nu;
		for (int c = 0; c < D; c++)
			joint->p[a][c] -= k * h[c];
	}
	joint->ln_likelihood -= 0.5 * (log(s) + nu * nu / s);
}

static void take_round(struct joint *joint, const struct litters_litter *litter, const struct litters_world *world,
		       int k, double from, double to)
{
	predict(joint, from, to);
	for (int i = 0; i < N; i++) {
		double u = litters_rounding(world, litter->g[k][i]), later = litter->day[k][i] - to;
		double rate = stopped(joint, i) ? world->rate : curve_rate(to);

		if (litter->weighed[k][i])
			update(joint, i, log(litter->g[k][i]) - rate * later, u * u + world->own * world->own);
	}
}

static void begin(struct joint *joint, const struct litters_litter *litter, const struct litters_world *world)
{
	double between = LITTERS_LITTER_SD * LITTERS_LITTER_SD, within = LITTERS_PUP_SD * LITTERS_PUP_SD;

	memset(joint, 0, sizeof *joint);
	joint->who = -1;
	for (int i = 0; i < N; i++) {
		double u = litters_rounding(world, litter->birth_g[i]);

		joint->m[i] = log(litter->birth_g[i]);
		joint->p[i][i] = u * u + 1e-8;
		for (int c = 0; c < N; c++)
			joint->p[N + i][N + c] = between + (i == c ? within : 0);
	}
}

/* A new hypothesis takes the place of the oldest. */
static void suppose(struct joint bank[SINCE], const struct joint *on, int who, int k, double rate)
{
	struct joint *to = &bank[k % SINCE];

	*to = *on;
	to->used = true;
	to->who = who;
	to->since = k;
	for (int i = 0; i < N; i++) {
		if (!stopped(to, i))
			continue;
		to->m[N + i] = rate;
		for (int c = 0; c < D; c++)
			to->p[N + i][c] = to->p[c][N + i] = 0;
	}
}

static double ln_ratio(const struct joint bank[SINCE], const struct joint *on)
{
	double top = -INFINITY, sum = 0;

	for (int a = 0; a < SINCE; a++)
		if (bank[a].used)
			top = fmax(top, bank[a].ln_likelihood - on->ln_likelihood);
	if (isinf(top))
		return -700;
	for (int a = 0; a < SINCE; a++)
		if (bank[a].used)
			sum += exp(bank[a].ln_likelihood - on->ln_likelihood - top);
	return top + log(sum);
}

void oracle_watch(const struct litters_litter *litter, const struct litters_world *world,
		  double stat[LITTERS_ROUNDS][LITTERS_PUPS])
{
	static struct joint on, banks[N + 1][SINCE];
	bool whole = world->change == LITTERS_ALL;
	int first = whole ? ALL : 0, last = whole ? ALL : N - 1;
	double from = 0;

	memset(banks, 0, sizeof banks);
	begin(&on, litter, world);
	for (int k = 0; k < LITTERS_ROUNDS; k++) {
		double to = litter->day[k][litter->order[k][0]];

		take_round(&on, litter, world, k, from, to);
		for (int b = first; b <= last; b++)
			for (int a = 0; a < SINCE; a++)
				if (banks[b][a].used)
					take_round(&banks[b][a], litter, world, k, from, to);
		from = to;
		for (int i = 0; i < N; i++)
			stat[k][i] = litter->weighed[k][i] ? ln_ratio(banks[whole ? ALL : i], &on) : NAN;
		for (int b = first; b <= last; b++)
			if (whole || litter->weighed[k][b])
				suppose(banks[b], &on, b, k, world->rate);
	}
}

// SPDX-License-Identifier: MIT
/* What the model expects of the next weighing: whether its interval covers, and whether it names the right pup. */
#include "tests/bench/growth_tables.h"
#include "tests/bench/watchers.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define BINS 5

struct told {
	double n, covered, covered_early, n_early;      /* of the 95 % interval; in the first three days */
	double asked, right, nearest;                   /* first suggestions, with more than one pup left */
	double failing, failing_right, failing_nearest; /* of them, of a pup that stopped a day ago or more */
	double bin_n[BINS], bin_p[BINS], bin_right[BINS];
};

static double spread(const struct growth_prediction *prediction, const struct litters_world *world, double g)
{
	double u = litters_rounding(world, g);

	return sqrt(prediction->sd * prediction->sd + u * u);
}

static void cover(struct told *told, const struct litters_world *world, const struct growth_prediction *prediction,
		  double day, double g)
{
	/* 1.959964: the 97.5 % quantile of the normal distribution (ISO 5479 and any table) */
	bool in = fabs(log(g) - prediction->ln_g) < 1.959964 * spread(prediction, world, g);

	told->n++;
	told->covered += in;
	told->n_early += day < 3;
	told->covered_early += in && day < 3;
}

/* Ranks those that are left in the round by their densities, all alike before; beside it, by their last weights. */
static void ask(struct told *told, const struct growth *growth, const struct litters_litter *litter,
		const struct litters_world *world, int k, int right, const bool left[LITTERS_PUPS],
		const double last[LITTERS_PUPS])
{
	double g = litter->g[k][right], sum = 0, most = -1, least = INFINITY;
	int64_t at_ms = watcher_ms(litter->day[k][right]);
	bool failing = litter->who == right && litter->day[k][right] > litter->stopped_day + 1;
	int best = -1, near = -1, n = 0, bin;

	for (int i = 0; i < LITTERS_PUPS; i++) {
		struct growth_prediction prediction;
		double density, sd;

		if (!left[i] || !growth_predict(growth, (size_t)i, at_ms, &prediction))
			continue;
		n++;
		sd = spread(&prediction, world, g);
		density = exp(trend_ln_normal(log(g) - prediction.ln_g, sd * sd));
		sum += density;
		if (density > most) {
			most = density;
			best = i;
		}
		if (fabs(g - last[i]) < least) {
			least = fabs(g - last[i]);
			near = i;
		}
	}
	if (n < 2)
		return;
	told->asked++;
	told->right += best == right;
	told->nearest += near == right;
	told->failing += failing;
	told->failing_right += failing && best == right;
	told->failing_nearest += failing && near == right;
	if (!(sum > 0))
		return;
	bin = (int)fmin(BINS - 1, BINS * most / sum);
	told->bin_n[bin]++;
	told->bin_p[bin] += most / sum;
	told->bin_right[bin] += best == right;
}

static void follow(struct told *told, const struct litters_litter *litter, const struct litters_world *world)
{
	static struct growth growth;
	double last[LITTERS_PUPS];

	watcher_begin(&growth, litter, world);
	for (int i = 0; i < LITTERS_PUPS; i++)
		last[i] = litter->birth_g[i];
	for (int k = 0; k < LITTERS_ROUNDS; k++) {
		bool left[LITTERS_PUPS];

		for (int i = 0; i < LITTERS_PUPS; i++)
			left[i] = true;
		for (int j = 0; j < LITTERS_PUPS; j++) {
			int i = litter->order[k][j];
			struct growth_reading reading = watcher_reading(litter, world, k, i);
			struct growth_prediction prediction;

			if (!litter->weighed[k][i])
				continue;
			if (growth_predict(&growth, (size_t)i, reading.at_ms, &prediction) &&
			    world->change == LITTERS_NOBODY)
				cover(told, world, &prediction, litter->day[k][i], litter->g[k][i]);
			ask(told, &growth, litter, world, k, i, left, last);
			(void)growth_take(&growth, (size_t)i, &reading); /* wild ones count as they are */
			left[i] = false;
			last[i] = litter->g[k][i];
		}
	}
}

static void print(const struct told *told, const struct litters_world *world)
{
	printf("%s%.4g g steps, own %.0f %%:", world->change == LITTERS_ONE ? "one stalls, " : "", world->step_g,
	       100 * world->own);
	if (told->n > 0)
		printf(" the 95 %% interval covers %.1f %% (first three days %.1f %%);", 100 * told->covered / told->n,
		       100 * told->covered_early / told->n_early);
	printf(" first suggestion right: ours %.1f %%, nearest last weight %.1f %%\n", 100 * told->right / told->asked,
	       100 * told->nearest / told->asked);
	if (told->failing > 0)
		printf("  of the one that stalled a day ago or more: ours %.1f %%, nearest last weight %.1f %%\n",
		       100 * told->failing_right / told->failing, 100 * told->failing_nearest / told->failing);
	printf("  said to be right / right (times):");
	for (int b = 0; b < BINS; b++)
		if (told->bin_n[b] > 0)
			printf("  %.2f / %.2f (%.0f)", told->bin_p[b] / told->bin_n[b],
			       told->bin_right[b] / told->bin_n[b], told->bin_n[b]);
	printf("\n");
}

void growth_tables_prediction(int litters)
{
	static const double steps_g[] = { 1, 5, 4.5359237 };

	printf("\nThe next weighing, and whose it is among those left in the round (%d litters)\n", litters);
	for (enum litters_change change = LITTERS_NOBODY; change <= LITTERS_ONE; change++)
		for (size_t s = 0; s < sizeof steps_g / sizeof *steps_g; s++)
			for (int own = 1; own <= 2; own++) {
				struct litters_world world = { steps_g[s], own * 0.01, 0, change };
				struct litters_litter litter;
				struct told told = { 0 };

				litters_seed(3);
				for (int l = 0; l < litters; l++) {
					litters_make(&litter, &world);
					follow(&told, &litter, &world);
				}
				print(&told, &world);
			}
}

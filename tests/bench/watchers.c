// SPDX-License-Identifier: MIT
#include "tests/bench/watchers.h"
#include "tests/bench/oracle.h"
#include <math.h>

#define DAY_MS 86400000.0

const char *watcher_name(enum watcher watcher)
{
	switch (watcher) {
	case WATCHER_LAST:
		return "newest against last";
	case WATCHER_DAY:
		return "24 hours apart";
	case WATCHER_OURS:
		return "ours";
	case WATCHER_ORACLE:
		return "oracle";
	case WATCHERS:
		break;
	}
	return "";
}

/* The paper log's rule: what was lost since the weighing before. */
static void watch_last(const struct litters_litter *litter, double stat[LITTERS_ROUNDS][LITTERS_PUPS])
{
	for (int i = 0; i < LITTERS_PUPS; i++) {
		double last = litter->birth_g[i];

		for (int k = 0; k < LITTERS_ROUNDS; k++) {
			stat[k][i] = NAN;
			if (!litter->weighed[k][i])
				continue;
			stat[k][i] = -log(litter->g[k][i] / last);
			last = litter->g[k][i];
		}
	}
}

/* Against the weighing that lies nearest to 24 hours before, and 19 hours at least; a day's change. */
static double over_day(const struct litters_litter *litter, int k, int i)
{
	double nearest = INFINITY, change = NAN;

	for (int j = -1; j < k; j++) {
		double apart = litter->day[k][i] - (j < 0 ? 0 : litter->day[j][i]);

		if ((j >= 0 && !litter->weighed[j][i]) || apart < 0.8 || fabs(apart - 1) >= nearest)
			continue;
		nearest = fabs(apart - 1);
		change = log(litter->g[k][i] / (j < 0 ? litter->birth_g[i] : litter->g[j][i])) / apart;
	}
	return -change;
}

int64_t watcher_ms(double day)
{
	return INT64_C(1000000000000) + (int64_t)(day * DAY_MS);
}

struct growth_reading watcher_reading(const struct litters_litter *litter, const struct litters_world *world, int k,
				      int i)
{
	return (struct growth_reading){ .at_ms = watcher_ms(litter->day[k][i]),
					.mass_mg = (int64_t)(litter->g[k][i] * 1000),
					.u_mg = (int64_t)ceil(world->step_g * 1000 / sqrt(12)) };
}

void watcher_begin(struct growth *growth, const struct litters_litter *litter, const struct litters_world *world)
{
	growth_init(growth, LITTERS_PUPS, watcher_ms(0));
	for (int i = 0; i < LITTERS_PUPS; i++) {
		struct growth_reading birth = { .at_ms = watcher_ms(0) + i,
						.mass_mg = (int64_t)(litter->birth_g[i] * 1000),
						.u_mg = (int64_t)ceil(world->step_g * 1000 / sqrt(12)),
						.birth = true };

		(void)growth_take(growth, (size_t)i, &birth); /* the first ones are always taken */
	}
}

static void watch_ours(const struct litters_litter *litter, const struct litters_world *world,
		       double stat[LITTERS_ROUNDS][LITTERS_PUPS])
{
	static struct growth growth;

	watcher_begin(&growth, litter, world);
	for (int k = 0; k < LITTERS_ROUNDS; k++) {
		int64_t now_ms = 0;

		for (int j = 0; j < LITTERS_PUPS; j++) {
			int i = litter->order[k][j];
			struct growth_reading reading = watcher_reading(litter, world, k, i);

			if (litter->weighed[k][i])
				(void)growth_take(&growth, (size_t)i, &reading); /* wild ones are part of the test */
			now_ms = reading.at_ms;
		}
		for (int i = 0; i < LITTERS_PUPS; i++) {
			struct growth_state state;
			double p;

			stat[k][i] = NAN;
			if (!litter->weighed[k][i] || !growth_at(&growth, (size_t)i, now_ms, &state))
				continue;
			p = state.p_stall + state.p_loss;
			stat[k][i] = log(p / (1 - p));
		}
	}
}

void watcher_watch(enum watcher watcher, const struct litters_litter *litter, const struct litters_world *world,
		   double stat[LITTERS_ROUNDS][LITTERS_PUPS])
{
	switch (watcher) {
	case WATCHER_LAST:
		watch_last(litter, stat);
		return;
	case WATCHER_DAY:
		for (int k = 0; k < LITTERS_ROUNDS; k++)
			for (int i = 0; i < LITTERS_PUPS; i++)
				stat[k][i] = litter->weighed[k][i] ? over_day(litter, k, i) : NAN;
		return;
	case WATCHER_OURS:
		watch_ours(litter, world, stat);
		return;
	case WATCHER_ORACLE:
		oracle_watch(litter, world, stat);
		return;
	case WATCHERS:
		return;
	}
}

// SPDX-License-Identifier: MIT
/* What a reading costs at the end of a long record against its start, and what building a litter anew does. */
#include "tests/bench/growth_tables.h"
#include "daemon/litter/growth.h"
#include "tests/bench/litters.h"
#include <math.h>
#include <stdio.h>
#include <time.h>

#define WEEKS 8
#define ROUNDS (WEEKS * 14)
#define TIMES 20

static double now_s(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Seconds that each round's eight readings take, the least of TIMES. */
static void run(double seconds[ROUNDS])
{
	static struct growth growth;

	for (int k = 0; k < ROUNDS; k++)
		seconds[k] = INFINITY;
	for (int time = 0; time < TIMES; time++) {
		litters_seed(5);
		growth_init(&growth, LITTERS_PUPS, 0);
		for (int k = 0; k < ROUNDS; k++) {
			struct growth_reading readings[LITTERS_PUPS];
			double shared = LITTERS_SHARED * litters_normal(), from;

			for (int i = 0; i < LITTERS_PUPS; i++)
				readings[i] = (struct growth_reading){
					.at_ms = k * INT64_C(43200000) + i * INT64_C(120000),
					.mass_mg =
						(int64_t)(300e3 * exp(0.03 * k / 2 + shared + 0.01 * litters_normal())),
					.u_mg = 289,
				};
			from = now_s();
			for (int i = 0; i < LITTERS_PUPS; i++)
				(void)growth_take(&growth, (size_t)i, &readings[i]); /* only its time counts */
			seconds[k] = fmin(seconds[k], now_s() - from);
		}
	}
}

void growth_tables_speed(void)
{
	static double seconds[ROUNDS];
	double early = 0, late = 0, all = 0;

	run(seconds);
	for (int k = 0; k < ROUNDS; k++) {
		all += seconds[k];
		early += k >= 10 && k < 20 ? seconds[k] : 0; /* the first ones have fewer hypotheses */
		late += k >= ROUNDS - 10 ? seconds[k] : 0;
	}
	printf("\nSpeed: a reading at the end of %d weeks takes %.2f of one in week 1 (%.1f us); %d weeks of a litter "
	       "of %d, "
	       "%d readings, are built anew in %.1f ms\n",
	       WEEKS, late / early, 1e6 * early / (10 * LITTERS_PUPS), WEEKS, LITTERS_PUPS, ROUNDS * LITTERS_PUPS,
	       1e3 * all);
}

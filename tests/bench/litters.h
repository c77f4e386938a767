// SPDX-License-Identifier: MIT
#pragma once
/*
 * Litters that grow in a world whose figures are known, for growth.c: each pup's mass at each weighing, as a scale
 * shows it. Above: growth, oracle. Below: the published curve of daemon/litter/curve.h. Same seed, same litters.
 */
#include <stdbool.h>
#include <stdint.h>

#define LITTERS_PUPS 8
#define LITTERS_DAYS 16
#define LITTERS_ROUNDS (2 * LITTERS_DAYS) /* twice a day, give or take four hours */
#define LITTERS_MISSED 0.2
#define LITTERS_PUP_SD 0.010    /* of daily rates among littermates */
#define LITTERS_LITTER_SD 0.015 /* and among litters */
#define LITTERS_SHARED 0.02     /* gut fill that a round shares, as a share of mass */

enum litters_change { LITTERS_NOBODY, LITTERS_ONE, LITTERS_ALL, LITTERS_BORN /* all, from birth on */ };

struct litters_world {
	double step_g;
	double own;  /* gut fill of a pup's own, as a share of mass */
	double rate; /* of ln(mass) a day, of one that stopped: 0, -0.03 */
	enum litters_change change;
};

struct litters_litter {
	double birth_g[LITTERS_PUPS];
	double day[LITTERS_ROUNDS][LITTERS_PUPS], g[LITTERS_ROUNDS][LITTERS_PUPS];
	bool weighed[LITTERS_ROUNDS][LITTERS_PUPS];
	int order[LITTERS_ROUNDS][LITTERS_PUPS]; /* in which pups are taken */
	int who;                                 /* stopped; of a whole litter 0, -1 nobody */
	double stopped_day;
	double rate[LITTERS_PUPS]; /* of ln(mass) a day, beside the curve's, until it stopped */
};

void litters_seed(uint64_t seed);
double litters_uniform(void); /* 0..1, neither included */
double litters_normal(void);
void litters_make(struct litters_litter *ret, const struct litters_world *world);
/* Standard uncertainty of a reading, as a share. */
double litters_rounding(const struct litters_world *world, double g);

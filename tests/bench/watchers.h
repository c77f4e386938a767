// SPDX-License-Identifier: MIT
#pragma once
/*
 * Ways to tell that a pup stopped gaining, for growth.c: each gives a number for every weighing, the larger the
 * likelier. Above: growth. Below: litters, oracle, daemon/litter.
 */
#include "daemon/litter/growth.h"
#include "tests/bench/litters.h"

enum watcher { WATCHER_LAST, WATCHER_DAY, WATCHER_OURS, WATCHER_ORACLE, WATCHERS };

const char *watcher_name(enum watcher watcher);
/* stat[round][pup], NAN where it wasn't weighed. The world tells the oracle what to look for; nobody else looks at more
 * than the scale's step. */
void watcher_watch(enum watcher watcher, const struct litters_litter *litter, const struct litters_world *world,
		   double stat[LITTERS_ROUNDS][LITTERS_PUPS]);

/* For those who look into the model while it is fed. */
int64_t watcher_ms(double day);
struct growth_reading watcher_reading(const struct litters_litter *litter, const struct litters_world *world, int k,
				      int i);
void watcher_begin(struct growth *growth, const struct litters_litter *litter, const struct litters_world *world);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * One pass over a litter: who is left, and whether readings of the round look exchanged.
 * Above: daemon/desk. Below: growth. Pure.
 */
#include "daemon/litter/growth.h"

struct round_reading {
	size_t animal; /* whom it was said to be */
	struct growth_reading reading;
};

struct round_exchange {
	size_t n;                        /* 2..GROWTH_ANIMALS readings that change hands */
	size_t readings[GROWTH_ANIMALS]; /* into the list given */
	size_t animals[GROWTH_ANIMALS];  /* whose each of them would be */
	double ln_ratio;                 /* ln of likelihood of the exchange against what was said */
};

/*
 * An exchange is told from this ln likelihood ratio on. Ours; of 1254 exchanged pairs in the 200 litters of
 * tests/unit/litter/test_round.c, and of 4346 rounds in which nothing was, it finds, takes for another exchange and
 * tells falsely: at 4 1062, 33, 33; at 5 1056, 18, 20; at 6 1042, 11, 10; at 7 1018, 8, 5; at 8 999, 6, 1. Of those
 * that are found one in fifty is lost against 4, of what is told in vain three in four.
 */
#define ROUND_EXCHANGE_LN 6.0

/*
 * before: the model as it was before the round. The n readings are dealt out to the animals anew, so that the sum of ln
 * densities is largest (assignment problem; Kuhn-Munkres in O(n^3)), what all share taken off; the cycles of what
 * changes are exchanges. Fills ret with those at or over ROUND_EXCHANGE_LN (and half as much more for each reading
 * beyond two: the simpler explanation goes before), most telling first; returns how many, at most n_ret. A later
 * weighing of the same animal in the round isn't dealt out; nor is one without a mass, or of an animal that the model
 * doesn't hold. Readings change hands among those weighed in the round: one that belongs to an animal not weighed is
 * who.h's question.
 */
size_t round_exchanges(const struct growth *before, const struct round_reading *readings, size_t n,
		       struct round_exchange *ret, size_t n_ret);

/*
 * Minimum cost assignment of n rows to m columns, n <= m <= GROWTH_ANIMALS; cost[i * m + j], finite. Fills in
 * ret_column[i], each column at most once; the same input gives the same result. Returns the sum of costs.
 */
double round_assign(const double *cost, size_t n, size_t m, size_t *ret_column);

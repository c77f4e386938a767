// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which readings of a round look exchanged, as the growth model from before the round sees them.
 * Above: rounds.c. Below: models.c, litter/round, the store. It corrects nothing.
 */
#include "daemon/litter/growth.h"
#include "daemon/store/uuid7.h"
#include <jansson.h>

struct desk;

#define EXCHANGES_TOLD 4 /* of one round */

struct exchanges {
	size_t n;
	struct exchange { /* each reading, and the animal that it fits */
		size_t n;
		char readings[GROWTH_ANIMALS][UUID7_SIZE], animals[GROWTH_ANIMALS][UUID7_SIZE];
	} told[EXCHANGES_TOLD];
};

/* Of the readings from from_ms to until_ms: a new array of what to tell, the likeliest first, and *ret to correct them by. Empty
 * when there are none, and when the ledger can't be read. The caller owns the array. */
json_t *exchanges_look(struct desk *desk, const char *litter_id, int64_t from_ms, int64_t until_ms, struct exchanges *ret);

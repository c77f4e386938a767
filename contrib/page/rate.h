// SPDX-License-Identifier: MIT
#pragma once
/*
 * How often something may be done: a bucket that holds so many tokens and is refilled steadily. Pure; a zeroed one is
 * full.
 */
#include <stdbool.h>
#include <stdint.h>

struct rate {
	double used; /* tokens that are gone */
	uint64_t at_usec;
};

/*
 * Takes a token. burst: how many a full bucket holds; per_s: how many come back in a second. now_usec never goes back.
 * False when none is left, and *ret_retry_s, the whole seconds until there is one (at least 1).
 */
bool rate_take(struct rate *rate, double burst, double per_s, uint64_t now_usec, unsigned *ret_retry_s);

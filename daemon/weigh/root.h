// SPDX-License-Identifier: MIT
#pragma once
/*
 * Roots of sums of squares, in integers and rounded up, so that an uncertainty is never stated too
 * small by a rounding. Above: tare, weigh. Below: nothing. Pure, and needs no libm.
 *
 * A fraction in the sum may be rounded up before the root is taken: k is an integer, so x <= k*k
 * exactly when the rounded-up x is, and the root comes out the same.
 */
#include <stdint.h>

/* Larger parts are cut to this, so that the squares of four fit into 64 bits. In milligrams: two
 * tonnes. */
#define ROOT_PART_MAX INT64_C(2000000000)

/* part squared; a negative part counts as 0. */
static inline uint64_t root_square(int64_t part)
{
	if (part < 0)
		part = 0;
	if (part > ROOT_PART_MAX)
		part = ROOT_PART_MAX;
	return (uint64_t)part * (uint64_t)part;
}

/* The smallest integer whose square is at least square. */
static inline int64_t root_up(uint64_t square)
{
	uint64_t rest = square;
	uint64_t root = 0;

	for (uint64_t bit = UINT64_C(1) << 62; bit != 0; bit >>= 2) {
		if (rest >= root + bit) {
			rest -= root + bit;
			root = (root >> 1) + bit;
		} else {
			root >>= 1;
		}
	}
	return (int64_t)(rest != 0 ? root + 1 : root);
}

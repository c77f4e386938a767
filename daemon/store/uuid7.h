// SPDX-License-Identifier: MIT
#pragma once
/*
 * UUID version 7 (RFC 9562, 5.7): time-ordered keys, so that databases merge without collisions.
 * Above: the store. Below: getrandom(2). Within one process later keys sort after earlier ones (RFC 9562, 6.2,
 * method 1: the 12 bits of rand_a count within a millisecond; a clock that steps back goes on from the newest).
 */
#include <stdint.h>

#define UUID7_SIZE 37 /* 36 lower-case characters and the NUL */

struct uuid7_clock {
	int64_t ms;
	uint16_t count;
};

/* The pure part: writes the key for unix time ms, the counter and 8 random octets (only 62 bits are used). */
void uuid7_format(char ret[UUID7_SIZE], int64_t ms, uint16_t count, const uint8_t random[8]);
/* 0, or -errno of getrandom. now_ms: wall clock. */
int uuid7_next(struct uuid7_clock *clock, int64_t now_ms, char ret[UUID7_SIZE]);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * A remembered container: its mass, how well it is known, and how that knowledge ages.
 * Above: weigh. Below: nothing. Pure.
 */
#include <stdint.h>

/* A pad soaks up and dries: the tare's standard uncertainty grows with the square root of the time since it was
 * last seen empty, by this much in an hour, for three days at most. Our assumption; no published source. */
#define TARE_CREEP_MG_PER_SQRT_H 500
#define TARE_CREEP_MAX_H 72

struct tare {
	int64_t mass_mg;
	int64_t u_mg;       /* standard uncertainty when it was weighed or typed */
	int64_t checked_ms; /* UTC: when it was weighed, typed, or last seen empty without drift */
};

/* Standard uncertainty at a time, in milligrams, rounded up. A time before checked_ms counts as checked_ms. */
int64_t tare_u_mg(const struct tare *tare, int64_t at_ms);

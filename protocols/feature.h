// SPDX-License-Identifier: MIT
#pragma once
/*
 * Weight Scale Feature (0x2A9E) and Body Composition Feature (0x2A9B): what a scale says it can do.
 * Above: the daemon, which takes the coarser of wire step and resolution. Below: bytes.
 * The resolution code never changes the wire's unit (facts, 1.2 and 2.1).
 */
#include <stdbool.h>
#include <stdint.h>

struct bytes;

struct feature {
	bool time_stamp;
	bool multiple_users;
	uint8_t resolution;         /* weight resolution code 0..15; 0 and 8..15: not specified */
	int64_t resolution_kg_mg;   /* what the code means for masses sent in kilograms; 0 not specified */
	int64_t resolution_lb_mg;   /* the same for pounds, rounded to mg */
};

bool feature_weight_scale(struct bytes value, struct feature *ret);     /* false: fewer than 4 octets */
bool feature_body_composition(struct bytes value, struct feature *ret); /* the same */

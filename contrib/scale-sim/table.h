// SPDX-License-Identifier: MIT
#pragma once
/*
 * The GATT table of a scale, from the options of the `scale` command. Above: commands.c. Below: the assigned numbers
 * of the Bluetooth SIG.
 */
#include "sim.h"

#define TABLE_DESCRIBED 4

struct table_described {
	char uuid[SIM_UUID];
	const char *formats; /* hexadecimal 0x2904 values, with commas between them; borrowed */
};

struct table_options {
	int battery_pct; /* -1: no battery */
	uint8_t feature[SIM_VALUE];
	size_t n_feature;
	unsigned clock; /* flags of 0x2A2B; 0: it has none */
	bool body, info, user;
	bool nodesc; /* no descriptor at all */
	bool beacon; /* no table at all: it only broadcasts */
	struct table_described described[TABLE_DESCRIBED];
	size_t n_described;
};

/* Fills peer->attrs. false: formats aren't hexadecimal, or it doesn't fit in SIM_ATTRS; peer is unchanged. */
bool table_build(struct peer *peer, const struct table_options *options);

// SPDX-License-Identifier: MIT
/*
 * How soon is a pup that stopped gaining told, at equal false alarms? Ours beside two rules of thumb and an oracle,
 * over simulated litters; whether the predictions' intervals cover and name the right pup; how often the verdict is
 * wrong; what a reading costs. Everything is made from fixed seeds, so two runs print the same (but for the speed).
 */
#include "tests/bench/growth_tables.h"
#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
	int litters = argc > 1 ? (int)strtol(argv[1], NULL, 10) : 300;

	if (litters < 1 || argc > 3) {
		fprintf(stderr, "usage: bench-growth [LITTERS [SVG]]\n"
				"LITTERS of each kind (300), the figure goes to the file SVG\n");
		return 2;
	}
	growth_tables_detection(litters, argc > 2 ? argv[2] : NULL);
	growth_tables_prediction(litters);
	growth_tables_verdict(litters);
	growth_tables_concern((litters + 4) / 5); /* each with hundreds of looks */
	growth_tables_speed();
	return 0;
}

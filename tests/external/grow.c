// SPDX-License-Identifier: MIT
/*
 * What the growth model makes of a series, for check_trend.R and check_growth.R: reads one series, writes a line a
 * reading. Above: the checks. Below: daemon/litter. It judges nothing.
 */
#include "daemon/litter/growth.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SERIES_MAX 4096

static const char help[] =
	"Usage: grow trend Q_LEVEL Q_RATE LEVEL RATE LL LR RR R < SERIES   each line: DAY Z\n"
	"         writes: DAY, ln density, filtered LEVEL RATE LL LR RR, smoothed LEVEL RATE LL LR RR\n"
	"       grow litter N BORN < SERIES   each line: ANIMAL DAY GRAMS U_GRAMS BIRTH(0, 1); BORN 0: day 0 is no "
	"birthday\n"
	"         writes: ANIMAL, DAY, readings before, expected ln(g) and its sd (NA), taken/wild/late, rate and u "
	"after it,\n"
	"                 p stopped, own and shared gut fill\n"
	"       grow normal < SERIES   each line: X VARIANCE\n"
	"         writes: ln density\n";

static struct trend trends[3][SERIES_MAX]; /* filtered, predicted, smoothed */
static double ln_densities[SERIES_MAX];

static void show(const struct trend *trend)
{
	printf(" %.17g %.17g %.17g %.17g %.17g", trend->level, trend->rate, trend->ll, trend->lr, trend->rr);
}

static int trend(char **argv)
{
	struct trend_noise noise = { strtod(argv[0], NULL), strtod(argv[1], NULL) };
	struct trend now = { 0,
			     strtod(argv[2], NULL),
			     strtod(argv[3], NULL),
			     strtod(argv[4], NULL),
			     strtod(argv[5], NULL),
			     strtod(argv[6], NULL) };
	double r = strtod(argv[7], NULL), day, z;
	size_t n = 0;

	for (; n < SERIES_MAX && scanf("%lf %lf", &day, &z) == 2; n++) {
		if (n == 0)
			now.day = day;
		trend_predict(&now, day, &noise);
		trends[1][n] = now;
		ln_densities[n] = trend_update(&now, z, r).ln_density;
		trends[0][n] = now;
	}
	for (size_t i = n; i-- > 0;)
		trends[2][i] =
			i + 1 == n ? trends[0][i] : trend_smooth(&trends[0][i], &trends[1][i + 1], &trends[2][i + 1]);
	for (size_t i = 0; i < n; i++) {
		printf("%.17g %.17g", trends[0][i].day, ln_densities[i]);
		show(&trends[0][i]);
		show(&trends[2][i]);
		printf("\n");
	}
	return 0;
}

static int litter(char **argv)
{
	static struct growth growth;
	static const char *const outcomes[] = { "taken", "wild", "late" };
	size_t animal, n = strtoul(argv[0], NULL, 10);
	double day, g, u;
	int birth;

	growth_init(&growth, n, strcmp(argv[1], "0") == 0 ? INT64_MIN : 0);
	while (scanf("%zu %lf %lf %lf %d", &animal, &day, &g, &u, &birth) == 5) {
		struct growth_reading reading = { (int64_t)(day * 86400e3), (int64_t)(g * 1000 + 0.5),
						  (int64_t)(u * 1000 + 0.5), birth != 0 };
		struct growth_prediction expected;
		struct growth_state state;
		enum growth_outcome outcome;

		if (animal >= n || n > GROWTH_ANIMALS)
			return 1;
		printf("%zu %.17g %u", animal, day, growth.animals[animal].readings);
		if (growth_predict(&growth, animal, reading.at_ms, &expected))
			printf(" %.17g %.17g", expected.ln_g, expected.sd);
		else
			printf(" NA NA");
		outcome = growth_take(&growth, animal, &reading);
		if (!growth_at(&growth, animal, reading.at_ms, &state))
			return 1;
		printf(" %s %.17g %.17g %.17g %.17g %.17g\n", outcomes[outcome], state.rate, state.u_rate,
		       state.p_stall + state.p_loss, growth.own_var, growth.shared_var);
	}
	return 0;
}

int main(int argc, char **argv)
{
	double x, variance;

	if (argc == 10 && strcmp(argv[1], "trend") == 0)
		return trend(argv + 2);
	if (argc == 4 && strcmp(argv[1], "litter") == 0)
		return litter(argv + 2);
	if (argc == 2 && strcmp(argv[1], "normal") == 0) {
		while (scanf("%lf %lf", &x, &variance) == 2)
			printf("%.17g\n", trend_ln_normal(x, variance));
		return 0;
	}
	fputs(help, argc == 2 && strcmp(argv[1], "--help") == 0 ? stdout : stderr);
	return argc == 2 && strcmp(argv[1], "--help") == 0 ? 0 : 2;
}

// SPDX-License-Identifier: MIT
/* Days until a stop is told, at equal false alarms. */
#include "tests/bench/growth_tables.h"
#include "tests/bench/watchers.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define ALARMS 3
#define CELLS_MAX 24
static const double alarms[ALARMS] = { 0.05, 0.1, 0.2 }; /* falsely, a pup and week */

struct outcome {
	double median[ALARMS], mean[ALARMS];
	double at_half; /* false alarms a pup-week when p >= 0.5 counts */
};

struct cell {
	struct litters_world world;
	struct outcome of[WATCHERS];
};

/* Of cells and false alarms: how often ours and the oracle keep to 0.35 of the 24 hour rule, and ours to 1.3 of the
 * oracle. */
static struct {
	int n, day, oracle_day, oracle;
	double most;
} tally;

typedef double stats[LITTERS_ROUNDS][LITTERS_PUPS];

static int compare(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* A false alarm begins where the statistic goes over the limit. */
static double false_alarms(stats *quiet, int litters, double limit)
{
	double n = 0;

	for (int l = 0; l < litters; l++)
		for (int i = 0; i < LITTERS_PUPS; i++) {
			bool on = false;

			for (int k = 0; k < LITTERS_ROUNDS; k++) {
				if (isnan(quiet[l][k][i]))
					continue;
				n += quiet[l][k][i] > limit && !on;
				on = quiet[l][k][i] > limit;
			}
		}
	return n / (litters * LITTERS_PUPS * LITTERS_DAYS / 7.0);
}

/* The lowest limit that keeps to the false alarms; from above, where they only grow as it falls. */
static double limit_for(stats *quiet, int litters, double wanted)
{
	double low = -30, high = 100;

	for (int step = 0; step < 50; step++) {
		double middle = (low + high) / 2;

		if (false_alarms(quiet, litters, middle) > wanted)
			low = middle;
		else
			high = middle;
	}
	return high;
}

/* Days from the stop to the first weighing over the limit; of a whole litter, of any pup. Never: to the end. */
static double delay(const struct litters_litter *litter, const struct litters_world *world, stats stat, double limit)
{
	double found = LITTERS_DAYS - litter->stopped_day;

	for (int i = 0; i < LITTERS_PUPS; i++) {
		if (world->change == LITTERS_ONE && i != litter->who)
			continue;
		for (int k = 0; k < LITTERS_ROUNDS; k++)
			if (litter->day[k][i] > litter->stopped_day && stat[k][i] > limit)
				found = fmin(found, litter->day[k][i] - litter->stopped_day);
	}
	return found;
}

static void measure(struct cell *cell, enum watcher watcher, int litters, stats *quiet, double *days)
{
	struct litters_world nobody = cell->world;
	struct outcome *outcome = &cell->of[watcher];
	double limits[ALARMS];
	struct litters_litter litter;
	static stats stat;

	nobody.change = LITTERS_NOBODY;
	litters_seed(1);
	for (int l = 0; l < litters; l++) {
		litters_make(&litter, &nobody);
		watcher_watch(watcher, &litter, &cell->world, quiet[l]);
	}
	outcome->at_half = false_alarms(quiet, litters, 0);
	for (int a = 0; a < ALARMS; a++)
		limits[a] = limit_for(quiet, litters, alarms[a]);
	litters_seed(2);
	for (int l = 0; l < litters; l++) {
		litters_make(&litter, &cell->world);
		watcher_watch(watcher, &litter, &cell->world, stat);
		for (int a = 0; a < ALARMS; a++)
			days[a * litters + l] = delay(&litter, &cell->world, stat, limits[a]);
	}
	for (int a = 0; a < ALARMS; a++) {
		double sum = 0, *of = days + a * litters;

		for (int l = 0; l < litters; l++)
			sum += of[l];
		qsort(of, (size_t)litters, sizeof *of, compare);
		outcome->mean[a] = sum / litters;
		outcome->median[a] = (of[litters / 2] + of[(litters - 1) / 2]) / 2;
	}
}

static void name(const struct cell *cell, char *ret, size_t size)
{
	snprintf(ret, size, "%s, %s, %.4g g steps, own %.0f %%", cell->world.change == LITTERS_ALL ? "litter" : "pup",
		 cell->world.rate < 0 ? "-3 %/d" : "stall", cell->world.step_g, 100 * cell->world.own);
}

/* Of the 24 hour rule's median, what ours and the oracle take, and ours of the oracle's: hoped for are 0.35 and 1.3. */
static void print_ratios(const struct cell *cell)
{
	const struct outcome *of = cell->of;

	for (int a = 0; a < ALARMS; a++) {
		double day = of[WATCHER_DAY].median[a], ours = of[WATCHER_OURS].median[a];
		double oracle = of[WATCHER_ORACLE].median[a];

		tally.n++;
		tally.day += ours <= 0.35 * day;
		tally.oracle_day += oracle <= 0.35 * day;
		tally.oracle += ours <= 1.3 * oracle;
		tally.most = fmax(tally.most, ours / oracle);
		printf("    at %.2f, of the 24 h rule: ours %.2f, the oracle %.2f; ours of the oracle: %.2f\n",
		       alarms[a], ours / day, oracle / day, ours / oracle);
	}
}

static void print_cell(const struct cell *cell)
{
	char text[96];

	name(cell, text, sizeof text);
	printf("%s\n", text);
	for (enum watcher w = 0; w < WATCHERS; w++) {
		printf("  %-20s", watcher_name(w));
		for (int a = 0; a < ALARMS; a++)
			printf("  %5.2f %5.2f", cell->of[w].median[a], cell->of[w].mean[a]);
		if (w == WATCHER_OURS)
			printf("   (p >= 0.5: %.3f false alarms a pup-week)", cell->of[w].at_half);
		printf("\n");
	}
	print_ratios(cell);
	fflush(stdout);
}

#define LEFT 270 /* of the figure: where day 0 lies */
#define DAY 72
#define TOP 96
#define ROW 26

/* A shape each, so that they differ without colour; the oracle is a ring around what is as good. */
static void mark(FILE *f, enum watcher watcher, double x, double y)
{
	switch (watcher) {
	case WATCHER_LAST:
		fprintf(f, "<path d='M%.1f %.1fl6 6l-6 6l-6 -6z' fill='#888888'/>\n", x, y - 6);
		return;
	case WATCHER_DAY:
		fprintf(f, "<rect x='%.1f' y='%.1f' width='9' height='9' fill='#c07000'/>\n", x - 4.5, y - 4.5);
		return;
	case WATCHER_OURS:
		fprintf(f, "<circle cx='%.1f' cy='%.1f' r='5' fill='#0060c0'/>\n", x, y);
		return;
	case WATCHER_ORACLE:
		fprintf(f, "<circle cx='%.1f' cy='%.1f' r='8' fill='none' stroke='#000000' stroke-width='1.5'/>\n", x,
			y);
		return;
	case WATCHERS:
		return;
	}
}

/* Days along the bottom, and what the marks mean along the top. */
static void draw_frame(FILE *f, int n, int litters)
{
	int bottom = TOP + ROW * n;

	fprintf(f,
		"<svg xmlns='http://www.w3.org/2000/svg' width='900' height='%d' font-family='sans-serif' "
		"font-size='13'>\n<rect width='100%%' height='100%%' fill='white'/>\n"
		"<text x='10' y='22' font-size='15'>Days until a stop is told (median of %d litters), at %.2f false "
		"alarms a "
		"pup-week</text>\n<text x='10' y='44' fill='#444'>who stops, how, the scale's steps, gut fill of a "
		"pup's own; "
		"a round shares 2 %% more</text>\n",
		bottom + 54, litters, alarms[0]);
	for (enum watcher w = 0; w < WATCHERS; w++) {
		mark(f, w, LEFT + 155 * (int)w, 68);
		fprintf(f, "<text x='%d' y='73'>%s</text>\n", LEFT + 13 + 155 * (int)w, watcher_name(w));
	}
	for (int d = 0; d <= 8; d++)
		fprintf(f, "<path d='M%d %dV%d' stroke='#ddd'/><text x='%d' y='%d' text-anchor='middle'>%d</text>\n",
			LEFT + DAY * d, TOP - 8, bottom, LEFT + DAY * d, bottom + 18, d);
	fprintf(f, "<text x='%d' y='%d' text-anchor='middle'>days after it stopped</text>\n", LEFT + 4 * DAY,
		bottom + 40);
}

/* A row a cell, a mark a way. */
static void draw(const struct cell *cells, int n, int litters, const char *path)
{
	FILE *f = fopen(path, "we");

	if (!f) {
		perror(path);
		exit(1);
	}
	draw_frame(f, n, litters);
	for (int c = 0; c < n; c++) {
		char text[96];

		name(&cells[c], text, sizeof text);
		fprintf(f, "<text x='%d' y='%d' text-anchor='end'>%s</text>\n", LEFT - 14, TOP + 10 + ROW * c, text);
		for (enum watcher w = 0; w < WATCHERS; w++)
			mark(f, w, LEFT + DAY * cells[c].of[w].median[0], TOP + 6 + ROW * c);
	}
	fprintf(f, "</svg>\n");
	if (fclose(f) != 0) {
		perror(path);
		exit(1);
	}
}

void growth_tables_detection(int litters, const char *svg)
{
	static const double steps_g[] = { 1, 5,
					  4.5359237 }; /* 0.005 kg and 0.01 lb: Weight Scale Service 1.0.1, 3.2.1 */
	static struct cell cells[CELLS_MAX];
	stats *quiet = calloc((size_t)litters, sizeof *quiet);
	double *days = calloc((size_t)litters * ALARMS, sizeof *days);
	int n = 0;

	if (!quiet || !days)
		exit(1);
	printf("Days until it is told: median and mean, at %.2f, %.2f and %.2f false alarms a pup-week (%d litters)\n",
	       alarms[0], alarms[1], alarms[2], litters);
	for (enum litters_change change = LITTERS_ONE; change <= LITTERS_ALL; change++)
		for (size_t s = 0; s < sizeof steps_g / sizeof *steps_g; s++)
			for (int own = 1; own <= 2; own++)
				for (int loss = 0; loss < 2; loss++) {
					struct cell *cell = &cells[n++];

					cell->world = (struct litters_world){ steps_g[s], own * 0.01, loss ? -0.03 : 0,
									      change };
					for (enum watcher w = 0; w < WATCHERS; w++)
						measure(cell, w, litters, quiet, days);
					print_cell(cell);
				}
	printf("Of %d: at most 0.35 of the 24 h rule's median: ours %d, the oracle itself %d; at most 1.3 of the "
	       "oracle's: ours %d "
	       "(most %.2f)\n",
	       tally.n, tally.day, tally.oracle_day, tally.oracle, tally.most);
	if (svg)
		draw(cells, n, litters, svg);
	free(quiet);
	free(days);
}

// SPDX-License-Identifier: MIT
/*
 * What is told of healthy litters, by rule and level, and how soon a real stop is told: the rules are looked at after
 * every reading, as the desk does, and what the model said isn't taken back before the pup was weighed again. Litters
 * like those of litters.h, but to four weeks and of three sizes of breed; newborns lose up to 2 % on the first day; and
 * every healthy pup gains as published or more, so that what is told of its gain is told falsely.
 */
#include "daemon/litter/concern.h"
#include "daemon/litter/curve.h"
#include "tests/bench/growth_tables.h"
#include "tests/bench/watchers.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DAYS 28
#define ROUNDS (2 * DAYS)
#define WAIT_DAYS 8 /* for a stop to be told */
#define LEVELS 3
#define WHOLE LITTERS_PUPS /* the litter's place behind the pups' */
#define LENGTH(array) (sizeof(array) / sizeof *(array))
/* The low end of weeks 2 to 4, 3.5 % a day (Small Animal Clinical Nutrition, 5th ed., p. 292), from the curve's 5 %. */
#define LEAST_RATE (log(1.035) - log(1.05))

/* Birth weights of the facts' table of breeds and thereabouts. */
static const struct size {
	const char *name;
	double birth_g;
	int64_t adult_mg;
} sizes[] = { { "toy", 160, 4000000 }, { "medium", 280, 15000000 }, { "large", 430, 32000000 } };

struct pup {
	double birth_g, rate, dip;
};

struct litter {
	struct pup pups[LITTERS_PUPS];
	int who; /* stopped; LITTERS_PUPS: all of them, -1: nobody */
	double stopped_day;
	struct growth growth;
	struct concern_reading readings[LITTERS_PUPS][ROUNDS];
	struct concern_animal animals[LITTERS_PUPS];
	struct concern_litter concerns;
};

/* What is open, as the desk keeps it. */
struct open {
	int level[CONCERN_RULES][LITTERS_PUPS + 1]; /* -1: closed */
	int64_t held_ms[CONCERN_RULES][LITTERS_PUPS + 1];
};

struct counted {
	double opened[CONCERN_RULES][LEVELS], pup_weeks;
	size_t stops, n_told[LEVELS];
	double *told[LEVELS]; /* days to the first of the level or worse */
};

static int64_t step_u_mg(double step_g)
{
	return (int64_t)ceil(step_g * 1000 / sqrt(12));
}

static double shown(double g, double step_g)
{
	return fmax(1, round(g / step_g)) * step_g;
}

static void bear(struct litter *litter, const struct litters_world *world, const struct size *size)
{
	double mean = size->birth_g * exp(0.08 * litters_normal()), litter_rate;

	memset(litter, 0, sizeof *litter);
	litter->who = world->change == LITTERS_NOBODY ? -1 : (int)(LITTERS_PUPS * litters_uniform());
	if (world->change == LITTERS_ALL)
		litter->who = LITTERS_PUPS;
	litter->stopped_day = 3 + 8 * litters_uniform();
	do
		litter_rate = LITTERS_LITTER_SD * litters_normal();
	while (litter_rate < LEAST_RATE);
	growth_init(&litter->growth, LITTERS_PUPS, watcher_ms(0));
	for (size_t i = 0; i < LITTERS_PUPS; i++) {
		struct pup *pup = &litter->pups[i];
		struct growth_reading birth = { watcher_ms(0) + (int64_t)i, 0, step_u_mg(world->step_g), true };

		do
			pup->rate = litter_rate + LITTERS_PUP_SD * litters_normal();
		while (pup->rate < LEAST_RATE);
		pup->birth_g = mean * exp(0.12 * litters_normal()); /* as in litters.c */
		pup->dip = 0.02 * litters_uniform();
		birth.mass_mg = llround(1000 * shown(pup->birth_g, world->step_g));
		litter->animals[i] = (struct concern_animal){ i, birth.at_ms, birth.mass_mg, litter->readings[i], 0, NULL, 0 };
		(void)growth_take(&litter->growth, i, &birth); /* the first ones are always taken */
	}
	litter->concerns = (struct concern_litter){
		.growth = &litter->growth, .adult_mg = size->adult_mg, .animals = litter->animals, .n = LITTERS_PUPS
	};
}

static double ln_mass(const struct litter *litter, const struct litters_world *world, int i, double day)
{
	const struct pup *pup = &litter->pups[i];
	bool stops = litter->who == i || litter->who == LITTERS_PUPS;
	double grown = stops ? fmin(day, litter->stopped_day) : day;
	double dip = pup->dip * (day < 1 ? day : fmax(0, 2 - day));

	return log(pup->birth_g) + curve_gain(0, grown) + pup->rate * grown + world->rate * (day - grown) - dip;
}

/* ---- as the desk keeps what is open ---- */

static bool is_of_model(enum concern_rule rule)
{
	return rule == CONCERN_LOSING || rule == CONCERN_NO_GAIN_24H || rule == CONCERN_BELOW_BAND ||
	       rule == CONCERN_BEHIND || rule == CONCERN_LITTER_SLOW || rule == CONCERN_ADULT_RATE;
}

static int64_t newest_ms(const struct litter *litter, size_t who)
{
	return who == WHOLE ? litter->growth.round_ms : litter->growth.animals[who].newest_ms;
}

static bool may_go(const struct litter *litter, const struct open *open, int rule, size_t who)
{
	int64_t newest = newest_ms(litter, who), held = open->held_ms[rule][who];

	if (!is_of_model((enum concern_rule)rule))
		return true;
	return who == WHOLE ? newest > held + GROWTH_ROUND_MS : newest != held;
}

static void keep(struct counted *counted, const struct litter *litter, struct open *open,
		 int now[CONCERN_RULES][LITTERS_PUPS + 1])
{
	for (int rule = 0; rule < CONCERN_RULES; rule++)
		for (size_t who = 0; who <= WHOLE; who++) {
			int *level = &open->level[rule][who], found = now[rule][who];

			if (found < *level && !may_go(litter, open, rule, who))
				continue;
			if (found >= 0)
				open->held_ms[rule][who] = newest_ms(litter, who);
			if (found > *level)
				counted->opened[rule][found]++;
			*level = found;
		}
}

static void look(struct counted *counted, const struct litter *litter, struct open *open, int64_t now_ms)
{
	struct concern found[128];
	int now[CONCERN_RULES][LITTERS_PUPS + 1];
	size_t n = concern_look(&litter->concerns, now_ms, found, LENGTH(found));

	memset(now, -1, sizeof now); /* every octet of -1 */
	for (size_t k = 0; k < n; k++)
		now[found[k].rule][found[k].animal == SIZE_MAX ? WHOLE : found[k].animal] = (int)found[k].level;
	keep(counted, litter, open, now);
}

/* ---- a life ---- */

/* The first of each level or worse that is told of who stopped. */
static void note_told(struct counted *counted, const struct litter *litter, const struct open *open, double day,
		      bool told[LEVELS])
{
	size_t who = (size_t)litter->who;
	int worst = open->level[CONCERN_LITTER_SLOW][WHOLE];

	if (litter->who < 0 || day < litter->stopped_day)
		return;
	if (who < WHOLE) {
		worst = worst > open->level[CONCERN_LOSING][who] ? worst : open->level[CONCERN_LOSING][who];
		worst = worst > open->level[CONCERN_NO_GAIN_24H][who] ? worst : open->level[CONCERN_NO_GAIN_24H][who];
	}
	for (int level = 0; level <= worst; level++)
		if (!told[level]) {
			told[level] = true;
			counted->told[level][counted->n_told[level]++] = day - litter->stopped_day;
		}
}

static void weigh(struct litter *litter, const struct litters_world *world, int i, double day, double shared)
{
	struct concern_animal *animal = &litter->animals[i];
	double g = exp(ln_mass(litter, world, i, day) + shared + world->own * litters_normal());
	struct growth_reading reading = { watcher_ms(day), llround(1000 * shown(g, world->step_g)),
					  step_u_mg(world->step_g), false };

	litter->readings[i][animal->n++] = (struct concern_reading){ reading.at_ms, reading.mass_mg, reading.u_mg };
	(void)growth_take(&litter->growth, (size_t)i, &reading); /* marked ones are part of it */
}

static void live(struct counted *counted, struct litter *litter, const struct litters_world *world)
{
	struct open open;
	bool told[LEVELS] = { false };

	memset(open.level, -1, sizeof open.level);
	counted->stops += litter->who >= 0;
	for (int k = 0; k < ROUNDS; k++) {
		double day = 0.5 + k * 0.5 + 8.0 / 24 * (litters_uniform() - 0.5);
		double shared = LITTERS_SHARED * litters_normal();
		int first = (int)(LITTERS_PUPS * litters_uniform());

		if (litter->who >= 0 && day > litter->stopped_day + WAIT_DAYS)
			return;
		for (int j = 0; j < LITTERS_PUPS; j++) {
			double at = day + j * 2.0 / 1440; /* two minutes each */

			if (litters_uniform() < LITTERS_MISSED)
				continue;
			weigh(litter, world, (first + j) % LITTERS_PUPS, at, shared);
			look(counted, litter, &open, watcher_ms(at));
			note_told(counted, litter, &open, at, told);
		}
	}
	counted->pup_weeks += LITTERS_PUPS * DAYS / 7.0;
}

static void count(struct counted *counted, int litters, const struct litters_world *world, const struct size *size)
{
	static struct litter litter;

	for (int l = 0; l < litters; l++) {
		bear(&litter, world, size);
		live(counted, &litter, world);
	}
}

/* ---- tables ---- */

static const double steps_g[] = { 1, 5, 4.536 };

static void add(struct counted *sum, const struct counted *counted)
{
	sum->pup_weeks += counted->pup_weeks;
	for (int rule = 0; rule < CONCERN_RULES; rule++)
		for (int level = 0; level < LEVELS; level++)
			sum->opened[rule][level] += counted->opened[rule][level];
}

static void print_model(const struct counted *counted)
{
	double opened[LEVELS] = { 0 };

	for (int rule = 0; rule < CONCERN_RULES; rule++)
		for (int level = 0; level < LEVELS; level++)
			opened[level] += is_of_model((enum concern_rule)rule) ? counted->opened[rule][level] : 0;
	for (int level = 0; level < LEVELS; level++)
		printf("  %s %.4f", concern_level_text((enum concern_level)level), opened[level] / counted->pup_weeks);
	printf("\n");
}

static void healthy(int litters)
{
	struct counted all = { 0 };

	printf("\nTold of healthy litters, a pup-week, by the model's rules (%d litters of each)\n", litters);
	for (size_t z = 0; z < LENGTH(sizes); z++)
		for (size_t s = 0; s < LENGTH(steps_g); s++)
			for (int own = 1; own <= 2; own++) {
				struct litters_world world = { steps_g[s], own * 0.01, 0, LITTERS_NOBODY };
				struct counted counted = { 0 };

				litters_seed(6);
				count(&counted, litters, &world, &sizes[z]);
				printf("  %-6s %.4g g steps, own %d %%:", sizes[z].name, steps_g[s], own);
				print_model(&counted);
				add(&all, &counted);
			}
	printf("  all:");
	print_model(&all);
	printf("By rule and level (openings a pup-week; %.0f pup-weeks)\n", all.pup_weeks);
	for (int rule = 0; rule < CONCERN_RULES; rule++)
		printf("  %-14s look %.4f  act %.4f  vet %.4f\n", concern_row((enum concern_rule)rule)->word,
		       all.opened[rule][CONCERN_LOOK] / all.pup_weeks, all.opened[rule][CONCERN_ACT] / all.pup_weeks,
		       all.opened[rule][CONCERN_VET] / all.pup_weeks);
}

static int compare(const void *a, const void *b)
{
	const double *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

static void stops(int litters, double step_g, int own, enum litters_change change, bool loss)
{
	struct litters_world world = { step_g, own * 0.01, loss ? -0.03 : 0, change };
	struct counted counted = { 0 };
	size_t room = (size_t)litters * LENGTH(sizes);
	double *days = calloc(LEVELS * room, sizeof *days);

	if (!days)
		abort();
	for (size_t level = 0; level < LEVELS; level++)
		counted.told[level] = days + level * room;
	litters_seed(7);
	for (size_t z = 0; z < LENGTH(sizes); z++)
		count(&counted, litters, &world, &sizes[z]);
	printf("  %-6s %-6s %.4g g steps, own %d %%:", change == LITTERS_ALL ? "litter" : "pup",
	       loss ? "-3 %/d" : "stall", step_g, own);
	for (int level = 0; level < LEVELS; level++) {
		size_t n = counted.n_told[level];

		/* those not told are later than all others */
		qsort(counted.told[level], n, sizeof *days, compare);
		printf("  %s %.0f %%", concern_level_text((enum concern_level)level),
		       100 * (double)n / (double)counted.stops);
		if (n > counted.stops / 2)
			printf(", %.2f d", counted.told[level][counted.stops / 2]);
	}
	printf("\n");
	free(days);
}

void growth_tables_concern(int litters)
{
	healthy(litters);
	printf("Stops told within %d days by losing, no-gain-24h or litter-slow at this level or worse: share, median "
	       "days\n",
	       WAIT_DAYS);
	for (enum litters_change change = LITTERS_ONE; change <= LITTERS_ALL; change++)
		for (int loss = 0; loss < 2; loss++)
			for (size_t s = 0; s < LENGTH(steps_g); s++)
				for (int own = 1; own <= 2; own++)
					stops(litters, steps_g[s], own, change, loss);
}

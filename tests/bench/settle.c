// SPDX-License-Identifier: MIT
/*
 * Moving signals with known masses: how far off are settle, the last value when settle tells, the mean and the median
 * of the last 2 s until then, and the first three equal values in a row; how long do settle and three equal values
 * wait; does the stated uncertainty hold; is a load told again; how far off is the empty container? Prints a table, a
 * row for each kind of motion, step and rate, and sums. Seeds are fixed. Above: nothing. Below: daemon/weigh.
 *
 * Usage: bench-settle [LOADS_A_ROW [sums]]; 200 loads where none are named; sums: not each row. The last lines are the
 * limits, for each model; ends with 1 when one is missed.
 *
 * The force on the scale is container + pup + motion. Three models of the motion, each with a standard deviation,
 * before the scale's filter, of 1 % (calm), 4 % (lively) or 12 % (frantic) of the pup's mass: swing  a damped
 * oscillation (1.5 to 4 Hz, damping 0.3) driven by white noise, in spells that come and go within 2 s. settle's figures
 * were chosen on this one, but for SETTLE_RESTLESS_US, which all three had a say in. kicks  a random telegraph: kicks
 * of either sign, 0.15 s of mean length, at random times. Hold-out. crawl  bouts of strokes at 1 to 2.5 Hz, each of
 * another strength, with rests between them, and breathing. Hold-out. A pup can't push itself up for long: what it
 * gains it gives back, and so the true mean of the motion over some seconds is its weight far more exactly than in
 * swing and kicks, whose spectra go on to zero frequency. They are the hard cases. The scale smooths by a first-order
 * filter of 0.1 to 0.5 s and rounds to its step. A hand presses or lifts by up to 60 g while it puts the pup down and
 * while it takes it off; one load in ten is bumped once by 120 g for 0.2 s. All of this is our assumption: no published
 * record of a pup's force on a scale was found.
 */
#include "daemon/weigh/settle.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum model { SWING, KICKS, CRAWL, MODELS };

#define FINE_S 0.005 /* of the simulation */
#define ON_S 1.0
#define OFF_S 15.0
#define END_S 19.0
#define SAMPLES 512

/* ---- chance: xorshift64 ---- */

static uint64_t random_state;

static double uniform(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return ((double)(random_state >> 11) + 0.5) / 9007199254740992.0;
}

static double between(double low, double high)
{
	return low + (high - low) * uniform();
}

static double normal(void)
{
	double radius = sqrt(-2 * log(uniform())); /* first, whatever the compiler */

	return radius * cos(2 * M_PI * uniform());
}

/* ---- motion, with a standard deviation of about 1 ---- */

struct motion {
	enum model model;
	double omega, x, v, spell;          /* swing */
	double kick, left_s;                /* kicks; left_s: of the bout too */
	double hz, phase, strength, breath; /* crawl */
	bool resting;
};

static double swing(struct motion *m)
{
	const double damping = 0.3;

	m->spell += -m->spell / 2 * FINE_S + sqrt(FINE_S) * normal();
	/* driven by unit white noise it has a variance of 1 / (4 damping omega^3) */
	m->v += (-m->omega * m->omega * m->x - 2 * damping * m->omega * m->v) * FINE_S +
		sqrt(4 * damping * m->omega * m->omega * m->omega * FINE_S) * normal();
	m->x += m->v * FINE_S;
	return m->x * exp(0.5 * m->spell - 0.25);
}

static double kicks(struct motion *m)
{
	m->left_s -= FINE_S;
	if (m->left_s <= 0) {
		m->kick = 0;
		if (uniform() < 2 * FINE_S) {
			m->left_s = -0.15 * log(uniform());
			m->kick = uniform() < 0.5 ? -1 : 1;
			m->kick *= between(1, 2);
		}
	}
	return 1.25 * m->kick;
}

static double crawl(struct motion *m)
{
	double force;

	m->left_s -= FINE_S;
	m->breath += 2 * M_PI * 0.4 * FINE_S;
	if (m->left_s <= 0) {
		m->resting = !m->resting;
		m->left_s = m->resting ? -1.5 * log(uniform()) : -3 * log(uniform());
	}
	m->phase += 2 * M_PI * m->hz * FINE_S;
	if (m->phase > 2 * M_PI) {
		m->phase -= 2 * M_PI;
		m->strength = m->resting ? 0 : between(0.4, 1.6);
	}
	force = m->strength * 1.5 * (sin(m->phase) + 0.4 * sin(2 * m->phase));
	return force + 0.15 * sin(m->breath);
}

static double move(struct motion *m)
{
	switch (m->model) {
	case SWING:
		return swing(m);
	case KICKS:
		return kicks(m);
	case CRAWL:
		return crawl(m);
	case MODELS:
		break;
	}
	return 0;
}

/* ---- one load ---- */

struct cell {
	enum model model;
	double share, step_g, rate;
};

struct signal {
	double true_g, idle_g;
	int n;
	double at_s[SAMPLES], value_g[SAMPLES];
};

static double ramp(double x)
{
	return x < 0 ? 0 : x > 1 ? 1 : x;
}

/* A hand's push, while it is there. */
static double hand(double s)
{
	return s > 0 && s < 0.6 ? sin(M_PI * s / 0.6) : 0;
}

static void simulate(const struct cell *cell, struct signal *s)
{
	double omega = 2 * M_PI * between(1.5, 4), hz = between(1, 2.5);
	struct motion m = { .model = cell->model, .omega = omega, .hz = hz };
	double pup_g = between(150, 900), tau_s = between(0.1, 0.5), next_s = uniform() / cell->rate;
	double bump_s = uniform() < 0.1 ? between(ON_S + 1, ON_S + 7) : INFINITY;
	double put_g = between(-60, 60), take_g = between(-60, 60), shown_g;

	s->idle_g = between(200, 600);
	s->true_g = s->idle_g + pup_g;
	s->n = 0;
	shown_g = s->idle_g;
	for (double t = 0; t < END_S; t += FINE_S) {
		double there = ramp((t - ON_S) / 0.3) - ramp((t - OFF_S) / 0.3);
		double force_g = s->idle_g + there * pup_g * (1 + cell->share * move(&m));
		force_g += put_g * hand(t - ON_S) + take_g * hand(t - OFF_S);
		force_g += t > bump_s && t < bump_s + 0.2 ? 120 : 0;
		shown_g += (force_g - shown_g) * FINE_S / tau_s;
		if (t >= next_s && s->n < SAMPLES) {
			s->at_s[s->n] = t;
			s->value_g[s->n++] = round(shown_g / cell->step_g) * cell->step_g;
			next_s += 1 / cell->rate;
		}
	}
}

/* ---- what is made of it ---- */

enum estimate { BY_SETTLE, BY_LAST, BY_MEAN, BY_MEDIAN, BY_THREE, ESTIMATES };

struct tally {
	double n, told, within, again, again_off, idle, idle_within;
	double squares[ESTIMATES], idle_squares, wait_s, three_wait_s;
};

static int by_value(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* Up to sample `end`, which settle told at. */
static void usual_estimates(const struct signal *s, int end, double *g)
{
	double order[SAMPLES], sum = 0;
	int n = 0, from = end;

	while (from > 0 && s->at_s[end] - s->at_s[from - 1] <= 2 && s->at_s[from - 1] > ON_S)
		from--;
	for (int i = from; i <= end; i++) {
		order[n++] = s->value_g[i];
		sum += s->value_g[i];
	}
	qsort(order, (size_t)n, sizeof *order, by_value);
	g[BY_LAST] = s->value_g[end];
	g[BY_MEAN] = sum / n;
	g[BY_MEDIAN] = n % 2 ? order[n / 2] : (order[n / 2 - 1] + order[n / 2]) / 2;
}

/* Where there are none while the pup is there, somebody writes down what is shown at last. */
static double three_equal(const struct signal *s, double *ret_at_s)
{
	int run = 0, i;

	for (i = 0; i < s->n && s->at_s[i] < OFF_S; i++) {
		if (s->value_g[i] < s->idle_g + 25)
			continue;
		run = i && s->value_g[i] == s->value_g[i - 1] ? run + 1 : 1;
		*ret_at_s = s->at_s[i];
		if (run == 3)
			return s->value_g[i];
	}
	return s->value_g[i - 1];
}

static void count_load(const struct signal *s, int at, const struct settle_result *result, struct tally *tally)
{
	double g[ESTIMATES] = { [BY_SETTLE] = (double)result->gross_mg / 1000 }, three_s = 0;

	usual_estimates(s, at, g);
	g[BY_THREE] = three_equal(s, &three_s);
	for (int i = 0; i < ESTIMATES; i++)
		tally->squares[i] += (g[i] - s->true_g) * (g[i] - s->true_g);
	tally->told++;
	tally->wait_s += s->at_s[at] - ON_S;
	tally->three_wait_s += three_s - ON_S;
	tally->within += fabs(g[BY_SETTLE] - s->true_g) <= 2e-3 * (double)result->u_mg;
}

static void weigh(const struct signal *s, double step_g, struct tally *tally)
{
	struct settle settle;
	bool told = false;

	settle_init(&settle, llround(step_g * 1000), llround(s->idle_g * 1000));
	tally->n++;
	for (int i = 0; i < s->n; i++) {
		struct settle_sample sample = { .gross_mg = llround(s->value_g[i] * 1000),
						.at_us = (uint64_t)llround(s->at_s[i] * 1e6) };
		struct settle_result result;
		enum settle_event event = settle_take(&settle, &sample, &result);
		double off_g = (double)result.gross_mg / 1000;

		if (event == SETTLE_LOADED && !told) {
			count_load(s, i, &result, tally);
			told = true;
		} else if (event == SETTLE_LOADED) {
			tally->again++;
		} else if (event == SETTLE_IDLE) {
			off_g -= s->idle_g;
			tally->idle++;
			tally->idle_squares += off_g * off_g;
			tally->idle_within += fabs(off_g) <= 2e-3 * (double)result.u_mg;
		}
	}
}

/* ---- the table ---- */

static void add(struct tally *to, const struct tally *t)
{
	const double *from = (const double *)t;

	for (size_t i = 0; i < sizeof *t / sizeof *from; i++)
		((double *)to)[i] += from[i];
}

static double rms(const struct tally *t, enum estimate i)
{
	return sqrt(t->squares[i] / t->told);
}

static void print_head(void)
{
	printf("%-25s %-37s %-11s %-11s %5s %6s %6s %6s %6s\n", "", "rms error, g", "settle to", "mean wait, s", "|e|",
	       "told,", "again,", "empty,", "|e|");
	printf("%-25s %6s %6s %6s %7s %7s   %5s %5s  %5s %5s  %6s %6s %6s %6s %6s\n", "", "settle", "last", "mean2s",
	       "median2", "3equal", "last", "3eq.", "settle", "3eq.", "<2u,%", "%", "%", "rms g", "<2u,%");
}

static void print_row(const char *name, const struct tally *t)
{
	printf("%-25s %6.2f %6.2f %6.2f %7.2f %7.2f   %5.2f %5.2f  %5.2f %5.2f  %6.1f %6.1f %6.2f %6.2f %6.1f\n", name,
	       rms(t, BY_SETTLE), rms(t, BY_LAST), rms(t, BY_MEAN), rms(t, BY_MEDIAN), rms(t, BY_THREE),
	       rms(t, BY_SETTLE) / rms(t, BY_LAST), rms(t, BY_SETTLE) / rms(t, BY_THREE), t->wait_s / t->told,
	       t->three_wait_s / t->told, 100 * t->within / t->told, 100 * t->told / t->n, 100 * t->again / t->n,
	       sqrt(t->idle_squares / t->idle), 100 * t->idle_within / t->idle);
}

static const double steps_g[] = { 0.1, 1, 2, 4.5359237, 5, 10 }, rates[] = { 1, 2, 5, 10, 20 };
static const double shares[] = { 0.01, 0.04, 0.12 };
static const char *const lives[] = { "calm", "lively", "frantic" };
static const char *const models[] = { "swing", "kicks", "crawl" };

#define N(array) (sizeof(array) / sizeof *(array))

static void bench_life(enum model model, size_t life, int loads, bool sums, struct tally *ret)
{
	static struct signal s;
	char name[64];

	for (size_t step = 0; step < N(steps_g); step++) {
		for (size_t rate = 0; rate < N(rates); rate++) {
			struct cell cell = { model, shares[life], steps_g[step], rates[rate] };
			struct tally t = { 0 };

			random_state = UINT64_C(88172645463325252) + 1000 * step + 100 * rate + 10 * life + model;
			for (int i = 0; i < 20; i++)
				(void)uniform(); /* seeds this near begin alike */
			for (int i = 0; i < loads; i++) {
				simulate(&cell, &s);
				weigh(&s, cell.step_g, &t);
			}
			(void)snprintf(name, sizeof name, "%s %s %.3gg %g/s", models[model], lives[life], cell.step_g,
				       cell.rate);
			if (!sums)
				print_row(name, &t);
			add(ret, &t);
		}
	}
	(void)snprintf(name, sizeof name, "%s %s", models[model], lives[life]);
	print_row(name, ret);
}

/* Lively and frantic, and all, of one model. */
static void bench_model(enum model model, int loads, bool sums, struct tally *restless, struct tally *all)
{
	for (size_t life = 0; life < N(lives); life++) {
		struct tally t = { 0 };

		bench_life(model, life, loads, sums, &t);
		add(all, &t);
		if (life > 0)
			add(restless, &t);
	}
}

static bool limit(const char *what, double value, double low, double high)
{
	bool held = value >= low && value <= high;

	printf("%-58s %6.2f, %g to %g: %s\n", what, value, low, high, held ? "held" : "MISSED");
	return held;
}

struct sums {
	struct tally all, restless; /* restless: lively and frantic pups alone */
};

/* An uncertainty that is stated too large misleads as well; but crawl comes after swing and kicks: what holds for those
 * is more than it needs. */
static const double coverage_most[] = { [SWING] = 97, [KICKS] = 97, [CRAWL] = 100 };

static bool limits_held(enum model model, const struct sums *sums)
{
	const struct tally *all = &sums->all, *restless = &sums->restless;
	bool held = true;

	printf("%s\n", models[model]);
	held &= limit("  rms error, to the last value's", rms(all, BY_SETTLE) / rms(all, BY_LAST), 0, 0.4);
	held &= limit("  rms error, to three equal values'", rms(all, BY_SETTLE) / rms(all, BY_THREE), 0, 0.6);
	held &= limit("  mean wait, to three equal values', lively and frantic",
		      restless->wait_s / restless->three_wait_s, 0, 1);
	held &= limit("  |error| < 2u, %", 100 * all->within / all->told, 93, coverage_most[model]);
	held &= limit("  told, %", 100 * all->told / all->n, 99.9, 100);
	held &= limit("  told again, %", 100 * all->again / all->n, 0, 0.5);
	return held;
}

int main(int argc, char **argv)
{
	struct sums of[MODELS] = { 0 };
	struct tally every = { 0 };
	char *end = "", name[64];
	long loads = argc > 1 ? strtol(argv[1], &end, 10) : 200;
	bool sums = argc > 2 && strcmp(argv[2], "sums") == 0, held = true;

	if (loads < 1 || loads > 1000000 || *end || (argc > 2 && !sums) || argc > 3) {
		fprintf(stderr, "Usage: bench-settle [LOADS_A_ROW [sums]]\n");
		return 2;
	}
	print_head();
	for (enum model model = SWING; model < MODELS; model++) {
		bench_model(model, (int)loads, sums, &of[model].restless, &of[model].all);
		(void)snprintf(name, sizeof name, "%s, lively and frantic", models[model]);
		print_row(name, &of[model].restless);
		(void)snprintf(name, sizeof name, "%s, all", models[model]);
		print_row(name, &of[model].all);
		add(&every, &of[model].all);
	}
	print_row("every model", &every);
	for (enum model model = SWING; model < MODELS; model++)
		held &= limits_held(model, &of[model]);
	printf("every model\n");
	held &= limit("  |error| < 2u, %", 100 * every.within / every.told, 93, 97);
	return held ? 0 : 1;
}

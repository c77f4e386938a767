// SPDX-License-Identifier: MIT
/*
 * Moving signals with known masses: how far off are settle, the last value, the mean, and the first three equal values
 * in a row, how long do they wait, and does the stated uncertainty hold? Prints a table; seeds are fixed.
 *
 * Motion, two models. "swing": the pup's force on the scale is a damped oscillation (1.5 to 4 Hz, damping 0.3) driven by
 * white noise, in spells: it moves more and less, with a time constant of 2 s. "kicks": a random telegraph, kicks of
 * either sign with 0.15 s of mean length at random times, as hold-out: nothing was tuned on it. The scale smooths by a
 * first-order filter (0.1 to 0.5 s) and rounds to its step. A hand presses while it puts the pup down; one load in ten is
 * bumped once. Standard deviations of the motion, before the filter: calm 1 %, lively 4 %, frantic 12 % of the pup's mass.
 * All of it is our assumption: no published record of a pup on a scale was found.
 */
#include "daemon/weigh/settle.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t random_state;
static double uniform(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return ((double)(random_state >> 11) + 0.5) / 9007199254740992.0;
}
static double normal(void)
{
	return sqrt(-2 * log(uniform())) * cos(2 * M_PI * uniform());
}

enum { SWING, KICKS, MODELS };
#define FINE 0.005 /* s, of the simulation */
#define SECONDS 16.0

struct signal {
	double true_g, idle_g, on_s;
	int n;
	double at_s[512], value_g[512];
};

static void simulate(struct signal *s, int model, double motion, double step, double rate)
{
	double frequency = 1.5 + 2.5 * uniform(), omega = 2 * M_PI * frequency, zeta = 0.3, x = 0, v = 0, spell = 0;
	double tau = 0.1 + 0.4 * uniform(), shown, kick = 0, kick_left = 0;
	double bump_at = uniform() < 0.1 ? 2 + 6 * uniform() : 1e9;
	double next = 1 / rate * uniform(), pup;
	/* sd of the oscillator driven by unit white noise: sqrt(1 / (4 zeta omega^3)) */
	double drive = sqrt(4 * zeta * omega * omega * omega);

	pup = 150 + 750 * uniform();
	s->idle_g = 200 + 400 * uniform();
	s->true_g = pup + s->idle_g;
	s->on_s = 1.0;
	s->n = 0;
	shown = s->idle_g;
	for (double t = 0; t < SECONDS; t += FINE) {
		double force = s->idle_g;
		spell += -spell / 2 * FINE + sqrt(FINE) * normal();
		v += (-omega * omega * x - 2 * zeta * omega * v) * FINE + drive * sqrt(FINE) * normal();
		x += v * FINE;
		if (kick_left > 0)
			kick_left -= FINE;
		else
			kick = 0;
		if (kick_left <= 0 && uniform() < 2 * FINE) {
			kick_left = -0.15 * log(uniform());
			kick = (uniform() < 0.5 ? -1 : 1) * (1 + uniform());
		}
		if (t >= s->on_s) {
			double move = model == SWING ? x * exp(0.5 * spell - 0.25) : 1.2 * kick;
			force += pup * fmin(1, (t - s->on_s) / 0.3) + motion * pup * move;
			if (t < s->on_s + 0.6)
				force += 60 * sin(M_PI * (t - s->on_s) / 0.6); /* the hand */
			if (t > bump_at && t < bump_at + 0.2)
				force += 120;
		}
		shown += (force - shown) * FINE / tau;
		if (t >= next && s->n < 512) {
			s->at_s[s->n] = t;
			s->value_g[s->n++] = round(shown / step) * step;
			next += 1 / rate;
		}
	}
}

struct tally {
	double n, e2[4], wait[2], within, told, wait2n;
};

static void weigh(const struct signal *s, double step, struct tally *tally)
{
	struct settle settle;
	struct settle_result result;
	enum settle_event event = SETTLE_NOTHING;
	double last = 0, sum = 0, three = NAN, three_at = SECONDS;
	int n = 0, run = 0, i;

	settle_init(&settle, (int64_t)(step * 1000), (int64_t)(s->idle_g * 1000));
	for (i = 0; i < s->n && event != SETTLE_LOADED; i++) {
		struct settle_sample sample = { (int64_t)(s->value_g[i] * 1000), 1 + (uint64_t)(s->at_s[i] * 1e6), SETTLE_UNSAID };
		event = settle_take(&settle, &sample, &result);
		last = s->value_g[i];
		if (s->at_s[i] > s->on_s + 0.3) {
			sum += last;
			n++;
		}
	}
	tally->n++;
	for (int k = 0; k < s->n; k++) {
		if (s->value_g[k] < s->idle_g + 25)
			continue;
		run = k && s->value_g[k] == s->value_g[k - 1] ? run + 1 : 1;
		if (run == 3) {
			three = s->value_g[k];
			three_at = s->at_s[k];
			break;
		}
	}
	if (isnan(three)) /* never: what is shown at the end */
		three = s->value_g[s->n - 1];
	tally->wait[1] += three_at - s->on_s;
	if (event != SETTLE_LOADED)
		return;
	tally->told++;
	double e = (double)result.gross_mg / 1000 - s->true_g;
	tally->e2[0] += e * e;
	tally->e2[1] += (last - s->true_g) * (last - s->true_g);
	tally->e2[2] += (sum / n - s->true_g) * (sum / n - s->true_g);
	tally->e2[3] += (three - s->true_g) * (three - s->true_g);
	tally->wait[0] += s->at_s[i - 1] - s->on_s;
	tally->within += fabs(e) <= 2e-3 * (double)result.u_mg;
}

static void add(struct tally *to, const struct tally *t)
{
	to->n += t->n; to->told += t->told; to->within += t->within;
	for (int i = 0; i < 4; i++) to->e2[i] += t->e2[i];
	for (int i = 0; i < 2; i++) to->wait[i] += t->wait[i];
}

static void row(const char *name, const struct tally *t)
{
	double settle = sqrt(t->e2[0] / t->told), last = sqrt(t->e2[1] / t->told), mean = sqrt(t->e2[2] / t->told), three = sqrt(t->e2[3] / t->told);
	printf("%-34s %7.2f %7.2f %7.2f %7.2f   %5.2f %5.2f   %5.2f %5.2f  %6.1f %6.1f\n", name, settle, last, mean, three,
	       settle / last, settle / three, t->wait[0] / t->told, t->wait[1] / t->n, 100 * t->within / t->told, 100 * t->told / t->n);
}

int main(int argc, char **argv)
{
	static const double steps[] = { 0.1, 1, 2, 5, 10, 4.5359237 }, rates[] = { 2, 5, 10, 20 }, motions[] = { 0.01, 0.04, 0.12 };
	static const char *const lives[] = { "calm", "lively", "frantic" }, *const models[] = { "swing", "kicks" };
	int per = argc > 1 ? atoi(argv[1]) : 200;
	bool brief = argc > 2;
	static struct signal s;

	printf("%-34s %7s %7s %7s %7s   %5s %5s   %5s %5s  %6s %6s\n", "rms error, g", "settle", "last", "mean", "three=", "/last", "/thr.", "wait", "thr.", "2u, %", "told,%");
	for (int m = 0; m < MODELS; m++) {
		struct tally all = { 0 }, restless = { 0 };
		for (size_t l = 0; l < 3; l++) {
			struct tally life = { 0 };
			for (size_t a = 0; a < sizeof steps / sizeof *steps; a++)
				for (size_t r = 0; r < sizeof rates / sizeof *rates; r++) {
					struct tally t = { 0 };
					char name[64];
					random_state = 88172645463325252ull + 1000 * a + 100 * r + 10 * l + (unsigned)m;
					for (int i = 0; i < per; i++) {
						simulate(&s, m, motions[l], steps[a], rates[r]);
						weigh(&s, steps[a], &t);
					}
					snprintf(name, sizeof name, "%s %s %g g %g/s", models[m], lives[l], steps[a], rates[r]);
					if (!brief) row(name, &t);
					add(&life, &t);
				}
			char name[64];
			snprintf(name, sizeof name, "%s, %s, all", models[m], lives[l]);
			row(name, &life);
			add(&all, &life);
			if (l > 0) add(&restless, &life);
		}
		row("restless", &restless);
		row("all", &all);
	}
	return 0;
}

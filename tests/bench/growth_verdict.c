// SPDX-License-Identifier: MIT
/* How often the verdict is wrong, by what the pup really does. */
#include "tests/bench/growth_tables.h"
#include "daemon/litter/curve.h"
#include "daemon/litter/verdict.h"
#include "tests/bench/watchers.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/* What a pup really does, and since when. */
enum truth {
	TRUTH_GAINS_EARLY,
	TRUTH_GAINS_WEEK,
	TRUTH_GAINS,
	TRUTH_STOPPED_HALF_DAY,
	TRUTH_STOPPED_DAY,
	TRUTH_STOPPED_TWO,
	TRUTH_STOPPED,
	TRUTHS
};
static const char *const truths[TRUTHS] = { "gains, days 0 to 2",     "days 2 to 7",    "later",
					    "stopped under 12 h ago", "12 to 24 h ago", "24 to 48 h ago",
					    "over 48 h ago" };

struct count {
	double n, kinds[VERDICT_LOSING + 1];
};

struct said {
	struct count by_truth[TRUTHS];
	struct count thriving, slow; /* of day 2 on: 5 to 7 % a day; less than 2 % */
	double hours;                /* until the next weighing tells, summed, of those that gain */
	double waited,
		told; /* stops: weighed when it was to tell, seen from the weighing before the stop; was told then */
};

static void add(struct count *count, enum verdict_kind kind)
{
	count->n++;
	count->kinds[kind]++;
}

static enum truth truth_of(const struct litters_litter *litter, enum litters_change change, int pup, double day)
{
	double since = day - litter->stopped_day;

	if (since <= 0 || change == LITTERS_NOBODY || (change == LITTERS_ONE && litter->who != pup))
		return day < 2 ? TRUTH_GAINS_EARLY : (day < 7 ? TRUTH_GAINS_WEEK : TRUTH_GAINS);
	if (since < 0.5)
		return TRUTH_STOPPED_HALF_DAY;
	return since < 1 ? TRUTH_STOPPED_DAY : (since < 2 ? TRUTH_STOPPED_TWO : TRUTH_STOPPED);
}

static void add_gaining(struct said *said, double day, double rate, enum verdict_kind kind)
{
	double pct = 100 * (exp(rate) - 1);

	if (day >= 2 && pct >= 5 && pct < 7)
		add(&said->thriving, kind);
	if (day >= 2 && pct < 2)
		add(&said->slow, kind);
}

static void follow(struct said *said, const struct litters_litter *litter, const struct litters_world *world)
{
	static struct growth growth;
	int64_t tell_at_ms[LITTERS_PUPS]; /* seen from the newest weighing before the stop; INT64_MAX: done */
	int64_t step_mg = (int64_t)(world->step_g * 1000);

	watcher_begin(&growth, litter, world);
	for (int i = 0; i < LITTERS_PUPS; i++)
		tell_at_ms[i] = INT64_MAX;
	for (int k = 0; k < LITTERS_ROUNDS; k++) {
		for (int j = 0; j < LITTERS_PUPS; j++) {
			struct growth_reading reading = watcher_reading(litter, world, k, litter->order[k][j]);

			if (litter->weighed[k][litter->order[k][j]]) /* marked ones are part of it */
				(void)growth_take(&growth, (size_t)litter->order[k][j], &reading);
		}
		for (int i = 0; i < LITTERS_PUPS; i++) { /* as it stands when the round is over */
			int64_t at_ms = watcher_ms(litter->day[k][litter->order[k][LITTERS_PUPS - 1]]);
			enum truth truth = truth_of(litter, world->change, i, litter->day[k][i]);
			struct verdict verdict;

			if (!litter->weighed[k][i] || !verdict_of(&growth, (size_t)i, at_ms, step_mg,
								  (int64_t)(litter->birth_g[i] * 1000), &verdict))
				continue;
			add(&said->by_truth[truth], verdict.kind);
			if (truth <= TRUTH_GAINS) {
				add_gaining(said, litter->day[k][i], curve_rate(litter->day[k][i]) + litter->rate[i],
					    verdict.kind);
				said->hours += (double)(verdict.tell_at_ms - watcher_ms(litter->day[k][i])) / 3600e3;
				tell_at_ms[i] = verdict.tell_at_ms;
			} else if (at_ms >= tell_at_ms[i]) {
				said->waited++;
				said->told += verdict.kind == VERDICT_FLAT || verdict.kind == VERDICT_LOSING;
				tell_at_ms[i] = INT64_MAX;
			}
		}
	}
}

static void print_count(const char *what, const struct count *count)
{
	if (count->n < 1)
		return;
	printf("  %-24s", what);
	for (int kind = 0; kind <= VERDICT_LOSING; kind++)
		printf("  %s %5.1f %%", verdict_text((enum verdict_kind)kind), 100 * count->kinds[kind] / count->n);
	printf("  (%.0f)\n", count->n);
}

static void print(const struct said *said, const struct litters_world *world)
{
	static const char *const changes[] = { "nobody stops", "pup", "litter", "litter, from birth" };
	double gaining = 0;

	printf("%s", changes[world->change]);
	if (world->change != LITTERS_NOBODY)
		printf(", %s", world->rate < 0 ? "-3 %/d" : "stall");
	printf(", %.4g g steps, own %.0f %%\n", world->step_g, 100 * world->own);
	for (int truth = 0; truth < TRUTHS; truth++)
		print_count(truths[truth], &said->by_truth[truth]);
	if (world->change == LITTERS_NOBODY) {
		print_count("day 2 on, 5 to 7 %/d", &said->thriving);
		print_count("day 2 on, under 2 %/d", &said->slow);
	}
	for (int truth = 0; truth <= TRUTH_GAINS; truth++)
		gaining += said->by_truth[truth].n;
	if (gaining > 0)
		printf("  the next weighing tells after %.1f h\n", said->hours / gaining);
	if (said->waited > 0)
		printf("  of those weighed then that had stopped, %.0f %% were told\n",
		       100 * said->told / said->waited);
}

void growth_tables_verdict(int litters)
{
	static const double steps_g[] = { 1, 5 };

	printf("\nVerdicts after each weighing, by what the pup really does (%d litters; in brackets how many)\n",
	       litters);
	for (enum litters_change change = LITTERS_NOBODY; change <= LITTERS_BORN; change++)
		for (size_t s = 0; s < sizeof steps_g / sizeof *steps_g; s++)
			for (int own = 1; own <= 2; own++)
				for (int loss = 0; loss < (change == LITTERS_NOBODY ? 1 : 2); loss++) {
					struct litters_world world = { steps_g[s], own * 0.01, loss ? -0.03 : 0,
								       change };
					struct litters_litter litter;
					struct said said = { 0 };

					litters_seed(4);
					for (int l = 0; l < litters; l++) {
						litters_make(&litter, &world);
						follow(&said, &litter, &world);
					}
					print(&said, &world);
				}
}

// SPDX-License-Identifier: MIT
#include "daemon/litter/order.h"

#define DAY_MS (INT64_C(24) * 3600 * 1000)

static int64_t plus(int64_t a, int64_t b)
{
	int64_t sum;

	return __builtin_add_overflow(a, b, &sum) ? INT64_MAX : sum;
}

/* Another clock's few minutes ahead count as now. */
static int64_t given_ms(const struct dose_ask *ask, size_t i)
{
	return ask->given[i].at_ms < ask->now_ms ? ask->given[i].at_ms : ask->now_ms;
}

/* In the 24 hours up to t_ms (>= now); a dose of exactly 24 hours before is out of them. */
static int64_t given_before(const struct dose_ask *ask, int64_t t_ms)
{
	int64_t sum = 0;

	for (size_t i = 0; i < ask->n_given; i++)
		if (ask->given[i].ul > 0 && given_ms(ask, i) > t_ms - DAY_MS)
			sum = plus(sum, ask->given[i].ul);
	return sum;
}

/* One dose more or none of them: what is asked at a time is whether it fits, with this_ul given now before it. */
struct fitting {
	const struct dose_ask *ask;
	int64_t ul, this_ul, most_ul;
};

static bool fits(const struct fitting *f, int64_t t_ms)
{
	int64_t sum = given_before(f->ask, t_ms);

	if (f->ask->now_ms > t_ms - DAY_MS)
		sum = plus(sum, f->this_ul);
	return plus(sum, f->ul) <= f->most_ul;
}

/* The earliest time from from_ms (>= now) on. It can only be that, or 24 hours after a dose. */
static int64_t fits_from(const struct fitting *f, int64_t from_ms)
{
	int64_t best = from_ms + DAY_MS; /* by then they are all out */

	if (fits(f, from_ms))
		return from_ms;
	if (f->this_ul > 0 && f->ask->now_ms + DAY_MS > from_ms && fits(f, f->ask->now_ms + DAY_MS))
		best = f->ask->now_ms + DAY_MS;
	for (size_t i = 0; i < f->ask->n_given; i++) {
		int64_t t = given_ms(f->ask, i) + DAY_MS;

		if (t > from_ms && t < best && fits(f, t))
			best = t;
	}
	return best;
}

static enum dose_outcome judge_order(const struct order *order, const struct dose_ask *ask, struct dose_plan *ret)
{
	enum order_check check = order_check(order);

	if (check != ORDER_FITS) {
		ret->range = order_check_hint(check);
		return DOSE_IMPOSSIBLE;
	}
	if (ask->now_ms < order->from_ms)
		return DOSE_NOT_BEGUN;
	return ask->now_ms >= order->until_ms ? DOSE_ENDED : DOSE_PLANNED;
}

/*
 * Sources conflict: a handbook gives warmed sugar water by mouth while warming (dogbreedstandards.com, reviving); vets
 * nothing by mouth or under the skin until it is warm (Clinician's Brief, Pediatric critical care, part 2;
 * Quist-Rybachuk, PetFeeding proceedings, p. 35). We follow the vets.
 */
static enum dose_outcome judge_pup(const struct dose_ask *ask)
{
	if (ask->warmth == SIGN_CHILLED)
		return DOSE_CHILLED;
	if (ask->warmth != SIGN_WARM && ask->warmth != SIGN_COOL) /* what isn't known to be warm gets nothing */
		return DOSE_WARMTH_UNKNOWN;
	if (ask->mass_mg <= 0 || ask->weighed_ms < ask->now_ms - ORDER_FRESH_MS ||
	    ask->weighed_ms > ask->now_ms + ORDER_AHEAD_MS)
		return DOSE_STALE;
	return ask->doubtful ? DOSE_DOUBTFUL : DOSE_PLANNED;
}

/* What the order comes to at this weight, whether it may be given or not. */
static void fill(const struct order *order, const struct dose_ask *ask, struct dose_plan *ret)
{
	ret->ordered_ul = volume_for(&order->amount, ask->mass_mg);
	ret->ul_per_kg = order_ul_per_kg(&order->amount, ask->mass_mg);
	ret->most_24h_ul = volume_for(&order->most, ask->mass_mg);
	ret->given_24h_ul = given_before(ask, ask->now_ms);
}

static enum dose_outcome judge_amount(const struct order *order, const struct dose_ask *ask, struct dose_plan *ret)
{
	enum dose_outcome outcome = order_range(order, ask->mass_mg, &ret->range);

	return outcome == DOSE_OUTSIDE && ask->overridden ? DOSE_SECOND_LOOK : outcome;
}

/* All fluid of the day with this dose. After the times: what only comes too soon isn't called a slip. */
static enum dose_outcome judge_day(const struct dose_ask *ask, int64_t ul, enum dose_outcome outcome,
				   struct dose_plan *ret)
{
	int64_t sum = plus(plus(ret->given_24h_ul, ul), ask->other_24h_ul > 0 ? ask->other_24h_ul : 0);
	const char *range;
	enum dose_outcome day = order_day_range(sum, ask->mass_mg, &range);

	if (day <= outcome)
		return outcome;
	ret->range = range;
	return day;
}

static enum dose_outcome judge_times(const struct order *order, const struct dose_ask *ask, const struct fitting *f,
				     struct dose_plan *ret)
{
	int64_t due_ms = ask->now_ms;

	for (size_t i = 0; i < ask->n_given; i++) {
		if (ask->given[i].ul <= 0)
			continue;
		/* It was given, and nobody knows when: what comes after it can't be reckoned. */
		if (ask->given[i].at_ms > ask->now_ms + ORDER_AHEAD_MS)
			return DOSE_CLOCK;
		if (given_ms(ask, i) + order->every_ms > due_ms)
			due_ms = given_ms(ask, i) + order->every_ms;
	}
	if (due_ms > ask->now_ms) {
		ret->due_ms = fits_from(f, due_ms);
		return DOSE_NOT_DUE;
	}
	if (!fits(f, ask->now_ms)) {
		ret->due_ms = fits_from(f, ask->now_ms);
		return DOSE_MOST;
	}
	return DOSE_PLANNED;
}

/* Places of ORDER_SITE_UL_PER_KG at most each, rounded up. */
static unsigned sites_of(int64_t ul, int64_t mass_mg)
{
	__int128 top = (__int128)ul * 1000000, site = (__int128)mass_mg * ORDER_SITE_UL_PER_KG;

	return (unsigned)((top + site - 1) / site);
}

static void settle(const struct order *order, const struct dose_ask *ask, struct fitting *f, struct dose_plan *ret)
{
	ret->ul = f->ul;
	ret->sites = order->route == ORDER_UNDER_SKIN ? sites_of(f->ul, ask->mass_mg) : 0;
	f->this_ul = f->ul;
	ret->due_ms = fits_from(f, ask->now_ms + order->every_ms);
}

static bool refuses(enum dose_outcome outcome)
{
	return outcome != DOSE_PLANNED && outcome != DOSE_SECOND_LOOK;
}

enum dose_outcome dose_plan(const struct order *order, const struct dose_ask *ask, struct dose_plan *ret)
{
	struct fitting f = { .ask = ask };
	enum dose_outcome outcome, times;

	*ret = (struct dose_plan){ .cool = ask->warmth == SIGN_COOL, .range = "" };
	outcome = judge_order(order, ask, ret);
	if (outcome == DOSE_IMPOSSIBLE)
		return outcome;
	if (ask->mass_mg > 0)
		fill(order, ask, ret);
	if (!refuses(outcome))
		outcome = judge_pup(ask);
	if (refuses(outcome))
		return outcome;
	f.ul = volume_round_down(ret->ordered_ul, ask->graduation_ul);
	f.most_ul = ret->most_24h_ul;
	outcome = judge_amount(order, ask, ret);
	if (refuses(outcome))
		return outcome;
	times = judge_times(order, ask, &f, ret);
	if (refuses(times))
		return times;
	outcome = judge_day(ask, f.ul, outcome, ret);
	if (refuses(outcome))
		return outcome;
	if (f.ul <= 0)
		return DOSE_TOO_FINE;
	settle(order, ask, &f, ret);
	return outcome;
}

const char *dose_hint(enum dose_outcome outcome)
{
	switch (outcome) {
	case DOSE_PLANNED:
		return "This is what your vet ordered, at today's weight: your vet's word goes first.";
	case DOSE_SECOND_LOOK:
		return "This is unusual: read it back to your vet before you give it.";
	case DOSE_NOT_BEGUN:
		return "The order hasn't begun: wait for its time, or ask your vet.";
	case DOSE_ENDED:
		return "The order has ended: give nothing more of it; call your vet, who may give a new one.";
	case DOSE_STALE:
		return "Weigh it first: a dose goes by a weight of the last 24 hours.";
	case DOSE_DOUBTFUL:
		return "Weigh it again: the newest weight doesn't fit it, or it didn't hold still.";
	case DOSE_WARMTH_UNKNOWN:
		return "A cold pup gets nothing by mouth or under the skin: measure its temperature, or feel its "
		       "mouth and belly, and note it first.";
	case DOSE_CHILLED:
		return "Nothing by mouth or under the skin of a chilled pup: it isn't taken up. Call your vet, and "
		       "warm it slowly, by 1 C (2 F) an hour at most (vetreproduction.com, hypothermia); then measure "
		       "again.";
	case DOSE_CLOCK:
		return "A dose on record lies in the future: this computer's clock was set back, or a time was "
		       "mistyped. Give nothing on its word: put the clock or the record right, and look at your notes "
		       "for when it was.";
	case DOSE_NOT_DUE:
		return "It is too early: the order says how long to wait between doses. Call your vet if it can't "
		       "wait.";
	case DOSE_MOST:
		return "With this dose it would get more in 24 hours than your vet ordered: wait, or call your vet.";
	case DOSE_OUTSIDE:
		return "This amount is outside the range: call your vet and read it back. Only if your vet says the "
		       "same amount again, type: " DOSE_OVERRIDE;
	case DOSE_IMPOSSIBLE:
		return "Give nothing: this looks like a slip (mL/100 g for mL/kg, pounds for kilograms, ounces for "
		       "grams, an hour for a day, a lost point). Call your vet and have the order said anew.";
	case DOSE_TOO_FINE:
		return "Take a syringe with finer marks: the dose is less than one mark of this one. Never round it "
		       "up.";
	}
	return "Ask your vet.";
}

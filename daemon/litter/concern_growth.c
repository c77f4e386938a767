// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_growth.h"
#include "daemon/litter/concern_birth.h"
#include "daemon/litter/concern_change.h"
#include "daemon/litter/concern_drop.h"
#include "daemon/litter/concern_text.h"
#include <math.h>
#include <stdio.h>

/*
 * How sure it must be that an animal, or the litter, stopped gaining: chosen by what tests/bench/growth prints, so that
 * `act` is told falsely less than 0.05 and `vet` less than 0.01 times a pup-week, over growth and gut fill as simulated
 * there, and real ones differ. Ours. What is likelier than not is worth a look, ...
 */
#define MAYBE 0.5
#define LIKELY 0.8        /* ... this is worth doing something, ... */
#define LIKELY_LITTER 0.6 /* (where many pups speak) */
/* ... and calling now wants certainty, and two weighings since it stopped, the newest of them half a day after it or
 * more: one heavy stomach, or two weighings of the same one, don't make a stall. */
#define SURE 0.95
#define SURE_LITTER 0.9
#define CONFIRMED_BY 2
#define CONFIRMED_MS (12 * CONCERN_HOUR_MS)
/* A loss that began in the first day may be what newborns lose (Dog Owner's Home Veterinary Handbook, p. 493), until
 * hour 72: concern_drop.c does the same. */
#define NEWBORN_LOSS_MS (24 * CONCERN_HOUR_MS)
/* Between a time and itself as days of the model. */
#define ROUNDED_MS 1000
/* Below a limit is said at 95 %: normal quantile. */
#define SURELY 1.6448536269514722
/* A loss is one that the model takes for a loss (VERDICT_LOSS_ODDS), and the log shows; or, since a stall at the model's
 * spread explains a slow loss that lasts, one that is nearer to what the model looks for (3 % a day) than to a stall,
 * and more than a stomach holds (about 4 %; Chastant & Mila 2019, Anim Reprod Sci 207:162, fig. 4). Less than that is
 * no gain. Ours. */
#define LOSS_PCT_PER_DAY 1.5
#define LOSS_PCT 4.0
/* Gains a quarter of what was to be expected, or less: "doesn't gain"; ours. */
#define NO_GAIN_SHARE 0.25

static double stopped(const struct growth_state *state)
{
	return state->p_stall + state->p_loss;
}

/* The likeliest time that it stopped; false: there is none. */
static bool since_ms(const struct concern_view *view, const struct growth_state *state, int64_t *ret)
{
	if (!isfinite(state->since_day)) /* NAN */
		return false;
	*ret = view->litter->growth->zero_ms + (int64_t)(state->since_day * (double)CONCERN_DAY_MS);
	return true;
}

static int64_t lasts_ms(const struct growth_state *state, int64_t since)
{
	int64_t ret;

	return __builtin_sub_overflow(state->newest_ms, since, &ret) ? 0 : ret;
}

/* ---- one that stopped ---- */

/* Told of the litter, when it is likelier the litter's than its own. One alone is the litter. */
static bool is_own(const struct concern_view *view)
{
	return view->peers->twice < 2 || view->state.p_litter < stopped(&view->state) / 2;
}

/* Whether it was weighed so often since, twice at most: those that fit. */
static bool is_confirmed(const struct concern_view *view, int64_t since)
{
	size_t marked = view->state.wild ? 1 : 0;

	return view->n >= CONFIRMED_BY + marked &&
	       view->animal->readings[view->n - CONFIRMED_BY - marked].at_ms > since + ROUNDED_MS;
}

/* What is told of one that stopped. */
struct told {
	enum concern_level level;
	bool loses; /* the model believes in a loss, and the log shows one */
	bool seen;  /* the log shows what the model means; then: */
	struct concern_change change;
};

static enum concern_level level_of(const struct concern_view *view, int64_t since)
{
	double p = stopped(&view->state);

	if (p >= SURE && is_confirmed(view, since) && lasts_ms(&view->state, since) >= CONFIRMED_MS)
		return CONCERN_VET;
	return p >= LIKELY ? CONCERN_ACT : CONCERN_LOOK;
}

/* change: NULL, the log doesn't show it. */
static bool loses(const struct growth_state *state, const struct concern_change *change)
{
	double days = change ? (double)change->ms / (double)CONCERN_DAY_MS : 0;

	if (change && change->pct <= -fmax(LOSS_PCT, LOSS_PCT_PER_DAY * days))
		return true;
	return state->p_loss > VERDICT_LOSS_ODDS * state->p_stall && (!change || change->pct < 0);
}

static bool has_stopped(const struct concern_view *view, int64_t *ret_since_ms, struct told *ret)
{
	int64_t since;

	if (!view->known || !(stopped(&view->state) >= MAYBE) || !is_own(view) || !since_ms(view, &view->state, &since))
		return false;
	*ret = (struct told){ .level = level_of(view, since) };
	ret->seen = concern_change_of(view, since, &ret->change);
	ret->loses = loses(&view->state, ret->seen ? &ret->change : NULL);
	*ret_since_ms = since;
	return true;
}

/* In words that don't contradict the numbers beside them. */
static const char *verb(const struct told *told)
{
	double expected;

	if (told->level == CONCERN_LOOK)
		return told->loses ? "may be losing" : "may have stopped gaining";
	if (told->loses)
		return "loses";
	if (!told->seen)
		return "doesn't gain";
	expected = concern_change_expected_pct(&told->change);
	if (told->change.pct <= NO_GAIN_SHARE * expected)
		return "doesn't gain";
	return told->change.pct < expected ? "gains too little" : "seems to have stopped gaining";
}

/* "304 g, +2 g (+0.7 %) in 26 h; its littermates +8.9 %"; for the litter "+0.7 % in 26 h (8 pups); ..." */
static void say_change(const struct told *told, char *ret, size_t size)
{
	const struct concern_change *change = &told->change;

	if (!told->seen)
		(void)snprintf(ret, size, "by all its weighings together");
	else if (change->to_mg > 0)
		(void)snprintf(ret, size, "%s, %s (%s) in %s; %s %s", concern_text_mass(change->to_mg).text,
			       concern_text_change(change->to_mg - change->from_mg).text,
			       concern_text_change_pct(change->pct).text, concern_text_span(change->ms).text,
			       change->others > 0 ? "its littermates" : "published growth",
			       concern_text_change_pct(concern_change_expected_pct(change)).text);
	else
		(void)snprintf(ret, size, "%s in %s (%zu weighed); published growth %s",
			       concern_text_change_pct(change->pct).text, concern_text_span(change->ms).text, change->n,
			       concern_text_change_pct(change->published_pct).text);
}

/* What is sure is that it stopped, which "loses" and "doesn't gain" say; other words must be told so. */
static void say_stopped(const struct told *told, const char *who, double p, const char *doubt, struct concern *ret)
{
	char change[150];
	bool too_little = told->level != CONCERN_LOOK && told->seen && told->change.pct > 0;

	say_change(told, change, sizeof change);
	ret->level = told->level;
	(void)snprintf(
		ret->text, sizeof ret->text, "%s%s: %s; %s%s%s", who, verb(told), change, concern_text_sure(p).text,
		told->level == CONCERN_LOOK ? ": weigh it again" : (too_little ? " that it has stopped gaining" : ""),
		doubt);
}

/* By the model. */
static bool losing(const struct concern_view *view, struct concern *ret)
{
	int64_t age = concern_rules_age_ms(view, view->now_ms), since, from;
	struct told told;

	if ((age >= 0 && age < CONCERN_FED_MS) || age > CONCERN_PEDIATRIC_MS || !has_stopped(view, &since, &told) ||
	    !told.loses)
		return false;
	from = concern_rules_age_ms(view, since);
	if (age >= 0 && age < CONCERN_NO_GAIN_MS && from < NEWBORN_LOSS_MS)
		return false;
	say_stopped(&told, "", stopped(&view->state), concern_rules_doubt(view), ret);
	return true;
}

static void say_drop(const struct concern_view *view, const struct concern_drop *drop, struct concern *ret)
{
	const struct told told = { .level = drop->level, .seen = true, .change = drop->change };
	char change[150];

	say_change(&told, change, sizeof change);
	ret->level = drop->level;
	(void)snprintf(ret->text, sizeof ret->text, "drops: %s%s%s", change,
		       drop->level == CONCERN_VET ? "" : ": weigh it again now", concern_rules_doubt(view));
}

/* By the model. */
static bool no_gain(const struct concern_view *view, struct concern *ret)
{
	int64_t age = concern_rules_age_ms(view, view->now_ms), since;
	struct told told;

	if ((age >= 0 && age < CONCERN_NO_GAIN_MS) || age > CONCERN_PEDIATRIC_MS || !has_stopped(view, &since, &told) ||
	    told.loses)
		return false;
	say_stopped(&told, "", stopped(&view->state), concern_rules_doubt(view), ret);
	return true;
}

/* One of the three is told: the gravest, and of one level the model's, which knows since when. */
bool concern_growth_losing(const struct concern_view *view, struct concern *ret)
{
	struct concern other = { .level = CONCERN_LOOK };
	bool by_model = losing(view, ret);
	struct concern_drop drop;

	if (!concern_drop_of(view, &drop) || (by_model && ret->level >= drop.level) ||
	    (no_gain(view, &other) && other.level >= drop.level))
		return by_model;
	say_drop(view, &drop, ret);
	return true;
}

bool concern_growth_no_gain_24h(const struct concern_view *view, struct concern *ret)
{
	struct concern_drop drop;

	return no_gain(view, ret) && (!concern_drop_of(view, &drop) || drop.level <= ret->level);
}

/* ---- the daily gain ---- */

static bool is_surely_below(double rate, double u_rate, double low_pct)
{
	return rate + SURELY * u_rate < log1p(low_pct / 100);
}

/* Its rate can be judged: known, and it goes on. */
static bool goes_on(const struct concern_view *view)
{
	return view->known && !view->slow && !(stopped(&view->state) >= MAYBE) && view->state.readings >= 3;
}

/* One that stopped while nobody weighed goes on as it is to the model, which learns its mass anew: below this it
 * doesn't gain, whatever it did before. A day; ours. */
#define HARDLY_PCT 0.5

bool concern_growth_below_band(const struct concern_view *view, struct concern *ret)
{
	struct concern_band band;
	double pct;

	if (!goes_on(view) || !concern_rules_band(view, concern_rules_age_ms(view, view->now_ms), &band) ||
	    !is_surely_below(view->state.rate, view->state.u_rate, band.low_pct))
		return false;
	pct = concern_rules_pct_a_day(view->state.rate);
	ret->level = pct < HARDLY_PCT ? CONCERN_ACT : CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text,
		       "%s%.1f %%/day, give or take %.1f; published %s: %.3g to %.3g %%/day%s",
		       pct < HARDLY_PCT ? "hardly gains, if at all: " : "gains ", pct, 100 * view->state.u_rate,
		       band.when, band.low_pct, band.high_pct, concern_rules_doubt(view));
	return true;
}

/* Published: 2 g a day for each kg of the adult mass at least, in weeks 5 to 10. */
#define ADULT_G_PER_KG 2.0
#define ADULT_TO_MS (70 * CONCERN_DAY_MS)

bool concern_growth_adult_rate(const struct concern_view *view, struct concern *ret)
{
	int64_t age = concern_rules_age_ms(view, view->now_ms);
	double least = ADULT_G_PER_KG * (double)view->litter->adult_mg / 1e6, gain;

	if (!goes_on(view) || view->litter->adult_mg <= 0 || age < concern_rules_size(view)->adult_rate_ms ||
	    age >= ADULT_TO_MS)
		return false;
	gain = view->verdict.gain_g_per_day;
	if (!(gain + SURELY * view->verdict.u_gain_g_per_day < least))
		return false;
	ret->level = CONCERN_LOOK;
	(void)snprintf(
		ret->text, sizeof ret->text,
		"%s%.0f g a day, give or take %.0f; published: at least %.0f g (2 g for each kg of an adult mass of "
		"%.3g kg)%s",
		gain < 0.5 ? "hardly gains, if at all: " : "gains ", fabs(gain) < 0.5 ? 0.0 : gain,
		view->verdict.u_gain_g_per_day, least, (double)view->litter->adult_mg / 1e6, concern_rules_doubt(view));
	return true;
}

/* ---- littermates ---- */

/* Of those it grew up with, itself included; returns how many. */
static size_t believed(const struct concern_view *view, double *ret_mean_g)
{
	double sum = 0;
	size_t n = 0;

	for (size_t i = 0; i < view->litter->n && i < GROWTH_ANIMALS; i++) {
		if (!(view->peers->mass_g[i] > 0) || !concern_rules_is_peer(view, i))
			continue;
		sum += view->peers->mass_g[i];
		n++;
	}
	*ret_mean_g = n > 0 ? sum / (double)n : 0;
	return n;
}

/* So much further behind than at birth within the first two weeks is falling behind, and not only small. Later healthy
 * littermates, at a point a day apart, come to lie as far from each other. Ours, by tests/bench/growth. */
#define FELL_BEHIND_PCT 15

bool concern_growth_behind(const struct concern_view *view, struct concern *ret)
{
	double pct = concern_rules_limits(&view->litter->limits).behind_pct, mean, below, at_birth;
	int64_t age = concern_rules_age_ms(view, view->now_ms);
	char then[48] = "";

	if (!view->known || view->n == 0 || believed(view, &mean) < 3 || age > CONCERN_PEDIATRIC_MS)
		return false;
	below = 100 * (1 - view->verdict.mass_g / mean);
	if (!(below >= pct))
		return false;
	ret->level = CONCERN_LOOK;
	if (concern_birth_below_mean(view, &at_birth)) {
		if (below >= at_birth + FELL_BEHIND_PCT && age < CONCERN_NEONATE_MS)
			ret->level = CONCERN_ACT;
		if (fabs(at_birth) < 0.5)
			(void)snprintf(then, sizeof then, "; at birth it wasn't");
		else
			(void)snprintf(then, sizeof then, "; at birth it was %.0f %% %s", fabs(at_birth),
				       at_birth < 0 ? "above" : "below");
	}
	(void)snprintf(ret->text, sizeof ret->text, "%s: %.0f %% below the litter's mean of %s (limit: %.4g %%)%s%s",
		       concern_text_believed(view->verdict.mass_g).text, below, concern_text_believed(mean).text, pct,
		       then, concern_rules_doubt(view));
	return true;
}

/* ---- the litter as a whole ---- */

static bool litter_stopped(const struct concern_view *view, const struct growth_state *state, struct concern *ret)
{
	double p = stopped(state);
	struct told told = { .level = p >= LIKELY_LITTER ? CONCERN_ACT : CONCERN_LOOK };
	int64_t since;

	if (!(p >= MAYBE) || !since_ms(view, state, &since))
		return false;
	/* No gain of all, in their first weeks, is the dam's milk until something else is found. */
	if (p >= SURE_LITTER && lasts_ms(state, since) >= CONFIRMED_MS)
		told.level = CONCERN_VET;
	told.seen = concern_change_of_litter(view, since, state->newest_ms, &told.change);
	told.loses = loses(state, told.seen ? &told.change : NULL);
	say_stopped(&told, "the whole litter ", p, "", ret);
	return true;
}

bool concern_growth_litter_slow(const struct concern_view *view, struct concern *ret)
{
	int64_t age = concern_rules_age_ms(view, view->now_ms);
	struct growth_state state;
	struct concern_band band;

	if ((age >= 0 && age < CONCERN_NO_GAIN_MS) || age > CONCERN_PEDIATRIC_MS || view->peers->twice < 2 ||
	    !growth_litter(view->litter->growth, view->now_ms, &state))
		return false;
	if (litter_stopped(view, &state, ret))
		return true;
	if (!concern_rules_band(view, age, &band) || !is_surely_below(state.rate, state.u_rate, band.low_pct))
		return false;
	ret->level = CONCERN_ACT;
	(void)snprintf(ret->text, sizeof ret->text,
		       "the whole litter gains %.1f %%/day, give or take %.1f; published %s: %.3g to %.3g %%/day",
		       concern_rules_pct_a_day(state.rate), 100 * state.u_rate, band.when, band.low_pct, band.high_pct);
	return true;
}

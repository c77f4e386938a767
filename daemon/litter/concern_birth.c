// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_birth.h"
#include "daemon/litter/concern_text.h"
#include <math.h>
#include <stdio.h>

/* Day 2 is what lies within twelve hours of it; ours, so that a litter that is weighed twice a day has one in it. */
#define DAY_2_FROM_MS (36 * CONCERN_HOUR_MS)
#define DAY_2_TO_MS (60 * CONCERN_HOUR_MS)
/* Published: to day 21 (Mila 2015; Mugnier 2020 counts deaths to day 21 too). */
#define RISK_TO_MS (21 * CONCERN_DAY_MS)
/* A reading that is to answer for 72 h: from six hours before it; ours. */
#define NO_GAIN_READING_MS (66 * CONCERN_HOUR_MS)

/*
 * Lost pct per cent or more. In integers, since the limit itself counts: 350 g to 315 g is exactly -10 %, but
 * (315.0 / 350 - 1) * 100 is -9.999999999999998. Thousandths of a per cent are the finest limit.
 */
static bool has_lost(int64_t from_mg, int64_t to_mg, double pct)
{
	return (from_mg - to_mg) * 100000 >= (int64_t)llround(pct * 1000) * from_mg;
}

static bool is_wild(const struct concern_view *view)
{
	return view->known && view->state.wild;
}

/*
 * The reading that a loss is judged by. One that the model marked may be another pup's: of it and the one before, the
 * lighter counts, so that a mix-up doesn't hide a loss. NULL: none of this age, or the birth mass or age isn't known.
 */
static const struct concern_reading *judged(const struct concern_view *view, int64_t from_ms, int64_t to_ms)
{
	const struct concern_reading *ret = NULL;
	size_t looks = is_wild(view) ? 2 : 1;

	if (view->birth_mg == 0 || concern_rules_age_ms(view, view->now_ms) > CONCERN_PEDIATRIC_MS)
		return NULL;
	for (size_t i = view->n; i > 0 && looks > 0; i--, looks--) {
		const struct concern_reading *reading = &view->animal->readings[i - 1];
		int64_t age = concern_rules_age_ms(view, reading->at_ms);
		if (age < from_ms || age > to_ms || !concern_rules_is_mass(reading->mass_mg))
			continue;
		if (!ret || reading->mass_mg < ret->mass_mg)
			ret = reading;
	}
	return ret;
}

/* ---- losses ---- */

/* The reading nearest to 48 h. The newest, when it is marked, doesn't stand for one that was lighter. */
static const struct concern_reading *of_day_2(const struct concern_view *view)
{
	const struct concern_reading *ret = NULL;
	int64_t best = INT64_MAX;

	for (size_t i = 0; i < view->n; i++) {
		const struct concern_reading *reading = &view->animal->readings[i];
		int64_t age = concern_rules_age_ms(view, reading->at_ms);
		int64_t apart = age > CONCERN_FED_MS ? age - CONCERN_FED_MS : CONCERN_FED_MS - age;
		bool marked = is_wild(view) && i + 1 == view->n;
		if (age < DAY_2_FROM_MS || age > DAY_2_TO_MS || !concern_rules_is_mass(reading->mass_mg) ||
		    apart > best || (marked && ret && ret->mass_mg < reading->mass_mg))
			continue;
		best = apart;
		ret = reading;
	}
	return ret;
}

/* 335 g at hour 48: 4.3 % below its birth weight of 350 g (limit ...) */
static void say_lost(const struct concern_view *view, const struct concern_reading *reading, const char *when,
		     double limit_pct, struct concern *ret)
{
	(void)snprintf(ret->text, sizeof ret->text, "%s %s: %.1f %% below its birth weight of %s (limit%s: %.4g %%)%s",
		       concern_text_mass(reading->mass_mg).text,
		       concern_text_age(concern_rules_age_ms(view, reading->at_ms)).text,
		       -concern_rules_change_pct(view->birth_mg, reading->mass_mg),
		       concern_text_mass(view->birth_mg).text, when, limit_pct, concern_rules_doubt(view));
}

bool concern_birth_early_loss(const struct concern_view *view, struct concern *ret)
{
	double pct = concern_rules_limits(&view->litter->limits).early_loss_pct;
	const struct concern_reading *day_2, *last = concern_rules_newest(view);

	if (view->birth_mg == 0 || concern_rules_age_ms(view, view->now_ms) > RISK_TO_MS)
		return false;
	day_2 = of_day_2(view);
	if (!day_2 || !has_lost(view->birth_mg, day_2->mass_mg, pct))
		return false;
	if (last != day_2 && last->mass_mg > view->birth_mg && !is_wild(view))
		return false; /* it has made up for it */
	ret->level = CONCERN_LOOK;
	say_lost(view, day_2, " on day 2", pct, ret);
	return true;
}

bool concern_birth_tenth_lost(const struct concern_view *view, struct concern *ret)
{
	const struct concern_reading *reading = judged(view, 0, CONCERN_NO_GAIN_MS);

	if (!reading || !has_lost(view->birth_mg, reading->mass_mg, 10))
		return false;
	ret->level = CONCERN_VET;
	say_lost(view, reading, "", 10, ret);
	return true;
}

bool concern_birth_no_gain_72h(const struct concern_view *view, struct concern *ret)
{
	const struct concern_reading *reading = judged(view, NO_GAIN_READING_MS, CONCERN_PEDIATRIC_MS);

	if (!reading || concern_rules_age_ms(view, view->now_ms) < CONCERN_NO_GAIN_MS ||
	    reading->mass_mg > view->birth_mg)
		return false;
	ret->level = CONCERN_VET;
	(void)snprintf(ret->text, sizeof ret->text, "%s %s: not above its birth weight of %s (%s) by hour 72%s",
		       concern_text_mass(reading->mass_mg).text,
		       concern_text_age(concern_rules_age_ms(view, reading->at_ms)).text,
		       concern_text_mass(view->birth_mg).text,
		       concern_text_change_pct(concern_rules_change_pct(view->birth_mg, reading->mass_mg)).text,
		       concern_rules_doubt(view));
	return true;
}

/* ---- the birth weight itself ---- */

static size_t births(const struct concern_view *view, int64_t *ret_sum_mg)
{
	const struct concern_litter *litter = view->litter;
	size_t n = 0;

	*ret_sum_mg = 0;
	for (size_t i = 0; i < litter->n; i++) {
		if (!concern_rules_is_mass(litter->animals[i].birth_mg) || !concern_rules_is_peer(view, i))
			continue;
		*ret_sum_mg += litter->animals[i].birth_mg;
		n++;
	}
	return n;
}

/* In integers, like a loss: mass <= (100 - pct) % of sum / n. Fewer than three are no litter to compare with; ours. */
static bool is_below_mean(int64_t mass_mg, int64_t sum_mg, size_t n, double pct)
{
	int64_t limit, own;

	if (n < 3 || __builtin_mul_overflow(sum_mg, 100000 - (int64_t)llround(pct * 1000), &limit) ||
	    __builtin_mul_overflow(mass_mg, (int64_t)n * 100000, &own))
		return false;
	return own <= limit;
}

bool concern_birth_below_mean(const struct concern_view *view, double *ret_pct)
{
	int64_t sum;
	size_t n = births(view, &sum);

	if (view->birth_mg == 0 || n < 3)
		return false;
	*ret_pct = -concern_rules_change_pct(sum / (int64_t)n, view->birth_mg);
	return true;
}

static bool has_doubled(const struct concern_view *view)
{
	const struct concern_reading *last = concern_rules_newest(view);

	return last && last->mass_mg >= 2 * view->birth_mg && !is_wild(view);
}

bool concern_birth_low_birth(const struct concern_view *view, struct concern *ret)
{
	double pct = concern_rules_limits(&view->litter->limits).behind_pct;
	const struct concern_size *size = concern_rules_size(view);
	int64_t age = concern_rules_age_ms(view, view->now_ms), sum;
	size_t n = births(view, &sum);

	if (view->birth_mg == 0 || age > RISK_TO_MS || has_doubled(view))
		return false;
	/* Half of the deaths of the first weeks fall into the first three days (facts, 7): then it wants doing. */
	ret->level = age <= CONCERN_NO_GAIN_MS ? CONCERN_ACT : CONCERN_LOOK;
	if (view->birth_mg < size->very_low_mg)
		(void)snprintf(ret->text, sizeof ret->text, "%s at birth: very low for %s (limit: %s)",
			       concern_text_mass(view->birth_mg).text, size->dog,
			       concern_text_mass(size->very_low_mg).text);
	else if (is_below_mean(view->birth_mg, sum, n, pct))
		(void)snprintf(ret->text, sizeof ret->text,
			       "%s at birth: %.0f %% below the litter's mean of %s (limit: %.4g %%)",
			       concern_text_mass(view->birth_mg).text,
			       -concern_rules_change_pct(sum / (int64_t)n, view->birth_mg),
			       concern_text_believed((double)(sum / (int64_t)n) / 1000).text, pct);
	else
		return false;
	return true;
}

/* ---- time ---- */

/* Only its words depend on the model: one that gains as published is small or was slow at first, and is told so. */
static void say_gain(const struct concern_view *view, char *ret, size_t size)
{
	struct concern_band band;
	double pct = concern_rules_pct_a_day(view->state.rate);

	*ret = '\0';
	if (view->known && concern_rules_band(view, concern_rules_age_ms(view, view->now_ms), &band))
		(void)snprintf(ret, size, "; now %s/day, %s the published %.3g to %.3g %%/day",
			       concern_text_change_pct(pct).text,
			       pct < band.low_pct ? "below" : (pct > band.high_pct ? "above" : "steady and within"),
			       band.low_pct, band.high_pct);
}

bool concern_birth_late_doubling(const struct concern_view *view, struct concern *ret)
{
	const struct concern_size *size = concern_rules_size(view);
	const struct concern_reading *reading = judged(view, size->doubling_ms, CONCERN_PEDIATRIC_MS);
	char gain[160];

	if (!reading || reading->mass_mg >= 2 * view->birth_mg)
		return false;
	ret->level = CONCERN_LOOK;
	say_gain(view, gain, sizeof gain);
	(void)snprintf(ret->text, sizeof ret->text,
		       "%s %s: %.2f times its birth weight of %s, not doubled by day %d%s%s",
		       concern_text_mass(reading->mass_mg).text,
		       concern_text_age(concern_rules_age_ms(view, reading->at_ms)).text,
		       floor(100 * (double)reading->mass_mg / (double)view->birth_mg) / 100,
		       concern_text_mass(view->birth_mg).text, (int)(size->doubling_ms / CONCERN_DAY_MS), gain,
		       concern_rules_doubt(view));
	return true;
}

bool concern_birth_overdue(const struct concern_view *view, struct concern *ret)
{
	double hours = concern_rules_limits(&view->litter->limits).overdue_h;
	const struct concern_reading *last = concern_rules_newest(view);
	int64_t age = concern_rules_age_ms(view, view->now_ms), since;

	if (age < 0 || age >= CONCERN_NEONATE_MS ||
	    __builtin_sub_overflow(view->now_ms, last && last->at_ms > view->born_ms ? last->at_ms : view->born_ms,
				   &since) ||
	    since < (int64_t)llround(hours * (double)CONCERN_HOUR_MS))
		return false;
	ret->level = CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text, "not weighed for %d h (limit in the first two weeks: %.4g h)",
		       (int)(since / CONCERN_HOUR_MS), hours);
	return true;
}

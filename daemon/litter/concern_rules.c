// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_rules.h"
#include "daemon/weigh/quantity.h"
#include <math.h>
#include <stdio.h>

#define HOUR_MS INT64_C(3600000)
#define DAY_MS (24 * HOUR_MS)
#define DAYS(ms) ((double)(ms) / (double)DAY_MS)

/* Day 2 is what lies within twelve hours of it; ours, so that a litter that is weighed twice a day has one in it. */
#define DAY_2_FROM_MS (36 * HOUR_MS)
#define DAY_2_TO_MS (60 * HOUR_MS)
/* Published: to day 21 (Mila 2015; Mugnier 2020 counts deaths to day 21 too). */
#define RISK_TO_MS (21 * DAY_MS)
/* A reading that is to answer for 72 h: from six hours before it; ours. */
#define NO_GAIN_MS (72 * HOUR_MS)
#define NO_GAIN_READING_MS (66 * HOUR_MS)
/* A loss in the first two days may be what newborns lose (Dog Owner's Home Veterinary Handbook, p. 493). */
#define FED_MS (48 * HOUR_MS)
#define NEWBORN_LOSS_MS (24 * HOUR_MS)
/* Neonate: to 2 weeks (Lee & Cohn 2017, Macintire 2008); pediatric: to 12 weeks. */
#define NEONATE_MS (14 * DAY_MS)
#define PEDIATRIC_MS (84 * DAY_MS)
/* Calling now wants more certainty than the verdict itself; ours. */
#define SURE 0.9
#define LOSING_LASTS_MS DAY_MS
#define NO_GAIN_LASTS_MS (2 * DAY_MS)
/* Below a limit is said at 95 %: normal quantile. */
#define SURELY 1.6448536269514722
/* Masses beyond are none; keeps integer products inside their type. */
#define MASS_MAX_MG INT64_C(1000000000000)

/* ---- small helpers ---- */

struct concern_limits concern_rules_limits(const struct concern_limits *own)
{
	return (struct concern_limits){
		.early_loss_pct = own->early_loss_pct > 0 ? own->early_loss_pct : 4,
		.band_low_pct = own->band_low_pct > 0 ? own->band_low_pct : 5,
		.overdue_h = own->overdue_h > 0 ? own->overdue_h : 26,
		.behind_pct = own->behind_pct > 0 ? own->behind_pct : 25,
	};
}

/* Age at a time; -1 when it isn't known, or before birth. */
static int64_t age_ms(const struct concern_view *view, int64_t at_ms)
{
	int64_t age;

	if (view->born_ms == INT64_MIN || __builtin_sub_overflow(at_ms, view->born_ms, &age))
		return -1;
	return age < 0 ? -1 : age;
}

static bool is_mass(int64_t mg)
{
	return mg > 0 && mg <= MASS_MAX_MG;
}

/*
 * Lost pct per cent or more. In integers, since the limit itself counts: 350 g to 315 g is exactly -10 %, but
 * (315.0 / 350 - 1) * 100 is -9.999999999999998. Thousandths of a per cent are the finest limit.
 */
static bool has_lost(int64_t from_mg, int64_t to_mg, double pct)
{
	return (from_mg - to_mg) * 100000 >= (int64_t)llround(pct * 1000) * from_mg;
}

static double change_pct(int64_t from_mg, int64_t to_mg)
{
	return 100 * ((double)to_mg - (double)from_mg) / (double)from_mg;
}

struct mass_text {
	char text[32];
};

static struct mass_text mass(int64_t mg)
{
	struct mass_text ret;

	(void)quantity_format(ret.text, sizeof ret.text, mg, 1000, QUANTITY_GRAMS); /* 32 bytes hold any */
	return ret;
}

static struct mass_text mass_g(double g)
{
	return mass(isfinite(g) && fabs(g) < 1e9 ? (int64_t)llround(g) * 1000 : 0);
}

static const struct concern_reading *newest(const struct concern_view *view)
{
	return view->n > 0 ? &view->animal->readings[view->n - 1] : NULL;
}

/*
 * The reading that a loss is judged by. One that the model marked may be another pup's: of it and the one before, the
 * lighter counts, so that a mix-up doesn't hide a loss. NULL: none of this age, or the birth mass or age isn't known.
 */
static const struct concern_reading *judged(const struct concern_view *view, int64_t from_ms, int64_t to_ms)
{
	const struct concern_reading *ret = NULL;
	size_t looks = view->known && view->state.wild ? 2 : 1;

	if (view->birth_mg == 0)
		return NULL;
	for (size_t i = view->n; i > 0 && looks > 0; i--, looks--) {
		const struct concern_reading *reading = &view->animal->readings[i - 1];
		int64_t age = age_ms(view, reading->at_ms);
		if (age < from_ms || age > to_ms || !is_mass(reading->mass_mg))
			continue;
		if (!ret || reading->mass_mg < ret->mass_mg)
			ret = reading;
	}
	return ret;
}

static const char *doubt(const struct concern_view *view)
{
	return view->known && view->state.wild ? "; its newest reading doesn't fit and may be another's" : "";
}

/* ---- of birth weight and the first days ---- */

static bool early_loss(const struct concern_view *view, struct concern *ret)
{
	double pct = concern_rules_limits(&view->litter->limits).early_loss_pct;
	const struct concern_reading *day_2 = NULL, *last = newest(view);
	int64_t best = INT64_MAX, age;

	if (view->birth_mg == 0 || age_ms(view, view->now_ms) > RISK_TO_MS)
		return false;
	for (size_t i = 0; i < view->n; i++) {
		const struct concern_reading *reading = &view->animal->readings[i];
		age = age_ms(view, reading->at_ms);
		if (age < DAY_2_FROM_MS || age > DAY_2_TO_MS || !is_mass(reading->mass_mg))
			continue;
		age = age > FED_MS ? age - FED_MS : FED_MS - age;
		if (age > best)
			continue;
		best = age;
		day_2 = reading;
	}
	if (!day_2 || !has_lost(view->birth_mg, day_2->mass_mg, pct))
		return false;
	if (last != day_2 && last->mass_mg > view->birth_mg && !view->state.wild)
		return false; /* it has made up for it */
	ret->level = CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text,
		       "%s at hour %.0f: %+.1f %% of its birth weight of %s, limit -%.4g %% by day 2%s",
		       mass(day_2->mass_mg).text, 24 * DAYS(age_ms(view, day_2->at_ms)),
		       change_pct(view->birth_mg, day_2->mass_mg), mass(view->birth_mg).text, pct, doubt(view));
	return true;
}

static bool tenth_lost(const struct concern_view *view, struct concern *ret)
{
	const struct concern_reading *reading = judged(view, 0, NO_GAIN_MS);

	if (!reading || !has_lost(view->birth_mg, reading->mass_mg, 10))
		return false;
	ret->level = CONCERN_VET;
	(void)snprintf(ret->text, sizeof ret->text,
		       "%s at hour %.0f: %+.1f %% of its birth weight of %s, limit -10 %%%s",
		       mass(reading->mass_mg).text, 24 * DAYS(age_ms(view, reading->at_ms)),
		       change_pct(view->birth_mg, reading->mass_mg), mass(view->birth_mg).text, doubt(view));
	return true;
}

static bool no_gain_72h(const struct concern_view *view, struct concern *ret)
{
	const struct concern_reading *reading = judged(view, NO_GAIN_READING_MS, INT64_MAX);

	if (!reading || age_ms(view, view->now_ms) < NO_GAIN_MS || reading->mass_mg > view->birth_mg)
		return false;
	ret->level = CONCERN_VET;
	(void)snprintf(ret->text, sizeof ret->text,
		       "%s at hour %.0f (%+.1f %%), not above its birth weight of %s by hour 72%s",
		       mass(reading->mass_mg).text, 24 * DAYS(age_ms(view, reading->at_ms)),
		       change_pct(view->birth_mg, reading->mass_mg), mass(view->birth_mg).text, doubt(view));
	return true;
}

/* Size by adult mass: toy to 5 kg, small below 10, medium below 25, large below 40, giant (Alonge 2023, Animals
 * 13:3397). */
struct size_class {
	int64_t below_mg;    /* adult mass */
	int64_t very_low_mg; /* at birth, below it */
	int64_t doubling_ms;
	int64_t adult_rate_ms; /* the gain by adult mass counts from this age on */
	const char *name;
};

/*
 * Very low birth weight: Mugnier 2020 (table 2) gives it by breed; of the breeds of a class we take the one with the
 * most pups: Maltese 115.5, Shih Tzu 128.5, Cocker Spaniel 142.5, Labrador 248, Rottweiler 345 g. Which class a breed
 * belongs to is common knowledge. Doubling: 10 to 12 days (Dog Owner's Home Veterinary Handbook, p. 492) is the latest
 * of the handbooks for pups at the dam; 14 d the latest published; healthy Great Danes take 13.3 d on average (their
 * curve y = 606.28 e^(0.0523 x)), so that a giant gets a fifth more; the choice is ours. Gain by adult mass: printed
 * for weeks 5 to 10. For a large breed it is impossible in the first weeks (facts: 15 to 30 % a day), and about what
 * healthy ones reach at three weeks; so there it counts from week five on. Ours.
 */
static const struct size_class classes[] = {
	{ 5000001, 115500, 12 * DAY_MS, 21 * DAY_MS, "to 5 kg" },
	{ 10000000, 128500, 12 * DAY_MS, 21 * DAY_MS, "of 5 to 10 kg" },
	{ 25000000, 142500, 12 * DAY_MS, 21 * DAY_MS, "of 10 to 25 kg" },
	{ 40000000, 248000, 14 * DAY_MS, 28 * DAY_MS, "of 25 to 40 kg" },
	{ INT64_MAX, 345000, 16 * DAY_MS, 28 * DAY_MS, "of 40 kg or more" },
};
/* When the adult mass isn't known: no limit at birth, and a heavy newborn counts as a giant's (Great Danes have 621 +-
 * 94 g). */
#define GIANT_BIRTH_MG INT64_C(500000)
static const struct size_class unknown_class = { 0, 0, 14 * DAY_MS, 28 * DAY_MS, "of unknown size" };
static const struct size_class unknown_giant = { 0, 0, 16 * DAY_MS, 28 * DAY_MS, "of unknown size" };

static const struct size_class *class_of(const struct concern_view *view)
{
	const struct size_class *at = classes;

	if (view->litter->adult_mg <= 0)
		return view->birth_mg >= GIANT_BIRTH_MG ? &unknown_giant : &unknown_class;
	while (view->litter->adult_mg >= at->below_mg && at + 1 < classes + sizeof classes / sizeof classes[0])
		at++;
	return at;
}

static size_t births(const struct concern_litter *litter, int64_t *ret_sum_mg)
{
	size_t n = 0;

	*ret_sum_mg = 0;
	for (size_t i = 0; i < litter->n; i++) {
		if (!is_mass(litter->animals[i].birth_mg))
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

static bool low_birth(const struct concern_view *view, struct concern *ret)
{
	double pct = concern_rules_limits(&view->litter->limits).behind_pct;
	const struct size_class *size = class_of(view);
	const struct concern_reading *last = newest(view);
	int64_t age = age_ms(view, view->now_ms), sum;
	size_t n = births(view->litter, &sum);

	if (view->birth_mg == 0 || age > RISK_TO_MS || (last && last->mass_mg >= 2 * view->birth_mg))
		return false;
	/* Half of the deaths of the first weeks fall into the first three days (facts, 7): then it wants doing. */
	ret->level = age <= NO_GAIN_MS ? CONCERN_ACT : CONCERN_LOOK;
	if (view->birth_mg < size->very_low_mg)
		(void)snprintf(ret->text, sizeof ret->text, "%s at birth: very low, below %s, for a dog %s",
			       mass(view->birth_mg).text, mass(size->very_low_mg).text, size->name);
	else if (is_below_mean(view->birth_mg, sum, n, pct))
		(void)snprintf(ret->text, sizeof ret->text,
			       "%s at birth: %.0f %% below the litter's mean of %s, limit %.4g %%",
			       mass(view->birth_mg).text, -change_pct(sum / (int64_t)n, view->birth_mg),
			       mass(sum / (int64_t)n).text, pct);
	else
		return false;
	return true;
}

static bool late_doubling(const struct concern_view *view, struct concern *ret)
{
	const struct size_class *size = class_of(view);
	const struct concern_reading *reading = judged(view, size->doubling_ms, PEDIATRIC_MS);

	if (!reading || reading->mass_mg >= 2 * view->birth_mg)
		return false;
	ret->level = CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text,
		       "%s on day %.1f: %.2f times its birth weight of %s, not doubled by day %.0f (a dog %s)%s",
		       mass(reading->mass_mg).text, DAYS(age_ms(view, reading->at_ms)),
		       (double)reading->mass_mg / (double)view->birth_mg, mass(view->birth_mg).text,
		       DAYS(size->doubling_ms), size->name, doubt(view));
	return true;
}

/* ---- by the model ---- */

static double pct_a_day(double rate)
{
	return 100 * (exp(rate) - 1);
}

/* What it shares with the litter is told once, of the litter. */
static bool is_own(const struct concern_view *view)
{
	return !view->slow || view->state.p_litter < (view->state.p_stall + view->state.p_loss) / 2;
}

/* How long it has been so at its newest reading; 0 when that isn't known. */
static int64_t lasts_ms(const struct concern_view *view)
{
	int64_t since = view->verdict.since_ms, ret;

	if (since == INT64_MIN || __builtin_sub_overflow(view->state.newest_ms, since, &ret))
		return 0;
	return ret > 0 ? ret : 0;
}

static bool losing(const struct concern_view *view, struct concern *ret)
{
	int64_t age = age_ms(view, view->now_ms), since;
	bool neonate = age >= 0 && age < NEONATE_MS;

	if (!view->known || view->verdict.kind != VERDICT_LOSING || !is_own(view) || (age >= 0 && age < FED_MS) ||
	    age > PEDIATRIC_MS)
		return false;
	since = view->verdict.since_ms == INT64_MIN ? -1 : age_ms(view, view->verdict.since_ms);
	if (age >= 0 && age < NO_GAIN_MS && since < NEWBORN_LOSS_MS)
		return false;
	ret->level = (neonate && view->verdict.p_stopped >= SURE) || lasts_ms(view) >= LOSING_LASTS_MS ? CONCERN_VET
												       : CONCERN_ACT;
	(void)snprintf(ret->text, sizeof ret->text,
		       "loses: %+.1f %%/day (%+.0f g), for %.1f days by its newest reading, now %s; %.0f %% sure%s",
		       view->verdict.gain_pct_per_day, view->verdict.gain_g_per_day, DAYS(lasts_ms(view)),
		       mass_g(view->verdict.mass_g).text, 100 * view->verdict.p_stopped, doubt(view));
	return true;
}

static bool no_gain_24h(const struct concern_view *view, struct concern *ret)
{
	int64_t age = age_ms(view, view->now_ms);

	if (!view->known || view->verdict.kind != VERDICT_FLAT || !is_own(view) || (age >= 0 && age < NO_GAIN_MS) ||
	    age > PEDIATRIC_MS)
		return false;
	ret->level = lasts_ms(view) >= NO_GAIN_LASTS_MS ? CONCERN_VET : CONCERN_ACT;
	(void)snprintf(
		ret->text, sizeof ret->text,
		"doesn't gain: %+.1f %%/day (%+.0f g), for %.1f days by its newest reading, now %s; %.0f %% sure%s",
		view->verdict.gain_pct_per_day, view->verdict.gain_g_per_day, DAYS(lasts_ms(view)),
		mass_g(view->verdict.mass_g).text, 100 * view->verdict.p_stopped, doubt(view));
	return true;
}

/* 5 to 10 % in week 1, 3.5 to 6 % in weeks 2 to 4; the litter's own low end moves both. */
struct band {
	double low_pct, high_pct;
	const char *when;
};

static bool band_of(const struct concern_view *view, int64_t age, struct band *ret)
{
	double low = concern_rules_limits(&view->litter->limits).band_low_pct;

	if (age < NO_GAIN_MS || age >= 28 * DAY_MS)
		return false;
	*ret = age < 7 * DAY_MS ? (struct band){ low, 10, "in week 1" }
				: (struct band){ low * 0.7, 6, "in weeks 2 to 4" };
	return true;
}

static bool is_surely_below(double rate, double u_rate, double low_pct)
{
	return rate + SURELY * u_rate < log1p(low_pct / 100);
}

static bool below_band(const struct concern_view *view, struct concern *ret)
{
	struct band band;

	if (!view->known || view->slow || view->verdict.kind == VERDICT_FLAT || view->verdict.kind == VERDICT_LOSING ||
	    view->state.readings < 3 || !band_of(view, age_ms(view, view->now_ms), &band) ||
	    !is_surely_below(view->state.rate, view->state.u_rate, band.low_pct))
		return false;
	ret->level = CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text,
		       "gains %.1f %%/day, give or take %.1f; published %s: %.3g to %.3g %%/day%s",
		       pct_a_day(view->state.rate), 100 * view->state.u_rate, band.when, band.low_pct, band.high_pct,
		       doubt(view));
	return true;
}

/* Believed masses now, and their mean. */
static size_t believed(const struct concern_view *view, double *ret_mean_g)
{
	double sum = 0;
	size_t n = 0;

	for (size_t i = 0; i < view->litter->n; i++) {
		struct growth_state state;
		if (!growth_at(view->litter->growth, view->litter->animals[i].index, view->now_ms, &state))
			continue;
		sum += exp(state.ln_g);
		n++;
	}
	*ret_mean_g = n > 0 ? sum / (double)n : 0;
	return n;
}

/* So much further behind than at birth is falling behind, and not only small; ours. */
#define FELL_BEHIND_PCT 10

static bool behind(const struct concern_view *view, struct concern *ret)
{
	double pct = concern_rules_limits(&view->litter->limits).behind_pct, mean, below, at_birth = NAN;
	int64_t sum;
	size_t n;

	if (!view->known || believed(view, &mean) < 3 || age_ms(view, view->now_ms) > PEDIATRIC_MS || view->n == 0)
		return false;
	below = 100 * (1 - view->verdict.mass_g / mean);
	if (!(below >= pct))
		return false;
	n = births(view->litter, &sum);
	if (view->birth_mg > 0 && n >= 3)
		at_birth = -change_pct(sum / (int64_t)n, view->birth_mg);
	ret->level = below >= at_birth + FELL_BEHIND_PCT ? CONCERN_ACT : CONCERN_LOOK;
	if (isnan(at_birth))
		(void)snprintf(ret->text, sizeof ret->text,
			       "%s: %.0f %% below the litter's mean of %s, limit %.4g %%%s",
			       mass_g(view->verdict.mass_g).text, below, mass_g(mean).text, pct, doubt(view));
	else
		(void)snprintf(ret->text, sizeof ret->text,
			       "%s: %.0f %% below the litter's mean of %s, limit %.4g %%; at birth %.0f %% %s it%s",
			       mass_g(view->verdict.mass_g).text, below, mass_g(mean).text, pct, fabs(at_birth),
			       at_birth < 0 ? "above" : "below", doubt(view));
	return true;
}

/* Published: 2 g a day for each kg of the adult mass at least, in weeks 5 to 10. */
#define ADULT_G_PER_KG 2.0
#define ADULT_TO_MS (70 * DAY_MS)

static bool adult_rate(const struct concern_view *view, struct concern *ret)
{
	int64_t age = age_ms(view, view->now_ms);
	double least = ADULT_G_PER_KG * (double)view->litter->adult_mg / 1e6;

	if (!view->known || view->litter->adult_mg <= 0 || age < class_of(view)->adult_rate_ms || age >= ADULT_TO_MS ||
	    view->slow || view->verdict.kind == VERDICT_FLAT || view->verdict.kind == VERDICT_LOSING ||
	    view->state.readings < 3 ||
	    !(view->verdict.gain_g_per_day + SURELY * view->verdict.u_gain_g_per_day < least))
		return false;
	ret->level = CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text,
		       "gains %.0f g a day, give or take %.0f; published: at least %.0f g, 2 g for each kg of an adult "
		       "mass of %.3g kg%s",
		       view->verdict.gain_g_per_day, view->verdict.u_gain_g_per_day, least,
		       (double)view->litter->adult_mg / 1e6, doubt(view));
	return true;
}

/* ---- of time, and of the litter ---- */

static bool overdue(const struct concern_view *view, struct concern *ret)
{
	double hours = concern_rules_limits(&view->litter->limits).overdue_h;
	const struct concern_reading *last = newest(view);
	int64_t age = age_ms(view, view->now_ms), since;

	if (age < 0 || age >= NEONATE_MS ||
	    __builtin_sub_overflow(view->now_ms, last && last->at_ms > view->born_ms ? last->at_ms : view->born_ms,
				   &since) ||
	    since < (int64_t)llround(hours * (double)HOUR_MS))
		return false;
	ret->level = CONCERN_LOOK;
	(void)snprintf(ret->text, sizeof ret->text, "not weighed for %.0f h, limit %.4g h in the first two weeks",
		       floor(24 * DAYS(since)), hours);
	return true;
}

static int64_t litter_born_ms(const struct concern_litter *litter)
{
	return litter->growth->born_ms;
}

static size_t known_to_model(const struct concern_litter *litter, int64_t now_ms)
{
	struct growth_state state;
	size_t n = 0;

	for (size_t i = 0; i < litter->n; i++)
		n += growth_at(litter->growth, litter->animals[i].index, now_ms, &state) && state.readings >= 2;
	return n;
}

static bool litter_slow(const struct concern_view *view, struct concern *ret)
{
	struct growth_state state;
	struct band band;
	int64_t age = age_ms(view, view->now_ms);
	double stopped, days;

	if ((age >= 0 && age < NO_GAIN_MS) || age > PEDIATRIC_MS || known_to_model(view->litter, view->now_ms) < 2 ||
	    !growth_litter(view->litter->growth, view->now_ms, &state))
		return false;
	stopped = state.p_stall + state.p_loss;
	if (stopped >= 0.5) {
		days = isnan(state.since_day)
			       ? 0
			       : fmax(0, DAYS(state.newest_ms - view->litter->growth->zero_ms) - state.since_day);
		/* A day without gain of all, in their first two weeks, is the dam's milk until something else is found.
		 */
		ret->level =
			stopped >= SURE && days * (double)DAY_MS >= (double)LOSING_LASTS_MS ? CONCERN_VET : CONCERN_ACT;
		(void)snprintf(ret->text, sizeof ret->text,
			       "the whole litter %s: %+.1f %%/day for %.1f days; %.0f %% sure",
			       state.p_loss > state.p_stall ? "loses" : "doesn't gain", pct_a_day(state.rate), days,
			       100 * stopped);
		return true;
	}
	if (!band_of(view, age, &band) || !is_surely_below(state.rate, state.u_rate, band.low_pct))
		return false;
	ret->level = CONCERN_ACT;
	(void)snprintf(ret->text, sizeof ret->text,
		       "the whole litter gains %.1f %%/day, give or take %.1f; published %s: %.3g to %.3g %%/day",
		       pct_a_day(state.rate), 100 * state.u_rate, band.when, band.low_pct, band.high_pct);
	return true;
}

/* ---- the table ---- */

static const struct {
	bool (*holds)(const struct concern_view *view, struct concern *ret);
	bool of_litter;
} rules[CONCERN_RULES] = {
	[CONCERN_EARLY_LOSS] = { early_loss, false },       [CONCERN_TENTH_LOST] = { tenth_lost, false },
	[CONCERN_NO_GAIN_72H] = { no_gain_72h, false },     [CONCERN_LOSING] = { losing, false },
	[CONCERN_NO_GAIN_24H] = { no_gain_24h, false },     [CONCERN_BELOW_BAND] = { below_band, false },
	[CONCERN_LATE_DOUBLING] = { late_doubling, false }, [CONCERN_BEHIND] = { behind, false },
	[CONCERN_LOW_BIRTH] = { low_birth, false },         [CONCERN_OVERDUE] = { overdue, false },
	[CONCERN_LITTER_SLOW] = { litter_slow, true },      [CONCERN_ADULT_RATE] = { adult_rate, false },
};

void concern_rules_view(const struct concern_litter *litter, size_t i, int64_t now_ms, struct concern_view *ret)
{
	const struct concern_animal *animal = i < litter->n ? &litter->animals[i] : NULL;

	*ret = (struct concern_view){
		.litter = litter, .now_ms = now_ms, .i = i, .animal = animal, .born_ms = litter_born_ms(litter)
	};
	if (!animal)
		return;
	if (animal->born_ms != INT64_MIN)
		ret->born_ms = animal->born_ms;
	ret->birth_mg = is_mass(animal->birth_mg) ? animal->birth_mg : 0;
	while (ret->n < animal->n && animal->readings[ret->n].at_ms <= now_ms)
		ret->n++;
	ret->known = growth_at(litter->growth, animal->index, now_ms, &ret->state) &&
		     verdict_of(litter->growth, animal->index, now_ms, 0, ret->birth_mg, &ret->verdict);
}

bool concern_rules_holds(enum concern_rule rule, const struct concern_view *view, struct concern *ret)
{
	return rules[rule].of_litter == !view->animal && rules[rule].holds(view, ret);
}

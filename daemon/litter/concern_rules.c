// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_birth.h"
#include "daemon/litter/concern_growth.h"
#include "daemon/litter/concern_sign.h"
#include <math.h>

/* Masses beyond are none; keeps integer products inside their type. */
#define MASS_MAX_MG INT64_C(1000000000000)
/* A whelping takes a day at most; one born so much earlier or later grew up with others. Ours. */
#define PEER_MS (2 * CONCERN_DAY_MS)

struct concern_limits concern_rules_limits(const struct concern_limits *own)
{
	return (struct concern_limits){
		.early_loss_pct = own->early_loss_pct > 0 ? own->early_loss_pct : 4,
		.band_low_pct = own->band_low_pct > 0 ? own->band_low_pct : 5,
		.overdue_h = own->overdue_h > 0 ? own->overdue_h : 26,
		.behind_pct = own->behind_pct > 0 ? own->behind_pct : 25,
	};
}

/* ---- what the rules share ---- */

bool concern_rules_is_mass(int64_t mg)
{
	return mg > 0 && mg <= MASS_MAX_MG;
}

int64_t concern_rules_age_ms(const struct concern_view *view, int64_t at_ms)
{
	int64_t age;

	if (view->born_ms == INT64_MIN || __builtin_sub_overflow(at_ms, view->born_ms, &age))
		return -1;
	return age < 0 ? -1 : age;
}

double concern_rules_change_pct(int64_t from_mg, int64_t to_mg)
{
	return 100 * ((double)to_mg - (double)from_mg) / (double)from_mg;
}

const struct concern_reading *concern_rules_newest(const struct concern_view *view)
{
	return view->n > 0 ? &view->animal->readings[view->n - 1] : NULL;
}

const char *concern_rules_doubt(const struct concern_view *view)
{
	return view->known && view->state.wild ? "; its newest reading doesn't fit and may be another's" : "";
}

static int64_t born_ms_of(const struct concern_litter *litter, const struct concern_animal *animal)
{
	return animal && animal->born_ms != INT64_MIN ? animal->born_ms : litter->growth->born_ms;
}

bool concern_rules_is_peer(const struct concern_view *view, size_t other)
{
	int64_t born_ms = born_ms_of(view->litter, &view->litter->animals[other]), apart;

	if (born_ms == INT64_MIN || view->born_ms == INT64_MIN)
		return true;
	return !__builtin_sub_overflow(born_ms, view->born_ms, &apart) && apart <= PEER_MS && apart >= -PEER_MS;
}

/* 5 to 10 % in week 1, 3.5 to 6 % in weeks 2 to 4 (Small Animal Clinical Nutrition, 5th ed., p. 292); the litter's own
 * low end moves both. */
bool concern_rules_band(const struct concern_view *view, int64_t age_ms, struct concern_band *ret)
{
	double low = concern_rules_limits(&view->litter->limits).band_low_pct;

	if (age_ms < CONCERN_NO_GAIN_MS || age_ms >= 28 * CONCERN_DAY_MS)
		return false;
	*ret = age_ms < 7 * CONCERN_DAY_MS ? (struct concern_band){ low, 10, "in week 1" }
					   : (struct concern_band){ low * 0.7, 6, "in weeks 2 to 4" };
	return true;
}

double concern_rules_pct_a_day(double rate)
{
	return 100 * (exp(rate) - 1);
}

/*
 * By adult mass: toy to 5 kg, small below 10, medium below 25, large below 40, giant (Alonge 2023, Animals 13:3397).
 * Very low at birth: Mugnier 2020, BMC Vet Res 16:345, table 2 (CART), of each size the breed with the most pups:
 * Maltese 115.5, Shih Tzu 128.5, Cocker 142.5, Labrador 248, Rottweiler 345 g. Which class a breed belongs to is common
 * knowledge. Doubling: 14 d is the latest that is published (facts, 2: 7 to 14, of which 10 to 12 in the Dog Owner's
 * Home Veterinary Handbook, p. 492); one that gains 5 %, the low end of the daily band, has doubled by then. Healthy
 * Great Danes take 13.3 d on average (their curve y = 606.28 e^(0.0523 x)), so that a giant gets a fifth more, which is
 * ours. Gain by adult mass: printed for weeks 5 to 10. For a large breed it is impossible in the first weeks (facts: 15
 * to 30 % a day), and about what healthy ones reach at three weeks; so there it counts from week five on. Ours.
 */
static const struct concern_size sizes[] = {
	{ 5000001, 115500, 14 * CONCERN_DAY_MS, 21 * CONCERN_DAY_MS, "a dog of up to 5 kg" },
	{ 10000000, 128500, 14 * CONCERN_DAY_MS, 21 * CONCERN_DAY_MS, "a dog of 5 to 10 kg" },
	{ 25000000, 142500, 14 * CONCERN_DAY_MS, 21 * CONCERN_DAY_MS, "a dog of 10 to 25 kg" },
	{ 40000000, 248000, 14 * CONCERN_DAY_MS, 28 * CONCERN_DAY_MS, "a dog of 25 to 40 kg" },
	{ INT64_MAX, 345000, 16 * CONCERN_DAY_MS, 28 * CONCERN_DAY_MS, "a dog of 40 kg or more" },
};
/* When the adult mass isn't known: no limit at birth, and a heavy newborn counts as a giant's (Great Danes have 621 +-
 * 94 g). */
#define GIANT_BIRTH_MG INT64_C(500000)
static const struct concern_size unknown = { 0, 0, 14 * CONCERN_DAY_MS, 28 * CONCERN_DAY_MS, "a dog of unknown size" };
static const struct concern_size unknown_giant = { 0, 0, 16 * CONCERN_DAY_MS, 28 * CONCERN_DAY_MS,
						   "a dog of unknown size, heavy at birth" };

const struct concern_size *concern_rules_size(const struct concern_view *view)
{
	const struct concern_size *at = sizes;

	if (view->litter->adult_mg <= 0)
		return view->birth_mg >= GIANT_BIRTH_MG ? &unknown_giant : &unknown;
	while (view->litter->adult_mg >= at->below_mg && at + 1 < sizes + sizeof sizes / sizeof sizes[0])
		at++;
	return at;
}

/* ---- the rules ---- */

static const struct {
	bool (*holds)(const struct concern_view *view, struct concern *ret);
	bool of_litter;
} rules[CONCERN_CHILLED] = {
	[CONCERN_EARLY_LOSS] = { concern_birth_early_loss, false },
	[CONCERN_TENTH_LOST] = { concern_birth_tenth_lost, false },
	[CONCERN_NO_GAIN_72H] = { concern_birth_no_gain_72h, false },
	[CONCERN_LOSING] = { concern_growth_losing, false },
	[CONCERN_NO_GAIN_24H] = { concern_growth_no_gain_24h, false },
	[CONCERN_BELOW_BAND] = { concern_growth_below_band, false },
	[CONCERN_LATE_DOUBLING] = { concern_birth_late_doubling, false },
	[CONCERN_BEHIND] = { concern_growth_behind, false },
	[CONCERN_LOW_BIRTH] = { concern_birth_low_birth, false },
	[CONCERN_OVERDUE] = { concern_birth_overdue, false },
	[CONCERN_LITTER_SLOW] = { concern_growth_litter_slow, true },
	[CONCERN_ADULT_RATE] = { concern_growth_adult_rate, false },
};

void concern_rules_peers(const struct concern_litter *litter, int64_t now_ms, struct concern_peers *ret)
{
	*ret = (struct concern_peers){ .twice = 0 };
	for (size_t i = 0; i < litter->n && i < GROWTH_ANIMALS; i++) {
		struct growth_state state;
		if (!growth_at(litter->growth, litter->animals[i].index, now_ms, &state))
			continue;
		ret->mass_g[i] = exp(state.ln_g);
		ret->twice += state.readings >= 2;
	}
}

void concern_rules_view(const struct concern_litter *litter, const struct concern_peers *peers, size_t i,
			int64_t now_ms, struct concern_view *ret)
{
	const struct concern_animal *animal = i < litter->n ? &litter->animals[i] : NULL;

	*ret = (struct concern_view){ .litter = litter,
				      .peers = peers,
				      .now_ms = now_ms,
				      .i = i,
				      .animal = animal,
				      .born_ms = born_ms_of(litter, animal) };
	if (!animal)
		return;
	ret->birth_mg = concern_rules_is_mass(animal->birth_mg) ? animal->birth_mg : 0;
	while (ret->n < animal->n && animal->readings[ret->n].at_ms <= now_ms)
		ret->n++;
	ret->known = growth_at(litter->growth, animal->index, now_ms, &ret->state) &&
		     verdict_of(litter->growth, animal->index, now_ms, 0, ret->birth_mg, &ret->verdict);
}

bool concern_rules_holds(enum concern_rule rule, const struct concern_view *view, struct concern *ret)
{
	if (concern_sign_is(rule))
		return concern_sign_holds(rule, view, ret);
	return rules[rule].of_litter == !view->animal && rules[rule].holds(view, ret);
}

// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_drop.h"
#include "daemon/litter/drop.h"

/* As for `losing`: what newborns lose in their first day isn't held against them before hour 72. */
#define NEWBORN_MS (24 * CONCERN_HOUR_MS)

static double surely_below_pct(const struct concern_reading *before, const struct concern_reading *now)
{
	return drop_surely_pct(before->mass_mg, before->u_mg, now->mass_mg, now->u_mg);
}

/* What came before the newest, in its window. */
struct before {
	const struct concern_reading *last;    /* the one before it */
	const struct concern_reading *highest; /* one may have been another pup's ... */
	const struct concern_reading *second;  /* ... two hardly. NULL: there is one at most */
};

static bool counts(const struct concern_view *view, const struct concern_reading *reading,
		   const struct concern_reading *newest)
{
	int64_t age = concern_rules_age_ms(view, newest->at_ms);

	if (!concern_rules_is_mass(reading->mass_mg) || !drop_is_comparable(reading->at_ms, newest->at_ms))
		return false;
	return age < 0 || age >= CONCERN_NO_GAIN_MS || concern_rules_age_ms(view, reading->at_ms) >= NEWBORN_MS;
}

static struct before before_of(const struct concern_view *view, const struct concern_reading *newest)
{
	struct before ret = { NULL, NULL, NULL };

	for (size_t i = 0; i < view->n; i++) {
		const struct concern_reading *reading = &view->animal->readings[i];

		if (!counts(view, reading, newest))
			continue;
		ret.last = reading;
		if (!ret.highest || reading->mass_mg > ret.highest->mass_mg) {
			ret.second = ret.highest;
			ret.highest = reading;
		} else if (!ret.second || reading->mass_mg > ret.second->mass_mg) {
			ret.second = reading;
		}
	}
	return ret;
}

/* The one that it was weighed as just before the newest, whenever that was: a second opinion on a loss. Of three or
 * more. */
static bool is_confirmed(const struct concern_view *view, const struct concern_reading *high, double pct)
{
	const struct concern_reading *one = &view->animal->readings[view->n - 2];

	return one != high && concern_rules_is_mass(one->mass_mg) && surely_below_pct(high, one) >= pct;
}

/* The reading that the loss is told from; NULL: there is no loss. */
static const struct concern_reading *judge(const struct concern_view *view, const struct concern_reading *newest,
					   enum concern_level *ret)
{
	const struct drop_limits *limit = drop_limits(concern_rules_age_ms(view, newest->at_ms));
	struct before before = before_of(view, newest);
	double pct = before.second ? surely_below_pct(before.second, newest) : -1;
	double step = before.last ? surely_below_pct(before.last, newest) : -1;

	if (before.second && pct >= limit->act) {
		*ret = pct >= limit->vet && is_confirmed(view, before.second, limit->act) ? CONCERN_VET : CONCERN_ACT;
		return before.second;
	}
	if (!before.last || step < limit->step)
		return NULL;
	*ret = step >= limit->big_step ? CONCERN_ACT : CONCERN_LOOK;
	return before.last;
}

bool concern_drop_of(const struct concern_view *view, struct concern_drop *ret)
{
	const struct concern_reading *newest = view->n > 0 ? &view->animal->readings[view->n - 1] : NULL, *high;
	int64_t age = concern_rules_age_ms(view, view->now_ms);

	if (!newest || !concern_rules_is_mass(newest->mass_mg) || (age >= 0 && age < CONCERN_FED_MS) ||
	    age > CONCERN_PEDIATRIC_MS)
		return false;
	high = judge(view, newest, &ret->level);
	if (!high)
		return false;
	concern_change_between(view, high, newest, &ret->change);
	return true;
}

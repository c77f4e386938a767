// SPDX-License-Identifier: MIT
#include "daemon/litter/order.h"
#include "daemon/litter/feeding.h"

#define UL_BY_MASS INT64_C(1000000) /* microlitres of one animal by milligrams, to microlitres per kilogram */

static bool is_blank(const char *text)
{
	while (text && (*text == ' ' || *text == '\t'))
		text++;
	return !text || !*text;
}

static bool by_animal(const struct volume_rate *rate)
{
	return rate->basis == VOLUME_PER_ANIMAL;
}

/* Microlitres per kilogram as a fraction, so that exactly the limit is decided as such. */
struct per_kg {
	__int128 top;
	int64_t bottom;
};

/* mass_mg > 0 where the rate is by animal. */
static struct per_kg per_kg(const struct volume_rate *rate, int64_t mass_mg)
{
	switch (rate->basis) {
	case VOLUME_PER_ANIMAL:
		break;
	case VOLUME_PER_KG:
		return (struct per_kg){ rate->ul, 1 };
	case VOLUME_PER_100G:
		return (struct per_kg){ (__int128)rate->ul * 10, 1 };
	}
	return (struct per_kg){ (__int128)rate->ul * UL_BY_MASS, mass_mg };
}

static bool is_over(const struct per_kg *amount, int64_t limit)
{
	return amount->top > (__int128)limit * amount->bottom;
}

static bool is_under(const struct per_kg *amount, int64_t limit)
{
	return amount->top < (__int128)limit * amount->bottom;
}

static bool most_is_below(const struct order *order)
{
	/* By animal both, the mass makes no difference. */
	struct per_kg amount = per_kg(&order->amount, 1), most = per_kg(&order->most, 1);

	return most.top < amount.top;
}

enum order_check order_check(const struct order *order)
{
	if (is_blank(order->what))
		return ORDER_NO_WHAT;
	if (is_blank(order->vet))
		return ORDER_NO_VET;
	if (order->amount.ul <= 0 || order->most.ul <= 0)
		return ORDER_NO_AMOUNT;
	if (order->until_ms <= order->from_ms ||
	    (uint64_t)order->until_ms - (uint64_t)order->from_ms > (uint64_t)ORDER_LONGEST_MS)
		return ORDER_BAD_TIMES;
	if (order->every_ms < ORDER_SHORTEST_MS || order->every_ms > ORDER_RAREST_MS)
		return ORDER_BAD_EVERY;
	if (by_animal(&order->amount) != by_animal(&order->most))
		return ORDER_BASES;
	return most_is_below(order) ? ORDER_MOST_BELOW : ORDER_FITS;
}

const char *order_check_hint(enum order_check check)
{
	switch (check) {
	case ORDER_FITS:
		return "nothing is missing from this order";
	case ORDER_NO_WHAT:
		return "say what was ordered, in your vet's words";
	case ORDER_NO_VET:
		return "say which vet ordered it; without a vet's order nothing is planned";
	case ORDER_NO_AMOUNT:
		return "say the amount of a dose and the most in 24 hours, each above zero, as your vet said them";
	case ORDER_BAD_TIMES:
		return "an order ends after it begins, and after 14 days at the latest: ask your vet until when, and "
		       "for a new order after that";
	case ORDER_BAD_EVERY:
		return "say how often: doses lie half an hour to seven days apart; ask your vet if it was meant "
		       "otherwise";
	case ORDER_BASES:
		return "say the amount and the most in 24 hours alike, both by weight (mL/kg, mL/100 g) or both for "
		       "the animal (mL); ask your vet rather than convert";
	case ORDER_MOST_BELOW:
		return "the most in 24 hours is less than one dose: read both back to your vet";
	}
	return "read the order back to your vet";
}

#define GOES_FIRST " Your vet's word goes first."
static const char skin_range[] = "Under the skin, a dose: 5 to 20 mL/kg is taken as plain; 1 to 5 and 20 to 45 are "
				 "read back to the vet first; 45 to 60 need the vet's word once more; below 1 and "
				 "above 60 count as a slip. These limits are our own: published are 10 to 20 mL/kg in "
				 "one place for dogs in general (Washington State University, vetmed.wsu.edu, fluids "
				 "at home), and nothing for newborn pups was found." GOES_FIRST;
static const char mouth_range[] =
	"By mouth, at one time: up to 40 mL/kg is taken as plain (the stomach of a pup: "
	"Chastant & Mila 2019, Anim Reprod Sci 207:162); to 50 it is read back to the vet "
	"first (Quist-Rybachuk, PetFeeding proceedings, p. 35); more counts as a slip." GOES_FIRST;
static const char day_range[] =
	"All fluid in 24 hours: up to 180 mL/kg is taken as plain (published for newborns: 120 to 180, "
	"Quist-Rybachuk, PetFeeding proceedings, p. 35, citing Macintire 2008 and Hoskins); to 300 it is read back to "
	"the vet first; more counts as a slip (that limit is our own)." GOES_FIRST;
static const char medicine_range[] = "A medicine: there is no published range here to hold it against, so read what "
				     "and how much back to your vet; only the volume is checked." GOES_FIRST;

static enum dose_outcome judge_skin(const struct per_kg *amount, enum order_kind kind)
{
	if (is_over(amount, ORDER_SKIN_MOST))
		return DOSE_IMPOSSIBLE;
	if (is_over(amount, ORDER_SKIN_LOOK_TO))
		return DOSE_OUTSIDE;
	if (is_over(amount, ORDER_SKIN_PLAIN_TO))
		return DOSE_SECOND_LOOK;
	if (kind == ORDER_MEDICINE) /* a drop may be a dose */
		return DOSE_PLANNED;
	if (is_under(amount, ORDER_SKIN_LEAST))
		return DOSE_IMPOSSIBLE;
	return is_under(amount, ORDER_SKIN_PLAIN_FROM) ? DOSE_SECOND_LOOK : DOSE_PLANNED;
}

static enum dose_outcome judge_mouth(const struct per_kg *amount)
{
	if (is_over(amount, FEEDING_STOMACH_STOP_UL_PER_KG))
		return DOSE_IMPOSSIBLE;
	return is_over(amount, FEEDING_STOMACH_UL_PER_KG) ? DOSE_SECOND_LOOK : DOSE_PLANNED;
}

static enum dose_outcome judge_day(const struct per_kg *amount)
{
	if (is_over(amount, ORDER_DAY_MOST))
		return DOSE_IMPOSSIBLE;
	return is_over(amount, ORDER_DAY_PLAIN_TO) ? DOSE_SECOND_LOOK : DOSE_PLANNED;
}

/* What is worse replaces what is there; the outcomes judged here are listed from mild to bad. */
static void worsen(enum dose_outcome other, const char *range, enum dose_outcome *outcome, const char **ret_range)
{
	if (other > *outcome) {
		*outcome = other;
		*ret_range = range;
	}
}

enum dose_outcome order_range(const struct order *order, int64_t mass_mg, const char **ret_range)
{
	enum dose_outcome outcome = DOSE_PLANNED;
	bool skin = order->route == ORDER_UNDER_SKIN;
	struct per_kg amount, most;

	*ret_range = skin ? skin_range : mouth_range;
	if (mass_mg <= 0 && (by_animal(&order->amount) || by_animal(&order->most)))
		return DOSE_STALE;
	amount = per_kg(&order->amount, mass_mg);
	most = per_kg(&order->most, mass_mg);
	worsen(skin ? judge_skin(&amount, order->kind) : judge_mouth(&amount), *ret_range, &outcome, ret_range);
	worsen(judge_day(&most), day_range, &outcome, ret_range);
	if (order->kind == ORDER_MEDICINE)
		worsen(DOSE_SECOND_LOOK, medicine_range, &outcome, ret_range);
	return outcome;
}

enum dose_outcome order_day_range(int64_t ul, int64_t mass_mg, const char **ret_range)
{
	struct per_kg sum = { (__int128)ul * UL_BY_MASS, mass_mg };

	*ret_range = day_range;
	return judge_day(&sum);
}

int64_t order_ul_per_kg(const struct volume_rate *rate, int64_t mass_mg)
{
	struct per_kg amount = per_kg(rate, mass_mg);
	__int128 whole = amount.top / amount.bottom;

	return whole > INT64_MAX ? INT64_MAX : (int64_t)whole;
}

const char *order_range_hint(enum dose_outcome outcome)
{
	if (outcome == DOSE_OUTSIDE)
		return "It is outside the range: read it back to your vet now. It is kept as it was said; each dose of "
		       "it is refused until you type that your vet said this amount again.";
	return dose_hint(outcome);
}

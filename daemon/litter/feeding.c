// SPDX-License-Identifier: MIT
#include "daemon/litter/feeding.h"
#include "daemon/weigh/root.h"
#include <string.h>

#define WEEK_MS (INT64_C(7) * 24 * 3600 * 1000)
#define MG_PER_KG INT64_C(1000000)
#define LB_IN_10UG INT64_C(45359237) /* 1 lb = 453.59237 g exactly, in hundredths of a milligram */

#define HANDBOOK "Dog Owner's Home Veterinary Handbook, p. 499"
/* Age terms of vets: neonate, weeks 1 and 2 (Lee & Cohn 2017; Macintire 2008). */
#define NEONATE "22 to 26 kcal/100 g for newborns: dvm360, Initially treating fading puppies, 2005"
#define PUPPIES "110 kcal/lb for puppies: happydogvideo.com/orphan-puppies, a book's text"

static const struct feeding_need needs[FEEDING_WEEKS] = {
	{ 60, 132, 220, 260, 6, "week 1", "60 kcal/lb: " HANDBOOK, NEONATE },
	{ 70, 154, 220, 260, 4, "week 2", "70 kcal/lb: " HANDBOOK, NEONATE },
	{ 80, 176, 242, 242, 4, "week 3", "80 kcal/lb: " HANDBOOK, PUPPIES },
	{ 90, 198, 242, 242, 3, "week 4", "90 kcal/lb: " HANDBOOK, PUPPIES },
};

bool feeding_need(int64_t age_ms, struct feeding_need *ret)
{
	if (age_ms < 0 || age_ms >= FEEDING_WEEKS * WEEK_MS)
		return false;
	*ret = needs[age_ms / WEEK_MS];
	return true;
}

/* Energy a day as kcal per so many hundredths of a milligram: a pound's or a kilogram's, so that neither is rounded. */
struct energy {
	int64_t kcal, per_10ug;
};

static struct energy energy_of(const struct feeding_ask *ask, const struct feeding_need *need)
{
	if (ask->vet_kcal_per_kg != 0)
		return (struct energy){ ask->vet_kcal_per_kg, MG_PER_KG * 100 };
	return (struct energy){ need->low_kcal_per_lb, LB_IN_10UG };
}

/* mass * energy * factor / divisor, rounded down. What doesn't fit is no animal's. */
static int64_t of_mass(int64_t mass_mg, const struct energy *energy, int64_t factor, int64_t divisor)
{
	unsigned __int128 top = (unsigned __int128)mass_mg * 100 * (unsigned __int128)(energy->kcal * factor);
	unsigned __int128 result = top / ((unsigned __int128)energy->per_10ug * (unsigned __int128)divisor);

	return result > INT64_MAX ? INT64_MAX : (int64_t)result;
}

/*
 * ceil(energy / (label * stomach)), of a kilogram and not of this mass: were it decided from rounded volumes, a heavier
 * pup could get one meal more, and so less at each.
 */
static int meals_needed(const struct energy *energy, int32_t label_kcal_per_l)
{
	int64_t top = energy->kcal * MG_PER_KG * MG_PER_KG * 100; /* at most 3e16 */
	int64_t bottom = energy->per_10ug * (int64_t)label_kcal_per_l * FEEDING_STOMACH_UL_PER_KG;

	return (int)((top + bottom - 1) / bottom);
}

static enum feeding_outcome judge_pup(const struct feeding_ask *ask)
{
	if (ask->warmth == SIGN_CHILLED)
		return FEEDING_CHILLED;
	if (ask->warmth != SIGN_WARM && ask->warmth != SIGN_COOL) /* what isn't known to be warm isn't fed */
		return FEEDING_WARMTH_UNKNOWN;
	if (ask->mass_mg <= 0 || ask->weighed_ms < ask->now_ms - FEEDING_FRESH_MS ||
	    ask->weighed_ms > ask->now_ms + FEEDING_AHEAD_MS)
		return FEEDING_STALE;
	return ask->doubtful ? FEEDING_DOUBTFUL : FEEDING_PLANNED;
}

static enum feeding_outcome judge_figures(const struct feeding_ask *ask)
{
	if (ask->label_kcal_per_l < FEEDING_LABEL_MIN || ask->label_kcal_per_l > FEEDING_LABEL_MAX)
		return FEEDING_LABEL;
	if (ask->vet_kcal_per_kg != 0 &&
	    (ask->vet_kcal_per_kg < FEEDING_ENERGY_MIN || ask->vet_kcal_per_kg > FEEDING_ENERGY_MAX))
		return FEEDING_ENERGY;
	return FEEDING_PLANNED;
}

static struct feeding_plan plan_of(const struct feeding_ask *ask, const struct feeding_need *need)
{
	static const struct volume_rate stomach = { FEEDING_STOMACH_UL_PER_KG, VOLUME_PER_KG };
	struct energy energy = energy_of(ask, need);
	struct feeding_plan plan = { .need = *need, .cool = ask->warmth == SIGN_COOL };

	plan.kcal_day = (int32_t)of_mass(ask->mass_mg, &energy, 1, 1);
	plan.day_ul = of_mass(ask->mass_mg, &energy, MG_PER_KG, ask->label_kcal_per_l);
	plan.day_ul_per_kg = of_mass(MG_PER_KG, &energy, MG_PER_KG, ask->label_kcal_per_l);
	plan.much = plan.day_ul_per_kg > FEEDING_MUCH_UL_PER_KG;
	plan.stomach_ul = volume_for(&stomach, ask->mass_mg);
	plan.meals_needed = meals_needed(&energy, ask->label_kcal_per_l);
	plan.meals = ask->meals;
	if (plan.meals <= 0)
		plan.meals = need->meals > plan.meals_needed ? need->meals : plan.meals_needed;
	plan.meal_ul = plan.day_ul / plan.meals;
	if (plan.meal_ul > plan.stomach_ul)
		plan.meal_ul = plan.stomach_ul;
	plan.meal_ul = volume_round_down(plan.meal_ul, ask->graduation_ul);
	return plan;
}

enum feeding_outcome feeding_plan(const struct feeding_ask *ask, struct feeding_plan *ret)
{
	enum feeding_outcome outcome = judge_pup(ask);
	struct feeding_need need;
	struct feeding_plan plan;

	if (outcome != FEEDING_PLANNED)
		return outcome;
	if (!feeding_need(ask->age_ms, &need))
		return FEEDING_NO_AGE;
	outcome = judge_figures(ask);
	if (outcome != FEEDING_PLANNED)
		return outcome;
	plan = plan_of(ask, &need);
	if (plan.meal_ul <= 0)
		return FEEDING_TOO_FINE;
	*ret = plan;
	return plan.meals < plan.meals_needed ? FEEDING_MORE_MEALS : FEEDING_PLANNED;
}

const char *feeding_hint(enum feeding_outcome outcome)
{
	switch (outcome) {
	case FEEDING_PLANNED:
		return "Check the figures with your vet: your vet's word goes first.";
	case FEEDING_CHILLED:
		return "Don't feed a chilled pup: its gut stands still. Call your vet, and warm it slowly, by 1 C (2 "
		       "F) an hour at most (vetreproduction.com, hypothermia); measure again before any feeding.";
	case FEEDING_WARMTH_UNKNOWN:
		return "A cold pup must not be fed: measure its temperature, or feel its mouth and belly, and note it "
		       "first.";
	case FEEDING_STALE:
		return "Weigh it first: a meal goes by a weight of the last 24 hours.";
	case FEEDING_DOUBTFUL:
		return "Weigh it again: the newest weight doesn't fit it, or it didn't hold still.";
	case FEEDING_NO_AGE:
		return "The published table ends with week 4, and needs the time of birth: note that, or ask your vet.";
	case FEEDING_LABEL:
		return "Read the replacer's label again: as it is mixed for feeding it has about 0.7 to 1.3 kcal in a "
		       "mL (700 to 1300 in a litre); a figure for powder, for 100 mL or in kJ is another.";
	case FEEDING_ENERGY:
		return "Read the figure back to your vet: it is meant in kcal per kg of body weight and day, 100 to "
		       "300; per pound, per 100 g or for the whole pup it is another.";
	case FEEDING_TOO_FINE:
		return "Take a syringe with finer marks: a meal is less than one mark of this one.";
	case FEEDING_MORE_MEALS:
		return "More and smaller meals: with so few, each would be more than the stomach holds. The volume "
		       "shown is what it holds; ask your vet before giving more at a time.";
	}
	return "Ask your vet.";
}

static bool same(const char *a, const char *b)
{
	return a == b || (a && b && strcmp(a, b) == 0);
}

static uint64_t in_bounds(int64_t difference_mg)
{
	return root_square(difference_mg < 0 ? -difference_mg : difference_mg);
}

enum feeding_nursed feeding_nursed(const struct feeding_weighing *before, const struct feeding_weighing *after,
				   struct feeding_milk *ret)
{
	uint64_t square;
	int64_t taken_mg;

	if (before->mass_mg <= 0 || after->mass_mg <= 0)
		return FEEDING_TOO_COARSE;
	taken_mg = after->mass_mg - before->mass_mg;
	square = root_square(before->u_mg) + root_square(after->u_mg);
	*ret = (struct feeding_milk){ .taken_mg = taken_mg,
				      .u_mg = root_up(square),
				      .pct = 100.0 * (double)taken_mg / (double)before->mass_mg };
	if (!same(before->container_id, after->container_id) || !same(before->scale_id, after->scale_id))
		return FEEDING_NOT_ALIKE;
	if (after->at_ms < before->at_ms || after->at_ms > before->at_ms + FEEDING_NURSE_MS)
		return FEEDING_TOO_LONG;
	/* |taken| > 2u, squared: decided without a root */
	if ((unsigned __int128)in_bounds(taken_mg) <= (unsigned __int128)square * 4)
		return FEEDING_TOO_COARSE;
	return taken_mg > 0 ? FEEDING_NURSED : FEEDING_LESS;
}

const char *feeding_nursed_hint(enum feeding_nursed nursed)
{
	switch (nursed) {
	case FEEDING_NURSED:
		return "It took milk: the gain is more than the scale's uncertainty.";
	case FEEDING_TOO_COARSE:
		return "The scale is too coarse to tell: this says neither that it took milk nor that it took none. "
		       "Watch whether it swallows, or use a finer scale.";
	case FEEDING_LESS:
		return "It is lighter than before: it passed urine or stool, or the scale moved. This doesn't say "
		       "what it took; weigh right before and right after the next nursing.";
	case FEEDING_TOO_LONG:
		return "More than an hour lies between these weighings, or they are the wrong way round: weigh right "
		       "before and right after nursing.";
	case FEEDING_NOT_ALIKE:
		return "Weigh both times on the same scale and in the same container.";
	}
	return "Weigh right before and right after nursing.";
}

// SPDX-License-Identifier: MIT
#pragma once
/*
 * Feeding a pup that needs help: energy by age, the replacer's label, meals, volume a meal held under the stomach's
 * capacity. And what nursing brought, by weighing before and after.
 * Above: daemon/desk, daemon/ctl, order (the stomach). Below: volume, sign (warmth), weigh/root. Pure. Published
 * figures with their source, checked with the vet by who feeds; it assumes nothing of the replacer. The cautions are
 * those of order_cautions(ORDER_BY_MOUTH).
 */
#include "daemon/litter/sign.h"
#include "daemon/litter/volume.h"

/* Energy a day. The two sources differ almost by two in week 1: the lower is planned with (underfeed rather than
 * overfeed: Small Animal Clinical Nutrition, 5th ed., p. 304), the higher is shown. */
struct feeding_need {
	int low_kcal_per_lb; /* as its source prints it, and planned with */
	int low_kcal_per_kg; /* the same for people, rounded down */
	int high_from_kcal_per_kg, high_kcal_per_kg;
	int meals; /* a day, at least, by the lower's source */
	const char *when, *low_source, *high_source;
};
/* Age 0 to FEEDING_WEEKS weeks, as far as the lower's table goes; false beyond (then weaning food counts, ask the vet)
 * or when it isn't known (negative). */
#define FEEDING_WEEKS 4
bool feeding_need(int64_t age_ms, struct feeding_need *ret);

/* A meal's volume: 40 mL/kg (happydogvideo.com/orphan-puppies, a book's text; Chastant & Mila 2019, Anim Reprod Sci
 * 207:162, fig. 4), 4 to 5 mL/100 g (Quist-Rybachuk, PetFeeding proceedings, p. 35). */
#define FEEDING_STOMACH_UL_PER_KG 40000      /* planned with */
#define FEEDING_STOMACH_STOP_UL_PER_KG 50000 /* never above, per meal */
/* How old a weight may be: recomputed after each morning's weighing (Dog Owner's Home Veterinary Handbook, p. 499). */
#define FEEDING_FRESH_MS (INT64_C(24) * 3600 * 1000)
/* How far ahead of our clock a weight may be dated: a scale's own clock; ours. */
#define FEEDING_AHEAD_MS (INT64_C(5) * 60 * 1000)
#define FEEDING_LABEL_MIN 400 /* kcal per litre; published are 0.74 to 1.3 kcal/mL; the limits are ours */
#define FEEDING_LABEL_MAX 2000
#define FEEDING_ENERGY_MIN 100 /* kcal/kg/day as a vet may say it; published are 130 to 260; the limits are ours */
#define FEEDING_ENERGY_MAX 300
/* All fluid in 24 hours above which the plan is worth a question (facts, 5: ours; as orders). A thin replacer gets
 * there: a handbook's own example comes to 329 mL/kg, so it isn't refused. */
#define FEEDING_MUCH_UL_PER_KG 300000

enum feeding_outcome {
	FEEDING_PLANNED,
	FEEDING_CHILLED,        /* warm it first */
	FEEDING_WARMTH_UNKNOWN, /* measure or touch first */
	FEEDING_STALE,          /* no weight, or an old one, or one of the future: weigh first */
	FEEDING_DOUBTFUL,       /* the newest weight doesn't fit, or the pup didn't hold still: weigh again */
	FEEDING_NO_AGE,         /* not known, or past FEEDING_WEEKS */
	FEEDING_LABEL,          /* energy outside 0.4 to 2 kcal/mL: a slip, or kcal/g, /100 mL */
	FEEDING_ENERGY,     /* the vet's figure outside 100 to 300 kcal/kg: a slip, or kcal/lb, /100 g, a day's sum */
	FEEDING_TOO_FINE,   /* a meal is less than one graduation */
	FEEDING_MORE_MEALS, /* ret->meals_needed of them, else the stomach's capacity is passed */
};

struct feeding_ask {
	int64_t mass_mg, weighed_ms; /* its newest weight */
	bool doubtful;
	int64_t age_ms, now_ms;
	enum sign_warmth warmth;
	int32_t label_kcal_per_l; /* from the replacer's label as it is mixed: 1 kcal/mL is 1000 */
	int meals;                /* a day; 0 or less: the source's, and as many more as the stomach needs */
	int32_t vet_kcal_per_kg;  /* on the vet's advice, 100..300; 0: the source's lower value */
	int64_t graduation_ul;    /* of the syringe or bottle; > 0 */
};
struct feeding_plan {
	int32_t kcal_day;        /* whole, rounded down */
	int64_t day_ul, meal_ul; /* meal_ul rounded down to the graduation; day_ul is what the energy comes to */
	int64_t day_ul_per_kg;
	int64_t stomach_ul; /* planned capacity of one meal */
	int meals, meals_needed;
	bool cool; /* 35.0 to 35.6 C: see that it is warm first */
	bool much; /* over FEEDING_MUCH_UL_PER_KG in a day: check label and mixing, ask the vet */
	struct feeding_need need;
};
/* ret is written on FEEDING_PLANNED and FEEDING_MORE_MEALS (then meal_ul is held at the capacity). Of several reasons
 * to refuse, the one to act on first. A smaller mass never gives a larger meal. */
enum feeding_outcome feeding_plan(const struct feeding_ask *ask, struct feeding_plan *ret);
/* What to do instead, for people. Static storage. */
const char *feeding_hint(enum feeding_outcome outcome);

enum feeding_nursed {
	FEEDING_NURSED,     /* the gain is more than the scale's uncertainty (k=2) */
	FEEDING_TOO_COARSE, /* the scale can't tell */
	FEEDING_LESS,       /* lighter after by more than that: it passed urine or stool, or the scale moved */
	FEEDING_TOO_LONG,   /* more than FEEDING_NURSE_MS between them: other things happened; or not in this order */
	FEEDING_NOT_ALIKE,  /* other container or scale */
};
#define FEEDING_NURSE_MS (INT64_C(60) * 60 * 1000)
struct feeding_weighing {
	int64_t at_ms, mass_mg, u_mg;
	const char *container_id, *scale_id; /* may be NULL: none */
};
struct feeding_milk {
	int64_t taken_mg, u_mg; /* standard uncertainty, rounded up: as if the two weighings had nothing in common */
	double pct;             /* of the weight before */
};
/* ret: always written when both masses are > 0; else FEEDING_TOO_COARSE. */
enum feeding_nursed feeding_nursed(const struct feeding_weighing *before, const struct feeding_weighing *after,
				   struct feeding_milk *ret);
/* What that means, for people. Static storage. */
const char *feeding_nursed_hint(enum feeding_nursed nursed);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * Feeding a pup that needs help: energy by age, the replacer's label, meals, volume a meal held under the stomach's capacity. And
 * what nursing brought, by weighing before and after.
 * Above: daemon/desk, daemon/ctl. Below: volume, sign (warmth). Pure. Published figures with their source, checked with the vet by
 * who feeds; it assumes nothing of the replacer.
 */
#include "daemon/litter/sign.h"
#include "daemon/litter/volume.h"

/* Energy a day. The two sources differ almost by two in week 1 (facts): the lower is planned with (underfeed rather than overfeed),
 * the higher is shown. */
struct feeding_need {
	int low_kcal_per_kg, high_kcal_per_kg;
	int meals; /* a day, at least, by the lower's source */
	const char *when, *low_source, *high_source;
};
/* Age 0 to 5 weeks; false beyond (then weaning food counts, ask the vet) or when it isn't known (negative). */
bool feeding_need(int64_t age_ms, struct feeding_need *ret);

#define FEEDING_STOMACH_UL_PER_KG 40000      /* planned with */
#define FEEDING_STOMACH_STOP_UL_PER_KG 50000 /* never above, per meal */
#define FEEDING_FRESH_MS (INT64_C(24) * 3600 * 1000) /* how old a weight may be: recomputed after each morning's weighing */

enum feeding_outcome {
	FEEDING_PLANNED,
	FEEDING_CHILLED,	/* warm it first */
	FEEDING_WARMTH_UNKNOWN, /* measure or touch first */
	FEEDING_STALE,		/* weigh first */
	FEEDING_DOUBTFUL,	/* the newest weight doesn't fit, or the pup didn't hold still: weigh again */
	FEEDING_NO_AGE,		/* not known, or past five weeks */
	FEEDING_LABEL,		/* energy outside 0.4 to 2 kcal/mL: a slip, or kcal/L, /g, /100 mL */
	FEEDING_MORE_MEALS,	/* ret->meals_needed of them, else the stomach's capacity is passed */
};

struct feeding_ask {
	int64_t mass_mg, weighed_ms; /* its newest weight */
	bool doubtful;
	int64_t age_ms, now_ms;
	enum sign_warmth warmth;
	int32_t label_kcal_per_l;     /* from the replacer's label as it is mixed: 1 kcal/mL is 1000 */
	int meals;		      /* a day; 0: the source's */
	int32_t vet_kcal_per_kg;      /* on the vet's advice, 100..300; 0: the source's lower value */
	int64_t graduation_ul;	      /* of the syringe or bottle; > 0 */
};
struct feeding_plan {
	int32_t kcal_day; /* whole, rounded down */
	int64_t day_ul, meal_ul; /* meal_ul rounded down to the graduation */
	int64_t stomach_ul;	 /* planned capacity of one meal */
	int meals, meals_needed;
	bool cool; /* 35.0 to 35.6 C: see that it is warm first */
	struct feeding_need need;
};
/* ret is written on FEEDING_PLANNED and FEEDING_MORE_MEALS (then meal_ul is held at the capacity). */
enum feeding_outcome feeding_plan(const struct feeding_ask *ask, struct feeding_plan *ret);
/* What to do instead, for people. */
const char *feeding_hint(enum feeding_outcome outcome);

enum feeding_nursed {
	FEEDING_NURSED,	    /* the gain is more than the scale's uncertainty (k=2) */
	FEEDING_TOO_COARSE, /* the scale can't tell */
	FEEDING_LESS,	    /* lighter after: it passed urine or stool, or the scale moved */
	FEEDING_TOO_LONG,   /* more than FEEDING_NURSE_MS between them: other things happened */
	FEEDING_NOT_ALIKE,  /* other container or scale */
};
#define FEEDING_NURSE_MS (INT64_C(60) * 60 * 1000)
struct feeding_weighing {
	int64_t at_ms, mass_mg, u_mg;
	const char *container_id, *scale_id; /* may be NULL: none */
};
struct feeding_milk {
	int64_t taken_mg, u_mg; /* standard uncertainty */
	double pct; /* of the weight before */
};
enum feeding_nursed feeding_nursed(const struct feeding_weighing *before, const struct feeding_weighing *after,
				   struct feeding_milk *ret); /* ret: always written when both masses are > 0 */

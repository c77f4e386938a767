// SPDX-License-Identifier: MIT
#pragma once
/*
 * A vet's order on record, and what it comes to at a fresh weight. It computes what was ordered, checks it against what
 * is published, and refuses; it never proposes an amount of its own.
 * order.c: the order and its ranges; order_dose.c: one dose of it; order_caution.c: the cautions.
 * Above: daemon/desk, daemon/ctl. Below: feeding (the stomach), volume, sign (warmth). Pure.
 */
#include "daemon/litter/sign.h"
#include "daemon/litter/volume.h"

enum order_route { ORDER_UNDER_SKIN, ORDER_BY_MOUTH };
enum order_kind {
	ORDER_FLUID,    /* held against the published ranges */
	ORDER_MEDICINE, /* no range to hold it against: it is read back to the vet always; upper limits as for fluid */
};

struct order {
	const char *what; /* as the vet said it */
	const char *vet;  /* who ordered */
	enum order_kind kind;
	enum order_route route;
	struct volume_rate amount; /* a dose */
	struct volume_rate most;   /* in 24 hours */
	int64_t every_ms;          /* at least between doses */
	int64_t from_ms, until_ms; /* until: exclusive */
};

enum order_check {
	ORDER_FITS,
	ORDER_NO_WHAT,
	ORDER_NO_VET,
	ORDER_NO_AMOUNT,  /* the amount or the most isn't above zero */
	ORDER_BAD_TIMES,  /* ends before it begins, or lasts over ORDER_LONGEST_MS */
	ORDER_BAD_EVERY,  /* under ORDER_SHORTEST_MS or over ORDER_RAREST_MS */
	ORDER_BASES,      /* amount by mass and most by animal, or the other way round: say both alike */
	ORDER_MOST_BELOW, /* the most in 24 hours is less than one dose */
};
#define ORDER_LONGEST_MS (INT64_C(14) * 24 * 3600 * 1000) /* these three: ours */
#define ORDER_SHORTEST_MS (INT64_C(30) * 60 * 1000)
#define ORDER_RAREST_MS (INT64_C(7) * 24 * 3600 * 1000)
enum order_check order_check(const struct order *order);
const char *order_check_hint(enum order_check check); /* for people; static storage */

/*
 * The ranges, in microlitres per kilogram of body weight; an end belongs to the milder side. They are ours (facts, 5:
 * proposal): published are 10 to 20 mL/kg in one place for dogs in general (Washington State University,
 * vetmed.wsu.edu, client page on fluids) and nothing for newborn pups; 120 to 180 mL/kg a day for newborns
 * (Quist-Rybachuk, PetFeeding proceedings, p. 35, citing Macintire 2008 and Hoskins); the stomach's, see feeding.h.
 */
#define ORDER_SKIN_LEAST 1000 /* below: a slip */
#define ORDER_SKIN_PLAIN_FROM 5000
#define ORDER_SKIN_PLAIN_TO 20000
#define ORDER_SKIN_LOOK_TO 45000 /* beyond: outside */
#define ORDER_SKIN_MOST 60000    /* three places of 20; beyond: a slip */
#define ORDER_SITE_UL_PER_KG 20000
#define ORDER_DAY_PLAIN_TO 180000
#define ORDER_DAY_MOST 300000 /* 180 and a deficit of 12 % */

#define ORDER_FRESH_MS (INT64_C(24) * 3600 * 1000) /* a weight older than this is stale (facts, 5: proposal) */
#define ORDER_AHEAD_MS (INT64_C(5) * 60 * 1000) /* how far ahead of our clock a time may lie: another clock's; ours */

enum dose_outcome {
	DOSE_PLANNED,
	DOSE_SECOND_LOOK, /* planned, but unusual: read it back to the vet before giving; ret->range says why */
	DOSE_NOT_BEGUN,
	DOSE_ENDED, /* the order */
	DOSE_STALE, /* no weight, an old one, or one of the future */
	DOSE_DOUBTFUL,
	DOSE_WARMTH_UNKNOWN,
	DOSE_CHILLED,
	DOSE_CLOCK,      /* a dose on record lies in the future: the clock was set back, or a time was mistyped */
	DOSE_NOT_DUE,    /* ret->due_ms */
	DOSE_MOST,       /* with this one the most in 24 hours would be passed; ret->due_ms says when it fits */
	DOSE_OUTSIDE,    /* outside the range: call the vet and read it back; may be overridden in words */
	DOSE_IMPOSSIBLE, /* so far outside that it is a slip; not to be overridden: have the order written anew */
	DOSE_TOO_FINE,   /* less than one graduation of the syringe */
};

/*
 * The order's amount and most against the ranges, for an animal of mass_mg; for use when it is added, while the vet is
 * still there. DOSE_PLANNED, SECOND_LOOK, OUTSIDE or IMPOSSIBLE; DOSE_STALE when it is by animal and mass_mg isn't
 * known (0). ret_range is always written: what was compared, with its source; static storage.
 */
enum dose_outcome order_range(const struct order *order, int64_t mass_mg, const char **ret_range);
/* What to do about it while the vet is still there, for people; static storage. */
const char *order_range_hint(enum dose_outcome outcome);
/* All fluid of 24 hours, likewise, for a known mass. */
enum dose_outcome order_day_range(int64_t ul, int64_t mass_mg, const char **ret_range);
/* Rounded down; mass_mg > 0 where the rate is by animal. */
int64_t order_ul_per_kg(const struct volume_rate *rate, int64_t mass_mg);

struct dose_given {
	int64_t at_ms, ul;
};
struct dose_ask {
	int64_t mass_mg, weighed_ms;
	bool doubtful; /* restless, marked by the growth model, or set aside */
	int64_t now_ms;
	enum sign_warmth warmth;
	int64_t graduation_ul; /* of the syringe; > 0 */
	/* Under this order or another of the same kind and route (medicine: of the same medicine), in any order, all of
	 * the last 24 hours and the newest one of all; those dated in the future too, up to ORDER_AHEAD_MS they count
	 * as given now. What has no volume counts for nothing. May be NULL with n_given 0. */
	const struct dose_given *given;
	size_t n_given;
	/* Other fluid in the last 24 hours, by other routes and as milk, as far as it is on record; counts with all
	 * fluid of the day and not with the order's most. 0: none, or not known. */
	int64_t other_24h_ul;
	bool overridden; /* the words were typed */
};
struct dose_plan {
	int64_t ul;           /* to give, rounded down to the graduation; 0 when refused */
	int64_t ordered_ul;   /* what the order comes to, before that */
	int64_t ul_per_kg;    /* of what is ordered, rounded down */
	int64_t given_24h_ul; /* before this one, and after now - 24 h; later than now counts too */
	int64_t most_24h_ul;  /* at this weight */
	int64_t due_ms;    /* the earliest for the next one, when this one is given now; of NOT_DUE and MOST: for this
			    * one; else 0. It may lie beyond the order's end */
	unsigned sites;    /* under the skin: places to split it over, 20 mL/kg each at most; by mouth 0 */
	bool cool;         /* 35.0 to 35.6 C: see that it is warm first */
	const char *range; /* what was compared, with its source; of an order that order_check() refuses its hint */
};
/*
 * ret is always written, as far as it goes. Of several reasons to refuse, the one to act on first: the order, warmth,
 * the weight, the amount, the times, all fluid of the day. A smaller mass never gives a larger volume. Times are
 * elapsed ones: zones and daylight saving don't matter. An order that order_check() refuses is DOSE_IMPOSSIBLE.
 */
enum dose_outcome dose_plan(const struct order *order, const struct dose_ask *ask, struct dose_plan *ret);
const char *dose_hint(enum dose_outcome outcome); /* what to do instead, for people; static storage */
/* The words to type for an override, exactly. */
#define DOSE_OVERRIDE "my vet said this amount again"

/* Cautions, one sentence each, ended by one without text, for a route; shown each time. `source` of each: common
 * practice or published. */
struct order_caution {
	const char *text, *source;
};
const struct order_caution *order_cautions(enum order_route route);

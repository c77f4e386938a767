// SPDX-License-Identifier: MIT
#pragma once
/*
 * A vet's order on record, and what it comes to at a fresh weight. It computes what was ordered, checks it against what is published,
 * and refuses; it never proposes an amount of its own.
 * Above: daemon/desk, daemon/ctl. Below: volume, sign (warmth). Pure.
 */
#include "daemon/litter/sign.h"
#include "daemon/litter/volume.h"

enum order_route { ORDER_UNDER_SKIN, ORDER_BY_MOUTH };
enum order_kind {
	ORDER_FLUID,	/* held against the published ranges */
	ORDER_MEDICINE, /* no range to hold it against: it is read back to the vet always */
};

struct order {
	const char *what;   /* as the vet said it */
	const char *vet;    /* who ordered */
	enum order_kind kind;
	enum order_route route;
	struct volume_rate amount;     /* a dose */
	struct volume_rate most;       /* in 24 hours */
	int64_t every_ms;	       /* at least between doses */
	int64_t from_ms, until_ms;     /* until: exclusive */
};

enum order_check {
	ORDER_FITS,
	ORDER_NO_WHAT, ORDER_NO_VET,
	ORDER_BAD_TIMES,   /* ends before it begins, or lasts over ORDER_LONGEST_MS */
	ORDER_BAD_EVERY,   /* under ORDER_SHORTEST_MS or over a week */
	ORDER_MOST_BELOW,  /* the most in 24 hours is less than one dose */
	ORDER_BASES,	   /* amount by mass and most by animal, or the other way round: say both alike */
};
#define ORDER_LONGEST_MS (INT64_C(14) * 24 * 3600 * 1000)
#define ORDER_SHORTEST_MS (INT64_C(30) * 60 * 1000)
enum order_check order_check(const struct order *order);
const char *order_check_hint(enum order_check check);

#define ORDER_FRESH_MS (INT64_C(24) * 3600 * 1000) /* a weight older than this is stale (facts, 5: proposal) */

enum dose_outcome {
	DOSE_PLANNED,
	DOSE_SECOND_LOOK, /* planned, but unusual: read it back to the vet before giving; ret->range says why */
	DOSE_NOT_BEGUN, DOSE_ENDED, /* the order */
	DOSE_STALE, DOSE_DOUBTFUL, /* the weight */
	DOSE_WARMTH_UNKNOWN, DOSE_CHILLED,
	DOSE_NOT_DUE,	/* ret->due_ms */
	DOSE_MOST,	/* with this one the most in 24 hours would be passed; ret->due_ms says when it fits */
	DOSE_OUTSIDE,	/* outside the published range: call the vet and read it back; may be overridden in words */
	DOSE_IMPOSSIBLE, /* so far outside that it is a slip; not to be overridden: have the order written anew */
	DOSE_TOO_FINE,	/* less than one graduation of the syringe */
};

struct dose_given {
	int64_t at_ms, ul;
};
struct dose_ask {
	int64_t mass_mg, weighed_ms;
	bool doubtful; /* restless, marked by the growth model, or set aside */
	int64_t now_ms;
	enum sign_warmth warmth;
	int64_t graduation_ul; /* of the syringe; > 0 */
	const struct dose_given *given; /* under this order or another of the same kind and route, any order, >= 24 h back */
	size_t n_given;
	bool overridden; /* the words were typed */
};
struct dose_plan {
	int64_t ul;	      /* to give, rounded down to the graduation */
	int64_t ul_per_kg;
	int64_t given_24h_ul; /* before this one */
	int64_t most_24h_ul;  /* at this weight */
	int64_t due_ms;	      /* the next one, when this one is given now; of NOT_DUE and MOST: this one */
	unsigned sites;	      /* under the skin: places to split it over, 20 mL/kg each at most */
	const char *range;    /* what was compared, with its source */
};
/* ret is always written, as far as it goes. */
enum dose_outcome dose_plan(const struct order *order, const struct dose_ask *ask, struct dose_plan *ret);
const char *dose_hint(enum dose_outcome outcome); /* what to do instead, for people */
/* The words to type for an override, exactly. */
#define DOSE_OVERRIDE "my vet said this amount again"

/* Cautions, one sentence each, NULL-terminated, for a route; shown each time. `source` of each: common practice or published. */
struct order_caution {
	const char *text, *source;
};
const struct order_caution *order_cautions(enum order_route route);

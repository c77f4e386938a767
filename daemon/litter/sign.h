// SPDX-License-Identifier: MIT
#pragma once
/*
 * Signs: what a person sees and feels at a pup, a small set from the literature, each with a few answers in plain
 * words, what it can and can't tell at an age, and its source.
 * Above: daemon/desk and daemon/ctl (`look`), sign_rules. Below: nothing. Pure. It never names an illness and never
 * advises a treatment.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum sign_kind {
	SIGN_TEMPERATURE, /* measured, in thousandths of a degree Celsius */
	SIGN_TOUCH,       /* where there is no thermometer */
	SIGN_NURSING,
	SIGN_TONGUE,
	SIGN_GUMS,   /* how wet */
	SIGN_COLOUR, /* of gums */
	SIGN_TONE,   /* limp or not */
	SIGN_CRYING,
	SIGN_BREATHING,
	SIGN_BELLY,
	SIGN_URINE,
	SIGN_STOOL,
	SIGN_VOMIT,
	SIGN_SKIN, /* the tent at the neck */
	SIGN_KINDS
};

#define SIGN_ANSWERS 6 /* of one sign at most */

/* How an answer counts. */
enum sign_weight {
	SIGN_WELL,  /* as it should be */
	SIGN_WATCH, /* not by itself */
	SIGN_BAD,
	SIGN_WORST, /* by itself a reason to call now */
};

struct sign_answer {
	const char *word;  /* "tacky": in requests, the ledger and completion; NULL ends the list. No two of a sign
			    * begin with the same letter */
	const char *plain; /* "sticky to a clean finger" */
	enum sign_weight weight; /* at an age at which the sign tells; sign_weigh() knows ages */
};

/* One row a sign. Static storage. */
struct sign_row {
	const char *word;     /* "gums" */
	const char *question; /* "Gums, felt with a clean finger: wet or dry?" */
	const char *how;      /* how to look, and without harm; one sentence */
	const char *tells;    /* what it can tell, and what it can't at which age; one or two sentences */
	const char *source;
	struct sign_answer answers[SIGN_ANSWERS + 1]; /* best first; none for SIGN_TEMPERATURE */
	int64_t from_ms, to_ms;                       /* ages at which it tells; INT64_MAX: for good */
};

/* The answers to SIGN_TOUCH, by place; the other signs' are known by their word. */
enum sign_touch { SIGN_TOUCH_WARM, SIGN_TOUCH_HOT, SIGN_TOUCH_COOL, SIGN_TOUCH_COLD };

const struct sign_row *sign_row(enum sign_kind kind);
/* By word, or unambiguous beginning of it, letters of either case. SIGN_KINDS: none such. */
enum sign_kind sign_of(const char *word);
/* What was seen: the index of an answer, or thousandths of a degree Celsius. */
struct sign_value {
	enum sign_kind kind;
	int32_t value;
};
enum sign_parsed {
	SIGN_PARSED,
	SIGN_NO_ANSWER,    /* no such answer, or ambiguous: *ret_hint lists them */
	SIGN_NO_UNIT,      /* a temperature without C or F: *ret_hint shows how */
	SIGN_OUT_OF_RANGE, /* no temperature of a living pup (20 to 44 C): a slip, such as F typed as C */
};
/* value: an answer's word or unambiguous beginning of it, or its number from 1 on; a temperature "35.2C", "35,2 C",
 * "95.4F". On anything but SIGN_PARSED, ret_hint (at least 1 byte) has what to type instead. */
enum sign_parsed sign_parse(enum sign_kind kind, const char *value, struct sign_value *ret, char *ret_hint,
			    size_t n_hint);
/* The word to keep, "tacky" or "35.2C"; into ret (16 bytes hold any). */
void sign_format(const struct sign_value *value, char *ret, size_t n);
/* How it counts at an age (negative: not known, then as at the age at which it counts most). Signs that don't tell at
 * that age count as SIGN_WATCH at most; so does what is no answer of its sign. A temperature is held against the band
 * of its age, touch against nothing but itself. */
enum sign_weight sign_weigh(const struct sign_value *value, int64_t age_ms);
/* Whether it tells at that age; true when the age isn't known. */
bool sign_tells(enum sign_kind kind, int64_t age_ms);

/* Thousandths of a degree Celsius. */
#define SIGN_FEED_BLOCK_MC 35000 /* below: not fed (sources: 34.4, 35.0, 35.6; doubt up to the highest) */
#define SIGN_FEED_DOUBT_MC 35600 /* below: doubt; the gut works from here on */
#define SIGN_SEVERE_MC 31000     /* below: severe hypothermia at any age */
#define SIGN_FEVER_MC 39400      /* above: fever; from memory, no source read */
#define SIGN_HOT_MC 40000        /* above: a reason to call by itself; ours, since 41.1 is where it kills */

/* The band of rectal temperature for an age, thousandths of a degree Celsius: low and high end of what is normal, the
 * limit of hypothermia (below it), and that below which it is a reason to call by itself; the source for people. For an
 * age not known, low and high are the ends of all ages' bands, the limits the highest of all: sign_weigh() takes the
 * age that is worst. */
struct sign_band {
	int32_t low_mc, high_mc, chilled_mc, call_mc;
	const char *when, *source;
};
struct sign_band sign_band(int64_t age_ms);
/* The two sides of sign_weigh() of a temperature: too cold, too hot. */
enum sign_weight sign_weigh_cold(int32_t mc, int64_t age_ms);
enum sign_weight sign_weigh_hot(int32_t mc, int64_t age_ms);

/* Whether feeding or fluid may be thought of, by warmth alone. */
enum sign_warmth {
	SIGN_WARM,
	SIGN_COOL,           /* warm it first if possible; feed with doubt (35.0 to 35.6 C, or cool to the touch) */
	SIGN_CHILLED,        /* not by mouth, not under the skin: warm it slowly first */
	SIGN_WARMTH_UNKNOWN, /* nobody measured or felt it within the last SIGN_WARMTH_MS */
};
#define SIGN_WARMTH_MS (INT64_C(2) * 3600 * 1000)  /* how long a temperature or touch answers for; ours */
#define SIGN_TOGETHER_MS (INT64_C(10) * 60 * 1000) /* a touch this soon after a thermometer says nothing new; ours */
/* A sign as it was noted. */
struct sign_seen {
	int64_t at_ms;
	struct sign_value value;
};
/* Of signs in any order, what answers for warmth at now_ms and isn't older than within_ms: the newest temperature and
 * the newest touch, either NULL. The skin warms before the inside does, so a touch can't undo a thermometer: one from
 * before it, or up to SIGN_TOGETHER_MS after, is left out; one later stands beside it (the worse of the two counts);
 * only one more than SIGN_WARMTH_MS later stands in its place. */
void sign_warmth_by(const struct sign_seen *signs, size_t n, int64_t now_ms, int64_t within_ms,
		    const struct sign_seen **ret_temperature, const struct sign_seen **ret_touch);
/* By these, within SIGN_WARMTH_MS. */
enum sign_warmth sign_warmth(const struct sign_seen *signs, size_t n, int64_t now_ms);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * The rules as questions to what is known of one animal, or of the litter: what they look at, and what they share.
 * The rules themselves stand in concern_birth.c and concern_growth.c, their words, sources and advice in
 * concern_table.c. Above: concern.c. Below: those two, growth, verdict. Pure.
 */
#include "daemon/litter/concern.h"
#include "daemon/litter/verdict.h"

#define CONCERN_HOUR_MS INT64_C(3600000)
#define CONCERN_DAY_MS (24 * CONCERN_HOUR_MS)
/* The handbook's first limits in time: 10 % within 48 h, a gain by 72 h (Dog Owner's Home Veterinary Handbook, p. 493).
 */
#define CONCERN_FED_MS (48 * CONCERN_HOUR_MS)
#define CONCERN_NO_GAIN_MS (72 * CONCERN_HOUR_MS)
/* Neonate: to 2 weeks (Lee & Cohn 2017, Macintire 2008); pediatric: to 12 weeks, after which these rules end. */
#define CONCERN_NEONATE_MS (14 * CONCERN_DAY_MS)
#define CONCERN_PEDIATRIC_MS (84 * CONCERN_DAY_MS)

/* The litter as the model knows it. */
struct concern_peers {
	double mass_g[GROWTH_ANIMALS]; /* believed, by place in the litter; 0: not known */
	size_t twice;                  /* how many were weighed twice at least: fewer than two are no litter to it */
};

/* What the rules look at. */
struct concern_view {
	const struct concern_litter *litter;
	const struct concern_peers *peers;
	int64_t now_ms;
	bool slow; /* the litter as a whole is: what its animals share is told once */
	/* of one animal; NULL when the litter is looked at: */
	const struct concern_animal *animal;
	size_t i;         /* its place in the litter */
	size_t n;         /* of its readings, those up to now_ms */
	int64_t born_ms;  /* INT64_MIN: not known */
	int64_t birth_mg; /* 0: not known */
	bool known;       /* to the model; then: */
	struct growth_state state;
	struct verdict verdict;
};

/* The published limit, or the litter's own. */
struct concern_limits concern_rules_limits(const struct concern_limits *own);
void concern_rules_peers(const struct concern_litter *litter, int64_t now_ms, struct concern_peers *ret);
/* i: of an animal; SIZE_MAX: of the litter. peers is borrowed. */
void concern_rules_view(const struct concern_litter *litter, const struct concern_peers *peers, size_t i,
			int64_t now_ms, struct concern_view *ret);
/* True when the rule holds; then level and text are set, and nothing else of *ret. */
bool concern_rules_holds(enum concern_rule rule, const struct concern_view *view, struct concern *ret);

/* ---- what the rules share ---- */

bool concern_rules_is_mass(int64_t mg); /* else it is none: not known, or nonsense */
/* Age at a time; -1 when it isn't known, or before birth. */
int64_t concern_rules_age_ms(const struct concern_view *view, int64_t at_ms);
/* Masses must be masses. */
double concern_rules_change_pct(int64_t from_mg, int64_t to_mg);
/* NULL: there is none up to now. */
const struct concern_reading *concern_rules_newest(const struct concern_view *view);
/* "", or that its newest reading doesn't fit. */
const char *concern_rules_doubt(const struct concern_view *view);
/* Whether the animal at this place grows up with it: born within two days, as far as that is known. One fostered into a
 * litter of another age can't be compared with it. */
bool concern_rules_is_peer(const struct concern_view *view, size_t other);
/* The published daily band at an age (from 72 h to 28 days), its low end the litter's own if it has one. */
struct concern_band {
	double low_pct, high_pct;
	const char *when; /* "in week 1" */
};
bool concern_rules_band(const struct concern_view *view, int64_t age_ms, struct concern_band *ret);
double concern_rules_pct_a_day(double rate); /* of a rate of ln(mass) */
/* What depends on how large it will be. */
struct concern_size {
	int64_t below_mg;      /* adult mass */
	int64_t very_low_mg;   /* at birth, below it; 0: no limit is known */
	int64_t doubling_ms;   /* it has doubled its birth weight by this age */
	int64_t adult_rate_ms; /* from this age on the gain by adult mass counts */
	const char *dog;       /* "a dog of up to 5 kg" */
};
const struct concern_size *concern_rules_size(const struct concern_view *view); /* static storage */

// SPDX-License-Identifier: MIT
#pragma once
/*
 * What to worry about: a table of rules with a published source each, looked at after every reading and as time goes by.
 * Above: daemon/desk, which keeps what is open in the ledger. Below: growth, verdict. Pure: it opens and closes nothing,
 * it says what holds now.
 */
#include "daemon/litter/growth.h"
#include "daemon/litter/sign.h"

enum concern_level { CONCERN_LOOK, CONCERN_ACT, CONCERN_VET }; /* worst last */

enum concern_rule {
	CONCERN_EARLY_LOSS,     /* growth to day 2 of -4 % or worse */
	CONCERN_TENTH_LOST,     /* 10 % below birth weight or more within 48 h */
	CONCERN_NO_GAIN_72H,    /* not above birth weight by 72 h */
	CONCERN_LOSING,         /* any loss once feeding is established, by the model; a fast one by the log */
	CONCERN_NO_GAIN_24H,    /* no gain over a day, by the model */
	CONCERN_BELOW_BAND,     /* gains, but below the published daily band */
	CONCERN_LATE_DOUBLING,  /* birth weight not doubled by the age for its size */
	CONCERN_BEHIND,         /* far behind its littermates */
	CONCERN_LOW_BIRTH,      /* a very low birth weight for the breed's size, or for the litter */
	CONCERN_OVERDUE,        /* not weighed for too long in the first two weeks */
	CONCERN_LITTER_SLOW,    /* the whole litter gains too little: look at the dam */
	CONCERN_ADULT_RATE,     /* from week three on: below the published gain for its adult mass */
	/* what is seen, in the order of sign_rules.h: */
	CONCERN_CHILLED,
	CONCERN_HOT,
	CONCERN_DRY,
	CONCERN_NURSING,
	CONCERN_LIMP,
	CONCERN_CRYING,
	CONCERN_GUT,
	CONCERN_RULES
};

/* Limits that a litter may have of its own, on its vet's advice; each within its bounds. 0: the published one. */
struct concern_limits {
	double early_loss_pct;    /* 4; 2..8 */
	double band_low_pct;      /* the low end of the daily band, in week 1: 5; 2..8 */
	double overdue_h;         /* 26; 8..48 */
	double behind_pct;        /* below the litter's mean: 25; 15..40 */
};

struct concern_reading {
	int64_t at_ms, mass_mg, u_mg;
};

struct concern_animal {
	size_t index;                 /* in the growth model */
	int64_t born_ms;              /* INT64_MIN: not known */
	int64_t birth_mg;             /* 0: not known */
	const struct concern_reading *readings; /* without the birth weight, oldest first; of the first 10 days, those of
						 * the 60 h before the newest, and the newest two, at least */
	size_t n;
	const struct sign_seen *signs; /* of the last day at least, oldest first; may be NULL with none */
	size_t n_signs;
};

struct concern_litter {
	const struct growth *growth;
	int64_t adult_mg;             /* expected, or the dam's mass; 0: not known */
	struct concern_limits limits;
	const struct concern_animal *animals;
	size_t n;
};

struct concern {
	enum concern_rule rule;
	enum concern_level level;
	size_t animal;                /* into concern_litter.animals; SIZE_MAX: the whole litter */
	char text[256];               /* what is so, with its numbers, in grams and per cent */
};

/* One row a rule: its word, its source and what to do. Static storage. A `vet` advice always says to call now. */
struct concern_row {
	const char *word;      /* "early-loss" */
	enum concern_level least, worst; /* the levels that it may have */
	const char *looks_at;  /* "the reading nearest to 48 h of age (36 to 60 h)" */
	const char *threshold; /* the published one, and what is our choice in it */
	const char *source;    /* "Mila 2015, J Anim Sci, doi 10.2527/jas.2015-8971" */
	const char *advice;    /* for people, of its highest level; never orders a treatment */
};
const struct concern_row *concern_row(enum concern_rule rule);
/* The advice for a level that the rule may have; for another level, that of the nearest. */
const char *concern_advice(enum concern_rule rule, enum concern_level level);
const char *concern_level_text(enum concern_level level); /* "look", "act", "vet" */

/* What holds at now_ms: into ret, worst first, at most n_ret; returns how many. */
size_t concern_look(const struct concern_litter *litter, int64_t now_ms, struct concern *ret, size_t n_ret);
/* True when each limit is 0 or within its bounds; else *ret_what names the first that isn't, with its bounds. */
bool concern_limits_check(const struct concern_limits *limits, const char **ret_what);

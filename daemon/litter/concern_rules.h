// SPDX-License-Identifier: MIT
#pragma once
/*
 * The rules themselves, each a question to what is known of one animal, or of the litter. Their words, sources and
 * advice stand in concern.c. Above: concern.c. Below: growth, verdict. Pure.
 */
#include "daemon/litter/concern.h"
#include "daemon/litter/verdict.h"

/* What the rules look at. */
struct concern_view {
	const struct concern_litter *litter;
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
void concern_rules_view(const struct concern_litter *litter, size_t i, int64_t now_ms, struct concern_view *ret);
/* True when the rule holds; then level and text are set, and nothing else of *ret. */
bool concern_rules_holds(enum concern_rule rule, const struct concern_view *view, struct concern *ret);

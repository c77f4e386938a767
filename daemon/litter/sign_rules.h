// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which signs, alone or together and with what the scale says, are a concern: a table of rules with sources.
 * Above: concern (which joins them with the rules by weight). Below: sign. Pure.
 */
#include "daemon/litter/concern.h"
#include "daemon/litter/sign.h"

enum sign_rule {
	SIGN_RULE_CHILLED, /* below the limit of its age, or cold to the touch */
	SIGN_RULE_HOT,
	SIGN_RULE_DRY,     /* dries out: gums, tongue, urine, skin, weighed by age; with a loss of weight it is worse */
	SIGN_RULE_NURSING, /* doesn't nurse, or seems to and gets nothing (tongue; no gain) */
	SIGN_RULE_LIMP,    /* limp, gasping, blue or pale */
	SIGN_RULE_CRYING,
	SIGN_RULE_GUT, /* stool, vomit, belly; with a loss of weight it is worse */
	SIGN_RULES
};

#define SIGN_COUNTS_MS (INT64_C(24) * 3600 * 1000) /* how long a sign counts when nobody looks again; ours */

struct sign_view {
	const struct sign_seen *signs; /* oldest first; of a kind, the newest one counts */
	size_t n;
	int64_t age_ms; /* negative: not known */
	int64_t now_ms;
	bool losing, flat; /* by the growth model's verdict, or 4 % or more below an earlier weight */
};

/*
 * Own signs are those that a rule is about; a companion only makes it worse. By itself the heaviest own sign says the
 * level: SIGN_WATCH look, SIGN_BAD act, SIGN_WORST vet. Two own ones of SIGN_BAD are vet; a companion of SIGN_BAD or
 * worse, or a loss of weight, lifts look to act and act to vet (ours; that sources count any unwell newborn an
 * emergency is behind it).
 */
/* concern.h's row, for these. A `vet` advice always begins with calling now; none orders a treatment. */
const struct concern_row *sign_rule_row(enum sign_rule rule);
const char *sign_rule_advice(enum sign_rule rule, enum concern_level level);
/* Whether it holds; then its level and what is so, in plain words, the worst first ("gums dry (just now), urine dark (2
 * h ago); loses weight"), cut to n_text (at least 1; 256 hold any). */
bool sign_rule_holds(enum sign_rule rule, const struct sign_view *view, enum concern_level *ret_level, char *ret_text,
		     size_t n_text);

// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_sign.h"
#include "daemon/litter/concern_growth.h"
#include "daemon/litter/sign_rules.h"

_Static_assert(CONCERN_RULES - CONCERN_CHILLED == SIGN_RULES, "a rule of signs, a concern");

static enum sign_rule sign_rule(enum concern_rule rule)
{
	return (enum sign_rule)(rule - CONCERN_CHILLED);
}

bool concern_sign_is(enum concern_rule rule)
{
	return rule >= CONCERN_CHILLED;
}

bool concern_sign_holds(enum concern_rule rule, const struct concern_view *view, struct concern *ret)
{
	struct sign_view signs;
	struct concern lost; /* what the rule would say; only whether it holds matters here */

	if (!view->animal || view->animal->n_signs == 0)
		return false;
	signs = (struct sign_view){
		.signs = view->animal->signs,
		.n = view->animal->n_signs,
		.age_ms = concern_rules_age_ms(view, view->now_ms),
		.now_ms = view->now_ms,
		.losing = concern_growth_losing(view, &lost), /* so that both sentences say the same */
	};
	signs.flat = !signs.losing && view->known &&
		     (view->verdict.kind == VERDICT_FLAT || view->verdict.kind == VERDICT_LOSING);
	return sign_rule_holds(sign_rule(rule), &signs, &ret->level, ret->text, sizeof ret->text);
}

const struct concern_row *concern_sign_row(enum concern_rule rule)
{
	return sign_rule_row(sign_rule(rule));
}

const char *concern_sign_advice(enum concern_rule rule, enum concern_level level)
{
	return sign_rule_advice(sign_rule(rule), level);
}

// SPDX-License-Identifier: MIT
#include "daemon/litter/concern.h"
#include "daemon/litter/concern_rules.h"
#include <math.h>
#include <string.h>

const char *concern_level_text(enum concern_level level)
{
	switch (level) {
	case CONCERN_LOOK:
		return "look";
	case CONCERN_ACT:
		return "act";
	case CONCERN_VET:
		return "vet";
	}
	return "unknown";
}

/* ---- looking ---- */

/* Worse first; of equals the litter's, then by animal and rule: the order in which they are found. Into the first n;
 * the last falls out when n_ret are there. Returns the new n. */
static size_t insert(struct concern *ret, size_t n, size_t n_ret, const struct concern *concern)
{
	size_t at = n;

	while (at > 0 && concern->level > ret[at - 1].level)
		at--;
	if (at == n_ret)
		return n;
	if (n < n_ret)
		n++;
	memmove(&ret[at + 1], &ret[at], (n - at - 1) * sizeof *ret);
	ret[at] = *concern;
	return n;
}

static bool look(enum concern_rule rule, const struct concern_view *view, struct concern *ret)
{
	*ret = (struct concern){ .rule = rule, .animal = view->animal ? view->i : SIZE_MAX };
	return concern_rules_holds(rule, view, ret);
}

size_t concern_look(const struct concern_litter *litter, int64_t now_ms, struct concern *ret, size_t n_ret)
{
	struct concern_peers peers;
	struct concern_view view;
	struct concern concern;
	size_t n = 0;
	bool slow;

	concern_rules_peers(litter, now_ms, &peers);
	concern_rules_view(litter, &peers, SIZE_MAX, now_ms, &view);
	slow = look(CONCERN_LITTER_SLOW, &view, &concern);
	if (slow)
		n = insert(ret, n, n_ret, &concern);
	for (size_t i = 0; i < litter->n; i++) {
		concern_rules_view(litter, &peers, i, now_ms, &view);
		view.slow = slow;
		for (int rule = 0; rule < CONCERN_RULES; rule++)
			if (look((enum concern_rule)rule, &view, &concern))
				n = insert(ret, n, n_ret, &concern);
	}
	return n;
}

bool concern_limits_check(const struct concern_limits *limits, const char **ret_what)
{
	const struct {
		double value, low, high;
		const char *what;
	} bounds[] = {
		{ limits->early_loss_pct, 2, 8, "the early loss must be within 2 to 8 %" },
		{ limits->band_low_pct, 2, 8, "the low end of the daily band must be within 2 to 8 %" },
		{ limits->overdue_h, 8, 48, "overdue must be within 8 to 48 hours" },
		{ limits->behind_pct, 15, 40, "behind must be within 15 to 40 % below the litter's mean" },
	};

	for (size_t i = 0; i < sizeof bounds / sizeof bounds[0]; i++) {
		double value = bounds[i].value;
		if ((value >= bounds[i].low && value <= bounds[i].high) || !(value > 0 || value < 0 || isnan(value)))
			continue;
		*ret_what = bounds[i].what;
		return false;
	}
	return true;
}

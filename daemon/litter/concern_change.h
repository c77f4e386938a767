// SPDX-License-Identifier: MIT
#pragma once
/*
 * What was seen between two of an animal's weighings, beside what its littermates did meanwhile: the plain numbers with
 * which a concern of the growth model is told, so that its sentence can be held against the log. What a round shares
 * (all full, all hungry) is in both. Above: concern_growth. Below: what rules share, curve. Pure.
 */
#include "daemon/litter/concern_rules.h"

struct concern_change {
	int64_t from_mg, to_mg; /* of the litter: 0 */
	int64_t ms;             /* between them */
	double pct;             /* of the litter: the mean */
	size_t n;               /* of the litter: how many were weighed both times */
	size_t others;          /* littermates weighed at both times, give or take a round; */
	double others_pct;      /* their mean; without any: */
	double published_pct;   /* by the middle of the published bands */
};

/* Between two weighings of it. */
void concern_change_between(const struct concern_view *view, const struct concern_reading *from,
			    const struct concern_reading *to, struct concern_change *ret);
/* From the weighing nearest to a time (within a day) or the birth weight, to its newest that fits. False: there aren't
 * two such. */
bool concern_change_of(const struct concern_view *view, int64_t since_ms, struct concern_change *ret);
/* Of all that were weighed in the rounds at these times. False: none was. */
bool concern_change_of_litter(const struct concern_view *view, int64_t since_ms, int64_t to_ms,
			      struct concern_change *ret);
/* What would have been gained meanwhile: by littermates, or published. */
double concern_change_expected_pct(const struct concern_change *change);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * Is she gaining? The verdict on an animal, from what the growth model believes, and when the next weighing will tell.
 * Above: daemon/desk (animal_now, `growth`), concern. Below: growth, fit. Pure.
 */
#include "daemon/litter/growth.h"

/* A loss is said when the model takes it for one rather than for a stall, three to one: what stalls shouldn't be told
 * under one name in the morning and another in the evening. Ours. */
#define VERDICT_LOSS_ODDS 3.0

enum verdict_kind {
	VERDICT_TOO_SOON, /* the scale, the gut and the time since can't tell yet */
	VERDICT_GAINING,
	VERDICT_FLAT, /* doesn't gain */
	VERDICT_LOSING,
};

struct verdict {
	enum verdict_kind kind;
	double mass_g, u_mass_g; /* believed now, without gut fill */
	double gain_g_per_day, u_gain_g_per_day;
	double gain_pct_per_day;
	double doubling_days;   /* at this rate; INFINITY without a gain */
	double since_birth_pct; /* NAN without a birth mass */
	double z;               /* of ln(mass) among littermates of known mass; NAN with fewer than three */
	double detectable_g;    /* the smallest change since the newest reading that a weighing now could show */
	int64_t tell_at_ms;     /* when the next weighing will tell, not before now; INT64_MAX: any time tells */
	double p_stopped;       /* probability that it stopped; of flat and losing, or gains next to nothing */
	int64_t since_ms;       /* of flat and losing: the likeliest time it began; else INT64_MIN */
};

/* How far beyond an animal's newest reading its growth is carried on: after a week without one, "as before" is a guess,
 * and after a season a pup would weigh as much as a horse. Ours. */
#define VERDICT_REACH_MS (INT64_C(7) * 24 * 3600 * 1000)
/* The time up to which now_ms can be told of an animal: now_ms, or its newest reading and VERDICT_REACH_MS. */
int64_t verdict_reach_ms(const struct growth *growth, size_t animal, int64_t now_ms);

/* Beyond the reach the masses and rates are of then, and nobody gains any more: it is too soon to say. step_mg: of the scale that will weigh next (0: not known). birth_mg: 0 not known. False: nothing is known of it. */
bool verdict_of(const struct growth *growth, size_t animal, int64_t now_ms, int64_t step_mg, int64_t birth_mg,
		struct verdict *ret);
const char *verdict_text(enum verdict_kind kind); /* "gaining", "flat", "losing", "too soon" */

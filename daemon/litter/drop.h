// SPDX-License-Identifier: MIT
#pragma once
/*
 * How far one weighing lies below an earlier one, and from when on that is a loss by itself, whatever a model makes of
 * it. Above: verdict, concern_drop. Below: nothing. Pure.
 */
#include <stdbool.h>
#include <stdint.h>

/* So far back is looked: with a weighing a day two lie in it. Ours, as all limits here. */
#define DROP_WINDOW_MS (INT64_C(60) * 3600 * 1000)
/* Sooner it is the same weighing, done again. */
#define DROP_AGAIN_MS (INT64_C(3600) * 1000)

/*
 * Per cent below. A newborn's stomach holds about 4 % of it (Chastant & Mila 2019, Anim Reprod Sci 207:162, fig. 4), so
 * a full one before and an empty one now don't make 5; of fluid lost, 5 to 7 % show (BSAVA 2008, VIN id 3862872), and
 * 10 % are what the handbook calls for at any time (Dog Owner's Home Veterinary Handbook, p. 493). Later pups gain less
 * from weighing to weighing and eat more at once.
 */
struct drop_limits {
	int64_t from_ms;       /* of age */
	double act, vet;       /* below two readings */
	double step, big_step; /* below one: a look, worth doing something */
};
const struct drop_limits *drop_limits(int64_t age_ms); /* -1, not known: as of the youngest. Static storage */

/* Whether an earlier weighing is one to compare a later one with: in the window, and not the same weighing. */
bool drop_is_comparable(int64_t before_ms, int64_t now_ms);
/* Per cent that the later surely lies below the earlier: twice the standard uncertainty of the difference (JCGM
 * 100, 5.1.2) is left out. Negative: it doesn't. before_mg > 0. */
double drop_surely_pct(int64_t before_mg, int64_t before_u_mg, int64_t now_mg, int64_t now_u_mg);

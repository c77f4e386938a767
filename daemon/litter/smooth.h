// SPDX-License-Identifier: MIT
#pragma once
/*
 * A litter's curves for reports: what all readings, earlier and later, say of each animal's mass and rate at each of
 * them. growth.h says what was believed at a time; this says what is believed of that time now.
 * Above: daemon/desk (reports). Below: growth, growth_round, trend. Pure; all memory is the caller's. It gives no
 * verdict and knows no future: a curve ends with its animal's newest reading.
 *
 * The growth model goes through the readings once, marks what is far off, learns gut fill, and leaves of each reading
 * what it measured: the litter's level by a round's mean, an animal's deviation against the others of its round. Each
 * of these series is then filtered and smoothed backwards (Rauch, Tung, Striebel 1965, AIAA Journal 3:1445; trend.h).
 * The model's random walk of the rate is one of growth that goes on; a series that stopped, or caught up, walks more.
 * So it is filtered with that walk and with ones of 10, 100 and 1000 times its variance, and the likeliest is taken,
 * where each step must be worth SMOOTH_STEP_LN. Level and deviation are reckoned as if independent, as in growth.h.
 *
 * Over a fortnight of made-up litters of eight the intervals cover 93 to 97 % (tests/unit/litter/test_smooth.c), of a
 * single animal, whose gut nothing else tells, 91 to 95 %; less where growth bends at once, more elsewhere.
 */
#include "daemon/litter/growth.h"

/* Of ln likelihood, as one parameter more in Akaike's criterion (1974, IEEE Trans Autom Control 19:716). */
#define SMOOTH_STEP_LN 1.0

struct smooth_reading {
	size_t animal; /* index in the litter */
	struct growth_reading reading;
};

/* The curve where a reading lies, without gut fill. */
struct smooth_point {
	int64_t at_ms;        /* the reading's */
	double mass_g;        /* NAN, as all below: nothing is known (of one without a mass, before any other) */
	double low_g, high_g; /* 95 % of what is believed of it */
	double rate, u_rate;  /* of ln(mass) a day: 0.01 is about 1 % */
	bool wild;            /* the reading was marked, and isn't in the curve */
};

/* What a reading needs meanwhile. Nobody else should look into it. */
struct smooth_room {
	size_t round;               /* the first reading of its round */
	bool has, first, confirmed; /* has: a mass; first: its animal's curve begins (anew) here */
	bool alone;                 /* no littermate was known */
	double day, z, r; /* when, the deviation that was measured and its variance; r INFINITY: nothing was */
	struct trend filtered, predicted, smoothed;
	/* of the round; used in its first reading alone: */
	bool level_first, level_confirmed;
	double level_day, level_z, level_r;
	struct trend level_filtered, level_predicted, level_smoothed;
};

enum smooth_outcome {
	SMOOTH_DONE,
	SMOOTH_ORDER,  /* a reading isn't in order of time: growth_take() says GROWTH_LATE */
	SMOOTH_ANIMAL, /* a reading is of no animal of the litter, or there are none or too many */
};

/*
 * n readings in order of time, of a litter of so many animals (1..GROWTH_ANIMALS); born_ms: INT64_MIN when it isn't
 * known. growth is overwritten: afterwards it is the model as it stands after the last reading. room: n of them. ret: n
 * points in the readings' order, complete on SMOOTH_DONE and without meaning otherwise.
 */
enum smooth_outcome smooth_litter(const struct smooth_reading *readings, size_t n, size_t animals, int64_t born_ms,
				  struct growth *growth, struct smooth_room *room, struct smooth_point *ret);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the growth model believes before it has seen a litter, each figure with its source. "Ours": no source is known
 * to us; tests/bench/growth tells what the choice does. Above: growth*.c. Variances are the squares of what is called
 * SD.
 */

/*
 * Gut fill. A meal is about 4 % of body weight (Chastant & Mila 2019, Anim Reprod Sci 207:162, fig. 4), so that fed and
 * unfed together scatter by about half of that, of which a round takes a part. How it is split is ours.
 */
#define GROWTH_OWN_SD 0.016
#define GROWTH_SHARED_SD 0.020
#define GROWTH_GUT_READINGS 8.0 /* how many readings the prior of the first is worth; ours */
#define GROWTH_GUT_ROUNDS 10.0  /* how many rounds that of the second; ours */
#define GROWTH_GUT_SD_MIN 0.003 /* bounds on what can be learned; ours */
#define GROWTH_GUT_SD_MAX 0.060 /* more than the whole meal above */
#define GROWTH_BIRTH_SD 0.003   /* nothing has been eaten, fluid is being lost; ours */

/*
 * Published daily gains span 5 to 10 % in week 1 and 3.5 to 6 % in weeks 2 to 4 (Small Animal Clinical Nutrition, 5th
 * ed., ch. 16, p. 292): about two standard deviations of ln(mass) a day to either side of the curve, divided by us
 * among litters and littermates, which differ by less.
 */
#define GROWTH_LITTER_RATE_SD 0.022
#define GROWTH_ANIMAL_RATE_SD 0.012
#define GROWTH_AGE_UNKNOWN_RATE_SD 0.030 /* the curve can't be placed: it spans both bands; ours */

/* Random walks of level and rate (trend.h), a day; ours: in a week a rate wanders by 0.8 % (litter), 0.5 % (animal). */
#define GROWTH_Q_LEVEL 4e-6
#define GROWTH_LITTER_Q_RATE 1e-5
#define GROWTH_ANIMAL_Q_RATE 4e-6

/* Whether readings scatter as modelled: from 1, worth so many readings, learned from about the newest 150; ours. */
#define GROWTH_SURPRISE_READINGS 8.0
#define GROWTH_SURPRISE_KEPT (1 - 1.0 / 150)

#define GROWTH_WILD_SHARE 0.01   /* of readings that say nothing of growth: mixed up, leaning on the rim; ours */
#define GROWTH_WILD_SIGMAS 4.5   /* from here on one is marked; ours */
#define GROWTH_FASTEST_LOSS 0.06 /* a day, of a pup that dries out: no mix-up is seen in less; ours */

/*
 * Prior odds that an animal, or a litter, stopped at one given weighing, chosen so that a probability of one half is
 * reached falsely 0.03 to 0.1 times a pup-week over the simulated litters of tests/bench/growth (own gut fill 1, 2 %).
 */
#define GROWTH_STOP_PRIOR 0.03
#define GROWTH_LITTER_STOP_PRIOR 0.01
/* The same for expecting the next weighing, where it should be as often as they really stop: one weighing in a
 * thousand; ours. */
#define GROWTH_STOP_SHARE 0.001
#define GROWTH_LOSS_RATE (-0.03)     /* of ln(mass) a day, what "loses" is looked for at; ours */
#define GROWTH_STOPPED_RATE_SD 0.010 /* how far a stopped one may be from it; ours */

// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a scale can tell of a pup, from its step alone: the arithmetic behind "Choosing a scale" in README.md.
 * Above: bismar (scale list, scale offers), tests. Below: libm. Pure. It knows a scale's step, and no scale.
 *
 * The sums, and where they come from:
 * - A reading lies within half a step of the mass, anywhere: standard uncertainty d/sqrt(12) (JCGM 100:2008, 4.3.7).
 *   The difference of two has d/sqrt(6), or 2d/sqrt(6) = 0.82 d expanded with k = 2. A container's tare, the same in
 *   both, cancels.
 * - A pup that thrives gains 5 to 10 % of its mass a day in its first weeks (Small Animal Clinical Nutrition, 5th ed.,
 *   ch. 16). We reckon with 5 %: who gains least is the one to tell from one that stalls.
 * - A stall shows once a pup should have gained two steps. The readings of one that stands still then differ by one
 *   step at most, whatever the rounding does, and those of one that thrives by one at least, by two as a rule. Two
 * steps are 2.4 times the expanded uncertainty, so the two cases stay apart (each within 0.82 d) with 0.37 d to spare
 * for a pup that doesn't lie still. The two steps are our judgement; the rest follows.
 * - A step will do for a pup when a stall shows within FIT_HOURS, the shortest interval that is advised for a pup that
 * is not in treatment: every 8 h while it is fed by hand (Dog Owner's Home Veterinary Handbook, p. 499). That makes 120
 *   steps: 1 g is enough from 120 g on (a very small breed's newborn), 5 g from 600 g on.
 *   With less to spare more would seem possible: expanded uncertainty alone on each side (1.63 d) gives 98 steps at 8 h
 *   and 65 at 12 h, one expanded uncertainty in 12 h only 33, which would call a stalled pup a thriving one every now
 *   and then.
 */
#include <stdint.h>

#define FIT_GAIN_DIVISOR 20 /* expected daily gain: a 20th of the mass, 5 % */
#define FIT_STEPS 2         /* so many steps of expected gain show a stall */
#define FIT_HOURS 8         /* within which it should show */
#define FIT_PUP_MG 300000   /* an example for people: near the mean birth weight of middling breeds */

/* The smallest difference of two readings that is more than rounding: 2d/sqrt(6), rounded; 0 for a step <= 0. */
int64_t fit_tell_mg(int64_t step_mg);
/* The smallest pup for which a step will do; 0 for a step <= 0. INT64_MAX for an absurd one. */
int64_t fit_smallest_pup_mg(int64_t step_mg);
/* The coarsest step that will do for a pup, rounded down; 0 for a mass <= 0, or one too small for any. */
int64_t fit_largest_step_mg(int64_t pup_mg);
/* Hours between two weighings after which a stall of such a pup shows, rounded up; 0 where step or mass is <= 0;
 * FIT_HOURS_MAX when it takes as long or longer. */
#define FIT_HOURS_MAX 9999
unsigned fit_stall_hours(int64_t step_mg, int64_t pup_mg);
/*
 * What the scale must bear for three weeks: the container, and a pup of such a birth weight after 21 days of the
 * fastest growth on record, P0 exp(0.13084 x - 0.001616 x^2) = 7.65 P0 (Alves, Vet Med Sci 2020, doi 10.1002/vms3.322;
 * 345 pups of 19 breeds). Rounded up to whole grams; 0 for a mass <= 0.
 */
int64_t fit_capacity_mg(int64_t birth_mg, int64_t container_mg);

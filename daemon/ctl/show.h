// SPDX-License-Identifier: MIT
#pragma once
/*
 * Masses and words for people. Always with the unit.
 * Above: the commands, watch. Below: weigh/quantity.
 */
#include "daemon/weigh/quantity.h"
#include <stdbool.h>
#include <stddef.h>

#define SHOW_SIZE 48
/* Stands wherever a concern does. */
#define SHOW_VET "A pup that is limp, cold or won't suck: stop reading, call the vet now."

/* "304 g", "-3.5 g", "10.72 oz". May be negative. */
const char *show_mass(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit);
/* The same in whole grams from 10 g on (a prediction is no better), in ounces as it is. */
const char *show_about(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit);
/* The mass of a grown animal: "30 kg", "66 lb". */
const char *show_heavy(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit);
/*
 * A gain with its sign, to the digits that its standard uncertainty leaves (JCGM 100, 7.2.6: two at most), which follows when
 * plus_minus is given: "+28 g", "+5.2 +- 0.8 g".
 */
const char *show_gain(char buffer[SHOW_SIZE], int64_t mg, int64_t u_mg, enum quantity_unit unit, const char *plus_minus);
/* Grams as the views and the socket have them (NaN and absurd ones are 0) to milligrams. */
int64_t show_mg(double grams);
/* U+00B1, or what stands for it. */
const char *show_plus_minus(bool utf8);
/* The state of a scale's link as the socket names it, in a word for people; an unknown one as it is. */
const char *show_link(const char *state);
/* The last characters of an id, enough to name it; the whole when it is short. */
const char *show_tail(const char *id);

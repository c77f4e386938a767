// SPDX-License-Identifier: MIT
#pragma once
/*
 * Masses and words for people. Always with the unit.
 * Above: the commands, watch. Below: weigh/quantity.
 */
#include "daemon/weigh/quantity.h"
#include <stddef.h>

#define SHOW_SIZE 48

/* "304 g", "-3.5 g", "10.72 oz". May be negative. */
const char *show_mass(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit);
/* The same in whole grams from 10 g on (a prediction is no better), in ounces as it is. */
const char *show_about(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit);
/* Grams as the views and the socket have them (NaN and absurd ones are 0) to milligrams. */
int64_t show_mg(double grams);
/* The state of a scale's link as the socket names it, in a word for people; an unknown one as it is. */
const char *show_link(const char *state);
/* The last characters of an id, enough to name it; the whole when it is short. */
const char *show_tail(const char *id);

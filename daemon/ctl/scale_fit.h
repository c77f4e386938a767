// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a scale offers and what it can tell, in words for people.
 * Above: the scale commands, checkup. Below: litter/fit, show.
 */
#include "daemon/weigh/quantity.h"
#include <jansson.h>
#include <stddef.h>
#include <stdint.h>

#define SCALE_FIT_SIZE 192

/* "Weight Scale Service" for "weight-scale", and so on; the word itself when it isn't known. Borrowed. */
const char *scale_fit_offer(const char *word);
/* The words of a list of the socket's, with commas between; "-" for an empty one. Cut at size. */
void scale_fit_offers(const json_t *words, char *buffer, size_t size);
/*
 * "steps of 5 g: enough for pups from 600 g on; a 300 g pup must be weighed 16 hours apart for a stall to show." The
 * example of a pup is left out where the step is enough for it. A step <= 0: that it isn't known yet.
 */
const char *scale_fit_words(char buffer[SCALE_FIT_SIZE], int64_t step_mg, enum quantity_unit unit);

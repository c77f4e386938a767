// SPDX-License-Identifier: MIT
#pragma once
/*
 * The newborn score for pups (canine Apgar, Veronesi 2009): five items of 0 to 2, read about five minutes after birth.
 * Above: daemon/desk, daemon/ctl (whelping). Below: nothing. Pure.
 */
#include <stddef.h>
#include <stdint.h>

enum apgar_item { APGAR_HEART, APGAR_BREATHING, APGAR_REFLEX, APGAR_MOTION, APGAR_COLOUR, APGAR_ITEMS };

struct apgar_row {
	const char *word;      /* "heart" */
	const char *question;  /* for people */
	const char *points[3]; /* what gives 0, 1 and 2, in plain words, "below 180 a minute" */
};
const struct apgar_row *apgar_row(enum apgar_item item);

enum apgar_class { APGAR_LOW /* 0-3 */, APGAR_MIDDLE /* 4-6 */, APGAR_HIGH /* 7-10 */ };
/* Sum of five points of 0..2 each; -1 when one is out of range. */
int apgar_sum(const uint8_t points[APGAR_ITEMS]);
enum apgar_class apgar_class(int sum);
/* "heart 2, breathing 1, ... : 8 of 10" the other way round: digits in the order of the items, "21222"; also with
 * spaces, commas or plus signs between. 0, or -1 and nothing written. */
int apgar_parse(const char *text, uint8_t ret[APGAR_ITEMS]);
/* For people: what the class means, what to look at, the source, and that the vet's word goes first. */
const char *apgar_text(enum apgar_class apgar_class);

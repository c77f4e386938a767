// SPDX-License-Identifier: MIT
#pragma once
/*
 * Volumes as people type and read them. Inside, whole microlitres (1000 = 1 mL).
 * Above: feeding, order, daemon/ctl. Below: nothing. Pure. It never guesses: what could be read as another volume is
 * refused, since a slip of the decimal point is a tenfold dose.
 */
#include <stddef.h>
#include <stdint.h>

enum volume_parsed {
	VOLUME_PARSED,
	VOLUME_NO_NUMBER,
	VOLUME_NO_UNIT,      /* a bare number: say mL */
	VOLUME_BAD_UNIT,     /* ounces, drops, spoons, cc of what isn't known; anything after the unit: say mL */
	VOLUME_AMBIGUOUS,    /* "1,000 mL", "1.000 mL", "1 000 mL" (one or a thousand?), ".5 mL", "5. mL", "04 mL"
			      * (a lost point?), "4 l" (mL?) */
	VOLUME_OUT_OF_RANGE, /* 0, negative, more decimals than a microlitre's three, or above VOLUME_MAX_UL */
};
#define VOLUME_MAX_UL INT64_C(1000000) /* a litre: no pup's dose or meal; ours */

/* "4 mL", "4ml", "0.4 mL", "0,4 mL"; nothing else around it but blanks. mL in letters of any case. */
enum volume_parsed volume_parse(const char *text, int64_t *ret_ul);
/* What to type instead. Static storage. */
const char *volume_hint(enum volume_parsed parsed);
/* "3.5 mL", "0.05 mL", "12 mL": without trailing zeros, never rounded, with a zero before the point. 24 bytes hold any
 * that isn't negative; what doesn't fit is left out as a whole. From a millilitre on, odd microlitres make three
 * decimals
 * ("1.234 mL"), which volume_parse() refuses and people misread: show what was rounded to a graduation, or to 10. */
void volume_format(int64_t ul, char *ret, size_t n);

/* A volume by mass, as vets say it: "10 mL/kg", "1 mL/100g", "1 mL/100 g", "10 mL per kg"; or by animal, "4 mL". */
enum volume_basis { VOLUME_PER_ANIMAL, VOLUME_PER_KG, VOLUME_PER_100G };
struct volume_rate {
	int64_t ul; /* per basis */
	enum volume_basis basis;
};
/* "/lb", "/oz", "/30 g", "/kg/day" are refused (VOLUME_BAD_UNIT): to be said anew by the vet. */
enum volume_parsed volume_parse_rate(const char *text, struct volume_rate *ret);
void volume_format_rate(const struct volume_rate *rate, char *ret, size_t n); /* 40 bytes; as volume_format() */
/* For an animal of mass_mg (> 0; else 0), rounded down to a whole microlitre. A smaller mass never gives more. */
int64_t volume_for(const struct volume_rate *rate, int64_t mass_mg);
/* Rounded down to a graduation (> 0; else 0), in whole microlitres. */
int64_t volume_round_down(int64_t ul, int64_t graduation_ul);

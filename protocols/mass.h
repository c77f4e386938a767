// SPDX-License-Identifier: MIT
#pragma once
/*
 * Exact masses. The one place where units become milligrams.
 * Above: decoders, quantities that people type. Below: nothing.
 *
 * 1 lb = 453.592 37 g exactly (international avoirdupois pound, NIST SP 811, appendix B); 1 oz = 1/16 lb.
 * A value that is no whole number of milligrams is rounded to the nearest, halves away from zero.
 */
#include <stdbool.h>
#include <stdint.h>

enum mass_unit {
	MASS_KILOGRAM, /* SIG unit 0x2702 */
	MASS_GRAM,     /* no SIG unit: for people only */
	MASS_POUND,    /* SIG unit 0x27B8 */
	MASS_OUNCE,    /* no SIG unit: for people only */
};

/* No scale of this trade weighs a tonne; beyond it a value is taken for damage. */
#define MASS_MAX_MG INT64_C(1000000000)

/*
 * mantissa * 10^exponent of unit, in milligrams. True and *ret_mg set, or false when the result's
 * magnitude is over MASS_MAX_MG (any exponent may be given; 0 is 0 whatever the exponent).
 */
bool mass_from_decimal(int64_t mantissa, int exponent, enum mass_unit unit, int64_t *ret_mg);

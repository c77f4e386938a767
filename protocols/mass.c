// SPDX-License-Identifier: MIT
#include "protocols/mass.h"

/* One unit in milligrams is factor * 10^exponent, exactly (NIST SP 811, appendix B). */
static const struct {
	int64_t factor;
	int exponent;
} units[] = {
	[MASS_KILOGRAM] = { 1, 6 },
	[MASS_GRAM] = { 1, 3 },
	[MASS_POUND] = { INT64_C(45359237), -2 },
	[MASS_OUNCE] = { INT64_C(28349523125), -6 }, /* a sixteenth of the pound */
};

/* A 64-bit mantissa times the largest factor is under 2.7e29, hence under half of 10^30. */
#define MAX_DIVISOR_EXPONENT 30

/* magnitude / 10^n to the nearest integer, halves up. */
static unsigned __int128 divide_rounded(unsigned __int128 magnitude, int64_t n)
{
	unsigned __int128 divisor = 1;

	if (n >= MAX_DIVISOR_EXPONENT)
		return 0;
	for (; n > 0; n--)
		divisor *= 10;
	return (magnitude + divisor / 2) / divisor;
}

bool mass_from_decimal(int64_t mantissa, int exponent, enum mass_unit unit, int64_t *ret_mg)
{
	bool negative = mantissa < 0;
	uint64_t digits = negative ? -(uint64_t)mantissa : (uint64_t)mantissa;
	unsigned __int128 magnitude = (unsigned __int128)digits * (uint64_t)units[unit].factor;
	int64_t power = (int64_t)exponent + units[unit].exponent;

	if (power < 0)
		magnitude = divide_rounded(magnitude, -power);
	/* Ends after ten rounds: either the power is used up, or the value is too large. */
	for (; power > 0 && magnitude > 0 && magnitude <= MASS_MAX_MG; power--)
		magnitude *= 10;
	if (magnitude > MASS_MAX_MG)
		return false;
	*ret_mg = negative ? -(int64_t)magnitude : (int64_t)magnitude;
	return true;
}

// SPDX-License-Identifier: MIT
#include "protocols/medfloat.h"

/*
 * Both forms: a signed exponent above a signed mantissa of some bits. With exponent 0, the two
 * largest mantissas and the three smallest are +infinity and NaN, NRes, the reserved pattern and
 * -infinity (IEEE 11073-20601; facts, section 4).
 */
static bool special(int32_t mantissa, int exponent, int bits)
{
	int32_t limit = INT32_C(1) << (bits - 1);

	return exponent == 0 && (mantissa >= limit - 2 || mantissa <= -limit + 2);
}

/* Two's complement of some bits. */
static int32_t extend(uint32_t raw, int bits)
{
	int32_t sign = INT32_C(1) << (bits - 1);

	return ((int32_t)raw ^ sign) - sign;
}

static bool split(uint32_t raw, int mantissa_bits, int exponent_bits, int32_t *ret_mantissa,
		  int *ret_exponent)
{
	int32_t mantissa = extend(raw & ((UINT32_C(1) << mantissa_bits) - 1), mantissa_bits);
	int exponent = extend(raw >> mantissa_bits, exponent_bits);

	if (special(mantissa, exponent, mantissa_bits))
		return false;
	*ret_mantissa = mantissa;
	*ret_exponent = exponent;
	return true;
}

bool medfloat16(uint16_t raw, int32_t *ret_mantissa, int *ret_exponent)
{
	return split(raw, 12, 4, ret_mantissa, ret_exponent);
}

bool medfloat32(uint32_t raw, int32_t *ret_mantissa, int *ret_exponent)
{
	return split(raw, 24, 8, ret_mantissa, ret_exponent);
}

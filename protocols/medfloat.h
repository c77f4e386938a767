// SPDX-License-Identifier: MIT
#pragma once
/*
 * IEEE 11073-20601 SFLOAT and FLOAT (medfloat16, medfloat32): decimal floating point, kept exact.
 * Above: the decoder for described masses. Below: nothing.
 * Special patterns exist with exponent 0 only (facts, section 4).
 */
#include <stdbool.h>
#include <stdint.h>

/* value = mantissa * 10^exponent; false for NaN, NRes, the infinities and the reserved pattern. */
bool medfloat16(uint16_t raw, int32_t *ret_mantissa, int *ret_exponent);
bool medfloat32(uint32_t raw, int32_t *ret_mantissa, int *ret_exponent);

// SPDX-License-Identifier: MIT
/*
 * Vectors P1 to P11 of the project's fact sheet, 8.5: worked out there with exact fractions from
 * the published layouts (GATT descriptor gatt.characteristic_presentation_format; IEEE
 * 11073-20601), not from this code. The examples that the descriptor's own publication gives (fact
 * sheet, 3.2) are here as kilograms.
 */
#include "tests/unit/protocols/decoding.h"

#define KILO(step) .unit = MASS_KILOGRAM, .step_mg = (step), NOBODY
#define POUND(step) .unit = MASS_POUND, .step_mg = (step), NOBODY

static const struct decoding vectors[] = {
	{ "P1 uint16", "C2 01", .description = "06 FD 02 27 01 00 00", .mass_mg = 450000,
	  KILO(1000) },
	{ "P2 uint32", "C9 11 00 00", .description = "08 FC 02 27 01 00 00", .mass_mg = 455300,
	  KILO(100) },
	{ "P3 sint16, negative", "FB FF", .description = "0E FD 02 27 01 00 00", .mass_mg = -5000,
	  KILO(1000) },
	{ "P4 lb, 453.59237 g", "64 00", .description = "06 FE B8 27 01 00 00", .mass_mg = 453592,
	  POUND(4536) },
	{ "P5 SFLOAT", "C2 D1", .description = "16 00 02 27 01 00 00", .mass_mg = 450000,
	  KILO(1000) },
	{ "P6 FLOAT", "C2 01 00 FD", .description = "17 00 02 27 01 00 00", .mass_mg = 450000,
	  KILO(1000) },
	{ "P7 FLOAT lb, 16601.480742 g", "6E 01 00 FF", .description = "17 00 B8 27 01 00 00",
	  .mass_mg = 16601481, POUND(45359) },
	{ "P8 degrees Celsius", "C4 09", .description = "06 FE 2F 27 01 00 00",
	  .refusal = PAYLOAD_UNSUPPORTED },
	{ "P9 NaN", "FF 07", .description = "16 00 02 27 01 00 00", .refusal = PAYLOAD_RESERVED },
	{ "P10 1 of 2", "C2", .description = "06 FD 02 27 01 00 00", .refusal = PAYLOAD_TRUNCATED },
	/* P11, the bad descriptor: test_presentation.c */

	/* The descriptor's own examples. 23 * 10^2 kg is no mass of this trade. */
	{ "GATT example, 3892 * 10^-3", "34 0F", .description = "06 FD 02 27 01 00 00",
	  .mass_mg = 3892000, KILO(1000) },
	{ "GATT example, 23 * 10^2", "17", .description = "04 02 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },

	/* Each integer format, from the table of formats in 3.2; step 10^-6 kg = 1 mg. */
	{ "uint8", "FF", .description = "04 FA 02 27 01 00 00", .mass_mg = 255, KILO(1) },
	{ "uint16", "FF FF", .description = "06 FA 02 27 01 00 00", .mass_mg = 65535, KILO(1) },
	{ "uint24", "01 02 03", .description = "07 FA 02 27 01 00 00", .mass_mg = 197121, KILO(1) },
	{ "uint32", "00 CA 9A 3B", .description = "08 FA 02 27 01 00 00", .mass_mg = 1000000000,
	  KILO(1) },
	{ "uint32, 1 mg over a tonne", "01 CA 9A 3B", .description = "08 FA 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "uint48", "01 02 03 00 00 00", .description = "09 FA 02 27 01 00 00", .mass_mg = 197121,
	  KILO(1) },
	{ "uint48, too large", "00 00 00 00 00 80", .description = "09 FA 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "uint64", "01 02 03 00 00 00 00 00", .description = "0A FA 02 27 01 00 00",
	  .mass_mg = 197121, KILO(1) },
	{ "uint64 2^63-1, tiny", "FF FF FF FF FF FF FF 7F", .description = "0A ED 02 27 01 00 00",
	  .mass_mg = 922337, KILO(1) },
	{ "uint64 2^63", "00 00 00 00 00 00 00 80", .description = "0A ED 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "sint8", "80", .description = "0C FA 02 27 01 00 00", .mass_mg = -128, KILO(1) },
	{ "sint16", "00 80", .description = "0E FA 02 27 01 00 00", .mass_mg = -32768, KILO(1) },
	{ "sint24", "FE FF FF", .description = "0F FA 02 27 01 00 00", .mass_mg = -2, KILO(1) },
	{ "sint32", "FE FF FF FF", .description = "10 FA 02 27 01 00 00", .mass_mg = -2, KILO(1) },
	{ "sint48", "FE FF FF FF FF FF", .description = "11 FA 02 27 01 00 00", .mass_mg = -2,
	  KILO(1) },
	{ "sint64", "FE FF FF FF FF FF FF FF", .description = "12 FA 02 27 01 00 00", .mass_mg = -2,
	  KILO(1) },
	{ "sint64, the smallest", "00 00 00 00 00 00 00 80", .description = "12 FA 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },

	/* Steps below a milligram are called one; halves away from zero. */
	{ "step 10^-9 kg", "F4 01", .description = "06 F7 02 27 01 00 00", .mass_mg = 1, KILO(1) },
	{ "0.5 mg, negative", "0C FE", .description = "0E F7 02 27 01 00 00", .mass_mg = -1,
	  KILO(1) },
	{ "exponent -128", "FF FF", .description = "06 80 02 27 01 00 00", .mass_mg = 0, KILO(1) },
	{ "exponent 127", "01", .description = "04 7F 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "zero with exponent 127", "00", .description = "04 7F 02 27 01 00 00", .mass_mg = 0,
	  KILO(MASS_MAX_MG) },
	{ "SFLOAT ignores the description's exponent", "C2 D1",
	  .description = "16 05 02 27 01 00 00", .mass_mg = 450000, KILO(1000) },
	{ "2.00 kg keeps its step", "C8 E0", .description = "16 00 02 27 01 00 00",
	  .mass_mg = 2000000, KILO(10000) },
	{ "trailing octet", "C2 01 07", .description = "06 FD 02 27 01 00 00", .trailing = 1,
	  .mass_mg = 450000, KILO(1000), .notes = PAYLOAD_NOTE_TRAILING },

	/* Special patterns: fact sheet, section 4. */
	{ "SFLOAT NRes", "00 08", .description = "16 00 02 27 01 00 00",
	  .refusal = PAYLOAD_RESERVED },
	{ "SFLOAT +inf", "FE 07", .description = "16 00 02 27 01 00 00",
	  .refusal = PAYLOAD_RESERVED },
	{ "SFLOAT -inf", "02 08", .description = "16 00 02 27 01 00 00",
	  .refusal = PAYLOAD_RESERVED },
	{ "SFLOAT reserved", "01 08", .description = "16 00 02 27 01 00 00",
	  .refusal = PAYLOAD_RESERVED },
	{ "FLOAT NaN", "FF FF 7F 00", .description = "17 00 02 27 01 00 00",
	  .refusal = PAYLOAD_RESERVED },
	{ "FLOAT NRes", "00 00 80 00", .description = "17 00 02 27 01 00 00",
	  .refusal = PAYLOAD_RESERVED },
	{ "SFLOAT 10^7 kg", "01 70", .description = "16 00 02 27 01 00 00",
	  .refusal = PAYLOAD_OUT_OF_RANGE },

	/* Not for us: facts, 3.2. */
	{ "boolean", "01", .description = "01 00 02 27 01 00 00", .refusal = PAYLOAD_UNSUPPORTED },
	{ "uint12", "01 00", .description = "05 FD 02 27 01 00 00",
	  .refusal = PAYLOAD_UNSUPPORTED },
	{ "uint128", "01", .description = "0B FD 02 27 01 00 00", .refusal = PAYLOAD_UNSUPPORTED },
	{ "float32", "00 00 80 3F", .description = "14 00 02 27 01 00 00",
	  .refusal = PAYLOAD_UNSUPPORTED },
	{ "UTF-8", "31", .description = "19 00 02 27 01 00 00", .refusal = PAYLOAD_UNSUPPORTED },
	{ "tonne", "01 00", .description = "06 FD 68 27 01 00 00", .refusal = PAYLOAD_UNSUPPORTED },
	{ "unitless", "01 00", .description = "06 FD 00 27 01 00 00",
	  .refusal = PAYLOAD_UNSUPPORTED },
	{ "no description", "01 00", .refusal = PAYLOAD_UNSUPPORTED },
};

static void test_vectors(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(vectors); i++)
		decoding_check(decode_described, &vectors[i]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_vectors),
	};

	return cmocka_run_group_tests_name("protocols/described", tests, NULL, NULL);
}

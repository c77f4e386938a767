// SPDX-License-Identifier: MIT
/*
 * Vectors W1 to W26 of the project's fact sheet, 8.1: worked out there with exact fractions from
 * the published table of Weight Measurement (GATT characteristic weight_measurement, Bluetooth
 * SIG), not from this code.
 */
#include "tests/unit/protocols/decoding.h"

#define LIVE "2026-11-25 13:45:30"

static const struct decoding good[] = {
	/* flags, weight LE, [stamp: year LE, month, day, h, m, s], [user], [BMI LE, height LE] */
	{ "W1 SI", "00 58 1B", .mass_mg = 35000000, KG, NOBODY },
	{ "W2 lb, 4535.9237 g", "01 E8 03", .mass_mg = 4535924, LB, NOBODY },
	{ "W3 zero is legal", "00 00 00", .mass_mg = 0, KG, NOBODY },
	{ "W4 the smallest SI", "00 01 00", .mass_mg = 5000, KG, NOBODY },
	{ "W5 the smallest lb, 4.5359237 g", "01 01 00", .mass_mg = 4536, LB, NOBODY },
	{ "W6 the largest SI", "00 FE FF", .mass_mg = 327670000, KG, NOBODY },
	{ "W7 the largest lb, 297257.2237558 g", "01 FE FF", .mass_mg = 297257224, LB, NOBODY },
	{ "W10 time", "02 3C 00 EA 07 0B 19 0D 2D 1E", .mass_mg = 300000, KG, NOBODY,
	  .stamp = LIVE },
	{ "W11 time, unknown user", "06 64 00 EA 07 02 1C 17 3B 3B FF", .mass_mg = 500000, KG,
	  .user = 0xFF, .stamp = "2026-02-28 23:59:59" },
	{ "W12 user", "04 D2 04 05", .mass_mg = 6170000, KG, .user = 5 },
	{ "W13 BMI, height", "08 B0 36 E5 00 D6 06", .mass_mg = 70000000, KG, NOBODY },
	{ "W14 all", "0E B0 36 EA 07 01 01 00 00 00 03 E5 00 D6 06", .mass_mg = 70000000, KG,
	  .user = 3, .stamp = "2026-01-01 00:00:00" },
	{ "W15 lb, all, 70179.8114864 g", "0F 70 3C E8 07 0C 1F 17 3B 3A 01 F4 00 B8 02",
	  .mass_mg = 70179811, LB, .user = 1, .stamp = "2024-12-31 23:59:58" },
	{ "W17 date not known", "02 58 1B 00 00 00 00 00 00 00", .mass_mg = 35000000, KG, NOBODY,
	  .stamp = "0000-00-00 00:00:00", .notes = PAYLOAD_NOTE_BAD_STAMP },
	{ "W18 no date", "02 3C 00 EA 07 0D 20 18 3C 3C", .mass_mg = 300000, KG, NOBODY,
	  .stamp = "2026-13-32 24:60:60", .notes = PAYLOAD_NOTE_BAD_STAMP },
	{ "W19 reserved bit 4", "10 58 1B", .mass_mg = 35000000, KG, NOBODY,
	  .notes = PAYLOAD_NOTE_RESERVED_BITS },
	{ "W20 reserved bits 4 to 7", "F0 58 1B", .mass_mg = 35000000, KG, NOBODY,
	  .notes = PAYLOAD_NOTE_RESERVED_BITS },
	{ "W21 two more octets", "00 58 1B AA BB", .trailing = 2, .mass_mg = 35000000, KG, NOBODY,
	  .notes = PAYLOAD_NOTE_TRAILING },
	{ "W26 octet order", "00 1B 58", .mass_mg = 112775000, KG, NOBODY },
};

static const struct decoding refused[] = {
	{ "W8 unsuccessful", "00 FF FF", .refusal = PAYLOAD_UNSUCCESSFUL },
	{ "W9 unsuccessful, lb", "01 FF FF", .refusal = PAYLOAD_UNSUCCESSFUL },
	{ "W16 unsuccessful, time, user", "06 FF FF EA 07 0B 19 0D 2D 1E 02",
	  .refusal = PAYLOAD_UNSUCCESSFUL },
	{ "W22 empty", "", .refusal = PAYLOAD_TRUNCATED },
	{ "W23 2 of 3", "00 58", .refusal = PAYLOAD_TRUNCATED },
	{ "W24 6 of 10", "02 58 1B EA 07 0B", .refusal = PAYLOAD_TRUNCATED },
	{ "W25 6 of 8", "0C 58 1B 01 E5 00", .refusal = PAYLOAD_TRUNCATED },
};

static void test_good(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(good); i++)
		decoding_check(decode_weight_measurement, &good[i]);
}

static void test_refused(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(refused); i++)
		decoding_check(decode_weight_measurement, &refused[i]);
}

/* The length of each combination of flags, as tabled in the fact sheet, 1.3 (computed there). */
static void test_lengths(void **state)
{
	static const size_t lengths[] = { 3, 3, 10, 10, 4, 4, 11, 11, 7, 7, 14, 14, 8, 8, 15, 15 };

	(void)state;
	for (uint8_t flags = 0; flags < N_OF(lengths); flags++) {
		for (size_t n = 0; n <= 16; n++) {
			uint8_t *octets = calloc(1, n ? n : 1);
			struct bytes value = { octets, n };
			struct payload p;
			enum payload_refusal refusal;

			assert_non_null(octets);
			if (n > 0)
				octets[0] = flags;
			refusal = decode_weight_measurement(value, NULL, &p);
			free(octets);
			assert_int_equal(refusal,
					 n < lengths[flags] ? PAYLOAD_TRUNCATED : PAYLOAD_OK);
			if (refusal == PAYLOAD_OK)
				assert_int_equal(p.notes & PAYLOAD_NOTE_TRAILING ? 1 : 0,
						 n > lengths[flags]);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_good),
		cmocka_unit_test(test_refused),
		cmocka_unit_test(test_lengths),
	};

	return cmocka_run_group_tests_name("protocols/weight_measurement", tests, NULL, NULL);
}

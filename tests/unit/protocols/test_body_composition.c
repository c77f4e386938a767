// SPDX-License-Identifier: MIT
/*
 * Vectors B1 to B12 of the project's fact sheet, 8.2: worked out there with exact fractions from
 * the published table of Body Composition Measurement (GATT characteristic
 * body_composition_measurement, Bluetooth SIG), not from this code.
 */
#include "tests/unit/protocols/decoding.h"

#define LIVE "2026-11-25 13:45:30"

static const struct decoding vectors[] = {
	/* flags LE, fat LE, [stamp], [user], [two octets each], [weight LE], [height LE] */
	{ "B1 SI", "00 04 C8 00 58 1B", .mass_mg = 35000000, KG, NOBODY },
	{ "B2 lb, 4535.9237 g", "01 04 C8 00 E8 03", .mass_mg = 4535924, LB, NOBODY },
	{ "B3 time, user", "06 04 DC 00 EA 07 0B 19 0D 2D 1E 02 B0 36", .mass_mg = 70000000, KG,
	  .user = 2, .stamp = LIVE },
	{ "B4 muscle mass is no weight", "38 04 C8 00 70 1F 90 01 20 1C 50 46", .mass_mg = 90000000,
	  KG, NOBODY },
	{ "B5 everything",
	  "FE 0F C8 00 EA 07 0B 19 0D 2D 1E 01 70 1F 90 01 20 1C A8 2F 10 27 B8 22 88 13 "
	  "B0 36 D6 06",
	  .mass_mg = 70000000, KG, .user = 1, .stamp = LIVE },
	{ "B6 unsuccessful", "06 10 FF FF EA 07 0B 19 0D 2D 1E 02",
	  .refusal = PAYLOAD_UNSUCCESSFUL },
	{ "B7 half of a pair", "02 14 C8 00 EA 07 0B 19 0D 2D 1E B0 36", .mass_mg = 70000000, KG,
	  NOBODY, .stamp = LIVE, .notes = PAYLOAD_NOTE_MULTI_PACKET },
	{ "B8 a height is no weight", "00 08 C8 00 D6 06", .refusal = PAYLOAD_NO_MASS },
	{ "B9 fat only", "00 00 C8 00", .refusal = PAYLOAD_NO_MASS },
	{ "B10 4 of 6", "00 04 C8 00", .refusal = PAYLOAD_TRUNCATED },
	{ "B11 3 of 4", "00 04 C8", .refusal = PAYLOAD_TRUNCATED },
	{ "B12 reserved bit 13", "00 24 C8 00 58 1B", .mass_mg = 35000000, KG, NOBODY,
	  .notes = PAYLOAD_NOTE_RESERVED_BITS },
	/* Not in the fact sheet; from its rules. */
	{ "trailing octet", "00 04 C8 00 58 1B AA", .trailing = 1, .mass_mg = 35000000, KG, NOBODY,
	  .notes = PAYLOAD_NOTE_TRAILING },
	{ "no date", "02 04 C8 00 EA 07 0D 19 0D 2D 1E B0 36", .mass_mg = 70000000, KG, NOBODY,
	  .stamp = "2026-13-25 13:45:30", .notes = PAYLOAD_NOTE_BAD_STAMP },
	/* All-ones is tabled as a special value of the fat only, 2.2. */
	{ "weight of all ones", "00 04 C8 00 FF FF", .mass_mg = 327675000, KG, NOBODY },
};

static void test_vectors(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(vectors); i++)
		decoding_check(decode_body_composition, &vectors[i]);
}

/* Fact sheet, 2.2: offset of the weight = 4 + 7 b1 + b2 + 2 (b3 + ... + b9); then the height. */
static void test_offset_of_the_weight(void **state)
{
	(void)state;
	for (unsigned bits = 0; bits < 1u << 12; bits++) {
		uint8_t octets[30] = { 0 };
		size_t at = 4, length;
		struct payload p;

		if (!(bits & 1u << 10))
			continue;
		at += bits & 1u << 1 ? 7 : 0;
		at += bits & 1u << 2 ? 1 : 0;
		for (unsigned b = 3; b <= 9; b++)
			at += bits & 1u << b ? 2 : 0;
		length = at + 2 + (bits & 1u << 11 ? 2 : 0);
		assert_true(length <= sizeof octets);
		octets[0] = (uint8_t)bits;
		octets[1] = (uint8_t)(bits >> 8);
		octets[at] = 0x58; /* 7000 counts */
		octets[at + 1] = 0x1B;
		assert_int_equal(
			decode_body_composition((struct bytes){ octets, length }, NULL, &p),
			PAYLOAD_OK);
		/* 35 kg; or 70 lb = 31 751.4659 g */
		assert_int_equal(p.mass_mg, bits & 1 ? 31751466 : 35000000);
		assert_int_equal(p.notes & PAYLOAD_NOTE_TRAILING, 0);
		assert_int_equal(
			decode_body_composition((struct bytes){ octets, length - 1 }, NULL, &p),
			PAYLOAD_TRUNCATED);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_vectors),
		cmocka_unit_test(test_offset_of_the_weight),
	};

	return cmocka_run_group_tests_name("protocols/body_composition", tests, NULL, NULL);
}

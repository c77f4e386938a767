// SPDX-License-Identifier: MIT
/* Weight: uint16, 0.005 kg a count (GATT characteristic weight, Bluetooth SIG: M = 5, d = -3; fact
 * sheet, 3.1). */
#include "tests/unit/protocols/decoding.h"

static const struct decoding vectors[] = {
	{ "7000 counts, 35 kg", "58 1B", .mass_mg = 35000000, KG, NOBODY },
	{ "zero", "00 00", .mass_mg = 0, KG, NOBODY },
	{ "one count", "01 00", .mass_mg = 5000, KG, NOBODY },
	{ "octet order", "1B 58", .mass_mg = 112775000, KG, NOBODY },
	{ "all ones: no special value is listed", "FF FF", .mass_mg = 327675000, KG, NOBODY },
	{ "trailing octets", "58 1B 00 01", .trailing = 2, .mass_mg = 35000000, KG, NOBODY,
	  .notes = PAYLOAD_NOTE_TRAILING },
	{ "empty", "", .refusal = PAYLOAD_TRUNCATED },
	{ "1 of 2", "58", .refusal = PAYLOAD_TRUNCATED },
};

static void test_vectors(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(vectors); i++)
		decoding_check(decode_weight, &vectors[i]);
}

/* Each of the 65536 values, exactly: 0.005 kg are 5000 mg. */
static void test_every_value(void **state)
{
	(void)state;
	for (unsigned raw = 0; raw <= UINT16_MAX; raw++) {
		uint8_t octets[] = { (uint8_t)raw, (uint8_t)(raw >> 8) };
		struct payload p;

		assert_int_equal(decode_weight((struct bytes){ octets, sizeof octets }, NULL, &p),
				 PAYLOAD_OK);
		assert_int_equal(p.mass_mg, INT64_C(5000) * raw);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_vectors),
		cmocka_unit_test(test_every_value),
	};

	return cmocka_run_group_tests_name("protocols/weight", tests, NULL, NULL);
}

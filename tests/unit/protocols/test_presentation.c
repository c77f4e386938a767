// SPDX-License-Identifier: MIT
/* Fact sheet, 3.2 and 8.5 (GATT descriptor gatt.characteristic_presentation_format, Bluetooth SIG).
 */
#include "protocols/presentation.h"
#include "tests/unit/protocols/octets.h"

#define GOOD "06 FD 02 27 01 34 12"

static void test_fields(void **state)
{
	struct octets o = octets_of(GOOD);
	struct presentation p;

	(void)state;
	assert_true(presentation_read(o.value, &p));
	octets_free(&o);
	assert_int_equal(p.format, 0x06);
	assert_int_equal(p.exponent, -3);
	assert_int_equal(p.unit, 0x2702);
	assert_int_equal(p.name_space, 1);
	assert_int_equal(p.description, 0x1234);
	assert_true(presentation_is_mass(&p));
}

/* P11: 6 octets are no descriptor; nor is any other length but 7. */
static void test_other_lengths(void **state)
{
	struct presentation before, p;

	(void)state;
	memset(&before, 0xA5, sizeof before);
	memset(&p, 0xA5, sizeof p);
	for (size_t n = 0; n <= 9; n++) {
		struct octets o = octets_first(GOOD " 00 00", n);
		bool read = presentation_read(o.value, &p);

		octets_free(&o);
		assert_int_equal(read, n == 7);
		if (n < 7)
			assert_memory_equal(&before, &p, sizeof p);
	}
}

/* The exponent is signed, all 256 of them. */
static void test_exponents(void **state)
{
	(void)state;
	for (int e = INT8_MIN; e <= INT8_MAX; e++) {
		const uint8_t octets[PRESENTATION_LENGTH] = { 0x06, (uint8_t)e, 0x02, 0x27,
							      0x01, 0,          0 };
		struct presentation p;

		assert_true(presentation_read((struct bytes){ octets, sizeof octets }, &p));
		assert_int_equal(p.exponent, e);
	}
}

/* All format codes: whole octets up to 64 bits, SFLOAT and FLOAT; the octets of each from the table
 * of 3.2. */
static void test_formats(void **state)
{
	static const size_t octets[256] = {
		[0x04] = 1, [0x06] = 2, [0x07] = 3,
		[0x08] = 4, [0x09] = 6, [0x0A] = 8, /* uint8 .. uint64 */
		[0x0C] = 1, [0x0E] = 2, [0x0F] = 3,
		[0x10] = 4, [0x11] = 6, [0x12] = 8, /* sint8 .. sint64 */
		[0x16] = 2, [0x17] = 4,             /* SFLOAT, FLOAT */
	};

	(void)state;
	for (unsigned format = 0; format <= UINT8_MAX; format++) {
		struct presentation p = { .format = (uint8_t)format, .unit = 0x27B8 };
		struct presentation_number number;

		assert_int_equal(presentation_is_mass(&p), octets[format] != 0);
		assert_int_equal(presentation_number((uint8_t)format, &number),
				 octets[format] != 0);
		if (octets[format] != 0)
			assert_int_equal(number.octets, octets[format]);
	}
}

/* All 65536 unit numbers: the kilogram and the pound, no other. */
static void test_units(void **state)
{
	(void)state;
	for (unsigned unit = 0; unit <= UINT16_MAX; unit++) {
		struct presentation p = { .format = 0x06, .unit = (uint16_t)unit };

		assert_int_equal(presentation_is_mass(&p), unit == 0x2702 || unit == 0x27B8);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_fields),    cmocka_unit_test(test_other_lengths),
		cmocka_unit_test(test_exponents), cmocka_unit_test(test_formats),
		cmocka_unit_test(test_units),
	};

	return cmocka_run_group_tests_name("protocols/presentation", tests, NULL, NULL);
}

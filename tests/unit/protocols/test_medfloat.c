// SPDX-License-Identifier: MIT
/*
 * Vectors F1 to F25 of the project's fact sheet, 8.3. F2 to F5 and F16 to F18 also stand in the
 * table of the HL7 Personal Health Device guide (build.fhir.org/ig/HL7/phd/FLOATS.html), the
 * special patterns in its section 4.
 */
#include "protocols/medfloat.h"
#include "tests/unit/protocols/octets.h"

struct vector {
	const char *source, *hex;
	int32_t mantissa;
	int exponent;
};

static const struct vector numbers[] = {
	{ "F1 114", "72 00", 114, 0 },
	{ "F2 2.0", "14 F0", 20, -1 },
	{ "F3 2.00", "C8 E0", 200, -2 },
	{ "F4 20", "02 10", 2, 1 },
	{ "F5 -1234", "2E 0B", -1234, 0 },
	{ "F6 0.450", "C2 D1", 450, -3 },
	{ "F7 0.00000001", "01 80", 1, -8 },
	{ "F8 10000000", "01 70", 1, 7 },
	{ "F9 204.7, no NaN", "FF F7", 2047, -1 },
	{ "F10 -204.8, no NRes", "00 F8", -2048, -1 },
	{ "F16 2.0", "14 00 00 FF", 20, -1 },
	{ "F17 200", "02 00 00 02", 2, 2 },
	{ "F18 -1234", "2E FB FF 00", -1234, 0 },
	{ "F19 0.450", "C2 01 00 FD", 450, -3 },
	{ "F20 2.047, no NaN", "FF 07 00 FD", 2047, -3 },
	/* Not in the fact sheet: the numbers next to the special patterns, and the ends of the
	   exponents. */
	{ "2045", "FD 07", 2045, 0 },
	{ "-2045", "03 08", -2045, 0 },
	{ "8388605", "FD FF 7F 00", 8388605, 0 },
	{ "-8388605", "03 00 80 00", -8388605, 0 },
	{ "8388607 * 10^-128", "FF FF 7F 80", 8388607, -128 },
	{ "-8388608 * 10^127", "00 00 80 7F", -8388608, 127 },
};

static const char *const specials[] = {
	"FF 07",       "00 08",       "FE 07",
	"02 08",       "01 08", /* F11 to F15: NaN, NRes, +inf, -inf, reserved */
	"FF FF 7F 00", "00 00 80 00", "FE FF 7F 00",
	"02 00 80 00", "01 00 80 00", /* F21 to F25: the same */
};

/* By the length of the octets: two are SFLOAT, four FLOAT. */
static bool run(const char *hex, int32_t *ret_mantissa, int *ret_exponent)
{
	struct octets o = octets_of(hex);
	size_t n = o.value.left;
	uint64_t raw;

	assert_true(bytes_uint(&o.value, n, &raw));
	octets_free(&o);
	return n == 2 ? medfloat16((uint16_t)raw, ret_mantissa, ret_exponent)
		      : medfloat32((uint32_t)raw, ret_mantissa, ret_exponent);
}

static void test_numbers(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(numbers); i++) {
		int32_t mantissa;
		int exponent;

		print_message("  %s\n", numbers[i].source);
		assert_true(run(numbers[i].hex, &mantissa, &exponent));
		assert_int_equal(mantissa, numbers[i].mantissa);
		assert_int_equal(exponent, numbers[i].exponent);
	}
}

static void test_specials(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(specials); i++) {
		int32_t mantissa = 77;
		int exponent = 77;

		assert_false(run(specials[i], &mantissa, &exponent));
		assert_int_equal(mantissa, 77);
		assert_int_equal(exponent, 77);
	}
}

/* Five of the 65536 short forms are special, and the others come back to the octets they came from.
 */
static void test_every_short_form(void **state)
{
	unsigned special = 0;

	(void)state;
	for (unsigned raw = 0; raw <= UINT16_MAX; raw++) {
		int32_t mantissa;
		int exponent;

		if (!medfloat16((uint16_t)raw, &mantissa, &exponent)) {
			special++;
			continue;
		}
		assert_in_range(mantissa + 2048, 0, 4095);
		assert_in_range(exponent + 8, 0, 15);
		assert_int_equal(((unsigned)exponent & 0xF) << 12 | ((unsigned)mantissa & 0xFFF),
				 raw);
	}
	assert_int_equal(special, 5);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_numbers),
		cmocka_unit_test(test_specials),
		cmocka_unit_test(test_every_short_form),
	};

	return cmocka_run_group_tests_name("protocols/medfloat", tests, NULL, NULL);
}

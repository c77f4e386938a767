// SPDX-License-Identifier: MIT
/*
 * Which characteristic is decoded by what. Numbers: fact sheet, 1.1, 2 and 3.1. The base of the
 * assigned numbers: Bluetooth Core Specification, Vol 3, Part B, 2.5.1 (from memory; the same in
 * the fact sheet, 3.2).
 */
#include "protocols/formats.h"
#include "protocols/presentation.h"
#include "tests/unit/protocols/octets.h"
#include <stdio.h>

#define BASE(number) "0000" number "-0000-1000-8000-00805f9b34fb"
#define VENDOR "8c1d0b52-3f6e-4d27-9a40-5be2716f9c13"

static const struct presentation mass = {
	.format = 0x06, .exponent = -3, .unit = 0x2702, .name_space = 1
};
static const struct presentation no_mass = {
	.format = 0x06, .exponent = -2, .unit = 0x272F, .name_space = 1
};

static void test_assigned_number(void **state)
{
	(void)state;
	assert_int_equal(format_assigned_number(BASE("2a9d")), 0x2A9D);
	assert_int_equal(format_assigned_number("00002A9D-0000-1000-8000-00805F9B34FB"), 0x2A9D);
	assert_int_equal(format_assigned_number("00002a9D-0000-1000-8000-00805F9b34Fb"), 0x2A9D);
	assert_int_equal(format_assigned_number(BASE("ffff")), 0xFFFF);
	assert_int_equal(format_assigned_number(BASE("0a09")), 0x0A09);
	assert_int_equal(format_assigned_number(BASE("0000")), 0);
}

static void test_no_assigned_number(void **state)
{
	static const char *const texts[] = {
		"",
		"2a9d",
		"0x2a9d",
		VENDOR,
		"00012a9d-0000-1000-8000-00805f9b34fb", /* a 32-bit number */
		BASE("2a9d") " ",
		BASE("2a9d") "0",
		" " BASE("2a9d"),
		"00002a9d-0000-1000-8000-00805f9b34fc",
		"00002a9d-0000-1000-8000-00805f9b34f",
		"00002a9d00001000800000805f9b34fb",
		"00002a9d-0000-1000-8000_00805f9b34fb",
		BASE("2axx"),
		BASE("xxxx"),
		BASE("2a9g"),
		BASE("2a9 "),
	};

	(void)state;
	for (size_t i = 0; i < N_OF(texts); i++)
		assert_int_equal(format_assigned_number(texts[i]), 0);
}

/* Each shorter text and each single wrong character, in memory that ends where the text does. */
static void test_damaged(void **state)
{
	const char *good = BASE("2a9d");
	const size_t length = strlen(good);

	(void)state;
	for (size_t n = 0; n < length; n++) {
		char *text = malloc(n + 1);

		assert_non_null(text);
		memcpy(text, good, n);
		text[n] = '\0';
		assert_int_equal(format_assigned_number(text), 0);
		free(text);

		text = strdup(good);
		assert_non_null(text);
		text[n] = '~';
		assert_int_equal(format_assigned_number(text), 0);
		free(text);
	}
}

static void test_table(void **state)
{
	static const uint16_t preferred[] = { 0x2A9D, 0x2A9C, 0, 0x2A98 };
	size_t n;
	const struct format *table = format_table(&n);

	(void)state;
	assert_int_equal(n, N_OF(preferred));
	for (size_t i = 0; i < n; i++) {
		char uuid[37];

		assert_int_equal(table[i].uuid16, preferred[i]);
		assert_non_null(table[i].name);
		assert_non_null(table[i].decode);
		(void)snprintf(uuid, sizeof uuid, "0000%04x-0000-1000-8000-00805f9b34fb",
			       table[i].uuid16);
		if (table[i].uuid16 != 0)
			assert_ptr_equal(format_for(uuid, NULL), &table[i]);
	}
}

static void test_choice(void **state)
{
	(void)state;
	assert_ptr_equal(format_for(BASE("2a9d"), NULL)->decode, decode_weight_measurement);
	assert_ptr_equal(format_for(BASE("2a9c"), NULL)->decode, decode_body_composition);
	assert_ptr_equal(format_for(BASE("2a98"), NULL)->decode, decode_weight);
	/* The number wins over the description. */
	assert_ptr_equal(format_for(BASE("2a98"), &mass)->decode, decode_weight);
	assert_ptr_equal(format_for(VENDOR, &mass)->decode, decode_described);
	assert_ptr_equal(format_for("no uuid", &mass)->decode, decode_described);
	assert_null(format_for(VENDOR, NULL));
	assert_null(format_for(VENDOR, &no_mass));
	assert_null(format_for(BASE("2a19"), NULL)); /* battery level */
	assert_null(format_for(BASE("2b02"), NULL)); /* mass flow: no weight, fact sheet 3.1 */
	assert_null(format_for(BASE("2c07"), NULL)); /* force: no weight */
	assert_null(format_for(BASE("0000"), NULL));
	assert_null(format_for("", NULL));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_assigned_number), cmocka_unit_test(test_no_assigned_number),
		cmocka_unit_test(test_damaged),         cmocka_unit_test(test_table),
		cmocka_unit_test(test_choice),
	};

	return cmocka_run_group_tests_name("protocols/formats", tests, NULL, NULL);
}

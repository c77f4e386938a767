// SPDX-License-Identifier: MIT
/* Little-endian, as in GATT (Bluetooth Core Specification, Vol 3, Part G, 2.4). */
#include "tests/unit/protocols/octets.h"

static void test_each_width(void **state)
{
	struct octets o = octets_of("01 02 03 04 05 06 07 08 09 0A");
	struct bytes b = o.value;
	uint8_t u8;
	uint16_t u16;
	uint32_t u24, u32;

	(void)state;
	assert_true(bytes_u8(&b, &u8));
	assert_int_equal(u8, 0x01);
	assert_true(bytes_u16(&b, &u16));
	assert_int_equal(u16, 0x0302);
	assert_true(bytes_u24(&b, &u24));
	assert_int_equal(u24, 0x060504);
	assert_true(bytes_u32(&b, &u32));
	assert_int_equal(u32, 0x0A090807);
	assert_int_equal(b.left, 0);
	assert_ptr_equal(b.at, o.value.at + 10);
	octets_free(&o);
}

static void test_unsigned(void **state)
{
	static const uint64_t values[] = { 0,
					   0x81,
					   0x8281,
					   0x838281,
					   0x84838281,
					   0x8584838281,
					   0x868584838281,
					   0x87868584838281,
					   0x8887868584838281 };

	(void)state;
	for (size_t n = 1; n <= 8; n++) {
		struct octets o = octets_first("81 82 83 84 85 86 87 88", n);
		uint64_t value;

		assert_true(bytes_uint(&o.value, n, &value));
		assert_true(value == values[n]);
		assert_int_equal(o.value.left, 0);
		octets_free(&o);
	}
}

static void check_signed(const char *hex, int64_t expected)
{
	struct octets o = octets_of(hex);
	int64_t value;

	assert_true(bytes_sint(&o.value, o.value.left, &value));
	assert_true(value == expected);
	octets_free(&o);
}

static void test_signed(void **state)
{
	(void)state;
	check_signed("7F", 127);
	check_signed("80", -128);
	check_signed("FF", -1);
	check_signed("FB FF", -5);
	check_signed("FF 7F", 32767);
	check_signed("00 00 80", -8388608);
	check_signed("FF FF 7F", 8388607);
	check_signed("00 00 00 80", INT32_MIN);
	check_signed("FF FF FF FF FF 7F", INT64_C(140737488355327)); /* 2^47 - 1 */
	check_signed("00 00 00 00 00 80", -INT64_C(140737488355328));
	check_signed("FF FF FF FF FF FF FF 7F", INT64_MAX);
	check_signed("00 00 00 00 00 00 00 80", INT64_MIN);
	check_signed("FF FF FF FF FF FF FF FF", -1);
}

/* Nothing is taken, and nothing written. */
static void test_too_few(void **state)
{
	(void)state;
	for (size_t left = 0; left < 8; left++) {
		struct octets o = octets_first("01 02 03 04 05 06 07 08", left);
		struct bytes b = o.value;
		uint8_t u8 = 77;
		uint16_t u16 = 77;
		uint32_t u32 = 77;
		uint64_t u = 77;
		int64_t s = 77;

		assert_false(left < 1 && bytes_u8(&b, &u8));
		assert_false(left < 2 && bytes_u16(&b, &u16));
		assert_false(left < 3 && bytes_u24(&b, &u32));
		assert_false(left < 4 && bytes_u32(&b, &u32));
		for (size_t n = left + 1; n <= 8; n++) {
			assert_false(bytes_uint(&b, n, &u));
			assert_false(bytes_sint(&b, n, &s));
			assert_false(bytes_skip(&b, n));
		}
		assert_int_equal(u8 + u16, 2 * 77);
		assert_true(u32 == 77 && u == 77 && s == 77);
		assert_int_equal(b.left, left);
		assert_ptr_equal(b.at, o.value.at);
		octets_free(&o);
	}
}

static void test_no_such_width(void **state)
{
	struct octets o = octets_of("01 02 03 04 05 06 07 08 09 0A");
	uint64_t u = 77;
	int64_t s = 77;

	(void)state;
	assert_false(bytes_uint(&o.value, 0, &u));
	assert_false(bytes_uint(&o.value, 9, &u));
	assert_false(bytes_sint(&o.value, 0, &s));
	assert_false(bytes_sint(&o.value, 9, &s));
	assert_true(u == 77 && s == 77);
	assert_int_equal(o.value.left, 10);
	octets_free(&o);
}

static void test_skip(void **state)
{
	struct octets o = octets_of("01 02 03");
	struct bytes none = { NULL, 0 };
	uint8_t u8;

	(void)state;
	assert_true(bytes_skip(&o.value, 0));
	assert_true(bytes_skip(&o.value, 2));
	assert_false(bytes_skip(&o.value, SIZE_MAX));
	assert_true(bytes_u8(&o.value, &u8));
	assert_int_equal(u8, 3);
	assert_true(bytes_skip(&o.value, 0));
	assert_false(bytes_skip(&o.value, 1));
	assert_true(bytes_skip(&none, 0));
	assert_false(bytes_skip(&none, 1));
	assert_false(bytes_u8(&none, &u8));
	octets_free(&o);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_each_width),    cmocka_unit_test(test_unsigned),
		cmocka_unit_test(test_signed),        cmocka_unit_test(test_too_few),
		cmocka_unit_test(test_no_such_width), cmocka_unit_test(test_skip),
	};

	return cmocka_run_group_tests_name("protocols/bytes", tests, NULL, NULL);
}

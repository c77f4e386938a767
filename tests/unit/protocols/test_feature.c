// SPDX-License-Identifier: MIT
/* The tables of the fact sheet, 1.2 and 2.1 (GATT characteristics weight_scale_feature and
 * body_composition_feature). */
#include "protocols/feature.h"
#include "tests/unit/protocols/octets.h"

/* Code 0 to 7 in kg and lb; a pound is 453592.37 mg, so 0.5 lb 226796.185, 0.2 lb 90718.474, 0.1 lb
 * 45359.237, 0.05 lb 22679.6185, 0.02 lb 9071.8474, 0.01 lb 4535.9237. */
static const int64_t kg_mg[] = { 0, 500000, 200000, 100000, 50000, 20000, 10000, 5000 };
static const int64_t lb_mg[] = { 0, 453592, 226796, 90718, 45359, 22680, 9072, 4536 };

typedef bool feature_function(struct bytes value, struct feature *ret);

static struct feature read_bits(feature_function *function, uint32_t bits)
{
	const uint8_t octets[] = { (uint8_t)bits, (uint8_t)(bits >> 8), (uint8_t)(bits >> 16),
				   (uint8_t)(bits >> 24) };
	struct feature f;

	assert_true(function((struct bytes){ octets, sizeof octets }, &f));
	return f;
}

static void check_codes(feature_function *function, unsigned shift)
{
	for (uint32_t code = 0; code <= 15; code++) {
		/* all other bits off, and all on */
		for (uint32_t rest = 0; rest <= 1; rest++) {
			uint32_t mask = UINT32_C(15) << shift;
			struct feature f = read_bits(function, code << shift | (rest ? ~mask : 0));

			assert_int_equal(f.resolution, code);
			assert_int_equal(f.resolution_kg_mg, code < 8 ? kg_mg[code] : 0);
			assert_int_equal(f.resolution_lb_mg, code < 8 ? lb_mg[code] : 0);
			assert_int_equal(f.time_stamp, rest);
			assert_int_equal(f.multiple_users, rest);
		}
	}
}

/* One bit at a time: what is said about time and users is in bits 0 and 1 of both. */
static void check_bits(feature_function *function)
{
	for (unsigned bit = 0; bit < 32; bit++) {
		struct feature f = read_bits(function, UINT32_C(1) << bit);

		assert_int_equal(f.time_stamp, bit == 0);
		assert_int_equal(f.multiple_users, bit == 1);
	}
}

static void check_lengths(feature_function *function)
{
	for (size_t n = 0; n <= 5; n++) {
		struct octets o = octets_first("3B 00 00 00 FF", n);
		struct feature before, f;
		bool read;

		memset(&before, 0xA5, sizeof before);
		memset(&f, 0xA5, sizeof f);
		read = function(o.value, &f);
		octets_free(&o);
		assert_int_equal(read, n >= 4);
		if (n < 4)
			assert_memory_equal(&before, &f, sizeof f);
	}
}

static void test_weight_scale(void **state)
{
	(void)state;
	check_codes(feature_weight_scale, 3);
	check_bits(feature_weight_scale);
	check_lengths(feature_weight_scale);
}

static void test_body_composition(void **state)
{
	(void)state;
	check_codes(feature_body_composition, 11);
	check_bits(feature_body_composition);
	check_lengths(feature_body_composition);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_weight_scale),
		cmocka_unit_test(test_body_composition),
	};

	return cmocka_run_group_tests_name("protocols/feature", tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/*
 * The exact factors are published: 1 lb = 0.453 592 37 kg (NIST SP 811, appendix B; international
 * avoirdupois pound), 1 oz = 1/16 lb = 28.349 523 125 g. Products below were worked out with exact
 * fractions.
 */
#include "protocols/mass.h"
#include "tests/unit/protocols/octets.h"
#include <limits.h>

static const struct {
	int64_t mantissa;
	int exponent;
	enum mass_unit unit;
	int64_t mass_mg;
} good[] = {
	{ 1, 0, MASS_KILOGRAM, 1000000 },
	{ 1, 0, MASS_GRAM, 1000 },
	{ 1, 0, MASS_POUND, 453592 }, /* 453592.37 */
	{ 1, 0, MASS_OUNCE, 28350 },  /* 28349.523125 */
	{ 100, 0, MASS_POUND, 45359237 },
	{ 16, 0, MASS_OUNCE, 453592 },
	{ 1600, 0, MASS_OUNCE, 45359237 },
	{ 35264, 0, MASS_OUNCE, 999717583 },  /* 999717583.48 */
	{ 35266, 0, MASS_OUNCE, 999774283 },  /* 999774282.52625 */
	{ 107, -1, MASS_OUNCE, 303340 },      /* 303339.8974375 */
	{ 1000, -2, MASS_POUND, 4535924 },    /* W2 of the fact sheet: 4535.9237 g */
	{ 15472, -2, MASS_POUND, 70179811 },  /* W15: 70179.8114864 g */
	{ 65534, -2, MASS_POUND, 297257224 }, /* W7: 297257.2237558 g */
	{ 366, -1, MASS_POUND, 16601481 },    /* P7: 16601.480742 g */
	{ 450, -3, MASS_KILOGRAM, 450000 },   /* P1 */
	{ 4553, -4, MASS_KILOGRAM, 455300 },  /* P2 */
	{ -5, -3, MASS_KILOGRAM, -5000 },     /* P3 */
	/* halves away from zero */
	{ 5, -4, MASS_GRAM, 1 },
	{ -5, -4, MASS_GRAM, -1 },
	{ 15, -4, MASS_GRAM, 2 },
	{ 25, -4, MASS_GRAM, 3 },
	{ -25, -4, MASS_GRAM, -3 },
	{ 4, -4, MASS_GRAM, 0 },
	{ 49999999999999, -17, MASS_GRAM, 0 },
	{ 50000000000000, -17, MASS_GRAM, 1 },
	/* any exponent */
	{ 0, INT_MAX, MASS_KILOGRAM, 0 },
	{ 0, INT_MIN, MASS_OUNCE, 0 },
	{ 1, INT_MIN, MASS_OUNCE, 0 },
	{ INT64_MAX, INT_MIN, MASS_KILOGRAM, 0 },
	{ INT64_MIN, INT_MIN, MASS_OUNCE, 0 },
	{ INT64_MAX, -18, MASS_KILOGRAM, 9223372 }, /* 9.223372036854775807 kg */
	{ INT64_MIN, -18, MASS_KILOGRAM, -9223372 },
	{ INT64_MAX, -18, MASS_OUNCE, 261478 }, /* 9.223372... oz = 261478.19... mg */
	{ INT64_MAX, -23, MASS_OUNCE, 3 },      /* 2.6147... */
	{ INT64_MAX, -24, MASS_OUNCE, 0 },      /* 0.26147... */
	{ INT64_MAX, -24, MASS_KILOGRAM, 9 },
	{ INT64_MAX, -25, MASS_KILOGRAM, 1 }, /* 0.92 */
	{ INT64_MAX, -26, MASS_KILOGRAM, 0 },
};

static void test_good(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(good); i++) {
		int64_t mass_mg = 77;

		assert_true(mass_from_decimal(good[i].mantissa, good[i].exponent, good[i].unit,
					      &mass_mg));
		assert_int_equal(mass_mg, good[i].mass_mg);
	}
}

static const struct {
	int64_t mantissa;
	int exponent;
	enum mass_unit unit;
} too_large[] = {
	{ 1001, 0, MASS_KILOGRAM },
	{ -1001, 0, MASS_KILOGRAM },
	{ 1000000001, -6, MASS_KILOGRAM },
	{ -1000000001, -6, MASS_KILOGRAM },
	{ 10000000005, -7, MASS_KILOGRAM }, /* rounds to 1 mg over a tonne */
	{ 2205, 0, MASS_POUND },
	{ 35274, 0, MASS_OUNCE },
	{ 1, 4, MASS_KILOGRAM },
	{ 1, INT_MAX, MASS_GRAM },
	{ -1, INT_MAX, MASS_KILOGRAM },
	{ INT64_MAX, INT_MAX, MASS_OUNCE },
	{ INT64_MIN, INT_MAX, MASS_OUNCE },
	{ INT64_MAX, 0, MASS_KILOGRAM },
	{ INT64_MIN, 0, MASS_GRAM },
	{ INT64_MAX, -5, MASS_OUNCE },
};

static void test_limits(void **state)
{
	int64_t mass_mg = 77;

	(void)state;
	for (size_t i = 0; i < N_OF(too_large); i++) {
		assert_false(mass_from_decimal(too_large[i].mantissa, too_large[i].exponent,
					       too_large[i].unit, &mass_mg));
		assert_int_equal(mass_mg, 77);
	}
	assert_true(mass_from_decimal(1000, 0, MASS_KILOGRAM, &mass_mg));
	assert_int_equal(mass_mg, MASS_MAX_MG);
	assert_true(mass_from_decimal(-1, 3, MASS_KILOGRAM, &mass_mg));
	assert_int_equal(mass_mg, -MASS_MAX_MG);
	assert_true(mass_from_decimal(10000000004, -7, MASS_KILOGRAM, &mass_mg));
	assert_int_equal(mass_mg, MASS_MAX_MG);
	assert_true(mass_from_decimal(2204, 0, MASS_POUND, &mass_mg)); /* 999 717 583.48 mg */
	assert_int_equal(mass_mg, 999717583);
}

/* However the zeros are parted between mantissa and exponent, the mass is the same; so is its
 * mirror. */
static void test_same_value_many_ways(void **state)
{
	(void)state;
	for (enum mass_unit unit = MASS_KILOGRAM; unit <= MASS_OUNCE; unit++) {
		for (int64_t m = 1; m < 2000; m += 7) {
			int64_t first, scaled = m;

			assert_true(mass_from_decimal(m, -4, unit, &first));
			for (int e = -5; e >= -18; e--) {
				int64_t other;

				scaled *= 10;
				assert_true(mass_from_decimal(scaled, e, unit, &other));
				assert_int_equal(other, first);
				assert_true(mass_from_decimal(-scaled, e, unit, &other));
				assert_int_equal(other, -first);
			}
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_good),
		cmocka_unit_test(test_limits),
		cmocka_unit_test(test_same_value_many_ways),
	};

	return cmocka_run_group_tests_name("protocols/mass", tests, NULL, NULL);
}

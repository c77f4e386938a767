// SPDX-License-Identifier: MIT
/*
 * Formats that a user declares. P1 to P4 of the fact sheet, 8.5, are the same numbers as a described mass would carry;
 * the rest is worked out by hand: two's complement, the place value of octets, 1 lb = 453.59237 g, 1 oz = 28.349523125
 * g (NIST SP 811, appendix B).
 */
#include "protocols/declared.h"
#include "tests/unit/protocols/octets.h"

#define NO_BITS .steady_bit = DECLARED_NO_BIT, .tare_bit = DECLARED_NO_BIT
#define NUMBER(octets, f, e, u) .width = (octets), .factor = (f), .exponent = (e), .unit = (u), NO_BITS
#define BIG .big_endian = true
#define SIGNED .is_signed = true

static const struct row {
	const char *what, *hex;
	struct declared declared;
	enum payload_refusal refusal;
	int64_t mass_mg, step_mg;
	enum payload_steady steady;
	bool tared;
	size_t trailing; /* octets at the end that the format doesn't name */
} rows[] = {
	{ "P1", "C2 01", { NUMBER(2, 1, -3, MASS_KILOGRAM) }, .mass_mg = 450000, .step_mg = 1000 },
	{ "P2", "C9 11 00 00", { NUMBER(4, 1, -4, MASS_KILOGRAM) }, .mass_mg = 455300, .step_mg = 100 },
	{ "P3", "FB FF", { NUMBER(2, 1, -3, MASS_KILOGRAM), SIGNED }, .mass_mg = -5000, .step_mg = 1000 },
	{ "P4", "64 00", { NUMBER(2, 1, -2, MASS_POUND) }, .mass_mg = 453592, .step_mg = 4536 },

	{ "1 octet", "FF", { NUMBER(1, 1, 0, MASS_GRAM) }, .mass_mg = 255000, .step_mg = 1000 },
	{ "3", "D4 0B 00", { NUMBER(3, 1, -1, MASS_GRAM) }, .mass_mg = 302800, .step_mg = 100 },
	{ "5", "01 02 03 00 00", { NUMBER(5, 1, -3, MASS_GRAM) }, .mass_mg = 197121, .step_mg = 1 },
	{ "6", "00 CA 9A 3B 00 00", { NUMBER(6, 1, -3, MASS_GRAM) }, .mass_mg = 1000000000, .step_mg = 1 },
	{ "7", "02 00 00 00 00 00 00", { NUMBER(7, 5, -1, MASS_KILOGRAM) }, .mass_mg = 1000000, .step_mg = 500000 },
	{ "8", "FF FF FF FF FF FF FF 7F", { NUMBER(8, 1, -16, MASS_GRAM) }, .mass_mg = 922337, .step_mg = 1 },
	{ "1 octet, big", "FF", { NUMBER(1, 1, 0, MASS_GRAM), BIG }, .mass_mg = 255000, .step_mg = 1000 },
	{ "2, big", "01 C2", { NUMBER(2, 1, -3, MASS_KILOGRAM), BIG }, .mass_mg = 450000, .step_mg = 1000 },
	{ "3, big", "00 0B D4", { NUMBER(3, 1, -1, MASS_GRAM), BIG }, .mass_mg = 302800, .step_mg = 100 },
	{ "4, big", "00 00 11 C9", { NUMBER(4, 1, -4, MASS_KILOGRAM), BIG }, .mass_mg = 455300, .step_mg = 100 },
	{ "5, big", "00 00 03 02 01", { NUMBER(5, 1, -3, MASS_GRAM), BIG }, .mass_mg = 197121, .step_mg = 1 },
	{ "8, big", "7F FF FF FF FF FF FF FF", { NUMBER(8, 1, -16, MASS_GRAM), BIG }, .mass_mg = 922337, .step_mg = 1 },

	{ "-1 in 1", "FF", { NUMBER(1, 1, 0, MASS_GRAM), SIGNED }, .mass_mg = -1000, .step_mg = 1000 },
	{ "-128 in 1", "80", { NUMBER(1, 1, 0, MASS_GRAM), SIGNED, BIG }, .mass_mg = -128000, .step_mg = 1000 },
	{ "127 in 1", "7F", { NUMBER(1, 1, 0, MASS_GRAM), SIGNED }, .mass_mg = 127000, .step_mg = 1000 },
	{ "300 in 2", "2C 01", { NUMBER(2, 1, 0, MASS_GRAM), SIGNED }, .mass_mg = 300000, .step_mg = 1000 },
	{ "256 in 3, big",
	  "00 01 00",
	  { NUMBER(3, 1, 0, MASS_GRAM), SIGNED, BIG },
	  .mass_mg = 256000,
	  .step_mg = 1000 },
	{ "-2 in 3", "FE FF FF", { NUMBER(3, 1, 0, MASS_GRAM), SIGNED }, .mass_mg = -2000, .step_mg = 1000 },
	{ "-2 in 3, big", "FF FF FE", { NUMBER(3, 1, 0, MASS_GRAM), SIGNED, BIG }, .mass_mg = -2000, .step_mg = 1000 },
	{ "-2 in 7, big",
	  "FF FF FF FF FF FF FE",
	  { NUMBER(7, 1, 0, MASS_GRAM), SIGNED, BIG },
	  .mass_mg = -2000,
	  .step_mg = 1000 },
	{ "-2 in 8",
	  "FE FF FF FF FF FF FF FF",
	  { NUMBER(8, 1, 0, MASS_GRAM), SIGNED },
	  .mass_mg = -2000,
	  .step_mg = 1000 },
	{ "-2 in 8, big",
	  "FF FF FF FF FF FF FF FE",
	  { NUMBER(8, 1, 0, MASS_GRAM), SIGNED, BIG },
	  .mass_mg = -2000,
	  .step_mg = 1000 },

	{ "1 oz", "10", { NUMBER(1, 625, -4, MASS_OUNCE) }, .mass_mg = 28350, .step_mg = 1772 },
	{ "0.01 lb, 7486", "3E 1D", { NUMBER(2, 1, -2, MASS_POUND) }, .mass_mg = 33955925, .step_mg = 4536 },
	{ "half a milligram", "01", { NUMBER(1, 5, -4, MASS_GRAM) }, .mass_mg = 1, .step_mg = 1 },
	{ "less", "01", { NUMBER(1, 4, -4, MASS_GRAM) }, .mass_mg = 0, .step_mg = 1 },
	{ "half a milligram below zero", "FF", { NUMBER(1, 5, -4, MASS_GRAM), SIGNED }, .mass_mg = -1, .step_mg = 1 },
	{ "a factor of 18 digits",
	  "02 00",
	  { NUMBER(2, INT64_C(123456789012345678), -18, MASS_GRAM) },
	  .mass_mg = 247,
	  .step_mg = 123 },
	{ "a scale that counts downwards", "05", { NUMBER(1, -1, 0, MASS_GRAM) }, .mass_mg = -5000, .step_mg = 1000 },
	{ "zero, whatever the factor",
	  "00",
	  { NUMBER(1, 1, 20, MASS_KILOGRAM) },
	  .mass_mg = 0,
	  .step_mg = MASS_MAX_MG },

	{ "a tonne", "00 CA 9A 3B", { NUMBER(4, 1, -3, MASS_GRAM) }, .mass_mg = 1000000000, .step_mg = 1 },
	{ "1 mg over", "01 CA 9A 3B", { NUMBER(4, 1, -3, MASS_GRAM) }, .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "1 mg under minus a tonne",
	  "FF 35 65 C4",
	  { NUMBER(4, 1, -3, MASS_GRAM), SIGNED },
	  .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "2^63", "00 00 00 00 00 00 00 80", { NUMBER(8, 1, -19, MASS_GRAM) }, .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "-2^63",
	  "00 00 00 00 00 00 00 80",
	  { NUMBER(8, 1, -16, MASS_GRAM), SIGNED },
	  .mass_mg = -922337,
	  .step_mg = 1 },
	{ "over 63 bits with its factor",
	  "FF FF FF FF FF FF FF 7F",
	  { NUMBER(8, 2, -25, MASS_GRAM) },
	  .refusal = PAYLOAD_OUT_OF_RANGE },
	{ "-2^63 times -1",
	  "00 00 00 00 00 00 00 80",
	  { NUMBER(8, -1, -20, MASS_GRAM), SIGNED },
	  .refusal = PAYLOAD_OUT_OF_RANGE },

	{ "offset", "AA BB C2 01", { .offset = 2, NUMBER(2, 1, 0, MASS_GRAM) }, .mass_mg = 450000, .step_mg = 1000 },
	{ "octets after it",
	  "AA C2 01 DD EE",
	  { .offset = 1, NUMBER(2, 1, 0, MASS_GRAM) },
	  .mass_mg = 450000,
	  .step_mg = 1000,
	  .trailing = 2 },

	/* the octets printed in README.md and in the sample of bismard.conf */
	{ "steady",
	  "51 01 D4 0B 00",
	  { .offset = 2,
	    .width = 3,
	    .factor = 1,
	    .exponent = -1,
	    .unit = MASS_GRAM,
	    .steady_bit = 8,
	    .tare_bit = DECLARED_NO_BIT },
	  .mass_mg = 302800,
	  .step_mg = 100,
	  .steady = PAYLOAD_STEADY_YES },
	{ "not steady",
	  "51 00 D9 0B 00",
	  { .offset = 2,
	    .width = 3,
	    .factor = 1,
	    .exponent = -1,
	    .unit = MASS_GRAM,
	    .steady_bit = 8,
	    .tare_bit = DECLARED_NO_BIT },
	  .mass_mg = 303300,
	  .step_mg = 100,
	  .steady = PAYLOAD_STEADY_NO },
	{ "tared, by the last bit of an octet after the mass",
	  "05 01 D4 0B 00 80",
	  { .offset = 2,
	    .width = 3,
	    .factor = 1,
	    .exponent = -1,
	    .unit = MASS_GRAM,
	    .steady_bit = 8,
	    .tare_bit = 5 * 8 + 7 },
	  .mass_mg = 302800,
	  .step_mg = 100,
	  .steady = PAYLOAD_STEADY_YES,
	  .tared = true },
	{ "all other bits",
	  "05 FE D4 0B 00 7F",
	  { .offset = 2,
	    .width = 3,
	    .factor = 1,
	    .exponent = -1,
	    .unit = MASS_GRAM,
	    .steady_bit = 8,
	    .tare_bit = 5 * 8 + 7 },
	  .mass_mg = 302800,
	  .step_mg = 100,
	  .steady = PAYLOAD_STEADY_NO },
	{ "steady told in the last octet, two after the mass",
	  "2C 01 00 80",
	  { .width = 2, .factor = 1, .unit = MASS_GRAM, .steady_bit = 3 * 8 + 7, .tare_bit = DECLARED_NO_BIT },
	  .mass_mg = 300000,
	  .step_mg = 1000,
	  .steady = PAYLOAD_STEADY_YES },
	{ "a mark within the mass's own octets",
	  "02 80",
	  { .width = 2, .factor = 1, .unit = MASS_GRAM, SIGNED, .steady_bit = 15, .tare_bit = DECLARED_NO_BIT },
	  .mass_mg = -32766000,
	  .step_mg = 1000,
	  .steady = PAYLOAD_STEADY_YES },
};

static enum payload_refusal decode(const struct row *row, size_t n, struct payload *ret)
{
	struct octets o = octets_first(row->hex, n);
	enum payload_refusal refusal = declared_decode(&row->declared, o.value, ret);

	octets_free(&o);
	return refusal;
}

static void check_refused(const struct row *row, size_t n, enum payload_refusal refusal)
{
	struct payload p, before;

	memset(&p, 0xA5, sizeof p);
	memset(&before, 0xA5, sizeof before);
	assert_int_equal(decode(row, n, &p), refusal);
	assert_memory_equal(&p, &before, sizeof p);
}

static void check_decoded(const struct row *row, size_t n)
{
	struct payload p;

	memset(&p, 0xA5, sizeof p);
	assert_int_equal(decode(row, n, &p), PAYLOAD_OK);
	assert_int_equal(p.mass_mg, row->mass_mg);
	assert_int_equal(p.step_mg, row->step_mg);
	assert_int_equal(p.unit, row->declared.unit);
	assert_int_equal(p.steady, row->steady);
	assert_int_equal(p.tared, row->tared);
	assert_false(p.has_stamp);
	assert_false(p.has_user);
	assert_int_equal(p.notes, 0);
}

static void test_rows(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++) {
		size_t length = (strlen(rows[i].hex) + 1) / 3, needed = length - rows[i].trailing;

		print_message("  %s: %s\n", rows[i].what, rows[i].hex);
		for (size_t n = 0; n < needed; n++)
			check_refused(&rows[i], n, PAYLOAD_TRUNCATED);
		for (size_t n = needed; n <= length; n++)
			if (rows[i].refusal)
				check_refused(&rows[i], n, rows[i].refusal);
			else
				check_decoded(&rows[i], n);
	}
}

/* At the far end of the longest value. */
static void test_far(void **state)
{
	struct declared d = { .offset = DECLARED_OFFSET_MAX, NUMBER(1, 1, 0, MASS_GRAM) };
	uint8_t octets[DECLARED_OFFSET_MAX + 1] = { [DECLARED_OFFSET_MAX] = 0x81 };
	struct payload p;

	(void)state;
	d.steady_bit = DECLARED_OFFSET_MAX * 8 + 7;
	d.tare_bit = DECLARED_OFFSET_MAX * 8 + 6;
	assert_int_equal(declared_decode(&d, (struct bytes){ octets, sizeof octets }, &p), PAYLOAD_OK);
	assert_int_equal(p.mass_mg, 129000);
	assert_int_equal(p.steady, PAYLOAD_STEADY_YES);
	assert_false(p.tared);
	assert_int_equal(declared_decode(&d, (struct bytes){ octets, sizeof octets - 1 }, &p), PAYLOAD_TRUNCATED);
	assert_int_equal(declared_decode(&d, (struct bytes){ NULL, 0 }, &p), PAYLOAD_TRUNCATED);
}

static void test_for(void **state)
{
	static const struct declared list[] = {
		{ .source = DECLARED_CHARACTERISTIC, .uuid = "3d1c0a52-86fb-4e1e-9c40-7b5a2f6e9d13" },
		{ .source = DECLARED_SERVICE_DATA, .uuid = "3d1c0a52-86fb-4e1e-9c40-7b5a2f6e9d13" },
		{ .source = DECLARED_MANUFACTURER, .company = 0x04d2 },
		{ .source = DECLARED_MANUFACTURER, .company = 0x04d2, .width = 1 },
		{ .source = DECLARED_MANUFACTURER, .company = 0 },
	};
	static const char uuid[] = "3D1C0A52-86FB-4E1E-9C40-7B5A2F6E9D13";

	(void)state;
	assert_ptr_equal(declared_for(list, N_OF(list), DECLARED_CHARACTERISTIC, uuid), &list[0]);
	assert_ptr_equal(declared_for(list, N_OF(list), DECLARED_SERVICE_DATA, uuid), &list[1]);
	assert_ptr_equal(declared_for(list, N_OF(list), DECLARED_MANUFACTURER, "0x04d2"), &list[2]);
	assert_ptr_equal(declared_for(list, N_OF(list), DECLARED_MANUFACTURER, "0x04D2"), &list[2]);
	assert_ptr_equal(declared_for(list, N_OF(list), DECLARED_MANUFACTURER, "0x0000"), &list[4]);
	assert_null(declared_for(list, N_OF(list), DECLARED_MANUFACTURER, "0x04d3"));
	assert_null(declared_for(list, N_OF(list), DECLARED_MANUFACTURER, uuid));
	assert_null(declared_for(list, N_OF(list), DECLARED_MANUFACTURER, ""));
	assert_null(declared_for(list, N_OF(list), DECLARED_CHARACTERISTIC, ""));
	assert_null(declared_for(list, N_OF(list), DECLARED_CHARACTERISTIC, "3d1c0a52-86fb-4e1e-9c40-7b5a2f6e9d1"));
	assert_null(declared_for(list, 0, DECLARED_MANUFACTURER, "0x04d2"));
	assert_null(declared_for(NULL, 0, DECLARED_MANUFACTURER, "0x04d2"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_rows),
		cmocka_unit_test(test_far),
		cmocka_unit_test(test_for),
	};

	return cmocka_run_group_tests_name("protocols/declared", tests, NULL, NULL);
}

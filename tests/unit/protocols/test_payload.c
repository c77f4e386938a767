// SPDX-License-Identifier: MIT
/* The parts that decoders share. Steps and ranges: fact sheet, 1.3 (GATT characteristic
 * weight_measurement). */
#include "protocols/payload.h"
#include "tests/unit/protocols/octets.h"

static void test_texts(void **state)
{
	(void)state;
	for (enum payload_refusal a = PAYLOAD_OK; a <= PAYLOAD_KEYLESS; a++) {
		const char *text = payload_refusal_text(a);

		assert_in_range(strlen(text), 3, 60);
		for (const char *c = text; *c; c++)
			assert_true((*c >= 'a' && *c <= 'z') || strchr(" ,'", *c));
		for (enum payload_refusal b = PAYLOAD_OK; b < a; b++)
			assert_string_not_equal(text, payload_refusal_text(b));
	}
	assert_string_equal(payload_refusal_text(PAYLOAD_TRUNCATED), "truncated");
}

/* All counts of both units. 0.01 lb are exactly 4535.9237 mg; nearest, computed here in 10^-4 mg.
 */
static void test_weight(void **state)
{
	(void)state;
	for (unsigned raw = 0; raw <= UINT16_MAX; raw++) {
		struct payload p = { 0 };

		payload_set_weight(&p, (uint16_t)raw, false);
		assert_int_equal(p.mass_mg, INT64_C(5000) * raw);
		assert_int_equal(p.step_mg, 5000);
		assert_int_equal(p.unit, MASS_KILOGRAM);
		payload_set_weight(&p, (uint16_t)raw, true);
		assert_int_equal(p.mass_mg, (INT64_C(45359237) * raw + 5000) / 10000);
		assert_int_equal(p.step_mg, 4536);
		assert_int_equal(p.unit, MASS_POUND);
	}
}

static void test_stamp(void **state)
{
	struct octets o = octets_of("EA 07 0B 19 0D 2D 1E EA 07 0D 19 0D 2D 1E EA 07 0B");
	struct payload p = { 0 };

	(void)state;
	assert_true(payload_take_stamp(&p, &o.value));
	assert_true(p.has_stamp);
	assert_int_equal(p.stamp.second, 30);
	assert_int_equal(p.notes, 0);
	p = (struct payload){ 0 };
	assert_true(payload_take_stamp(&p, &o.value)); /* month 13 */
	assert_true(p.has_stamp);
	assert_int_equal(p.stamp.month, 13);
	assert_int_equal(p.notes, PAYLOAD_NOTE_BAD_STAMP);
	p = (struct payload){ 0 };
	assert_false(payload_take_stamp(&p, &o.value)); /* three octets */
	assert_false(p.has_stamp);
	assert_int_equal(p.notes, 0);
	assert_int_equal(o.value.left, 3);
	octets_free(&o);
}

static void test_user_and_rest(void **state)
{
	struct octets o = octets_of("FF");
	struct payload p = { 0 };

	(void)state;
	payload_note_trailing(&p, &o.value);
	assert_int_equal(p.notes, PAYLOAD_NOTE_TRAILING);
	p.notes = 0;
	assert_true(payload_take_user(&p, &o.value));
	assert_true(p.has_user);
	assert_int_equal(p.user, 0xFF);
	payload_note_trailing(&p, &o.value);
	assert_int_equal(p.notes, 0);
	p = (struct payload){ 0 };
	assert_false(payload_take_user(&p, &o.value));
	assert_false(p.has_user);
	octets_free(&o);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_texts),
		cmocka_unit_test(test_weight),
		cmocka_unit_test(test_stamp),
		cmocka_unit_test(test_user_and_rest),
	};

	return cmocka_run_group_tests_name("protocols/payload", tests, NULL, NULL);
}

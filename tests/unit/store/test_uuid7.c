// SPDX-License-Identifier: MIT
#include "ledger.h"

#include <string.h>

/* RFC 9562, A.6: Example of a UUIDv7 Value; Tuesday, February 22, 2022 2:22:22.00 PM GMT-05:00 */
static void example_of_the_standard(void **state)
{
	/* rand_b is 62 bits: the two above them are the variant's, whatever was drawn */
	static const uint8_t rand_b[] = { 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f };
	static const uint8_t same[] = { 0xd8, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f };
	char id[UUID7_SIZE];

	(void)state;
	uuid7_format(id, 0x017f22e279b0, 0xcc3, rand_b);
	assert_string_equal(id, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
	uuid7_format(id, 0x017f22e279b0, 0xcc3, same);
	assert_string_equal(id, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
}

static void only_its_own_bits(void **state)
{
	static const uint8_t ones[] = { 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff }, none[8] = { 0 };
	char id[UUID7_SIZE];

	(void)state;
	uuid7_format(id, INT64_MAX, UINT16_MAX, ones);
	assert_string_equal(id, "ffffffff-ffff-7fff-bfff-ffffffffffff");
	uuid7_format(id, 0, 0, none);
	assert_string_equal(id, "00000000-0000-7000-8000-000000000000");
	uuid7_format(id, -5, 0, none); /* before 1970 there are none */
	assert_string_equal(id, "00000000-0000-7000-8000-000000000000");
}

/* RFC 9562, 6.2: keys of one source sort in the order in which they were drawn. */
static void sorted_under_a_clock_that_steps_back(void **state)
{
	struct uuid7_clock clock = { 0 };
	char last[UUID7_SIZE] = "", id[UUID7_SIZE];
	int i;

	(void)state;
	for (i = 0; i < 30000; i++) {
		/* steps back an hour at 100, stands still from 10000 on: the counter runs over several times */
		int64_t now = LEDGER_T0 + (i < 100 ? i : i < 10000 ? i - 3600000 : 0);

		assert_int_equal(uuid7_next(&clock, now, id), 0);
		assert_true(strcmp(last, id) < 0);
		assert_int_equal(id[14], '7');
		assert_non_null(strchr("89ab", id[19]));
		memcpy(last, id, sizeof(id));
	}
	/* and it catches up with the clock */
	assert_int_equal(uuid7_next(&clock, LEDGER_T0 + 3600000, id), 0);
	assert_int_equal(clock.ms, LEDGER_T0 + 3600000);
	assert_int_equal(clock.count, 0);
}

static void random_part_differs(void **state)
{
	struct uuid7_clock a = { 0 }, b = { 0 };
	char one[UUID7_SIZE], two[UUID7_SIZE];

	(void)state;
	assert_int_equal(uuid7_next(&a, LEDGER_T0, one), 0);
	assert_int_equal(uuid7_next(&b, LEDGER_T0, two), 0);
	assert_memory_equal(one, two, 18); /* same time, same count */
	assert_string_not_equal(one + 19, two + 19);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(example_of_the_standard),
		cmocka_unit_test(only_its_own_bits),
		cmocka_unit_test(sorted_under_a_clock_that_steps_back),
		cmocka_unit_test(random_part_differs),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include "daemon/litter/apgar.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* Classes: 7-10, 4-6, 0-3 (Theriogenology 72:401, 2009, abstract); 4 is the best cut (Acta Vet Scand 2020,
 * s13028-020-00538-y). */
static void test_classes(void **state)
{
	(void)state;
	for (int sum = 0; sum <= 3; sum++)
		assert_int_equal(apgar_class(sum), APGAR_LOW);
	for (int sum = 4; sum <= 6; sum++)
		assert_int_equal(apgar_class(sum), APGAR_MIDDLE);
	for (int sum = 7; sum <= 10; sum++)
		assert_int_equal(apgar_class(sum), APGAR_HIGH);
}

/* All 243 of five items of 0 to 2: the sum is theirs, 0 to 10, and a better item never lowers the class. */
static void test_sums(void **state)
{
	int by_sum[11] = { 0 };
	/* How many ways there are: the coefficients of (1 + x + x^2)^5, OEIS A027907. */
	static const int ways[11] = { 1, 5, 15, 30, 45, 51, 45, 30, 15, 5, 1 };

	(void)state;
	for (int k = 0; k < 243; k++) {
		uint8_t points[APGAR_ITEMS];
		for (int i = 0, rest = k; i < APGAR_ITEMS; i++, rest /= 3)
			points[i] = (uint8_t)(rest % 3);
		int sum = apgar_sum(points);
		assert_in_range(sum, 0, 10);
		by_sum[sum]++;
		for (int i = 0; i < APGAR_ITEMS; i++) {
			if (points[i] == 2)
				continue;
			points[i]++;
			assert_int_equal(apgar_sum(points), sum + 1);
			assert_true(apgar_class(sum + 1) >= apgar_class(sum));
			points[i]--;
		}
	}
	assert_memory_equal(by_sum, ways, sizeof ways);
	for (int i = 0; i < APGAR_ITEMS; i++) {
		uint8_t points[APGAR_ITEMS] = { 2, 2, 2, 2, 2 };
		points[i] = 3;
		assert_int_equal(apgar_sum(points), -1);
		points[i] = 255;
		assert_int_equal(apgar_sum(points), -1);
	}
}

static void test_parse(void **state)
{
	static const struct {
		const char *text;
		int sum; /* -1: refused */
	} rows[] = {
		{ "21222", 9 },
		{ "2 1 2 2 2", 9 },
		{ "2,1,2,2,2", 9 },
		{ "2+1+2+2+2", 9 },
		{ " 2 + 1 , 2 2 2\t", 9 },
		{ "00000", 0 },
		{ "22222", 10 },
		{ "11111", 5 },
		{ "", -1 },
		{ " ", -1 },
		{ "2122", -1 },
		{ "212222", -1 },
		{ "2122 ", -1 },
		{ "21223", -1 },
		{ "3", -1 },
		{ "2,,1222", -1 },
		{ "2++1222", -1 },
		{ ",21222", -1 },
		{ "21222,", -1 },
		{ "21222+", -1 },
		{ "2-1-2-2-2", -1 },
		{ "9", -1 },
		{ "10", -1 },
		{ "2122x", -1 },
		{ "2.1.2.2.2", -1 },
		{ "+21222", -1 },
	};

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		uint8_t points[APGAR_ITEMS] = { 7, 7, 7, 7, 7 };
		static const uint8_t untouched[APGAR_ITEMS] = { 7, 7, 7, 7, 7 };
		int result = apgar_parse(rows[i].text, points);
		assert_int_equal(result, rows[i].sum < 0 ? -1 : 0);
		if (result == 0)
			assert_int_equal(apgar_sum(points), rows[i].sum);
		else
			assert_memory_equal(points, untouched, sizeof untouched);
	}
}

/* In the order of the items. */
static void test_order(void **state)
{
	(void)state;
	for (int k = 0; k < 243; k++) {
		uint8_t points[APGAR_ITEMS], read[APGAR_ITEMS];
		char text[16];
		for (int i = 0, rest = k; i < APGAR_ITEMS; i++, rest /= 3)
			points[i] = (uint8_t)(rest % 3);
		(void)snprintf(text, sizeof text, "%d%d%d%d%d", points[0], points[1], points[2], points[3], points[4]);
		assert_int_equal(apgar_parse(text, read), 0);
		assert_memory_equal(read, points, sizeof points);
	}
}

/* The items: Theriogenology 72:401 (2009), abstract. What gives which points: from memory (facts, section 7). A heart
 * rate of 184, the average of healthy pups, has one point. Fifteen seconds are a quarter of a minute: 180 is 45, 220
 * is 55. */
static void test_rows(void **state)
{
	static const char *const points[APGAR_ITEMS][3] = {
		[APGAR_HEART] = { "below 180", "180 to 220", "above 220" },
		[APGAR_BREATHING] = { "below 6", "6 to 15", "above 15" },
		[APGAR_REFLEX] = { "nothing", "grimaces", "force" },
		[APGAR_MOTION] = { "limp", "bends", "moves" },
		[APGAR_COLOUR] = { "blue", "pale", "pink" },
	};

	(void)state;
	for (int i = 0; i < APGAR_ITEMS; i++) {
		const struct apgar_row *row = apgar_row((enum apgar_item)i);
		assert_true(strlen(row->word) > 0 && strlen(row->question) <= 60 && strchr(row->question, '?') != NULL);
		for (int k = 0; k < 3; k++)
			assert_non_null(strstr(row->points[k], points[i][k]));
		for (int other = 0; other < i; other++)
			assert_string_not_equal(row->word, apgar_row((enum apgar_item)other)->word);
	}
	assert_non_null(strstr(apgar_row(APGAR_HEART)->points[0], "below 45)"));
	assert_non_null(strstr(apgar_row(APGAR_HEART)->points[1], "45 to 55"));
	assert_non_null(strstr(apgar_row(APGAR_HEART)->points[2], "above 55)"));
}

static void test_texts(void **state)
{
	(void)state;
	for (int class = APGAR_LOW; class <= APGAR_HIGH; class ++) {
		const char *text = apgar_text((enum apgar_class) class);
		assert_non_null(strstr(text, "Theriogenology 72:401"));
		assert_non_null(strstr(text, "from memory"));
		assert_non_null(strstr(text, "Your vet's word goes first"));
	}
	assert_non_null(strstr(apgar_text(APGAR_LOW), "Call your vet now"));
	assert_non_null(
		strstr(apgar_text(APGAR_MIDDLE), "call your vet now if")); /* six or less: Prev Vet Med 143:11 (2017) */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_classes), cmocka_unit_test(test_sums), cmocka_unit_test(test_parse),
		cmocka_unit_test(test_order),   cmocka_unit_test(test_rows), cmocka_unit_test(test_texts),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

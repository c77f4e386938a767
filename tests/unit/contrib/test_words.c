// SPDX-License-Identifier: MIT
/* What is said. Names are our own invention; malformed UTF-8 after RFC 3629, section 3. */
#include "contrib/client/words.h"
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof *(array))

static void test_clean(void **state)
{
	static const struct {
		const char *text, *clean;
	} table[] = {
		{ "Moss", "Moss" },
		{ "", "" },
		{ "  Moss   Fern ", "Moss Fern" },
		{ "Mo\nss\r\n.\r\n", "Mo ss ." },
		{ "a\x01"
		  "b\x7f"
		  "c\x1b[2J",
		  "a b c 2J" },
		{ "[[m@s]]", "m s" },                           /* espeak-ng: phonemes */
		{ "<speak>Moss</speak>", "speak Moss /speak" }, /* SSML */
		{ "a & b | c ^ d ~ e \\ f", "a b c d e f" },
		{ "$(reboot) `x`", "(reboot) x" },
		{ "Kr\xc3\xa4he", "Kr\xc3\xa4he" },
		{ "a\xc2\x85"
		  "b",
		  "a b" }, /* U+0085, a control */
		{ "a\xe2\x80\xae"
		  "b",
		  "a b" }, /* U+202E turns the direction */
		{ "a\xe2\x81\xa6"
		  "b",
		  "a b" },                      /* U+2066 */
		{ "\xef\xbb\xbfMoss", "Moss" }, /* U+FEFF */
		{ "a\xff"
		  "b\xc3",
		  "a b" }, /* not UTF-8 */
		{ "a\xc0\xaf"
		  "b",
		  "a b" }, /* overlong */
		{ "a\xed\xa0\x80"
		  "b",
		  "a b" }, /* a surrogate */
		{ "\xf0\x9f\x90\xb6", "\xf0\x9f\x90\xb6" },
		{ "6.5 %, (doc) it's: 3/4; ok? yes!", "6.5 %, (doc) it's: 3/4; ok? yes!" },
	};
	char buffer[WORDS_SIZE];

	(void)state;
	for (size_t i = 0; i < N_OF(table); i++) {
		words_clean(table[i].text, buffer, sizeof buffer);
		assert_string_equal(buffer, table[i].clean);
	}
}

/* At every size it ends in time, at a whole character. */
static void test_clean_cut(void **state)
{
	static const char text[] = "Kr\xc3\xa4he \xf0\x9f\x90\xb6 Moss\n and \xe2\x82\xac";
	char buffer[64], whole[64];

	(void)state;
	words_clean(text, whole, sizeof whole);
	for (size_t size = 1; size < sizeof buffer; size++) {
		memset(buffer, '#', sizeof buffer);
		words_clean(text, buffer, size);
		assert_true(strlen(buffer) < size);
		assert_int_equal(strncmp(buffer, whole, strlen(buffer)), 0);
		assert_int_not_equal((unsigned char)whole[strlen(buffer)] & 0xc0, 0x80);
	}
}

static void test_mass(void **state)
{
	static const struct {
		int64_t mg;
		const char *said;
	} table[] = {
		{ 304000, "304 grams" },   { 304499, "304 grams" }, { 304500, "305 grams" }, { 303906, "304 grams" },
		{ 1000, "1 gram" },        { 1499, "1 gram" },      { 499, "0 grams" },      { 0, "0 grams" },
		{ 2304000, "2304 grams" }, { -4600, "-5 grams" },   { -1000, "-1 gram" },
	};
	char buffer[64];

	(void)state;
	for (size_t i = 0; i < N_OF(table); i++) {
		words_mass(table[i].mg, QUANTITY_GRAMS, buffer, sizeof buffer);
		assert_string_equal(buffer, table[i].said);
	}
}

/* Ounces of 28.349523125 g: NIST Handbook 44 (2023), appendix C, table of avoirdupois units. */
static void test_ounces(void **state)
{
	static const struct {
		int64_t mg;
		const char *said;
	} table[] = {
		{ 303340, "10.7 ounces" },
		{ 304757, "10.7 ounces" },
		{ 304758, "10.8 ounces" },
		{ 0, "0.0 ounces" },
		{ -1000, "0.0 ounces" },
		{ -28350, "-1.0 ounces" },
		{ 453592, "1 pound 0.0 ounces" },
		{ 452174, "15.9 ounces" },
		{ 452175, "1 pound 0.0 ounces" },
		{ 2267962, "5 pounds 0.0 ounces" },
		{ 1034757, "2 pounds 4.5 ounces" },
	};
	char buffer[64];

	(void)state;
	for (size_t i = 0; i < N_OF(table); i++) {
		words_mass(table[i].mg, QUANTITY_OUNCES, buffer, sizeof buffer);
		assert_string_equal(buffer, table[i].said);
	}
}

static struct question two(void)
{
	return (struct question){
		.net_mg = 304000,
		.n_suggestions = 3,
		.suggestions = { { "m", "Moss", "green", 0.6 },
				 { "f", "Fern", "", 0.3 },
				 { "g", "Gorse", "red", 0.01 } },
	};
}

static void test_question(void **state)
{
	struct question question = two();
	char words[WORDS_SIZE];

	(void)state;
	words_question(&question, -1, QUANTITY_GRAMS, words);
	assert_string_equal(words, "304 grams. One, Moss, green. Two, Fern.");
	question.restless = true;
	words_question(&question, 7 * 60 + 5, QUANTITY_GRAMS, words);
	assert_string_equal(words, "Weighed at 7:05. 304 grams, restless. One, Moss, green. Two, Fern.");
	question = two();
	question.whelping = true;
	words_question(&question, -1, QUANTITY_GRAMS, words);
	assert_string_equal(words, "304 grams. One, Moss, green. Two, Fern. Or a new pup.");
	question.n_suggestions = 0;
	question.whelping = false;
	words_question(&question, -1, QUANTITY_GRAMS, words);
	assert_string_equal(words, "304 grams. Which pup is it?");
}

/* The longest names there are, all to be named: it fits, or ends at a whole character. */
static void test_long(void **state)
{
	struct question question = {
		.net_mg = INT64_MAX / 2, .restless = true, .whelping = true, .n_suggestions = LIMIT_CANDIDATES
	};
	char words[WORDS_SIZE];
	unsigned char last;

	(void)state;
	for (size_t i = 0; i < LIMIT_CANDIDATES; i++) {
		for (size_t j = 0; j + 2 < QUESTION_NAME_SIZE; j += 2) {
			memcpy(question.suggestions[i].name + j, "\xc3\xa4", 2);
			memcpy(question.suggestions[i].collar + j, "\xc3\xa4", 2);
		}
		question.suggestions[i].probability = 0.2;
	}
	words_question(&question, 0, QUANTITY_GRAMS, words);
	assert_true(strlen(words) < WORDS_SIZE);
	assert_true(strlen(words) > WORDS_SIZE - 4);
	last = (unsigned char)words[strlen(words) - 1];
	assert_true(last < 0x80 || last == 0xa4);
}

static void test_recorded(void **state)
{
	char words[WORDS_SIZE];

	(void)state;
	words_recorded("Moss", 304000, false, QUANTITY_GRAMS, words);
	assert_string_equal(words, "Moss, 304 grams.");
	words_recorded("Moss", 304000, false, QUANTITY_OUNCES, words);
	assert_string_equal(words, "Moss, 10.7 ounces.");
	words_recorded("Mo<ss", 304000, true, QUANTITY_GRAMS, words);
	assert_string_equal(words, "Corrected: Mo ss, 304 grams.");
}

static void test_concern(void **state)
{
	char words[WORDS_SIZE];

	(void)state;
	words_concern("vet", "Moss", "Moss has not gained for 26 hours.", words);
	assert_string_equal(words, "Call your vet. Moss has not gained for 26 hours.");
	words_concern("act", "Fern", "Fern lost 12 g in 26 h (6.1 %), now 1.2 kg; 3 mL of it, 4 grains.", words);
	assert_string_equal(
		words,
		"Today: Fern lost 12 grams in 26 hours (6.1 %), now 1.2 kilograms; 3 millilitres of it, 4 grains.");
	words_concern("vet", "Fe<rn", "gums dry (just now)", words);
	assert_string_equal(words, "Call your vet. Fe rn: gums dry (just now)");
	words_concern("look", "Moss", "Moss lost 3 % in its first day.", words);
	assert_string_equal(words, "Moss lost 3 % in its first day.");
	words_concern("sky", "", "Moss.", words);
	assert_string_equal(words, "Call your vet. Moss.");
	words_concern("act", "", "12 g", words);
	assert_string_equal(words, "Today: 12 grams");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_clean),    cmocka_unit_test(test_clean_cut), cmocka_unit_test(test_mass),
		cmocka_unit_test(test_ounces),   cmocka_unit_test(test_question),  cmocka_unit_test(test_long),
		cmocka_unit_test(test_recorded), cmocka_unit_test(test_concern),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

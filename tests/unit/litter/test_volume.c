// SPDX-License-Identifier: MIT
/* Volumes as typed: what is read, what is refused, and that nothing is ever read as ten times what stands there. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/volume.h"
#include <math.h>
#include <regex.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define UNTOUCHED INT64_C(-77)

/* xorshift64* (Vigna 2016, ACM TOMS 42:30); the seed is fixed. */
static uint64_t chance = UINT64_C(0x5eed0f0ab1e5);

static uint64_t below(uint64_t n)
{
	chance ^= chance >> 12;
	chance ^= chance << 25;
	chance ^= chance >> 27;
	return (chance * UINT64_C(2685821657736338717) >> 16) % n;
}

static void test_reads(void **state)
{
	static const struct {
		const char *text;
		int64_t ul;
	} rows[] = {
		{ "4 mL", 4000 },      { "4ml", 4000 },        { "4 ml", 4000 },         { "4 ML", 4000 },
		{ "  4  mL  ", 4000 }, { "\t4\tmL", 4000 },    { "0.4 mL", 400 },        { "0,4 mL", 400 },
		{ "0.05mL", 50 },      { "0.125 mL", 125 },    { "0,125 mL", 125 },      { "0.001 mL", 1 },
		{ "1.25 mL", 1250 },   { "1,25 mL", 1250 },    { "12.5 mL", 12500 },     { "1.50 mL", 1500 },
		{ "10,0 mL", 10000 },  { "1000 mL", 1000000 }, { "1000.0 mL", 1000000 }, { "999.99 mL", 999990 },
		{ "1000.000 mL", 1000000 }, /* no group of thousands has four digits before it */
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		int64_t ul = UNTOUCHED;

		assert_int_equal(volume_parse(rows[i].text, &ul), VOLUME_PARSED);
		assert_int_equal(ul, rows[i].ul);
	}
}

static const struct {
	const char *text;
	enum volume_parsed parsed;
} refused[] = {
	{ "", VOLUME_NO_NUMBER },
	{ "   ", VOLUME_NO_NUMBER },
	{ "mL", VOLUME_NO_NUMBER },
	{ "four mL", VOLUME_NO_NUMBER },
	{ "NaN mL", VOLUME_NO_NUMBER },
	{ "inf mL", VOLUME_NO_NUMBER },
	{ "+4 mL", VOLUME_NO_NUMBER },
	{ ". mL", VOLUME_NO_NUMBER },
	{ "O.4 mL", VOLUME_NO_NUMBER }, /* the letter */
	{ "l mL", VOLUME_NO_NUMBER },
	{ "\xef\xbc\x94 mL", VOLUME_NO_NUMBER }, /* U+FF14, a wide 4 */
	{ "\xd9\xa4 mL", VOLUME_NO_NUMBER },     /* U+0664, an Arabic 4 */
	{ "\xc2\xbd mL", VOLUME_NO_NUMBER },     /* a half */
	{ "\xe2\x88\x92"
	  "4 mL",
	  VOLUME_NO_NUMBER }, /* U+2212, minus */
	{ "4", VOLUME_NO_UNIT },
	{ " 4 ", VOLUME_NO_UNIT },
	{ "0.4", VOLUME_NO_UNIT },
	{ "4mL4", VOLUME_BAD_UNIT },
	{ "4 mL 4", VOLUME_BAD_UNIT },
	{ "4 mL.", VOLUME_BAD_UNIT },
	{ "4 mL\n", VOLUME_BAD_UNIT },
	{ "4 mLs", VOLUME_BAD_UNIT },
	{ "4 mL/kg", VOLUME_BAD_UNIT }, /* a rate is no volume */
	{ "4 cc", VOLUME_BAD_UNIT },
	{ "4 oz", VOLUME_BAD_UNIT },
	{ "4 fl oz", VOLUME_BAD_UNIT },
	{ "4 lb", VOLUME_BAD_UNIT },
	{ "4 dl", VOLUME_BAD_UNIT },
	{ "4 cl", VOLUME_BAD_UNIT },
	{ "4 ul", VOLUME_BAD_UNIT },
	{ "4 \xc2\xb5l", VOLUME_BAD_UNIT },
	{ "4 m l", VOLUME_BAD_UNIT },
	{ "4 m", VOLUME_BAD_UNIT },
	{ "4 drops", VOLUME_BAD_UNIT },
	{ "4 units", VOLUME_BAD_UNIT },
	{ "4 g", VOLUME_BAD_UNIT },
	{ "1e3 mL", VOLUME_BAD_UNIT },
	{ "4e0 mL", VOLUME_BAD_UNIT },
	{ "0x4 mL", VOLUME_BAD_UNIT },
	{ "4O mL", VOLUME_BAD_UNIT },
	{ "1/2 mL", VOLUME_BAD_UNIT },
	{ "4-5 mL", VOLUME_BAD_UNIT },
	{ "1'000 mL", VOLUME_BAD_UNIT },
	{ "4\xc2\xa0mL", VOLUME_BAD_UNIT }, /* a blank that doesn't break */
	{ "4\xd9\xab"
	  "5 mL",
	  VOLUME_BAD_UNIT }, /* U+066B, an Arabic decimal point */
	{ "4\xc2\xb7"
	  "5 mL",
	  VOLUME_BAD_UNIT }, /* a point in mid line */
	{ "1\xe2\x80\xaf"
	  "000 mL",
	  VOLUME_BAD_UNIT }, /* U+202F between thousands */
	{ ".4 mL", VOLUME_AMBIGUOUS },
	{ ",4 mL", VOLUME_AMBIGUOUS },
	{ "4. mL", VOLUME_AMBIGUOUS },
	{ "4, mL", VOLUME_AMBIGUOUS },
	{ "4 .5 mL", VOLUME_BAD_UNIT },
	{ "4. 5 mL", VOLUME_AMBIGUOUS },
	{ "04 mL", VOLUME_AMBIGUOUS },
	{ "00.4 mL", VOLUME_AMBIGUOUS },
	{ "0 4 mL", VOLUME_AMBIGUOUS },
	{ "1,000 mL", VOLUME_AMBIGUOUS },
	{ "1.000 mL", VOLUME_AMBIGUOUS },
	{ "1 000 mL", VOLUME_AMBIGUOUS },
	{ "1,250 mL", VOLUME_AMBIGUOUS },
	{ "12.500 mL", VOLUME_AMBIGUOUS },
	{ "100.000 mL", VOLUME_AMBIGUOUS },
	{ "1.000", VOLUME_AMBIGUOUS },
	{ "1.000.000 mL", VOLUME_AMBIGUOUS },
	{ "1,000.5 mL", VOLUME_AMBIGUOUS },
	{ "1.2.3 mL", VOLUME_AMBIGUOUS },
	{ "0..4 mL", VOLUME_AMBIGUOUS },
	{ "4 l", VOLUME_AMBIGUOUS },
	{ "4 L", VOLUME_AMBIGUOUS },
	{ "4l", VOLUME_AMBIGUOUS },
	{ "0 mL", VOLUME_OUT_OF_RANGE },
	{ "0.0 mL", VOLUME_OUT_OF_RANGE },
	{ "-4 mL", VOLUME_OUT_OF_RANGE },
	{ "-0.4 mL", VOLUME_OUT_OF_RANGE },
	{ "0.0004 mL", VOLUME_OUT_OF_RANGE },
	{ "1.0000 mL", VOLUME_OUT_OF_RANGE },
	{ "1001 mL", VOLUME_OUT_OF_RANGE },
	{ "1000.01 mL", VOLUME_OUT_OF_RANGE },
	{ "18446744073709551620 mL", VOLUME_OUT_OF_RANGE }, /* 2^64 + 4 */
	{ "9223372036854775812 mL", VOLUME_OUT_OF_RANGE },
};

static void test_refuses(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		int64_t ul = UNTOUCHED;
		enum volume_parsed parsed = volume_parse(refused[i].text, &ul);

		if (parsed != refused[i].parsed)
			fail_msg("\"%s\": %d", refused[i].text, parsed);
		assert_int_equal(ul, UNTOUCHED);
	}
}

static void test_very_long(void **state)
{
	char text[5000];
	int64_t ul = UNTOUCHED;

	(void)state;
	memset(text, '4', sizeof text);
	snprintf(text + sizeof text - 4, 4, " mL");
	assert_int_equal(volume_parse(text, &ul), VOLUME_OUT_OF_RANGE);
	text[1] = '.';
	assert_int_equal(volume_parse(text, &ul), VOLUME_OUT_OF_RANGE);
	memset(text, '0', sizeof text - 4);
	assert_int_equal(volume_parse(text, &ul), VOLUME_AMBIGUOUS);
	memset(text, ' ', sizeof text - 4);
	text[0] = '4';
	assert_int_equal(volume_parse(text, &ul), VOLUME_PARSED);
	assert_int_equal(ul, 4000);
}

static void test_reads_rates(void **state)
{
	static const struct {
		const char *text, *formatted;
		struct volume_rate rate;
	} rows[] = {
		{ "10 mL/kg", "10 mL/kg", { 10000, VOLUME_PER_KG } },
		{ "10ml/KG", "10 mL/kg", { 10000, VOLUME_PER_KG } },
		{ "10 mL / kg ", "10 mL/kg", { 10000, VOLUME_PER_KG } },
		{ "10 mL per kg", "10 mL/kg", { 10000, VOLUME_PER_KG } },
		{ "12,5 mL/kg", "12.5 mL/kg", { 12500, VOLUME_PER_KG } },
		{ "1 mL/100g", "1 mL/100 g", { 1000, VOLUME_PER_100G } },
		{ "1 mL/100 g", "1 mL/100 g", { 1000, VOLUME_PER_100G } },
		{ "1 mL per 100 g", "1 mL/100 g", { 1000, VOLUME_PER_100G } },
		{ "4 mL", "4 mL", { 4000, VOLUME_PER_ANIMAL } },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct volume_rate rate = { 0 };
		char text[40];

		assert_int_equal(volume_parse_rate(rows[i].text, &rate), VOLUME_PARSED);
		assert_int_equal(rate.ul, rows[i].rate.ul);
		assert_int_equal(rate.basis, rows[i].rate.basis);
		volume_format_rate(&rate, text, sizeof text);
		assert_string_equal(text, rows[i].formatted);
	}
}

static void test_refuses_rates(void **state)
{
	static const char *const bad_unit[] = {
		"4 mL/lb",     "4 mL/oz",   "4 mL/g",      "4 mL/10 g",   "4 mL/100",  "4 mL/100 kg",
		"4 mL/1000 g", "4 mL/30 g", "4 mL/1 00 g", "4 mL/kg/day", "4 mL/kg/h", "4 mL/kg per day",
		"4 mL/day",    "4 mL/h",    "4 mL/pup",    "4 mL/",       "4 mL per",  "4 mL kg",
		"4 mL/mg",     "4 mL/k",    "4 mL/kg 2x",  "4 mL/2 kg",   "4 mL//kg",  "4 mL/100 g/h",
		"4 mg/kg",     "4 mL x 3",
	};
	struct volume_rate rate = { UNTOUCHED, VOLUME_PER_ANIMAL };

	(void)state;
	for (size_t i = 0; i < sizeof bad_unit / sizeof bad_unit[0]; i++)
		if (volume_parse_rate(bad_unit[i], &rate) != VOLUME_BAD_UNIT)
			fail_msg("%s", bad_unit[i]);
	assert_int_equal(volume_parse_rate("4/kg", &rate), VOLUME_BAD_UNIT);
	assert_int_equal(volume_parse_rate("4 l/kg", &rate), VOLUME_AMBIGUOUS);
	assert_int_equal(volume_parse_rate("4 l", &rate), VOLUME_AMBIGUOUS);
	assert_int_equal(volume_parse_rate("1,000 mL/kg", &rate), VOLUME_AMBIGUOUS);
	assert_int_equal(volume_parse_rate(".5 mL/kg", &rate), VOLUME_AMBIGUOUS);
	assert_int_equal(volume_parse_rate("0 mL/kg", &rate), VOLUME_OUT_OF_RANGE);
	assert_int_equal(volume_parse_rate("-4 mL/kg", &rate), VOLUME_OUT_OF_RANGE);
	assert_int_equal(volume_parse_rate("4", &rate), VOLUME_NO_UNIT);
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
		if (strcmp(refused[i].text, "4 mL/kg") != 0)
			assert_int_not_equal(volume_parse_rate(refused[i].text, &rate), VOLUME_PARSED);
	assert_int_equal(rate.ul, UNTOUCHED);
}

/*
 * The same by other means: a regular expression (POSIX) and strtod(). What it doesn't match isn't a volume; whole
 * numbers have no zero in front, three decimals stand behind a lone zero only or behind four digits.
 */
#define WHOLE "(0|[1-9][0-9]*)"
#define BLANKS "[ \t]*"
static const char reader[] = "^" BLANKS WHOLE "([.,]([0-9]{1,3}))?" BLANKS "[mM][lL]" BLANKS "((/|[pP][eE][rR] )" BLANKS
			     "([kK][gG]|100" BLANKS "[gG])" BLANKS ")?$";

static bool other_reading(const regex_t *regex, const char *text, struct volume_rate *ret)
{
	regmatch_t m[7];
	char number[64], *comma;
	double ml;

	if (regexec(regex, text, 7, m, 0) != 0 || m[2].rm_eo - m[1].rm_so > 60)
		return false;
	if (m[3].rm_so >= 0 && m[3].rm_eo - m[3].rm_so == 3 && text[m[1].rm_so] != '0' && m[1].rm_eo - m[1].rm_so <= 3)
		return false;
	snprintf(number, sizeof number, "%.*s", (int)((m[2].rm_so >= 0 ? m[2].rm_eo : m[1].rm_eo) - m[1].rm_so),
		 text + m[1].rm_so);
	comma = strchr(number, ',');
	if (comma)
		*comma = '.';
	ml = strtod(number, NULL);
	if (!(ml > 0 && ml <= 1000))
		return false;
	ret->ul = llround(ml * 1000);
	ret->basis = m[4].rm_so < 0                   ? VOLUME_PER_ANIMAL
		     : strchr("kK", text[m[6].rm_so]) ? VOLUME_PER_KG
						      : VOLUME_PER_100G;
	return true;
}

/* Whether some reader, somewhere, could take the point or comma for a mark between thousands, or miss it. */
static bool other_eyes(const char *text)
{
	const char *point = strpbrk(text, ".,");
	const char *start = text + strspn(text, " \t");
	size_t before, after;

	if (!point)
		return *start == '0'; /* a lost point */
	before = (size_t)(point - start);
	after = strspn(point + 1, "0123456789");
	return before == 0 || after == 0 || strpbrk(point + 1, ".,") || (after == 3 && before <= 3 && *start != '0') ||
	       (before > 1 && *start == '0');
}

static const char *const pieces[] = {
	"0",      "1",      "4",     "5",  "10", "25",  "00", "000", "100", "1000", ".",        ",",
	" ",      " ",      "mL",    "ml", "ML", "mL",  "l",  "/",   "/kg", "kg",   "/100g",    "100 g",
	"/100 g", "per kg", " per ", "lb", "oz", "g",   "-",  "+",   "e",   "\t",   "\xc2\xa0", "\xef\xbc\x94",
	"'",      "/day",   "cc",    "x",  "\n", "nan",
};
#define N_PIECES (sizeof pieces / sizeof pieces[0])

/* Often near to what is right, so that enough of them are. */
static void compose(char text[200])
{
	size_t at = 0;

	if (below(2) == 0) {
		static const uint64_t tens[] = { 1, 10, 100, 1000, 10000 };
		int n = (int)below(5);
		uint64_t whole = below(below(2) ? 30 : 3000), decimals = below(tens[n]);

		at = (size_t)snprintf(text, 200, below(8) ? "%llu" : "0%llu", (unsigned long long)whole);
		if (n > 0)
			at += (size_t)snprintf(text + at, 200 - at, "%c%0*llu", below(2) ? '.' : ',', n,
					       (unsigned long long)decimals);
		at += (size_t)snprintf(text + at, 200 - at, "%s%s%s", below(2) ? " " : "", below(6) ? "mL" : "ml",
				       below(3) == 0 ? ""
				       : below(2)    ? "/kg"
						     : pieces[below(N_PIECES)]);
	}
	for (uint64_t i = at ? below(3) == 0 : below(8); i > 0; i--)
		at += (size_t)snprintf(text + at, 200 - at, "%s", pieces[below(N_PIECES)]);
	if (at > 0 && below(4) == 0)
		memmove(text, text + 1, at); /* the first one lost */
	else if (at == 0)
		*text = '\0';
}

static void test_fuzz(void **state)
{
	regex_t regex;
	unsigned parsed_n = 0, rates_n = 0, refused_n = 0;

	(void)state;
	assert_int_equal(regcomp(&regex, reader, REG_EXTENDED), 0);
	for (int i = 0; i < 300000; i++) {
		struct volume_rate rate = { UNTOUCHED, VOLUME_PER_ANIMAL }, other = { 0 };
		int64_t ul = UNTOUCHED;
		char text[200];
		bool good, expected;

		compose(text);
		good = volume_parse_rate(text, &rate) == VOLUME_PARSED;
		expected = other_reading(&regex, text, &other);
		if (good != expected || (good && (rate.ul != other.ul || rate.basis != other.basis)))
			fail_msg("\"%s\": %d, not %d; %lld, not %lld", text, good, expected, (long long)rate.ul,
				 (long long)other.ul);
		if (good && other_eyes(text))
			fail_msg("\"%s\" can be read as another volume", text);
		assert_true(good || rate.ul == UNTOUCHED);
		assert_int_equal(volume_parse(text, &ul) == VOLUME_PARSED, good && rate.basis == VOLUME_PER_ANIMAL);
		assert_int_equal(ul, good && rate.basis == VOLUME_PER_ANIMAL ? rate.ul : UNTOUCHED);
		parsed_n += good && rate.basis == VOLUME_PER_ANIMAL;
		rates_n += good && rate.basis != VOLUME_PER_ANIMAL;
		refused_n += !good;
	}
	regfree(&regex);
	/* else the above says little */
	assert_true(parsed_n > 10000 && rates_n > 10000 && refused_n > 100000);
}

static void test_formats(void **state)
{
	static const struct {
		int64_t ul;
		const char *text;
	} rows[] = {
		{ 3500, "3.5 mL" },
		{ 50, "0.05 mL" },
		{ 12000, "12 mL" },
		{ 1, "0.001 mL" },
		{ 1000, "1 mL" },
		{ 10, "0.01 mL" },
		{ 1000000, "1000 mL" },
		{ 0, "0 mL" },
		{ 100100, "100.1 mL" },
		{ 1050, "1.05 mL" },
		{ INT64_MAX, "9223372036854775.807 mL" },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		char text[24];

		volume_format(rows[i].ul, text, sizeof text);
		assert_string_equal(text, rows[i].text);
		volume_format(rows[i].ul, text, 0); /* room for nothing */
		assert_string_equal(text, rows[i].text);
	}
}

/* What is written is read as the same again, or refused for its three decimals; a cut number isn't written. */
static void test_round_trip(void **state)
{
	(void)state;
	for (int64_t ul = 1; ul <= VOLUME_MAX_UL; ul += ul < 20000 ? 1 : 97) {
		int64_t again = UNTOUCHED;
		char text[24];
		enum volume_parsed parsed;

		volume_format(ul, text, sizeof text);
		parsed = volume_parse(text, &again);
		if (ul > 1000 && ul < VOLUME_MAX_UL && ul % 10 != 0)
			assert_int_equal(parsed, VOLUME_AMBIGUOUS);
		else
			assert_int_equal(parsed, VOLUME_PARSED);
		assert_int_equal(again, parsed == VOLUME_PARSED ? ul : UNTOUCHED);
		for (size_t n = 1; n < strlen(text) + 1; n++) {
			char cut[24] = "x";

			volume_format(ul, cut, n);
			assert_string_equal(cut, "");
		}
	}
}

/* Facts, section 5, the table of g by mL/kg (DERIVED there); 33.3 is printed as 1 mL/30 g: dvm360, Neonatal
 * emergencies. */
static void test_table(void **state)
{
	static const int64_t masses_mg[] = { 150000, 350000, 500000 };
	static const struct {
		int64_t ul_per_kg, ul[3];
	} rows[] = {
		{ 10000, { 1500, 3500, 5000 } },       { 20000, { 3000, 7000, 10000 } },
		{ 33300, { 4995, 11655, 16650 } },     { 60000, { 9000, 21000, 30000 } },
		{ 120000, { 18000, 42000, 60000 } },   { 180000, { 27000, 63000, 90000 } },
		{ 300000, { 45000, 105000, 150000 } },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		for (size_t j = 0; j < 3; j++) {
			struct volume_rate rate = { rows[i].ul_per_kg, VOLUME_PER_KG };

			assert_int_equal(volume_for(&rate, masses_mg[j]), rows[i].ul[j]);
			rate = (struct volume_rate){ rows[i].ul_per_kg / 10, VOLUME_PER_100G };
			assert_int_equal(volume_for(&rate, masses_mg[j]), rows[i].ul[j]);
		}
}

/*
 * Facts, section 8, rows 13 and 14. 13: wsava2017.net, page 80: 10 kg at 8 % are 0.8 L, 33 mL/h over 24 h, and with 20
 * and 10 mL/h 63 mL/h. It prints "800 mL/hr" by slip, for a volume; so no rate by time is read here. A deficit of 8 %
 * is 80 mL/kg. 14: derived.
 */
static void test_deficit(void **state)
{
	static const struct volume_rate deficit = { 80000, VOLUME_PER_KG };
	struct volume_rate rate;

	(void)state;
	assert_int_equal(volume_for(&deficit, 10000000), 800000);
	assert_int_equal(volume_for(&deficit, 10000000) / 24 / 1000, 33);
	assert_int_equal(volume_for(&deficit, 10000000) / 24 / 1000 + 20 + 10, 63);
	assert_int_equal(volume_for(&deficit, 350000), 28000);
	assert_int_equal(volume_parse_rate("800 mL/hr", &rate), VOLUME_BAD_UNIT);
}

static void test_bounds(void **state)
{
	static const struct volume_rate most = { INT64_MAX, VOLUME_PER_100G }, animal = { 4000, VOLUME_PER_ANIMAL };
	static const struct volume_rate none = { -5, VOLUME_PER_KG };

	(void)state;
	assert_int_equal(volume_for(&most, INT64_MAX), INT64_MAX);
	assert_int_equal(volume_for(&most, 0), 0);
	assert_int_equal(volume_for(&most, -5), 0);
	assert_int_equal(volume_for(&none, 300000), 0);
	assert_int_equal(volume_for(&animal, 300000), 4000);
	assert_int_equal(volume_for(&animal, 0), 0);
	assert_int_equal(volume_round_down(3999, 100), 3900);
	assert_int_equal(volume_round_down(3900, 100), 3900);
	assert_int_equal(volume_round_down(99, 100), 0);
	assert_int_equal(volume_round_down(99, 0), 0);
	assert_int_equal(volume_round_down(99, -1), 0);
	assert_int_equal(volume_round_down(-99, 10), 0);
}

/* Never up, never more for less. Against floating point, which is exact enough at these sizes. */
static void test_never_up(void **state)
{
	(void)state;
	for (int i = 0; i < 200000; i++) {
		struct volume_rate rate = { 1 + (int64_t)below(100000), (enum volume_basis)below(3) };
		int64_t mass_mg = 1 + (int64_t)below(8000000), less_mg = 1 + (int64_t)below((uint64_t)mass_mg);
		int64_t graduation_ul = 1 + (int64_t)below(2000), ul = volume_for(&rate, mass_mg), rounded;
		double exact = (double)rate.ul * (rate.basis == VOLUME_PER_KG     ? (double)mass_mg / 1e6
						  : rate.basis == VOLUME_PER_100G ? (double)mass_mg / 1e5
										  : 1);

		assert_true((double)ul <= exact + 1e-6 && (double)ul > exact - 1 - 1e-6);
		assert_true(volume_for(&rate, less_mg) <= ul);
		rounded = volume_round_down(ul, graduation_ul);
		assert_true(rounded <= ul && ul - rounded < graduation_ul && rounded % graduation_ul == 0);
	}
}

static void test_hints(void **state)
{
	(void)state;
	for (int i = VOLUME_PARSED; i <= VOLUME_OUT_OF_RANGE; i++)
		assert_non_null(strchr(volume_hint((enum volume_parsed)i), ' '));
	/* what a hint shows can be typed */
	assert_non_null(strstr(volume_hint(VOLUME_BAD_UNIT), "10 mL/kg or 1 mL/100 g"));
	assert_non_null(strstr(volume_hint(VOLUME_AMBIGUOUS), "0.5 mL"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_reads),         cmocka_unit_test(test_refuses),
		cmocka_unit_test(test_very_long),     cmocka_unit_test(test_reads_rates),
		cmocka_unit_test(test_refuses_rates), cmocka_unit_test(test_fuzz),
		cmocka_unit_test(test_formats),       cmocka_unit_test(test_round_trip),
		cmocka_unit_test(test_table),         cmocka_unit_test(test_deficit),
		cmocka_unit_test(test_bounds),        cmocka_unit_test(test_never_up),
		cmocka_unit_test(test_hints),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

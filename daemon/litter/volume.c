// SPDX-License-Identifier: MIT
#include "daemon/litter/volume.h"
#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define UL_PER_ML 1000
#define MG_PER_KG INT64_C(1000000)
#define MG_PER_100G INT64_C(100000)
#define DECIMALS 3 /* of a millilitre: a microlitre */

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static bool is_separator(char c)
{
	return c == '.' || c == ',';
}

static void skip_blanks(const char **at)
{
	while (**at == ' ' || **at == '\t')
		(*at)++;
}

/* word: in small letters. */
static bool take_word(const char **at, const char *word)
{
	const char *here = *at;

	for (; *word; word++, here++) {
		char c = *here >= 'A' && *here <= 'Z' ? (char)(*here - 'A' + 'a') : *here;

		if (c != *word)
			return false;
	}
	*at = here;
	return true;
}

/* What can't begin a volume; the sign of a number is worth a word of its own. */
static enum volume_parsed no_number(const char *at)
{
	if (is_separator(at[0]) && is_digit(at[1]))
		return VOLUME_AMBIGUOUS; /* the point of ".5" is easily overlooked */
	return at[0] == '-' && is_digit(at[1]) ? VOLUME_OUT_OF_RANGE : VOLUME_NO_NUMBER;
}

/*
 * The decimals after a separator that was just taken. n_whole: digits before it. Three of them may be a group of
 * thousands, unless only a zero stands before them: no group does that.
 */
static enum volume_parsed take_decimals(const char **at, bool zero, size_t n_whole, int64_t *ul)
{
	int64_t worth = UL_PER_ML / 10;
	size_t n = 0;

	for (; is_digit(**at); (*at)++, n++) {
		*ul += worth * (**at - '0');
		worth /= 10;
	}
	if (n == 0 || is_separator(**at) || (n == DECIMALS && n_whole <= 3 && !zero))
		return VOLUME_AMBIGUOUS;
	return n > DECIMALS ? VOLUME_OUT_OF_RANGE : VOLUME_PARSED;
}

/* A number of millilitres with the blanks after it. Its range is for who knows the unit; what is too large stays so. */
static enum volume_parsed take_number(const char **at, int64_t *ret_ul)
{
	enum volume_parsed parsed = VOLUME_PARSED;
	const char *start = *at;
	int64_t ul = 0;
	size_t n;

	if (!is_digit(*start))
		return no_number(start);
	for (; is_digit(**at); (*at)++)
		if (ul <= VOLUME_MAX_UL)
			ul = ul * 10 + (int64_t)UL_PER_ML * (**at - '0');
	n = (size_t)(*at - start);
	if (n > 1 && *start == '0')
		return VOLUME_AMBIGUOUS; /* "04 mL": a lost point? */
	if (is_separator(**at)) {
		(*at)++;
		parsed = take_decimals(at, *start == '0', n, &ul);
	}
	skip_blanks(at);
	if (parsed == VOLUME_PARSED && is_digit(**at))
		return VOLUME_AMBIGUOUS; /* "1 000 mL", "0 4 mL" */
	*ret_ul = ul;
	return parsed;
}

static enum volume_parsed take_unit(const char **at)
{
	if (!**at)
		return VOLUME_NO_UNIT;
	if (take_word(at, "ml"))
		return VOLUME_PARSED;
	if (take_word(at, "l") && (!**at || **at == ' ' || **at == '/'))
		return VOLUME_AMBIGUOUS; /* litres are never meant here; a lost m is */
	return VOLUME_BAD_UNIT;
}

/* Number and unit, with the blanks after each. */
static enum volume_parsed take_volume(const char **at, int64_t *ret_ul)
{
	enum volume_parsed parsed;

	skip_blanks(at);
	parsed = take_number(at, ret_ul);
	if (parsed == VOLUME_PARSED)
		parsed = take_unit(at);
	skip_blanks(at);
	return parsed;
}

static enum volume_parsed in_range(int64_t ul)
{
	return ul > 0 && ul <= VOLUME_MAX_UL ? VOLUME_PARSED : VOLUME_OUT_OF_RANGE;
}

enum volume_parsed volume_parse(const char *text, int64_t *ret_ul)
{
	int64_t ul = 0;
	enum volume_parsed parsed = take_volume(&text, &ul);

	if (parsed == VOLUME_PARSED && *text)
		parsed = VOLUME_BAD_UNIT;
	if (parsed == VOLUME_PARSED)
		parsed = in_range(ul);
	if (parsed == VOLUME_PARSED)
		*ret_ul = ul;
	return parsed;
}

/* After the volume: nothing, "/kg", "/100g", or the same with "per". */
static bool take_basis(const char **at, enum volume_basis *ret)
{
	*ret = VOLUME_PER_ANIMAL;
	if (!**at)
		return true;
	if (!take_word(at, "/") && !take_word(at, "per "))
		return false;
	skip_blanks(at);
	if (take_word(at, "100")) {
		skip_blanks(at);
		*ret = VOLUME_PER_100G;
		if (!take_word(at, "g"))
			return false;
	} else {
		*ret = VOLUME_PER_KG;
		if (!take_word(at, "kg"))
			return false;
	}
	skip_blanks(at);
	return !**at;
}

enum volume_parsed volume_parse_rate(const char *text, struct volume_rate *ret)
{
	struct volume_rate rate = { 0 };
	enum volume_parsed parsed = take_volume(&text, &rate.ul);

	if (parsed == VOLUME_PARSED && !take_basis(&text, &rate.basis))
		parsed = VOLUME_BAD_UNIT;
	if (parsed == VOLUME_PARSED)
		parsed = in_range(rate.ul);
	if (parsed == VOLUME_PARSED)
		*ret = rate;
	return parsed;
}

const char *volume_hint(enum volume_parsed parsed)
{
	switch (parsed) {
	case VOLUME_PARSED:
		return "nothing is wrong with this volume";
	case VOLUME_NO_NUMBER:
		return "a volume begins with its number: write for instance 4 mL or 0.4 mL";
	case VOLUME_NO_UNIT:
		return "the unit is missing: write for instance 4 mL or 0.4 mL";
	case VOLUME_BAD_UNIT:
		return "say it in mL, and by weight in mL/kg or mL/100 g: write for instance 4 mL, 10 mL/kg or 1 "
		       "mL/100 g. If your vet said it otherwise (by pound, by ounce, by day, in drops), ask your vet "
		       "to say it in one of these; don't convert it by yourself";
	case VOLUME_AMBIGUOUS:
		return "this can be read as more than one volume, and a slip of the point is a tenfold dose: write "
		       "mL, a zero before the point (0.5 mL), no other zeros in front, no parted thousands, and not "
		       "three decimals (1.25 mL, 1000 mL)";
	case VOLUME_OUT_OF_RANGE:
		return "this volume can't be: write one above zero and at most 1000 mL, with three decimals at most";
	}
	return "this is no volume";
}

/* A number that was cut off is another number: rather none at all. */
static void write_whole(int written, char *ret, size_t n)
{
	if (n > 0 && (written < 0 || (size_t)written >= n))
		*ret = '\0';
}

void volume_format(int64_t ul, char *ret, size_t n)
{
	uint64_t magnitude = ul < 0 ? -(uint64_t)ul : (uint64_t)ul, fraction = magnitude % UL_PER_ML;
	const char *sign = ul < 0 ? "-" : "";
	int decimals = DECIMALS, written;

	for (; decimals > 0 && fraction % 10 == 0; decimals--)
		fraction /= 10;
	if (decimals == 0)
		written = snprintf(ret, n, "%s%" PRIu64 " mL", sign, magnitude / UL_PER_ML);
	else
		written = snprintf(ret, n, "%s%" PRIu64 ".%0*" PRIu64 " mL", sign, magnitude / UL_PER_ML, decimals,
				   fraction);
	write_whole(written, ret, n);
}

static const char *basis_text(enum volume_basis basis)
{
	switch (basis) {
	case VOLUME_PER_ANIMAL:
		return "";
	case VOLUME_PER_KG:
		return "/kg";
	case VOLUME_PER_100G:
		return "/100 g";
	}
	return "";
}

void volume_format_rate(const struct volume_rate *rate, char *ret, size_t n)
{
	char volume[32];

	volume_format(rate->ul, volume, sizeof volume);
	write_whole(snprintf(ret, n, "%s%s", volume, basis_text(rate->basis)), ret, n);
}

/* In 128 bits: no product of two 64-bit numbers passes them. */
static int64_t by_mass(int64_t ul, int64_t mass_mg, int64_t per_mg)
{
	unsigned __int128 product = (unsigned __int128)ul * (unsigned __int128)mass_mg / (unsigned __int128)per_mg;

	return product > INT64_MAX ? INT64_MAX : (int64_t)product;
}

int64_t volume_for(const struct volume_rate *rate, int64_t mass_mg)
{
	if (rate->ul <= 0 || mass_mg <= 0)
		return 0;
	switch (rate->basis) {
	case VOLUME_PER_ANIMAL:
		return rate->ul;
	case VOLUME_PER_KG:
		return by_mass(rate->ul, mass_mg, MG_PER_KG);
	case VOLUME_PER_100G:
		return by_mass(rate->ul, mass_mg, MG_PER_100G);
	}
	return 0;
}

int64_t volume_round_down(int64_t ul, int64_t graduation_ul)
{
	return ul <= 0 || graduation_ul <= 0 ? 0 : ul - ul % graduation_ul;
}

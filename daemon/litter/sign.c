// SPDX-License-Identifier: MIT
#include "daemon/litter/sign.h"
#include <stdio.h>
#include <string.h>
#include <strings.h>

#define DAY_MS (INT64_C(24) * 3600 * 1000)
/* Red gums are normal to day 4 to 7: Neonatal emergencies, dvm360. */
#define RED_TO_MS (7 * DAY_MS)
/* No temperature of a living pup beyond; cold ones look dead at 21.1 C (dvm360, orphan proceedings). Ours. */
#define LEAST_MC 20000
#define MOST_MC 44000
#define HYPOTHERMIA "; hypothermia: below 35 C to day 7, 36 C to day 21, 37 C to day 30: vetreproduction.com"

/*
 * Sources differ by up to 2 degrees; chosen was what doesn't miss a cold pup. The last row's high end is adults', from
 * memory: Small Animal Clinical Nutrition has 38.3 C, which ordinary pups pass.
 */
static const struct {
	int64_t to_ms;
	struct sign_band band;
} bands[] = {
	{ 7 * DAY_MS,
	  { 35600, 37200, 35000, 34400, "in week 1",
	    "35.6 to 37.2 C: online.flippingbook.com/view/1040831704 p. 27 (34.5 to 37.2: Small Animal Clinical "
	    "Nutrition, 5th ed., p. 292; newborn 34.4 to 36.0: Dog Owner's Home Veterinary Handbook, p. 489); gut and "
	    "sucking fail at 34.4 C or less: Initially treating fading puppies, dvm360" HYPOTHERMIA } },
	{ 21 * DAY_MS,
	  { 36000, 37800, 36000, 35000, "in weeks 2 and 3",
	    "36.0 to 37.8 C: Small Animal Clinical Nutrition, 5th ed., p. 292, of week 3 (of week 2 34.5 to 37.2; 98.6 "
	    "to 100.0 F: veteriankey.com, neonatology); severe at 35.0 C or less: nelsonroadvet.com" HYPOTHERMIA } },
	{ 28 * DAY_MS,
	  { 37000, 38300, 37000, 35000, "in week 4",
	    "low end: the limit of hypothermia (36.0 to 37.8 C: Small Animal Clinical Nutrition, 5th ed., p. 292; "
	    "37.8: Dog Owner's Home Veterinary Handbook, p. 489; from now on as "
	    "adults: veteriankey.com, neonatology)" HYPOTHERMIA } },
	{ INT64_MAX,
	  { 37800, 39200, 37000, 35000, "after week 4",
	    "from 37.8 C: Small Animal Clinical Nutrition, 5th ed., p. 292 (to 38.3); to 39.2 C: adult dogs, from "
	    "memory" HYPOTHERMIA ", after it our choice" } },
};
#define BANDS (sizeof bands / sizeof bands[0])

static const struct sign_band band_unknown = {
	35600,
	39200,
	37000,
	35000,
	"age not known: 35.6 C is normal in week 1, 39.2 C after week 4",
	"the bands of all ages; what is worst at any age counts",
};

/* ---- reading and writing ---- */

static bool is_space(char c)
{
	return c == ' ' || c == '\t';
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static const char *skip(const char *at)
{
	while (is_space(*at))
		at++;
	return at;
}

/* "35", "35.2", "35,25": up to 4 digits, then up to 3 behind a point or comma; thousandths. NULL: no such number. */
static const char *read_thousandths(const char *at, int32_t *ret)
{
	int32_t value = 0;
	int digits = 0, decimals = 0;

	for (; is_digit(*at) && digits < 5; at++, digits++)
		value = 10 * value + (*at - '0');
	if (digits == 0 || digits > 4)
		return NULL;
	if (*at == '.' || *at == ',') {
		for (at++; is_digit(*at) && decimals < 4; at++, decimals++)
			value = 10 * value + (*at - '0');
		if (decimals == 0 || decimals > 3)
			return NULL;
	}
	for (; decimals < 3; decimals++)
		value *= 10;
	*ret = value;
	return at;
}

/* Fahrenheit to Celsius, thousandths, to the nearest; exact wherever one of our limits lies. */
static int32_t celsius(int32_t mf)
{
	int64_t ninths = ((int64_t)mf - 32000) * 5;

	return (int32_t)((ninths + (ninths < 0 ? -4 : 4)) / 9);
}

static enum sign_parsed parse_temperature(const char *text, int32_t *ret, const char **ret_hint)
{
	int32_t value = 0;
	const char *at = read_thousandths(skip(text), &value);
	char unit;

	if (!at) {
		*ret_hint = "a number and its unit: 35.2C or 95.4F";
		return SIGN_NO_ANSWER;
	}
	at = skip(at);
	if (strncmp(at, "\xc2\xb0", 2) == 0) /* the degree sign, in UTF-8 */
		at = skip(at + 2);
	unit = *at;
	if ((unit != 'C' && unit != 'c' && unit != 'F' && unit != 'f') || *skip(at + 1) != '\0') {
		*ret_hint = "C or F? Type the unit with it: 35.2C or 95.4F";
		return SIGN_NO_UNIT;
	}
	if (unit == 'F' || unit == 'f')
		value = celsius(value);
	if (value < LEAST_MC || value > MOST_MC) {
		*ret_hint = "no temperature of a living pup: 20C to 44C, or 68F to 111.2F. Was it the other unit?";
		return SIGN_OUT_OF_RANGE;
	}
	*ret = value;
	return SIGN_PARSED;
}

static int count_answers(enum sign_kind kind)
{
	int n = 0;

	while (sign_row(kind)->answers[n].word)
		n++;
	return n;
}

/* The answer that a word (n characters) or number means; -1: none, or more than one. */
static int find_answer(enum sign_kind kind, const char *word, size_t n)
{
	const struct sign_answer *answers = sign_row(kind)->answers;
	int count = count_answers(kind), ret = -1, found = 0;

	if (n == 1 && is_digit(word[0]))
		return word[0] >= '1' && word[0] - '0' <= count ? word[0] - '1' : -1;
	for (int i = 0; i < count; i++) { /* the empty word begins them all */
		if (strncasecmp(answers[i].word, word, n) != 0)
			continue;
		if (answers[i].word[n] == '\0')
			return i;
		ret = i;
		found++;
	}
	return found == 1 ? ret : -1;
}

static void list_answers(enum sign_kind kind, char *ret, size_t n)
{
	const struct sign_answer *answers = sign_row(kind)->answers;
	int count = count_answers(kind);
	size_t used = 0;

	ret[0] = '\0';
	for (int i = 0; i < count && used < n; i++) {
		const char *between = i == 0 ? "" : i == count - 1 ? " or " : ", ";
		used += (size_t)snprintf(ret + used, n - used, "%s%s", between, answers[i].word);
	}
	if (used < n)
		(void)snprintf(ret + used, n - used, "; or its number, 1 to %d", count); /* may be cut */
}

enum sign_parsed sign_parse(enum sign_kind kind, const char *value, struct sign_value *ret, char *ret_hint,
			    size_t n_hint)
{
	const char *start = skip(value), *hint = "";
	size_t n = strlen(start);
	int32_t parsed = 0;

	if (kind == SIGN_TEMPERATURE) {
		enum sign_parsed outcome = parse_temperature(start, &parsed, &hint);
		if (outcome != SIGN_PARSED) {
			(void)snprintf(ret_hint, n_hint, "%s", hint); /* may be cut */
			return outcome;
		}
	} else {
		while (n > 0 && is_space(start[n - 1]))
			n--;
		parsed = find_answer(kind, start, n);
		if (parsed < 0) {
			list_answers(kind, ret_hint, n_hint);
			return SIGN_NO_ANSWER;
		}
	}
	*ret = (struct sign_value){ kind, parsed };
	return SIGN_PARSED;
}

/* Known to the table. What the ledger holds may be from another version. */
static const struct sign_answer *answer_of(const struct sign_value *value)
{
	if ((unsigned)value->kind >= SIGN_KINDS || value->kind == SIGN_TEMPERATURE || value->value < 0 ||
	    value->value >= count_answers(value->kind))
		return NULL;
	return &sign_row(value->kind)->answers[value->value];
}

void sign_format(const struct sign_value *value, char *ret, size_t n)
{
	const struct sign_answer *answer = answer_of(value);
	int64_t mc = value->value, fraction;
	const char *sign = mc < 0 ? "-" : "";
	int decimals = 3;

	if (value->kind != SIGN_TEMPERATURE) {
		(void)snprintf(ret, n, "%s", answer ? answer->word : "?"); /* the words are short */
		return;
	}
	mc = mc < 0 ? -mc : mc;
	for (fraction = mc % 1000; decimals > 1 && fraction % 10 == 0; fraction /= 10)
		decimals--;
	(void)snprintf(ret, n, "%s%d.%0*dC", sign, (int)(mc / 1000), decimals, (int)fraction); /* 14 bytes at most */
}

/* ---- how it counts ---- */

bool sign_tells(enum sign_kind kind, int64_t age_ms)
{
	const struct sign_row *row = sign_row(kind);

	return age_ms < 0 || (age_ms >= row->from_ms && (age_ms < row->to_ms || row->to_ms == INT64_MAX));
}

static size_t band_of(int64_t age_ms)
{
	size_t i = 0;

	while (i + 1 < BANDS && age_ms >= bands[i].to_ms)
		i++;
	return i;
}

struct sign_band sign_band(int64_t age_ms)
{
	return age_ms < 0 ? band_unknown : bands[band_of(age_ms)].band;
}

static enum sign_weight cold_in(const struct sign_band *band, int32_t mc)
{
	if (mc < band->call_mc)
		return SIGN_WORST;
	if (mc < band->chilled_mc)
		return SIGN_BAD;
	return mc < band->low_mc ? SIGN_WATCH : SIGN_WELL;
}

static enum sign_weight hot_in(const struct sign_band *band, int32_t mc)
{
	if (mc > SIGN_HOT_MC)
		return SIGN_WORST;
	if (mc > SIGN_FEVER_MC)
		return SIGN_BAD;
	return mc > band->high_mc ? SIGN_WATCH : SIGN_WELL;
}

static enum sign_weight weigh_side(enum sign_weight (*side)(const struct sign_band *, int32_t), int32_t mc,
				   int64_t age_ms)
{
	enum sign_weight worst = SIGN_WELL;

	if (age_ms >= 0)
		return side(&bands[band_of(age_ms)].band, mc);
	for (size_t i = 0; i < BANDS; i++) {
		enum sign_weight weight = side(&bands[i].band, mc);
		if (weight > worst)
			worst = weight;
	}
	return worst;
}

enum sign_weight sign_weigh_cold(int32_t mc, int64_t age_ms)
{
	return weigh_side(cold_in, mc, age_ms);
}

enum sign_weight sign_weigh_hot(int32_t mc, int64_t age_ms)
{
	return weigh_side(hot_in, mc, age_ms);
}

enum sign_weight sign_weigh(const struct sign_value *value, int64_t age_ms)
{
	const struct sign_answer *answer = answer_of(value);

	if (value->kind == SIGN_TEMPERATURE) {
		enum sign_weight cold = sign_weigh_cold(value->value, age_ms),
				 hot = sign_weigh_hot(value->value, age_ms);
		return cold > hot ? cold : hot;
	}
	if (!answer)
		return SIGN_WATCH;
	if (value->kind == SIGN_COLOUR && answer->weight == SIGN_WATCH && age_ms >= 0 && age_ms < RED_TO_MS)
		return SIGN_WELL;
	if (answer->weight > SIGN_WATCH && !sign_tells(value->kind, age_ms))
		return SIGN_WATCH;
	return answer->weight;
}

/* ---- warmth ---- */

static bool is_within(int64_t from_ms, int64_t to_ms, int64_t most_ms)
{
	int64_t between;

	return from_ms <= to_ms && !__builtin_sub_overflow(to_ms, from_ms, &between) && between <= most_ms;
}

void sign_warmth_by(const struct sign_seen *signs, size_t n, int64_t now_ms, int64_t within_ms,
		    const struct sign_seen **ret_temperature, const struct sign_seen **ret_touch)
{
	const struct sign_seen *temperature = NULL, *touch = NULL;

	for (size_t i = 0; i < n; i++) {
		const struct sign_seen *seen = &signs[i];
		if (!is_within(seen->at_ms, now_ms, within_ms))
			continue;
		if (seen->value.kind == SIGN_TEMPERATURE && (!temperature || seen->at_ms >= temperature->at_ms))
			temperature = seen;
		if (seen->value.kind == SIGN_TOUCH && answer_of(&seen->value) &&
		    (!touch || seen->at_ms >= touch->at_ms))
			touch = seen;
	}
	if (temperature && touch) {
		if (touch->at_ms <= temperature->at_ms || is_within(temperature->at_ms, touch->at_ms, SIGN_TOGETHER_MS))
			touch = NULL;
		else if (!is_within(temperature->at_ms, touch->at_ms, SIGN_WARMTH_MS))
			temperature = NULL;
	}
	*ret_temperature = temperature;
	*ret_touch = touch;
}

static enum sign_warmth warmth_measured(int32_t mc)
{
	if (mc < SIGN_FEED_BLOCK_MC)
		return SIGN_CHILLED;
	return mc < SIGN_FEED_DOUBT_MC ? SIGN_COOL : SIGN_WARM;
}

static enum sign_warmth warmth_felt(enum sign_touch touch)
{
	switch (touch) {
	case SIGN_TOUCH_WARM:
	case SIGN_TOUCH_HOT:
		return SIGN_WARM;
	case SIGN_TOUCH_COOL:
		return SIGN_COOL;
	case SIGN_TOUCH_COLD:
		return SIGN_CHILLED;
	}
	return SIGN_WARMTH_UNKNOWN;
}

enum sign_warmth sign_warmth(const struct sign_seen *signs, size_t n, int64_t now_ms)
{
	const struct sign_seen *temperature, *touch;
	enum sign_warmth measured, felt;

	sign_warmth_by(signs, n, now_ms, SIGN_WARMTH_MS, &temperature, &touch);
	if (!temperature && !touch)
		return SIGN_WARMTH_UNKNOWN;
	measured = temperature ? warmth_measured(temperature->value.value) : SIGN_WARM;
	felt = touch ? warmth_felt((enum sign_touch)touch->value.value) : SIGN_WARM;
	return measured > felt ? measured : felt;
}

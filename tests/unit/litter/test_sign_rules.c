// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include "daemon/litter/sign_rules.h"
#include "tests/unit/litter/signs.h"

#define NOW_MS INT64_C(1795610730000)
#define HOUR_MS INT64_C(3600000)
#define NEVER (-1)
#define MANY 32

/* The level with which a rule holds, or NEVER; writes the text when wanted. */
static int level_of(enum sign_rule rule, const struct sign_view *view, char *ret_text, size_t n_text)
{
	char own[256];
	enum concern_level level = CONCERN_LOOK;

	if (!sign_rule_holds(rule, view, &level, ret_text ? ret_text : own, ret_text ? n_text : sizeof own))
		return NEVER;
	assert_true(level >= sign_rule_row(rule)->least && level <= sign_rule_row(rule)->worst);
	return (int)level;
}

/* Reads "gums dry, urine dark" into signs that were seen now. */
static size_t read_signs(const char *text, struct sign_seen *ret)
{
	char copy[256], *rest = copy, *part, hint[128];
	size_t n = 0;

	(void)snprintf(copy, sizeof copy, "%s", text);
	while ((part = strsep(&rest, ",")) != NULL && *part) {
		char *word;
		part += *part == ' ';
		word = strsep(&part, " ");
		assert_non_null(part);
		assert_int_equal(sign_parse(sign_of(word), part, &ret[n].value, hint, sizeof hint), SIGN_PARSED);
		ret[n++].at_ms = NOW_MS;
	}
	return n;
}

static int level(enum sign_rule rule, const char *text, int64_t age_ms, bool losing, bool flat)
{
	struct sign_seen signs[MANY];
	struct sign_view view = { signs, read_signs(text, signs), age_ms, NOW_MS, losing, flat };

	return level_of(rule, &view, NULL, 0);
}

/* Of a kind the newest counts, wherever it stands. */
static void test_newest_counts(void **state)
{
	struct sign_seen signs[MANY];
	struct sign_view view = { signs, read_signs("gums dry, gums moist", signs), 5 * 24 * HOUR_MS, NOW_MS, false, false };

	(void)state;
	assert_int_equal(view.n, 2);
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), NEVER);
	signs[1].at_ms = NOW_MS - HOUR_MS;
	assert_int_not_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), NEVER);
	signs[0].at_ms = NOW_MS - HOUR_MS; /* of the same time, the later in the list */
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), NEVER);
}

/* ---- the table ---- */

static void check_advice(const char *advice, bool now)
{
	static const char *const of_feeding[] = { "nurs", "swallow", "teat", "milk", "feed", "mouth" };
	bool feeds = false;

	assert_in_range(strlen(advice), 40, 400);
	assert_non_null(strstr(advice, "vet"));
	assert_true(now == (strncmp(advice, "Call your vet now", 17) == 0));
	assert_int_equal(advice[strlen(advice) - 1], '.');
	assert_null(strstr(advice, "  "));
	for (size_t i = 0; i < LENGTH(signs_never_said); i++)
		assert_null(strcasestr(advice, signs_never_said[i]));
	for (size_t i = 0; i < LENGTH(of_feeding); i++) {
		const char *found = strstr(advice, of_feeding[i]);
		feeds = feeds || (found && strncmp(found, "nursing, or simply", 18) != 0);
	}
	/* No feeding cold: Quist-Rybachuk, PetFeeding proceedings p. 35; veteriankey.com, husbandry of the neonate. */
	if (feeds)
		assert_non_null(strstr(advice, "must be warmed slowly first, and not be fed before"));
}

static void test_table(void **state)
{
	(void)state;
	for (int rule = 0; rule < SIGN_RULES; rule++) {
		const struct concern_row *row = sign_rule_row((enum sign_rule)rule);
		for (int other = 0; other < rule; other++)
			assert_string_not_equal(row->word, sign_rule_row((enum sign_rule)other)->word);
		for (int other = 0; other < CONCERN_CHILLED; other++)
			assert_string_not_equal(row->word, concern_row((enum concern_rule)other)->word);
		assert_true(row->least == CONCERN_LOOK && row->worst == CONCERN_VET);
		assert_true(strlen(row->looks_at) > 10 && strlen(row->threshold) > 10 && strlen(row->source) > 10);
		for (int at = CONCERN_LOOK; at <= CONCERN_VET; at++)
			check_advice(sign_rule_advice((enum sign_rule)rule, (enum concern_level)at), at == CONCERN_VET);
		assert_ptr_equal(sign_rule_advice((enum sign_rule)rule, CONCERN_VET), row->advice);
	}
	assert_non_null(strstr(sign_rule_row(SIGN_RULE_HOT)->source, "from memory, no source"));
	assert_non_null(strstr(sign_rule_row(SIGN_RULE_DRY)->source, "common practice (no source)"));
}

/* ---- each rule ---- */

struct expected {
	enum sign_rule rule;
	const char *signs;
	int days;          /* old */
	int plain, losing; /* the level without and with a loss of weight */
};

static void check(const struct expected *rows, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		int plain = level(rows[i].rule, rows[i].signs, rows[i].days * DAY_MS, false, false);
		int losing = level(rows[i].rule, rows[i].signs, rows[i].days * DAY_MS, true, false);
		if (plain != rows[i].plain || losing != rows[i].losing)
			fail_msg("%s, day %d: %d, losing %d", rows[i].signs, rows[i].days, plain, losing);
	}
}

static void test_warmth(void **state)
{
	static const struct expected rows[] = {
		/* below 35 to day 7, 36 to day 21, 37 to day 30: vetreproduction.com */
		{ SIGN_RULE_CHILLED, "temperature 34.9C", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_CHILLED, "temperature 35.9C", 10, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_CHILLED, "temperature 36C", 10, NEVER, NEVER },
		{ SIGN_RULE_CHILLED, "temperature 36.9C", 25, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_CHILLED, "temperature 30.9C", 25, CONCERN_VET, CONCERN_VET },
		/* gut works from 35.6 (flippingbook), stands still at 34.4 (dvm360) */
		{ SIGN_RULE_CHILLED, "temperature 35.3C", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_CHILLED, "temperature 35.6C", 3, NEVER, NEVER },
		{ SIGN_RULE_CHILLED, "temperature 34.3C", 3, CONCERN_VET, CONCERN_VET },
		/* touch: ours */
		{ SIGN_RULE_CHILLED, "touch lukewarm", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_CHILLED, "touch cold", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_CHILLED, "touch cold, temperature 36C", 3, NEVER,
		  NEVER }, /* the thermometer knows better */
		{ SIGN_RULE_CHILLED, "touch hot", 3, NEVER, NEVER },
		/* weak suckle with a chill: ours */
		{ SIGN_RULE_CHILLED, "temperature 34.9C, nursing weak", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_CHILLED, "temperature 35.3C, tone weak", 3, CONCERN_ACT, CONCERN_ACT },
		/* fever above 39.4: from memory; above 41.1 it kills: JAVMA 262(1) */
		{ SIGN_RULE_HOT, "temperature 39.4C", 10, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_HOT, "temperature 39.5C", 10, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_HOT, "temperature 41.2C", 10, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_HOT, "temperature 37.4C", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_HOT, "temperature 37.4C", 10, NEVER, NEVER },
		{ SIGN_RULE_HOT, "temperature 34C", 3, NEVER, NEVER },
		{ SIGN_RULE_HOT, "touch hot", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_HOT, "touch hot, temperature 37C", 3, NEVER, NEVER },
		{ SIGN_RULE_HOT, "touch cold", 3, NEVER, NEVER },
		{ SIGN_RULE_HOT, "temperature 39.5C, tone weak", 3, CONCERN_VET, CONCERN_VET },
	};

	(void)state;
	check(rows, LENGTH(rows));
}

static void test_dry(void **state)
{
	static const struct expected rows[] = {
		/* tacky is bad: Neonatal emergencies, dvm360; tacky to dry is 5 to 7 %: BSAVA 2008 */
		{ SIGN_RULE_DRY, "gums moist", 3, NEVER, NEVER },
		{ SIGN_RULE_DRY, "gums tacky", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "gums dry", 3, CONCERN_VET, CONCERN_VET },
		/* yellow urine, to about 3 weeks: Identifying dehydration, dvm360; none: Neonatal emergencies, dvm360
		 */
		{ SIGN_RULE_DRY, "urine clear", 3, NEVER, NEVER },
		{ SIGN_RULE_DRY, "urine yellow", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "urine missing", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "urine yellow", 20, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "urine yellow", 21, CONCERN_LOOK, CONCERN_ACT },
		/* skin: unreliable in the first weeks; there too */
		{ SIGN_RULE_DRY, "skin tent", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_DRY, "skin slow", 41, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_DRY, "skin slow", 42, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "skin quick, gums tacky", 3, CONCERN_ACT, CONCERN_VET }, /* quick clears nothing */
		/* tongue: common practice (no source) */
		{ SIGN_RULE_DRY, "tongue dry", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_DRY, "tongue sticks", 3, CONCERN_ACT, CONCERN_VET },
		/* two of them, and diarrhoea (dries out fast: Dog Owner's Home Veterinary Handbook, dehydration): ours
		 */
		{ SIGN_RULE_DRY, "gums tacky, urine yellow", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_DRY, "gums tacky, urine yellow", 25, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "gums tacky, skin tent", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_DRY, "gums tacky, stool green", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_DRY, "stool green, vomit vomits", 3, NEVER,
		  NEVER }, /* a companion alone isn't this rule's */
	};

	(void)state;
	check(rows, LENGTH(rows));
}

static void test_others(void **state)
{
	static const struct expected rows[] = {
		/* weak suckle, not nursing: Vet Focus 32.1; too weak to nurse: Dog Owner's Home Veterinary Handbook,
		   reviving */
		{ SIGN_RULE_NURSING, "nursing weak", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_NURSING, "nursing none", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_NURSING, "nursing none", 45, CONCERN_LOOK, CONCERN_ACT },
		/* sucks and gets nothing: common practice (no source) */
		{ SIGN_RULE_NURSING, "nursing strong, tongue sticks", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_NURSING, "tongue dry", 3, NEVER, NEVER },
		{ SIGN_RULE_NURSING, "nursing weak, tongue sticks", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_NURSING, "nursing strong", 3, NEVER, CONCERN_ACT },
		{ SIGN_RULE_NURSING, "nursing strong", 45, NEVER, NEVER },
		{ SIGN_RULE_NURSING, "nursing weak, tone weak", 3, CONCERN_VET, CONCERN_VET },
		/* any unwell newborn is an emergency: Vet Focus 32.1; pale: Neonatal emergencies, dvm360 */
		{ SIGN_RULE_LIMP, "tone weak", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_LIMP, "tone limp", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_LIMP, "colour white", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_LIMP, "colour blue", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_LIMP, "breathing gasping", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_LIMP, "breathing fast", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_LIMP, "tone weak, colour white", 3, CONCERN_VET, CONCERN_VET },
		/* red gums are normal to day 7: Neonatal emergencies, dvm360 */
		{ SIGN_RULE_LIMP, "colour red", 6, NEVER, NEVER },
		{ SIGN_RULE_LIMP, "colour red", 7, CONCERN_LOOK, CONCERN_ACT },
		/* constant crying, vomit: call within 4 to 6 h, a lay first-aid page */
		{ SIGN_RULE_CRYING, "crying settles", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_CRYING, "crying constant", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_CRYING, "crying constant, belly tight", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_GUT, "vomit vomits", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_GUT, "vomit dribbles", 3, CONCERN_LOOK, CONCERN_ACT },
		/* mild, moderate, severe: Dog Owner's Home Veterinary Handbook, common feeding problems */
		{ SIGN_RULE_GUT, "stool normal", 3, NEVER, NEVER },
		{ SIGN_RULE_GUT, "stool loose", 3, CONCERN_LOOK, CONCERN_ACT },
		{ SIGN_RULE_GUT, "stool green", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_GUT, "stool white", 3, CONCERN_VET, CONCERN_VET },
		/* common practice (no source) */
		{ SIGN_RULE_GUT, "stool blood", 3, CONCERN_VET, CONCERN_VET },
		{ SIGN_RULE_GUT, "stool missing", 3, CONCERN_LOOK, CONCERN_ACT },
		/* distended belly: Vet Focus 32.1; Neonatal emergencies, dvm360 */
		{ SIGN_RULE_GUT, "belly tight", 3, CONCERN_ACT, CONCERN_VET },
		{ SIGN_RULE_GUT, "stool green, gums tacky", 3, CONCERN_VET, CONCERN_VET },
	};

	(void)state;
	check(rows, LENGTH(rows));
	/* Fails to gain: tell the vet at once (Dog Owner's Home Veterinary Handbook, p. 492); flat lifts this rule
	 * alone. */
	assert_int_equal(level(SIGN_RULE_NURSING, "nursing strong", 3 * DAY_MS, false, true), CONCERN_ACT);
	assert_int_equal(level(SIGN_RULE_NURSING, "nursing weak", 3 * DAY_MS, false, true), CONCERN_VET);
	assert_int_equal(level(SIGN_RULE_DRY, "gums tacky", 3 * DAY_MS, false, true), CONCERN_ACT);
}

/* Well at every age: nothing is told. */
static void test_well(void **state)
{
	static const char well[] =
		"touch warm, nursing strong, tongue free, gums moist, colour pink, tone active, crying quiet, "
		"breathing easy, belly round, urine clear, stool normal, vomit none, skin quick";
	static const struct {
		int days;
		const char *temperature;
	} rows[] = { { 0, "35.8C" }, { 6, "36.5C" }, { 7, "37C" }, { 20, "37.5C" }, { 24, "37.8C" }, { 40, "38.3C" } };

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		char text[256];
		(void)snprintf(text, sizeof text, "temperature %s, %s", rows[i].temperature, well);
		for (int rule = 0; rule < SIGN_RULES; rule++)
			assert_int_equal(level((enum sign_rule)rule, text, rows[i].days * DAY_MS, false, false), NEVER);
	}
	for (int rule = 0; rule < SIGN_RULES; rule++) {
		assert_int_equal(level((enum sign_rule)rule, well, -1, false, false),
				 NEVER); /* touch alone knows no age */
		assert_int_equal(level((enum sign_rule)rule, "", -1, true, true), NEVER);
	}
}

/* ---- which sign counts ---- */

static void test_which(void **state)
{
	struct sign_seen signs[3] = { { NOW_MS - SIGN_COUNTS_MS, { SIGN_GUMS, 2 } } };
	struct sign_view view = { signs, 1, 3 * DAY_MS, NOW_MS, false, false };

	(void)state;
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), CONCERN_VET); /* 24 h */
	signs[0].at_ms--;
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), NEVER);
	signs[0].at_ms = NOW_MS + 1; /* not yet */
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), NEVER);
	signs[0] = (struct sign_seen){ NOW_MS - 2 * HOUR_MS, { SIGN_GUMS, 2 } };
	signs[1] = (struct sign_seen){ NOW_MS - HOUR_MS, { SIGN_GUMS, 0 } };
	view.n = 2;
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), NEVER); /* the newest */
	view.now_ms = NOW_MS - HOUR_MS - 1;
	assert_int_equal(level_of(SIGN_RULE_DRY, &view, NULL, 0), CONCERN_VET);
	/* A touch doesn't undo a thermometer within two hours; later it does. */
	view.now_ms = NOW_MS;
	signs[0] = (struct sign_seen){ NOW_MS - 3 * HOUR_MS, { SIGN_TEMPERATURE, 34000 } };
	signs[1] = (struct sign_seen){ NOW_MS - 2 * HOUR_MS, { SIGN_TOUCH, SIGN_TOUCH_WARM } };
	assert_int_equal(level_of(SIGN_RULE_CHILLED, &view, NULL, 0), CONCERN_VET);
	signs[1].at_ms = NOW_MS - HOUR_MS + 1;
	assert_int_equal(level_of(SIGN_RULE_CHILLED, &view, NULL, 0), NEVER);
	signs[2] = (struct sign_seen){ NOW_MS, { SIGN_TEMPERATURE, 34900 } };
	view.n = 3;
	assert_int_equal(level_of(SIGN_RULE_CHILLED, &view, NULL, 0), CONCERN_ACT);
}

static void test_text(void **state)
{
	static const struct {
		enum sign_rule rule;
		const char *signs;
		int64_t age_ms;
		bool losing, flat;
		const char *text;
	} rows[] = {
		{ SIGN_RULE_DRY, "urine dark, gums dry", 3 * DAY_MS, true, false,
		  "gums dry (just now), urine dark (just now); loses weight" },
		{ SIGN_RULE_DRY, "skin tent", 3 * DAY_MS, false, false,
		  "skin tent (just now; tells little at this age)" },
		{ SIGN_RULE_DRY, "gums tacky, vomit vomits", 3 * DAY_MS, false, true,
		  "gums tacky (just now); with vomit vomits" },
		{ SIGN_RULE_CHILLED, "temperature 34.2C, nursing none, tone weak", 3 * DAY_MS, false, false,
		  "temperature 34.2C, chilled below 35.0C (just now); with nursing none, tone weak" },
		{ SIGN_RULE_CHILLED, "temperature 30.8C", 10 * DAY_MS, false, false,
		  "temperature 30.8C, severe below 31.0C (just now)" },
		{ SIGN_RULE_CHILLED, "temperature 35.2C", 3 * DAY_MS, false, false,
		  "temperature 35.2C, normal from 35.6C (just now)" },
		{ SIGN_RULE_CHILLED, "temperature 36.2C", -1, false, false,
		  "temperature 36.2C, chilled below 37.0C (just now); age not known: judged strictly" },
		{ SIGN_RULE_HOT, "temperature 103F", 10 * DAY_MS, false, false,
		  "temperature 39.444C, fever above 39.4C (just now)" },
		{ SIGN_RULE_HOT, "temperature 38C", 3 * DAY_MS, false, false,
		  "temperature 38.0C, normal to 37.2C (just now)" },
		{ SIGN_RULE_HOT, "temperature 38C", -1, false, false,
		  "temperature 38.0C (just now); age not known: judged strictly" },
		{ SIGN_RULE_NURSING, "nursing strong", 3 * DAY_MS, false, true,
		  "nursing strong (just now); doesn't gain" },
	};
	struct sign_seen signs[MANY];
	char text[256];

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		struct sign_view view = { signs,          read_signs(rows[i].signs, signs),
					  rows[i].age_ms, NOW_MS,
					  rows[i].losing, rows[i].flat };
		assert_true(level_of(rows[i].rule, &view, text, sizeof text) != NEVER);
		assert_string_equal(text, rows[i].text);
		for (size_t n = 1; n <= strlen(rows[i].text); n++) { /* cut, and ended */
			memset(text, 'x', sizeof text);
			assert_true(level_of(rows[i].rule, &view, text, n) != NEVER);
			assert_int_equal(strlen(text), n - 1);
			assert_memory_equal(text, rows[i].text, n - 1);
		}
	}
}

static void test_ago(void **state)
{
	static const struct {
		int minutes;
		const char *text;
	} rows[] = {
		{ 0, "gums dry (just now)" },       { 4, "gums dry (just now)" },  { 5, "gums dry (5 min ago)" },
		{ 119, "gums dry (119 min ago)" },  { 120, "gums dry (2 h ago)" }, { 179, "gums dry (2 h ago)" },
		{ 24 * 60, "gums dry (24 h ago)" },
	};

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		struct sign_seen seen = { NOW_MS - rows[i].minutes * INT64_C(60000), { SIGN_GUMS, 2 } };
		struct sign_view view = { &seen, 1, DAY_MS, NOW_MS, false, false };
		char text[256];
		assert_int_equal(level_of(SIGN_RULE_DRY, &view, text, sizeof text), CONCERN_VET);
		assert_string_equal(text, rows[i].text);
	}
}

/* ---- properties, over chance combinations ---- */

static size_t answers_of(int kind)
{
	size_t n = 0;

	while (sign_row((enum sign_kind)kind)->answers[n].word)
		n++;
	return n;
}

/* Each kind with chance 1/2, at some time of the last 26 hours. */
static size_t draw(struct signs_chance *chance, struct sign_seen *ret)
{
	size_t n = 0;

	for (int kind = 0; kind < SIGN_KINDS; kind++) {
		if (signs_below(chance, 2))
			continue;
		ret[n].at_ms = NOW_MS - (int64_t)signs_below(chance, 26 * 60) * 60000;
		ret[n].value.kind = (enum sign_kind)kind;
		ret[n].value.value = kind == SIGN_TEMPERATURE
					     ? (int32_t)(30000 + signs_below(chance, 12000))
					     : (int32_t)signs_below(chance, (unsigned)answers_of(kind));
		n++;
	}
	return n;
}

/* One answer worse, or colder, or hotter: no rule falls. */
static void check_worse(const struct sign_view *view, struct sign_seen *signs, size_t i, int rule)
{
	struct sign_seen was = signs[i];
	int before = level_of((enum sign_rule)rule, view, NULL, 0);

	if (was.value.kind == SIGN_TEMPERATURE) {
		if (rule != SIGN_RULE_HOT)
			signs[i].value.value -= 500;
		else
			signs[i].value.value += 500;
		assert_true(level_of((enum sign_rule)rule, view, NULL, 0) >= before);
	} else if ((size_t)was.value.value + 1 < answers_of((int)was.value.kind) &&
		   !(was.value.kind == SIGN_TOUCH && rule == SIGN_RULE_HOT)) { /* cool is no worse a heat than hot */
		signs[i].value.value++;
		assert_true(level_of((enum sign_rule)rule, view, NULL, 0) >= before);
	}
	signs[i] = was;
}

static void test_properties(void **state)
{
	struct signs_chance chance = { 42 };
	int held[SIGN_RULES][3] = { 0 };

	(void)state;
	for (int k = 0; k < 20000; k++) {
		struct sign_seen signs[MANY];
		struct sign_view view = { .signs = signs, .n = draw(&chance, signs), .now_ms = NOW_MS };
		view.age_ms = signs_ages[signs_below(&chance, LENGTH(signs_ages))];
		view.losing = signs_below(&chance, 2);
		view.flat = signs_below(&chance, 2);
		for (int rule = 0; rule < SIGN_RULES; rule++) {
			struct sign_view other = view;
			int now = level_of((enum sign_rule)rule, &view, NULL, 0);
			if (now != NEVER)
				held[rule][now]++;
			for (size_t i = 0; i < view.n; i++)
				check_worse(&view, signs, i, rule);
			other.age_ms = -1; /* never milder than a known age */
			assert_true(level_of((enum sign_rule)rule, &other, NULL, 0) >= now);
			other = view;
			other.losing = other.flat = true;
			assert_true(level_of((enum sign_rule)rule, &other, NULL, 0) >= now);
		}
	}
	for (int rule = 0; rule < SIGN_RULES; rule++) /* the draws reach all of it */
		for (int at = 0; at < 3; at++)
			assert_true(held[rule][at] > 20);
}

/* The order in the list says nothing when times differ; the longest text fits. */
static void test_order(void **state)
{
	struct signs_chance chance = { 7 };
	size_t longest = 0;

	(void)state;
	for (int k = 0; k < 5000; k++) {
		struct sign_seen signs[MANY], turned[MANY];
		struct sign_view view = { .signs = signs, .n = draw(&chance, signs), .now_ms = NOW_MS, .losing = true };
		struct sign_view back = view;
		view.age_ms = back.age_ms = signs_ages[signs_below(&chance, LENGTH(signs_ages))];
		back.signs = turned;
		for (size_t i = 0; i < view.n; i++)
			turned[i] = signs[view.n - 1 - i];
		for (int rule = 0; rule < SIGN_RULES; rule++) {
			char text[512] = "", other[512] = "";
			assert_int_equal(level_of((enum sign_rule)rule, &view, text, sizeof text),
					 level_of((enum sign_rule)rule, &back, other, sizeof other));
			assert_string_equal(text, other);
			longest = strlen(text) > longest ? strlen(text) : longest;
		}
	}
	assert_in_range(longest, 100, 255);
}

/* What no version of ours wrote, and the ends of the types. */
static void test_degenerate(void **state)
{
	static const int64_t times[] = { INT64_MIN, -1, 0, NOW_MS, INT64_MAX };
	static const int32_t values[] = { INT32_MIN, -1, 0, 6, 35000, INT32_MAX };

	(void)state;
	for (int kind = -1; kind <= SIGN_KINDS + 1; kind++)
		for (size_t i = 0; i < LENGTH(times) * LENGTH(times) * LENGTH(times) * LENGTH(values); i++) {
			struct sign_seen seen = { times[i % 5], { (enum sign_kind)kind, values[i / 125 % 6] } };
			struct sign_view view = { &seen, 1, times[i / 5 % 5], times[i / 25 % 5], i % 2, i % 3 };
			for (int rule = 0; rule < SIGN_RULES; rule++)
				(void)level_of((enum sign_rule)rule, &view, NULL, 0);
			(void)sign_warmth(&seen, 1, view.now_ms);
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_newest_counts),
		cmocka_unit_test(test_table),  cmocka_unit_test(test_warmth),     cmocka_unit_test(test_dry),
		cmocka_unit_test(test_others), cmocka_unit_test(test_well),       cmocka_unit_test(test_which),
		cmocka_unit_test(test_text),   cmocka_unit_test(test_ago),        cmocka_unit_test(test_properties),
		cmocka_unit_test(test_order),  cmocka_unit_test(test_degenerate),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

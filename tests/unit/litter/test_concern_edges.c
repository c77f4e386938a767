// SPDX-License-Identifier: MIT
/* Litters that aren't complete or not as in the book, and the sentences in which it all is told. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include "tests/unit/litter/test_concern.h"

#define LB_MG 453592.37 /* NIST SP 811, exact */

static void alone(struct made *made, int64_t birth_mg)
{
	born(made, &birth_mg, 1, 0);
}

/* What is told of an animal by a rule; "": nothing. */
static const char *text_of(const struct made *made, double hours, enum concern_rule rule, size_t animal)
{
	static struct concern found[FOUND];
	size_t n = concern_look(&made->litter, hour(hours), found, FOUND);

	for (size_t i = 0; i < n; i++)
		if (found[i].rule == rule && found[i].animal == animal)
			return found[i].text;
	return "";
}

static bool has(const char *text, const char *part)
{
	return strstr(text, part) != NULL;
}

/* Five of which the third stops, raised to a day. */
static void raise_stopped(struct made *made, double stops_day, double rate, double to_day)
{
	struct sim_pup pups[5];

	five(pups, 350, 1);
	pups[2].stops_day = stops_day;
	pups[2].stopped_rate = rate;
	bear(made, pups, 5, 20000000);
	raise_to(made, SIM_BAND, pups, 5, 0.5, to_day);
}

static void test_no_birth_weight(void **state)
{
	static const int64_t births[] = { 350000, 0, 380000, 400000 };
	struct made made;
	int first = NEVER;

	(void)state;
	born(&made, births, 4, 3000000);
	for (double day = 0.5; day <= 9; day += 0.5)
		for (size_t i = 0; i < 4; i++) {
			struct sim_pup pup = { i == 1 ? 340 : (double)births[i] / 1000, 1, 0, i == 1 ? 5 : INFINITY,
					       -0.03 };
			double at = day + 0.002 * (double)i;
			weigh(&made, i, 24 * at, sim_show(sim_mass(SIM_BAND, &pup, at), 1), 289);
			if (first == NEVER && day > 5 && i == 3)
				first = level_of(&made, 24 * at, CONCERN_LOSING, 1);
		}
	assert_true(first != NEVER);
	assert_int_equal(level_of(&made, 24 * 9 + 1, CONCERN_LOSING, 1), CONCERN_VET);
	for (int rule = 0; rule < CONCERN_RULES; rule++) /* whatever needs one is silent */
		if (rule == CONCERN_EARLY_LOSS || rule == CONCERN_TENTH_LOST || rule == CONCERN_NO_GAIN_72H ||
		    rule == CONCERN_LATE_DOUBLING || rule == CONCERN_LOW_BIRTH)
			assert_int_equal(level_of(&made, 24 * 9 + 1, (enum concern_rule)rule, 1), NEVER);
}

/* Nobody knows when they were born: what the model says is told, what needs an age isn't. */
static void test_no_born_time(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	five(pups, 350, 1);
	pups[2].stops_day = 5;
	pups[2].stopped_rate = -0.03;
	memset(&made, 0, sizeof made);
	growth_init(&made.growth, 5, INT64_MIN);
	for (size_t i = 0; i < 5; i++)
		made.animals[i] = (struct concern_animal){ i, INT64_MIN, 350000, made.readings[i], 0, NULL, 0 };
	made.litter = (struct concern_litter){ .growth = &made.growth, .animals = made.animals, .n = 5 };
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 5);
	for (size_t i = 0; i < 5; i++)
		for (int rule = 0; rule < CONCERN_RULES; rule++)
			assert_int_equal(level_of(&made, 24 * 5 + 1, (enum concern_rule)rule, i), NEVER);
	raise_to(&made, SIM_BAND, pups, 5, 5.5, 8);
	assert_int_equal(level_of(&made, 24 * 8 + 1, CONCERN_LOSING, 2), CONCERN_VET);
	assert_int_equal(level_of(&made, 24 * 60, CONCERN_OVERDUE, 2), NEVER);
}

/* Alone it is the litter to the model, and told of the pup. */
static void test_alone(void **state)
{
	struct sim_pup pup = { 350, 1, 0, 5, 0 };
	struct made made;

	(void)state;
	for (int loses = 0; loses <= 1; loses++) {
		enum concern_rule rule = loses ? CONCERN_LOSING : CONCERN_NO_GAIN_24H;
		pup.stopped_rate = loses ? -0.03 : 0;
		bear(&made, &pup, 1, 0);
		raise_to(&made, SIM_BAND, &pup, 1, 0.5, 5);
		assert_int_equal(level_of(&made, 24 * 5 + 1, rule, 0), NEVER);
		raise_to(&made, SIM_BAND, &pup, 1, 5.5, 9);
		assert_int_equal(level_of(&made, 24 * 9 + 1, rule, 0), CONCERN_VET);
		assert_true(has(text_of(&made, 24 * 9 + 1, rule, 0), "published growth +"));
		assert_int_equal(level_of(&made, 24 * 9 + 1, CONCERN_LITTER_SLOW, SIZE_MAX), NEVER);
		assert_int_equal(level_of(&made, 24 * 9 + 1, CONCERN_BEHIND, 0), NEVER);
	}
}

/* Birth weights typed to an eighth of an ounce, 3.5 g: the limits are decided on what was typed, and a healthy pup
 * isn't told of for it. 12 3/8 oz are 350.83 g; 96 % of it are 336.79 g, 90 % 315.74 g. */
static void test_ounces(void **state)
{
	struct sim_pup pups[5];
	struct made made;
	int64_t births[5];

	(void)state;
	alone(&made, llround(12.375 / 16 * LB_MG));
	weigh(&made, 0, 48, 336790, 289);
	assert_int_equal(level_of(&made, 48, CONCERN_EARLY_LOSS, 0), CONCERN_LOOK);
	alone(&made, llround(12.375 / 16 * LB_MG));
	weigh(&made, 0, 48, 336800, 289);
	assert_int_equal(level_of(&made, 48, CONCERN_EARLY_LOSS, 0), NEVER);
	alone(&made, llround(12.375 / 16 * LB_MG));
	weigh(&made, 0, 48, 315740, 289);
	assert_int_equal(level_of(&made, 48, CONCERN_TENTH_LOST, 0), CONCERN_VET);
	for (double birth_g = 110; birth_g < 500; birth_g += 37) {
		five(pups, birth_g, 1);
		for (size_t i = 0; i < 5; i++)
			births[i] = llround(floor(pups[i].birth_g * 1000 / LB_MG * 128 + 0.5) / 128 * LB_MG);
		born(&made, births, 5, 0);
		for (double day = 0.5; day <= 13; day += 0.5) {
			raise_to(&made, SIM_BAND, pups, 5, day, day);
			for (size_t i = 0; i < 5; i++)
				for (int rule = 0; rule < CONCERN_RULES; rule++)
					assert_int_equal(level_of(&made, 24 * day + 1, (enum concern_rule)rule, i),
							 NEVER);
		}
	}
}

/* A marked reading neither opens nor closes what the model says, and is told beside it. */
static void test_wild(void **state)
{
	struct made made;
	int before;

	(void)state;
	for (int64_t mass = 250000; mass <= 900000; mass += 650000) {
		raise_stopped(&made, 5, -0.03, 7.5);
		before = level_of(&made, 24 * 7.5 + 1, CONCERN_LOSING, 2);
		assert_true(before >= CONCERN_ACT);
		weigh(&made, 2, 24 * 8, mass, 289);
		if (!made.growth.animals[2].wild)
			continue;
		assert_int_equal(level_of(&made, 24 * 8, CONCERN_LOSING, 2), before);
		assert_true(has(text_of(&made, 24 * 8, CONCERN_LOSING, 2), "doesn't fit and may be another's"));
		assert_false(has(text_of(&made, 24 * 8, CONCERN_LOSING, 2), "900 g")); /* not told as its own */
	}
	assert_true(made.growth.animals[2].wild); /* the last one was */
	/* On day 2 a littermate's reading nearer to 48 h doesn't hide the loss at 40 h. */
	born(&made, (const int64_t[]){ 350000, 500000, 420000, 380000 }, 4, 0);
	for (int k = 1; k <= 4; k++)
		for (size_t i = 0; i < 4; i++)
			weigh(&made, i, k == 4 ? 40 : 12 * k + 0.02 * (double)i,
			      i == 0 ? 350000 - 5000 * k : made.animals[i].birth_mg * (40 + k) / 40, 289);
	assert_int_equal(level_of(&made, 40, CONCERN_EARLY_LOSS, 0), CONCERN_LOOK);
	weigh(&made, 0, 48, 520000, 289);
	assert_true(made.growth.animals[0].wild);
	assert_int_equal(level_of(&made, 48, CONCERN_EARLY_LOSS, 0), CONCERN_LOOK);
}

/* A wrong clock, or a birth noted too late: such readings have no age. */
static void test_before_birth(void **state)
{
	struct made made;

	(void)state;
	alone(&made, 350000);
	weigh(&made, 0, -5, 300000, 289);
	for (int rule = 0; rule < CONCERN_RULES; rule++) {
		assert_int_equal(level_of(&made, -1, (enum concern_rule)rule, 0), NEVER);
		assert_int_equal(level_of(&made, 1, (enum concern_rule)rule, 0), NEVER);
	}
	assert_int_equal(level_of(&made, 26, CONCERN_OVERDUE, 0), CONCERN_LOOK); /* since birth */
}

/* Nobody weighed for a week: that is told, and a gain over the gap isn't mistaken for a stop, nor a stop for a gain. */
static void test_gap(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	for (int stops = 0; stops <= 1; stops++) {
		five(pups, 350, 1);
		pups[2].stops_day = stops ? 5 : INFINITY;
		bear(&made, pups, 5, 20000000);
		raise_to(&made, SIM_BAND, pups, 5, 0.5, 4.5);
		for (size_t i = 0; i < 5; i++)
			assert_int_equal(level_of(&made, 24 * 11, CONCERN_OVERDUE, i), CONCERN_LOOK);
		raise_to(&made, SIM_BAND, pups, 5, 11.5, 12.5);
		for (size_t i = 0; i < 5; i++) {
			/* What it weighs is learned anew, so that it is its gain that is told. */
			int level = level_of(&made, 24 * 12.5 + 1, CONCERN_BELOW_BAND, i);
			for (int rule = CONCERN_LOSING; rule <= CONCERN_NO_GAIN_24H; rule++)
				if (level_of(&made, 24 * 12.5 + 1, (enum concern_rule)rule, i) > level)
					level = level_of(&made, 24 * 12.5 + 1, (enum concern_rule)rule, i);
			assert_int_equal(level_of(&made, 24 * 12.5 + 1, CONCERN_OVERDUE, i), NEVER);
			assert_true((level >= CONCERN_ACT) == (stops && i == 2));
		}
	}
}

/* Fostered in on day 10, a week younger and half as heavy: it isn't behind littermates of another age, nor are they
 * compared with it; when it stops, it is told. */
static void test_fostered(void **state)
{
	struct sim_pup pups[6];
	struct made made;
	int level = NEVER;

	(void)state;
	five(pups, 350, 1);
	pups[5] = (struct sim_pup){ 300, 1, 0, 7, -0.03 };
	bear(&made, pups, 5, 0);
	made.growth.n = 6;
	made.growth.animals[5].newest_ms = INT64_MIN;
	made.animals[5] = (struct concern_animal){ 5, hour(24 * 7), 300000, made.readings[5], 0, NULL, 0 };
	made.litter.n = 6;
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 10);
	for (double day = 10.5; day <= 19; day += 0.5) {
		raise_to(&made, SIM_BAND, pups, 5, day, day);
		weigh(&made, 5, 24 * day + 1, sim_show(sim_mass(SIM_BAND, &pups[5], day - 7), 1), 289);
		for (size_t i = 0; i < 6; i++) {
			assert_int_equal(level_of(&made, 24 * day + 2, CONCERN_BEHIND, i), NEVER);
			assert_int_equal(level_of(&made, 24 * day + 2, CONCERN_LOW_BIRTH, i), NEVER);
		}
		if (day <= 14) /* its own seven days */
			assert_int_equal(level_of(&made, 24 * day + 2, CONCERN_LOSING, 5), NEVER);
	}
	level = level_of(&made, 24 * 19 + 2, CONCERN_LOSING, 5);
	assert_true(level >= CONCERN_ACT);
}

/* These rules end with twelve weeks. */
static void test_grown_up(void **state)
{
	struct made made;

	(void)state;
	raise_stopped(&made, 5, -0.03, 9);
	assert_int_equal(level_of(&made, 24 * 9 + 1, CONCERN_LOSING, 2), CONCERN_VET);
	weigh(&made, 2, 24 * 85, 300000, 289); /* less than it weighed at birth */
	for (size_t i = 0; i < 5; i++)
		for (int rule = 0; rule < CONCERN_RULES; rule++)
			assert_int_equal(level_of(&made, 24 * 85, (enum concern_rule)rule, i), NEVER);
	assert_int_equal(level_of(&made, 24 * 85, CONCERN_LITTER_SLOW, SIZE_MAX), NEVER);
}

/* ---- how sure, and in which words ---- */

static double number_after(const char *text, const char *mark)
{
	const char *at = strstr(text, mark);

	return at ? strtod(at + strlen(mark), NULL) : NAN;
}

/* Over many stops, losses and healthy pups with full and empty stomachs: the level agrees with what the sentence says
 * of certainty, the verb with the numbers beside it. */
static void check_words(const struct concern *concern, int seen[3])
{
	const char *text = concern->text, *sure = strstr(text, " % sure");
	double change = number_after(text, "(");

	if (strncmp(text, "drops: ", 7) == 0) { /* by the log: nothing is said of certainty */
		assert_true(change <= -5);
		assert_true(has(text, ": weigh it again now") == (concern->level != CONCERN_VET));
		return;
	}
	assert_non_null(sure);
	assert_true(has(text, "may ") == (concern->level == CONCERN_LOOK));
	assert_true(has(text, "weigh it again") == (concern->level == CONCERN_LOOK));
	assert_false(has(text, "-0.0 %") || has(text, "+0.0 %") || has(text, "nan") || has(text, "inf"));
	while (sure > text && sure[-1] >= '0' && sure[-1] <= '9')
		sure--;
	assert_true(strtod(sure, NULL) >= (concern->level == CONCERN_VET   ? 95
					   : concern->level == CONCERN_ACT ? 80
									   : 50));
	if (concern->rule == CONCERN_LOSING && !isnan(change))
		assert_true(change < 0);
	if (has(text, "gains too little") && has(text, "littermates"))
		assert_true(change < number_after(text, "littermates ") && change > 0);
	if (concern->level != CONCERN_LOOK && has(text, "doesn't gain:") && has(text, "littermates"))
		assert_true(change < number_after(text, "littermates ") / 3);
	seen[concern->level]++;
}

static void test_words(void **state)
{
	struct sim_chance chance = { 777 };
	int seen[3] = { 0 };
	struct made made;

	(void)state;
	for (int k = 0; k < 60; k++) {
		struct sim_pup pups[5];
		five(pups, 150 + 5 * k, 1);
		pups[2].stops_day = k % 3 ? 4 + 0.1 * k / 3 : INFINITY;
		pups[2].stopped_rate = k % 2 ? -0.03 : 0;
		bear(&made, pups, 5, 0);
		for (double day = 0.5; day <= 12; day += 0.5) {
			double shared = 0.02 * sim_normal(&chance);
			struct concern found[FOUND];
			size_t n;
			for (size_t i = 0; i < 5; i++) {
				double at = day + 0.002 * (double)i,
				       g = sim_mass(SIM_BAND, &pups[i], at) * exp(shared + 0.02 * sim_normal(&chance));
				weigh(&made, i, 24 * at, sim_show(g, 1), 289);
			}
			n = concern_look(&made.litter, hour(24 * day + 1), found, FOUND);
			for (size_t i = 0; i < n; i++)
				if (found[i].rule == CONCERN_LOSING || found[i].rule == CONCERN_NO_GAIN_24H)
					check_words(&found[i], seen);
		}
	}
	print_message("told: look %d, act %d, vet %d\n", seen[0], seen[1], seen[2]);
	assert_true(seen[CONCERN_LOOK] > 20 && seen[CONCERN_ACT] > 10 && seen[CONCERN_VET] > 50);
}

/* Calling now wants two weighings since, half a day after it stopped: weighing the same stomach thrice doesn't do. */
static void test_confirmed(void **state)
{
	struct made made;

	(void)state;
	raise_stopped(&made, 5, -0.03, 5);
	weigh(&made, 2, 24 * 5 + 3, 474000, 289); /* 6.7 % below */
	weigh(&made, 2, 24 * 5 + 5, 474000, 289);
	weigh(&made, 2, 24 * 5 + 7, 474000, 289);
	for (int rule = CONCERN_LOSING; rule <= CONCERN_NO_GAIN_24H; rule++)
		assert_true(level_of(&made, 24 * 5 + 7, (enum concern_rule)rule, 2) < CONCERN_VET);
}

/* One that has always gained 5 %, then 3.5 % a day, the band's low end, doubles on day 17.2 (by arithmetic): it is told
 * on day 14, with its gain and that this is as published. */
static void test_low_end(void **state)
{
	struct sim_pup pups[5];
	struct made made;
	const char *text;

	(void)state;
	five(pups, 350, 1);
	bear(&made, pups, 5, 20000000);
	for (double day = 0.5; day <= 17.5; day += 0.5)
		for (size_t i = 0; i < 5; i++) {
			double g = pups[i].birth_g * exp(log(1.052) * fmin(day, 7) + log(1.037) * fmax(0, day - 7));
			weigh(&made, i, 24 * day + 0.05 * (double)i, sim_show(g, 1), 289);
			if (day <= 13.5)
				assert_int_equal(level_of(&made, 24 * day + 0.3, CONCERN_LATE_DOUBLING, i), NEVER);
		}
	made.animals[2].n = 28; /* as of day 14 */
	text = text_of(&made, 24 * 14 + 1, CONCERN_LATE_DOUBLING, 2);
	assert_true(has(text, "steady and within the published 3.5 to 6 %/day"));
	made.animals[2].n = 35;
	assert_int_equal(level_of(&made, 24 * 17.5 + 1, CONCERN_LATE_DOUBLING, 2), NEVER);
}

static void show(const char *text)
{
	assert_true(strlen(text) > 10);
	print_message("  %s\n", text);
}

/* One of each, to be read. */
static void test_examples(void **state)
{
	struct sim_pup pups[5];
	struct made made;
	bool band = false;

	(void)state;
	born(&made, (const int64_t[]){ 350000, 100000, 340000, 360000 }, 4, 7000000);
	weigh(&made, 0, 48, 311000, 289);
	show(text_of(&made, 48, CONCERN_EARLY_LOSS, 0));
	show(text_of(&made, 48, CONCERN_TENTH_LOST, 0));
	assert_string_equal(text_of(&made, 48, CONCERN_TENTH_LOST, 0),
			    "311 g at hour 48: 11.1 % below its birth weight of 350 g (limit: 10 %)");
	show(text_of(&made, 48, CONCERN_LOW_BIRTH, 1));
	show(text_of(&made, 48, CONCERN_OVERDUE, 1));
	made.litter.adult_mg = 0;
	show(text_of(&made, 48, CONCERN_LOW_BIRTH, 1));
	weigh(&made, 0, 75, 345000, 289);
	show(text_of(&made, 75, CONCERN_NO_GAIN_72H, 0));
	for (int loses = 0; loses <= 1; loses++)
		for (int level = CONCERN_LOOK; level <= CONCERN_VET; level++)
			for (double day = 5.25; day < 9; day += 0.25) {
				enum concern_rule rule = loses ? CONCERN_LOSING : CONCERN_NO_GAIN_24H;
				raise_stopped(&made, 5, loses ? -0.03 : 0.01, 5);
				for (double at = 5.25; at <= day; at += 0.25)
					for (size_t i = 0; i < 5; i++) {
						struct sim_pup pup = { 350, 1, 0, i == 2 ? 5 : INFINITY,
								       loses ? -0.03 : 0.01 };
						pup.birth_g = (double)made.animals[i].birth_mg / 1000;
						weigh(&made, i, 24 * at, sim_show(sim_mass(SIM_BAND, &pup, at), 1),
						      289);
					}
				if (level_of(&made, 24 * day + 0.1, rule, 2) != level)
					continue;
				show(text_of(&made, 24 * day + 0.1, rule, 2));
				break;
			}
	for (int slow = 0; slow <= 1; slow++) {
		five(pups, 350, slow ? log(1.03) / log(1.08) : 1);
		for (size_t i = 0; i < 5 && !slow; i++)
			pups[i].stops_day = 5;
		bear(&made, pups, 5, 20000000);
		raise_to(&made, SIM_BAND, pups, 5, 0.5, slow ? 6.5 : 7);
		show(text_of(&made, 24 * (slow ? 6.5 : 7) + 1, CONCERN_LITTER_SLOW, SIZE_MAX));
	}
	five(pups, 350, 1);
	pups[0].birth_g = 225;
	pups[2].pace = 0.5;
	bear(&made, pups, 5, 50000000);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 4);
	show(text_of(&made, 24 * 4 + 1, CONCERN_BEHIND, 0));
	for (double day = 4.5; day <= 16; day += 0.5) {
		raise_to(&made, SIM_BAND, pups, 5, day, day);
		if (!band && *text_of(&made, 24 * day + 1, CONCERN_BELOW_BAND, 2)) {
			band = true;
			show(text_of(&made, 24 * day + 1, CONCERN_BELOW_BAND, 2));
		}
	}
	assert_true(band);
	show(text_of(&made, 24 * 16 + 1, CONCERN_BEHIND, 2));
	show(text_of(&made, 24 * 16 + 1, CONCERN_LATE_DOUBLING, 2));
	raise_to(&made, SIM_BAND, pups, 5, 16.5, 29);
	show(text_of(&made, 24 * 29 + 1, CONCERN_ADULT_RATE, 2));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_no_birth_weight),
		cmocka_unit_test(test_no_born_time),
		cmocka_unit_test(test_alone),
		cmocka_unit_test(test_ounces),
		cmocka_unit_test(test_wild),
		cmocka_unit_test(test_before_birth),
		cmocka_unit_test(test_gap),
		cmocka_unit_test(test_fostered),
		cmocka_unit_test(test_grown_up),
		cmocka_unit_test(test_words),
		cmocka_unit_test(test_confirmed),
		cmocka_unit_test(test_low_end),
		cmocka_unit_test(test_examples),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

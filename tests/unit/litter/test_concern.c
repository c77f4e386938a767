// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include "daemon/litter/concern_change.h"
#include "daemon/litter/concern_text.h"
#include "tests/unit/litter/test_concern.h"

/* A birth weight and one reading. */
static int after(int64_t birth_mg, double hours, int64_t mass_mg, enum concern_rule rule)
{
	struct made made;

	one(&made, birth_mg);
	weigh(&made, 0, hours, mass_mg, 289);
	return level_of(&made, hours, rule, 0);
}

/* ---- the first days ---- */

/* Worked checks 1 to 4 of the facts; the limit: Mila 2015, J Anim Sci, doi 10.2527/jas.2015-8971. */
static void test_early_loss(void **state)
{
	(void)state;
	assert_int_equal(after(350000, 48, 310000, CONCERN_EARLY_LOSS),
			 CONCERN_LOOK); /* 1: -11.43 % is beyond it too */
	assert_int_equal(after(350000, 48, 336000, CONCERN_EARLY_LOSS), CONCERN_LOOK); /* 3: exactly -4 % */
	assert_int_equal(after(350000, 48, 336001, CONCERN_EARLY_LOSS), NEVER);
	assert_int_equal(after(350000, 48, 335999, CONCERN_EARLY_LOSS), CONCERN_LOOK);
	assert_int_equal(after(250000, 48, 239000, CONCERN_EARLY_LOSS), CONCERN_LOOK); /* 4: -4.4 % */
	assert_int_equal(after(250000, 48, 241000, CONCERN_EARLY_LOSS), NEVER);        /* 4: -3.6 % */
	/* Every mass of which 96 % are whole milligrams: the limit itself counts, whatever a float makes of it. */
	for (int64_t birth = 100000; birth <= 700000; birth += 2500) {
		assert_int_equal(after(birth, 48, birth / 25 * 24, CONCERN_EARLY_LOSS), CONCERN_LOOK);
		assert_int_equal(after(birth, 48, birth / 25 * 24 + 1, CONCERN_EARLY_LOSS), NEVER);
	}
}

/* Day 2 is 36 to 60 h, and the reading nearest to 48 h decides. */
static void test_day_2(void **state)
{
	struct made made;

	(void)state;
	assert_int_equal(after(350000, 35.99, 330000, CONCERN_EARLY_LOSS), NEVER);
	assert_int_equal(after(350000, 36, 330000, CONCERN_EARLY_LOSS), CONCERN_LOOK);
	assert_int_equal(after(350000, 60, 330000, CONCERN_EARLY_LOSS), CONCERN_LOOK);
	assert_int_equal(after(350000, 60.01, 330000, CONCERN_EARLY_LOSS), NEVER);
	one(&made, 350000);
	weigh(&made, 0, 37, 340000, 289);
	weigh(&made, 0, 47, 336000, 289);
	weigh(&made, 0, 58, 349000, 289);
	assert_int_equal(level_of(&made, 46, CONCERN_EARLY_LOSS, 0), NEVER); /* as of then */
	assert_int_equal(level_of(&made, 58, CONCERN_EARLY_LOSS, 0), CONCERN_LOOK);
	weigh(&made, 0, 70, 351000, 289); /* made up for */
	assert_int_equal(level_of(&made, 70, CONCERN_EARLY_LOSS, 0), NEVER);
}

/* ChickWeight (R datasets), day 0 to 2, as the facts give it: 39 to 35 g is -10.256 %, 43 to 39 g is -9.302 %. */
static void test_chicks(void **state)
{
	(void)state;
	assert_int_equal(after(39000, 48, 35000, CONCERN_TENTH_LOST), CONCERN_VET);
	assert_int_equal(after(39000, 48, 35000, CONCERN_EARLY_LOSS), CONCERN_LOOK);
	assert_int_equal(after(43000, 48, 39000, CONCERN_TENTH_LOST), NEVER);
	assert_int_equal(after(43000, 48, 39000, CONCERN_EARLY_LOSS), CONCERN_LOOK);
}

/* Dog Owner's Home Veterinary Handbook, p. 493. Worked checks 1 and 2. */
static void test_tenth_lost(void **state)
{
	struct made made;

	(void)state;
	assert_int_equal(after(350000, 48, 310000, CONCERN_TENTH_LOST), CONCERN_VET);
	assert_int_equal(after(350000, 48, 315000, CONCERN_TENTH_LOST), CONCERN_VET); /* exactly -10 % */
	assert_int_equal(after(350000, 48, 315001, CONCERN_TENTH_LOST), NEVER);
	assert_int_equal(after(350000, 3, 315000, CONCERN_TENTH_LOST), CONCERN_VET);
	assert_int_equal(after(350000, 72, 315000, CONCERN_TENTH_LOST), CONCERN_VET);
	assert_int_equal(after(0, 48, 310000, CONCERN_TENTH_LOST), NEVER); /* birth weight not known */
	for (int64_t birth = 100000; birth <= 700000; birth += 1000) {
		assert_int_equal(after(birth, 48, birth / 10 * 9, CONCERN_TENTH_LOST), CONCERN_VET);
		assert_int_equal(after(birth, 48, birth / 10 * 9 + 1, CONCERN_TENTH_LOST), NEVER);
	}
	/* It closes with the numbers. */
	one(&made, 350000);
	weigh(&made, 0, 24, 314000, 289);
	weigh(&made, 0, 36, 320000, 289);
	assert_int_equal(level_of(&made, 24, CONCERN_TENTH_LOST, 0), CONCERN_VET);
	assert_int_equal(level_of(&made, 36, CONCERN_TENTH_LOST, 0), NEVER);
}

/* Dog Owner's Home Veterinary Handbook, p. 493: not gaining by 72 h. */
static void test_no_gain_72h(void **state)
{
	struct made made;

	(void)state;
	assert_int_equal(after(350000, 72, 350000, CONCERN_NO_GAIN_72H), CONCERN_VET);
	assert_int_equal(after(350000, 72, 350001, CONCERN_NO_GAIN_72H), NEVER);
	assert_int_equal(after(350000, 72, 349999, CONCERN_NO_GAIN_72H), CONCERN_VET);
	assert_int_equal(after(350000, 71.9, 340000, CONCERN_NO_GAIN_72H), NEVER); /* not yet */
	assert_int_equal(after(350000, 240, 340000, CONCERN_NO_GAIN_72H), CONCERN_VET);
	one(&made, 350000);
	weigh(&made, 0, 65.9, 340000, 289); /* too old to say */
	assert_int_equal(level_of(&made, 73, CONCERN_NO_GAIN_72H, 0), NEVER);
	one(&made, 350000);
	weigh(&made, 0, 66, 340000, 289);
	assert_int_equal(level_of(&made, 71.9, CONCERN_NO_GAIN_72H, 0), NEVER);
	assert_int_equal(level_of(&made, 72, CONCERN_NO_GAIN_72H, 0), CONCERN_VET);
}

/* A reading that belongs to a heavier littermate doesn't hide the loss before it. */
static void test_mix_up_hides_nothing(void **state)
{
	struct made made;
	static const int64_t births[] = { 350000, 500000, 420000, 380000 };

	(void)state;
	born(&made, births, 4, 0);
	for (int k = 1; k <= 3; k++)
		for (size_t i = 0; i < 4; i++)
			weigh(&made, i, 12 * k + 0.02 * (double)i,
			      i == 0 ? 350000 - 13000 * k : births[i] + births[i] * k / 40, 289);
	assert_int_equal(level_of(&made, 37, CONCERN_TENTH_LOST, 0), CONCERN_VET);
	weigh(&made, 0, 48, 560000, 289);
	assert_int_equal(level_of(&made, 48, CONCERN_TENTH_LOST, 0), CONCERN_VET);
	struct concern found[FOUND];
	assert_true(concern_look(&made.litter, hour(48), found, FOUND) > 0);
	assert_int_equal(found[0].rule, CONCERN_TENTH_LOST); /* worst first */
	assert_non_null(strstr(found[0].text, "may be another's"));
}

/* ---- birth weight ---- */

/* Mugnier 2020, BMC Vet Res 16:345, table 2: very low is below the limit. Worked check 24 is the Labrador's. */
static void test_low_birth(void **state)
{
	static const struct {
		int64_t adult_mg, limit_mg;
	} rows[] = {
		{ 3000000, 115500 },  { 5000000, 115500 },  { 5100000, 128500 },  { 9900000, 128500 },
		{ 10000000, 142500 }, { 24900000, 142500 }, { 25000000, 248000 }, { 39900000, 248000 },
		{ 40000000, 345000 }, { 70000000, 345000 },
	};
	struct made made;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		int64_t below = rows[i].limit_mg - 1;
		born(&made, &rows[i].limit_mg, 1, rows[i].adult_mg);
		assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 0), NEVER);
		born(&made, &below, 1, rows[i].adult_mg);
		assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 0), CONCERN_ACT);
		assert_int_equal(level_of(&made, 73, CONCERN_LOW_BIRTH, 0), CONCERN_LOOK);
		assert_int_equal(level_of(&made, 22 * 24, CONCERN_LOW_BIRTH, 0), NEVER);
	}
	born(&made, (const int64_t[]){ 247000 }, 1, 30000000);
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 0), CONCERN_ACT);
	born(&made, (const int64_t[]){ 100000 }, 1, 0); /* neither size nor littermates known */
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 0), NEVER);
}

/* 25 % below the litter's mean or more: Dog Owner's Home Veterinary Handbook, p. 493. The masses of RatPupWeight (R
 * nlme) are in the facts as means alone, so this litter is ours: 400, 400, 400 and x have x = 0.75 mean at x =
 * 276923.08. */
static void test_low_birth_of_litter(void **state)
{
	struct made made;
	const int64_t exact[] = { 300000, 420000, 480000, 400000 }; /* mean 400 g: exactly 25 % */
	int64_t births[] = { 400000, 400000, 400000, 276923 };

	(void)state;
	born(&made, exact, 4, 0);
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 0), CONCERN_ACT);
	for (size_t i = 1; i < 4; i++)
		assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, i), NEVER);
	born(&made, births, 4, 0);
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 3), CONCERN_ACT);
	births[3] = 276924;
	born(&made, births, 4, 0);
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 3), NEVER);
	made.litter.limits.behind_pct = 20; /* the other vet text's */
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 3), CONCERN_ACT);
	made.litter.limits.behind_pct = 40;
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 3), NEVER);
	born(&made, (const int64_t[]){ 200000, 400000 }, 2, 0); /* two are no litter to compare with */
	assert_int_equal(level_of(&made, 1, CONCERN_LOW_BIRTH, 0), NEVER);
}

/* Doubling: 14 days is the latest published, 16 for giant breeds. Worked check 21: a healthy Great Dane doubles
 * at 13.25 days. */
static void test_late_doubling(void **state)
{
	static const struct {
		int64_t adult_mg, birth_mg;
		double day;
	} rows[] = {
		{ 3000000, 150000, 14 },  { 13000000, 260000, 14 }, { 30000000, 400000, 14 },
		{ 60000000, 606300, 16 }, { 0, 400000, 14 },        { 0, 606300, 16 },
	};
	struct made made;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++)
		for (int grams = -1; grams <= 0; grams++) {
			born(&made, &rows[i].birth_mg, 1, rows[i].adult_mg);
			weigh(&made, 0, 24 * rows[i].day, 2 * rows[i].birth_mg + grams, 289);
			assert_int_equal(level_of(&made, 24 * rows[i].day, CONCERN_LATE_DOUBLING, 0),
					 grams ? CONCERN_LOOK : NEVER);
			born(&made, &rows[i].birth_mg, 1, rows[i].adult_mg);
			weigh(&made, 0, 24 * rows[i].day - 0.01, 2 * rows[i].birth_mg + grams, 289);
			assert_int_equal(level_of(&made, 24 * rows[i].day, CONCERN_LATE_DOUBLING, 0), NEVER);
		}
	born(&made, (const int64_t[]){ 606280 }, 1, 60400000);
	weigh(&made, 0, 24 * 16, sim_show(606.28 * exp(0.0523 * 16), 1), 289);
	assert_int_equal(level_of(&made, 24 * 16, CONCERN_LATE_DOUBLING, 0), NEVER);
}

/* ---- time ---- */

/* Daily in the first two weeks: Dog Owner's Home Veterinary Handbook, p. 492; two hours are for people. */
static void test_overdue(void **state)
{
	struct made made;

	(void)state;
	one(&made, 350000);
	assert_int_equal(level_of(&made, 25.99, CONCERN_OVERDUE, 0), NEVER);
	assert_int_equal(level_of(&made, 26, CONCERN_OVERDUE, 0), CONCERN_LOOK);
	weigh(&made, 0, 30, 360000, 289);
	assert_int_equal(level_of(&made, 55.99, CONCERN_OVERDUE, 0), NEVER);
	assert_int_equal(level_of(&made, 56, CONCERN_OVERDUE, 0), CONCERN_LOOK);
	made.litter.limits.overdue_h = 8;
	assert_int_equal(level_of(&made, 38, CONCERN_OVERDUE, 0), CONCERN_LOOK);
	assert_int_equal(level_of(&made, 37.99, CONCERN_OVERDUE, 0), NEVER);
	assert_int_equal(level_of(&made, 14 * 24 - 0.01, CONCERN_OVERDUE, 0), CONCERN_LOOK);
	assert_int_equal(level_of(&made, 14 * 24, CONCERN_OVERDUE, 0), NEVER);
	made.animals[0].born_ms = made.growth.born_ms = INT64_MIN; /* who knows how old it is? */
	assert_int_equal(level_of(&made, 100, CONCERN_OVERDUE, 0), NEVER);
}

/* ---- by the model: litters without gut fill, so that what is told follows from growth alone ---- */

static void assert_nothing(const struct made *made, double day)
{
	struct concern found[FOUND];
	size_t n = concern_look(&made->litter, hour(24 * day), found, FOUND);

	if (n > 0)
		fail_msg("day %.2f: %s of %d: %s", day, concern_row(found[0].rule)->word, (int)found[0].animal,
			 found[0].text);
}

/* Healthy litters from published curves: nothing is told on any day. */
static void test_healthy(void **state)
{
	static const struct {
		enum sim_curve curve;
		double birth_g, pace, dip;
		int64_t adult_mg;
	} litters[] = {
		{ SIM_BAND, 350, 1, 0, 20000000 },    { SIM_BAND, 350, 1, 0.02, 20000000 },
		{ SIM_BAND, 350, 1, 0.03, 0 },        { SIM_BAND, 160, 1, 0.02, 3200000 },
		{ SIM_BAND, 400, 1, 0.02, 30000000 }, { SIM_BAND, 500, 1, 0, 38000000 },
		{ SIM_BAND, 350, 1.1, 0, 20000000 },  { SIM_BAND, 350, 0.95, 0, 20000000 },
		{ SIM_DANE, 606.28, 1, 0, 60400000 }, { SIM_DANE, 606.28, 1.1, 0, 0 },
		{ SIM_FASTEST, 345, 1, 0, 0 },        { SIM_FASTEST, 150, 0.8, 0.01, 4000000 },
	};
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	for (size_t k = 0; k < LENGTH(litters); k++) {
		five(pups, litters[k].birth_g, litters[k].pace);
		for (size_t i = 0; i < 5; i++)
			pups[i].dip = litters[k].dip;
		bear(&made, pups, 5, litters[k].adult_mg);
		assert_nothing(&made, 0.2);
		for (double day = 0.5; day <= 26; day += 0.5) {
			raise_to(&made, litters[k].curve, pups, 5, day, day);
			assert_nothing(&made, day + 0.02);
			assert_nothing(&made, day + 0.4);
		}
	}
}

/* One stops, or loses, on day 5: told within a day and a half, and of it alone; worse when it lasts. */
static void test_stops(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	for (int loses = 0; loses <= 1; loses++) {
		enum concern_rule rule = loses ? CONCERN_LOSING : CONCERN_NO_GAIN_24H;
		int first = NEVER;
		double day;
		five(pups, 350, 1);
		pups[2].stops_day = 5;
		pups[2].stopped_rate = loses ? -0.03 : 0;
		bear(&made, pups, 5, 20000000);
		raise_to(&made, SIM_BAND, pups, 5, 0.5, 5);
		for (day = 5; first == NEVER && day < 9;) {
			day += 0.5;
			raise_to(&made, SIM_BAND, pups, 5, day, day);
			first = level_of(&made, 24 * day + 1, CONCERN_LOSING, 2);
			if (first == NEVER)
				first = level_of(&made, 24 * day + 1, CONCERN_NO_GAIN_24H, 2);
		}
		assert_true(day <= 6.5);
		raise_to(&made, SIM_BAND, pups, 5, day + 0.5, 8.5);
		assert_int_equal(level_of(&made, 24 * 8.5 + 1, rule, 2), CONCERN_VET);
		for (size_t i = 0; i < 5; i++) {
			assert_true(i == 2 || level_of(&made, 24 * 8.5 + 1, CONCERN_LOSING, i) == NEVER);
			assert_true(i == 2 || level_of(&made, 24 * 8.5 + 1, CONCERN_NO_GAIN_24H, i) == NEVER);
		}
		assert_int_equal(level_of(&made, 24 * 8.5 + 1, CONCERN_LITTER_SLOW, SIZE_MAX), NEVER);
	}
}

/* All stop on day 5 (the dam's milk): told of the litter, once. Dog Owner's Home Veterinary Handbook, p. 492. */
static void test_litter_stops(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	five(pups, 350, 1);
	for (size_t i = 0; i < 5; i++)
		pups[i].stops_day = 5;
	bear(&made, pups, 5, 20000000);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 5);
	assert_int_equal(level_of(&made, 24 * 5 + 1, CONCERN_LITTER_SLOW, SIZE_MAX), NEVER);
	raise_to(&made, SIM_BAND, pups, 5, 5.5, 7);
	assert_true(level_of(&made, 24 * 7 + 1, CONCERN_LITTER_SLOW, SIZE_MAX) >= CONCERN_ACT);
	raise_to(&made, SIM_BAND, pups, 5, 7.5, 8.5);
	assert_int_equal(level_of(&made, 24 * 8.5 + 1, CONCERN_LITTER_SLOW, SIZE_MAX), CONCERN_VET);
	for (size_t i = 0; i < 5; i++) {
		assert_int_equal(level_of(&made, 24 * 8.5 + 1, CONCERN_NO_GAIN_24H, i), NEVER);
		assert_int_equal(level_of(&made, 24 * 8.5 + 1, CONCERN_BELOW_BAND, i), NEVER);
	}
}

/* The band: Small Animal Clinical Nutrition, 5th ed., p. 292. A pup at 3 % a day from birth among others at 8 %: below.
 * Half a point above the low end it isn't told. */
static void test_band(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	five(pups, 350, 1);
	pups[2].pace = log(1.03) / log(1.08);
	bear(&made, pups, 5, 20000000);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 2.5);
	assert_int_equal(level_of(&made, 24 * 2.5 + 1, CONCERN_BELOW_BAND, 2), NEVER); /* not in the first three days */
	raise_to(&made, SIM_BAND, pups, 5, 3, 6.5);
	assert_true(level_of(&made, 24 * 6.5 + 1, CONCERN_BELOW_BAND, 2) == CONCERN_LOOK ||
		    level_of(&made, 24 * 6.5 + 1, CONCERN_NO_GAIN_24H, 2) != NEVER);
	for (size_t i = 0; i < 5; i++)
		assert_true(i == 2 || level_of(&made, 24 * 6.5 + 1, CONCERN_BELOW_BAND, i) == NEVER);
	made.litter.limits.band_low_pct = 2; /* on the vet's advice */
	assert_int_equal(level_of(&made, 24 * 6.5 + 1, CONCERN_BELOW_BAND, 2), NEVER);
	five(pups, 350, log(1.057) / log(1.08));
	bear(&made, pups, 5, 20000000);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 6.5);
	for (size_t i = 0; i < 5; i++)
		assert_int_equal(level_of(&made, 24 * 6.5 + 1, CONCERN_BELOW_BAND, i), NEVER);
	assert_int_equal(level_of(&made, 24 * 6.5 + 1, CONCERN_LITTER_SLOW, SIZE_MAX), NEVER);
}

/* All at 3 % a day: the litter's. */
static void test_litter_below_band(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	five(pups, 350, log(1.03) / log(1.08));
	bear(&made, pups, 5, 20000000);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 6.5);
	assert_true(level_of(&made, 24 * 6.5 + 1, CONCERN_LITTER_SLOW, SIZE_MAX) >= CONCERN_ACT);
	for (size_t i = 0; i < 5; i++)
		assert_int_equal(level_of(&made, 24 * 6.5 + 1, CONCERN_BELOW_BAND, i), NEVER);
}

/* 25 % below the litter's mean: look when it was so at birth, act when it fell behind. */
static void test_behind(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	five(pups, 350, 1);
	pups[0].birth_g = 225;
	bear(&made, pups, 5, 0);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 4);
	assert_int_equal(level_of(&made, 24 * 4 + 1, CONCERN_BEHIND, 0), CONCERN_LOOK);
	assert_int_equal(level_of(&made, 24 * 4 + 1, CONCERN_BEHIND, 1), NEVER);
	made.litter.limits.behind_pct = 40;
	assert_int_equal(level_of(&made, 24 * 4 + 1, CONCERN_BEHIND, 0), NEVER);
	five(pups, 350, 1);
	pups[0].pace = 0.4;
	bear(&made, pups, 5, 0);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 3);
	assert_int_equal(level_of(&made, 24 * 3 + 1, CONCERN_BEHIND, 0), NEVER);
	raise_to(&made, SIM_BAND, pups, 5, 3.5, 9);
	assert_int_equal(level_of(&made, 24 * 9 + 1, CONCERN_BEHIND, 0), CONCERN_ACT);
	/* The limit by the mean: 27 % below its three littermates is 21.6 % below all four, 31 % is 25.2 %. */
	for (int far = 0; far <= 1; far++) {
		for (size_t i = 0; i < 4; i++)
			pups[i] = (struct sim_pup){ i ? 400 : far ? 276 : 278, 1, 0, INFINITY, 0 };
		bear(&made, pups, 4, 0);
		raise_to(&made, SIM_BAND, pups, 4, 0.5, 5);
		assert_int_equal(level_of(&made, 24 * 5 + 1, CONCERN_BEHIND, 0), far ? CONCERN_LOOK : NEVER);
	}
}

/* 2 g a day for each kg of adult mass: Small Animal Clinical Nutrition, 5th ed., p. 292. From week three, large breeds
 * from week five on (conflict 10.3.3: it is impossible for them before). */
static void test_adult_rate(void **state)
{
	struct sim_pup pups[5];
	struct made made;

	(void)state;
	five(pups, 200, log(1.053) / log(1.08)); /* day 22: some 500 g that gain 17 g a day */
	bear(&made, pups, 5, 20000000);          /* 40 g */
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 20.5);
	assert_int_equal(level_of(&made, 24 * 20.9, CONCERN_ADULT_RATE, 2), NEVER);
	raise_to(&made, SIM_BAND, pups, 5, 21, 22);
	assert_int_equal(level_of(&made, 24 * 22 + 1, CONCERN_ADULT_RATE, 2), CONCERN_LOOK);
	made.litter.adult_mg = 5000000; /* 10 g */
	assert_int_equal(level_of(&made, 24 * 22 + 1, CONCERN_ADULT_RATE, 2), NEVER);
	made.litter.adult_mg = 30000000; /* large: not yet */
	assert_int_equal(level_of(&made, 24 * 22 + 1, CONCERN_ADULT_RATE, 2), NEVER);
	raise_to(&made, SIM_BAND, pups, 5, 22.5, 28);
	assert_int_equal(level_of(&made, 24 * 28 + 1, CONCERN_ADULT_RATE, 2), CONCERN_LOOK);
	made.litter.adult_mg = 0;
	assert_int_equal(level_of(&made, 24 * 28 + 1, CONCERN_ADULT_RATE, 2), NEVER);
	/* A 30 kg breed at 400 g would need 60 g a day, 15 %, in week 1: never asked. */
	five(pups, 400, 1);
	bear(&made, pups, 5, 30000000);
	raise_to(&made, SIM_BAND, pups, 5, 0.5, 6);
	assert_int_equal(level_of(&made, 24 * 6 + 1, CONCERN_ADULT_RATE, 2), NEVER);
}

/* ---- the table, the order, the limits ---- */

static void test_table(void **state)
{
	(void)state;
	for (int rule = 0; rule < CONCERN_RULES; rule++) {
		const struct concern_row *row = concern_row((enum concern_rule)rule);
		for (int other = 0; other < rule; other++)
			assert_string_not_equal(row->word, concern_row((enum concern_rule)other)->word);
		assert_true(row->least <= row->worst);
		assert_true(strlen(row->source) > 10 && strlen(row->threshold) > 3 && strlen(row->looks_at) > 10);
		for (int level = (int)row->least; level <= (int)row->worst; level++) {
			const char *advice = concern_advice((enum concern_rule)rule, (enum concern_level)level);
			assert_non_null(strstr(advice, "vet")); /* when to call */
			assert_true((level == CONCERN_VET) == (strncmp(advice, "Call your vet now", 17) == 0));
		}
		assert_ptr_equal(concern_advice((enum concern_rule)rule, row->worst), row->advice);
	}
	assert_string_equal(concern_level_text(CONCERN_LOOK), "look");
	assert_string_equal(concern_level_text(CONCERN_ACT), "act");
	assert_string_equal(concern_level_text(CONCERN_VET), "vet");
}

static void test_order(void **state)
{
	struct made made;
	static const int64_t births[] = { 400000, 410000, 200000, 390000 };
	struct concern all[FOUND], some[FOUND];
	size_t n;

	(void)state;
	born(&made, births, 4, 0);
	weigh(&made, 0, 48, 380000, 289); /* -5 % */
	weigh(&made, 1, 48, 340000, 289); /* -17 % */
	n = concern_look(&made.litter, hour(48), all, FOUND);
	assert_true(n >= 4);
	for (size_t i = 1; i < n; i++)
		assert_true(all[i].level < all[i - 1].level ||
			    (all[i].level == all[i - 1].level &&
			     (all[i].animal > all[i - 1].animal ||
			      (all[i].animal == all[i - 1].animal && all[i].rule > all[i - 1].rule))));
	assert_int_equal(all[0].rule, CONCERN_TENTH_LOST);
	assert_int_equal(all[0].animal, 1);
	for (size_t k = 0; k <= n; k++) {
		assert_int_equal(concern_look(&made.litter, hour(48), some, k), k);
		for (size_t i = 0; i < k; i++)
			assert_true(some[i].rule == all[i].rule && some[i].animal == all[i].animal);
	}
}

static void test_limits(void **state)
{
	static const struct {
		struct concern_limits limits;
		bool good;
	} rows[] = {
		{ { 0 }, true },
		{ { 2, 2, 8, 15 }, true },
		{ { 8, 8, 48, 40 }, true },
		{ { .early_loss_pct = 1.99 }, false },
		{ { .early_loss_pct = 8.01 }, false },
		{ { .band_low_pct = 1.99 }, false },
		{ { .band_low_pct = 8.01 }, false },
		{ { .overdue_h = 7.9 }, false },
		{ { .overdue_h = 48.1 }, false },
		{ { .behind_pct = 14 }, false },
		{ { .behind_pct = 41 }, false },
		{ { .behind_pct = -25 }, false },
		{ { .overdue_h = NAN }, false },
		{ { .early_loss_pct = INFINITY }, false },
	};
	struct made made;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		const char *what = NULL;
		assert_true(concern_limits_check(&rows[i].limits, &what) == rows[i].good);
		assert_true((what == NULL) == rows[i].good);
	}
	one(&made, 350000);
	weigh(&made, 0, 48, 343000, 289); /* exactly -2 % */
	assert_int_equal(level_of(&made, 48, CONCERN_EARLY_LOSS, 0), NEVER);
	made.litter.limits.early_loss_pct = 2;
	assert_int_equal(level_of(&made, 48, CONCERN_EARLY_LOSS, 0), CONCERN_LOOK);
	made.litter.limits.early_loss_pct = 2.001;
	assert_int_equal(level_of(&made, 48, CONCERN_EARLY_LOSS, 0), NEVER);
}

/* Nothing known, nonsense, the ends of the types: no crash, and nothing told of masses. */
static void test_degenerate(void **state)
{
	static const int64_t masses[] = { INT64_MIN, -1, 0, 1, 350000, INT64_MAX },
			     times[] = { INT64_MIN, -1, 0, SIM_BORN_MS, INT64_MAX };
	struct concern found[FOUND];
	struct growth growth;

	(void)state;
	growth_init(&growth, 1, INT64_MIN);
	for (size_t k = 0; k < LENGTH(masses) * LENGTH(masses) * LENGTH(times) * LENGTH(times); k++) {
		struct concern_reading reading = { times[k % 5], masses[k / 5 % 6], masses[k / 30 % 6] };
		struct concern_animal animal = { 0, times[k / 180 % 5], masses[k / 30 % 6], &reading, 1, NULL, 0 };
		struct concern_litter litter = {
			.growth = &growth, .adult_mg = masses[k / 5 % 6], .animals = &animal, .n = 1
		};
		for (size_t t = 0; t < 5; t++)
			(void)concern_look(&litter, times[t], found, FOUND);
	}
	struct concern_litter none = { .growth = &growth };
	assert_int_equal(concern_look(&none, SIM_BORN_MS, found, FOUND), 0);
}

/* ---- how often falsely ---- */

struct tally {
	int opened[CONCERN_RULES][3], pups, litters;
};

/* A healthy litter to day 21, on an ordinary scale, with gut fill; counts what opens. */
static void healthy_litter(struct sim_chance *chance, struct tally *tally)
{
	static const struct {
		enum sim_curve curve;
		double birth_g;
		int64_t adult_mg;
	} kinds[] = {
		{ SIM_BAND, 160, 3200000 },
		{ SIM_BAND, 260, 13000000 },
		{ SIM_BAND, 400, 30000000 },
		{ SIM_DANE, 606, 60400000 },
	};
	size_t kind = (size_t)(4 * sim_uniform(chance)), n = 4 + (size_t)(5 * sim_uniform(chance));
	double step = sim_uniform(chance) < 0.7 ? 1 : 5, pace = 1 + 0.08 * sim_normal(chance);
	static struct made made;
	struct sim_pup pups[PUPS];
	int open[CONCERN_RULES][PUPS + 1];

	memset(open, 0, sizeof open);
	pace = kinds[kind].curve == SIM_DANE ? fmax(1, pace) : fmax(0.85, pace);
	for (size_t i = 0; i < n; i++)
		pups[i] = (struct sim_pup){ kinds[kind].birth_g * exp(0.1 * fmax(-2, fmin(2, sim_normal(chance)))),
					    pace * (1 + 0.05 * sim_normal(chance)), 0.02 * sim_uniform(chance),
					    INFINITY, 0 };
	bear(&made, pups, n, kinds[kind].adult_mg);
	tally->litters++;
	tally->pups += (int)n;
	for (double day = 0.5; day <= 21; day += 0.5) {
		double shared = 0.02 * sim_normal(chance), late = 0.16 * (sim_uniform(chance) - 0.5);
		struct concern found[FOUND];
		int now[CONCERN_RULES][PUPS + 1];
		size_t n_found;
		memset(now, 0, sizeof now);
		for (size_t i = 0; i < n; i++) {
			double at = day + late + 0.002 * (double)i, mass = sim_mass(kinds[kind].curve, &pups[i], at);
			if (sim_uniform(chance) < 0.1)
				continue;
			weigh(&made, i, 24 * at, sim_show(mass * exp(shared + 0.015 * sim_normal(chance)), step),
			      sim_step_u_mg(step));
		}
		n_found = concern_look(&made.litter, hour(24 * (day + late) + 1), found, FOUND);
		for (size_t k = 0; k < n_found; k++) {
			size_t who = found[k].animal == SIZE_MAX ? PUPS : found[k].animal;
			now[found[k].rule][who] = 1 + (int)found[k].level;
		}
		for (int rule = 0; rule < CONCERN_RULES; rule++)
			for (size_t who = 0; who <= PUPS; who++) {
				if (now[rule][who] > open[rule][who])
					tally->opened[rule][now[rule][who] - 1]++;
				open[rule][who] = now[rule][who];
			}
	}
}

static void test_false_alarms(void **state)
{
	struct sim_chance chance = { 31337 };
	struct tally tally = { 0 };
	double weeks;
	int vet = 0, act = 0, look = 0;

	(void)state;
	for (int k = 0; k < 200; k++)
		healthy_litter(&chance, &tally);
	weeks = 3.0 * tally.pups;
	print_message("healthy litters: opened falsely in %.0f pup-weeks, look/act/vet:", weeks);
	for (int rule = 0; rule < CONCERN_RULES; rule++) {
		const int *opened = tally.opened[rule];
		if (opened[0] + opened[1] + opened[2] > 0)
			print_message(" %s %d/%d/%d", concern_row((enum concern_rule)rule)->word, opened[0], opened[1],
				      opened[2]);
		look += opened[0];
		act += opened[1];
		vet += opened[2];
	}
	print_message("; a pup-week: look %.3f, act %.3f, vet %.3f\n", look / weeks, act / weeks, vet / weeks);
	assert_true(vet < 0.01 * weeks);
	assert_true(act < 0.05 * weeks);
	assert_true(look < 0.2 * weeks);
}

/* Signs are rules among the others: with an animal that has some, at its age, and said as losing when the model does.
 * The limits: 35.0 C in week 1 and 34.4 C to call for (sign.c has their sources). */
static void test_signs(void **state)
{
	static const struct sim_pup pups[] = { { 300, 1, 0, 2, -0.03 },
					       { 310, 1, 0, INFINITY, 0 },
					       { 305, 1, 0, INFINITY, 0 } };
	struct sign_seen cold = { hour(99), { SIGN_TEMPERATURE, 34900 } };
	struct made made;
	struct concern found[FOUND];
	size_t n;
	bool said = false;

	(void)state;
	bear(&made, pups, LENGTH(pups), 0);
	raise_to(&made, SIM_BAND, pups, LENGTH(pups), 0.5, 4);
	assert_int_equal(level_of(&made, 100, CONCERN_CHILLED, 1), NEVER);
	made.animals[1].signs = &cold;
	made.animals[1].n_signs = 1;
	assert_int_equal(level_of(&made, 100, CONCERN_CHILLED, 1), CONCERN_ACT);
	assert_int_equal(level_of(&made, 100, CONCERN_CHILLED, 0), NEVER);
	cold.value.value = 34399;
	assert_int_equal(level_of(&made, 100, CONCERN_CHILLED, 1), CONCERN_VET);
	cold.value.value = 35600;
	assert_int_equal(level_of(&made, 100, CONCERN_CHILLED, 1), NEVER);
	cold.value.value = 34900;
	made.animals[0].signs = &cold; /* it loses since day 2: the same sign is for the vet */
	made.animals[0].n_signs = 1;
	assert_true(level_of(&made, 100, CONCERN_LOSING, 0) >= CONCERN_ACT);
	assert_int_equal(level_of(&made, 100, CONCERN_CHILLED, 0), CONCERN_VET);
	n = concern_look(&made.litter, hour(100), found, FOUND);
	for (size_t i = 0; i < n; i++)
		said = said ||
		       (found[i].rule == CONCERN_CHILLED && found[i].animal == 0 && strstr(found[i].text, "los"));
	assert_true(said);
}

/* concern_change.h, worked out by hand: the birth weight is a weighing like others, what lies nearest to the time
 * counts, up to a day off it, and littermates that were weighed at both times stand beside it. */
static void test_change(void **state)
{
	static const int64_t births[] = { 300000, 400000, 0 };
	struct concern_change change = { .n = 77 };
	struct concern_peers peers;
	struct concern_view view, litter;
	struct made made;

	(void)state;
	born(&made, births, LENGTH(births), 0);
	weigh(&made, 0, 30, 310000, 289);
	weigh(&made, 1, 30.5, 440000, 289);
	weigh(&made, 2, 30.6, 350000, 289);
	concern_rules_peers(&made.litter, hour(31), &peers);
	concern_rules_view(&made.litter, &peers, 0, hour(31), &view);
	assert_true(concern_change_of(&view, hour(3), &change));
	assert_int_equal(change.from_mg, 300000);
	assert_int_equal(change.to_mg, 310000);
	assert_int_equal(change.ms, 30 * SIM_HOUR_MS);
	assert_true(fabs(change.pct - 100.0 / 30) < 1e-9);
	assert_int_equal(change.others, 1); /* nobody knows what the third was born with */
	assert_true(fabs(change.others_pct - 10) < 1e-9);
	assert_true(fabs(concern_change_expected_pct(&change) - 10) < 1e-9);
	assert_true(change.published_pct > 0);

	assert_true(concern_change_of(&view, hour(24), &change)); /* a day off */
	assert_int_equal(change.from_mg, 300000);
	assert_false(concern_change_of(&view, hour(24) + 1, &change));
	assert_false(concern_change_of(&view, hour(500), &change));
	assert_false(concern_change_of(&view, INT64_MIN, &change));
	assert_false(concern_change_of(&view, INT64_MAX, &change));
	weigh(&made, 0, 36, 312000, 289);
	weigh(&made, 0, 42, 0, 289); /* no mass: passed over */
	concern_rules_view(&made.litter, &peers, 0, hour(43), &view);
	assert_true(concern_change_of(&view, hour(29), &change));
	assert_int_equal(change.from_mg, 310000);
	assert_int_equal(change.to_mg, 312000);

	concern_rules_view(&made.litter, &peers, 2, hour(31), &view); /* weighed once, and no birth weight */
	assert_false(concern_change_of(&view, hour(3), &change));
	concern_rules_view(&made.litter, &peers, SIZE_MAX, hour(31), &litter);
	assert_false(concern_change_of(&litter, hour(3), &change));
	assert_true(concern_change_of_litter(&litter, hour(0), hour(30), &change));
	assert_int_equal(change.n, 2);
	assert_true(fabs(change.pct - (100.0 / 30 + 10) / 2) < 1e-9);
	assert_false(concern_change_of_litter(&litter, hour(100), hour(130), &change));
}

/* concern_text.h, its own examples, and both sides of four days and of what is rounded. */
static void test_numbers_in_words(void **state)
{
	(void)state;
	assert_string_equal(concern_text_mass(304000).text, "304 g");
	assert_string_equal(concern_text_mass(119100).text, "119.1 g");
	assert_string_equal(concern_text_believed(304.4).text, "304 g");
	assert_string_equal(concern_text_change(9000).text, "+9 g");
	assert_string_equal(concern_text_change(-4500).text, "-4.5 g");
	assert_string_equal(concern_text_change(0).text, "0 g");
	assert_string_equal(concern_text_change_pct(3.14).text, "+3.1 %");
	assert_string_equal(concern_text_change_pct(-0.4).text, "-0.4 %");
	assert_string_equal(concern_text_change_pct(-0.04).text, "0.0 %");
	assert_string_equal(concern_text_age(48 * SIM_HOUR_MS).text, "at hour 48");
	assert_string_equal(concern_text_age(95 * SIM_HOUR_MS).text, "at hour 95");
	assert_string_equal(concern_text_age(96 * SIM_HOUR_MS).text, "on day 4");
	assert_string_equal(concern_text_age(143 * SIM_HOUR_MS).text, "on day 5");
	assert_string_equal(concern_text_span(26 * SIM_HOUR_MS).text, "26 h");
	assert_string_equal(concern_text_span(96 * SIM_HOUR_MS).text, "4 days");
	assert_string_equal(concern_text_span(120 * SIM_HOUR_MS).text, "5 days");
	assert_string_equal(concern_text_sure(0.934).text, "93 % sure");
	assert_string_equal(concern_text_sure(0.99).text, "99 % sure");
	assert_string_equal(concern_text_sure(0.991).text, "over 99 % sure");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_numbers_in_words),
		cmocka_unit_test(test_change),
		cmocka_unit_test(test_signs),
		cmocka_unit_test(test_early_loss),
		cmocka_unit_test(test_day_2),
		cmocka_unit_test(test_chicks),
		cmocka_unit_test(test_tenth_lost),
		cmocka_unit_test(test_no_gain_72h),
		cmocka_unit_test(test_mix_up_hides_nothing),
		cmocka_unit_test(test_low_birth),
		cmocka_unit_test(test_low_birth_of_litter),
		cmocka_unit_test(test_late_doubling),
		cmocka_unit_test(test_overdue),
		cmocka_unit_test(test_healthy),
		cmocka_unit_test(test_stops),
		cmocka_unit_test(test_litter_stops),
		cmocka_unit_test(test_band),
		cmocka_unit_test(test_litter_below_band),
		cmocka_unit_test(test_behind),
		cmocka_unit_test(test_adult_rate),
		cmocka_unit_test(test_table),
		cmocka_unit_test(test_order),
		cmocka_unit_test(test_limits),
		cmocka_unit_test(test_degenerate),
		cmocka_unit_test(test_false_alarms),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

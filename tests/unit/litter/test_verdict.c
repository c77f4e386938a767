// SPDX-License-Identifier: MIT
/* Verdicts on pups whose growth is known. How often they are wrong, tests/bench/growth tells. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/curve.h"
#include "daemon/litter/verdict.h"
#include "tests/unit/litter/near.h"

#define PUPS 5
#define STOPS 2 /* this pup may stop */
#define BORN_MS INT64_C(1700000000000)
#define DAY_MS 86400000.0

static int64_t at(double day)
{
	return BORN_MS + (int64_t)(day * DAY_MS);
}

static double birth_g(size_t pup)
{
	return 250 + 30 * (double)pup;
}

/* A little of gut fill, as good as random: none repeats within a day or among littermates. */
static double gut(size_t pup, double day)
{
	return 0.008 * sin(7 * day + 2.4 * (double)pup) + 0.012 * sin(5 * day);
}

static double ln_grams(size_t pup, double day, double stopped_day, double rate)
{
	double grown = pup == STOPS ? fmin(day, stopped_day) : day;

	return log(birth_g(pup)) + curve_gain(0, grown) + rate * (day - grown);
}

/* Empty at birth, and with its gut as it is later. */
static void take(struct growth *growth, size_t pup, double day, double ln_g)
{
	const struct growth_reading reading = {
		.at_ms = at(day) + (int64_t)pup,
		.mass_mg = (int64_t)(1000 * exp(ln_g + (day > 0 ? gut(pup, day) : 0))),
		.u_mg = 289,
		.birth = day == 0,
	};

	assert_int_equal(growth_take(growth, pup, &reading), GROWTH_TAKEN);
}

/* Twice a day; from stopped_day on one of them goes on at a rate. */
static struct growth grown(size_t pups, double days, double stopped_day, double rate)
{
	struct growth growth;

	growth_init(&growth, pups, BORN_MS);
	for (double day = 0; day <= days; day += 0.5)
		for (size_t i = 0; i < pups; i++)
			take(&growth, i, day, ln_grams(i, day, stopped_day, rate));
	return growth;
}

static struct verdict verdict_on(const struct growth *growth, size_t pup, double day)
{
	struct verdict verdict;

	assert_true(verdict_of(growth, pup, at(day), 1000, (int64_t)(1000 * birth_g(pup)), &verdict));
	return verdict;
}

static void test_texts(void **state)
{
	(void)state;
	assert_string_equal(verdict_text(VERDICT_GAINING), "gaining");
	assert_string_equal(verdict_text(VERDICT_FLAT), "flat");
	assert_string_equal(verdict_text(VERDICT_LOSING), "losing");
	assert_string_equal(verdict_text(VERDICT_TOO_SOON), "too soon");
}

static void test_nothing(void **state)
{
	struct growth growth;
	struct verdict verdict = { .mass_g = 5 };

	(void)state;
	growth_init(&growth, PUPS, BORN_MS);
	assert_false(verdict_of(&growth, 0, at(1), 1000, 0, &verdict));
	assert_near(verdict.mass_g, 5, 0); /* written on success alone */
}

static void test_gaining(void **state)
{
	struct growth growth = grown(PUPS, 6, 99, 0);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct verdict v = verdict_on(&growth, i, 6);
		double g = birth_g(i) * exp(curve_gain(0, 6));
		assert_int_equal(v.kind, VERDICT_GAINING);
		assert_near(v.mass_g, g, 0.03 * g);
		assert_true(v.u_mass_g > 0 && v.u_mass_g < 0.05 * g);
		assert_near(v.since_birth_pct, 100 * (exp(curve_gain(0, 6)) - 1), 6);
		assert_near(v.since_birth_pct, 100 * (v.mass_g / birth_g(i) - 1), 1e-9);
		assert_near(v.gain_pct_per_day, 100 * (exp(curve_rate(6)) - 1), 2);
		assert_near(v.gain_g_per_day, v.mass_g * log(1 + v.gain_pct_per_day / 100), 1e-6 * g);
		assert_near(v.doubling_days, log(2) / log(1 + v.gain_pct_per_day / 100), 1e-6);
		assert_true(v.since_ms == INT64_MIN);
		assert_true(v.p_stopped < 0.1);
	}
}

static void test_too_soon(void **state)
{
	struct growth growth = grown(PUPS, 0, 99, 0);
	struct verdict v = verdict_on(&growth, 1, 0);

	(void)state;
	assert_int_equal(v.kind, VERDICT_TOO_SOON);
	assert_true(v.tell_at_ms > at(0.1) && v.tell_at_ms < at(3));
	v = verdict_on(&growth, 1, 5); /* it has told already, had she been weighed */
	assert_true(v.tell_at_ms == at(5));
}

/* A litter that nobody weighs any more: what is told stays what was known a week after, and nobody gains. */
static void test_reach(void **state)
{
	struct growth growth = grown(PUPS, 6, 99, 0);
	struct verdict week = verdict_on(&growth, 1, 13), year = verdict_on(&growth, 1, 365);

	(void)state;
	assert_true(verdict_reach_ms(&growth, 1, at(12)) == at(12));
	assert_true(verdict_reach_ms(&growth, 1, at(365)) == at(13) + 1); /* it was weighed 1 ms after the first */
	assert_near(year.mass_g, week.mass_g, 1e-3 * week.mass_g);
	assert_near(year.gain_g_per_day, week.gain_g_per_day, 1e-3 * week.mass_g);
	assert_int_equal(year.kind, VERDICT_TOO_SOON);
	assert_true(year.tell_at_ms == at(365));
}

static void test_stops(void **state)
{
	struct growth flat = grown(PUPS, 8, 5.5, 0), losing = grown(PUPS, 8, 5.5, -0.03);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct verdict a = verdict_on(&flat, i, 8), b = verdict_on(&losing, i, 8);
		assert_int_equal(a.kind, i == STOPS ? VERDICT_FLAT : VERDICT_GAINING);
		assert_int_equal(b.kind, i == STOPS ? VERDICT_LOSING : VERDICT_GAINING);
		if (i != STOPS)
			continue;
		assert_true(a.since_ms >= at(4.9) && a.since_ms <= at(6.6));
		assert_true(b.since_ms >= at(4.9) && b.since_ms <= at(6.1));
		assert_true(b.gain_pct_per_day < 0 && isinf(b.doubling_days));
		assert_near(a.gain_pct_per_day, 0, 1);
	}
}

/* That it gained before doesn't make a pup that stopped a day and a half ago gain. */
static void test_not_gaining(void **state)
{
	(void)state;
	for (double stopped = 4; stopped <= 9; stopped += 0.5) {
		struct growth growth = grown(PUPS, stopped + 1.5, stopped, 0);
		assert_int_not_equal(verdict_on(&growth, STOPS, stopped + 1.5).kind, VERDICT_GAINING);
	}
}

/* From day 3 on a pup that gains 5 to 7 % a day reads `gaining` after each weighing, and in between. */
static void test_thriving(void **state)
{
	(void)state;
	for (double day = 3; day <= 14; day += 0.5) {
		struct growth growth = grown(PUPS, day, 99, 0);
		for (size_t i = 0; i < PUPS; i++) {
			assert_int_equal(verdict_on(&growth, i, day).kind, VERDICT_GAINING);
			assert_int_equal(verdict_on(&growth, i, day + 0.4).kind, VERDICT_GAINING);
		}
	}
}

/* Published growth alone is no gain that was seen. */
static void test_not_by_prior(void **state)
{
	struct growth birth = grown(PUPS, 0, 99, 0), next = grown(PUPS, 0.5, 99, 0), flat = grown(PUPS, 1.5, 0, 0);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		assert_int_equal(verdict_on(&birth, i, 0).kind, VERDICT_TOO_SOON);
		assert_int_equal(verdict_on(&next, i, 0.5).kind, VERDICT_TOO_SOON);
	}
	assert_int_not_equal(verdict_on(&flat, STOPS, 1.5).kind, VERDICT_GAINING);
}

/* The same, all at one rate from birth on. */
static struct growth born_with_rate(double rate, double days)
{
	struct growth growth;

	growth_init(&growth, PUPS, BORN_MS);
	for (double day = 0; day <= days; day += 0.5)
		for (size_t i = 0; i < PUPS; i++)
			take(&growth, i, day, log(birth_g(i)) + rate * day);
	return growth;
}

/* That it stopped, or that its rate is a normal variable below half of ln 1.035: whichever is likelier. */
static double p_slow(const struct growth *growth, size_t pup, double day)
{
	struct growth_state now;

	assert_true(growth_at(growth, pup, at(day), &now));
	return fmax(now.p_stall + now.p_loss, (1 + erf((0.0344 / 2 - now.on_rate) / now.u_on_rate / sqrt(2))) / 2);
}

/* What never gained has no gain to stop from: a whole litter at its birth weight, or losing since. */
static void test_from_birth(void **state)
{
	struct growth still = born_with_rate(0, 4), losing = born_with_rate(-0.03, 4);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct verdict a = verdict_on(&still, i, 4), b = verdict_on(&losing, i, 4);
		assert_int_equal(a.kind, VERDICT_FLAT);
		assert_int_equal(b.kind, VERDICT_LOSING);
		assert_true(a.p_stopped > 0.9 && b.p_stopped > 0.9);
		assert_near(a.p_stopped, p_slow(&still, i, 4), 1e-12);
		assert_near(b.p_stopped, p_slow(&losing, i, 4), 1e-12);
	}
}

/* Half the slowest gain that is published is where none begins: surely slower than that slowest is a gain all the same.
 */
static void test_slow(void **state)
{
	struct growth growth = born_with_rate(log(1.02), 14);

	(void)state;
	for (size_t i = 0; i < PUPS; i++) {
		struct verdict v = verdict_on(&growth, i, 14);
		assert_true(v.gain_pct_per_day + 1.645 * 100 * v.u_gain_g_per_day / v.mass_g < 3.5);
		assert_int_equal(v.kind, VERDICT_GAINING);
	}
}

/*
 * One more weighing: the joint normal distribution of all that are weighed with it, C = own I + shared 1 1'. Given the
 * others', a pup's variance is 1 / (C^-1)_11 (any text on the normal distribution), here by Sherman and Morrison's
 * formula. A scale's step adds d^2 / 12 (JCGM 100:2008, 4.3.7) as a share of the mass.
 */
static void test_next_weighing(void **state)
{
	static const size_t counts[] = { 1, 2, PUPS };

	(void)state;
	for (size_t k = 0; k < sizeof counts / sizeof *counts; k++)
		for (int64_t step_mg = 0; step_mg <= 10000; step_mg += 5000)
			for (int flat = 0; flat <= 1; flat++) {
				struct growth growth = flat ? born_with_rate(0, 4) : grown(counts[k], 4, 99, 0);
				struct verdict v;
				double own, shared, sd, n = flat ? PUPS : (double)counts[k];
				assert_true(verdict_of(&growth, 0, at(4), step_mg, 0, &v));
				own = growth.animals[0].now.ll + growth.own_var +
				      pow((double)step_mg / 1000 / v.mass_g, 2) / 12;
				shared = growth.now.ll + growth.shared_var;
				sd = 1 / sqrt(1 / own - shared / own / own / (1 + n * shared / own));
				assert_near(v.detectable_g, 2 * sd * v.mass_g, 1e-9 * v.mass_g);
				/* ln 1.035 a day is the slowest that one waits for (Small Animal Clinical Nutrition, p.
				 * 292) */
				assert_near((double)(v.tell_at_ms - at(4)),
					    DAY_MS * 4 * sd / fmax(0.0344, v.gain_g_per_day / v.mass_g), 1);
			}
}

/* A newest reading that was marked may be true: no gain is said over it. */
static void test_marked(void **state)
{
	struct growth growth = grown(PUPS, 6, 99, 0);
	struct growth_reading far = { .at_ms = at(6.4), .mass_mg = (int64_t)(600 * birth_g(1)), .u_mg = 289 };

	(void)state;
	assert_int_equal(growth_take(&growth, 1, &far), GROWTH_WILD);
	assert_int_not_equal(verdict_on(&growth, 1, 6.4).kind, VERDICT_GAINING);
	assert_int_equal(verdict_on(&growth, 2, 6.4).kind, VERDICT_GAINING);
}

static void test_single(void **state)
{
	struct growth gains = grown(1, 8, 99, 0);
	struct verdict v = verdict_on(&gains, 0, 8);

	(void)state;
	assert_int_equal(v.kind, VERDICT_GAINING);
	assert_true(isnan(v.z));
}

static void test_z(void **state)
{
	struct growth growth = grown(PUPS, 6, 99, 0), two = grown(2, 6, 99, 0);
	double sum = 0, squares = 0;

	(void)state;
	growth.animals[PUPS] = growth.animals[0]; /* none of this litter */
	for (size_t i = 0; i < PUPS; i++) {
		double z = verdict_on(&growth, i, 6).z;
		sum += z;
		squares += z * z;
		assert_true(i == 0 || z > verdict_on(&growth, i - 1, 6).z);
	}
	assert_near(sum, 0, 1e-9);
	assert_near(squares, PUPS - 1, 1e-9);
	assert_true(isnan(verdict_on(&two, 0, 6).z));
}

/* A coarser scale shows less, and tells later; one that isn't known, no sooner than a perfect one. */
static void test_scale(void **state)
{
	static const int64_t steps_mg[] = { 0, 100, 1000, 4536, 5000, 10000, 50000 };
	struct growth growth = grown(PUPS, 4, 99, 0);
	double detectable = 0;
	int64_t tell_at_ms = INT64_MIN;

	(void)state;
	for (size_t i = 0; i < sizeof steps_mg / sizeof *steps_mg; i++) {
		struct verdict v;
		assert_true(verdict_of(&growth, 0, at(4), steps_mg[i], 0, &v));
		assert_true(v.detectable_g > detectable && v.tell_at_ms > tell_at_ms);
		/* twice the rounding of one weighing at least: 2 d / sqrt(12) (JCGM 100, 4.3.7) */
		assert_true(v.detectable_g >= 2 * (double)steps_mg[i] / 1000 / sqrt(12));
		assert_true(isnan(v.since_birth_pct));
		detectable = v.detectable_g;
		tell_at_ms = v.tell_at_ms;
	}
}

/* Pup 2 as its littermates to day 5, and then as it is put; the verdict on it. */
static struct verdict after_day_5(const double (*weighings)[2], size_t n)
{
	struct growth growth = grown(PUPS, 5, INFINITY, 0);

	for (size_t i = 0; i < n; i++) {
		struct growth_reading reading = { at(weighings[i][0]), (int64_t)llround(weighings[i][1] * 1000), 289,
						  false };
		(void)growth_take(&growth, STOPS, &reading); /* marked or not */
	}
	return verdict_on(&growth, STOPS, weighings[n - 1][0]);
}
#define AFTER(...)                                                                                                     \
	after_day_5((const double[][2]){ __VA_ARGS__ }, sizeof((const double[][2]){ __VA_ARGS__ }) / sizeof(double[2]))

/*
 * One that dries out, 8 % in twelve hours and again: the model takes it for another pup's readings, the log is plain.
 * Its weight is the one weighed, its loss per day the one that a hand comes to, with two stomachs' uncertainty: 4 %
 * between full and empty (Chastant & Mila 2019, Anim Reprod Sci 207:162, fig. 4).
 */
static void test_dries_out(void **state)
{
	double from = exp(ln_grams(STOPS, 5, INFINITY, 0) + gut(STOPS, 5));
	struct verdict v;

	(void)state;
	v = AFTER({ 5.5, from * 0.92 });
	assert_true(v.kind != VERDICT_GAINING); /* one weighing may be another's */
	v = AFTER({ 5.5, from * 0.92 }, { 6, from * 0.846 });
	assert_int_equal(v.kind, VERDICT_LOSING);
	assert_near(v.mass_g, from * 0.846, 1e-3);
	assert_near(v.gain_g_per_day, from * (0.846 - 1), 2e-3);
	assert_near(v.gain_pct_per_day, -15.4, 1e-2);
	assert_near(v.u_gain_g_per_day, sqrt(2) * 0.02 * from * 0.846, 0.1);
	assert_true(v.p_stopped >= 0.95 && isinf(v.doubling_days));
	assert_int_equal(v.since_ms, at(5) + STOPS);
	v = AFTER({ 5.5, from * 0.92 }, { 6, from * 1.06 }); /* it was another's after all */
	assert_true(v.kind != VERDICT_LOSING);
	v = AFTER({ 5.5, from * 0.97 }); /* less than a stomach */
	assert_true(v.kind != VERDICT_LOSING);
	v = AFTER({ 5.02, from * 0.92 }, { 5.03, from * 0.92 }); /* within the hour: one weighing, done again */
	assert_true(v.gain_pct_per_day > -15);
	v = AFTER({ 8.5, from * 0.92 }, { 9, from * 0.846 }); /* over 60 h apart: the model's */
	assert_true(!(v.gain_pct_per_day < -15));
}

/* ---- by the log: a pup that gains, as the model sees it, with other weighings kept beside it ---- */

struct log {
	double age_h;       /* of the newest; NAN: not known */
	double before_h[3]; /* before the newest: 0, and the two before it */
	double grams[3];
};

static struct verdict by_log(const struct log *log, int64_t u_mg)
{
	struct growth growth = grown(PUPS, 6, INFINITY, 0);

	growth.born_ms = isnan(log->age_h) ? INT64_MIN : at(6) - (int64_t)llround(log->age_h * DAY_MS / 24);
	for (size_t i = 0; i < 3; i++)
		growth.animals[1].seen[i] =
			(struct growth_seen){ at(6) - (int64_t)llround(log->before_h[i] * DAY_MS / 24),
					      (int64_t)llround(1000 * log->grams[i]), u_mg };
	return verdict_on(&growth, 1, 6);
}

/* drop.h's 5 %, from day 21 on 8 %, below the one two before; the one between must lie below that as well. Four fifths
 * of it below the one before, or below the one two before alone: no gain is said. */
static void test_log_limits(void **state)
{
	static const struct {
		struct log log;
		enum verdict_kind kind;
	} rows[] = {
		{ { 100, { 0, 12, 24 }, { 475, 480, 500 } }, VERDICT_LOSING },
		{ { 100, { 0, 12, 24 }, { 475.001, 480, 500 } }, VERDICT_GAINING },
		{ { 100, { 0, 12, 24 }, { 475, 499.9, 500 } }, VERDICT_LOSING },
		{ { 100, { 0, 12, 24 }, { 475, 500, 500 } }, VERDICT_TOO_SOON },
		{ { 100, { 0, 12, 24 }, { 480, 500, 470 } }, VERDICT_TOO_SOON },
		{ { 100, { 0, 12, 24 }, { 480.001, 500, 470 } }, VERDICT_GAINING },
		{ { 100, { 0, 12, 24 }, { 475, 480, 0 } }, VERDICT_GAINING },
		{ { 100, { 0, 12, 24 }, { 0, 480, 500 } }, VERDICT_GAINING },
		/* newborns lose: nothing before hour 72, nor of the first day */
		{ { 71.99, { 0, 12, 24 }, { 475, 480, 500 } }, VERDICT_GAINING },
		{ { 0, { 0, 12, 24 }, { 475, 480, 500 } }, VERDICT_GAINING },
		{ { 72, { 0, 12, 24 }, { 475, 480, 500 } }, VERDICT_LOSING },
		{ { 80, { 0, 12, 56 }, { 475, 480, 500 } }, VERDICT_LOSING },
		{ { 80, { 0, 12, 56.01 }, { 475, 480, 500 } }, VERDICT_GAINING },
		{ { NAN, { 0, 12, 24 }, { 475, 480, 500 } }, VERDICT_LOSING },
		/* the window, and the same weighing done again */
		{ { 100, { 0, 12, 60 }, { 475, 480, 500 } }, VERDICT_LOSING },
		{ { 100, { 0, 12, 60.001 }, { 475, 480, 500 } }, VERDICT_GAINING },
		{ { 100, { 0, 1, 2 }, { 475, 480, 500 } }, VERDICT_LOSING },
		{ { 100, { 0, 1, 1.999 }, { 475, 480, 500 } }, VERDICT_TOO_SOON },
		/* from day 21 on */
		{ { 24 * 21 - 0.01, { 0, 12, 24 }, { 470, 475, 500 } }, VERDICT_LOSING },
		{ { 24 * 21, { 0, 12, 24 }, { 470, 475, 500 } }, VERDICT_GAINING },
		{ { 24 * 21, { 0, 12, 24 }, { 460, 465, 500 } }, VERDICT_LOSING },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		assert_int_equal(by_log(&rows[i].log, 0).kind, rows[i].kind);
}

/* An age that no clock gives isn't known. */
static void test_log_absurd_birth(void **state)
{
	struct growth growth = grown(PUPS, 6, INFINITY, 0);

	(void)state;
	growth.born_ms = INT64_MIN + 1;
	for (size_t i = 0; i < 3; i++)
		growth.animals[1].seen[i] =
			(struct growth_seen){ at(6 - 0.5 * (double)i), i < 2 ? 475000 + (int64_t)i : 500000, 0 };
	assert_int_equal(verdict_on(&growth, 1, 6).kind, VERDICT_LOSING);
}

/* Twice the difference's standard uncertainty is left out (JCGM 100, 5.1.2): 2 sqrt(2) 0.884 g = 2.5 g, half
 * a per cent of 500 g. */
static void test_log_uncertain(void **state)
{
	const struct log just = { 100, { 0, 12, 24 }, { 472.49, 480, 500 } },
			 not_yet = { 100, { 0, 12, 24 }, { 472.51, 480, 500 } };

	(void)state;
	assert_int_equal(by_log(&just, 884).kind, VERDICT_LOSING);
	assert_int_equal(by_log(&not_yet, 884).kind, VERDICT_GAINING);
}

/* The numbers beside it, by hand: 500 to 470 g in 12 hours, of 1 g steps; each stomach full or empty leaves 2 %. */
static void test_log_numbers(void **state)
{
	const struct log log = { 100, { 0, 6, 12 }, { 470, 480, 500 } };
	struct verdict v = by_log(&log, 289);

	(void)state;
	assert_int_equal(v.kind, VERDICT_LOSING);
	assert_near(v.mass_g, 470, 1e-9);
	assert_near(v.u_mass_g, sqrt(0.289 * 0.289 + 9.4 * 9.4), 1e-9);
	assert_near(v.gain_g_per_day, -60, 1e-9);
	assert_near(v.u_gain_g_per_day, 2 * sqrt(2 * 0.289 * 0.289 + 2 * 9.4 * 9.4), 1e-9);
	assert_near(v.gain_pct_per_day, 100 * (0.94 * 0.94 - 1), 1e-9);
	assert_true(isinf(v.doubling_days));
	assert_near(v.p_stopped, 0.95, 1e-9);
	assert_int_equal(v.since_ms, at(5.5));
}

/* Three that weigh the same have no z. */
static void test_z_of_equals(void **state)
{
	struct growth growth = grown(3, 2, INFINITY, 0);

	(void)state;
	for (size_t i = 0; i < 3; i++)
		growth.animals[i].now.level = 0.1;
	assert_true(isnan(verdict_on(&growth, 0, 2).z));
	/* nor have two, beside one that isn't known */
	growth = grown(3, 2, INFINITY, 0);
	assert_false(isnan(verdict_on(&growth, 0, 2).z));
	growth.animals[2].known = false;
	assert_true(isnan(verdict_on(&growth, 0, 2).z));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_texts),         cmocka_unit_test(test_nothing),
		cmocka_unit_test(test_gaining),       cmocka_unit_test(test_too_soon),
		cmocka_unit_test(test_stops),         cmocka_unit_test(test_not_gaining),
		cmocka_unit_test(test_single),        cmocka_unit_test(test_z),
		cmocka_unit_test(test_scale),         cmocka_unit_test(test_thriving),
		cmocka_unit_test(test_not_by_prior),  cmocka_unit_test(test_from_birth),
		cmocka_unit_test(test_marked),        cmocka_unit_test(test_reach),
		cmocka_unit_test(test_dries_out),     cmocka_unit_test(test_log_limits),
		cmocka_unit_test(test_log_uncertain), cmocka_unit_test(test_log_numbers),
		cmocka_unit_test(test_z_of_equals),   cmocka_unit_test(test_log_absurd_birth),
		cmocka_unit_test(test_slow),          cmocka_unit_test(test_next_weighing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

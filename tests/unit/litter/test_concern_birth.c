// SPDX-License-Identifier: MIT
/* The rules of concern_birth.c where the model marked a reading, or there is little to go by. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include "daemon/litter/concern_birth.h"
#include "tests/unit/litter/seen.h"

static bool early_loss(struct seen *seen, double now, bool marked)
{
	look(seen, now, 0, 0, 0);
	seen->view.state.wild = marked;
	return concern_birth_early_loss(&seen->view, &seen->told);
}

/* Day 2 is judged by the reading nearest to 48 h (Mila 2015, J Anim Sci, doi 10.2527/jas.2015-8971: 4 %); a marked
 * newest one, that may be another pup's, doesn't stand for one that was lighter. */
static void test_day_2_marked(void **state)
{
	static const struct {
		double before_g, at_48_g; /* 0: there is none before; of a birth weight of 300 g */
		bool marked, told;
	} rows[] = {
		{ 0, 280, true, true },                               /* the only one there is */
		{ 0, 310, true, false },    { 280, 310, true, true }, /* heavier: another's, perhaps */
		{ 280, 310, false, false }, { 310, 280, true, true }, /* lighter: it counts */
		{ 280, 280, true, true },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		if (rows[i].before_g > 0)
			WEIGHED(&seen, { 40, rows[i].before_g }, { 48, rows[i].at_48_g });
		else
			WEIGHED(&seen, { 48, rows[i].at_48_g });
		assert_int_equal(early_loss(&seen, 49, rows[i].marked), rows[i].told);
	}
	/* a reading without a mass says nothing */
	WEIGHED(&seen, { 40, 280 }, { 48, 0 });
	assert_true(early_loss(&seen, 49, false));
	/* as near to 48 h as another: the newer */
	WEIGHED(&seen, { 47, 280 }, { 49, 310 });
	assert_false(early_loss(&seen, 50, false));
}

/* Deaths are counted to day 21 (Mila 2015): until then it is told, if it hasn't made up for it. */
static void test_risk_ends(void **state)
{
	struct seen seen;

	(void)state;
	WEIGHED(&seen, { 48, 280 }, { 24 * 20, 300 });
	assert_true(early_loss(&seen, 24 * 21, false));
	assert_false(early_loss(&seen, 24 * 21 + 0.01, false));
	WEIGHED(&seen, { 48, 280 }, { 60.1, 300.001 });
	assert_false(early_loss(&seen, 61, false));
	assert_true(early_loss(&seen, 61, true)); /* another's, perhaps */
	look(&seen, 24 * 3, 0, 0, 0);
	seen.view.birth_mg = 0;
	assert_false(concern_birth_early_loss(&seen.view, &seen.told));
}

/* One without a birth weight isn't compared with three that have one. */
static void test_birth_not_known(void **state)
{
	const int64_t births[] = { 0, 300000, 300000, 330000 };
	struct seen seen;
	double pct;

	(void)state;
	memset(&seen, 0, sizeof seen);
	born(&seen.made, births, 4, 0);
	look(&seen, 10, 0, 0, 0);
	assert_false(concern_birth_below_mean(&seen.view, &pct));
	assert_false(concern_birth_low_birth(&seen.view, &seen.told));
	seen.view.birth_mg = 279000; /* mean of the three that are known: 310 g, by hand */
	assert_true(concern_birth_below_mean(&seen.view, &pct));
	assert_true(fabs(pct - 10) < 1e-9);
}

/* Not doubled by day 14; what is said of its gain: within the band, above it (10 and 6 %/day; Small Animal Clinical
 * Nutrition, 5th ed., p. 292), below; nothing from day 28 on, for which no band is published. */
static void test_doubling_words(void **state)
{
	static const struct {
		double day, pct;
		const char *says;
	} rows[] = {
		{ 14, 3.4, "; now +3.4 %/day, below the published 3.5 to 6 %/day" },
		{ 14, 3.6, "; now +3.6 %/day, steady and within the published 3.5 to 6 %/day" },
		{ 14, 5.9, "steady and within the published" },
		{ 14, 6.1, "; now +6.1 %/day, above the published 3.5 to 6 %/day" },
		{ 27.9, 6.1, "above the published" },
		{ 28, 6.1, "not doubled by day 14" },
	};
	struct seen seen;

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		WEIGHED(&seen, { 24 * rows[i].day, 599 });
		look(&seen, 24 * rows[i].day, 0, 0, 0);
		seen.view.state.rate = log(1 + rows[i].pct / 100);
		assert_true(concern_birth_late_doubling(&seen.view, &seen.told));
		assert_true(says(&seen, rows[i].says));
		assert_true(says(&seen, "1.99 times its birth weight of 300 g"));
		if (rows[i].day >= 28)
			assert_false(says(&seen, "the published"));
	}
	WEIGHED(&seen, { 24 * 14, 600 });
	look(&seen, 24 * 14, 0, 0, 0);
	assert_false(concern_birth_late_doubling(&seen.view, &seen.told));
}

/* By hour 72: the lighter of a marked newest and the one before it. */
static void test_72_marked(void **state)
{
	struct seen seen;

	(void)state;
	for (int marked = 0; marked <= 1; marked++) {
		WEIGHED(&seen, { 67, 299 }, { 73, 320 });
		look(&seen, 74, 0, 0, 0);
		seen.view.state.wild = marked;
		assert_int_equal(concern_birth_no_gain_72h(&seen.view, &seen.told), marked);
		WEIGHED(&seen, { 67, 320 }, { 73, 299 });
		look(&seen, 74, 0, 0, 0);
		seen.view.state.wild = marked;
		assert_true(concern_birth_no_gain_72h(&seen.view, &seen.told));
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_day_2_marked),    cmocka_unit_test(test_risk_ends),
		cmocka_unit_test(test_birth_not_known), cmocka_unit_test(test_doubling_words),
		cmocka_unit_test(test_72_marked),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

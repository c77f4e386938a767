// SPDX-License-Identifier: MIT
/* A vet's orders: what they come to, what is refused and when, slips, and what no order and no dose may ever do. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/litter/order.h"
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define MIN_MS INT64_C(60000)
#define HOUR_MS (60 * MIN_MS)
#define DAY_MS (24 * HOUR_MS)
#define NOW_MS INT64_C(1795610730000)
#define PUP_MG INT64_C(300000)

/* xorshift64* (Vigna 2016, ACM TOMS 42:30); the seed is fixed. */
static uint64_t chance = UINT64_C(0x0bde0f0ab1e5);

static uint64_t below(uint64_t n)
{
	chance ^= chance >> 12;
	chance ^= chance << 25;
	chance ^= chance >> 27;
	return (chance * UINT64_C(2685821657736338717) >> 16) % n;
}

static struct volume_rate rate_of(const char *text)
{
	struct volume_rate rate = { 0 };

	assert_int_equal(volume_parse_rate(text, &rate), VOLUME_PARSED);
	return rate;
}

static struct order order_of(const char *amount, const char *most)
{
	return (struct order){ .what = "the fluid of the vet",
			       .vet = "the vet",
			       .kind = ORDER_FLUID,
			       .route = ORDER_UNDER_SKIN,
			       .amount = rate_of(amount),
			       .most = rate_of(most),
			       .every_ms = 8 * HOUR_MS,
			       .from_ms = NOW_MS - DAY_MS,
			       .until_ms = NOW_MS + 3 * DAY_MS };
}

static struct dose_ask ask_of(int64_t mass_mg)
{
	return (struct dose_ask){ .mass_mg = mass_mg,
				  .weighed_ms = NOW_MS - HOUR_MS,
				  .now_ms = NOW_MS,
				  .warmth = SIGN_WARM,
				  .graduation_ul = 100 };
}

static struct dose_plan planned(const struct order *order, const struct dose_ask *ask, enum dose_outcome expected)
{
	struct dose_plan plan;
	enum dose_outcome outcome = dose_plan(order, ask, &plan);

	assert_int_equal(outcome, expected);
	assert_non_null(plan.range);
	assert_true((outcome <= DOSE_SECOND_LOOK) == (plan.ul > 0));
	return plan;
}

static enum dose_outcome outcome_of(const char *amount, const char *most, int64_t mass_mg)
{
	struct order order = order_of(amount, most);
	struct dose_ask ask = ask_of(mass_mg);
	struct dose_plan plan;

	return dose_plan(&order, &ask, &plan);
}

/*
 * Common practice, no source: 4 mL under the skin for a pup of 11 oz, 12.8 mL/kg, is an amount seen in practice; a
 * plausible order must pass as plain.
 */
static void test_common_practice(void **state)
{
	struct order order = order_of("4 mL", "8 mL");
	struct dose_ask ask = ask_of(311845); /* 11 * 28.349523125 g (NIST SP 811) */
	struct dose_plan plan = planned(&order, &ask, DOSE_PLANNED);

	(void)state;
	assert_int_equal(plan.ul, 4000);
	assert_int_equal(plan.ul_per_kg / 100, 128);
	assert_int_equal(plan.sites, 1);
	assert_int_equal(plan.most_24h_ul, 8000);
	assert_int_equal(plan.due_ms, NOW_MS + 8 * HOUR_MS);
	assert_non_null(strstr(plan.range, "Your vet's word goes first"));
}

/*
 * Facts, section 8. Row 17: 1 mL/30 g, 450 g: 15 mL (33.3 mL/kg), printed for a vein (dvm360, Neonatal emergencies); so
 * under the skin it is no plain amount. Row 18: a dog of 10 lb, 50 mL in one place = 11.0 mL/kg (Washington State
 * University); 5 to 10 mL/lb in one spot, of which the upper end, 22 mL/kg, is over our 20 and is split.
 */
static void test_handbooks(void **state)
{
	struct order order = order_of("15 mL", "30 mL");
	struct dose_ask ask = ask_of(450000);
	struct dose_plan plan = planned(&order, &ask, DOSE_SECOND_LOOK);

	(void)state;
	assert_int_equal(plan.ul_per_kg, 33333);
	assert_int_equal(plan.sites, 2);
	order = order_of("50 mL", "150 mL");
	ask.mass_mg = 4535924;
	plan = planned(&order, &ask, DOSE_PLANNED);
	assert_int_equal(plan.ul_per_kg / 100, 110);
	assert_int_equal(plan.sites, 1);
	order = order_of("100 mL", "300 mL");
	assert_int_equal(planned(&order, &ask, DOSE_SECOND_LOOK).sites, 2);
}

/* Row 13: "800 mL/hr" is a misprint for a volume of 24 hours (wsava2017.net, page 80): as a dose it is a slip. Row 14:
 * a deficit of 8 % of 350 g, 28 mL, isn't for one dose either. */
static void test_deficit_is_no_dose(void **state)
{
	(void)state;
	assert_int_equal(outcome_of("800 mL", "1000 mL", 10000000), DOSE_IMPOSSIBLE);
	assert_int_equal(outcome_of("28 mL", "28 mL", 350000), DOSE_IMPOSSIBLE);
}

/* Facts, section 5, PROPOSAL; each end on its milder side, by weight and by animal. */
static void test_skin_ranges(void **state)
{
	static const struct {
		const char *kg, *animal; /* the animal's: 300 g */
		enum dose_outcome outcome;
		unsigned sites;
	} rows[] = {
		{ "0.999 mL/kg", "0.299 mL", DOSE_IMPOSSIBLE, 0 }, { "1 mL/kg", "0.3 mL", DOSE_SECOND_LOOK, 1 },
		{ "4.99 mL/kg", "1.49 mL", DOSE_SECOND_LOOK, 1 },  { "5 mL/kg", "1.5 mL", DOSE_PLANNED, 1 },
		{ "20 mL/kg", "6 mL", DOSE_PLANNED, 1 },           { "20.01 mL/kg", "6.01 mL", DOSE_SECOND_LOOK, 1 },
		{ "45 mL/kg", "13.5 mL", DOSE_SECOND_LOOK, 3 },    { "45.01 mL/kg", "13.51 mL", DOSE_OUTSIDE, 3 },
		{ "60 mL/kg", "18 mL", DOSE_OUTSIDE, 3 },          { "60.01 mL/kg", "18.01 mL", DOSE_IMPOSSIBLE, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct order by_kg = order_of(rows[i].kg, "70 mL/kg"), by_animal = order_of(rows[i].animal, "20 mL"),
			     mixed;
		struct dose_ask ask = ask_of(PUP_MG);
		enum dose_outcome overridden = rows[i].outcome == DOSE_OUTSIDE ? DOSE_SECOND_LOOK : rows[i].outcome;
		struct dose_plan plan;
		const char *range;

		assert_int_equal(order_range(&by_kg, 0, &range), rows[i].outcome);
		assert_int_equal(order_range(&by_animal, 0, &range), DOSE_STALE);
		mixed = by_kg; /* what order_check() refuses: the most is by animal, and not known for it */
		mixed.most = by_animal.most;
		assert_int_equal(order_range(&mixed, 0, &range), DOSE_STALE);
		assert_int_equal(order_range(&by_animal, PUP_MG, &range), rows[i].outcome);
		(void)planned(&by_kg, &ask, rows[i].outcome);
		(void)planned(&by_animal, &ask, rows[i].outcome);
		ask.overridden = true;
		plan = planned(&by_kg, &ask, overridden);
		assert_int_equal(plan.sites, rows[i].sites);
		(void)planned(&by_animal, &ask, overridden);
	}
}

/* At odd masses too exactly the limit is on its milder side, whatever the rounding of microlitres. */
static void test_limit_at_odd_mass(void **state)
{
	(void)state;
	for (int64_t mass_mg = 50001; mass_mg < 900000; mass_mg += 777) {
		assert_int_equal(outcome_of("5 mL/kg", "15 mL/kg", mass_mg), DOSE_PLANNED);
		assert_int_equal(outcome_of("0.5 mL/100 g", "15 mL/kg", mass_mg), DOSE_PLANNED);
		assert_int_equal(outcome_of("20 mL/kg", "60 mL/kg", mass_mg), DOSE_PLANNED);
		assert_int_equal(outcome_of("2 mL/100 g", "6 mL/100 g", mass_mg), DOSE_PLANNED);
	}
}

/* The stomach: 40 mL/kg planned, 50 never above (facts, section 6). */
static void test_mouth_ranges(void **state)
{
	static const struct {
		const char *kg;
		enum dose_outcome outcome;
	} rows[] = { { "1 mL/kg", DOSE_PLANNED },
		     { "40 mL/kg", DOSE_PLANNED },
		     { "40.01 mL/kg", DOSE_SECOND_LOOK },
		     { "50 mL/kg", DOSE_SECOND_LOOK },
		     { "50.01 mL/kg", DOSE_IMPOSSIBLE } };

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct order order = order_of(rows[i].kg, "150 mL/kg");
		struct dose_ask ask = ask_of(PUP_MG);
		struct dose_plan plan;

		order.route = ORDER_BY_MOUTH;
		ask.overridden = true; /* changes nothing here */
		plan = planned(&order, &ask, rows[i].outcome);
		assert_int_equal(plan.sites, 0);
		assert_non_null(strstr(plan.range, "By mouth"));
	}
}

/* All fluid of 24 hours: the order's most, and what was given by this and other ways. */
static void test_day_ranges(void **state)
{
	struct order order = order_of("10 mL/kg", "180 mL/kg");
	struct dose_ask ask = ask_of(PUP_MG);
	const char *range;

	(void)state;
	(void)planned(&order, &ask, DOSE_PLANNED);
	order.most = rate_of("180.01 mL/kg");
	assert_non_null(strstr(planned(&order, &ask, DOSE_SECOND_LOOK).range, "All fluid"));
	order.most = rate_of("300 mL/kg");
	(void)planned(&order, &ask, DOSE_SECOND_LOOK);
	order.most = rate_of("300.01 mL/kg");
	ask.overridden = true;
	(void)planned(&order, &ask, DOSE_IMPOSSIBLE);
	order.most = rate_of("30 mL/kg");
	ask.other_24h_ul = 51000; /* milk: 170 mL/kg, and 10 */
	(void)planned(&order, &ask, DOSE_PLANNED);
	ask.other_24h_ul++;
	assert_non_null(strstr(planned(&order, &ask, DOSE_SECOND_LOOK).range, "All fluid"));
	ask.other_24h_ul = 87000;
	(void)planned(&order, &ask, DOSE_SECOND_LOOK);
	ask.other_24h_ul++;
	(void)planned(&order, &ask, DOSE_IMPOSSIBLE);
	ask.other_24h_ul = INT64_MAX;
	(void)planned(&order, &ask, DOSE_IMPOSSIBLE);
	ask.other_24h_ul = -1;
	(void)planned(&order, &ask, DOSE_PLANNED);
	order.most = rate_of("180 mL/kg");
	ask.given = &(struct dose_given){ ask.now_ms - 12 * HOUR_MS, 51000 };
	ask.n_given = 1;
	for (ask.other_24h_ul = -1; ask.other_24h_ul <= 1; ask.other_24h_ul++)
		(void)planned(&order, &ask, ask.other_24h_ul > 0 ? DOSE_SECOND_LOOK : DOSE_PLANNED);
	order = order_of("3 mL", "9 mL");
	assert_int_equal(order_range(&order, 0, &range), DOSE_STALE);
	assert_int_equal(order_range(&order, 1, &range), DOSE_IMPOSSIBLE); /* three litres a gram */
	assert_int_equal(order_day_range(54000, PUP_MG, &range), DOSE_PLANNED);
	assert_int_equal(order_day_range(54001, PUP_MG, &range), DOSE_SECOND_LOOK);
}

/* No range to hold a medicine against: never plain; the volume is limited all the same. */
static void test_medicine(void **state)
{
	static const struct {
		const char *kg;
		enum dose_outcome skin, mouth;
	} rows[] = {
		{ "0.4 mL/kg", DOSE_SECOND_LOOK, DOSE_SECOND_LOOK }, { "10 mL/kg", DOSE_SECOND_LOOK, DOSE_SECOND_LOOK },
		{ "30 mL/kg", DOSE_SECOND_LOOK, DOSE_SECOND_LOOK },  { "46 mL/kg", DOSE_OUTSIDE, DOSE_SECOND_LOOK },
		{ "51 mL/kg", DOSE_OUTSIDE, DOSE_IMPOSSIBLE },       { "61 mL/kg", DOSE_IMPOSSIBLE, DOSE_IMPOSSIBLE },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct order order = order_of(rows[i].kg, "70 mL/kg");
		struct dose_ask ask = ask_of(PUP_MG);

		order.kind = ORDER_MEDICINE;
		(void)planned(&order, &ask, rows[i].skin);
		order.route = ORDER_BY_MOUTH;
		(void)planned(&order, &ask, rows[i].mouth);
	}
	{
		struct order order = order_of("30 mL/kg", "70 mL/kg");
		struct dose_ask ask = ask_of(PUP_MG);

		order.kind = ORDER_MEDICINE;
		assert_int_equal(planned(&order, &ask, DOSE_SECOND_LOOK).sites, 2);
		order.amount = rate_of("0.4 mL/kg");
		assert_non_null(strstr(planned(&order, &ask, DOSE_SECOND_LOOK).range, "A medicine"));
	}
}

/*
 * Facts, section 5, typical slips of an order that is plain (5 to 20 mL/kg under the skin), each way: mL/100 g for
 * mL/kg and a lost point (10), pounds for kilograms (2.2046), ounces for grams (28.35), an hour for a day (24). By the
 * large factors nothing is given; by a pound's nothing over the plain range goes unseen, and what still looks plain is
 * at most what is plain.
 */
static void test_slips(void **state)
{
	static const int64_t factors[] = { 10000, 28350, 24000, 2205 }; /* in thousandths */

	(void)state;
	for (int64_t ul = 5000; ul <= 20000; ul += 50)
		for (size_t i = 0; i < 4; i++) {
			struct order order = order_of("10 mL/kg", "10 mL/kg");
			struct dose_ask ask = ask_of(PUP_MG);
			struct dose_plan plan;
			enum dose_outcome up, down;

			order.amount.ul = order.most.ul = ul * factors[i] / 1000;
			up = dose_plan(&order, &ask, &plan);
			order.amount.ul = order.most.ul = ul * 1000 / factors[i];
			down = dose_plan(&order, &ask, &plan);
			assert_true(down != DOSE_PLANNED || (i == 3 && ul * 1000 / factors[i] >= 5000));
			if (i < 3)
				assert_true(up == DOSE_IMPOSSIBLE || (up == DOSE_OUTSIDE && ul <= 6000 && i == 0));
			else
				assert_int_equal(up, ul * 2205 / 1000 > 20000 ? DOSE_SECOND_LOOK : DOSE_PLANNED);
		}
}

/* By animal, with a weight that slipped: ounces, pounds or kilograms typed as the wrong unit. */
static void test_weight_slips(void **state)
{
	(void)state;
	assert_int_equal(outcome_of("4 mL", "8 mL", 311845), DOSE_PLANNED);
	assert_int_equal(outcome_of("4 mL", "8 mL", 11000), DOSE_IMPOSSIBLE);    /* 11 oz as 11 g */
	assert_int_equal(outcome_of("4 mL", "8 mL", 8840660), DOSE_IMPOSSIBLE);  /* 311.8 g as ounces */
	assert_int_equal(outcome_of("4 mL", "8 mL", 31184), DOSE_IMPOSSIBLE);    /* a point */
	assert_int_equal(outcome_of("4 mL", "8 mL", 3118450), DOSE_SECOND_LOOK); /* a point */
	assert_int_equal(outcome_of("4 mL", "8 mL", 141450), DOSE_SECOND_LOOK);  /* lb as kg */
	assert_int_equal(outcome_of("40 mL", "80 mL", 311845), DOSE_IMPOSSIBLE);
	assert_int_equal(outcome_of("0.4 mL", "0.8 mL", 311845), DOSE_SECOND_LOOK);
	/* the same dose each hour instead of each day: the most shows it */
	assert_int_equal(outcome_of("12.8 mL/kg", "307 mL/kg", 311845), DOSE_IMPOSSIBLE);
}

/*
 * A quantity mistyped on its way into an order: a character lost, doubled, changed for another, or two exchanged.
 * Whatever still parses is never given as plain when it is ten times what was meant, or a tenth.
 */
static void test_mistyped_orders(void **state)
{
	static const char others[] = "0123456789.,  mMlLkKgG/-+e";
	unsigned parsed = 0, tenfold = 0;

	(void)state;
	for (int i = 0; i < 200000; i++) {
		int64_t meant_ul_per_kg = 5000 + 50 * (int64_t)below(301);
		char text[40], slip[41];
		struct order order = order_of("10 mL/kg", "10 mL/kg");
		struct dose_ask ask = ask_of(PUP_MG);
		struct volume_rate meant = { meant_ul_per_kg, VOLUME_PER_KG };
		struct dose_plan plan;
		size_t n, at;

		ask.graduation_ul = 1;
		if (below(3) == 0)
			meant = (struct volume_rate){ meant_ul_per_kg / 10, VOLUME_PER_100G };
		else if (below(2) == 0)
			meant = (struct volume_rate){ meant_ul_per_kg * 3 / 10, VOLUME_PER_ANIMAL };
		volume_format_rate(&meant, text, sizeof text);
		n = strlen(text);
		at = below(n);
		memcpy(slip, text, n + 1);
		switch (below(4)) {
		case 0:
			memmove(slip + at, slip + at + 1, n - at);
			break;
		case 1:
			memmove(slip + at + 1, slip + at, n + 1 - at);
			break;
		case 2:
			slip[at] = others[below(sizeof others - 1)];
			break;
		case 3:
			if (at + 1 < n) {
				slip[at] = text[at + 1];
				slip[at + 1] = text[at];
			}
			break;
		}
		if (volume_parse_rate(slip, &order.amount) != VOLUME_PARSED)
			continue;
		parsed++;
		order.most = order.amount;
		/* against what was meant, reckoned from the text that was made, not from what was parsed */
		if (dose_plan(&order, &ask, &plan) == DOSE_PLANNED) {
			double ratio = (double)plan.ul / ((double)meant_ul_per_kg * 0.3);

			assert_true(ratio < 5 && ratio > 0.2);
		} else {
			tenfold += order_ul_per_kg(&order.amount, PUP_MG) >= 10 * meant_ul_per_kg;
		}
	}
	assert_true(parsed > 20000 && tenfold > 500);
}

static void test_check(void **state)
{
	const struct order good = order_of("10 mL/kg", "30 mL/kg");
	struct dose_ask ask = ask_of(PUP_MG);
	struct order order;

	(void)state;
	assert_int_equal(order_check(&good), ORDER_FITS);
#define REFUSED(check, ...)                                                                                            \
	do {                                                                                                           \
		order = good;                                                                                          \
		__VA_ARGS__;                                                                                           \
		assert_int_equal(order_check(&order), check);                                                          \
		assert_string_equal(planned(&order, &ask, DOSE_IMPOSSIBLE).range, order_check_hint(check));            \
	} while (0)
	REFUSED(ORDER_NO_WHAT, order.what = NULL);
	REFUSED(ORDER_NO_WHAT, order.what = "");
	REFUSED(ORDER_NO_WHAT, order.what = " \t ");
	REFUSED(ORDER_NO_WHAT, order.what = &"x \t"[1]);
	REFUSED(ORDER_NO_VET, order.vet = NULL);
	REFUSED(ORDER_NO_VET, order.vet = " ");
	REFUSED(ORDER_NO_AMOUNT, order.amount.ul = 0);
	REFUSED(ORDER_NO_AMOUNT, order.amount.ul = -5);
	REFUSED(ORDER_NO_AMOUNT, order.most.ul = 0);
	REFUSED(ORDER_BAD_TIMES, order.until_ms = order.from_ms);
	REFUSED(ORDER_BAD_TIMES, order.until_ms = order.from_ms - 1);
	REFUSED(ORDER_BAD_TIMES, order.until_ms = order.from_ms + ORDER_LONGEST_MS + 1);
	REFUSED(ORDER_BAD_TIMES, order.from_ms = INT64_MIN; order.until_ms = INT64_MAX);
	REFUSED(ORDER_BAD_EVERY, order.every_ms = ORDER_SHORTEST_MS - 1);
	REFUSED(ORDER_BAD_EVERY, order.every_ms = 0);
	REFUSED(ORDER_BAD_EVERY, order.every_ms = -HOUR_MS);
	REFUSED(ORDER_BAD_EVERY, order.every_ms = ORDER_RAREST_MS + 1);
	REFUSED(ORDER_BASES, order.most = rate_of("30 mL"));
	REFUSED(ORDER_BASES, order.amount = rate_of("3 mL"));
	REFUSED(ORDER_MOST_BELOW, order.most = rate_of("9.99 mL/kg"));
	REFUSED(ORDER_MOST_BELOW, order.most = rate_of("0.99 mL/100 g"));
	REFUSED(ORDER_MOST_BELOW, order.amount = rate_of("3 mL/100 g"); order.most = rate_of("29 mL/kg"));
	REFUSED(ORDER_MOST_BELOW, order.amount = rate_of("3 mL"); order.most = rate_of("2.9 mL"));
#undef REFUSED
	order = good;
	order.amount.ul = order.most.ul = 1;
	assert_int_equal(order_check(&order), ORDER_FITS);
	order = good;
	order.until_ms = order.from_ms + ORDER_LONGEST_MS;
	order.every_ms = ORDER_SHORTEST_MS;
	order.most = rate_of("1 mL/100 g"); /* the same as 10 mL/kg */
	assert_int_equal(order_check(&order), ORDER_FITS);
	order.every_ms = ORDER_RAREST_MS;
	assert_int_equal(order_check(&order), ORDER_FITS);
	for (int i = ORDER_FITS; i <= ORDER_MOST_BELOW; i++)
		assert_true(strlen(order_check_hint((enum order_check)i)) > 20);
}

/* One by one, and the one to act on first where there are several. */
static void test_refusals(void **state)
{
	const struct dose_ask good = ask_of(PUP_MG);
	struct order order = order_of("10 mL/kg", "30 mL/kg");
	struct dose_ask ask;

	(void)state;
#define GIVES(outcome, ...)                                                                                            \
	do {                                                                                                           \
		ask = good;                                                                                            \
		__VA_ARGS__;                                                                                           \
		(void)planned(&order, &ask, outcome);                                                                  \
	} while (0)
	GIVES(DOSE_NOT_BEGUN, ask.now_ms = order.from_ms - 1);
	GIVES(DOSE_PLANNED, ask.now_ms = ask.weighed_ms = order.from_ms);
	GIVES(DOSE_PLANNED, ask.now_ms = ask.weighed_ms = order.until_ms - 1);
	GIVES(DOSE_ENDED, ask.now_ms = ask.weighed_ms = order.until_ms);
	GIVES(DOSE_STALE, ask.weighed_ms = NOW_MS - ORDER_FRESH_MS - 1);
	GIVES(DOSE_PLANNED, ask.weighed_ms = NOW_MS - ORDER_FRESH_MS);
	GIVES(DOSE_PLANNED, ask.weighed_ms = NOW_MS + ORDER_AHEAD_MS);
	GIVES(DOSE_STALE, ask.weighed_ms = NOW_MS + ORDER_AHEAD_MS + 1); /* clock set back */
	GIVES(DOSE_STALE, ask.mass_mg = 0);
	assert_int_equal(planned(&order, &ask, DOSE_STALE).ul_per_kg, 0); /* of no mass nothing is told */
	GIVES(DOSE_STALE, ask.mass_mg = -1);
	GIVES(DOSE_TOO_FINE, ask.mass_mg = 1);
	assert_int_equal(planned(&order, &ask, DOSE_TOO_FINE).ul_per_kg, 10000);
	GIVES(DOSE_DOUBTFUL, ask.doubtful = true);
	GIVES(DOSE_WARMTH_UNKNOWN, ask.warmth = SIGN_WARMTH_UNKNOWN);
	GIVES(DOSE_WARMTH_UNKNOWN, ask.warmth = (enum sign_warmth)77);
	GIVES(DOSE_CHILLED, ask.warmth = SIGN_CHILLED);
	GIVES(DOSE_PLANNED, ask.warmth = SIGN_COOL);
	GIVES(DOSE_TOO_FINE, ask.graduation_ul = 3001);
	GIVES(DOSE_PLANNED, ask.graduation_ul = 3000);
	GIVES(DOSE_TOO_FINE, ask.graduation_ul = 0);
	GIVES(DOSE_TOO_FINE, ask.graduation_ul = -100);
	GIVES(DOSE_ENDED, ask.now_ms = order.until_ms; ask.warmth = SIGN_CHILLED);
	GIVES(DOSE_CHILLED, ask.warmth = SIGN_CHILLED; ask.mass_mg = 0; ask.doubtful = true);
	GIVES(DOSE_STALE, ask.weighed_ms = 0; ask.doubtful = true);
	/* the words for one refusal lift no other */
	GIVES(DOSE_CHILLED, ask.overridden = true; ask.warmth = SIGN_CHILLED);
	GIVES(DOSE_STALE, ask.overridden = true; ask.weighed_ms = 0);
	GIVES(DOSE_DOUBTFUL, ask.overridden = true; ask.doubtful = true);
	GIVES(DOSE_ENDED, ask.overridden = true; ask.now_ms = order.until_ms);
	order.amount = rate_of("50 mL/kg");
	order.most = rate_of("60 mL/kg");
	GIVES(DOSE_OUTSIDE, ask.graduation_ul = 100);
	GIVES(DOSE_SECOND_LOOK, ask.overridden = true);
	GIVES(DOSE_DOUBTFUL, ask.doubtful = true);
#undef GIVES
	ask = good;
	ask.warmth = SIGN_COOL;
	assert_true(planned(&order, &ask, DOSE_OUTSIDE).cool);
}

/* Rounded down to what the syringe can measure, however coarse: the plan says what was ordered too. */
static void test_syringe(void **state)
{
	struct order order = order_of("10 mL/kg", "30 mL/kg");
	struct dose_ask ask = ask_of(311845);
	struct dose_plan plan;

	(void)state;
	ask.graduation_ul = 20;
	plan = planned(&order, &ask, DOSE_PLANNED);
	assert_int_equal(plan.ordered_ul, 3118);
	assert_int_equal(plan.ul, 3100);
	ask.graduation_ul = 500;
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).ul, 3000);
	ask.graduation_ul = 2000;
	plan = planned(&order, &ask, DOSE_PLANNED);
	assert_int_equal(plan.ul, 2000);
	assert_int_equal(plan.ordered_ul, 3118);
	assert_int_equal(plan.ul_per_kg, 10000);
}

/* The least there is, by a syringe that shows it. */
static void test_one_microlitre(void **state)
{
	struct order order = order_of("0.01 mL/kg", "0.05 mL/kg");
	struct dose_ask ask = ask_of(100000);

	(void)state;
	order.kind = ORDER_MEDICINE;
	ask.graduation_ul = 1;
	assert_int_equal(planned(&order, &ask, DOSE_SECOND_LOOK).ul, 1);
}

static void test_not_due(void **state)
{
	struct order order = order_of("10 mL/kg", "30 mL/kg");
	struct dose_ask ask = ask_of(PUP_MG);
	struct dose_given given[] = { { NOW_MS - 30 * HOUR_MS, 3000 }, { NOW_MS - 8 * HOUR_MS + 1, 3000 } };
	struct dose_plan plan;

	(void)state;
	ask.given = given;
	ask.n_given = 2;
	plan = planned(&order, &ask, DOSE_NOT_DUE);
	assert_int_equal(plan.due_ms, NOW_MS + 1);
	assert_int_equal(plan.given_24h_ul, 3000);
	ask.now_ms = plan.due_ms;
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, ask.now_ms + 8 * HOUR_MS);
	ask.now_ms = NOW_MS;
	given[1].ul = 1; /* the least there is */
	assert_int_equal(planned(&order, &ask, DOSE_NOT_DUE).due_ms, NOW_MS + 1);
	given[1].ul = 0; /* nothing of it went in */
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).given_24h_ul, 0);
	/* of doses a week apart the last one counts, though it is long out of the 24 hours */
	order.every_ms = ORDER_RAREST_MS;
	ask.n_given = 1;
	assert_int_equal(planned(&order, &ask, DOSE_NOT_DUE).due_ms, NOW_MS - 30 * HOUR_MS + 7 * DAY_MS);
	/* too early by the order, and then too much by the most: due when both are met */
	order.every_ms = 8 * HOUR_MS;
	given[0] = (struct dose_given){ NOW_MS - HOUR_MS, 9000 };
	assert_int_equal(planned(&order, &ask, DOSE_NOT_DUE).due_ms, NOW_MS + 23 * HOUR_MS);
}

/* A window that rolls: a dose of exactly 24 hours ago is out of it, one of a millisecond less is in it. */
static void test_most(void **state)
{
	struct order order = order_of("10 mL/kg", "30 mL/kg");
	struct dose_ask ask = ask_of(PUP_MG);
	struct dose_given given[] = {
		{ NOW_MS - 10 * HOUR_MS, 3000 }, /* in no order */
		{ NOW_MS - 24 * HOUR_MS + 1, 3000 },
		{ NOW_MS - 16 * HOUR_MS, 3000 },
		{ NOW_MS - 40 * HOUR_MS, 9000 },
	};
	struct dose_plan plan;

	(void)state;
	ask.given = given;
	ask.n_given = 4;
	plan = planned(&order, &ask, DOSE_MOST);
	assert_int_equal(plan.given_24h_ul, 9000);
	assert_int_equal(plan.most_24h_ul, 9000);
	assert_int_equal(plan.due_ms, NOW_MS + 1);
	ask.now_ms++;
	plan = planned(&order, &ask, DOSE_PLANNED);
	assert_int_equal(plan.given_24h_ul, 6000);
	assert_int_equal(plan.due_ms, NOW_MS + 8 * HOUR_MS + 1);
	/* two at the same time are two */
	given[0] = given[2];
	ask.now_ms = NOW_MS;
	plan = planned(&order, &ask, DOSE_MOST);
	assert_int_equal(plan.due_ms, NOW_MS + 1);
	given[1].ul = 1;
	given[0].ul = given[2].ul = 3001;
	assert_int_equal(planned(&order, &ask, DOSE_MOST).due_ms, NOW_MS + 8 * HOUR_MS);
	/* the words for the range don't lift the most */
	ask.overridden = true;
	(void)planned(&order, &ask, DOSE_MOST);
	given[0].ul = given[1].ul = given[2].ul = INT64_MAX;
	(void)planned(&order, &ask, DOSE_MOST);
	/* by a weight that fell the most falls too: 9 mL were given, 8.1 are the most now */
	order.every_ms = HOUR_MS;
	given[0] = (struct dose_given){ NOW_MS - 2 * HOUR_MS, 6300 };
	ask.n_given = 1;
	ask.mass_mg = 270000;
	plan = planned(&order, &ask, DOSE_MOST);
	assert_int_equal(plan.most_24h_ul, 8100);
	assert_int_equal(plan.due_ms, NOW_MS + 22 * HOUR_MS);
}

/* The next one is due when what is planned now, once given, leaves room for it. */
static void test_next_due(void **state)
{
	struct order order = order_of("10 mL/kg", "10 mL/kg");
	struct dose_ask ask = ask_of(PUP_MG);
	struct dose_given given = { NOW_MS - 20 * HOUR_MS, 3000 };

	(void)state;
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, NOW_MS + DAY_MS);
	order.most = rate_of("20 mL/kg");
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, NOW_MS + 8 * HOUR_MS);
	ask.given = &given;
	ask.n_given = 1;
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, NOW_MS + 8 * HOUR_MS);
	given.at_ms = NOW_MS - 10 * HOUR_MS;
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, NOW_MS + 14 * HOUR_MS);
	/* a rarer order than once a day: by its own step */
	order.every_ms = 36 * HOUR_MS;
	ask.n_given = 0;
	assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, NOW_MS + 36 * HOUR_MS);
}

/*
 * A dose that lies in the future was given all the same: the clock was set back, or a time was mistyped. Nobody knows
 * when, so nothing more is planned on that word; a few minutes are another clock's, and count as now.
 */
static void test_clock_set_back(void **state)
{
	struct order order = order_of("10 mL/kg", "30 mL/kg");
	struct dose_ask ask = ask_of(PUP_MG);
	struct dose_given given[] = { { NOW_MS + HOUR_MS, 3000 }, { NOW_MS - 20 * HOUR_MS, 3000 } };
	struct dose_plan plan;

	(void)state;
	ask.given = given;
	ask.n_given = 2;
	plan = planned(&order, &ask, DOSE_CLOCK);
	assert_int_equal(plan.given_24h_ul, 6000);
	given[0].at_ms = NOW_MS + ORDER_AHEAD_MS + 1;
	(void)planned(&order, &ask, DOSE_CLOCK);
	given[0].at_ms = INT64_MAX;
	(void)planned(&order, &ask, DOSE_CLOCK);
	given[0].at_ms = NOW_MS + ORDER_AHEAD_MS;
	plan = planned(&order, &ask, DOSE_NOT_DUE);
	assert_int_equal(plan.due_ms, NOW_MS + 8 * HOUR_MS);
	given[0] = (struct dose_given){ INT64_MIN, 3000 };
	(void)planned(&order, &ask, DOSE_PLANNED);
}

/*
 * Elapsed time: whatever zone this machine lives in, over midnight and over the changes of daylight saving of 2027 in
 * Europe (28 March and 31 October, 01:00 UTC) and the United States (14 March, 10:00 UTC in Los Angeles) the next one
 * is due eight hours later, and the 24 hours are 24 hours. The transitions: IANA time zone database, as libc has it.
 */
static void test_daylight_saving(void **state)
{
	static const char *const zones[] = { "UTC", "Europe/Berlin", "America/Los_Angeles", "Australia/Lord_Howe",
					     "Asia/Kolkata" };
	static const int64_t changes_ms[] = { INT64_C(1806195600000), INT64_C(1824944400000), INT64_C(1805018400000) };

	(void)state;
	for (size_t z = 0; z < sizeof zones / sizeof zones[0]; z++) {
		setenv("TZ", zones[z], 1);
		tzset();
		for (size_t i = 0; i < 3; i++)
			for (int64_t given_ms = changes_ms[i] - 30 * HOUR_MS; given_ms < changes_ms[i] + HOUR_MS;
			     given_ms += 30 * MIN_MS) {
				struct order order = order_of("10 mL/kg", "10 mL/kg");
				struct dose_given given = { given_ms, 3000 };
				struct dose_ask ask = ask_of(PUP_MG);

				order.from_ms = given_ms - HOUR_MS;
				order.until_ms = given_ms + 3 * DAY_MS;
				ask.now_ms = ask.weighed_ms = given_ms + 8 * HOUR_MS;
				ask.given = &given;
				ask.n_given = 1;
				assert_int_equal(planned(&order, &ask, DOSE_MOST).due_ms, given_ms + DAY_MS);
				ask.now_ms = given_ms + DAY_MS - 1;
				(void)planned(&order, &ask, DOSE_MOST);
				ask.now_ms = given_ms + DAY_MS;
				(void)planned(&order, &ask, DOSE_PLANNED);
				order.most = rate_of("30 mL/kg");
				ask.now_ms = ask.weighed_ms = given_ms + 8 * HOUR_MS - 1;
				assert_int_equal(planned(&order, &ask, DOSE_NOT_DUE).due_ms, given_ms + 8 * HOUR_MS);
				ask.now_ms++;
				assert_int_equal(planned(&order, &ask, DOSE_PLANNED).due_ms, given_ms + 16 * HOUR_MS);
			}
	}
	unsetenv("TZ");
	tzset();
}

/* 2027-03-28 and 2027-10-31 01:00 UTC are the changes named above; so that the test can't miss them. */
static void test_changes_are_changes(void **state)
{
	static const struct {
		const char *zone;
		time_t at;
	} rows[] = { { "Europe/Berlin", 1806195600 },
		     { "Europe/Berlin", 1824944400 },
		     { "America/Los_Angeles", 1805018400 } };

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		time_t just_before = rows[i].at - 1;
		struct tm before, after;

		setenv("TZ", rows[i].zone, 1);
		tzset();
		assert_non_null(localtime_r(&just_before, &before));
		assert_non_null(localtime_r(&rows[i].at, &after));
		if (strcmp(before.tm_zone, after.tm_zone) == 0) {
			unsetenv("TZ");
			skip(); /* no zones are installed here */
		}
	}
	unsetenv("TZ");
	tzset();
}

static struct order random_order(void)
{
	struct order order = order_of("10 mL/kg", "30 mL/kg");

	order.kind = below(4) ? ORDER_FLUID : ORDER_MEDICINE;
	order.route = below(2) ? ORDER_UNDER_SKIN : ORDER_BY_MOUTH;
	order.amount = (struct volume_rate){ 1 + (int64_t)below(30000), (enum volume_basis)below(3) };
	order.most = order.amount;
	order.most.ul = order.amount.ul * (1 + (int64_t)below(6)) + (int64_t)below(1000);
	order.every_ms = ORDER_SHORTEST_MS + (int64_t)below(24) * HOUR_MS + (int64_t)below(1000000);
	order.until_ms = NOW_MS + 8 * DAY_MS;
	return order;
}

/* Microlitres that an order comes to, by floating point. */
static double ordered(const struct volume_rate *rate, int64_t mass_mg)
{
	switch (rate->basis) {
	case VOLUME_PER_ANIMAL:
		return (double)rate->ul;
	case VOLUME_PER_KG:
		return (double)rate->ul * (double)mass_mg / 1e6;
	case VOLUME_PER_100G:
		return (double)rate->ul * (double)mass_mg / 1e5;
	}
	return 0;
}

/* No plan exceeds the order; rounding is never up; a smaller mass never gives more, nor fewer warnings than allowed. */
static void test_never_more_than_ordered(void **state)
{
	unsigned plans = 0;

	(void)state;
	for (int i = 0; i < 300000; i++) {
		struct order order = random_order();
		struct dose_ask ask = ask_of(20000 + (int64_t)below(3000000)), smaller;
		struct dose_plan plan, less;
		double per_kg;

		ask.graduation_ul = 1 + (int64_t)below(1000);
		ask.overridden = below(2);
		smaller = ask;
		smaller.mass_mg = 1 + (int64_t)below((uint64_t)ask.mass_mg);
		if (dose_plan(&order, &ask, &plan) > DOSE_SECOND_LOOK) {
			assert_int_equal(plan.ul, 0);
			continue;
		}
		plans++;
		per_kg = (double)plan.ul / (double)ask.mass_mg * 1e6;
		assert_true((double)plan.ul <= ordered(&order.amount, ask.mass_mg) + 1e-6);
		assert_true((double)plan.ul > ordered(&order.amount, ask.mass_mg) - (double)ask.graduation_ul - 1);
		assert_int_equal(plan.ul % ask.graduation_ul, 0);
		assert_true(plan.ul <= plan.ordered_ul && plan.ul <= plan.most_24h_ul);
		assert_true(per_kg <= (order.route == ORDER_BY_MOUTH ? 50000 : ask.overridden ? 60000 : 45000) + 1e-3);
		if (order.route == ORDER_UNDER_SKIN) {
			assert_true(plan.sites >= 1 && plan.sites <= 3);
			assert_true(per_kg / plan.sites <= 20000 + 1e-3);
			assert_true(plan.sites == 1 || per_kg / (plan.sites - 1) > 20000);
		}
		(void)dose_plan(&order, &smaller, &less);
		assert_true(less.ul <= plan.ul && less.ordered_ul <= plan.ordered_ul);
	}
	assert_true(plans > 30000);
}

#define WEEK_DOSES 512

/* Summed anew from the list, without the code under test. */
static int64_t sum_24h(const struct dose_given *given, size_t n, int64_t now_ms)
{
	int64_t sum = 0;

	for (size_t i = 0; i < n; i++)
		if (now_ms - given[i].at_ms < DAY_MS && given[i].at_ms <= now_ms)
			sum += given[i].ul;
	return sum;
}

/*
 * A week of an order, given as planned: at the time that the last plan named, sometimes late, asked too early now and
 * then, by a weight that grows or falls. Within any 24 hours never more than the most, never sooner than ordered, and
 * at the time named it really can be given as far as the weight still allows.
 */
static void live_a_week(const struct order *order)
{
	struct dose_given given[WEEK_DOSES];
	struct dose_ask ask = ask_of(100000 + (int64_t)below(500000));
	struct dose_plan plan;
	int64_t end_ms = NOW_MS + 7 * DAY_MS, last_ms = INT64_MIN;
	bool steady = below(2);

	ask.given = given;
	ask.graduation_ul = 10 * (1 + (int64_t)below(20));
	ask.overridden = true;
	while (ask.now_ms < end_ms && ask.n_given < WEEK_DOSES) {
		enum dose_outcome outcome;

		ask.weighed_ms = ask.now_ms;
		outcome = dose_plan(order, &ask, &plan);
		if (outcome == DOSE_NOT_DUE || outcome == DOSE_MOST) {
			assert_true(plan.due_ms > ask.now_ms);
			ask.now_ms = plan.due_ms;
			if (steady) {
				ask.weighed_ms = ask.now_ms;
				assert_true(dose_plan(order, &ask, &plan) <= DOSE_SECOND_LOOK);
			}
			continue;
		}
		if (outcome > DOSE_SECOND_LOOK)
			return; /* by its range, or too fine */
		assert_true(last_ms == INT64_MIN || ask.now_ms - last_ms >= order->every_ms);
		assert_int_equal(plan.given_24h_ul, sum_24h(given, ask.n_given, ask.now_ms));
		given[ask.n_given++] = (struct dose_given){ ask.now_ms, plan.ul };
		assert_true((double)sum_24h(given, ask.n_given, ask.now_ms) <=
			    ordered(&order->most, ask.mass_mg) + 1e-6);
		last_ms = ask.now_ms;
		assert_true(plan.due_ms >= ask.now_ms + order->every_ms);
		if (steady) {
			struct dose_ask due = ask;
			struct dose_plan then;

			due.now_ms = due.weighed_ms = plan.due_ms;
			assert_true(dose_plan(order, &due, &then) <= DOSE_SECOND_LOOK ||
				    plan.due_ms >= order->until_ms);
		}
		if (steady && plan.due_ms > ask.now_ms + order->every_ms) { /* not a millisecond sooner */
			struct dose_plan sooner;

			ask.now_ms = ask.weighed_ms = plan.due_ms - 1;
			assert_int_equal(dose_plan(order, &ask, &sooner), DOSE_MOST);
		}
		ask.now_ms = below(4) ? plan.due_ms : plan.due_ms + (int64_t)below(5 * HOUR_MS) - 2 * HOUR_MS;
		if (ask.now_ms < last_ms)
			ask.now_ms = last_ms;
		if (!steady)
			ask.mass_mg += (int64_t)below(20001) - 8000;
	}
	for (size_t i = 0; i < ask.n_given / 2; i++) { /* the list's order means nothing */
		struct dose_given swapped = given[i];

		given[i] = given[ask.n_given - 1 - i];
		given[ask.n_given - 1 - i] = swapped;
	}
	if (ask.n_given > 0 && ask.now_ms < order->until_ms) {
		struct dose_plan again;

		ask.weighed_ms = ask.now_ms;
		(void)dose_plan(order, &ask, &again);
		assert_int_equal(again.given_24h_ul, sum_24h(given, ask.n_given, ask.now_ms));
	}
}

static void test_weeks(void **state)
{
	(void)state;
	for (int i = 0; i < 3000; i++) {
		struct order order = random_order();

		if (below(4)) { /* mostly such as pass */
			order.amount = (struct volume_rate){ 5000 + (int64_t)below(15000), VOLUME_PER_KG };
			order.most = (struct volume_rate){ order.amount.ul + (int64_t)below(60000), VOLUME_PER_KG };
			order.every_ms = ORDER_SHORTEST_MS + (int64_t)below(12 * HOUR_MS);
		}
		live_a_week(&order);
	}
}

static bool says(enum order_route route, const char *text)
{
	for (const struct order_caution *c = order_cautions(route); c->text; c++)
		if (strstr(c->text, text))
			return true;
	return false;
}

/* Each caution that was asked for is there, in one sentence, with where it comes from. */
static void test_cautions(void **state)
{
	static const char *const skin[] = { "sterile fluid",
					    "new sterile needle",
					    "body temperature",
					    "Mix it",
					    "wrist",
					    "air",
					    "Clean the skin",
					    "Under the skin only",
					    "never into a vein or a muscle",
					    "last fluid is gone",
					    "swelling",
					    "breathing",
					    "Stop and call your vet if",
					    "20 mL per kg",
					    "cold" };
	static const char *const mouth[] = { "cold pup",     "too weak to swallow", "head level", "slowly",
					     "swallow",      "out of its nose",     "coughs",     "taut",
					     "call your vet" };

	(void)state;
	for (size_t i = 0; i < sizeof skin / sizeof skin[0]; i++)
		assert_true(says(ORDER_UNDER_SKIN, skin[i]));
	for (size_t i = 0; i < sizeof mouth / sizeof mouth[0]; i++)
		assert_true(says(ORDER_BY_MOUTH, mouth[i]));
	for (int route = ORDER_UNDER_SKIN; route <= ORDER_BY_MOUTH; route++)
		for (const struct order_caution *c = order_cautions((enum order_route)route); c->text; c++) {
			const char *stop = strstr(c->text, ". ");

			assert_null(stop);
			assert_int_equal(c->text[strlen(c->text) - 1], '.');
			assert_true(strlen(c->source) > 5);
		}
}

static void test_hints(void **state)
{
	(void)state;
	for (int i = DOSE_PLANNED; i <= DOSE_TOO_FINE; i++)
		assert_true(strlen(dose_hint((enum dose_outcome)i)) > 20);
	assert_non_null(strstr(dose_hint(DOSE_OUTSIDE), DOSE_OVERRIDE));
	assert_null(strstr(dose_hint(DOSE_IMPOSSIBLE), DOSE_OVERRIDE));
	assert_non_null(strstr(dose_hint(DOSE_CHILLED), "slowly"));
	/* what doesn't fit is the largest there is, never a small amount */
	assert_true(order_ul_per_kg(&(struct volume_rate){ .ul = INT64_MAX, .basis = VOLUME_PER_100G }, PUP_MG) ==
		    INT64_MAX);
	/* while the vet is still there nothing is to be typed, and nothing to be overridden */
	assert_non_null(strstr(order_range_hint(DOSE_OUTSIDE), "your vet"));
	assert_null(strstr(order_range_hint(DOSE_OUTSIDE), "type: " DOSE_OVERRIDE));
	assert_string_not_equal(order_range_hint(DOSE_OUTSIDE), dose_hint(DOSE_OUTSIDE));
	assert_string_equal(order_range_hint(DOSE_PLANNED), dose_hint(DOSE_PLANNED));
	assert_string_equal(order_range_hint(DOSE_SECOND_LOOK), dose_hint(DOSE_SECOND_LOOK));
	assert_string_equal(order_range_hint(DOSE_IMPOSSIBLE), dose_hint(DOSE_IMPOSSIBLE));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_common_practice),
		cmocka_unit_test(test_handbooks),
		cmocka_unit_test(test_deficit_is_no_dose),
		cmocka_unit_test(test_skin_ranges),
		cmocka_unit_test(test_limit_at_odd_mass),
		cmocka_unit_test(test_mouth_ranges),
		cmocka_unit_test(test_day_ranges),
		cmocka_unit_test(test_medicine),
		cmocka_unit_test(test_slips),
		cmocka_unit_test(test_weight_slips),
		cmocka_unit_test(test_mistyped_orders),
		cmocka_unit_test(test_check),
		cmocka_unit_test(test_refusals),
		cmocka_unit_test(test_syringe),
		cmocka_unit_test(test_one_microlitre),
		cmocka_unit_test(test_not_due),
		cmocka_unit_test(test_most),
		cmocka_unit_test(test_next_due),
		cmocka_unit_test(test_clock_set_back),
		cmocka_unit_test(test_daylight_saving),
		cmocka_unit_test(test_changes_are_changes),
		cmocka_unit_test(test_never_more_than_ordered),
		cmocka_unit_test(test_weeks),
		cmocka_unit_test(test_cautions),
		cmocka_unit_test(test_hints),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

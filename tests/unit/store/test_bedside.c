// SPDX-License-Identifier: MIT
/* Whelping, signs, feeds, orders and doses: what is written is what is read back, by views and by walks. */
#include "ledger.h"
#include "daemon/store/bedside.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>

struct seen {
	unsigned n;
	char text[512];
};

#define SEEN(seen, ...)                                                                                                \
	((void)snprintf((seen)->text + strlen((seen)->text), sizeof(seen)->text - strlen((seen)->text), __VA_ARGS__),  \
	 (seen)->n++, 0)

static int whelping_row(void *userdata, const struct store_whelping_row *row)
{
	return SEEN((struct seen *)userdata, "%lld %d;", (long long)(row->at_ms - LEDGER_T0), row->ended);
}

static int birth_row(void *userdata, const struct store_birth_row *row)
{
	return SEEN((struct seen *)userdata, "%s %lld %lld %c %s;", row->name ? row->name : "-",
		    (long long)(row->born_ms - LEDGER_T0), (long long)row->mass_mg, row->sex ? row->sex : '-',
		    row->points ? row->points : "-");
}

static void whelping_is_kept(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char whelping[UUID7_SIZE], id[UUID7_SIZE], weighing[UUID7_SIZE];
	struct seen seen = { 0 };

	assert_int_equal(store_begin_whelping(l->store, &stamp, l->litter, whelping), 0);
	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 10, 304000, weighing), 0);
	assert_int_equal(store_add_birth(l->store, &stamp,
					 &(struct store_birth){ .litter_id = l->litter,
								.animal_id = l->animal[0],
								.weighing_id = weighing,
								.born_ms = LEDGER_T0 + 9,
								.mass_mg = 304000,
								.sex = 'f' },
					 id),
			 0);
	assert_int_equal(store_add_birth(l->store, &stamp,
					 &(struct store_birth){ .litter_id = l->litter, .born_ms = LEDGER_T0 + 3 }, id),
			 0);
	assert_int_equal(store_add_score(l->store, &stamp, l->animal[0], LEDGER_T0 + 20, "11111"), 0);
	assert_int_equal(store_add_score(l->store, &stamp, l->animal[0], LEDGER_T0 + 30, "21222"), 0);
	assert_int_equal(store_add_score(l->store, &stamp, l->animal[0], LEDGER_T0 + 30, "21232"), -EINVAL);
	assert_int_equal(store_add_score(l->store, &stamp, l->animal[0], LEDGER_T0 + 30, "2122"), -EINVAL);
	assert_int_equal(store_add_birth(l->store, &stamp,
					 &(struct store_birth){ .litter_id = "nothing", .born_ms = LEDGER_T0 }, id),
			 -EINVAL);
	assert_int_equal(store_each_birth(l->store, l->litter, birth_row, &seen), 0);
	assert_string_equal(seen.text, "- 3 0 - -;one 9 304000 f 21222;");
	ledger_expect(
		l->dir,
		"SELECT animal, at, birth_g, stillborn, points, weighing_id IS NULL FROM birth_log ORDER BY at_ms",
		"|2026-01-01T00:00:00.003Z||1||1\none|2026-01-01T00:00:00.009Z|304.0|0|21222|0\n");
	seen = (struct seen){ 0 };
	assert_int_equal(store_each_whelping(l->store, whelping_row, &seen), 0);
	assert_string_equal(seen.text, "0 0;");
	assert_int_equal(store_end_whelping(l->store, &stamp, whelping), 0);
	seen = (struct seen){ 0 };
	assert_int_equal(store_each_whelping(l->store, whelping_row, &seen), 0);
	assert_string_equal(seen.text, "0 1;");
}

static int sign_row(void *userdata, const struct store_sign *row)
{
	return SEEN((struct seen *)userdata, "%s %s %lld;", row->sign, row->value,
		    (long long)(row->seen_ms - LEDGER_T0));
}

static int feed_row(void *userdata, const struct store_feed *row)
{
	return SEEN((struct seen *)userdata, "%lld %lld %lld %s;", (long long)row->ul, (long long)row->taken_mg,
		    (long long)row->u_mg, row->what ? row->what : "-");
}

static void signs_and_feeds_are_kept(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_sign sign = {
		.animal_id = l->animal[0], .sign = "gums", .value = "dry", .seen_ms = LEDGER_T0 + 100
	};
	struct seen seen = { 0 };

	assert_int_equal(store_add_sign(l->store, &stamp, &sign), 0);
	sign.seen_ms = LEDGER_T0 + 50; /* written down before, told later */
	sign.value = "tacky";
	assert_int_equal(store_add_sign(l->store, &stamp, &sign), 0);
	sign.animal_id = "nobody";
	assert_int_equal(store_add_sign(l->store, &stamp, &sign), -EINVAL);
	assert_int_equal(store_each_sign(l->store, l->animal[0], INT64_MIN, sign_row, &seen), 0);
	assert_string_equal(seen.text, "gums tacky 50;gums dry 100;");
	seen = (struct seen){ 0 };
	assert_int_equal(store_each_sign(l->store, l->animal[0], LEDGER_T0 + 51, sign_row, &seen), 0);
	assert_string_equal(seen.text, "gums dry 100;");
	ledger_expect(l->dir, "SELECT animal, sign, value, at FROM sign_log ORDER BY at_ms DESC LIMIT 1",
		      "one|gums|dry|2026-01-01T00:00:00.100Z\n");

	assert_int_equal(store_add_feed(l->store, &stamp,
					&(struct store_feed){ .animal_id = l->animal[0],
							      .fed_ms = LEDGER_T0,
							      .ul = 6500,
							      .what = "replacer" }),
			 0);
	assert_int_equal(store_add_feed(l->store, &stamp,
					&(struct store_feed){ .animal_id = l->animal[0],
							      .fed_ms = LEDGER_T0 + 1,
							      .taken_mg = -1000,
							      .u_mg = 409 }),
			 0);
	seen = (struct seen){ 0 };
	assert_int_equal(store_each_feed(l->store, l->animal[0], LEDGER_T0, feed_row, &seen), 0);
	assert_string_equal(seen.text, "6500 0 0 replacer;0 -1000 409 -;");
	ledger_expect(l->dir, "SELECT how, ml, taken_g, u_g FROM feed_log ORDER BY at_ms",
		      "given|6.5||\nnursed||-1.0|0.409\n");
}

static int order_row(void *userdata, const struct store_order *row)
{
	return SEEN((struct seen *)userdata, "%s %s %s %s %lld %lld;", row->animal_id ? "one" : "all", row->what,
		    row->per, row->route, (long long)row->amount_ul, (long long)row->most_ul);
}

static int dose_row(void *userdata, const struct store_dose *row)
{
	return SEEN((struct seen *)userdata, "%lld %lld %s %s %s;", (long long)row->ul, (long long)row->mass_mg,
		    row->judged, row->words ? row->words : "-", row->kind);
}

static void orders_and_doses_are_kept(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_order order = { .litter_id = l->litter,
				     .animal_id = l->animal[0],
				     .what = "saline",
				     .vet = "vet of the day",
				     .kind = "fluid",
				     .route = "under the skin",
				     .per = "kg",
				     .amount_ul = 10000,
				     .most_ul = 40000,
				     .every_ms = 6 * 3600000,
				     .from_ms = LEDGER_T0,
				     .until_ms = LEDGER_T0 + 86400000 };
	char id[UUID7_SIZE], other[UUID7_SIZE], dose[UUID7_SIZE];
	struct seen seen = { 0 };

	assert_int_equal(store_add_order(l->store, &stamp, &order, id), 0);
	order.animal_id = NULL;
	assert_int_equal(store_add_order(l->store, &stamp, &order, other), 0);
	order.route = "in a vein";
	assert_int_equal(store_add_order(l->store, &stamp, &order, dose), -EINVAL);
	order.route = "by mouth";
	order.until_ms = order.from_ms;
	assert_int_equal(store_add_order(l->store, &stamp, &order, dose), -EINVAL);
	assert_int_equal(store_end_order(l->store, &stamp, other, "the vet said so"), 0);
	assert_int_equal(store_each_order(l->store, l->litter, order_row, &seen), 0);
	assert_string_equal(seen.text, "one saline kg under the skin 10000 40000;");
	assert_int_equal(store_add_dose(l->store, &stamp,
					&(struct store_dose){ .order_id = id,
							      .animal_id = l->animal[0],
							      .given_ms = LEDGER_T0 + 7,
							      .ul = 3000,
							      .mass_mg = 304000,
							      .judged = "plain" },
					dose),
			 0);
	assert_int_equal(store_add_dose(l->store, &stamp,
					&(struct store_dose){ .order_id = id,
							      .animal_id = l->animal[0],
							      .given_ms = LEDGER_T0 + 8,
							      .ul = 0,
							      .mass_mg = 304000,
							      .judged = "plain" },
					dose),
			 -EINVAL);
	seen = (struct seen){ 0 };
	assert_int_equal(store_each_dose(l->store, l->animal[0], LEDGER_T0, dose_row, &seen), 0);
	assert_string_equal(seen.text, "3000 304000 plain - fluid;");
	ledger_expect(
		l->dir,
		"SELECT animal, vet, amount_ml, per, most_24h_ml, every_h, ended_why FROM order_log ORDER BY animal",
		"|vet of the day|10.0|kg|40.0|6.0|the vet said so\none|vet of the day|10.0|kg|40.0|6.0|\n");
	ledger_expect(l->dir, "SELECT animal, what, route, ml, mass_g, judged FROM dose_log",
		      "one|saline|under the skin|3.0|304.0|plain\n");
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = { WITH_LEDGER(whelping_is_kept), WITH_LEDGER(signs_and_feeds_are_kept),
					    WITH_LEDGER(orders_and_doses_are_kept) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* Many readings that were typed, in one transaction; and whether one was ever said. */
#include "ledger.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>

struct lot {
	struct ledger *ledger;
	size_t bad; /* index of the row that the schema refuses */
};

static void lot_row(void *userdata, size_t i, struct store_typed *ret)
{
	const struct lot *lot = userdata;

	*ret = (struct store_typed){ .at_ms = LEDGER_T0 + (int64_t)i * 60000,
				     .mass_mg = 300000 + (int64_t)i,
				     .u_mg = 289,
				     .step_mg = 1000,
				     .offset_min = i ? 60 : -330,
				     .animal_id = i == lot->bad ? "nobody" : lot->ledger->animal[i % 2],
				     .fed = i == 1 ? "before" : NULL };
}

static void all_are_there(void **state)
{
	struct ledger *l = *state;
	struct lot lot = { l, SIZE_MAX };
	struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 86400000);

	stamp.said = "scribe";
	assert_int_equal(store_add_typed_rows(l->store, &stamp, 3, lot_row, &lot), 0);
	ledger_expect(l->dir,
		      "SELECT net_g, u_g, step_g, offset_min, coalesce(fed, '-'), origin, answered_by, at_ms - "
		      "1767225600000 FROM reading"
		      " ORDER BY at_ms",
		      "300.0|0.289|1.0|-330|-|typed|scribe|0\n300.001|0.289|1.0|60|before|typed|scribe|60000\n"
		      "300.002|0.289|1.0|60|-|typed|scribe|120000\n");
	ledger_expect(l->dir, "SELECT count(*) FROM unanswered", "0\n");
	assert_int_equal(store_add_typed_rows(l->store, &stamp, 0, lot_row, &lot), 0);
}

static void or_none(void **state)
{
	struct ledger *l = *state;
	struct lot lot = { l, 2 };
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);

	assert_int_equal(store_add_typed_rows(l->store, &stamp, 3, lot_row, &lot), -EINVAL);
	ledger_expect(l->dir, "SELECT (SELECT count(*) FROM weighing), (SELECT count(*) FROM answer)", "0|0\n");
	lot.bad = SIZE_MAX; /* nothing of it is in the way */
	assert_int_equal(store_add_typed_rows(l->store, &stamp, 3, lot_row, &lot), 0);
	assert_int_equal(ledger_count(l->dir, "SELECT count(*) FROM reading"), 3);
}

static bool said(struct ledger *l, int animal, int64_t from_ms, int64_t until_ms, int64_t net_mg)
{
	bool ret = false;

	assert_int_equal(
		store_was_said(l->store, l->animal[animal], LEDGER_T0 + from_ms, LEDGER_T0 + until_ms, net_mg, &ret),
		0);
	return ret;
}

static void what_was_said(void **state)
{
	struct ledger *l = *state;
	struct lot lot = { l, SIZE_MAX };
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[UUID7_SIZE], *rows;

	assert_int_equal(store_add_typed_rows(l->store, &stamp, 2, lot_row, &lot), 0);
	assert_true(said(l, 0, 0, 60000, 300000));
	assert_false(said(l, 0, 1, 60000, 300000));
	assert_true(said(l, 0, -5, 1, 300000));
	assert_false(said(l, 0, -5, 0, 300000));
	assert_false(said(l, 0, 0, 60000, 300001));
	assert_false(said(l, 1, 0, 60000, 300000));
	/* what is another's since, or nobody's, was said all the same */
	rows = ledger_rows(l->dir, "SELECT reading_id FROM reading WHERE net_g = 300");
	(void)snprintf(id, sizeof id, "%.36s", rows);
	free(rows);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_CORRECT, l->animal[1], NULL, NULL), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_REOPEN, NULL, NULL, NULL), 0);
	assert_true(said(l, 0, 0, 60000, 300000));
	assert_true(said(l, 1, 0, 60000, 300000));
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(all_are_there),
		WITH_LEDGER(or_none),
		WITH_LEDGER(what_was_said),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

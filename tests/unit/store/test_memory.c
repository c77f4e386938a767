// SPDX-License-Identifier: MIT
/* The nth allocation of SQLite fails, n = 1, 2, ...: -ENOMEM, nothing half done, and the store goes on. */
#include "ledger.h"
#include "broken_disk.h"

#include <errno.h>

static sqlite3_mem_methods real;
static unsigned fail_at, calls, failed;

static bool fails(void)
{
	if (fail_at == 0 || ++calls != fail_at)
		return false;
	failed++;
	return true;
}

static void *on_malloc(int n)
{
	return fails() ? NULL : real.xMalloc(n);
}

static void *on_realloc(void *old, int n)
{
	return fails() ? NULL : real.xRealloc(old, n);
}

static void arm(unsigned n)
{
	fail_at = n;
	calls = failed = 0;
}

static int count(void *userdata, const struct store_animal_row *row)
{
	*(size_t *)userdata += 1 + row->n_aliases;
	return 0;
}

static int ok_or_no_memory(int r)
{
	assert_true(r == 0 || r == -ENOMEM);
	return r;
}

static struct store *open_or_again(const char *dir)
{
	struct store *store = NULL;

	if (ok_or_no_memory(store_open(dir, &store)) != 0) {
		assert_null(store);
		arm(0);
		store = ledger_open(dir);
	}
	return store;
}

static int count_rows(void *userdata, const struct store_reading_row *row)
{
	(void)row;
	*(size_t *)userdata += 1;
	return 0;
}

/* What follows from a reading: a concern, and the readings read back. Done again when it failed; whether it did. */
static bool follow(struct ledger *l, int64_t since_ms)
{
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct store_concern concern = { .litter_id = l->litter, .open = true, .level = "look", .rule = "overdue",
					       .text = "27 h", .source = "a handbook", .since_ms = LEDGER_T0 };
	size_t rows = 0;
	bool any = false;
	char id[UUID7_SIZE];

	if (ok_or_no_memory(store_add_concern(l->store, &stamp, &concern, id)) != 0) {
		any = true;
		assert_int_equal(store_add_concern(l->store, &stamp, &concern, id), 0);
	}
	if (ok_or_no_memory(store_each_reading(l->store, l->litter, since_ms, INT64_MAX, count_rows, &rows)) != 0) {
		any = true;
		rows = 0;
		assert_int_equal(store_each_reading(l->store, l->litter, since_ms, INT64_MAX, count_rows, &rows), 0);
	}
	assert_true(rows > 0);
	return any;
}

/* With a fresh set of statements: records, answers, walks. What failed is done again; whether anything did. */
static bool run(const struct ledger *begun, unsigned n)
{
	struct ledger l = *begun;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[UUID7_SIZE];
	size_t animals = 0;
	bool any = false;

	l.store = ledger_open(l.dir);
	arm(n);
	if (ok_or_no_memory(ledger_weigh(&l, LEDGER_T0 + n, 308000, id)) != 0) {
		any = true;
		assert_int_equal(ledger_weigh(&l, LEDGER_T0 + n, 308000, id), 0);
	}
	if (ok_or_no_memory(store_answer(l.store, &stamp, id, STORE_ANSWER, l.animal[0], NULL, NULL)) != 0) {
		any = true;
		assert_int_equal(store_answer(l.store, &stamp, id, STORE_ANSWER, l.animal[0], NULL, NULL), 0);
	}
	any = follow(&l, LEDGER_T0 + n) || any;
	if (ok_or_no_memory(store_each_animal(l.store, count, &animals)) != 0) {
		any = true;
		animals = 0;
		assert_int_equal(store_each_animal(l.store, count, &animals), 0);
	}
	any = any || failed > 0; /* SQLite does without some of them */
	arm(0);
	assert_int_equal(animals, 4);
	store_close(l.store);
	return any;
}

static void fails_and_is_tried_again(void **state)
{
	struct ledger *l = *state;
	unsigned n;

	l->store = store_close(l->store);
	for (n = 1; run(l, n); n++)
		;
	assert_true(n > 100);
	assert_int_equal(ledger_count(l->dir, "SELECT count(*) FROM reading"), n);
	assert_int_equal(ledger_count(l->dir, "SELECT count(*) FROM frame"), n);
	assert_int_equal(ledger_count(l->dir, "SELECT count(*) FROM concern_now"), n);
	ledger_expect(l->dir, "PRAGMA integrity_check", "ok\n");
}

/* A schema is thousands of allocations, much alike: the first hundred each, then in growing steps. */
static unsigned next(unsigned n)
{
	return n + 1 + (n > 100 ? n / 20 : 0);
}

static void at_a_start(void **state)
{
	struct ledger *l = *state;
	unsigned n;
	bool any = true;

	l->store = store_close(l->store);
	for (n = 1; any; n = next(n)) {
		arm(n);
		store_close(open_or_again(l->dir));
		any = fail_at == 0 || failed > 0;
		arm(0);
	}
	assert_true(n > 1000);
}

static void at_the_first_start(void **state)
{
	char dir[64];
	unsigned n;
	bool any = true;

	(void)state;
	for (n = 1; any; n = next(n)) {
		ledger_folder(dir);
		arm(n);
		store_close(open_or_again(dir));
		any = fail_at == 0 || failed > 0;
		arm(0);
		ledger_expect(dir, "SELECT count(*) FROM sqlite_schema WHERE type = 'view'", "20\n");
		ledger_remove(dir);
	}
	assert_true(n > 1000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(fails_and_is_tried_again, ledger_setup, ledger_teardown),
		cmocka_unit_test_setup_teardown(at_a_start, ledger_setup, ledger_teardown),
		cmocka_unit_test(at_the_first_start),
	};
	sqlite3_mem_methods broken;

	if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real) != SQLITE_OK)
		return 1;
	broken = real; /* and without the cache of small pieces, each one comes by it */
	broken.xMalloc = on_malloc;
	broken.xRealloc = on_realloc;
	if (sqlite3_config(SQLITE_CONFIG_MALLOC, &broken) != SQLITE_OK ||
	    sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0) != SQLITE_OK)
		return 1;
	broken_disk_install();
	broken_disk.fast = true;
	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/*
 * The nth change to the disk fails, n = 1, 2, ... until the run passes: full, failing, once or for good. What was
 * acknowledged is there, once; what wasn't is there as a whole or not at all; and the store goes on.
 */
#include "ledger.h"
#include "broken_disk.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define WRITES 15

/* Readings 0 and 2, which were both said to be animal 0: both change hands, or none. */
static int exchange(struct ledger *l, const struct store_stamp *stamp, char ids[][UUID7_SIZE])
{
	char readings[2][UUID7_SIZE], animals[2][UUID7_SIZE];

	for (int i = 0; i < 2; i++) {
		memcpy(readings[i], ids[2 * i], UUID7_SIZE);
		memcpy(animals[i], l->animal[1], UUID7_SIZE);
	}
	return store_exchange(l->store, stamp, (const char(*)[UUID7_SIZE])readings, (const char(*)[UUID7_SIZE])animals, 2);
}

static int worry(struct ledger *l, const struct store_stamp *stamp, bool open)
{
	const struct store_concern concern = { .concern_id = "concern-1", .litter_id = l->litter, .open = open,
					       .level = "look", .rule = "overdue", .text = "27 h",
					       .source = "a handbook", .since_ms = LEDGER_T0 };
	char id[UUID7_SIZE];

	return store_add_concern(l->store, stamp, &concern, id);
}

/* The ith write of the run: weighings, an answer to each, a typed one, a check, a tare; two readings that change hands, a
 * concern and its end. */
static int write_one(struct ledger *l, int i, char ids[WRITES][UUID7_SIZE])
{
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + i);
	const struct store_frame frame = { .scale_id = l->scale,
					   .uuid = "2a9d",
					   .octets = (const uint8_t *)"\0\0",
					   .n = 3,
					   .received_ms = LEDGER_T0 + i,
					   .fate = STORE_USED,
					   .why = "check" };
	const struct store_check check = { .container_id = l->container, .gross_mg = 412000, .becomes_tare = i == 10 };
	const struct weighing weighing = { .origin = WEIGH_TYPED, .gross_mg = 1000, .net_mg = 1000 };
	const struct store_weighing row = { .weighing = &weighing, .user = -1 };

	if (i == 12)
		return exchange(l, &stamp, ids);
	if (i > 12)
		return worry(l, &stamp, i == 13);
	if (i == 8)
		return store_add_typed(l->store, &stamp, &row, l->animal[1], NULL, ids[i]);
	if (i == 9 || i == 10)
		return store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL);
	if (i == 11)
		return store_tare(l->store, &stamp, l->container, 1, 1);
	if (i % 2 == 0)
		return ledger_weigh(l, LEDGER_T0 + i, 300000 + i, ids[i]);
	return store_answer(l->store, &stamp, ids[i - 1], STORE_ANSWER, l->animal[0], NULL, NULL);
}

/*
 * Counts of weighings, readings, checks, tares, corrections and changes of concerns; then what must never be: half an
 * exchange, an index of concerns that isn't what the ledger says, frames that were used without what they
 * were used for, typed weighings without their answer, rows that point at nothing, pages that don't add up.
 */
static const char state_of_it[] =
	"SELECT (SELECT count(*) FROM weighing), (SELECT count(*) FROM reading), "
	"(SELECT count(*) FROM container_check), (SELECT count(*) FROM container_tare), "
	"(SELECT count(*) FROM answer WHERE kind = 'correct'), (SELECT count(*) FROM concern), "
	"(SELECT count(*) % 2 FROM answer WHERE kind = 'correct'), "
	"(SELECT (SELECT count(*) FROM concern_now) <> coalesce((SELECT state = 'open' FROM concern ORDER BY seq DESC LIMIT 1), 0)), "
	"(SELECT count(*) FROM frame WHERE fate = 'used' AND id NOT IN (SELECT frame FROM weighing WHERE frame IS NOT "
	"NULL "
	"UNION ALL SELECT frame FROM container_check UNION ALL "
	"SELECT frame FROM container_tare WHERE frame IS NOT NULL)), "
	"(SELECT count(*) FROM weighing WHERE origin = 'typed' AND id NOT IN (SELECT weighing FROM answer)), "
	"(SELECT count(*) FROM animal WHERE name = 'one' AND id NOT IN "
	"(SELECT animal FROM animal_alias GROUP BY 1 HAVING count(*) = 2)), "
	"(SELECT count(*) FROM pragma_foreign_key_check), (SELECT integrity_check FROM pragma_integrity_check)";

/* Acknowledged: the first `writes` of the run. exactly: and nothing else. */
static void acknowledged_is_there(const char *dir, int writes, bool exactly)
{
	int weighings = 0, answers = 0, checks = 0, tares = 1, corrections = 0, concerns = 0, got[6], end = 0, i, sum = 0;
	char *text = ledger_rows(dir, state_of_it);

	for (i = 0; i < writes; i++) {
		weighings += i == 8 || (i < 8 && i % 2 == 0);
		answers += i == 8 || (i < 8 && i % 2 == 1);
		checks += i == 9;
		tares += i == 10 || i == 11;
		corrections += i == 12 ? 2 : 0;
		concerns += i > 12;
	}
	assert_int_equal(sscanf(text, "%d|%d|%d|%d|%d|%d|%n", &got[0], &got[1], &got[2], &got[3], &got[4], &got[5], &end), 6);
	assert_string_equal(text + end, "0|0|0|0|0|0|ok\n");
	free(text);
	for (i = 0; i < 6; i++)
		sum += got[i];
	if (!exactly && sum > weighings + answers + checks + tares + corrections + concerns) {
		/* the one that failed was there after all, and whole: the next in the row */
		acknowledged_is_there(dir, writes + 1, true);
		return;
	}
	assert_int_equal(got[0], weighings);
	assert_int_equal(got[1], answers);
	assert_int_equal(got[2], checks);
	assert_int_equal(got[3], tares);
	assert_int_equal(got[4], corrections);
	assert_int_equal(got[5], concerns);
}

static void arm(unsigned n, bool stays, enum broken_how how)
{
	broken_disk = (struct broken_disk){ .fail_at = n, .stays = stays, .how = how, .fast = true };
}

static void mend(void)
{
	broken_disk.fail_at = 0;
}

/* The daemon stays, and tries again what failed. Returns whether anything failed. */
static bool run_and_retry(const struct ledger *begun, unsigned n, bool stays, enum broken_how how)
{
	struct ledger l = *begun;
	char ids[WRITES][UUID7_SIZE];
	int i, r;

	ledger_copy(begun->dir, l.dir);
	arm(0, false, how);
	l.store = ledger_open(l.dir);
	arm(n, stays, how);
	for (i = 0; i < WRITES; i++) {
		r = write_one(&l, i, ids);
		if (r == 0)
			continue;
		assert_true(r == STORE_IO || (r == STORE_FULL && how == BROKEN_FULL));
		assert_true(strlen(store_detail(l.store)) > 0);
		if (stays && i % 2 == 0) /* no better at once */
			assert_true(write_one(&l, i, ids) > 0);
		acknowledged_is_there(l.dir, i, true); /* readers see nothing of what failed */
		mend();
		assert_int_equal(write_one(&l, i, ids), 0);
	}
	mend();
	store_close(l.store);
	acknowledged_is_there(l.dir, WRITES, true);
	l.store = ledger_open(l.dir);
	assert_int_equal(ledger_weigh(&l, LEDGER_T0, 1, ids[0]), 0);
	store_close(l.store);
	ledger_remove(l.dir);
	return broken_disk.failed > 0;
}

static void fails_and_is_tried_again(void **state)
{
	int how, stays;
	unsigned n;

	for (how = BROKEN_FULL; how <= BROKEN_IO; how++) {
		for (stays = 0; stays < 2; stays++) {
			for (n = 1; run_and_retry(*state, n, stays, (enum broken_how)how); n++)
				;
			assert_true(n > 2 * WRITES); /* a write and a sync for each, at least */
		}
	}
}

struct dying {
	struct ledger *ledger;
	unsigned fail_at;
	enum broken_how how;
};

/* How many writes were acknowledged before the disk failed; all of them when it didn't. */
static int write_until_it_fails(void *userdata)
{
	const struct dying *dying = userdata;
	char ids[WRITES][UUID7_SIZE];
	int writes = 0;

	arm(dying->fail_at, true, dying->how);
	if (store_open(dying->ledger->dir, &dying->ledger->store) != 0)
		return 0;
	while (writes < WRITES && write_one(dying->ledger, writes, ids) == 0)
		writes++;
	return writes;
}

/* The daemon dies of it: what the next one finds. Returns whether anything failed. */
static bool run_and_die(const struct ledger *begun, unsigned n, enum broken_how how)
{
	struct ledger l = *begun;
	struct dying dying = { .ledger = &l, .fail_at = n, .how = how };
	int writes;

	ledger_copy(begun->dir, l.dir);
	arm(0, false, how);
	writes = ledger_in_child(write_until_it_fails, &dying);
	l.store = ledger_open(l.dir);
	acknowledged_is_there(l.dir, writes, false);
	store_close(l.store);
	ledger_remove(l.dir);
	return writes < WRITES;
}

static void fails_and_dies_of_it(void **state)
{
	int how;
	unsigned n;

	for (how = BROKEN_FULL; how <= BROKEN_IO; how++) {
		for (n = 1; run_and_die(*state, n, (enum broken_how)how); n++)
			;
		assert_true(n > 2 * WRITES);
	}
}

/* The very first start fails at each point; the next one makes up for it, and doesn't take it for a loss. */
static bool first_start(unsigned n, bool stays, enum broken_how how)
{
	struct ledger l = { 0 };
	char id[UUID7_SIZE];
	int r;

	ledger_folder(l.dir);
	arm(n, stays, how);
	r = store_open(l.dir, &l.store);
	mend();
	if (r != 0) {
		assert_true(r == STORE_IO || (r == STORE_FULL && how == BROKEN_FULL));
		assert_null(l.store);
		l.store = ledger_open(l.dir);
	}
	ledger_roster(&l);
	assert_int_equal(ledger_weigh(&l, LEDGER_T0, 1, id), 0);
	store_close(l.store);
	ledger_expect(l.dir, "SELECT count(*) FROM unanswered", "1\n");
	ledger_expect(l.dir, "PRAGMA integrity_check", "ok\n");
	ledger_remove(l.dir);
	return broken_disk.failed > 0;
}

static void fails_at_the_first_start(void **state)
{
	unsigned n;

	(void)state;
	for (n = 1; first_start(n, true, BROKEN_FULL); n++)
		;
	assert_true(n > 50);
	for (n = 1; first_start(n, false, BROKEN_IO); n++)
		;
	assert_true(n > 50);
}

/* Acknowledged means synced: after each call the log holds nothing that a power cut could take. */
static void acknowledged_is_synced(void **state)
{
	struct ledger l = { 0 };
	char ids[WRITES][UUID7_SIZE];
	unsigned calls;
	int i, round;

	(void)state;
	arm(0, false, BROKEN_FULL);
	ledger_folder(l.dir);
	l.store = ledger_open(l.dir);
	ledger_roster(&l);
	assert_false(broken_disk.wal_unsynced);
	for (round = 0; round < 40; round++) { /* long enough to pass a checkpoint */
		for (i = 0; i < WRITES; i++) {
			calls = broken_disk.calls;
			assert_int_equal(write_one(&l, i, ids), 0);
			assert_true(broken_disk.calls >= calls + 2);
			assert_false(broken_disk.wal_unsynced);
		}
	}
	store_close(l.store);
	ledger_remove(l.dir);
}

/* One case where it is named, else all. */
int main(int argc, char *argv[])
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(fails_and_is_tried_again, ledger_setup_closed, ledger_teardown),
		cmocka_unit_test_setup_teardown(fails_and_dies_of_it, ledger_setup_closed, ledger_teardown),
		cmocka_unit_test(fails_at_the_first_start),
		cmocka_unit_test(acknowledged_is_synced),
	};

	if (argc > 1)
		cmocka_set_test_filter(argv[1]);
	broken_disk_install();
	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* What must stay quick at a million readings never scans a table that grows with them. */
#include "ledger.h"
#include "daemon/store/stmt.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void no_scan(const char *dir, const char *query)
{
	static const char *const growing[] = { "weighing", "answer", "frame", "container_check", "w", "given", "later", "concern", "c",
					       "f",        "k",      "n" }; /* their names in views */
	char sql[1024], scan[64], *plan;
	size_t i;

	(void)snprintf(sql, sizeof(sql), "EXPLAIN QUERY PLAN %s", query);
	plan = ledger_rows(dir, sql);
	for (i = 0; i < sizeof(growing) / sizeof(growing[0]); i++) {
		(void)snprintf(scan, sizeof(scan), "SCAN %s\n", growing[i]);
		if (strstr(plan, scan))
			fail_msg("%s\n%s", query, plan);
		(void)snprintf(scan, sizeof(scan), "SCAN %s USING", growing[i]);
		if (strstr(plan, scan))
			fail_msg("%s\n%s", query, plan);
	}
	free(plan);
}

/* animal_now and the like begin with a scan of the roster; what grows is searched. */
static void roster_views_search(const char *dir, const char *view, const char *const *searched)
{
	char sql[128], *plan;

	(void)snprintf(sql, sizeof(sql), "EXPLAIN QUERY PLAN SELECT * FROM %s", view);
	plan = ledger_rows(dir, sql);
	for (; *searched; searched++)
		if (!strstr(plan, *searched))
			fail_msg("%s: no %s\n%s", view, *searched, plan);
	free(plan);
}

static void views_search(void **state)
{
	struct ledger *l = *state;

	no_scan(l->dir, "SELECT * FROM reading WHERE animal_id = 'x'");
	no_scan(l->dir, "SELECT * FROM reading WHERE animal_id = 'x' AND at_ms >= 5 ORDER BY at_ms");
	no_scan(l->dir, "SELECT * FROM reading WHERE litter_id = 'x'");
	no_scan(l->dir, "SELECT * FROM reading WHERE animal = 'x'");
	no_scan(l->dir, "SELECT * FROM reading WHERE litter = 'x' ORDER BY at_ms");
	no_scan(l->dir, "SELECT * FROM reading WHERE animal = 'x' AND litter = 'y' AND at_ms > 5");
	no_scan(l->dir, "SELECT * FROM reading WHERE reading_id = 'x'");
	no_scan(l->dir, "SELECT * FROM reading WHERE at_ms >= 5 AND at_ms < 6");
	no_scan(l->dir, "SELECT * FROM reading WHERE at_ms >= 5");
	no_scan(l->dir, "SELECT * FROM answer_log WHERE weighing_id = 'x'");
	no_scan(l->dir, "SELECT * FROM answer_log WHERE animal_id = 'x'");
	no_scan(l->dir, "SELECT * FROM answer_log WHERE seq > 5 ORDER BY seq LIMIT 9");
	no_scan(l->dir, "SELECT * FROM weighing_log WHERE seq > 5 ORDER BY seq LIMIT 9");
	no_scan(l->dir, "SELECT * FROM concern_log WHERE seq > 5 ORDER BY seq LIMIT 9");
	no_scan(l->dir, "SELECT * FROM answer_log AS n JOIN weighing_log AS w USING (weighing_id) WHERE n.seq > 5 "
			"ORDER BY n.seq LIMIT 9");
	no_scan(l->dir, "SELECT * FROM unanswered");
	no_scan(l->dir, "SELECT * FROM frame_log WHERE received_at_ms > 5");
	roster_views_search(l->dir, "concern_now", (const char *const[]){ "SEARCH c USING INTEGER PRIMARY KEY", NULL });
	roster_views_search(l->dir, "round_now",
			    (const char *const[]){ "SEARCH r USING INTEGER PRIMARY KEY", "round_litter (litter=?)",
						   "round_end_round (round=?)", NULL });
	roster_views_search(l->dir, "animal_now",
			    (const char *const[]){ "SEARCH g USING INTEGER PRIMARY KEY", "growth_animal (animal=?)",
						   "SEARCH w USING INDEX sqlite_autoindex_weighing_1",
						   "answer_animal (animal=?)",
						   "answer_weighing (weighing=? AND rowid>?)", NULL });
	roster_views_search(
		l->dir, "scale_now",
		(const char *const[]){ "INDEX frame_result (scale=?)", "INDEX scale_container_scale (scale=?)", NULL });
	roster_views_search(l->dir, "container_now",
			    (const char *const[]){ "INDEX container_check_clean (tare=?)",
						   "INDEX container_check_tare (tare=?)", NULL });
}

static int count_one(void *userdata, const struct store_weighing_row *row)
{
	(void)row;
	++*(int *)userdata;
	return 0;
}

static int count_result(void *userdata, const struct weigh_result *row)
{
	(void)row;
	++*(int *)userdata;
	return 0;
}

static int count_animal(void *userdata, const struct store_animal_row *row)
{
	(void)row;
	++*(int *)userdata;
	return 0;
}

/* A weighing, its answer, a correction, and all that is read on the way. */
static void one_round(struct ledger *l, int i)
{
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[UUID7_SIZE];
	int64_t mg, u_mg, at_ms;
	int n = 0;

	assert_int_equal(ledger_weigh(l, LEDGER_T0 + i, 308000, id), 0);
	assert_int_equal(store_each_unanswered(l->store, INT64_MIN, count_one, &n), 0);
	assert_int_equal(store_find_weighing(l->store, id, count_one, &n), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_CORRECT, l->animal[1], NULL, NULL), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_CORRECT, l->animal[i % 2], NULL, NULL), 0);
	assert_int_equal(store_newest(l->store, l->animal[i % 2], &mg, &u_mg, &at_ms), 0);
	assert_int_equal(at_ms, LEDGER_T0 + i);
	assert_int_equal(store_each_animal(l->store, count_animal, &n), 0);
	assert_int_equal(store_each_result(l->store, l->scale, 16, count_result, &n), 0);
}

/* What SQLite's machine did since the last call: instructions, and rows visited for want of an index. */
static void work_done(struct store *store, int64_t *ret_steps, int64_t *ret_scanned)
{
	int64_t steps = 0, scanned = 0;
	size_t i;

	for (i = 0; i < STMT_SLOTS; i++) {
		if (!store->prepared[i])
			continue;
		steps += sqlite3_stmt_status(store->prepared[i], SQLITE_STMTSTATUS_VM_STEP, 1);
		scanned += sqlite3_stmt_status(store->prepared[i], SQLITE_STMTSTATUS_FULLSCAN_STEP, 1);
	}
	*ret_steps = steps;
	*ret_scanned = scanned;
}

static void work_stays_flat(void **state)
{
	struct ledger *l = *state;
	int64_t early, late, scanned, scanned_late;
	int i;

	for (i = 0; i < 30; i++) /* more than the 16 results that are read back */
		one_round(l, i);
	work_done(l->store, &early, &scanned);
	for (; i < 40; i++)
		one_round(l, i);
	work_done(l->store, &early, &scanned);
	for (; i < 630; i++)
		one_round(l, i);
	work_done(l->store, &late, &scanned_late);
	for (; i < 640; i++)
		one_round(l, i);
	work_done(l->store, &late, &scanned_late);
	assert_true(early > 1000); /* it was counted */
	assert_true(late <= early + early / 100);
	assert_int_equal(scanned_late, scanned); /* the roster, and the few that are unanswered */
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(views_search),
		WITH_LEDGER(work_stays_flat),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: MIT
/* Nothing is overwritten: not by UPDATE, DELETE or REPLACE, on any table of the ledger, by any program. */
#include "ledger.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Indices that triggers keep, not a part of the ledger. */
#define NOT_LEDGER "('open_weighing', 'open_concern')"

static void one_row_in_each_table(struct ledger *l)
{
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct store_frame frame = {
		.scale_id = l->scale, .uuid = "2a9d", .octets = (const uint8_t *)"", .n = 0, .received_ms = LEDGER_T0
	};
	const struct store_check check = { .container_id = l->container, .gross_mg = 412000 };
	char id[UUID7_SIZE];

	assert_int_equal(ledger_weigh(l, LEDGER_T0, 308000, id), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	assert_int_equal(store_set_consent(l->store, &stamp, l->scale, 3, 1234), 0);
	assert_int_equal(store_add_clock(l->store, &stamp, l->scale, -3600000, true), 0);
	ledger_follow(l, LEDGER_T0);
	ledger_bedside(l, LEDGER_T0);
	assert_int_equal(store_animal_gone(l->store, &stamp, l->animal[0], NULL), 0);
	assert_int_equal(store_close_litter(l->store, &stamp, l->litter), 0);
	assert_int_equal(store_forget_scale(l->store, &stamp, l->scale), 0);
}

static void refused(sqlite3 *db, const char *sql)
{
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK)
		fail_msg("accepted: %s", sql);
	assert_string_equal(sqlite3_errmsg(db), "the ledger is append-only");
}

static void append_only(void **state)
{
	struct ledger *l = *state;
	char path[96], sql[200], *tables, *table, *rest;
	sqlite3 *db = NULL;
	int n = 0;

	one_row_in_each_table(l);
	tables = ledger_rows(l->dir, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
				     "AND name NOT IN " NOT_LEDGER);
	ledger_path(l->dir, STORE_FILE, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK); /* any program's settings */
	for (table = strtok_r(tables, "\n", &rest); table; table = strtok_r(NULL, "\n", &rest), n++) {
		(void)snprintf(sql, sizeof(sql), "SELECT count(*) > 0 FROM %s", table);
		ledger_expect(l->dir, sql, "1\n"); /* a row to try it on */
		(void)snprintf(sql, sizeof(sql), "UPDATE %s SET at_ms = at_ms", table);
		refused(db, sql);
		(void)snprintf(sql, sizeof(sql), "UPDATE OR REPLACE %s SET seq = 1", table);
		refused(db, sql);
		(void)snprintf(sql, sizeof(sql), "DELETE FROM %s", table);
		refused(db, sql);
		(void)snprintf(sql, sizeof(sql), "REPLACE INTO %s SELECT * FROM %s LIMIT 1", table, table);
		refused(db, sql);
		(void)snprintf(sql, sizeof(sql), "INSERT OR IGNORE INTO %s SELECT * FROM %s LIMIT 1", table, table);
		refused(db, sql);
	}
	assert_int_equal(n, 31);
	sqlite3_close(db);
	free(tables);
}

/* By key alone, and by place alone. */
static void replace_by_either_key(void **state)
{
	struct ledger *l = *state;
	char path[96];
	sqlite3 *db = NULL;

	ledger_path(l->dir, STORE_FILE, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	refused(db,
		"REPLACE INTO container (id, at_ms, offset_min, peer, name) SELECT id, 0, 0, 'x', 'x' FROM container");
	refused(db, "REPLACE INTO container (seq, id, at_ms, offset_min, peer, name) VALUES (1, 'x', 0, 0, 'x', 'x')");
	sqlite3_close(db);
	ledger_expect(l->dir, "SELECT container FROM container_now", "bowl\n");
}

static void tables_are_strict_and_keyed(void **state)
{
	struct ledger *l = *state;

	/* sqlite.org/stricttables.html: a text where an integer belongs is refused */
	ledger_expect(l->dir,
		      "SELECT count(*) FROM sqlite_schema AS t WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' "
		      "AND NOT (SELECT strict FROM pragma_table_list WHERE name = t.name)",
		      "0\n");
	ledger_expect(l->dir,
		      "SELECT count(*) FROM sqlite_schema AS t WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' "
		      "AND t.name NOT IN " NOT_LEDGER " AND (SELECT group_concat(name) FROM (SELECT name FROM "
		      "pragma_table_info(t.name) ORDER BY cid LIMIT 6)) <> 'seq,id,at_ms,offset_min,peer,said'",
		      "0\n");
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(append_only),
		WITH_LEDGER(replace_by_either_key),
		WITH_LEDGER(tables_are_strict_and_keyed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}

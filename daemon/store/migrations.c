// SPDX-License-Identifier: MIT
#include "stmt.h"
#include "additions.h"
#include "schema_1.h"

#include <assert.h>
#include <stdio.h>

/* Step i brings schema i to schema i + 1. A released step is never edited. */
static const struct step {
	const char *const *statements;
	size_t n;
} steps[] = {
	{ schema_1, sizeof(schema_1) / sizeof(schema_1[0]) },
};

_Static_assert(sizeof(steps) / sizeof(steps[0]) == STORE_SCHEMA, "a step for each schema");

static int execute(struct store *store, const char *sql)
{
	return stmt_outcome(store, sqlite3_exec(store->db, sql, NULL, NULL, NULL));
}

/* Both numbers are part of the database, and so of the transaction (sqlite.org/pragma.html#pragma_user_version). */
static int number(struct store *store, int version)
{
	char sql[96];

	(void)snprintf(sql, sizeof(sql), "PRAGMA application_id = %d; PRAGMA user_version = %d", STORE_APPLICATION_ID,
		       version);
	return execute(store, sql);
}

#define N_ADDITIONS (sizeof(additions) / sizeof(additions[0]))

static int first_int(struct store *store, const char *sql, size_t *ret)
{
	sqlite3_stmt *st = NULL;
	int rc = sqlite3_prepare_v2(store->db, sql, -1, &st, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_step(st);
	if (rc == SQLITE_ROW)
		*ret = (size_t)sqlite3_column_int64(st, 0);
	(void)sqlite3_finalize(st); /* says again what the step said */
	return rc == SQLITE_ROW ? 0 : stmt_outcome(store, rc);
}

/* How many additions a database has; one of schema 0 has none. */
static int count_additions(struct store *store, size_t *ret)
{
	size_t table = 0, n = 0;
	int r = first_int(store, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'addition'", &table);

	if (r == 0 && table)
		r = first_int(store, "SELECT count(*) FROM addition", &n);
	if (r == 0)
		*ret = n;
	return r;
}

static int add(struct store *store, size_t i)
{
	char sql[256];
	int r = execute(store, additions[i].sql);

	(void)snprintf(sql, sizeof(sql),
		       "INSERT INTO addition (id, at_ms, offset_min, peer, what) "
		       "VALUES ('addition-%zu', unixepoch() * 1000, 0, 'bismard', '%s')",
		       i + 1, additions[i].what);
	return r ? r : execute(store, sql);
}

int migrations_run(struct store *store, int version)
{
	size_t i, added = 0;
	int r = count_additions(store, &added);

	assert(version >= 0 && version <= STORE_SCHEMA);
	if (r != 0 || (version == STORE_SCHEMA && added >= N_ADDITIONS))
		return r;
	r = stmt_begin(store);
	if (r != 0)
		return r;
	for (; r == 0 && version < STORE_SCHEMA; version++)
		for (i = 0; r == 0 && i < steps[version].n; i++)
			r = execute(store, steps[version].statements[i]);
	for (i = added; r == 0 && i < N_ADDITIONS; i++)
		r = add(store, i);
	if (r == 0)
		r = number(store, STORE_SCHEMA);
	return stmt_end(store, r);
}

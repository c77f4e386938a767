// SPDX-License-Identifier: MIT
#include "stmt.h"
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

int migrations_run(struct store *store, int version)
{
	size_t i;
	int r;

	assert(version >= 0 && version <= STORE_SCHEMA);
	if (version == STORE_SCHEMA)
		return 0;
	r = stmt_begin(store);
	if (r != 0)
		return r;
	for (; r == 0 && version < STORE_SCHEMA; version++)
		for (i = 0; r == 0 && i < steps[version].n; i++)
			r = execute(store, steps[version].statements[i]);
	if (r == 0)
		r = number(store, STORE_SCHEMA);
	return stmt_end(store, r);
}

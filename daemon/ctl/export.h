// SPDX-License-Identifier: MIT
#pragma once
/*
 * Readings as files for other programs, a row at a time: memory doesn't grow with the ledger.
 * Above: export.c, the command. Below: database (the views), csv, field.
 *
 * Each form returns 0 when all is written or the file takes no more (its error flag tells), else what SQLite said of a
 * failed step, or SQLITE_NOMEM.
 */
#include "daemon/ctl/database.h"
#include <stdio.h>

struct export_ask {
	const char *litter; /* its name or id; NULL: all */
	const char *since;  /* ms since 1970 as text: what was weighed before isn't written */
	const char *source; /* icar: whose identifiers they are, as a domain name in reverse */
	bool lines;         /* icar: an object a line, without the array around them */
};

/* The view `reading` as RFC 4180 has it, with a header. */
int export_csv(FILE *to, sqlite3 *db, const struct export_ask *ask);
/* The same, one JSON object a line. */
int export_jsonl(FILE *to, sqlite3 *db, const struct export_ask *ask);
/* Weight events of the ICAR Animal Data Exchange standard; export_icar.c has its fields. */
int export_icar(FILE *to, sqlite3 *db, const struct export_ask *ask);

/* The rows of `reading` that are asked for, oldest first; NULL: see sqlite3_errcode(). */
sqlite3_stmt *export_readings(sqlite3 *db, const struct export_ask *ask);
/* Whether text can be a source: two labels or more of letters, digits and hyphens, with points between, 64 octets at
 * most. */
bool export_is_source(const char *text);

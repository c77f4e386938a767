// SPDX-License-Identifier: MIT
#pragma once
/*
 * One bridge's ledger into the merged file, in one transaction: all of this step, or nothing. Above: main. Below:
 * layout, into, sqlite3. The ledger is attached read-only, and seen as it was at one moment, also while bismard writes
 * it.
 */
#include <sqlite3.h>
#include <stdbool.h>

struct take_source {
	const char *name; /* the bridge's */
	const char *path;
};

/* 0; -1 when nothing of it was taken, after telling why. What was taken is told to standard output unless quiet. */
int take(sqlite3 *db, const struct take_source *source, bool quiet);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * The merged file: made, or known again and opened for writing. Above: main, take. Below: layout, sqlite3.
 * WAL and synchronous FULL, as a ledger is. What is wrong is told to standard error.
 */
#include <sqlite3.h>
#include <stdbool.h>

struct into {
	sqlite3 *db;
	int lock_fd; /* holds off a second bismar-merge; closing it earlier would drop SQLite's own locks (fcntl(2)) */
};

/* Opens it, and makes it where nothing or an empty file is. 0, or -1. */
int into_open(const char *path, struct into *ret);
/* Puts all into the one file. */
void into_close(struct into *into);

/* The first column of the first row as an integer; 0 for none. An SQLite result: SQLITE_OK or why not. text may be
 * NULL. */
int into_number(sqlite3 *db, const char *sql, const char *text, sqlite3_int64 *ret);
int into_run(sqlite3 *db, const char *sql);

/* Takes a bridge out. 0, or -1 when there is none of that name or it can't be done. */
int into_forget(sqlite3 *db, const char *name);

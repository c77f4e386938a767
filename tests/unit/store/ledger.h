// SPDX-License-Identifier: MIT
#pragma once
/* What the store's tests share: a folder of their own, a filled roster, and a reader that only reads. */
#include "daemon/store/bedside.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <sqlite3.h>

#define LEDGER_T0 INT64_C(1767225600000) /* 2026-01-01T00:00:00Z: date -u -d @1767225600 */

struct ledger {
	char dir[64];
	struct store *store;
	char scale[UUID7_SIZE], container[UUID7_SIZE], litter[UUID7_SIZE], animal[2][UUID7_SIZE];
};

void ledger_folder(char dir[64]);
void ledger_remove(const char *dir);
void ledger_path(const char *dir, const char *name, char ret[96]);
/* A new folder with copies of the files of another, whose store is closed. */
void ledger_copy(const char *from, char dir[64]);
/* Opens it; anything but success fails the test. */
struct store *ledger_open(const char *dir);
/* One scale with a tared container on it, one litter of two. */
void ledger_roster(struct ledger *ledger);

struct store_stamp ledger_stamp(int64_t at_ms);
/* A frame, with a weighing of net_mg, received at at_ms; the result is the call's. */
int ledger_weigh(struct ledger *ledger, int64_t at_ms, int64_t net_mg, char ret_id[UUID7_SIZE]);

/* One row in each table of what follows from readings: growth of both animals' first, a concern that is open, a round that
 * has ended and one that is open (fed before), limits. */
void ledger_follow(struct ledger *ledger, int64_t at_ms);

/* One row in each table of what is seen and done beside weighing. */
void ledger_bedside(struct ledger *ledger, int64_t at_ms);

/* A connection that can't write; the caller closes it. */
sqlite3 *ledger_reader(const char *dir);
/* Runs a query on a fresh one: columns joined by '|', rows by '\n'; NULL columns are empty, blobs in hex. */
char *ledger_rows(const char *dir, const char *sql);
void ledger_expect(const char *dir, const char *sql, const char *rows);
int64_t ledger_count(const char *dir, const char *sql);

/*
 * Calls fn in a child of its own, which tells the result and dies at once, as a process dies that is killed: nothing
 * is closed. No store may be open here: SQLite's locks, which the child would take for its own, don't survive a fork.
 */
int ledger_in_child(int (*fn)(void *), void *userdata);

/* cmocka's setup and teardown around one test: a fresh folder, the store open, the roster filled. */
int ledger_setup(void **state);
int ledger_setup_closed(void **state); /* and the store closed again */
int ledger_teardown(void **state);

// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a merged file has in it, as tables of columns: which view of a ledger goes where, and what it is shown as. Pure.
 * Above: into, take. Below: nothing.
 *
 * A view of protocols/database.md is taken in one of three ways:
 * - LAYOUT_LOG: it only grows. Rows are taken by id, from a position on; none is ever removed.
 * - LAYOUT_KEPT: its rows change, and stay: taken by id, changed where they differ, never removed.
 * - LAYOUT_NOW: it is as it is now: what was there of that bridge is replaced.
 * `reading` and `unanswered` aren't taken: they follow from the logs.
 */
#include "daemon/store/store.h"
#include <stddef.h>

#define LAYOUT_MARK                                                                                                    \
	STORE_MERGED_MARK /* the table of the bridges; by it bismard knows that this is no ledger of its own */

enum layout_way { LAYOUT_LOG, LAYOUT_KEPT, LAYOUT_NOW };

struct layout {
	const char *view; /* of the ledger; its table is merged_VIEW */
	enum layout_way way;
	const char *key;     /* the column of its id; NULL: it has none */
	const char *seq;     /* LOG: "seq", or NULL where the view has none: then by the id, which grows with time */
	const char *columns; /* that are taken, "a, b, c" */
	const char *what;    /* for people; NULL: not worth a word */
};

extern const struct layout layout[];
extern const size_t layout_n;

/* The tables that aren't made from layout[], the indexes, the triggers, and the views, which all end in `bridge`. */
extern const char *const layout_sql[];
extern const size_t layout_sql_n;

// SPDX-License-Identifier: MIT
#pragma once
/* What every table of the ledger has in common; for schema_1.h and additions.h. */

/* What each row keeps: its key, when it was written, and by whom. */
#define ROW \
	"  seq INTEGER PRIMARY KEY,\n" \
	"  id TEXT NOT NULL UNIQUE,\n" \
	"  at_ms INTEGER NOT NULL,\n" \
	"  offset_min INTEGER NOT NULL,\n" \
	"  peer TEXT NOT NULL,\n" \
	"  said TEXT,\n"

/*
 * REPLACE deletes without firing a DELETE trigger, unless a connection asks for it (sqlite.org/lang_conflict.html),
 * so a row that would replace another is refused before it comes to that.
 */
#define APPEND_ONLY(table) \
	"CREATE TRIGGER " table "_update BEFORE UPDATE ON " table "\n" \
	"BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;\n" \
	"CREATE TRIGGER " table "_delete BEFORE DELETE ON " table "\n" \
	"BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;\n" \
	"CREATE TRIGGER " table "_replace BEFORE INSERT ON " table "\n" \
	"WHEN EXISTS (SELECT 1 FROM " table " WHERE seq = NEW.seq)\n" \
	"  OR EXISTS (SELECT 1 FROM " table " WHERE id = NEW.id)\n" \
	"BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;\n"

/* Exact to the millisecond. */
#define RFC3339(ms) "strftime('%Y-%m-%dT%H:%M:%fZ', " ms " / 1000.0, 'unixepoch')"

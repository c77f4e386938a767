// SPDX-License-Identifier: MIT
#pragma once
/*
 * The ledger's two logs as they are published: read by the views (protocols/database.md), in the order of seq, from
 * where the reader is. It may not be there yet, go away, or be another one the next time one looks.
 * Above: bridge. Below: daemon/ctl/database.
 */
#include "contrib/broker/window.h"
#include <jansson.h>
#include <sqlite3.h>
#include <sys/types.h>

#define LEDGER_SAY_SIZE 512

struct ledger {
	const char *path;
	sqlite3 *db; /* NULL: not open */
	sqlite3_stmt *rows[LOG_KINDS], *at[LOG_KINDS], *version;
	dev_t dev;
	ino_t ino;
	int64_t seen; /* SQLite's data_version: another number when something was committed */
};

/* path lives as long as the ledger. */
void ledger_init(struct ledger *ledger, const char *path);
void ledger_done(struct ledger *ledger);

enum ledger_look {
	LEDGER_SAME = 0, /* nothing was committed since it was looked at last */
	LEDGER_CHANGED,
	LEDGER_OPENED, /* it is another file than before, or the first: check where the readers are */
	LEDGER_ABSENT, /* it can't be read now; say tells why, and what to do */
};
enum ledger_look ledger_look(struct ledger *ledger, char say[LEDGER_SAY_SIZE]);

/* Whether this id stands at that seq. 1, 0, or -EIO: it can't be read (it is closed then: look again). */
int ledger_has(struct ledger *ledger, enum log_kind log, int64_t seq, const char *id);

/*
 * At most n rows after that seq, in order, each as an object whose members are the message's (borrowed), until `each`
 * returns false. Returns how many there were; -EIO as above; -ENOTCONN while it isn't open.
 */
int ledger_read(struct ledger *ledger, enum log_kind log, int64_t after, size_t n,
		bool (*each)(void *user, int64_t seq, const char *id, const json_t *row), void *user);
